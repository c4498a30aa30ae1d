//! What the trials of one calendar night came to.

use crate::engine::cascade::Blackout;
use crate::engine::result::TrialResult;
use crate::summary::merge::{Merge, merge_fields};
use crate::time::Time;
use serde::{Deserialize, Serialize};
use std::collections::BTreeMap;

/// How many of its trials came to what.
#[derive(Clone, Debug, Default, PartialEq, Eq, Serialize, Deserialize)]
pub struct NightCounts {
    /// How many.
    pub trials: u64,
    /// Trials with an element over its limit.
    pub over: u64,
    /// Trials in which the load was not served for the wanted time.
    pub short: u64,
    /// Trials in which the load was not served to the horizon.
    pub ended: u64,
    /// Trials with a conductor over its temperature rating.
    pub hot: u64,
    /// Trials in which a protective device opened.
    pub opened: u64,
    /// Trials in which a module dropped out.
    pub dropout: u64,
    /// Trials with a loss that an earlier one caused.
    pub cascade: u64,
    /// Trials in which nothing was delivered after a loss.
    pub dark: u64,
    /// Elements that were over their limit, and in how many trials.
    #[serde(with = "crate::summary::pairs")]
    pub over_by_element: BTreeMap<usize, u64>,
}

impl NightCounts {
    /// One trial.
    pub(super) fn of(result: &TrialResult, wanted: Time) -> NightCounts {
        let over = result.elements.iter().enumerate().filter(|(_, element)| element.first_over.is_some());
        NightCounts {
            trials: 1,
            over: u64::from(result.any_over()),
            short: u64::from(result.served_until.is_some_and(|end| end < wanted)),
            ended: u64::from(result.served_until.is_some()),
            hot: u64::from(result.any_hot()),
            opened: u64::from(result.any_opened()),
            dropout: u64::from(result.dropout.most > 0),
            cascade: u64::from(result.cascade.is_some()),
            dark: u64::from(matches!(result.blackout, Some(Blackout::After(_)))),
            over_by_element: over.map(|(k, _)| (k, 1)).collect(),
        }
    }

    /// One trial that could not be finished: what is not known is not taken for good.
    pub(super) fn of_failure() -> NightCounts {
        NightCounts { trials: 1, over: 1, short: 1, ended: 1, hot: 1, opened: 1, ..NightCounts::default() }
    }
}

impl Merge for NightCounts {
    fn merge(&mut self, other: &NightCounts) {
        merge_fields!(self, other: trials, over, short, ended, hot, opened, dropout, cascade, dark, over_by_element);
    }
}
