//! How much may happen in a night: failures, repairs and surges, on average.
//!
//! In: a complete scenario and its layouts. Out: a fault where a night has more than can be drawn and kept.

use crate::bounds::{self, grouped};
use crate::diagnostic::Fault;
use crate::scenario::document::Section;
use crate::scenario::{Faults, Layout, Scenario, Stack, SurgeWhen};
use std::ops::Range;
use toml::de::{DeTable, DeValue};

/// What changes in a night, on average, and where it is written: section, number of the section, key.
struct Changes {
    count: f64,
    at: (&'static str, usize, &'static str),
}

/// A fault at what changes most, where all together is too much.
pub fn refuse(root: &Section<'_>, scenario: &Scenario, layouts: &[Layout]) {
    let Some(trials) = &scenario.trials else { return };
    let banks = layouts.iter().map(|layout| &layout.design.stacks[..]).chain([&scenario.stacks[..]]);
    let counts = banks.map(Elements::of).fold(Elements::default(), Elements::most);
    let all = changes(scenario, &counts, trials.horizon.seconds());
    let total: f64 = all.iter().map(|changes| changes.count).sum();
    let most = all.iter().max_by(|a, b| a.count.total_cmp(&b.count));
    let (Some(most), true) = (most, total > bounds::CHANGES as f64) else { return };
    let message =
        format!("a night has about {} failures, repairs, and starts and ends of surges", grouped(total as u64));
    let label = format!("most of them come from this; must be at most {} together", grouped(bounds::CHANGES));
    let help = "is the unit right? Else give a shorter `horizon`".to_owned();
    let place = place(root.table(), most.at).unwrap_or_else(|| root.span.clone());
    root.findings.error_of(Fault::TooMuch, place, message, label, Some(help));
}

/// What may fail.
#[derive(Clone, Copy, Default)]
struct Elements {
    modules: usize,
    stacks: usize,
    conductors: usize,
    leads: usize,
}

impl Elements {
    fn of(stacks: &[Stack]) -> Elements {
        let leads: usize = stacks.iter().map(|s| 2 * s.leads.len()).sum();
        let jumpers: usize = stacks.iter().map(|s| 2 * s.positions.len().saturating_sub(1)).sum();
        let modules = stacks.iter().map(|s| s.positions.len()).sum();
        Elements { modules, stacks: stacks.len(), conductors: leads + jumpers, leads }
    }

    fn most(self, other: Elements) -> Elements {
        Elements {
            modules: self.modules.max(other.modules),
            stacks: self.stacks.max(other.stacks),
            conductors: self.conductors.max(other.conductors),
            leads: self.leads.max(other.leads),
        }
    }
}

fn changes(scenario: &Scenario, counts: &Elements, horizon: f64) -> Vec<Changes> {
    let hazards = &scenario.hazards;
    let link = scenario.controller.as_ref().and_then(|c| c.link.faults);
    let failing = [
        (scenario.faults, counts.modules, ("faults", 0, "module_mtbf")),
        (hazards.nuisance, counts.modules, ("faults", 0, "nuisance_mtbf")),
        (hazards.chain.map(|c| c.faults), counts.modules, ("faults", 0, "chain_mtbf")),
        (hazards.stack, counts.stacks, ("faults", 0, "stack_mtbf")),
        (hazards.joint.map(|j| j.faults), counts.conductors, ("faults", 0, "joint_mtbf")),
        (hazards.lead, counts.leads, ("faults", 0, "lead_mtbf")),
        (link, 1, ("controller", 0, "link_mtbf")),
    ];
    let failing = failing.into_iter().filter_map(|(faults, elements, at)| {
        faults.map(|faults| Changes { count: elements as f64 * of_one(&faults, horizon), at })
    });
    let surges = scenario.surges.iter().enumerate().map(|(k, surge)| match &surge.when {
        SurgeWhen::At(times) => Changes { count: 2.0 * times.len() as f64, at: ("surge", k, "at") },
        SurgeWhen::Every(mean) => {
            Changes { count: 2.0 * horizon / (mean + surge.lasts.seconds()), at: ("surge", k, "every") }
        }
    });
    failing.chain(surges).collect()
}

/// Failures and repairs of one element; without repair there is one at most.
fn of_one(faults: &Faults, horizon: f64) -> f64 {
    match faults.mttr {
        Some(mttr) => 2.0 * horizon / (faults.mtbf + mttr),
        None => (horizon / faults.mtbf).min(1.0),
    }
}

fn place(table: &DeTable<'_>, (section, number, key): (&str, usize, &str)) -> Option<Range<usize>> {
    let section = table.get(section)?.get_ref();
    let section = match section {
        DeValue::Array(sections) => sections.get(number)?.get_ref(),
        one => one,
    };
    section.get(key).map(toml::Spanned::span)
}
