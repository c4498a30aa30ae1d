//! From the text of a scenario to a complete and legal `Scenario`, or to every fault in it.
//!
//! In: a file, and the profiles that it names (relative to its folder). Out: `Checked`, or the
//! faults in the order of the file. Nothing stops at the first fault but a text that cannot be
//! read, is not TOML, or is of another format.

mod bank;
mod cable;
mod chance;
mod controller;
mod crowded;
pub(crate) mod defaults;
mod device;
mod fault;
mod frame;
mod grid;
mod insulation;
pub(crate) mod layouts;
mod library;
mod module;
mod parts;
mod points;
mod protection;
mod stack;
mod surge;
mod surroundings;
mod trap;
mod uneven;
mod window;

use crate::bounds;
use crate::diagnostic::{Diagnostic, Fault, Severity, SourceText};
use crate::escape;
use crate::intake;
use crate::profile::Series;
use crate::profile::night::{self, NoNights, Wanted};
use crate::scenario::document::{self, Findings, Section, Value};
use crate::scenario::{Climate, Floor, Layout, Load, Room, Scenario, Surge, Trials, each_once, from_memory};
use chance::Asked;
use sha2::{Digest, Sha256};
use std::path::Path;
use std::sync::Arc;

/// The format of scenario files that this program reads.
const FORMAT: u64 = 1;

const KEYS: &[&str] = &[
    "format",
    "title",
    "parts",
    "module",
    "cable",
    "device",
    "stack",
    "bar",
    "inverter",
    "controller",
    "load",
    "surge",
    "climate",
    "room",
    "floor",
    "faults",
    "spread",
    "trials",
    "targets",
    "prices",
    "communication",
    "earthing",
    "layout",
    "layouts",
];

/// A legal scenario, and what is to be said about it.
#[derive(Clone, Debug)]
pub struct Checked {
    /// As written, complete and legal.
    pub scenario: Scenario,
    /// Proposed beside the scenario as written: those of `[[layout]]`, then those of `[layouts]`.
    pub layouts: Vec<Layout>,
    /// What is unusual, in the order of the file.
    pub warnings: Vec<Diagnostic>,
    /// The file.
    pub text: Arc<SourceText>,
    /// SHA-256 of the text and of every file that it names, in hexadecimal digits.
    pub digest: String,
}

impl Checked {
    /// What the scenario and its layouts take from tables recalled from memory, each once.
    pub fn from_memory(&self) -> Vec<String> {
        let layouts = self.layouts.iter().flat_map(|l| from_memory(&l.frame.cables, &l.frame.devices));
        each_once(self.scenario.from_memory().into_iter().chain(layouts))
    }
}

/// Reads and judges a scenario file.
///
/// # Errors
/// All faults; one, where the file cannot be read or is not a text.
pub fn load(path: &Path) -> Result<Checked, Vec<Diagnostic>> {
    let name = escape::path(path);
    let text = read(&name, path).map_err(|fault| vec![fault])?;
    parse(&text, &name, path.parent().unwrap_or(Path::new("")))
}

fn read(name: &str, path: &Path) -> Result<String, Diagnostic> {
    let read = intake::open(path).and_then(|file| intake::text_up_to(bounds::SCENARIO_BYTES, file));
    let bytes = read.map_err(|why| {
        let message = format!("cannot read {name}: {why}");
        no_text(name, message, String::new(), 0, "give the path of a scenario file")
    })?;
    if bytes.len() as u64 > bounds::SCENARIO_BYTES {
        let message = format!("{name} is larger than {} MiB", bounds::SCENARIO_BYTES >> 20);
        return Err(no_text(
            name,
            message,
            String::new(),
            0,
            "a scenario is a short TOML text; loads and weather are CSV",
        ));
    }
    if bytes.starts_with(&[0xff, 0xfe]) || bytes.starts_with(&[0xfe, 0xff]) {
        let message = format!("{name} is in UTF-16");
        return Err(no_text(name, message, String::new(), 0, "save the file as UTF-8"));
    }
    if bytes.contains(&0) {
        let text = String::from_utf8_lossy(&bytes).into_owned();
        let at = text.find('\0').unwrap_or(0);
        let message = format!("{name} is not a text but binary");
        return Err(no_text(name, message, text, at, "a scenario is a TOML text in UTF-8"));
    }
    String::from_utf8(bytes).map_err(|fault| {
        let at = fault.utf8_error().valid_up_to();
        let text = String::from_utf8_lossy(fault.as_bytes()).into_owned();
        no_text(name, format!("{name} is not in UTF-8"), text, at, "save the file as UTF-8")
    })
}

/// Why a scenario file is not a text; without `text` there is no line to show.
fn no_text(name: &str, message: String, text: String, at: usize, help: &str) -> Diagnostic {
    let label = if text.is_empty() { "" } else { "not a character" };
    Diagnostic {
        severity: Severity::Error,
        fault: Fault::Unreadable,
        message,
        source: Arc::new(SourceText { name: name.to_owned(), text }),
        span: at..at + 1,
        label: label.to_owned(),
        help: Some(help.to_owned()),
    }
}

/// Judges the text of a scenario; profiles are looked for in `folder`.
///
/// # Errors
/// All faults, and with them what is unusual.
pub fn parse(text: &str, name: &str, folder: &Path) -> Result<Checked, Vec<Diagnostic>> {
    let text = text.strip_prefix('\u{feff}').unwrap_or(text).replace("\r\n", "\n");
    let source = Arc::new(SourceText { name: name.to_owned(), text });
    let mut findings = Findings::new(source.clone());
    let judged = judge(&source.text, folder, &mut findings);
    match judged {
        Some((scenario, layouts)) if !findings.failed() => {
            let digest = digest(&findings.texts(), &scenario);
            Ok(Checked { scenario, layouts, warnings: findings.into_sorted(), text: source, digest })
        }
        _ => Err(faults(findings)),
    }
}

/// Never empty: a scenario that is refused is refused with a reason.
fn faults(findings: Findings) -> Vec<Diagnostic> {
    if !findings.failed() {
        let message = "the scenario is incomplete, and the program cannot say why".to_owned();
        let label = "this is a defect of the program".to_owned();
        findings.error(0..0, message, label, Some("please report it with this file".into()));
    }
    findings.into_sorted()
}

fn judge(text: &str, folder: &Path, findings: &mut Findings) -> Option<(Scenario, Vec<Layout>)> {
    if text.trim().is_empty() {
        let help = "a scenario starts with `format = 1` and `title = \"…\"`".to_owned();
        findings.error_of(Fault::Missing, 0..0, "the scenario is empty".into(), "nothing here".into(), Some(help));
        return None;
    }
    let mut table = document::parse(text, findings)?;
    if !format(&table, findings) {
        return None;
    }
    let library = library::find(&table, folder, findings)?;
    let findings = &*findings;
    if let Some(library) = &library {
        library::join(&mut table, library, findings)?;
    }
    let root = Section::open("the scenario".into(), 0..0, &table, KEYS, findings);
    whole(&root, folder)
}

/// Whether the file is of this program's format; of another, no key would mean what it says.
fn format(table: &toml::de::DeTable<'_>, findings: &Findings) -> bool {
    let Some(value) = table.get("format") else {
        return true;
    };
    let number = value.get_ref().as_integer().filter(|n| n.as_str().parse() == Ok(FORMAT));
    if number.is_none() {
        let label = format!("this program reads `format = {FORMAT}`");
        findings.error(value.span(), "this file is of another format".into(), label, None);
    }
    number.is_some()
}

/// The scenario as written, and the layouts that it proposes.
fn whole(root: &Section<'_>, folder: &Path) -> Option<(Scenario, Vec<Layout>)> {
    root.need("format", "1");
    let title = root.need("title", "\"what this bank is\"").and_then(|v| v.text("a title"));
    let frame = frame::read(root);
    let layouts = layouts::layouts(root, frame.is_sound());
    let inverter = optional(root, "inverter", bank::inverter);
    let around = around(root, folder);
    let surges = surges(root, around.as_ref());
    let failing = optional(root, "faults", |v| fault::faults(v, frame.cables.as_deref()));
    let spread = chance::spread(top(root, "spread").as_ref());
    let asked = optional(root, "trials", chance::trials);
    let horizon = asked.iter().flatten().next().map(|a| a.trials.horizon);
    let targets = optional(root, "targets", |v| chance::targets(v, horizon));
    let counted = parts::Counted::read(root);
    let trials = with_nights(root, asked?, around.as_ref()?);
    let (around, failing, counted) = (around?, failing?.unwrap_or_default(), counted?);
    let frame = frame.complete()?;
    let scenario = Scenario {
        title: title?.value.to_owned(),
        modules: frame.modules,
        cables: frame.cables,
        devices: frame.devices,
        stacks: frame.stacks,
        bar: frame.bar,
        main: frame.main,
        inverter: inverter?,
        controller: frame.controller,
        load: around.load,
        surges: surges?,
        climate: around.climate,
        room: around.room,
        floor: around.floor,
        faults: failing.modules,
        hazards: failing.hazards,
        spread,
        trials: trials?,
        targets: targets?.unwrap_or_default(),
        prices: counted.prices,
        communication: counted.communication,
        earthing: counted.earthing,
    };
    uneven::warn(root, &scenario);
    let layouts = layouts?;
    crowded::refuse(root, &scenario, &layouts);
    Some((scenario, layouts))
}

/// A section of the file, called by its header in messages.
fn top<'a>(root: &Section<'a>, key: &'static str) -> Option<Value<'a>> {
    let header = if ["stack", "surge", "layout"].contains(&key) { format!("[[{key}]]") } else { format!("[{key}]") };
    root.get(key).map(|value| value.called(header))
}

/// `Some(None)` where the section is left out, `None` where it is at fault.
fn optional<'a, T>(
    root: &Section<'a>,
    key: &'static str,
    read: impl FnOnce(&Value<'a>) -> Option<T>,
) -> Option<Option<T>> {
    match top(root, key) {
        Some(value) => read(&value).map(Some),
        None => Some(None),
    }
}

/// Surges, which add to a load of their own kind; `around` where all of it is sound.
fn surges(root: &Section<'_>, around: Option<&Around>) -> Option<Vec<Surge>> {
    let base = match around.and_then(|a| a.load.as_ref()) {
        Some(load) => surge::Base::Known(load),
        None if root.has("load") => surge::Base::Unknown,
        None => surge::Base::Missing,
    };
    Some(optional(root, "surge", |v| surge::surges(v, base))?.unwrap_or_default())
}

fn need(root: &Section<'_>, key: &'static str, header: &str) {
    if !root.has(key) {
        let message = format!("the scenario has no {header}");
        let label = format!("a section {header} is required");
        root.findings.error_of(Fault::Missing, root.span.clone(), message, label, None);
    }
}

/// What acts on the bank from outside; each is `None` where it is left out.
struct Around {
    load: Option<Load>,
    climate: Option<Climate>,
    room: Option<Room>,
    floor: Option<Floor>,
}

fn around(root: &Section<'_>, folder: &Path) -> Option<Around> {
    let written = optional(root, "climate", surroundings::open_climate);
    let section = written.as_ref().and_then(Option::as_ref);
    let offset = surroundings::utc_offset(section);
    let climate = match section {
        Some(section) => surroundings::climate(section, folder, offset).map(Some),
        None => written.as_ref().map(|_| None),
    };
    let load = optional(root, "load", |v| surroundings::load(v, folder, offset));
    let (has_climate, has_room) = (root.has("climate"), root.has("room"));
    let column = section.is_some_and(|s| s.has("floor_column"));
    let room = optional(root, "room", |v| surroundings::room(v, has_climate));
    let floor = optional(root, "floor", |v| surroundings::floor(v, has_climate, has_room, column));
    Some(Around { load: load?, climate: climate?, room: room?, floor: floor? })
}

/// The trials with the nights that the profiles cover. `Some(None)` without trials.
fn with_nights(root: &Section<'_>, asked: Option<Asked>, around: &Around) -> Option<Option<Trials>> {
    let Some(Asked { trials, place, horizon }) = asked else {
        return Some(None);
    };
    let wanted = Wanted {
        load: around.load.as_ref().and_then(surroundings::load_series),
        air: around.climate.as_ref().and_then(surroundings::air_series),
        floor: around.climate.as_ref().and_then(|c| c.floor.as_ref()),
        start: trials.start,
        horizon: trials.horizon,
        season: around.climate.as_ref().and_then(|c| c.season),
    };
    match night::list(&wanted) {
        Ok(nights) => {
            if trials.start.is_some() && nights.iter().all(|night| night.date.is_empty()) {
                let why = "no profile has a `time` column: every trial starts at hour 0 of the profiles";
                root.findings.unusual(place, "`start` draws no night".into(), why);
            }
            Some(Some(Trials { nights, ..trials }))
        }
        Err(none) => {
            let label = "no night of the profiles fits this".to_owned();
            let place = if matches!(none, NoNights::Short { .. }) { horizon } else { place };
            root.findings.error_of(Fault::Conflict, place, none.to_string(), label, Some(none.help()));
            None
        }
    }
}

/// SHA-256 over the texts and the digests of the profiles.
fn digest(texts: &[Arc<SourceText>], scenario: &Scenario) -> String {
    let mut hash = Sha256::new();
    texts.iter().for_each(|text| hash.update(Sha256::digest(text.text.as_bytes())));
    for (name, sha) in profiles(scenario).flat_map(|series| &series.source().files) {
        hash.update([0]);
        hash.update(name.as_bytes());
        hash.update([0]);
        hash.update(sha.as_bytes());
    }
    hash.finalize().iter().map(|byte| format!("{byte:02x}")).collect()
}

fn profiles(scenario: &Scenario) -> impl Iterator<Item = &Series> {
    let load = scenario.load.as_ref().and_then(surroundings::load_series);
    let air = scenario.climate.as_ref().and_then(surroundings::air_series);
    let floor = scenario.climate.as_ref().and_then(|c| c.floor.as_ref());
    [load, air, floor].into_iter().flatten()
}
