//! How far long work has come: a bar on a terminal, a line now and then elsewhere.

use crate::cli::Failure;
use crate::cli::screen::{on_error, tell};
use crate::output::kit::number;
use indicatif::{ProgressBar, ProgressState, ProgressStyle};
use std::fmt::Write;
use std::sync::Arc;
use std::sync::atomic::{AtomicU64, Ordering};
use std::sync::mpsc::{Receiver, RecvTimeoutError, Sender, channel};
use std::time::Duration;

/// Between lines where standard error is no terminal.
const PAUSE: Duration = Duration::from_secs(10);

/// Tells standard error how much is done, also while nothing new is: one night of a large bank may take minutes.
pub struct Progress {
    work: Arc<Work>,
    bar: Option<ProgressBar>,
    /// Dropped, it ends the thread that tells.
    _telling: Option<Sender<()>>,
}

/// What is done of what.
struct Work {
    unit: &'static str,
    /// `None`: not known.
    total: Option<u64>,
    /// `u64::MAX`: not counted.
    done: AtomicU64,
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

    /// Of what cannot be counted: `what` is said while it goes on, as `trying half the step`.
    pub fn meanwhile(what: &'static str, quiet: bool) -> Progress {
        Progress::new(what, None, u64::MAX, quiet)
    }

    /// Of readings that are explained in one way after another.
    pub fn of_explanations(quiet: bool) -> Progress {
        Progress::new("explanations of the readings tried", None, 0, quiet)
    }

    fn new(unit: &'static str, total: Option<u64>, done: u64, quiet: bool) -> Progress {
        let terminal = on_error();
        let style = match total {
            Some(_) => format!("{{bar:30}} {{human_pos}} of {{human_len}} {unit}, {{elapsed}}, {{rate}}, {{eta}} left"),
            None if done == u64::MAX => format!("{{spinner}} {unit}, {{elapsed}}"),
            None => format!("{{spinner}} {{human_pos}} {unit}, {{elapsed}}, {{rate}}"),
        };
        let bar = (!quiet && terminal && total != Some(0)).then(|| {
            let style = ProgressStyle::with_template(&style);
            let bar = total.map_or_else(ProgressBar::no_length, ProgressBar::new);
            bar.set_style(style.unwrap_or_else(|_| ProgressStyle::default_bar()).with_key("rate", rate));
            bar.set_position(done);
            bar.enable_steady_tick(Duration::from_secs(1));
            bar
        });
        let work = Arc::new(Work { unit, total, done: AtomicU64::new(done) });
        let telling = (!quiet && !terminal).then(|| {
            let (telling, ends) = channel();
            let work = Arc::clone(&work);
            std::thread::spawn(move || work.tell_until(&ends));
            telling
        });
        Progress { work, bar, _telling: telling }
    }

    pub fn add(&self, more: u64) {
        self.work.done.fetch_add(more, Ordering::Relaxed);
        if let Some(bar) = &self.bar {
            bar.inc(more);
        }
    }

    pub fn finish(&self) {
        if let Some(bar) = &self.bar {
            bar.finish_and_clear();
        }
    }

    /// What an interrupt ended that keeps nothing of what it has done.
    pub fn interrupted(&self) -> Failure {
        Failure::Interrupted(format!("interrupted after {}; nothing was written", self.work.so_far()))
    }
}

impl Work {
    /// A line now and then, until the other end is dropped.
    fn tell_until(&self, ends: &Receiver<()>) {
        while ends.recv_timeout(PAUSE) == Err(RecvTimeoutError::Timeout) {
            tell(&format!("{}\n", self.so_far()));
        }
    }

    /// `1,200 of 4,000 nights`
    fn so_far(&self) -> String {
        let done = self.done.load(Ordering::Relaxed);
        if done == u64::MAX {
            return format!("still {}", self.unit);
        }
        let done = number::count(done);
        let of = self.total.map_or_else(String::new, |total| format!(" of {}", number::count(total)));
        format!("{done}{of} {}", self.unit)
    }
}

/// `110,451/s`
fn rate(state: &ProgressState, out: &mut dyn Write) {
    let _ = write!(out, "{}/s", number::count(state.per_sec() as u64));
}
