//! What a scenario proposes beside itself: `[[layout]]` and the grid of `[layouts]`.
//!
//! In: the document. Out: a `Layout` each. The overrides of a layout are laid over the document, and the whole is
//! judged as if it had been written so; every value keeps its place, so a fault in an override is told there.

use super::{KEYS, defaults, frame, grid, parts, top};
use crate::diagnostic::shortened;
use crate::scenario::Layout;
use crate::scenario::document::{Findings, Section, Value, graft, nearest};
use std::ops::Range;
use toml::de::{DeTable, DeValue};

const LAYOUT_KEYS: &[&str] = &["name", "stack", "module", "cable", "device", "bar", "controller"];

/// What the scenario itself is called among its layouts.
pub const AS_WRITTEN: &str = "as written";
const LONGEST_NAME: usize = 60;

/// A layout before it is judged: the whole document as it would be.
pub struct Proposal<'a> {
    pub name: String,
    pub table: DeTable<'a>,
}

/// All layouts; `None` where any is at fault.
pub fn layouts(root: &Section<'_>) -> Option<Vec<Layout>> {
    let before = root.findings.failures();
    let mut proposals = written(root);
    if let Some(value) = top(root, "layouts") {
        proposals.extend(grid::grid(&value, root));
    }
    let place = top(root, "layouts").or(top(root, "layout"));
    place.and_then(|value| countable(&value, &proposals)).or(proposals.is_empty().then_some(()))?;
    let layouts: Vec<Option<Layout>> = proposals.iter().map(|p| judge(p, root.findings)).collect();
    let layouts: Option<Vec<Layout>> = layouts.into_iter().collect();
    layouts.filter(|_| root.findings.failures() == before)
}

/// Not too many, and each with a name of its own.
fn countable(place: &Value<'_>, proposals: &[Proposal<'_>]) -> Option<()> {
    if proposals.len() > defaults::MOST_LAYOUTS {
        let label = format!("must be at most {}", defaults::MOST_LAYOUTS);
        place.refuse("the scenario proposes too many layouts".into(), &label, None);
        return None;
    }
    let mut names: Vec<&str> = proposals.iter().map(|p| p.name.as_str()).collect();
    names.sort_unstable();
    if let Some(twice) = names.windows(2).find(|two| two[0] == two[1]) {
        let message = format!("two layouts are named \"{}\"", shortened(twice[0]));
        let help = "give the [[layout]] another name, or leave that point out of the grid".to_owned();
        place.refuse(message, "one of them by this grid", Some(help));
        return None;
    }
    Some(())
}

/// One layout in place of the scenario's own.
fn judge(proposal: &Proposal<'_>, findings: &Findings) -> Option<Layout> {
    let own = findings.another();
    let root = Section::open("the scenario".into(), 0..0, &proposal.table, KEYS, &own);
    let frame = frame::read(&root).complete();
    parts::no_currency(&root);
    let sound = !own.failed();
    findings.adopt(own, &format!("in layout \"{}\": ", shortened(&proposal.name)));
    frame.filter(|_| sound).map(|frame| Layout { name: proposal.name.clone(), frame })
}

/// Those of `[[layout]]`, as far as their names refer to something.
fn written<'a>(root: &Section<'a>) -> Vec<Proposal<'a>> {
    let Some(value) = top(root, "layout") else { return Vec::new() };
    let list = value.list("tables in double brackets, [[layout]]", |k| format!("[[layout]] {k}"));
    let mut names: Vec<&str> = vec![AS_WRITTEN];
    let mut proposals = Vec::new();
    for value in list.into_iter().flatten() {
        let Some(s) = value.section(LAYOUT_KEYS) else { continue };
        let name = s.need("name", "\"two lead pairs\"").and_then(|v| name(&v, &names));
        let table = overridden(root, &s);
        if let Some(name) = name {
            names.push(name);
            proposals.extend(table.map(|table| Proposal { name: name.to_owned(), table }));
        }
    }
    proposals
}

fn name<'a>(value: &Value<'a>, taken: &[&str]) -> Option<&'a str> {
    let name = value.text("a short name")?.value;
    if taken.contains(&name) {
        let label = if name == AS_WRITTEN { "the scenario itself is called so" } else { "a second time here" };
        value.refuse(format!("two layouts are named \"{}\"", shortened(name)), label, None);
        return None;
    }
    if name.chars().count() > LONGEST_NAME {
        value.refuse("`name` is too long".into(), &format!("must be at most {LONGEST_NAME} characters"), None);
        return None;
    }
    Some(name)
}

/// The document with one layout's overrides; `None` where they refer to nothing.
fn overridden<'a>(root: &Section<'a>, s: &Section<'a>) -> Option<DeTable<'a>> {
    let mut table = root.table().clone();
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
        graft::lay_over(&mut section, over);
        graft::set(&mut table, key, graft::table(section, value.span.clone()));
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
        graft::lay_over(table, over);
        return true;
    }
    let message = format!("no {header} is called \"{}\"", shortened(name));
    let near = nearest(name, known.iter().map(String::as_str));
    let help = near.map(|near| format!("did you mean \"{}\"?", shortened(near)));
    let label = "a layout overrides what the scenario defines".to_owned();
    value.findings.error(span.clone(), message, label, help);
    false
}

/// The table with the overrides; a fault where it is none.
fn table_of<'a>(value: &Value<'a>) -> Option<&'a DeTable<'a>> {
    let table = value.as_table();
    if table.is_none() {
        value.refuse(format!("{} is not a table", value.name), "expected keys to override", None);
    }
    table
}

/// Modules are called after their stack, and draw their luck by that name.
fn keeps_its_name(value: &Value<'_>) -> bool {
    let Some(name) = value.as_table().and_then(|t| t.get("name")) else { return true };
    let label = "a stack keeps its name, by which its luck is drawn".to_owned();
    value.findings.error(name.span(), "a layout renames a stack".into(), label, None);
    false
}
