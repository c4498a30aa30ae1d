//! The program: parse, call, print what went wrong, exit code.

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
    let outcome = std::panic::catch_unwind(cli::main);
    match outcome {
        Ok(Ok(code)) => ExitCode::from(code),
        Ok(Err(failure)) => {
            failure.print();
            ExitCode::from(failure.code())
        }
        Err(_) => ExitCode::from(Failure::MACHINE),
    }
}
