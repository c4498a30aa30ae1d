//! Blocks of trials as files: what an interrupted run goes on from.
//!
//! In: which run it is, and counts of a block. Out: one atomically written file a block, and back.
//! A block of another run (scenario, seed, number of trials, version, draws) is refused; one whose
//! bytes are not those that were written is known by its digest, and run again.

use super::blocks::Block;
use crate::draw::DRAW_LAYOUT;
use crate::summary::counts::Counts;
use serde::{Deserialize, Serialize};
use sha2::{Digest, Sha256};

/// What makes two runs the same: equal identities give equal results.
#[derive(Clone, Debug, PartialEq, Eq, Serialize, Deserialize)]
pub struct Identity {
    /// Version of the program.
    pub version: String,
    /// Number of the layout of the draws: another number draws other nights.
    pub draw_layout: u32,
    /// SHA-256 of the scenario and of every file that it names.
    pub digest: String,
    /// Seed of every random draw.
    pub seed: u64,
    /// How many trials the run has.
    pub trials: u64,
}

impl Identity {
    /// The identity of a run.
    pub fn new(digest: &str, seed: u64, trials: u64) -> Identity {
        Identity {
            version: env!("CARGO_PKG_VERSION").to_string(),
            draw_layout: DRAW_LAYOUT,
            digest: digest.to_string(),
            seed,
            trials,
        }
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

/// How a block begins as it is stored; also one that was cut short is known by it.
pub const HEAD: &str = "{\n  \"bankwright\": \"block of a run\",\n  \"identity\": {";

#[derive(Clone, Copy, Debug, Serialize, Deserialize)]
enum Kind {
    #[serde(rename = "block of a run")]
    Block,
}

/// One block as it is stored.
#[derive(Clone, Debug, Serialize, Deserialize)]
pub struct Shard {
    #[serde(rename = "bankwright")]
    kind: Kind,
    /// Which run it is of.
    pub identity: Identity,
    /// Number of the block.
    pub block: usize,
    /// What its trials came to.
    pub counts: Counts,
    /// SHA-256 of all the above.
    digest: String,
}

impl Shard {
    /// A finished block of a run.
    pub fn new(identity: Identity, block: usize, counts: Counts) -> Shard {
        let digest = digest(&identity, block, &counts);
        Shard { kind: Kind::Block, identity, block, counts, digest }
    }

    /// Whether its bytes are those that were written.
    pub fn is_as_written(&self) -> bool {
        self.digest == digest(&self.identity, self.block, &self.counts)
    }

    /// Whether it is as it was written, and is this block.
    pub fn is_sound(&self, block: &Block) -> bool {
        let trials = block.trials.end - block.trials.start;
        self.block == block.number && self.counts.trials == trials && self.is_as_written()
    }
}

/// Counts that cannot be written as JSON are never stored; their digest is of no use to anybody.
fn digest(identity: &Identity, block: usize, counts: &Counts) -> String {
    let text = serde_json::to_vec(&(identity, block, counts)).unwrap_or_default();
    Sha256::digest(text).iter().map(|byte| format!("{byte:02x}")).collect()
}

/// File name of a block within the folder of shards.
pub fn file_name(block: usize) -> String {
    format!("{block:06}.json")
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn a_shard_survives_the_file_and_a_changed_digit_does_not() {
        let mut counts = Counts::empty(2, 1, 0);
        counts.trials = 7;
        // Decimals that a quick reader gets wrong in the last bit.
        counts.elements[0].greatest = 55.393_536_131_272_924;
        counts.work.kirchhoff = 1.065_814_103_640_150_3e-13;
        let shard = Shard::new(Identity::new("d", 1, 100), 3, counts);
        let text = serde_json::to_string_pretty(&shard).unwrap();
        assert!(text.starts_with(HEAD));
        let read = |text: &str| serde_json::from_str::<Shard>(text).unwrap();
        let block = |number, trials| Block { number, trials };
        assert!(read(&text).is_sound(&block(3, 21..28)));
        assert!(!read(&text).is_sound(&block(4, 28..35)) && !read(&text).is_sound(&block(3, 21..29)));
        assert!(!read(&text.replacen("55.393", "55.394", 1)).is_sound(&block(3, 21..28)));
    }

    #[test]
    fn another_run_is_told_by_what_differs() {
        let mine = Identity::new("d", 1, 100);
        assert_eq!(mine.difference(&mine.clone()), None);
        let told = mine.difference(&Identity { seed: 2, ..mine.clone() }).unwrap();
        assert_eq!(told, "seed 2 there, 1 here");
    }
}
