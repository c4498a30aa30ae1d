//! Modules that begin the night at unequal charge, at the steep end of their open-circuit curve: what two of them
//! would drive through each other before there is any load.
//!
//! In: the scenario, judged, and the document. Out: a warning at the key that makes the charges unequal.
//!
//! Modules in parallel have come to one voltage, so chance moves the charge of all alike (`start_charge` of `[spread]`);
//! what differs is charges by position, and the curves of different types. An estimate: i = (E₁ − E₂)/(R₁ + R₂) of two
//! modules, without conductors, at 25 °C, at the charges given and at those moved up or down by two standard
//! deviations of `start_charge`. In the cold it is less; one module against several that are all low drives more.

use crate::math;
use crate::scenario::document::Section;
use crate::scenario::{Direction, Distribution, ModuleType, Position, Scenario};
use crate::units::{Kind, plain};
use std::ops::Range;
use toml::de::{DeTable, DeValue};

/// How far the state of charge of all modules is moved up or down, in standard deviations.
const DEVIATIONS: f64 = 2.0;

/// The greatest current between two modules at the start of a night, relative to their limit.
struct Worst {
    /// Numbers of the module that discharges and of that which it charges.
    modules: [usize; 2],
    /// State of charge of each of the two (0…1).
    charges: [f64; 2],
    /// Current from one module into the other [A].
    current: f64,
    /// The lowest limit of the two modules [A].
    limit: f64,
    limited_by: &'static str,
}

/// One module and its state of charge at the start of the night.
struct Begins<'a> {
    stack: usize,
    id: String,
    position: &'a Position,
    kind: &'a ModuleType,
}

/// Warns where such a current is above a limit of one of the two modules.
pub fn warn(root: &Section<'_>, scenario: &Scenario) {
    let Some(trials) = &scenario.trials else { return };
    let modules = modules(scenario);
    let reach = reach(&scenario.spread.start_charge);
    let Some(worst) = worst(&modules, trials.soc, reach) else { return };
    let [from, into] = worst.modules.map(|k| &modules[k]);
    let own = [from, into].into_iter().find(|m| m.position.soc.is_some());
    let span = match own {
        Some(module) => of_stack(root.table(), module.stack),
        None => of_section(root.table(), "trials", "soc"),
    };
    let message = format!("{} may flow between two modules before there is any load", amps(worst.current));
    let label = format!(
        "from {} at {} into {} at {}: above {} of {}",
        from.id,
        percent(worst.charges[0]),
        into.id,
        percent(worst.charges[1]),
        worst.limited_by,
        amps(worst.limit)
    );
    let mend = match (own, flat(&modules, trials.soc, reach)) {
        (Some(_), _) => "give charges that are nearer to each other".to_owned(),
        (None, Some(soc)) => format!("begin where their curves are nearer to each other: `soc = \"{soc} %\"`"),
        (None, None) => {
            "give each the charge by position, `soc` of its stack, at which they have one voltage".to_owned()
        }
    };
    let moved = if reach > 0.0 { ", all moved alike by up to two standard deviations of `start_charge`" } else { "" };
    let how = format!("by the two modules alone, at 25 °C{moved}");
    let help = format!("modules that stand in parallel come to equal voltage: {mend} ({how})");
    root.findings.lint(span.unwrap_or(root.span.clone()), message, label, help);
}

/// Modules with an open-circuit curve; one voltage at every state of charge has no steep end.
fn modules(scenario: &Scenario) -> Vec<Begins<'_>> {
    let all = scenario.stacks.iter().enumerate().flat_map(|(stack, s)| {
        s.positions.iter().enumerate().filter_map(move |(k, position)| {
            let kind = scenario.modules.get(position.module).filter(|_| position.open_circuit.is_none())?;
            Some(Begins { stack, id: format!("{}{}", s.name, k + 1), position, kind })
        })
    });
    all.collect()
}

/// How far all charges at the start are thought to be moved (0…1); no farther than the spread goes.
fn reach(spread: &Distribution) -> f64 {
    let usual = DEVIATIONS * spread.deviation();
    match *spread {
        Distribution::Uniform(half) | Distribution::Triangular(half) => usual.min(half),
        _ => usual,
    }
}

/// The pair farthest over a limit, with the state of charge of all as given or moved by `reach`; `None`: none is over.
fn worst(modules: &[Begins<'_>], soc: f64, reach: f64) -> Option<Worst> {
    let moved = [0.0, -reach, reach];
    moved
        .into_iter()
        .filter_map(|by| worst_at(modules, soc, by))
        .reduce(|a, b| if b.current / b.limit > a.current / a.limit { b } else { a })
}

/// The worst pair where the state of charge of every module is moved by `by`.
fn worst_at(modules: &[Begins<'_>], soc: f64, by: f64) -> Option<Worst> {
    let at = |m: &Begins<'_>| {
        let charge = (m.position.soc.unwrap_or(soc) + by).clamp(0.0, 1.0);
        (charge, m.kind.open_circuit.value(charge), resistance(m, charge))
    };
    let ends: Vec<_> = modules.iter().map(at).collect();
    let limits = |direction| modules.iter().map(|m| limit(m.kind, direction)).collect::<Vec<_>>();
    let (gives, takes) = (limits(Direction::Discharge), limits(Direction::Charge));
    let mut worst: Option<Worst> = None;
    for (from, high) in ends.iter().enumerate() {
        for (into, low) in ends.iter().enumerate().filter(|(into, _)| *into != from) {
            let held = gives[from].held.min(takes[into].held);
            let current = ((high.1 - low.1) / (high.2 + low.2)).min(held);
            let least = if takes[into].current <= gives[from].current { &takes[into] } else { &gives[from] };
            let over = current / least.current;
            if over > worst.as_ref().map_or(1.0, |w| w.current / w.limit) {
                let (modules, charges) = ([from, into], [high.0, low.0]);
                worst = Some(Worst { modules, charges, current, limit: least.current, limited_by: least.word });
            }
        }
    }
    worst
}

/// Resistance of a module between its terminals at 25 °C and a state of charge (0…1) [Ω].
fn resistance(m: &Begins<'_>, charge: f64) -> f64 {
    let r = &m.kind.resistance;
    let scale = m.position.resistance.map_or(1.0, |own| own / (r.fixed + r.cell));
    scale * (r.fixed + r.cell * r.charge_factor.value(charge))
}

/// The lowest limit of a module's current in one direction.
struct Limit {
    /// Limit [A]; infinite where there is none.
    current: f64,
    word: &'static str,
    /// Current at which its electronics limit it [A]; infinite where they do not.
    held: f64,
}

fn limit(kind: &ModuleType, direction: Direction) -> Limit {
    let (rated, word) = match direction {
        Direction::Discharge => (kind.discharge_limit, "its discharge limit"),
        Direction::Charge => (kind.charge_limit, "its charge limit"),
    };
    let stages = kind.protection.stages.iter().filter(|stage| stage.direction == direction);
    let stage = stages.map(|stage| stage.current).fold(f64::INFINITY, f64::min);
    let rated = rated.unwrap_or(f64::INFINITY);
    let (current, word) = if stage < rated { (stage, "the over-current stage") } else { (rated, word) };
    let held = kind.self_limit.map_or(f64::INFINITY, |held| match direction {
        Direction::Discharge => held.discharge,
        Direction::Charge => held.charge,
    });
    Limit { current, word, held }
}

/// The nearest whole per cent at which all of them could begin.
fn flat(modules: &[Begins<'_>], soc: f64, reach: f64) -> Option<i32> {
    let here = (soc * 100.0).round() as i32;
    let aside = (1..100).flat_map(|step| [here - step, here + step]);
    aside.filter(|soc| (1..100).contains(soc)).find(|soc| worst(modules, f64::from(*soc) / 100.0, reach).is_none())
}

fn of_section(table: &DeTable<'_>, section: &str, key: &str) -> Option<Range<usize>> {
    table.get(section)?.get_ref().get(key).map(toml::Spanned::span)
}

fn of_stack(table: &DeTable<'_>, number: usize) -> Option<Range<usize>> {
    let DeValue::Array(stacks) = table.get("stack")?.get_ref() else { return None };
    stacks.get(number)?.get_ref().get("soc").map(toml::Spanned::span)
}

/// A current as text, to three significant digits.
fn amps(amps: f64) -> String {
    let digits = math::powf(10.0, 2.0 - math::log10(amps).floor());
    Kind::Current.show((amps * digits).round() / digits)
}

fn percent(share: f64) -> String {
    format!("{} %", plain((share * 1e3).round() / 10.0))
}
