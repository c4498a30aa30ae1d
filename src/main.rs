//! The program: the command line, and what is told of a fault of the program itself.

use bankwright::cli::{self, Failure};
use bankwright::escape;
use std::io::Write;
use std::process::ExitCode;

fn main() -> ExitCode {
    std::panic::set_hook(Box::new(|info| {
        let at = info.location().map_or(String::new(), |l| format!(" at {}:{}", l.file(), l.line()));
        // Not `eprintln!`, which panics where nobody listens.
        let _ = writeln!(
            std::io::stderr(),
            "bankwright: this is a fault of the program, not of your input{at}: {}\n\
             Please report it with the scenario that led to it.",
            escape::line(&info.to_string())
        );
    }));
    ExitCode::from(std::panic::catch_unwind(cli::main).unwrap_or(Failure::MACHINE))
}
