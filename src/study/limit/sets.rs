//! The sets of a given size out of a number of modules, in lexicographic order.
//!
//! In: a size and a rank. Out: the set of that rank, and from each set the next, so that any run of sets can be
//! worked through on its own.

/// Most sets for an exact limit, as each takes some microseconds; where there are more, the limit is only bounded.
pub const MOST_SETS: u64 = 10_000_000;

/// How many sets of `size` out of `count` there are; `u64::MAX` for more than that.
pub fn number(count: usize, size: usize) -> u64 {
    if size > count {
        return 0;
    }
    let size = size.min(count - size);
    let mut sets: u128 = 1;
    for k in 0..size {
        sets = sets * (count - k) as u128 / (k + 1) as u128;
        if sets > u128::from(u64::MAX) {
            return u64::MAX;
        }
    }
    sets as u64
}

/// The set of a rank below `number(count, size)`, its members rising.
pub fn nth(count: usize, size: usize, rank: u64) -> Vec<usize> {
    let mut left = rank;
    let mut set = Vec::with_capacity(size);
    for member in 0..count {
        if set.len() == size {
            break;
        }
        let with_it = number(count - member - 1, size - set.len() - 1);
        if left < with_it {
            set.push(member);
        } else {
            left -= with_it;
        }
    }
    set
}

/// Makes of a set the next; leaves the last as it is.
pub fn advance(set: &mut [usize], count: usize) {
    let size = set.len();
    let Some(place) = (0..size).rev().find(|&k| set[k] < count - size + k) else {
        return;
    };
    let first = set[place] + 1;
    for (k, member) in set[place..].iter_mut().enumerate() {
        *member = first + k;
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn every_set_once_and_in_order() {
        for (count, size) in [(0, 0), (1, 1), (5, 0), (5, 2), (6, 6), (7, 3)] {
            let mut set: Vec<usize> = (0..size).collect();
            for rank in 0..number(count, size) {
                assert_eq!(nth(count, size, rank), set, "{size} of {count}, {rank}");
                let before = set.clone();
                advance(&mut set, count);
                assert!(rank + 1 == number(count, size) || set > before);
            }
        }
    }

    #[test]
    fn numbers_of_sets() {
        let all: u64 = (0..=16).map(|k| number(16, k)).sum();
        assert_eq!(all, 65_536);
        assert_eq!((number(60, 3), number(3, 4), number(5, 5)), (34_220, 0, 1));
        assert_eq!(number(4000, 2000), u64::MAX);
    }
}
