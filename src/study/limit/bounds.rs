//! Bounds of the limit where the sets are too many to solve.
//!
//! In: the bank, a number of modules out, and a direction. Out: a current that is proven safe for every set of exactly so
//! many modules out, as a lower bound of the limit. The upper bound is the limit of the worst set that was solved (`worst`).
//! The limit need not fall as more modules go out (in a bank of unequal voltages it may rise), so no bound is taken over from
//! another number of modules out. The three bounds below are derived here; the tests compare them with brute force.
//!
//! *Every branch.* Choose one reference voltage for all sources, and let e be a source's own voltage less the reference.
//! Let u be the voltage that drives current along a branch once the reference has been taken out. A branch whose current
//! flows the way u drives it is passive. Any other branch is a source with |u| < |e|. It carries less than |e|/R, since a
//! characteristic with corners never passes more than its straight line. A flow that brings I from one terminal to the other
//! consists of paths between the terminals, which add up to I, and of cycles. Around a cycle u adds up to zero, so every
//! cycle holds a branch that is not passive, and all cycles together carry at most A = Σ|e|/R. So each branch carries at
//! most I + A. The reference may be chosen freely; the weighted median of the voltages makes A least.
//!
//! *Modules that carry both ways.* Let ρⱼₖ be the resistance of the conductors between modules j and k along both rails.
//! Then Rⱼ·iⱼ − Rₖ·iₖ ≤ |Eⱼ − Eₖ| + ρⱼₖ·(I + A). Solved for each iₖ and summed with Σi = I this gives
//! iⱼ·(1 + Σ Rⱼ/Rₖ) ≤ I + Σ (|Eⱼ − Eₖ| + ρⱼₖ·(I + A))/Rₖ, the sums over the other modules in service; for a current
//! against the bank's, the same with −I. Which modules are in service is not known, so each sum takes the worst ones.
//!
//! *The bus.* Its voltage is above zero as long as E − (R + ρ)·(I + A) is, where ρ is the resistance of the conductors from
//! the module to the terminals.

use super::binding_current::{Direction, Ratings};
use crate::network::Law;
use crate::study::steady::Steady;

/// With more modules the second bound is left out: its work grows with the square of their number.
const MOST_IN_PAIRS: usize = 256;

/// What is known of the bank before any set is chosen.
pub struct SafeCurrent<'a> {
    steady: &'a Steady<'a>,
    ratings: &'a [Ratings],
    /// Modules in service, whichever way they carry.
    live: Vec<usize>,
    /// A: the most that can circulate within the bank when its own current is zero [A].
    around: f64,
    /// Resistance from each of `live` to the terminals along both rails [Ω].
    to_terminals: Vec<f64>,
    /// ρ between each two of `live` [Ω]; empty where the second bound does not apply.
    between: Vec<Vec<f64>>,
}

impl<'a> SafeCurrent<'a> {
    pub fn new(steady: &'a Steady<'a>, ratings: &'a [Ratings]) -> SafeCurrent<'a> {
        let live: Vec<usize> = (0..steady.modules.len()).filter(|&k| steady.elements[k].law != Law::Open).collect();
        let network = &steady.bank.network;
        let both_ways = live.iter().all(|&k| !steady.elements[k].has_pieces());
        let paired = if both_ways && live.len() <= MOST_IN_PAIRS { &live[..] } else { &[] };
        let between = paired.iter().map(|&k| {
            let branch = network.branches()[k];
            rails_from(steady, (branch.to, branch.from), &live)
        });
        SafeCurrent {
            between: between.collect(),
            to_terminals: rails_from(steady, (network.positive(), network.negative()), &live),
            around: around(steady, &live),
            steady,
            ratings,
            live,
        }
    }

    /// A bank current at which nothing is over its limit, whichever `out` modules are out [A].
    pub fn of(&self, out: usize, direction: Direction) -> f64 {
        let carriers = self.live.iter().filter(|&&k| direction.passes(&self.steady.elements[k])).count();
        if carriers <= out {
            return 0.0;
        }
        let modules = (0..self.live.len()).map(|at| self.module(at, out, direction));
        let conductors = self.ratings[self.steady.modules.len()..].iter().map(|r| r.along.min(r.against) - self.around);
        let least = modules.chain(conductors).fold(f64::INFINITY, f64::min);
        least.min(self.bus(direction)).max(0.0)
    }

    /// A bank current up to which one module is within its limits and does not have to limit its own current [A]; `at` is its
    /// place in `live`.
    fn module(&self, at: usize, out: usize, direction: Direction) -> f64 {
        let (element, ratings) = (&self.steady.elements[self.live[at]], self.ratings[self.live[at]]);
        let along = ratings.along.min(element.self_limit.forward);
        let against = ratings.against.min(element.self_limit.reverse);
        let (forward, reverse) = match element.law {
            Law::ForwardOnly { .. } => (along, f64::INFINITY),
            Law::ReverseOnly { .. } => (f64::INFINITY, against),
            Law::Both | Law::Open => (along, against),
        };
        let (with_it, against_it) = match direction {
            Direction::Discharge => (forward, reverse),
            Direction::Charge => (reverse, forward),
        };
        // Modules that are out of service anyway may be among those that are out, and then remove nothing.
        let absent = self.steady.modules.len() - self.live.len();
        let left = self.live.len() - out.min(self.live.len())..=self.live.len() - out.saturating_sub(absent);
        let shares = left.filter(|&count| count > 0).map(|count| self.shares(at, count));
        let (mut shared, mut back) = (f64::INFINITY, f64::INFINITY);
        for share in shares {
            shared = share.map_or(0.0, |s| s.with_the_bank(with_it)).min(shared);
            back = share.map_or(0.0, |s| s.against_the_bank(against_it)).min(back);
        }
        shared.max(with_it - self.around).min(back.max(against_it - self.around))
    }

    /// The second bound for the module at this place in `live`, with `count` modules left in service; `None` where the bound
    /// does not apply.
    fn shares(&self, at: usize, count: usize) -> Option<Share> {
        let rails = self.between.get(at)?;
        let element = |n: usize| &self.steady.elements[self.live[n]];
        let own = element(at);
        let worst = |value: &dyn Fn(usize) -> f64| {
            let mut all: Vec<f64> = (0..self.live.len()).filter(|&n| n != at).map(value).collect();
            all.sort_by(|a, b| b.total_cmp(a));
            all.iter().take(count - 1).sum::<f64>()
        };
        let by_rails = worst(&|n| rails[n] / element(n).resistance);
        let by_voltage = worst(&|n| (own.emf - element(n).emf).abs() / element(n).resistance);
        let others = 1.0 - worst(&|n| -own.resistance / element(n).resistance);
        Some(Share { others, by_rails, offset: self.around * by_rails + by_voltage })
    }

    /// The bank current up to which the voltage at the bus is above zero, whichever modules are left [A].
    fn bus(&self, direction: Direction) -> f64 {
        if direction == Direction::Charge {
            return f64::INFINITY;
        }
        let carriers = self.live.iter().zip(&self.to_terminals).map(|(&k, path)| (&self.steady.elements[k], path));
        let lasts = carriers
            .filter(|(e, _)| direction.passes(e))
            .map(|(element, path)| element.driving() / (element.resistance + path) - self.around);
        lasts.fold(f64::INFINITY, f64::min)
    }
}

/// The second bound for one module: its current i, along the bank's current I, obeys i·others ≤ I·(1 + by_rails) + offset;
/// against it, i·others ≤ I·(by_rails − 1) + offset.
#[derive(Clone, Copy, Debug)]
struct Share {
    others: f64,
    by_rails: f64,
    /// What unequal voltages add [A].
    offset: f64,
}

impl Share {
    /// The least bank current at which the module can reach this rating [A], its current along the bank's.
    fn with_the_bank(self, rating: f64) -> f64 {
        (rating * self.others - self.offset) / (1.0 + self.by_rails)
    }

    /// The same with the module's current against the bank's; infinite where it never can.
    fn against_the_bank(self, rating: f64) -> f64 {
        let room = rating * self.others - self.offset;
        match self.by_rails > 1.0 {
            _ if room < 0.0 => 0.0,
            true => room / (self.by_rails - 1.0),
            false => f64::INFINITY,
        }
    }
}

/// A = Σ|e|/R [A] with the reference that makes it least, which is one of the voltages.
fn around(steady: &Steady, live: &[usize]) -> f64 {
    let sources = || live.iter().map(|&k| &steady.elements[k]);
    let about = |reference: f64| sources().map(|e| (e.driving() - reference).abs() / e.resistance).sum::<f64>();
    let least = sources().map(|e| about(e.driving())).fold(f64::INFINITY, f64::min);
    // A smaller sum is rounding.
    if least.is_finite() && least > 1e-9 { least } else { 0.0 }
}

/// Resistance along conductors from one node of each rail to the poles of each module in `live`, both rails together [Ω].
fn rails_from(steady: &Steady, (positive, negative): (usize, usize), live: &[usize]) -> Vec<f64> {
    let (positive, negative) = (along_conductors(steady, positive), along_conductors(steady, negative));
    let branches = live.iter().map(|&k| steady.bank.network.branches()[k]);
    branches.map(|b| positive[b.to] + negative[b.from]).collect()
}

/// Least resistance of a path along conductors from a node to every other [Ω] (R. Bellman, "On a routing problem", 1958).
/// The bound holds for any path; the shortest makes it tightest.
fn along_conductors(steady: &Steady, from: usize) -> Vec<f64> {
    let network = &steady.bank.network;
    let mut least = vec![f64::INFINITY; network.rails().len()];
    least[from] = 0.0;
    let conductors = || network.branches().iter().zip(&steady.elements).skip(steady.modules.len());
    let mut changed = true;
    while changed {
        changed = false;
        for (branch, element) in conductors() {
            for (a, b) in [(branch.from, branch.to), (branch.to, branch.from)] {
                let through = least[a] + element.resistance;
                if through < least[b] {
                    (least[b], changed) = (through, true);
                }
            }
        }
    }
    least
}
