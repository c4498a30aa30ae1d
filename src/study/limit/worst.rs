//! The least limit over many sets of modules out, each also combined with every open conductor of a list.
//!
//! In: the bank, how many are out, which conductors open in turn. Out: the least limit in each direction with its
//! set. Sets are worked through in runs of fixed length, each from the same start, so that the result is the same
//! for any number of threads.

use super::binding_current::{self, BindingCurrent, Ratings};
use super::sets;
use crate::network::solve::Solver;
use crate::network::{Element, Law};
use crate::progress::Progress;
use crate::study::error::StudyError;
use crate::study::steady::Steady;
use rayon::iter::{IntoParallelIterator, ParallelIterator};

/// Sets that one task works through.
const RUN: u64 = 1024;

/// The least limit over sets, and where it is met.
#[derive(Clone, Debug)]
pub struct Worst {
    pub limit: BindingCurrent,
    /// Modules out.
    pub out: Vec<usize>,
    /// The open conductor's branch.
    pub open: Option<usize>,
}

/// The worst in discharge and in charge, and the work that it took.
#[derive(Clone, Debug)]
pub struct Found {
    pub worst: [Worst; 2],
    pub sets: u64,
    pub factorisations: u64,
}

/// A bank ready to be solved over and over.
pub struct Search<'a> {
    progress: &'a Progress<'a>,
    solver: Solver,
    elements: Vec<Element>,
    ratings: Vec<Ratings>,
    modules: usize,
}

impl<'a> Search<'a> {
    pub fn new(steady: &Steady, progress: &'a Progress<'a>) -> Search<'a> {
        Search {
            progress,
            solver: Solver::new(steady.bank.network.clone()),
            elements: steady.elements.clone(),
            ratings: Ratings::of(steady),
            modules: steady.modules.len(),
        }
    }

    /// The worst over every set of exactly `out` modules; with `open`, over each of these branches open too.
    /// `None` where there is no set.
    ///
    /// # Errors
    /// Interrupted, or elements that are not finite.
    pub fn worst(&self, out: usize, open: &[Option<usize>]) -> Result<Option<Found>, StudyError> {
        let sets = sets::number(self.modules, out);
        let runs = sets.div_ceil(RUN);
        let tasks: Vec<(Option<usize>, u64)> =
            open.iter().flat_map(|&branch| (0..runs).map(move |k| (branch, k * RUN))).collect();
        let found = tasks.into_par_iter().map(|(branch, rank)| {
            let size = RUN.min(sets - rank);
            self.run(branch, sets::nth(self.modules, out, rank), size)
        });
        found.try_reduce(|| None, |a, b| Ok(merge(a, b)))
    }

    /// The worst of the sets that have one module more than these: an upper bound of the worst of all.
    ///
    /// # Errors
    /// Interrupted, or elements that are not finite.
    pub fn one_more(&self, than: [&[usize]; 2]) -> Result<Option<Found>, StudyError> {
        let sets = than.into_iter().flat_map(|set| (0..self.modules).map(move |k| (set, k)));
        let sets: Vec<_> = sets.filter(|(set, k)| !set.contains(k)).collect();
        let found = sets.into_par_iter().map(|(set, k)| {
            let mut more = [set, &[k]].concat();
            more.sort_unstable();
            self.run(None, more, 1)
        });
        found.try_reduce(|| None, |a, b| Ok(merge(a, b)))
    }

    pub fn ratings(&self) -> &[Ratings] {
        &self.ratings
    }

    /// The worst of `size` consecutive sets, the first of them `set`.
    fn run(&self, open: Option<usize>, mut set: Vec<usize>, size: u64) -> Result<Option<Found>, StudyError> {
        let mut solver = self.solver.clone();
        let mut elements = self.elements.clone();
        if let Some(branch) = open {
            elements[branch].law = Law::Open;
        }
        let mut found = None;
        for _ in 0..size {
            self.progress.check()?;
            set.iter().for_each(|&k| elements[k].law = Law::Open);
            let limits = binding_current::both(&mut solver, &elements, &self.ratings)?;
            set.iter().for_each(|&k| elements[k].law = self.elements[k].law);
            let worse = |k: usize| found.as_ref().is_none_or(|f: &Found| is_worse(&limits[k], &f.worst[k].limit));
            if worse(0) || worse(1) {
                let worst = limits.map(|limit| Worst { limit, out: set.clone(), open });
                found = merge(found, Some(Found { worst, sets: 0, factorisations: 0 }));
            }
            sets::advance(&mut set, self.modules);
        }
        self.progress.advance(size);
        Ok(found.map(|f| Found { sets: size, factorisations: solver.factorisations, ..f }))
    }
}

/// The worse of two in each direction, the first where they are equal, and the sum of their work.
fn merge(a: Option<Found>, b: Option<Found>) -> Option<Found> {
    let (a, b) = match (a, b) {
        (Some(a), Some(b)) => (a, b),
        (a, b) => return a.or(b),
    };
    let (sets, factorisations) = (a.sets + b.sets, a.factorisations + b.factorisations);
    let [a0, a1] = a.worst;
    let [b0, b1] = b.worst;
    Some(Found { worst: [worse_of(a0, b0), worse_of(a1, b1)], sets, factorisations })
}

fn worse_of(a: Worst, b: Worst) -> Worst {
    let least = a.limit.current.min(b.limit.current);
    let mut worst = if is_worse(&b.limit, &a.limit) { b } else { a };
    // Alike but for rounding: the first is named, the least is told.
    worst.limit.current = least;
    worst
}

fn is_worse(a: &BindingCurrent, b: &BindingCurrent) -> bool {
    rounded(a.current) < rounded(b.current)
}

/// A current rounded to about ten digits, as an integer that compares like it, so that rounding does not tell mirrored sets
/// apart. The bits of numbers that are not negative are ordered like the numbers.
fn rounded(current: f64) -> u64 {
    current.to_bits() >> 20
}
