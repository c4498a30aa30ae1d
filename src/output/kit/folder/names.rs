//! Names of files: those that are always the same, and those of files that are not yet in their place, known by themselves, so that a run that was killed leaves
//! nothing that the next one could take for a user's, or a user's for it.
//!
//! Out: `.bankwright-<number>-<check>`, where the check is a digest of the number. No name that was not made here
//! has one that fits, and a file is only ever made where none of its name is.

use sha2::{Digest, Sha256};
use std::collections::hash_map::RandomState;
use std::hash::BuildHasher;
use std::sync::atomic::{AtomicU64, Ordering};

/// The document of a set, the last to take its place.
pub const RESULTS: &str = "results.json";
/// The page that a person opens.
pub const PAGE: &str = "overview.html";
/// The list of what was written, and what differs from run to run.
pub const MANIFEST: &str = "manifest.json";
/// Parts of a run that is not finished.
pub const SHARDS: &str = "shards";

const HEAD: &str = ".bankwright-";
/// Hexadecimal digits of the number, and as many of the check.
const DIGITS: usize = 16;

/// A name that no file has.
pub fn temporary() -> String {
    static COUNT: AtomicU64 = AtomicU64::new(0);
    let of = (std::process::id(), COUNT.fetch_add(1, Ordering::Relaxed));
    let number = format!("{:016x}", RandomState::new().hash_one(of));
    format!("{HEAD}{number}-{}", check(&number))
}

/// Whether `temporary` has made this name.
pub fn is_temporary(name: &str) -> bool {
    let parts = name.strip_prefix(HEAD).and_then(|rest| rest.split_once('-'));
    parts.is_some_and(|(number, found)| number.len() == DIGITS && found == check(number))
}

fn check(number: &str) -> String {
    let digest = Sha256::digest(format!("bankwright, not yet in its place: {number}"));
    digest.iter().take(DIGITS / 2).map(|byte| format!("{byte:02x}")).collect()
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn a_name_that_was_made_here_is_known_and_no_other() {
        let name = temporary();
        assert!(is_temporary(&name) && temporary() != name);
        let other = if name.ends_with('0') { "1" } else { "0" };
        let changed = format!("{}{other}", &name[..name.len() - 1]);
        for not in [changed.as_str(), "", ".bankwright-", ".bankwright-x-y", ".writing-abc", &name[1..]] {
            assert!(!is_temporary(not), "{not}");
        }
    }
}
