//! A load profile from a CSV file.

use super::series::Series;
use super::types::{Columns, ProfileError, Source};
use super::{csv, file, fill};
use crate::bounds;
use std::path::Path;

/// Power beyond this is a mistake of unit, whatever the bank [W].
const MAX_POWER: f64 = 1e9;

/// Reads a load profile: a CSV with a header, `time` or `hours`, then `power` [W]. Each value
/// holds until the next, the last as long as the gap before it.
///
/// `shown` is the file's name for people; `utc_offset` [s, east positive] is needed only where
/// times carry an offset or a `Z`.
///
/// # Errors
/// The file cannot be read, is empty or binary; or faults at their places in it.
pub fn read_load(path: &Path, shown: &str, columns: &Columns, utc_offset: Option<i64>) -> Result<Series, ProfileError> {
    let text = file::Text::open(path, shown)?;
    let power = csv::Quantity {
        column: columns.value.as_deref().unwrap_or("power"),
        what: "power",
        unit: "W",
        low: -MAX_POWER,
        high: MAX_POWER,
        scale: columns.scale.unwrap_or(1.0),
    };
    let layout = csv::Layout { time: columns.time.as_deref(), quantities: vec![power], utc_offset };
    let part = csv::read(&text, &layout, bounds::PROFILE_ROWS).map_err(ProfileError::Faults)?;
    let source = Source { files: vec![text.name_and_digest()], gaps: part.notes };
    fill::series(&part.readings, 0, fill::Rule::Held, part.clock, source)
        .map_err(|few| ProfileError::Faults(vec![text.too_few(few, &part.readings)]))
}
