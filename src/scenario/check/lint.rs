//! What is legal and does not do what whoever writes it will have wanted: warnings with a way out.
//!
//! In: parts that have been judged, and their places in the text. Out: findings.

use crate::scenario::document::{Section, Written};
use crate::scenario::{Controller, DeviceType, Direction, Heater, ModuleType, OnLoss, Stage};
use crate::units::Kind;

/// A module's stages against its limits, and its heater against the cold that stops it.
pub fn module(s: &Section<'_>, module: &ModuleType) {
    let whole = |stage: &&Stage, limit: Option<f64>, beyond: fn(f64, f64) -> bool| {
        limit.is_some_and(|limit| beyond(stage.current, limit))
    };
    let stages = &module.protection.stages;
    let rated = |stage: &Stage| match stage.direction {
        Direction::Discharge => module.discharge_limit,
        Direction::Charge => module.charge_limit,
    };
    if let Some(stage) = stages.iter().find(|stage| whole(stage, rated(stage), |trip, limit| trip <= limit)) {
        let why = format!("it trips within the module's limit of {}", amps(rated(stage).unwrap_or(0.0)));
        let help = "a first stage is usually at 1.02 to 1.1 times the limit, after some seconds";
        warn(s, "over_current", format!("an over-current stage is at {}", amps(stage.current)), &why, help);
    }
    let held = |stage: &Stage| {
        module.self_limit.map(|held| match stage.direction {
            Direction::Discharge => held.discharge,
            Direction::Charge => held.charge,
        })
    };
    if let Some(stage) = stages.iter().find(|stage| whole(stage, held(stage), |trip, limit| trip >= limit)) {
        let why = format!("it never acts: the module holds itself at {}", amps(held(stage).unwrap_or(0.0)));
        warn(s, "over_current", format!("an over-current stage is at {}", amps(stage.current)), &why, "leave it out");
    }
    if module.protection.retries > 0 && module.protection.retry_after.0 == 0 {
        let help = "give `retry_after`, usually 30 s and more";
        warn(s, "retry_after", "`retry_after` is 0 s".into(), "every retry is spent at once", help);
    }
    if let Some(heater) = &module.heater {
        late(s, module, heater);
    }
}

/// A heater that turns on below what has already stopped the module.
fn late(s: &Section<'_>, module: &ModuleType, heater: &Heater) {
    let windows =
        [("discharge_temperature", &module.discharge_temperature), ("charge_temperature", &module.charge_temperature)];
    for (key, window) in windows {
        let Some(low) = window.low.filter(|low| heater.on <= low.trip) else { continue };
        let (on, trip) = (Kind::Temperature.show(heater.on), Kind::Temperature.show(low.trip));
        let why = format!("`{key}` has stopped it by then, below {trip}");
        let help = format!("turn it on above {trip}");
        warn(s, "heater", format!("the heater turns on below {on}"), &why, &help);
    }
}

/// A voltage comes back as soon as its current is cut off, and a guard without a delay lets go at once.
pub fn no_delay(w: &Section<'_>, delay: Option<&Written<f64>>) {
    if let Some(delay) = delay.filter(|delay| delay.value == 0.0) {
        let why = "the voltage comes back at rest: it may trip and let go without end, and the night is lost";
        let help = "give `delay = \"1 s\"`, and a release that the voltage at rest does not reach".to_owned();
        w.findings.lint(delay.span.clone(), format!("`delay` of {} is 0 s", w.name), why.to_owned(), help);
    }
}

/// What a controller has to announce, and what of it the link needs.
pub fn controller(s: &Section<'_>, controller: &Controller, modules: Option<&[ModuleType]>) {
    let unrated = modules.into_iter().flatten().find(|m| m.discharge_limit.is_none());
    if let Some(module) = unrated {
        let why = "no limit on discharge is announced while one of them is in service";
        let help = "give the module `discharge_limit`".to_owned();
        let message = format!("[module.{}] has no `discharge_limit` for the controller to add up", module.name);
        s.findings.lint(s.span.clone(), message, why.to_owned(), help);
    }
    if controller.link.faults.is_none() && (s.has("lost_link") || s.has("lost_after")) {
        let key = if s.has("lost_link") { "lost_link" } else { "lost_after" };
        warn(s, key, format!("`{key}` acts on nothing"), "the link never fails", "give `link_mtbf`, or leave it out");
    }
    if let OnLoss::Default { discharge: 0.0, .. } = controller.link.on_loss {
        let why = "`default_discharge` is 0 A: it stops";
        warn(s, "lost_link", "`lost_link` is \"default\"".into(), why, "give `default_discharge`");
    }
}

/// A device of a module that opens in time at what the module may deliver.
pub fn module_device(s: &Section<'_>, device: &DeviceType, module: &ModuleType) {
    let Some(limit) = module.discharge_limit.filter(|limit| *limit > device.rated) else { return };
    let message = format!("the {} of each module is rated {}", device.kind.word(), amps(device.rated));
    let why = format!("less than the module's limit of {}", amps(limit));
    let help = "a device is usually rated at 1.25 times what it carries for good";
    warn(s, "module_device", message, &why, help);
}

fn amps(amps: f64) -> String {
    Kind::Current.show(amps)
}

fn warn(s: &Section<'_>, key: &'static str, message: String, why: &str, help: &str) {
    let span = s.get(key).map_or(s.span.clone(), |value| value.span);
    s.findings.lint(span, message, why.to_owned(), help.to_owned());
}
