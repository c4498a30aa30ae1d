//! How far long work has come: a bar on a terminal, a line now and then elsewhere.

use crate::cli::Failure;
use crate::cli::screen::{on_error, tell};
use crate::output::number;
use indicatif::{ProgressBar, ProgressState, ProgressStyle};
use std::fmt::Write;
use std::sync::Mutex;
use std::sync::atomic::{AtomicU64, Ordering};
use std::time::{Duration, Instant};

/// Between lines where standard error is no terminal.
const PAUSE: Duration = Duration::from_secs(10);

/// Tells standard error how much is done.
pub struct Progress {
    unit: &'static str,
    /// `None`: not known.
    total: Option<u64>,
    done: AtomicU64,
    bar: Option<ProgressBar>,
    last_line: Option<Mutex<Instant>>,
}

impl Progress {
    /// Of a run through so many nights, some of them done before.
    pub fn of_nights(total: u64, done: u64, quiet: bool) -> Progress {
        Progress::new("nights", Some(total), done, quiet)
    }

    /// Of a question asked of so many sets of modules out.
    pub fn of_sets(total: Option<u64>, quiet: bool) -> Progress {
        Progress::new("sets of modules", total, 0, quiet)
    }

    fn new(unit: &'static str, total: Option<u64>, done: u64, quiet: bool) -> Progress {
        let terminal = on_error();
        let style = match total {
            Some(_) => format!("{{bar:30}} {{human_pos}} of {{human_len}} {unit}, {{rate}}, {{eta}} left"),
            None => format!("{{spinner}} {{human_pos}} {unit}, {{rate}}"),
        };
        let bar = (!quiet && terminal && total != Some(0)).then(|| {
            let style = ProgressStyle::with_template(&style);
            let bar = total.map_or_else(ProgressBar::no_length, ProgressBar::new);
            bar.set_style(style.unwrap_or_else(|_| ProgressStyle::default_bar()).with_key("rate", rate));
            bar.set_position(done);
            bar
        });
        let last_line = (!quiet && !terminal).then(|| Mutex::new(Instant::now()));
        Progress { unit, total, done: AtomicU64::new(done), bar, last_line }
    }

    pub fn add(&self, more: u64) {
        self.done.fetch_add(more, Ordering::Relaxed);
        if let Some(bar) = &self.bar {
            bar.inc(more);
        }
        // Whoever finds the lock taken need not wait: another thread is telling.
        if let Some(Ok(mut last)) = self.last_line.as_ref().map(Mutex::try_lock)
            && last.elapsed() >= PAUSE
        {
            *last = Instant::now();
            tell(&format!("{}\n", self.so_far()));
        }
    }

    pub fn finish(&self) {
        if let Some(bar) = &self.bar {
            bar.finish_and_clear();
        }
    }

    /// What an interrupt ended that keeps nothing of what it has done.
    pub fn interrupted(&self) -> Failure {
        Failure::Interrupted(format!("interrupted after {}; nothing was written", self.so_far()))
    }

    /// `1,200 of 4,000 nights`
    fn so_far(&self) -> String {
        let done = number::count(self.done.load(Ordering::Relaxed));
        let of = self.total.map_or_else(String::new, |total| format!(" of {}", number::count(total)));
        format!("{done}{of} {}", self.unit)
    }
}

/// `110,451/s`
fn rate(state: &ProgressState, out: &mut dyn Write) {
    let _ = write!(out, "{}/s", number::count(state.per_sec() as u64));
}
