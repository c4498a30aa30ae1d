//! What acts on the bank from outside: `[load]`, `[climate]`, `[room]` and `[floor]`.

use super::defaults;
use crate::bounds;
use crate::diagnostic::{Fault, shortened};
use crate::profile::{self, Columns, ProfileError, Series};
use crate::scenario::document::{Limits, Section, Value};
use crate::scenario::{Air, Climate, Floor, FloorFollows, Load, Room};
use crate::units::{Kind, plain};
use std::collections::HashMap;
use std::path::{Path, PathBuf};

const LOAD_KEYS: &[&str] = &["profile", "power", "current", "column", "time_column", "scale"];
const CLIMATE_KEYS: &[&str] = &["profile", "air", "column", "time_column", "floor_column", "utc_offset", "season"];
const ROOM_KEYS: &[&str] = &["loss", "gain", "heat_capacity", "gradient"];
const FLOOR_KEYS: &[&str] = &["lag", "follows", "offset"];

/// Hours by which a civil clock may differ from UTC [s].
const UTC_OFFSET: Limits = Limits::between(-14.0 * 3600.0, 14.0 * 3600.0);

/// The load; `utc_offset` [s] is the site's, for times that are not local.
pub fn load(value: &Value<'_>, folder: &Path, utc_offset: Option<i64>) -> Option<Load> {
    let s = value.section(LOAD_KEYS)?;
    let power = s.quantity("power", Kind::Power, Limits::ANY);
    let current = s.quantity("current", Kind::Current, Limits::ANY);
    let columns = columns(&s);
    let scale = s.get("scale").and_then(|v| scale(&v));
    let way = s.one_of(&["profile", "power", "current"], "power = \"2 kW\"")?;
    if way != "profile" {
        s.refuse(&["column", "time_column", "scale"], "it belongs to `profile`");
    }
    match way {
        "power" => Some(Load::Power(power?.value)),
        "current" => Some(Load::Current(current?.value)),
        _ => {
            let value = s.get("profile")?;
            let (path, shown) = file(&value, folder)?;
            let columns = Columns { scale, ..columns? };
            let series = profile::read_load(&path, &shown, &columns, utc_offset);
            read(series, &value).map(Load::Profile)
        }
    }
}

fn scale(value: &Value<'_>) -> Option<f64> {
    let scale = value.number(Limits::between(-1e9, 1e9))?.value;
    if scale == 0.0 {
        value.refuse(format!("`scale` is {}", plain(scale)), "must not be 0: there would be no load", None);
        return None;
    }
    Some(scale)
}

/// The site's difference from UTC [s], which load and climate share; read apart, for the load.
pub fn utc_offset(climate: Option<&Section<'_>>) -> Option<i64> {
    let offset = climate?.quantity("utc_offset", Kind::Time, UTC_OFFSET)?;
    Some(offset.value.round() as i64)
}

pub fn open_climate<'a>(value: &Value<'a>) -> Option<Section<'a>> {
    value.section(CLIMATE_KEYS)
}

pub fn climate(s: &Section<'_>, folder: &Path, utc_offset: Option<i64>) -> Option<Climate> {
    let air = s.quantity("air", Kind::Temperature, defaults::TEMPERATURE);
    let columns = columns(s);
    let floor_column = s.get("floor_column").map(|v| column(&v));
    let season = s.get("season").map(|v| season(&v));
    let way = s.one_of(&["profile", "air"], "air = \"5 °C\"")?;
    let season = match season {
        Some(season) => Some(season?),
        None => None,
    };
    if way == "air" {
        s.refuse(&["column", "time_column", "floor_column"], "it belongs to `profile`");
        return Some(Climate { air: Air::Constant(air?.value), floor: None, season });
    }
    let floor_column = match floor_column {
        Some(column) => Some(column?),
        None => None,
    };
    let value = s.get("profile")?;
    let files = files(&value, folder)?;
    let weather = profile::read_weather(&files, &columns?, floor_column.as_deref(), utc_offset);
    let weather = read(weather, &value)?;
    Some(Climate { air: Air::Profile(weather.air), floor: weather.floor, season })
}

fn columns(s: &Section<'_>) -> Option<Columns> {
    let named = |key| match s.get(key) {
        Some(value) => column(&value).map(Some),
        None => Some(None),
    };
    let (value, time) = (named("column"), named("time_column"));
    Some(Columns { value: value?, time: time?, scale: None })
}

fn column(value: &Value<'_>) -> Option<String> {
    Some(value.text("the name of a column")?.value.to_owned())
}

fn file(value: &Value<'_>, folder: &Path) -> Option<(PathBuf, String)> {
    let name = value.text("the name of a file")?.value;
    Some((folder.join(name), name.to_owned()))
}

fn files(value: &Value<'_>, folder: &Path) -> Option<Vec<(PathBuf, String)>> {
    if !value.is_list() {
        return Some(vec![file(value, folder)?]);
    }
    let list = value.list("one file or a list of files", |k| format!("file {k} of `profile`"))?;
    if list.is_empty() || list.len() > bounds::PROFILE_FILES {
        let message = match list.len() {
            0 => "`profile` names no file".to_owned(),
            many => format!("`profile` names {many} files"),
        };
        let help = "join files that belong together, or leave out years that are not needed".to_owned();
        let label = format!("must be from 1 to {}", bounds::PROFILE_FILES);
        let fault = if list.is_empty() { Fault::OutOfRange } else { Fault::TooMuch };
        value.refuse_of(fault, message, &label, (!list.is_empty()).then_some(help));
        return None;
    }
    let files: Vec<_> = list.iter().map(|v| file(v, folder)).collect();
    let files: Vec<(PathBuf, String)> = files.into_iter().collect::<Option<_>>()?;
    named_once(&list, &files).then_some(files)
}

/// Reports a file that a list names twice.
fn named_once(list: &[Value<'_>], files: &[(PathBuf, String)]) -> bool {
    let mut first: HashMap<PathBuf, usize> = HashMap::new();
    let mut once = true;
    for (k, (path, shown)) in files.iter().enumerate() {
        let place = path.canonicalize().unwrap_or_else(|_| path.clone());
        if let Some(before) = first.get(&place) {
            once = false;
            let message = format!("`{}` is named twice", shortened(shown));
            let label = format!("the same file as file {}", before + 1);
            list[k].refuse_of(Fault::Duplicate, message, &label, Some("leave it out here".into()));
        } else {
            first.insert(place, k);
        }
    }
    once
}

/// Faults of a profile become findings: at the place that names the file, or within the file.
fn read<T>(result: Result<T, ProfileError>, value: &Value<'_>) -> Option<T> {
    match result {
        Ok(read) => Some(read),
        Err(ProfileError::Faults(faults)) => {
            value.findings.extend(faults);
            None
        }
        Err(ProfileError::Unreadable { file, why }) => {
            let at = nth_file(value, file).unwrap_or_else(|| value.clone());
            let help = "paths are relative to the scenario file".to_owned();
            at.refuse_of(Fault::Unreadable, why, "this file cannot be read", Some(help));
            None
        }
    }
}

/// A file of a list, by its number.
fn nth_file<'a>(value: &Value<'a>, number: usize) -> Option<Value<'a>> {
    if !value.is_list() {
        return None;
    }
    value.list("", |k| format!("file {k} of `profile`"))?.into_iter().nth(number)
}

type Day = (i8, i8);

fn season(value: &Value<'_>) -> Option<(Day, Day)> {
    let due = "a first and a last day, as in [\"11-01\", \"03-31\"]";
    let list = value.list(due, |k| format!("day {k} of `season`"))?;
    let count = list.len();
    let days: Vec<Option<Day>> = list.iter().map(day).collect();
    match days.as_slice() {
        [first, last] => Some(((*first)?, (*last)?)),
        _ => {
            let message = format!("`season` is a list of {count}");
            value.refuse_of(Fault::WrongType, message, &format!("expected {due}"), None);
            None
        }
    }
}

fn day(value: &Value<'_>) -> Option<Day> {
    let text = value.text("a month and a day, as in \"11-01\"")?.value;
    let day = month_and_day(text);
    if day.is_none() {
        let message = format!("{} is \"{}\"", value.name, shortened(text));
        value.refuse_of(Fault::Quantity, message, "must be a month and a day, MM-DD", Some("as in \"11-01\"".into()));
    }
    day
}

fn month_and_day(text: &str) -> Option<Day> {
    let (month, day) = text.split_once('-')?;
    let two = |s: &str| s.len() == 2 && s.bytes().all(|b| b.is_ascii_digit());
    if !(two(month) && two(day)) {
        return None;
    }
    let (month, day): (i8, i8) = (month.parse().ok()?, day.parse().ok()?);
    // A leap year, so that a season may end on the 29th of February.
    jiff::civil::Date::new(2000, month, day).ok().map(|d| (d.month(), d.day()))
}

pub fn room(value: &Value<'_>, climate: bool) -> Option<Room> {
    let s = value.section(ROOM_KEYS)?;
    needs_climate(&s, climate);
    let loss = s.need_quantity("loss", Kind::ThermalConductance, Limits::POSITIVE);
    let gain = s.quantity_or("gain", Kind::Power, Limits::NOT_NEGATIVE, 0.0);
    let heat_capacity = s.need_quantity("heat_capacity", Kind::HeatCapacity, Limits::at_least(1.0));
    let gradient = s.quantity_or("gradient", Kind::TemperatureGradient, Limits::between(-20.0, 20.0), 0.0);
    Some(Room { loss: loss?.value, gain, heat_capacity: heat_capacity?.value, gradient })
}

/// The floor; `room` and `column` say whether there is a room, and a profile of the floor itself.
pub fn floor(value: &Value<'_>, climate: bool, room: bool, column: bool) -> Option<Floor> {
    let s = value.section(FLOOR_KEYS)?;
    needs_climate(&s, climate);
    if column {
        let label = "the floor has its own profile, `floor_column` in [climate]".to_owned();
        s.findings.error_of(Fault::Conflict, s.span.clone(), "the floor is given twice".into(), label, None);
    }
    let lag = s.need_quantity("lag", Kind::Time, Limits::POSITIVE);
    let offset = s.quantity_or("offset", Kind::TemperatureDifference, Limits::between(-100.0, 100.0), 0.0);
    let follows = s.get("follows").map(|v| follows(&v, room));
    Some(Floor {
        lag: lag?.value,
        follows: match follows {
            Some(follows) => follows?,
            None if room => FloorFollows::Room,
            None => FloorFollows::Outdoors,
        },
        offset,
    })
}

fn follows(value: &Value<'_>, room: bool) -> Option<FloorFollows> {
    let follows = value.choice(&[("room", FloorFollows::Room), ("outdoors", FloorFollows::Outdoors)])?;
    if follows == FloorFollows::Room && !room {
        value.refuse_of(Fault::Conflict, "`follows` is \"room\"".into(), "there is no [room]", None);
        return None;
    }
    Some(follows)
}

fn needs_climate(s: &Section<'_>, climate: bool) {
    if !climate {
        let message = format!("{} is given without [climate]", s.name);
        let help = "add [climate] with `profile`, or with `air`".to_owned();
        let label = "needs the temperature outdoors".into();
        s.findings.error_of(Fault::Missing, s.span.clone(), message, label, Some(help));
    }
}

/// The series of a load, where it has one.
pub fn load_series(load: &Load) -> Option<&Series> {
    match load {
        Load::Profile(series) => Some(series),
        Load::Current(_) | Load::Power(_) => None,
    }
}

/// The series of the air, where it has one.
pub fn air_series(climate: &Climate) -> Option<&Series> {
    match &climate.air {
        Air::Profile(series) => Some(series),
        Air::Constant(_) => None,
    }
}
