//! Losses of service in their order, and what followed from what.
//!
//! In: every loss of a trial as it happens, and whether an earlier one triggered it (`trial::trigger`). Out: the
//! cascade, if there was one: losses by protection that followed from what was lost within a window before; and how
//! long until the bank was dark.

use super::module::Reason;
use crate::time::Time;
use serde::{Deserialize, Serialize};

/// Losses told of one cascade; the rest are counted in its size.
const TOLD: usize = 8;

/// What was lost.
#[derive(Clone, Copy, Debug, PartialEq, Eq, PartialOrd, Ord, Hash, Serialize, Deserialize)]
pub enum Lost {
    /// A module, by its number in the bank.
    Module(usize),
    /// The inverter, by its low-voltage cut-out.
    Inverter,
    /// A conductor that opened by itself, by number of the bank's conductors.
    Conductor(usize),
    /// A fuse or breaker in a conductor, by number of the bank's devices.
    Device(usize),
}

/// One loss: what, and why.
pub type Loss = (Lost, Reason);

/// A cascade: its losses in order, and how many of them earlier ones triggered.
#[derive(Clone, Debug, PartialEq, Eq, PartialOrd, Ord, Serialize, Deserialize)]
pub struct Cascade {
    /// What was lost, and why, in order of time.
    pub sequence: Vec<Loss>,
    /// How many of them an earlier loss triggered.
    pub size: u32,
}

/// A bank that delivered nothing.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum Blackout {
    /// Already when the trial began.
    FromStart,
    /// After this time from the first loss that was not an end of charge.
    After(Time),
}

/// One loss in its place.
#[derive(Clone, Copy, Debug)]
struct Entry {
    at: Time,
    loss: Loss,
    /// Protection that would have had no cause to act with what was lost within the window before it still in place.
    triggered: bool,
}

impl Entry {
    /// The end of the charge triggers nothing, unless it was triggered itself.
    fn may_trigger(&self) -> bool {
        self.triggered || !self.loss.1.is_exhaustion()
    }
}

/// The losses of one trial so far.
#[derive(Clone, Debug)]
pub struct LossLog {
    window: Time,
    losses: Vec<Entry>,
    blackout: Option<Blackout>,
}

impl LossLog {
    /// No losses yet; a loss may trigger another within this window.
    pub fn new(window: Time) -> LossLog {
        LossLog { window, losses: Vec::new(), blackout: None }
    }

    /// Notes a loss; `triggered`: an earlier one brought it about.
    pub fn lose(&mut self, at: Time, what: Lost, reason: Reason, triggered: bool) {
        self.losses.push(Entry { at, loss: (what, reason), triggered });
    }

    /// What was lost within the window before now and may have triggered something.
    pub fn recent(&self, now: Time) -> impl Iterator<Item = Lost> {
        let within = self.losses.iter().rev().take_while(move |e| now - e.at <= self.window);
        within.filter(|e| e.may_trigger()).map(|e| e.loss.0)
    }

    /// Notes that nothing delivers from now on. Where the last module that dropped out was empty, the bank has run empty, which
    /// is no blackout.
    pub fn black_out(&mut self, at: Time) {
        // The bank was about to end by itself: it is not the loss before that stopped the inverter.
        let within = self.losses.iter_mut().rev().take_while(|e| at - e.at <= self.window);
        within.filter(|e| e.loss.0 == Lost::Inverter).for_each(|e| e.triggered = false);
        let first = self.losses.iter().find(|e| !e.loss.1.is_exhaustion());
        let mut of_bank = self.losses.iter().rev().filter(|e| e.loss.0 != Lost::Inverter);
        let dropped = of_bank.next().is_some_and(Entry::may_trigger);
        if let (Some(first), None, true) = (first, self.blackout, dropped) {
            let from_start = at == Time::ZERO;
            self.blackout = Some(if from_start { Blackout::FromStart } else { Blackout::After(at - first.at) });
        }
    }

    /// The first time that a loss other than an end of charge left nothing that delivers.
    pub fn blackout(&self) -> Option<Blackout> {
        self.blackout
    }

    /// The first cascade of the trial: losses none of which is further from the one before than the window, told from
    /// the first that is not an end of charge.
    pub fn cascade(&self) -> Option<Cascade> {
        let runs = self.losses.chunk_by(|a, b| b.at - a.at <= self.window);
        runs.filter_map(|run| {
            let size = run.iter().filter(|e| e.triggered).count() as u32;
            let begins = run.iter().position(Entry::may_trigger).filter(|_| size > 0)?;
            let sequence = run[begins..].iter().take(TOLD).map(|e| e.loss).collect();
            Some(Cascade { sequence, size })
        })
        .next()
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    const INVERTER: (Lost, Reason) = (Lost::Inverter, Reason::LowVoltage);

    fn module(k: usize, reason: Reason) -> Loss {
        (Lost::Module(k), reason)
    }

    fn at(seconds: f64) -> Time {
        Time::from_seconds(seconds)
    }

    /// Moment, loss, whether it was triggered.
    fn log(losses: &[(f64, Loss, bool)]) -> LossLog {
        let mut log = LossLog::new(at(60.0));
        for &(seconds, (lost, reason), triggered) in losses {
            log.lose(at(seconds), lost, reason, triggered);
        }
        log
    }

    #[test]
    fn triggered_protection_after_a_dropout_is_a_cascade() {
        let over = |k| module(k, Reason::OverCurrent);
        let c = log(&[
            (10.0, module(5, Reason::Empty), false),
            (20.0, module(0, Reason::Cold), false),
            (20.5, over(1), true),
            (21.0, over(2), true),
        ]);
        let c = c.cascade().unwrap();
        assert_eq!(c.size, 2);
        assert_eq!(c.sequence, [module(0, Reason::Cold), over(1), over(2)]);
    }

    #[test]
    fn losses_that_nothing_triggered_are_none() {
        assert_eq!(log(&[(0.0, module(0, Reason::Cold), false), (1.0, INVERTER, false)]).cascade(), None);
        assert_eq!(log(&[(0.0, module(0, Reason::Empty), false), (1.0, INVERTER, false)]).cascade(), None);
    }

    #[test]
    fn only_what_was_lost_within_the_window_may_trigger_and_no_end_of_charge() {
        let l = log(&[
            (0.0, module(0, Reason::Cold), false),
            (50.0, module(1, Reason::Empty), false),
            (55.0, module(2, Reason::LowVoltage), true),
        ]);
        let recent = |seconds: f64| l.recent(at(seconds)).collect::<Vec<_>>();
        assert_eq!(recent(60.0), [Lost::Module(2), Lost::Module(0)]);
        assert_eq!(recent(61.0), [Lost::Module(2)]);
    }

    #[test]
    fn an_inverter_that_stops_just_before_the_bank_ends_was_triggered_by_nothing() {
        let losses = [(0.0, module(0, Reason::Cold), false), (5.0, INVERTER, true)];
        let mut l = log(&losses);
        assert_eq!(l.cascade().map(|c| c.size), Some(1));
        l.lose(at(30.0), Lost::Module(1), Reason::Cold, false);
        l.black_out(at(30.0));
        assert_eq!(l.cascade(), None);
        let mut l = log(&losses);
        l.black_out(at(66.0));
        assert_eq!(l.cascade().map(|c| c.size), Some(1), "the bank went on for more than the window");
    }

    #[test]
    fn dark_is_told_once_from_the_first_loss_and_apart_where_it_began_so() {
        let mut l = log(&[(10.0, module(0, Reason::Cold), false)]);
        l.black_out(at(12.0));
        l.black_out(at(20.0));
        assert_eq!(l.blackout(), Some(Blackout::After(at(2.0))));
        let mut l = log(&[(0.0, module(0, Reason::Cold), false)]);
        l.black_out(Time::ZERO);
        assert_eq!(l.blackout(), Some(Blackout::FromStart));
    }

    #[test]
    fn a_bank_that_runs_empty_is_not_dark_after_a_loss() {
        let mut l = log(&[(10.0, module(0, Reason::Empty), false), (12.0, module(1, Reason::LowVoltage), false)]);
        l.black_out(at(12.0));
        assert_eq!(l.blackout(), None);
        let mut l = log(&[(5.0, module(1, Reason::Fault), false), (10.0, module(0, Reason::Empty), false)]);
        l.black_out(at(10.0));
        assert_eq!(l.blackout(), None, "the last to go was empty");
        let mut l = log(&[(10.0, module(0, Reason::Empty), false), (20.0, module(1, Reason::Fault), false)]);
        l.black_out(at(25.0));
        assert_eq!(l.blackout(), Some(Blackout::After(at(5.0))));
    }
}
