//! What a scenario proposes beside itself: `[[layout]]` and the grid of `[layouts]`.
//!
//! In: the document. Out: a `Layout` each. The overrides of a layout are laid over the document, and the whole is
//! judged as if it had been written so; every value keeps its place, so a fault is reported at the override that has it.

use super::sections::{KEYS, top};
use super::{design, grid, parts};
use crate::bounds;
use crate::diagnostic::{Fault, shortened};
use crate::scenario::Layout;
use crate::scenario::document::{Findings, Section, Value, nearest, overlay};
use std::ops::Range;
use toml::de::{DeTable, DeValue};

const LAYOUT_KEYS: &[&str] = &["name", "stack", "module", "cable", "device", "bar", "controller"];

/// Name of the scenario itself among its layouts.
pub const AS_WRITTEN: &str = "as written";

/// A layout before it is judged. The document that it makes is made when its turn comes: together they would be many
/// times the scenario.
struct Proposal<'a> {
    name: String,
    from: From<'a>,
}

enum From<'a> {
    Written(Section<'a>),
    Grid(grid::Point<'a>),
}

impl<'a> Proposal<'a> {
    /// The document as it would be; `None` where an override refers to nothing.
    fn table(&self, base: &DeTable<'a>) -> Option<DeTable<'a>> {
        match &self.from {
            From::Written(section) => overridden(base, section),
            From::Grid(point) => point.table(base),
        }
    }
}

/// What of a scenario a layout is judged by.
const JUDGED: [&str; 7] = ["module", "cable", "device", "stack", "bar", "controller", "prices"];

/// All layouts; `None` where any is at fault. Those of a grid are all made of the scenario's own leads and stacks, so where
/// these are at fault they would only repeat it.
pub fn layouts(root: &Section<'_>, design_is_sound: bool) -> Option<Vec<Layout>> {
    let before = root.findings.failures();
    let mut proposals = written(root);
    if let Some(value) = top(root, "layouts") {
        let points = grid::grid(&value, root).into_iter();
        proposals.extend(points.map(|(name, point)| Proposal { name, from: From::Grid(point) }));
    }
    let place = top(root, "layouts").or(top(root, "layout"));
    place.and_then(|value| countable(&value, &proposals)).or(proposals.is_empty().then_some(()))?;
    let entries = root.table().iter().filter(|(key, _)| JUDGED.contains(&key.get_ref().as_ref()));
    let base: DeTable<'_> = entries.map(|(key, value)| (key.clone(), value.clone())).collect();
    let mut layouts = Vec::with_capacity(proposals.len());
    let judged = proposals.iter().filter(|proposal| design_is_sound || matches!(proposal.from, From::Written(_)));
    let mut modules = 0;
    for proposal in judged.take_while(|_| !root.findings.full()) {
        let layout = proposal.table(&base).and_then(|table| judge(&proposal.name, &table, root.findings));
        modules += layout.iter().flat_map(|l| &l.design.stacks).map(|s| s.positions.len()).sum::<usize>();
        if modules > bounds::LAYOUT_MODULES {
            let most = bounds::grouped(bounds::LAYOUT_MODULES as u64);
            let message = format!("the layouts have more than {most} modules together");
            let help = "leave out layouts, or values of the grid: compare the best of each part in a second scenario";
            let place = top(root, "layouts").or(top(root, "layout"))?;
            place.refuse_of(Fault::TooMuch, message, "too many for a bank of this size", Some(help.into()));
            return None;
        }
        layouts.extend(layout);
    }
    (root.findings.failures() == before).then_some(layouts)
}

/// Reports too many layouts, and a name that two of them have.
fn countable(place: &Value<'_>, proposals: &[Proposal<'_>]) -> Option<()> {
    if proposals.len() > bounds::LAYOUTS {
        let label = format!("must be at most {}", bounds::LAYOUTS);
        let help = "leave out values of the grid, or layouts: compare the best of each part in a second scenario";
        place.refuse_of(Fault::TooMuch, "the scenario proposes too many layouts".into(), &label, Some(help.into()));
        return None;
    }
    let mut names: Vec<&str> = proposals.iter().map(|p| p.name.as_str()).collect();
    names.sort_unstable();
    if let Some(twice) = names.windows(2).find(|two| two[0] == two[1]) {
        let message = format!("two layouts are named \"{}\"", shortened(twice[0]));
        let help = "give the [[layout]] another name, or leave that point out of the grid".to_owned();
        place.refuse_of(Fault::Duplicate, message, "one of them by this grid", Some(help));
        return None;
    }
    Some(())
}

/// Judges the document of one layout.
fn judge(name: &str, table: &DeTable<'_>, findings: &Findings) -> Option<Layout> {
    let own = findings.another();
    let root = Section::open("the scenario".into(), 0..0, table, KEYS, &own);
    let design = design::read(&root).complete();
    parts::no_currency(&root);
    let sound = !own.failed();
    findings.adopt(own, &format!("in layout \"{}\": ", shortened(name)));
    design.filter(|_| sound).map(|design| Layout { name: name.to_owned(), design })
}

/// Those of `[[layout]]`, as far as their names refer to something.
fn written<'a>(root: &Section<'a>) -> Vec<Proposal<'a>> {
    let Some(value) = top(root, "layout") else { return Vec::new() };
    let (due, mend) = ("tables in double brackets, [[layout]]", "compare the best of each part in a second scenario");
    let list = value.few(bounds::LAYOUTS, mend, due, |k| format!("[[layout]] {k}"));
    let mut names: Vec<&str> = vec![AS_WRITTEN];
    let mut proposals = Vec::new();
    for value in list.into_iter().flatten() {
        let Some(s) = value.section(LAYOUT_KEYS) else { continue };
        let name = s.need("name", "\"two lead pairs\"").and_then(|v| name(&v, &names));
        if let Some(name) = name {
            names.push(name);
            proposals.push(Proposal { name: name.to_owned(), from: From::Written(s) });
        }
    }
    proposals
}

fn name<'a>(value: &Value<'a>, taken: &[&str]) -> Option<&'a str> {
    let name = value.text("a short name")?.value;
    if taken.contains(&name) {
        let label = if name == AS_WRITTEN { "the scenario itself is called so" } else { "a second time here" };
        let message = format!("two layouts are named \"{}\"", shortened(name));
        value.refuse_of(Fault::Duplicate, message, label, None);
        return None;
    }
    if name.chars().count() > bounds::NAME {
        value.refuse_of(
            Fault::TooMuch,
            "`name` is too long".into(),
            &format!("must be at most {} characters", bounds::NAME),
            None,
        );
        return None;
    }
    Some(name)
}

/// The document with one layout's overrides; `None` where they refer to nothing.
fn overridden<'a>(base: &DeTable<'a>, s: &Section<'a>) -> Option<DeTable<'a>> {
    let mut table = base.clone();
    let mut sound = true;
    for kind in ["module", "cable", "device"] {
        for (name, value) in s.get(kind).map_or_else(Vec::new, |v| v.named(&format!("layout.{kind}"))) {
            let there = of_kind(&mut table, kind);
            sound &= lay_over(there, &name.value, &value, &name.span, &format!("[{kind}.NAME]"));
        }
    }
    for (name, value) in s.get("stack").map_or_else(Vec::new, |v| v.named("layout.stack")) {
        sound &= keeps_its_name(&value);
        sound &= lay_over(stacks(&mut table), &name.value, &value, &name.span, "[[stack]]");
    }
    for key in ["bar", "controller"] {
        let Some(value) = s.get(key) else { continue };
        let Some(over) = table_of(&value) else {
            sound = false;
            continue;
        };
        let mut section = table.get(key).and_then(|v| v.get_ref().as_table()).cloned().unwrap_or_default();
        overlay::lay_over(&mut section, over);
        overlay::set(&mut table, key, overlay::table(section, value.span.clone()));
    }
    sound.then_some(table)
}

/// The named tables of a kind, and the places of their names.
type Named<'t, 'a> = Vec<(String, &'t mut DeTable<'a>)>;

fn of_kind<'t, 'a>(table: &'t mut DeTable<'a>, kind: &str) -> Named<'t, 'a> {
    let Some(DeValue::Table(types)) = table.get_mut(kind).map(|v| v.get_mut()) else { return Vec::new() };
    types
        .iter_mut()
        .filter_map(|(name, value)| Some((name.get_ref().to_string(), as_table(value.get_mut())?)))
        .collect()
}

fn stacks<'t, 'a>(table: &'t mut DeTable<'a>) -> Named<'t, 'a> {
    let Some(DeValue::Array(stacks)) = table.get_mut("stack").map(|v| v.get_mut()) else { return Vec::new() };
    let tables = stacks.iter_mut().filter_map(|stack| as_table(stack.get_mut()));
    tables.filter_map(|t| Some((t.get("name")?.get_ref().as_str()?.to_owned(), t))).collect()
}

fn as_table<'t, 'a>(value: &'t mut DeValue<'a>) -> Option<&'t mut DeTable<'a>> {
    match value {
        DeValue::Table(table) => Some(table),
        _ => None,
    }
}

/// Lays the entries of `value` over those of the name among `there`; a name that is not there is a fault.
fn lay_over<'a>(there: Named<'_, 'a>, name: &str, value: &Value<'a>, span: &Range<usize>, header: &str) -> bool {
    let Some(over) = table_of(value) else { return false };
    let known: Vec<String> = there.iter().map(|(name, _)| name.clone()).collect();
    if let Some((_, table)) = there.into_iter().find(|(known, _)| known == name) {
        overlay::lay_over(table, over);
        return true;
    }
    let message = format!("no {header} is called \"{}\"", shortened(name));
    let near = nearest(name, known.iter().map(String::as_str));
    let help = near.map(|near| format!("did you mean \"{}\"?", shortened(near)));
    let label = "a layout overrides what the scenario defines".to_owned();
    value.findings.error_of(Fault::NotFound, span.clone(), message, label, help);
    false
}

/// The table with the overrides; a fault where it is none.
fn table_of<'a>(value: &Value<'a>) -> Option<&'a DeTable<'a>> {
    let table = value.as_table();
    if table.is_none() {
        value.refuse_of(Fault::WrongType, format!("{} is not a table", value.name), "expected keys to override", None);
    }
    table
}

/// Modules are called after their stack, and draw their random numbers by that name.
fn keeps_its_name(value: &Value<'_>) -> bool {
    let Some(name) = value.as_table().and_then(|t| t.get("name")) else { return true };
    let label = "a stack keeps its name, by which its luck is drawn".to_owned();
    value.findings.error_of(Fault::Conflict, name.span(), "a layout renames a stack".into(), label, None);
    false
}
