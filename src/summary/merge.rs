//! What is added up over trials: whole numbers, exact sums and greatest values, which merge in any order to the same bits.

use super::fixed_sum::FixedSum;
use std::collections::BTreeMap;

/// Adds up over trials, in any order to the same bits.
pub trait Merge: Send {
    /// Adds what other trials came to.
    fn merge(&mut self, other: &Self);
}

impl Merge for u64 {
    fn merge(&mut self, other: &u64) {
        *self += other;
    }
}

impl Merge for FixedSum {
    fn merge(&mut self, other: &FixedSum) {
        FixedSum::merge(self, other);
    }
}

/// Place by place.
impl<T: Merge> Merge for Vec<T> {
    fn merge(&mut self, other: &Vec<T>) {
        self.iter_mut().zip(other).for_each(|(mine, theirs)| mine.merge(theirs));
    }
}

/// Key by key.
impl<K: Ord + Clone + Send, T: Merge + Default> Merge for BTreeMap<K, T> {
    fn merge(&mut self, other: &BTreeMap<K, T>) {
        for (key, theirs) in other {
            self.entry(key.clone()).or_default().merge(theirs);
        }
    }
}

/// Merges every field named; the others are merged by what follows.
macro_rules! merge_fields {
    ($mine:ident, $theirs:ident: $($field:ident),*) => {
        $($crate::summary::merge::Merge::merge(&mut $mine.$field, &$theirs.$field);)*
    };
}

pub(super) use merge_fields;
