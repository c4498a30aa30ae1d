//! One number of each of N trials, side by side, and what is done with it: plain loops that become vector instructions
//! where N is many, and the number itself where N is one.

use std::ops::{Deref, DerefMut};

/// Trials that go side by side: so many that the latency of one pivot hides behind the next, so few that their numbers
/// stay in the nearest caches.
pub const LANES: usize = 16;

/// A number of each trial. Aligned, so that a vector lies in one line of the cache.
#[derive(Clone, Copy, Debug, PartialEq)]
#[repr(align(64))]
pub struct Lane<const N: usize>(pub [f64; N]);

impl<const N: usize> Lane<N> {
    /// 0 in every lane.
    pub const ZERO: Lane<N> = Lane([0.0; N]);
    /// 1 in every lane: as a mask, all of them.
    pub const ONE: Lane<N> = Lane([1.0; N]);

    /// The same number in every lane.
    #[inline(always)]
    pub const fn all(x: f64) -> Lane<N> {
        Lane([x; N])
    }
}

impl<const N: usize> Default for Lane<N> {
    fn default() -> Self {
        Lane::ZERO
    }
}

impl<const N: usize> Deref for Lane<N> {
    type Target = [f64; N];

    #[inline(always)]
    fn deref(&self) -> &[f64; N] {
        &self.0
    }
}

impl<const N: usize> DerefMut for Lane<N> {
    #[inline(always)]
    fn deref_mut(&mut self) -> &mut [f64; N] {
        &mut self.0
    }
}

/// A number for each lane, from its place.
#[inline(always)]
pub fn lanes<const N: usize>(number: impl Fn(usize) -> f64) -> Lane<N> {
    let mut all = Lane::ZERO;
    for l in 0..N {
        all.0[l] = number(l);
    }
    all
}

/// 1 in the lanes in which something holds, else 0.
#[inline(always)]
pub fn mask<const N: usize>(holds: impl Fn(usize) -> bool) -> Lane<N> {
    lanes(|l| if holds(l) { 1.0 } else { 0.0 })
}

/// One or the other by a mask (above 0, or not): both are read first, so that it becomes a blend.
#[inline(always)]
pub fn select<const N: usize>(mask: &Lane<N>, yes: Lane<N>, no: Lane<N>) -> Lane<N> {
    lanes(|l| {
        let (yes, no) = (yes.0[l], no.0[l]);
        if mask.0[l] > 0.0 { yes } else { no }
    })
}

/// The greater of two, the first where they cannot be compared.
#[inline(always)]
pub fn greater<const N: usize>(a: &Lane<N>, b: &Lane<N>) -> Lane<N> {
    let (a, b) = (*a, *b);
    lanes(|l| if b[l] > a[l] { b[l] } else { a[l] })
}

/// The lesser of two, the second where they cannot be compared.
#[inline(always)]
pub fn lesser<const N: usize>(a: &Lane<N>, b: &Lane<N>) -> Lane<N> {
    let (a, b) = (*a, *b);
    lanes(|l| if a[l] <= b[l] { a[l] } else { b[l] })
}

#[inline(always)]
pub(super) fn add<const N: usize>(to: &mut Lane<N>, what: Lane<N>) {
    let before = *to;
    *to = lanes(|l| before[l] + what[l]);
}

/// Whether any lane of a mask is above 0.
#[inline(always)]
pub fn any<const N: usize>(mask: &Lane<N>) -> bool {
    let mask = materialize(*mask);
    any_of::<N>(|l| mask.0[l] > 0.0)
}

/// Whether something holds in any lane: all are looked at, so that vectors do it.
#[inline(always)]
pub fn any_of<const N: usize>(holds: impl Fn(usize) -> bool) -> bool {
    let mut any = false;
    for l in 0..N {
        any |= holds(l);
    }
    any
}

/// The numbers below `count`. The compiler is kept from seeing that they follow one another: it would otherwise take
/// eight modules or branches at once, with gathered loads, in place of the lanes that stand side by side (four times
/// slower). Where there is one lane it may do as it likes.
#[inline(always)]
pub fn opaque_range<const N: usize>(count: usize) -> impl Iterator<Item = usize> {
    (0..count).map(|k| if N == 1 { k } else { std::hint::black_box(k) })
}

/// A lane, written down as a whole. The compiler would otherwise cut lanes into uneven pieces to suit a question
/// about all of them, and what is written in pieces and read as a whole waits for the store.
#[inline(always)]
pub fn materialize<const N: usize>(lane: Lane<N>) -> Lane<N> {
    if N == 1 { lane } else { std::hint::black_box(lane) }
}
