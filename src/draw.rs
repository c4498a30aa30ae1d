//! Random draws by name.
//!
//! In: (seed, trial, entity, purpose, number). Out: the draw of that name. Nothing else can change
//! it: not threads, not the order of calls, not what else is in the layout; two layouts that share
//! the name of an element share its random numbers, so that their differences are paired.
//!
//! The generator is ChaCha with 8 rounds (D. J. Bernstein, 2008) in its 64-bit counter, 64-bit
//! stream form, `rand_chacha::ChaCha8Rng`:
//! - key = SHA-256 of `bankwright draw`, then layout version (u32), seed (u64), purpose (u32),
//!   length of the entity's name in bytes (u64), all little-endian, then the name in UTF-8;
//! - stream = trial;
//! - the first block is number·2³². Each number has 2³² blocks of 64 bytes to itself, so that a
//!   distribution that takes several words cannot run into the next number.
//!
//! Whole and uniform numbers are drawn by `rand`, pinned in `Cargo.toml`; normal and exponential ones by `ziggurat`, with
//! no function of the platform. A digest in `tests/statistics/draws.rs` fails if anything changes a value.

pub mod faults;
mod ziggurat;

use crate::math;
use crate::scenario::Distribution;
use rand::{RngExt, SeedableRng};
use rand_chacha::ChaCha8Rng;
use sha2::{Digest, Sha256};

/// Version of everything above: a change of any draw takes a new number. (The last bit of log-normal draws, and of the 1 in
/// 2000 normal and exponential ones beyond the strips, was left to the platform's logarithm and exponential at first.)
///
/// 2: one start charge a trial, for all modules.
pub const DRAW_LAYOUT: u32 = 2;

/// Words of 32 bits that each number has to itself.
const WORDS_PER_NUMBER: u128 = 16 << 32;

/// Normal draws are cut off at this number of standard deviations.
const NORMAL_CUT: f64 = 4.0;

/// What a draw is for. The number is part of [`DRAW_LAYOUT`]: add at the end, never renumber.
#[derive(Clone, Copy, Debug, PartialEq, Eq, Hash)]
#[repr(u32)]
pub enum Purpose {
    /// Which calendar night a trial is.
    Night = 1,
    /// Spread of a module's capacity.
    Capacity = 2,
    /// Spread of a module's resistance.
    Resistance = 3,
    /// Spread of the two joints of a conductor.
    Joint = 4,
    /// State of charge of all modules at the start, once a trial.
    StartCharge = 5,
    /// Factor of all loads, once a trial.
    Load = 6,
    /// Shift of the outdoor temperature, once a trial.
    Temperature = 7,
    /// Error of a module's temperature sensor.
    Sensor = 8,
    /// Failures of one module.
    Fault = 9,
    /// No longer drawn; the number must not be used again.
    Bootstrap = 10,
    /// Failures of the link between controller and inverter.
    Link = 11,
    /// Failures of all modules of a stack at once.
    StackFault = 12,
    /// Trips of one module's protection without a cause.
    Nuisance = 13,
    /// Failures of the link of the communication chain that leads to a module.
    ChainLink = 14,
    /// Failures of a joint.
    JointFault = 15,
    /// Openings of a lead conductor.
    OpenLead = 16,
    /// Motor starts, by their names.
    Surge = 17,
}

/// All draws of one purpose for one entity under one seed.
#[derive(Clone, Debug)]
pub struct Source {
    /// At stream 0, word 0.
    origin: ChaCha8Rng,
}

impl Source {
    /// `entity` is the identifier of an element (`A1`), or empty for what there is once a trial.
    pub fn new(seed: u64, purpose: Purpose, entity: &str) -> Source {
        let key = Sha256::new()
            .chain_update(b"bankwright draw")
            .chain_update(DRAW_LAYOUT.to_le_bytes())
            .chain_update(seed.to_le_bytes())
            .chain_update((purpose as u32).to_le_bytes())
            .chain_update((entity.len() as u64).to_le_bytes())
            .chain_update(entity.as_bytes())
            .finalize();
        Source { origin: ChaCha8Rng::from_seed(key.into()) }
    }

    /// The generator of one trial and number: a copy and two stores, no hashing.
    pub fn rng(&self, trial: u64, number: u32) -> ChaCha8Rng {
        let mut rng = self.origin.clone();
        rng.set_stream(trial);
        rng.set_word_pos(u128::from(number) * WORDS_PER_NUMBER);
        rng
    }

    /// One of 0…n−1, each as likely, number 0; 0 where n is 0.
    pub fn index(&self, trial: u64, n: usize) -> usize {
        self.indices(trial, n).next().unwrap_or(0)
    }

    /// As many independent indices below n as are taken, all of number 0; none where n is 0.
    pub fn indices(&self, trial: u64, n: usize) -> impl Iterator<Item = usize> + use<> {
        let mut rng = self.rng(trial, 0);
        let n = n as u64;
        // As u64, so that machines of any word length draw alike.
        std::iter::from_fn(move || (n > 0).then(|| rng.random_range(0..n) as usize))
    }

    /// A factor about 1: 1 + x, or log-normal with median 1. No spread: exactly 1, without a draw.
    ///
    /// Wide spreads (a half-width of 1, a standard deviation of ¼) can reach 0; the scenario's check
    /// refuses them.
    pub fn factor(&self, trial: u64, number: u32, spread: &Distribution) -> f64 {
        match *spread {
            Distribution::None => 1.0,
            Distribution::LogNormal(sd) => math::exp(sd * self.normal(trial, number)),
            Distribution::Normal(_) | Distribution::Uniform(_) | Distribution::Triangular(_) => {
                1.0 + self.offset(trial, number, spread)
            }
        }
    }

    /// A difference about 0, in the unit of the spread. No spread: exactly 0, without a draw.
    ///
    /// A log-normal is a factor by its meaning; as a difference it is that factor less 1.
    pub fn offset(&self, trial: u64, number: u32, spread: &Distribution) -> f64 {
        match *spread {
            Distribution::None => 0.0,
            Distribution::Normal(sd) => sd * self.cut_normal(trial, number),
            Distribution::LogNormal(sd) => math::exp_m1(sd * self.normal(trial, number)),
            Distribution::Uniform(half) => half * self.symmetric(trial, number),
            Distribution::Triangular(half) => half * self.triangular(trial, number),
        }
    }

    fn normal(&self, trial: u64, number: u32) -> f64 {
        ziggurat::normal(&mut self.rng(trial, number))
    }

    /// The truncated normal: what falls beyond the cut (6 in 100 000) is drawn again within its own
    /// stretch, so that no mass heaps up at the cut.
    fn cut_normal(&self, trial: u64, number: u32) -> f64 {
        let mut rng = self.rng(trial, number);
        loop {
            let z = ziggurat::normal(&mut rng);
            if z.abs() <= NORMAL_CUT {
                return z;
            }
        }
    }

    /// Uniform in −1…1.
    fn symmetric(&self, trial: u64, number: u32) -> f64 {
        2.0 * self.rng(trial, number).random::<f64>() - 1.0
    }

    /// Triangular in −1…1, most likely 0: the difference of two uniforms.
    fn triangular(&self, trial: u64, number: u32) -> f64 {
        let mut rng = self.rng(trial, number);
        rng.random::<f64>() - rng.random::<f64>()
    }
}

#[cfg(test)]
mod tests {
    use super::*;
    use rand::Rng;

    fn first(seed: u64, purpose: Purpose, entity: &str, trial: u64, number: u32) -> u64 {
        Source::new(seed, purpose, entity).rng(trial, number).next_u64()
    }

    #[test]
    fn every_part_of_the_name_counts() {
        let base = first(1, Purpose::Capacity, "A1", 0, 0);
        assert_eq!(base, first(1, Purpose::Capacity, "A1", 0, 0));
        for other in [
            first(2, Purpose::Capacity, "A1", 0, 0),
            first(1, Purpose::Resistance, "A1", 0, 0),
            first(1, Purpose::Capacity, "A2", 0, 0),
            first(1, Purpose::Capacity, "", 0, 0),
            first(1, Purpose::Capacity, "A1", 1, 0),
            first(1, Purpose::Capacity, "A1", 0, 1),
        ] {
            assert_ne!(base, other);
        }
    }

    #[test]
    fn numbers_have_stretches_of_their_own() {
        let source = Source::new(1, Purpose::Joint, "A.lead1+");
        assert_eq!(source.rng(3, 0).get_word_pos(), 0);
        assert_eq!(source.rng(3, 2).get_word_pos(), 2 * WORDS_PER_NUMBER);
        // The last number ends where the 68-bit position ends.
        assert_eq!(source.rng(3, u32::MAX).get_word_pos() + WORDS_PER_NUMBER, 1 << 68);
        assert_eq!(source.rng(u64::MAX, 0).get_stream(), u64::MAX);
    }

    #[test]
    fn asking_leaves_no_trace() {
        let source = Source::new(1, Purpose::Sensor, "A1");
        let spread = Distribution::Normal(1.0);
        let before = source.offset(7, 0, &spread);
        let _ = (source.offset(8, 0, &spread), source.index(7, 10), source.rng(7, 0).next_u64());
        assert_eq!(source.offset(7, 0, &spread), before);
    }

    #[test]
    fn no_spread_is_exactly_nominal() {
        let source = Source::new(1, Purpose::Load, "");
        assert_eq!(source.factor(0, 0, &Distribution::None), 1.0);
        assert_eq!(source.offset(0, 0, &Distribution::None), 0.0);
    }

    #[test]
    fn a_factor_is_one_and_its_offset() {
        let source = Source::new(1, Purpose::Capacity, "A1");
        for spread in [
            Distribution::Normal(0.1),
            Distribution::Uniform(0.1),
            Distribution::Triangular(0.1),
            Distribution::LogNormal(0.1),
        ] {
            let (factor, offset) = (source.factor(3, 0, &spread), source.offset(3, 0, &spread));
            assert!(offset != 0.0 && (factor - 1.0 - offset).abs() < 1e-15, "{spread:?}");
        }
    }

    #[test]
    fn a_wider_spread_keeps_its_luck() {
        let source = Source::new(1, Purpose::Load, "");
        for trial in 0..100 {
            let [narrow, wide] = [0.125, 0.25].map(|sd| source.offset(trial, 0, &Distribution::Normal(sd)));
            assert_eq!(wide, 2.0 * narrow);
        }
    }

    #[test]
    fn an_index_below_nothing_or_one_is_zero() {
        let source = Source::new(1, Purpose::Night, "");
        assert_eq!((source.index(5, 0), source.index(5, 1)), (0, 0));
    }
}
