//! A number of each of several trials, and what is done with it: plain loops that become vector instructions.

use std::ops::{Deref, DerefMut};

/// Trials that are solved at once: so many that the latency of one pivot hides behind the next, so few
/// that their numbers stay in the nearest cache.
pub const LANES: usize = 16;

/// A number of each trial. Aligned, so that a vector lies in one line of the cache.
#[derive(Clone, Copy, Debug, Default, PartialEq)]
#[repr(align(64))]
pub struct Lane(pub [f64; LANES]);

pub const ZERO: Lane = Lane([0.0; LANES]);

impl Deref for Lane {
    type Target = [f64; LANES];

    #[inline(always)]
    fn deref(&self) -> &[f64; LANES] {
        &self.0
    }
}

impl DerefMut for Lane {
    #[inline(always)]
    fn deref_mut(&mut self) -> &mut [f64; LANES] {
        &mut self.0
    }
}

/// The numbers below n. The compiler is kept from seeing that they follow one another: it would otherwise take eight
/// modules or branches at once, with gathered loads, in place of the lanes that stand side by side (four times slower).
#[inline(always)]
pub fn one_by_one(n: usize) -> impl Iterator<Item = usize> {
    (0..n).map(std::hint::black_box)
}

/// Whether any lane of a mask is above 0.
#[inline(always)]
pub fn any(mask: &Lane) -> bool {
    let mask = whole(*mask);
    any_of(|l| mask.0[l] > 0.0)
}

/// A lane, written down as a whole. The compiler would otherwise cut lanes into uneven pieces to suit a question
/// about all of them, and what is written in pieces and read as a whole waits for the store.
#[inline(always)]
pub fn whole(lane: Lane) -> Lane {
    std::hint::black_box(lane)
}

/// Whether something holds in any lane: all are looked at, so that vectors do it.
#[inline(always)]
pub fn any_of(holds: impl Fn(usize) -> bool) -> bool {
    let mut any = false;
    for l in 0..LANES {
        any |= holds(l);
    }
    any
}

/// One or the other by a mask (above 0, or not): both are read first, so that it becomes a blend.
#[inline(always)]
pub fn choose(mask: &Lane, yes: Lane, no: Lane) -> Lane {
    lanes(|l| {
        let (yes, no) = (yes.0[l], no.0[l]);
        if mask.0[l] > 0.0 { yes } else { no }
    })
}

/// A number for each lane, from its place.
#[inline(always)]
pub fn lanes(number: impl Fn(usize) -> f64) -> Lane {
    let mut all = ZERO;
    for l in 0..LANES {
        all.0[l] = number(l);
    }
    all
}

#[inline(always)]
pub(super) fn add(to: &mut Lane, what: Lane) {
    let before = *to;
    *to = lanes(|l| before[l] + what[l]);
}
