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
        // What was under way is on the disk, or is not there: the same as after a kill.
        std::process::exit(Failure::MACHINE.into());
    }));
    ExitCode::from(cli::main())
}
