//! How far a run has come: a bar on a terminal, a line now and then elsewhere.

use crate::cli::tell;
use indicatif::{ProgressBar, ProgressStyle};
use std::io::IsTerminal;
use std::sync::Mutex;
use std::sync::atomic::{AtomicU64, Ordering};
use std::time::{Duration, Instant};

/// Between lines where standard error is no terminal.
const PAUSE: Duration = Duration::from_secs(10);

/// Tells standard error how many trials are done.
pub struct Progress {
    total: u64,
    done: AtomicU64,
    bar: Option<ProgressBar>,
    last_line: Option<Mutex<Instant>>,
}

impl Progress {
    pub fn new(total: u64, done: u64, quiet: bool) -> Progress {
        let terminal = std::io::stderr().is_terminal();
        let style = "{bar:30} {human_pos} of {human_len} nights, {per_sec}, {eta} left";
        let bar = (!quiet && terminal).then(|| {
            let style = ProgressStyle::with_template(style);
            let bar = ProgressBar::new(total);
            bar.set_style(style.unwrap_or_else(|_| ProgressStyle::default_bar()));
            bar.set_position(done);
            bar
        });
        let last_line = (!quiet && !terminal).then(|| Mutex::new(Instant::now()));
        Progress { total, done: AtomicU64::new(done), bar, last_line }
    }

    pub fn add(&self, trials: u64) {
        let done = self.done.fetch_add(trials, Ordering::Relaxed) + trials;
        if let Some(bar) = &self.bar {
            bar.inc(trials);
        }
        // Whoever finds the lock taken need not wait: another thread is telling.
        if let Some(Ok(mut last)) = self.last_line.as_ref().map(Mutex::try_lock)
            && last.elapsed() >= PAUSE
        {
            *last = Instant::now();
            tell(&format!("{done} of {} nights\n", self.total));
        }
    }

    pub fn finish(&self) {
        if let Some(bar) = &self.bar {
            bar.finish_and_clear();
        }
    }
}
