//! The name that a misspelt one was meant to be.

use crate::bounds;

/// The name among `known` that `name` was most likely meant to be.
pub fn nearest<'a>(name: &str, known: impl IntoIterator<Item = &'a str>) -> Option<&'a str> {
    const ALIKE: f64 = 0.75;
    if name.len() > bounds::NAME * 4 {
        return None;
    }
    let lower = name.to_lowercase();
    let scored = known.into_iter().map(|k| (strsim::jaro_winkler(&lower, &k.to_lowercase()), k));
    let best = scored.max_by(|a, b| a.0.total_cmp(&b.0))?;
    (best.0 >= ALIKE).then_some(best.1)
}
