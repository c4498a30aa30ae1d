//! Interrupt, termination and hang-up: the first asks the run to stop, the second ends the program.
//!
//! Out: the flag that is raised. A hang-up that was ignored when the program began stays ignored:
//! a run under `nohup` outlives its terminal.

use super::super::Failure;
use std::sync::Arc;
use std::sync::atomic::{AtomicBool, Ordering};

/// # Errors
/// Where the system does not let the program listen.
pub fn stop_on_signal() -> Result<Arc<AtomicBool>, Failure> {
    let stop = Arc::new(AtomicBool::new(false));
    let raised = Arc::clone(&stop);
    let on_signal = move || {
        if raised.swap(true, Ordering::Relaxed) {
            std::process::exit(i32::from(Failure::INTERRUPTED));
        }
    };
    let hangup = Hangup::before();
    ctrlc::set_handler(on_signal).map_err(|e| Failure::Machine(format!("cannot listen for an interrupt: {e}")))?;
    hangup.keep_ignored();
    Ok(stop)
}

/// Whether a hang-up was ignored before this program listened for signals.
struct Hangup {
    ignored: bool,
}

#[cfg(unix)]
impl Hangup {
    fn before() -> Hangup {
        // To ask is to set; the listener that follows sets it again.
        Hangup { ignored: matches!(Hangup::ignore(), Some(nix::sys::signal::SigHandler::SigIgn)) }
    }

    fn keep_ignored(&self) {
        if self.ignored {
            Hangup::ignore();
        }
    }

    /// Ignores a hang-up, and says what was done about it before.
    fn ignore() -> Option<nix::sys::signal::SigHandler> {
        use nix::sys::signal::{SigHandler, Signal, signal};
        // SAFETY: to ignore a signal runs no code at all, so none that is unsafe in a handler.
        unsafe { signal(Signal::SIGHUP, SigHandler::SigIgn) }.ok()
    }
}

#[cfg(not(unix))]
impl Hangup {
    fn before() -> Hangup {
        Hangup { ignored: false }
    }

    fn keep_ignored(&self) {
        debug_assert!(!self.ignored, "there is no hang-up here");
    }
}
