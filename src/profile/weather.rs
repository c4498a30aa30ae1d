//! Weather files, one or several, as one series of air temperature and perhaps one of the floor's.
//!
//! In: files in any order, each recognised by its content, then by its name. Out: series [°C] in
//! which all rows are sorted by time. Two rows at the same time must agree.

use super::file::{Faults, Text};
use super::fill::{self, Rule};
use super::series::Series;
use super::types::{AIR_HIGH, AIR_LOW, Clock, Columns, Part, ProfileError, Reading, Source};
use super::{csv, epw, isd};
use crate::bounds;
use crate::diagnostic::{Diagnostic, Fault};
use std::path::PathBuf;

/// What the weather files say.
#[derive(Clone, Debug)]
pub struct Weather {
    /// Air temperature [°C].
    pub air: Series,
    /// Floor temperature [°C], where a column of it was asked for.
    pub floor: Option<Series>,
}

/// Reads weather: CSV (`time` or `hours`, then `air` in °C), ISD-Lite or EPW, gzipped or not.
///
/// Each file is a path and its name for people. `columns` is about CSV files alone. `utc_offset`
/// [s, east positive] turns times in UTC into local ones.
///
/// # Errors
/// A file that cannot be read; or faults in all of them.
pub fn read_weather(
    files: &[(PathBuf, String)],
    columns: &Columns,
    floor_column: Option<&str>,
    utc_offset: Option<i64>,
) -> Result<Weather, ProfileError> {
    let texts = open(files)?;
    let mut parts = parts(&texts, columns, floor_column, utc_offset).map_err(ProfileError::Faults)?;
    let clock = one_clock(&texts, &parts).map_err(ProfileError::Faults)?;
    let source = Source {
        files: texts.iter().map(Text::name_and_digest).collect(),
        gaps: parts.iter_mut().flat_map(|part| std::mem::take(&mut part.notes)).collect(),
    };
    let joined = join(&texts, parts).map_err(ProfileError::Faults)?;
    let series = |pick| {
        fill::series(&joined.readings, pick, Rule::Lines, clock, source.clone()).map_err(|few| {
            let file = joined.file(few.row());
            ProfileError::Faults(vec![texts[file].too_few(few, &joined.readings)])
        })
    };
    let floor = if floor_column.is_some() { Some(series(1)?) } else { None };
    Ok(Weather { air: series(0)?, floor })
}

/// The texts of all files, which have a limit together.
fn open(files: &[(PathBuf, String)]) -> Result<Vec<Text>, ProfileError> {
    if files.is_empty() || files.len() > bounds::PROFILE_FILES {
        let why = format!("{} weather files are named; 1 to {} are read", files.len(), bounds::PROFILE_FILES);
        return Err(ProfileError::Unreadable { file: 0, why });
    }
    let mut left = bounds::PROFILE_BYTES;
    let mut texts = Vec::new();
    for (file, (path, shown)) in files.iter().enumerate() {
        let text = Text::open_up_to(left, path, shown).map_err(|why| ProfileError::Unreadable { file, why })?;
        left = left.saturating_sub(text.as_str().len() as u64);
        texts.push(text);
    }
    Ok(texts)
}

/// The readings of every file, or the faults of all.
fn parts(
    texts: &[Text],
    columns: &Columns,
    floor_column: Option<&str>,
    utc_offset: Option<i64>,
) -> Result<Vec<Part>, Vec<Diagnostic>> {
    let mut parts = Vec::new();
    let mut faults = Vec::new();
    let mut left = bounds::PROFILE_ROWS;
    for text in texts {
        match part(text, columns, floor_column, (utc_offset, left)) {
            Ok(part) => {
                left = left.saturating_sub(part.readings.len());
                parts.push(part);
            }
            Err(found) => faults.extend(found),
        }
    }
    if faults.is_empty() { Ok(parts) } else { Err(faults) }
}

/// The kinds of file that weather comes in.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
enum Kind {
    Csv,
    IsdLite,
    Epw,
}

/// The kind of a file, by its first line that is not blank; where that fits no kind, by its name.
fn kind(text: &Text) -> Kind {
    let first = text.lines().map(|(_, line)| line).find(|line| !line.trim().is_empty()).unwrap_or("");
    let name = text.name().to_ascii_lowercase();
    if epw::looks_like(first) {
        Kind::Epw
    } else if isd::looks_like(first) {
        Kind::IsdLite
    } else if first.contains(',') {
        Kind::Csv
    } else if name.ends_with(".epw") || name.ends_with(".epw.gz") {
        Kind::Epw
    } else if name.contains("isd-lite") {
        Kind::IsdLite
    } else {
        Kind::Csv
    }
}

fn part(
    text: &Text,
    columns: &Columns,
    floor_column: Option<&str>,
    (utc_offset, most_rows): (Option<i64>, usize),
) -> Result<Part, Vec<Diagnostic>> {
    let kind = kind(text);
    if let (Some(floor), Kind::IsdLite | Kind::Epw) = (floor_column, kind) {
        let (at, line) = text.lines().next().unwrap_or((0, ""));
        let message = format!("`{}` is no CSV and has no column `{floor}`", text.name());
        let help = "give a CSV, or leave the floor's column out";
        return Err(vec![text.fault(
            Fault::Conflict,
            at..at + line.len(),
            message,
            "expected a header with that column",
            help,
        )]);
    }
    match kind {
        Kind::IsdLite => isd::read(text, utc_offset, most_rows),
        Kind::Epw => epw::read(text, utc_offset, most_rows),
        Kind::Csv => {
            let scale = columns.scale.unwrap_or(1.0);
            let temperature =
                |column, what| csv::Quantity { column, what, unit: "°C", low: AIR_LOW, high: AIR_HIGH, scale };
            let air = temperature(columns.value.as_deref().unwrap_or("air"), "air temperature");
            let floor = floor_column.map(|column| temperature(column, "floor temperature"));
            let quantities = std::iter::once(air).chain(floor).collect();
            csv::read(text, &csv::Layout { time: columns.time.as_deref(), quantities, utc_offset }, most_rows)
        }
    }
}

/// The clock that all files share.
fn one_clock(texts: &[Text], parts: &[Part]) -> Result<Clock, Vec<Diagnostic>> {
    let clock = parts.first().map_or(Clock::Local, |part| part.clock);
    match parts.iter().position(|part| part.clock != clock) {
        None => Ok(clock),
        Some(other) => {
            let (a, b) = (texts[0].name(), texts[other].name());
            let message = format!("one of `{a}` and `{b}` is by hours and the other by dates");
            let span = parts[other].readings.first().map_or(0..0, Reading::span);
            Err(vec![texts[other].fault(Fault::Conflict, span, message, "expected the same in all files", "")])
        }
    }
}

/// All readings by time, each moment once.
#[derive(Default)]
struct Joined {
    readings: Vec<Reading>,
    /// Number of the file that each came from; none where there is one file.
    files: Vec<u32>,
}

impl Joined {
    /// The file that a reading came from.
    fn file(&self, reading: usize) -> usize {
        self.files.get(reading).map_or(0, |file| *file as usize)
    }

    /// Adds a reading that is not before the last one.
    ///
    /// # Errors
    /// The file of a reading at the same time with another value.
    fn add(&mut self, file: u32, reading: Reading) -> Result<(), usize> {
        let last = self.readings.last_mut().filter(|last| last.time == reading.time);
        let (Some(last), Some(other)) = (last, self.files.last()) else {
            self.readings.push(reading);
            self.files.push(file);
            return Ok(());
        };
        if !last.agrees(&reading) {
            return Err(*other as usize);
        }
        last.complete(&reading);
        Ok(())
    }
}

fn join(texts: &[Text], mut parts: Vec<Part>) -> Result<Joined, Vec<Diagnostic>> {
    if let [only] = &mut parts[..] {
        return Ok(Joined { readings: std::mem::take(&mut only.readings), files: Vec::new() });
    }
    let numbered = (0_u32..).zip(parts);
    let mut all: Vec<(u32, Reading)> =
        numbered.flat_map(|(file, part)| part.readings.into_iter().map(move |reading| (file, reading))).collect();
    all.sort_by_key(|(file, reading)| (reading.time, *file));
    let mut joined = Joined::default();
    let mut faults: Vec<Faults> = texts.iter().map(Text::faults).collect();
    for (file, reading) in all {
        if let Err(other) = joined.add(file, reading) {
            let name = texts[other].name();
            let message = format!("another value at this time than in `{name}`");
            let help = "leave one of the two files out, or the rows that both have";
            faults[file as usize].add_of(
                Fault::Conflict,
                reading.span(),
                message,
                "expected one value for each moment",
                help,
            );
        }
    }
    let faults: Vec<Diagnostic> = faults.into_iter().flat_map(Faults::list).collect();
    if faults.is_empty() { Ok(joined) } else { Err(faults) }
}
