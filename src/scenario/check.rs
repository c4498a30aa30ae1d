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
mod design;
mod device;
mod fault;
mod grid;
mod insulation;
pub(crate) mod layouts;
mod library;
mod lint;
mod module;
mod parts;
mod points;
mod protection;
mod sections;
mod stack;
mod surge;
mod surroundings;
mod text;
mod unequal_soc;
mod window;

use crate::diagnostic::{Diagnostic, Fault, SourceText};
use crate::escape;
use crate::profile::Series;
use crate::profile::night::{self, NoNights, Wanted};
use crate::scenario::document::{self, Findings, Section};
use crate::scenario::{Climate, Floor, Layout, Load, Room, Scenario, Surge, Trials, each_once, from_memory};
use chance::Asked;
use sections::{KEYS, optional, top};
use sha2::{Digest, Sha256};
use std::path::Path;
use std::sync::Arc;

/// A legal scenario, and what is to be said about it.
#[derive(Clone, Debug)]
pub struct Checked {
    /// The scenario, complete and free of faults.
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
        let layouts = self.layouts.iter().flat_map(|l| from_memory(&l.design.cables, &l.design.devices));
        each_once(self.scenario.from_memory().into_iter().chain(layouts))
    }
}

/// Reads and judges a scenario file.
///
/// # Errors
/// All faults; one, where the file cannot be read or is not a text.
pub fn load(path: &Path) -> Result<Checked, Vec<Diagnostic>> {
    let name = escape::path(path);
    let text = text::read(&name, path).map_err(|fault| vec![fault])?;
    parse(&text, &name, path.parent().unwrap_or(Path::new("")))
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
    if !text::format(&table, findings) {
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

/// The scenario as written, and the layouts that it proposes.
fn whole(root: &Section<'_>, folder: &Path) -> Option<(Scenario, Vec<Layout>)> {
    root.need("format", "1");
    let title = root.need("title", "\"what this bank is\"").and_then(|v| v.text("a title"));
    let design = design::read(root);
    let layouts = layouts::layouts(root, design.is_sound());
    let inverter = optional(root, "inverter", bank::inverter);
    let around = around(root, folder);
    let surges = surges(root, around.as_ref());
    let failing = optional(root, "faults", |v| fault::faults(v, design.cables.as_deref()));
    let spread = chance::spread(top(root, "spread").as_ref());
    let asked = optional(root, "trials", chance::trials);
    let horizon = asked.iter().flatten().next().map(|a| a.trials.horizon);
    let targets = optional(root, "targets", |v| chance::targets(v, horizon));
    let counted = parts::Counted::read(root);
    let trials = with_nights(root, asked?, around.as_ref()?);
    let (around, failing, counted) = (around?, failing?.unwrap_or_default(), counted?);
    let design = design.complete()?;
    let scenario = Scenario {
        title: title?.value.to_owned(),
        modules: design.modules,
        cables: design.cables,
        devices: design.devices,
        stacks: design.stacks,
        bar: design.bar,
        main: design.main,
        inverter: inverter?,
        controller: design.controller,
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
    unequal_soc::warn(root, &scenario);
    let layouts = layouts?;
    crowded::refuse(root, &scenario, &layouts);
    Some((scenario, layouts))
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
