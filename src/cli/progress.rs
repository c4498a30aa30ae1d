//! How far long work has come: a bar on a terminal, a line now and then elsewhere.

use super::failure::Failure;
use super::screen::{on_error, tell};
use super::signal::stop_on_signal;
use crate::output::kit::number;
use crate::progress::{Listener, Progress, Work};
use indicatif::{ProgressBar, ProgressState, ProgressStyle};
use std::fmt::Write;
use std::sync::atomic::{AtomicBool, AtomicU64, Ordering};
use std::sync::mpsc::{Receiver, RecvTimeoutError, Sender, channel};
use std::sync::{Arc, Mutex, MutexGuard, PoisonError};
use std::time::Duration;

/// Between lines where standard error is no terminal.
const PAUSE: Duration = Duration::from_secs(10);

/// Tells standard error how much is done, also while nothing new is: one night of a large bank may take minutes. Stops
/// the work when the user interrupts it.
pub struct Waiting {
    quiet: bool,
    stop: Arc<AtomicBool>,
    /// What is worked on.
    now: Mutex<Option<Shown>>,
}

/// One kind of work as it is shown.
struct Shown {
    work: Arc<Counted>,
    bar: Option<ProgressBar>,
    /// Dropped, it ends the thread that tells.
    _telling: Option<Sender<()>>,
}

/// What is done of what.
struct Counted {
    work: Work,
    /// `None`: not known.
    total: Option<u64>,
    done: AtomicU64,
}

impl Waiting {
    /// # Errors
    /// Where the system does not let the program listen for an interrupt.
    pub fn new(quiet: bool) -> Result<Waiting, Failure> {
        Ok(Waiting { quiet, stop: stop_on_signal()?, now: Mutex::new(None) })
    }

    /// Whom the work is to tell, and who stops it.
    pub fn progress(&self) -> Progress<'_> {
        Progress { stop: &self.stop, listener: self }
    }

    /// What came of the work. An interruption is told with how far it had come; nothing of it was written.
    pub fn end<T, E: Into<Failure>>(&self, outcome: Result<T, E>) -> Result<T, Failure> {
        let last = self.now().take();
        outcome.map_err(|error| match (error.into(), last) {
            (Failure::Interrupted(_), Some(shown)) => {
                Failure::Interrupted(format!("interrupted after {}; nothing was written", shown.work.so_far()))
            }
            (failure, _) => failure,
        })
    }

    fn now(&self) -> MutexGuard<'_, Option<Shown>> {
        self.now.lock().unwrap_or_else(PoisonError::into_inner)
    }
}

impl Listener for Waiting {
    fn begin(&self, work: Work, total: Option<u64>) {
        let mut now = self.now();
        // What was shown goes before the new is drawn.
        drop(now.take());
        *now = Some(Shown::new(work, total, self.quiet));
    }

    fn skip(&self, pieces: u64) {
        if let Some(shown) = &*self.now() {
            shown.work.done.store(pieces, Ordering::Relaxed);
            shown.bar.iter().for_each(|bar| bar.set_position(pieces));
        }
    }

    fn advance(&self, pieces: u64) {
        if let Some(shown) = &*self.now() {
            shown.work.done.fetch_add(pieces, Ordering::Relaxed);
            shown.bar.iter().for_each(|bar| bar.inc(pieces));
        }
    }
}

impl Drop for Shown {
    fn drop(&mut self) {
        self.bar.iter().for_each(ProgressBar::finish_and_clear);
    }
}

impl Shown {
    fn new(work: Work, total: Option<u64>, quiet: bool) -> Shown {
        let terminal = on_error();
        let unit = unit(work);
        let style = match total {
            Some(_) => format!("{{bar:30}} {{human_pos}} of {{human_len}} {unit}, {{elapsed}}, {{rate}}, {{eta}} left"),
            None if !is_counted(work) => format!("{{spinner}} {unit}, {{elapsed}}"),
            None => format!("{{spinner}} {{human_pos}} {unit}, {{elapsed}}, {{rate}}"),
        };
        let bar = (!quiet && terminal && total != Some(0)).then(|| {
            let style = ProgressStyle::with_template(&style);
            let bar = total.map_or_else(ProgressBar::no_length, ProgressBar::new);
            bar.set_style(style.unwrap_or_else(|_| ProgressStyle::default_bar()).with_key("rate", rate));
            bar.enable_steady_tick(Duration::from_secs(1));
            bar
        });
        let work = Arc::new(Counted { work, total, done: AtomicU64::new(0) });
        let telling = (!quiet && !terminal).then(|| {
            let (telling, ends) = channel();
            let work = Arc::clone(&work);
            std::thread::spawn(move || work.tell_until(&ends));
            telling
        });
        Shown { work, bar, _telling: telling }
    }
}

/// What the pieces are called; of what is not counted, what is going on.
fn unit(work: Work) -> &'static str {
    match work {
        Work::Sets => "sets of modules",
        Work::Nights => "nights",
        Work::HalfStep => "trying nights with half the step",
        Work::Replay => "running the night",
        Work::Explanations => "explanations of the readings tried",
    }
}

fn is_counted(work: Work) -> bool {
    !matches!(work, Work::HalfStep | Work::Replay)
}

impl Counted {
    /// A line now and then, until the other end is dropped.
    fn tell_until(&self, ends: &Receiver<()>) {
        while ends.recv_timeout(PAUSE) == Err(RecvTimeoutError::Timeout) {
            tell(&format!("{}\n", self.so_far()));
        }
    }

    /// `1,200 of 4,000 nights`
    fn so_far(&self) -> String {
        let unit = unit(self.work);
        if !is_counted(self.work) {
            return format!("still {unit}");
        }
        let done = number::count(self.done.load(Ordering::Relaxed));
        let of = self.total.map_or_else(String::new, |total| format!(" of {}", number::count(total)));
        format!("{done}{of} {unit}")
    }
}

/// `110,451/s`
fn rate(state: &ProgressState, out: &mut dyn Write) {
    let _ = write!(out, "{}/s", number::count(state.per_sec() as u64));
}
