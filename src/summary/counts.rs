//! Everything that is added up over trials: whole numbers, merged in any order to the same bits.
//!
//! In: results of trials. Out: counts, histograms, exact sums, and the worst few.

mod night;

pub use night::NightCounts;

use super::fixed_sum::FixedSum;
use super::merge::{Merge, merge_fields};
use super::results::Endings;
use crate::engine::cascade::{Blackout, Loss};
use crate::engine::model::Model;
use crate::engine::result::{ChainResult, Ending, TrialError, TrialResult, Work};
use crate::time::Time;
use serde::{Deserialize, Serialize};
use std::cmp::Reverse;
use std::collections::BTreeMap;

/// How many of the worst nights are kept.
const WORST: usize = 10;

/// Joules to the watt-hour.
const JOULES: f64 = 3600.0;

/// Counts over a set of trials.
#[derive(Clone, Debug, Serialize, Deserialize)]
pub struct Counts {
    /// How many trials.
    pub trials: u64,
    /// Trials that the engine could not finish, with the first few reasons. They count as
    /// overloaded and not served: what is not known is not taken for good.
    pub failed: u64,
    /// Numbers of the first trials that could not be finished, and why.
    pub failures: Vec<(u64, String)>,
    /// How long the load is to be served.
    pub wanted: Time,
    /// Trials served to the horizon.
    pub served: u64,
    /// Trials by when service ended.
    #[serde(with = "crate::summary::pairs")]
    pub ended: BTreeMap<Time, u64>,
    /// Trials in which each protective device opened.
    pub opened: Vec<u64>,
    /// Modules, then conductors.
    pub elements: Vec<ElementCounts>,
    /// Modules out.
    pub dropout: DropoutCounts,
    /// [Wh]
    pub unserved: FixedSum,
    /// Demand not met in shortfalls that did not last for the hold [Wh].
    pub brief: FixedSum,
    /// Charge that could not be taken up [Wh].
    pub curtailed: FixedSum,
    /// Nights by what was out when an element went over its limit.
    #[serde(with = "crate::summary::pairs")]
    pub chains: BTreeMap<ChainResult, u64>,
    /// What earlier losses caused.
    pub cascades: CascadeCounts,
    /// How the bank was when service ended.
    pub endings: Endings,
    /// Counts of each night that was drawn, by its number in the scenario.
    #[serde(with = "crate::summary::pairs")]
    pub nights: BTreeMap<usize, NightCounts>,
    /// The worst few nights, worst first.
    pub worst: Vec<Worst>,
    /// What it took.
    pub work: WorkCounts,
}

/// What one module or conductor came to.
#[derive(Clone, Copy, Debug, Default, PartialEq, Serialize, Deserialize)]
pub struct ElementCounts {
    /// Trials in which it was over its limit.
    pub nights: u64,
    /// Over all trials [µs].
    pub time_over: u64,
    /// [A]; of equals, that of the lowest trial.
    pub greatest: f64,
    /// Trial in which that was.
    pub greatest_trial: u64,
    /// When that was.
    pub greatest_at: Time,
    /// Trials in which it was over its temperature rating.
    pub hot_nights: u64,
    /// Time over its temperature rating in all trials [µs].
    pub time_hot: u64,
    /// Its greatest temperature in any trial [°C]; `None` without insulation data.
    pub hottest: Option<f64>,
}

/// Trials in which modules dropped out, by why.
#[derive(Clone, Debug, Default, PartialEq, Eq, Serialize, Deserialize)]
pub struct DropoutCounts {
    /// Trials with a module out because of cold.
    pub cold: u64,
    /// Trials with a module out by a failure.
    pub fault: u64,
    /// Trials with a module out for another reason.
    pub other: u64,
    /// Trials by the greatest number of modules out at one moment, from 0.
    pub most: Vec<u64>,
}

/// Cascades, and how fast a bank goes dark.
#[derive(Clone, Debug, Default, PartialEq, Serialize, Deserialize)]
pub struct CascadeCounts {
    /// Nights by the number of losses that earlier ones triggered.
    #[serde(with = "crate::summary::pairs")]
    pub sizes: BTreeMap<u32, u64>,
    /// Nights by what was lost, in order.
    #[serde(with = "crate::summary::pairs")]
    pub sequences: BTreeMap<Vec<Loss>, u64>,
    /// Nights that went dark, by the time from the first loss; without those that began so.
    #[serde(with = "crate::summary::pairs")]
    pub dark: BTreeMap<Time, u64>,
    /// Nights that began without anything delivered.
    pub dark_from_start: u64,
    /// Greatest magnitude with which a module rejoined [A]; of equals, that of the lowest trial.
    pub rejoined: Option<RejoinedCounts>,
}

/// The greatest current with which a module rejoined.
#[derive(Clone, Copy, Debug, PartialEq, Serialize, Deserialize)]
pub struct RejoinedCounts {
    /// Positive in discharge [A].
    pub current: f64,
    /// Number of the module.
    pub module: usize,
    /// Number of the trial.
    pub trial: u64,
    /// When that was.
    pub at: Time,
}

impl Endings {
    fn add(&mut self, ending: Option<Ending>) {
        match ending {
            Some(Ending::Charge) => self.charge += 1,
            Some(Ending::Limited) => self.limited += 1,
            Some(Ending::Cold) => self.cold += 1,
            Some(Ending::Dropped) => self.dropped += 1,
            None => {}
        }
    }
}

impl Merge for Endings {
    fn merge(&mut self, other: &Endings) {
        merge_fields!(self, other: charge, limited, cold, dropped);
    }
}

impl CascadeCounts {
    fn add(&mut self, result: &TrialResult) {
        if let Some(cascade) = &result.cascade {
            *self.sizes.entry(cascade.size).or_default() += 1;
            *self.sequences.entry(cascade.sequence.clone()).or_default() += 1;
        }
        match result.blackout {
            Some(Blackout::After(time)) => *self.dark.entry(time).or_default() += 1,
            Some(Blackout::FromStart) => self.dark_from_start += 1,
            None => {}
        }
        if let Some(r) = result.rejoined {
            let one = RejoinedCounts { current: r.current, module: r.module, trial: result.trial, at: r.at };
            self.keep_greatest(Some(one));
        }
    }

    fn keep_greatest(&mut self, other: Option<RejoinedCounts>) {
        let rank = |r: &RejoinedCounts| (r.current.abs(), Reverse(r.trial));
        if other.is_some_and(|o| self.rejoined.is_none_or(|mine| rank(&o) > rank(&mine))) {
            self.rejoined = other;
        }
    }
}

impl Merge for CascadeCounts {
    fn merge(&mut self, other: &CascadeCounts) {
        merge_fields!(self, other: sizes, sequences, dark, dark_from_start);
        self.keep_greatest(other.rejoined);
    }
}

/// One of the worst nights: longest over its limit, then shortest served.
#[derive(Clone, Debug, PartialEq, Eq, Serialize, Deserialize)]
pub struct Worst {
    /// Longest time that an element was over its limit.
    pub time_over: Time,
    /// When service ended; `Time::NEVER` where it did not.
    pub served_until: Time,
    /// Number of the trial.
    pub trial: u64,
    /// Number of the scenario's night.
    pub night: usize,
    /// Greatest number of modules out at one moment.
    pub most_out: u32,
    /// The element longest over its limit, if any.
    pub element: Option<usize>,
}

impl Worst {
    fn order(&self) -> impl Ord + use<> {
        (Reverse(self.time_over), self.served_until, self.trial)
    }
}

/// What the trials took, and how exact they were.
#[derive(Clone, Copy, Debug, Default, PartialEq, Serialize, Deserialize)]
pub struct WorkCounts {
    /// Steps of all trials.
    pub steps: u64,
    /// Number of times that the network was solved.
    pub solves: u64,
    /// Number of events that were located in time.
    pub events: u64,
    /// Greatest departure from Kirchhoff's current law [A].
    pub kirchhoff: f64,
    /// Greatest relative departure of power in from power out.
    pub power_balance: f64,
}

impl Counts {
    /// The counts of a model before any trial.
    pub fn new(model: &Model) -> Counts {
        let bank = &model.bank;
        let empty = Counts::empty(bank.network.branches().len(), bank.modules.len(), bank.devices.len());
        Counts { wanted: model.wanted, ..empty }
    }

    /// The counts of a bank of this size before any trial.
    pub fn empty(elements: usize, modules: usize, devices: usize) -> Counts {
        Counts {
            trials: 0,
            failed: 0,
            failures: Vec::new(),
            wanted: Time::NEVER,
            served: 0,
            ended: BTreeMap::new(),
            opened: vec![0; devices],
            elements: vec![ElementCounts::default(); elements],
            dropout: DropoutCounts { most: vec![0; modules + 1], ..DropoutCounts::default() },
            unserved: FixedSum::default(),
            brief: FixedSum::default(),
            curtailed: FixedSum::default(),
            chains: BTreeMap::new(),
            cascades: CascadeCounts::default(),
            endings: Endings::default(),
            nights: BTreeMap::new(),
            worst: Vec::new(),
            work: WorkCounts::default(),
        }
    }

    /// Adds one trial.
    pub fn add(&mut self, result: &TrialResult) {
        let sums = (self.unserved.add(result.unserved / JOULES))
            .and(self.brief.add(result.brief / JOULES))
            .and(self.curtailed.add(result.curtailed / JOULES));
        if let Err(error) = sums {
            return self.count_failure(result.trial, result.night, error.to_string());
        }
        self.trials += 1;
        match result.served_until {
            None => self.served += 1,
            Some(end) => *self.ended.entry(end).or_default() += 1,
        }
        for (counts, one) in self.elements.iter_mut().zip(&result.elements) {
            counts.merge(&ElementCounts {
                nights: u64::from(one.first_over.is_some()),
                time_over: one.time_over.0.unsigned_abs(),
                greatest: one.greatest,
                greatest_trial: result.trial,
                greatest_at: one.greatest_at,
                hot_nights: u64::from(one.first_hot.is_some()),
                time_hot: one.time_hot.0.unsigned_abs(),
                hottest: one.hottest,
            });
        }
        for (nights, opened) in self.opened.iter_mut().zip(&result.opened) {
            *nights += u64::from(opened.is_some());
        }
        for chain in &result.chains {
            *self.chains.entry(chain.clone()).or_default() += 1;
        }
        self.cascades.add(result);
        self.endings.add(result.ending);
        self.add_dropout(result);
        self.nights.entry(result.night).or_default().merge(&NightCounts::of(result, self.wanted));
        self.add_worst(result);
        self.work.merge(&WorkCounts::of(&result.work));
    }

    fn add_dropout(&mut self, result: &TrialResult) {
        let dropout = &result.dropout;
        self.dropout.cold += u64::from(dropout.cold);
        self.dropout.fault += u64::from(dropout.fault);
        self.dropout.other += u64::from(dropout.other);
        if let Some(count) = self.dropout.most.get_mut(dropout.most as usize) {
            *count += 1;
        }
    }

    /// For each calendar night, the number of its trials and the number of those that `which` counts.
    pub fn by_night(&self, which: impl Fn(&NightCounts) -> u64 + Clone) -> impl Iterator<Item = (u64, u64)> + Clone {
        self.nights.values().map(move |night| (night.trials, which(night)))
    }

    /// Trials of a kind.
    pub fn sum(&self, which: impl Fn(&NightCounts) -> u64) -> u64 {
        self.nights.values().map(which).sum()
    }

    fn add_worst(&mut self, result: &TrialResult) {
        let longest = result.longest_over();
        if longest.is_none() && result.served_until.is_none() {
            return;
        }
        self.keep_worst(Worst {
            time_over: longest.map_or(Time::ZERO, |l| l.1),
            served_until: result.served_until.unwrap_or(Time::NEVER),
            trial: result.trial,
            night: result.night,
            most_out: result.dropout.most,
            element: longest.map(|l| l.0),
        });
    }

    fn keep_worst(&mut self, one: Worst) {
        let at = self.worst.partition_point(|w| w.order() < one.order());
        if at < WORST {
            self.worst.insert(at, one);
            self.worst.truncate(WORST);
        }
    }

    /// Counts a trial that could not be finished.
    pub fn add_failed(&mut self, trial: u64, night: usize, error: &TrialError) {
        self.count_failure(trial, night, error.to_string());
    }

    fn count_failure(&mut self, trial: u64, night: usize, why: String) {
        self.trials += 1;
        self.failed += 1;
        *self.ended.entry(Time::ZERO).or_default() += 1;
        self.dropout.most[0] += 1;
        self.nights.entry(night).or_default().merge(&NightCounts::of_failure());
        self.failures.push((trial, why));
        self.trim_failures();
    }

    fn trim_failures(&mut self) {
        self.failures.sort();
        self.failures.truncate(WORST);
    }
}

impl Merge for Counts {
    fn merge(&mut self, other: &Counts) {
        merge_fields!(self, other: trials, failed, served, ended, opened, elements, dropout, unserved, brief, curtailed);
        merge_fields!(self, other: chains, cascades, endings, nights, work);
        other.worst.iter().for_each(|w| self.keep_worst(w.clone()));
        self.failures.extend(other.failures.iter().cloned());
        self.trim_failures();
    }
}

impl Merge for ElementCounts {
    fn merge(&mut self, other: &ElementCounts) {
        merge_fields!(self, other: nights, time_over, hot_nights, time_hot);
        self.hottest = self.hottest.into_iter().chain(other.hottest).reduce(f64::max);
        let rank = |e: &ElementCounts| (e.greatest, Reverse(e.greatest_trial));
        if rank(other) > rank(self) {
            self.greatest = other.greatest;
            self.greatest_trial = other.greatest_trial;
            self.greatest_at = other.greatest_at;
        }
    }
}

impl Merge for DropoutCounts {
    fn merge(&mut self, other: &DropoutCounts) {
        merge_fields!(self, other: cold, fault, other, most);
    }
}

impl DropoutCounts {
    /// Trials with at least so many modules out at one moment.
    pub fn at_least(&self, modules: usize) -> u64 {
        self.most.iter().skip(modules).sum()
    }
}

impl WorkCounts {
    fn of(work: &Work) -> WorkCounts {
        let Work { steps, solves, events, kirchhoff, power_balance, .. } = *work;
        WorkCounts { steps, solves, events, kirchhoff, power_balance }
    }
}

impl Merge for WorkCounts {
    fn merge(&mut self, other: &WorkCounts) {
        merge_fields!(self, other: steps, solves, events);
        self.kirchhoff = self.kirchhoff.max(other.kirchhoff);
        self.power_balance = self.power_balance.max(other.power_balance);
    }
}
