//! Whether a target is met.

use serde::{Deserialize, Serialize};

/// What the trials say of a target.
#[derive(Clone, Copy, Debug, PartialEq, Eq, Serialize, Deserialize)]
#[serde(rename_all = "snake_case")]
pub enum Verdict {
    /// The whole interval meets the target.
    Met,
    /// The whole interval misses the target.
    Missed,
    /// An interval holds the target: more trials are needed, or more nights of record.
    NotDecided,
}

impl Verdict {
    /// The verdict on several targets together: met where all are met.
    pub fn of_all(all: impl IntoIterator<Item = Verdict>) -> Verdict {
        let worse = |a: Verdict, b: Verdict| match (a, b) {
            (Verdict::Missed, _) | (_, Verdict::Missed) => Verdict::Missed,
            (Verdict::NotDecided, _) | (_, Verdict::NotDecided) => Verdict::NotDecided,
            _ => Verdict::Met,
        };
        all.into_iter().fold(Verdict::Met, worse)
    }
}
