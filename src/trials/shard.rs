//! Blocks of trials as files: what an interrupted run goes on from.
//!
//! In: which run it is, and counts of a block. Out: one atomically written file a block, and back.
//! A block of another run (scenario, seed, number of trials, version, draws) is refused.

use crate::draw::DRAW_LAYOUT;
use crate::summary::counts::Counts;
use serde::{Deserialize, Serialize};
use std::ops::Range;

/// What makes two runs the same: equal identities give equal results.
#[derive(Clone, Debug, PartialEq, Eq, Serialize, Deserialize)]
pub struct Identity {
    pub version: String,
    pub draw_layout: u32,
    /// SHA-256 of the scenario and of every file that it names.
    pub digest: String,
    pub seed: u64,
    pub trials: u64,
}

impl Identity {
    pub fn new(digest: &str, seed: u64, trials: u64) -> Identity {
        Identity {
            version: env!("CARGO_PKG_VERSION").to_string(),
            draw_layout: DRAW_LAYOUT,
            digest: digest.to_string(),
            seed,
            trials,
        }
    }

    /// The blocks of the run, in order: few enough to list, small enough to lose one.
    pub fn blocks(&self) -> Vec<Range<u64>> {
        let size = (self.trials / 256).clamp(50, 5000);
        let starts = (0..self.trials).step_by(size as usize);
        starts.map(|first| first..(first + size).min(self.trials)).collect()
    }

    /// How another run differs from this one, in words.
    pub fn difference(&self, other: &Identity) -> Option<String> {
        let differs = |what: &str, mine: &dyn ToString, theirs: &dyn ToString| {
            Some(format!("{what} {} there, {} here", theirs.to_string(), mine.to_string()))
        };
        if self == other {
            None
        } else if self.version != other.version || self.draw_layout != other.draw_layout {
            differs("program version", &self.version, &other.version)
        } else if self.seed != other.seed {
            differs("seed", &self.seed, &other.seed)
        } else if self.trials != other.trials {
            differs("number of trials", &self.trials, &other.trials)
        } else {
            Some("the scenario, or a file that it names, has changed since".to_string())
        }
    }
}

/// One block as it is stored.
#[derive(Clone, Debug, Serialize, Deserialize)]
pub struct Shard {
    pub identity: Identity,
    pub block: usize,
    pub counts: Counts,
}

/// File name of a block within the folder of shards.
pub fn file_name(block: usize) -> String {
    format!("{block:06}.json")
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn blocks_cover_every_trial_once() {
        for trials in [1, 49, 50, 51, 10_000, 1_000_003] {
            let blocks = Identity::new("", 1, trials).blocks();
            assert_eq!(blocks.iter().map(|b| b.end - b.start).sum::<u64>(), trials);
            assert!(blocks.windows(2).all(|w| w[0].end == w[1].start));
        }
    }

    #[test]
    fn another_run_is_told_by_what_differs() {
        let mine = Identity::new("d", 1, 100);
        assert_eq!(mine.difference(&mine.clone()), None);
        let told = mine.difference(&Identity { seed: 2, ..mine.clone() }).unwrap();
        assert_eq!(told, "seed 2 there, 1 here");
    }
}
