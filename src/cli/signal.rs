//! Interrupt and termination: the first asks the run to stop, the second ends the program.
//!
//! Out: the flag that is raised. A hang-up is left as the system has it: ignored under `nohup`, so that a
//! run outlives its terminal, and the end of the program otherwise; what was done is kept either way.

use super::failure::Failure;
use signal_hook::consts::{SIGINT, SIGTERM};
use signal_hook::flag;
use std::sync::Arc;
use std::sync::atomic::AtomicBool;

/// # Errors
/// Where the system does not let the program listen.
pub fn stop_on_signal() -> Result<Arc<AtomicBool>, Failure> {
    let stop = Arc::new(AtomicBool::new(false));
    for signal in [SIGINT, SIGTERM] {
        // Asked in this order: whoever finds the flag raised already ends the program.
        flag::register_conditional_shutdown(signal, i32::from(Failure::INTERRUPTED), Arc::clone(&stop))
            .and_then(|_| flag::register(signal, Arc::clone(&stop)))
            .map_err(|e| Failure::Machine(format!("cannot listen for an interrupt: {e}")))?;
    }
    Ok(stop)
}
