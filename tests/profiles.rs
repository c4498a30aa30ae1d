//! Profiles from files: what is read, what is refused, which nights are found.

mod faults;
mod nights;
mod reading;

use bankwright::diagnostic::Diagnostic;
use bankwright::profile::{Columns, ProfileError, Series, Weather, read_load, read_weather};
use std::io::Write;
use std::path::{Path, PathBuf};

const ALASKA: Option<i64> = Some(-9 * 3600);

/// Files in a folder that goes away with them.
struct Folder(tempfile::TempDir);

impl Folder {
    fn new() -> Folder {
        Folder(tempfile::tempdir().unwrap())
    }

    fn file(&self, name: &str, bytes: impl AsRef<[u8]>) -> PathBuf {
        let path = self.0.path().join(name);
        std::fs::write(&path, bytes).unwrap();
        path
    }
}

fn shipped(name: &str) -> PathBuf {
    Path::new(env!("CARGO_MANIFEST_DIR")).join("scenarios/data").join(name)
}

fn station() -> Weather {
    weather(&[shipped("cold_interior_2018.isd-lite.gz"), shipped("cold_interior_2019.isd-lite.gz")], ALASKA).unwrap()
}

fn building() -> Series {
    let columns = Columns { value: Some("Total_Power".into()), time: Some("timestamp".into()), scale: Some(10.0) };
    read_load(&shipped("building_2019.csv"), "building.csv", &columns, None).unwrap()
}

/// Each file under the last part of its path.
fn weather(paths: &[PathBuf], utc_offset: Option<i64>) -> Result<Weather, ProfileError> {
    weather_with(paths, &Columns::default(), None, utc_offset)
}

fn weather_with(
    paths: &[PathBuf],
    columns: &Columns,
    floor: Option<&str>,
    utc_offset: Option<i64>,
) -> Result<Weather, ProfileError> {
    let shown = |path: &PathBuf| path.file_name().unwrap().to_string_lossy().into_owned();
    let files: Vec<(PathBuf, String)> = paths.iter().map(|path| (path.clone(), shown(path))).collect();
    read_weather(&files, columns, floor, utc_offset)
}

fn load_from(text: impl AsRef<[u8]>, utc_offset: Option<i64>) -> Result<Series, ProfileError> {
    let folder = Folder::new();
    read_load(&folder.file("load.csv", text), "load.csv", &Columns::default(), utc_offset)
}

fn air_from(name: &str, text: impl AsRef<[u8]>, utc_offset: Option<i64>) -> Result<Weather, ProfileError> {
    let folder = Folder::new();
    weather(&[folder.file(name, text)], utc_offset)
}

fn gzip(bytes: &[u8]) -> Vec<u8> {
    let mut packer = flate2::write::GzEncoder::new(Vec::new(), flate2::Compression::fast());
    packer.write_all(bytes).unwrap();
    packer.finish().unwrap()
}

/// Seconds since 1970-01-01 00:00 of a civil time, by another road than the program's.
fn civil(text: &str) -> i64 {
    let time: jiff::civil::DateTime = text.parse().unwrap();
    jiff::tz::TimeZone::UTC.to_timestamp(time).unwrap().as_second()
}

fn faults<T>(result: Result<T, ProfileError>) -> Vec<Diagnostic> {
    match result {
        Err(ProfileError::Faults(list)) => list,
        Err(ProfileError::Unreadable { why, .. }) => panic!("unreadable: {why}"),
        Ok(_) => panic!("no fault found"),
    }
}

fn unreadable<T>(result: Result<T, ProfileError>) -> String {
    match result {
        Err(ProfileError::Unreadable { why, .. }) => why,
        Err(ProfileError::Faults(list)) => panic!("faults: {list:?}"),
        Ok(_) => panic!("no fault found"),
    }
}

/// `3: `12x` message` for a fault on line 3 whose caret stands below `12x`.
fn place(fault: &Diagnostic) -> String {
    let text = &fault.source.text;
    let line = 1 + text[..fault.span.start].matches('\n').count();
    format!("{line}: [{}] {}", &text[fault.span.clone()], fault.message)
}

fn places<T>(result: Result<T, ProfileError>) -> Vec<String> {
    faults(result).iter().map(place).collect()
}
