//! Quantiles of a sample and their distribution-free intervals.
//!
//! In: a sorted multiset of integers (value, count). Out: the quantile and its 95 % interval.
//!
//! The p-quantile of n values is the smallest value with at least p·n of them at or below it: the
//! one of rank ⌈p·n⌉. The number of values at or below the true quantile is binomial (n, p)
//! whatever the distribution, so the values of ranks l and u hold it with 95 % if
//! P(B < l) ≤ 2.5 % and P(B ≥ u) ≤ 2.5 % (H. A. David, H. N. Nagaraja, Order Statistics, §7.1).
//! Ties only widen this. p is in whole per cent, so that ⌈p·n⌉ is exact.

use super::interval::{CONFIDENCE, binomial_at_least};

/// A quantile with its 95 % interval.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub struct Quantile {
    /// The percentile.
    pub value: i64,
    /// Lower end of its interval.
    pub low: i64,
    /// Upper end of its interval.
    pub high: i64,
}

/// The `percent`-quantile (1…99) of `sorted`: pairs (value, count), values ascending.
///
/// Where the sample is too small to bound a side, that side is the end of `support`, the least and
/// the greatest value there can be. `None` of no values.
pub fn quantile(sorted: &[(i64, u64)], percent: u32, support: [i64; 2]) -> Option<Quantile> {
    let percent = percent.clamp(1, 99);
    let n: u64 = sorted.iter().map(|&(_, count)| count).sum();
    let rank = (u128::from(n) * u128::from(percent)).div_ceil(100) as u64;
    let value = at_rank(sorted, rank)?;
    let (low, high) = bounding_ranks(n, percent, 0.5 * (1.0 - CONFIDENCE));
    Some(Quantile {
        value,
        low: low.and_then(|rank| at_rank(sorted, rank)).unwrap_or(support[0]),
        high: high.and_then(|rank| at_rank(sorted, rank)).unwrap_or(support[1]),
    })
}

/// Ranks (from 1) of the values that bound the `percent`-quantile of `n`, each missing with at most
/// `tail`; `None` where no rank does.
pub fn bounding_ranks(n: u64, percent: u32, tail: f64) -> (Option<u64>, Option<u64>) {
    let percent = percent.clamp(1, 99);
    // Seen from the top, the lower bound is the upper bound of the complementary quantile.
    let low = upper_rank(n, 100 - percent, tail).map(|from_top| n + 1 - from_top);
    (low, upper_rank(n, percent, tail))
}

/// The smallest u ≤ n with P(B ≥ u) ≤ `tail`.
fn upper_rank(n: u64, percent: u32, tail: f64) -> Option<u64> {
    let p = f64::from(percent) / 100.0;
    let holds = |u: u64| binomial_at_least(u, n, p) <= tail;
    if n == 0 || !holds(n) {
        return None;
    }
    let (mut fails, mut found) = (0, n);
    while found - fails > 1 {
        let middle = fails + (found - fails) / 2;
        if holds(middle) { found = middle } else { fails = middle }
    }
    Some(found)
}

/// The value of this rank, from 1.
fn at_rank(sorted: &[(i64, u64)], rank: u64) -> Option<i64> {
    let mut below = 0;
    sorted.iter().find_map(|&(value, count)| {
        below += count;
        (count > 0 && below >= rank).then_some(value)
    })
}

#[cfg(test)]
mod tests {
    use super::*;

    const SUPPORT: [i64; 2] = [0, 1000];

    #[test]
    fn of_no_values_there_is_none() {
        assert_eq!(quantile(&[], 50, SUPPORT), None);
        assert_eq!(quantile(&[(7, 0)], 50, SUPPORT), None);
    }

    #[test]
    fn of_one_value_it_is_that_value_and_unbounded() {
        for percent in [5, 50, 95] {
            assert_eq!(quantile(&[(7, 1)], percent, SUPPORT), Some(Quantile { value: 7, low: 0, high: 1000 }));
        }
    }

    #[test]
    fn rank_is_exact_where_p_times_n_is_whole() {
        // 0.07 · 100 is 7.000000000000001 in floating point: a rank of 8 would be wrong.
        let hundred: Vec<(i64, u64)> = (1..=100).map(|value| (value, 1)).collect();
        for percent in 1..=99 {
            assert_eq!(quantile(&hundred, percent, SUPPORT).unwrap().value, i64::from(percent));
        }
    }

    #[test]
    fn counts_stand_for_repeated_values() {
        let q = quantile(&[(-3, 0), (1, 900), (2, 0), (5, 100)], 95, SUPPORT).unwrap();
        assert_eq!(q, Quantile { value: 5, low: 5, high: 5 });
        let q = quantile(&[(1, 951), (5, 49)], 95, SUPPORT).unwrap();
        assert_eq!(q, Quantile { value: 1, low: 1, high: 5 });
    }
}
