//! The grid of `[layouts]`: modules × lead pairs × take-off × kind of lead, the same for every stack.
//!
//! In: the section and the document. Out: a proposal for each possible point of the grid. Its values have
//! the place of the key of the grid that they were made from.

use crate::bounds;
use crate::diagnostic::{Fault, shortened};
use crate::scenario::TakeOff;
use crate::scenario::document::overlay::{self, Placed};
use crate::scenario::document::{Section, Value, Written};
use crate::units::{self, Kind};
use std::ops::Range;
use toml::de::{DeTable, DeValue};

const GRID_KEYS: &[&str] = &["modules", "lead_pairs", "take_off", "leads"];
const GRID_LEAD_KEYS: &[&str] = &["cable", "at", "device", "poles"];

/// The values of one point of the grid.
pub struct Point<'a> {
    /// Number of modules in every stack; `None`: as the scenario has it.
    modules: Option<Written<u64>>,
    lead_pairs: u64,
    take_off: (TakeOff, Range<usize>),
    /// What every pair is but for its positions; `None`: what the first of its stack is.
    lead: Option<Lead<'a>>,
}

/// A point with its name.
pub type Named<'a> = (String, Point<'a>);

#[derive(Clone)]
struct Lead<'a> {
    name: String,
    table: &'a DeTable<'a>,
}

/// The points of the grid with their names; none where the grid is at fault.
pub fn grid<'a>(value: &Value<'a>, root: &Section<'a>) -> Vec<Named<'a>> {
    read(value, root).unwrap_or_default()
}

fn read<'a>(value: &Value<'a>, root: &Section<'a>) -> Option<Vec<Named<'a>>> {
    let s = value.section(GRID_KEYS)?;
    let modules = s.get("modules").map(|v| numbers(&v));
    let pairs = s.need("lead_pairs", "[1, 2, 4]").and_then(|v| numbers(&v));
    let take_offs = s.need("take_off", "[\"one end\", \"both ends\"]").and_then(|v| take_offs(&v));
    let leads = s.get("leads").map(|v| leads(&v));
    let (pairs, take_offs) = (pairs?, take_offs?);
    let modules = all_or_one(modules)?;
    let leads = all_or_one(leads)?;
    let mut points = Vec::new();
    for modules in options(&modules) {
        for lead in options(&leads) {
            for take_off in &take_offs {
                // One pair a module is so many pairs, whatever the list says.
                let own = [Written { value: 0, span: take_off.1.clone() }];
                let pairs: &[Written<u64>] = if take_off.0 == TakeOff::EveryModule { &own } else { &pairs };
                for lead_pairs in pairs {
                    // Too many is a fault, told once they are counted.
                    if points.len() > bounds::LAYOUTS {
                        return Some(points);
                    }
                    let (modules, take_off, lead) = (modules.cloned(), take_off.clone(), lead.cloned());
                    let point = Point { modules, lead_pairs: lead_pairs.value, take_off, lead };
                    match point.named(root, s.has("modules")) {
                        Ok(point) => points.extend(point),
                        Err(homeless) => {
                            refuse(value, lead_pairs, &homeless);
                            return None;
                        }
                    }
                }
            }
        }
    }
    if points.is_empty() && stacks_are_counted(root, modules.is_some()) {
        let help = "\"both ends\" needs two pairs, \"spread\" fewer pairs than modules".to_owned();
        value.refuse("[layouts] has no layout".into(), "no stack can be wired so", Some(help));
    }
    Some(points)
}

/// Whether it is known how many modules each stack has. Where it is not, that fault is reported elsewhere.
fn stacks_are_counted(root: &Section<'_>, by_grid: bool) -> bool {
    let Some(stacks) = root.table().get("stack").and_then(|v| v.get_ref().as_array()) else { return false };
    let counted = |stack: &DeValue<'_>| by_grid || stack.as_table().and_then(count).is_some();
    stacks.iter().all(|stack| counted(stack.get_ref()))
}

/// The number of modules that `count` of a stack gives; `None` where there is none or it is at fault.
fn count(stack: &DeTable<'_>) -> Option<usize> {
    let count = stack.get("count")?.get_ref().as_integer()?.as_str().parse().ok()?;
    (1..=bounds::IN_STACK as usize).contains(&count).then_some(count)
}

/// `Some(None)` where the key is left out.
fn all_or_one<T>(list: Option<Option<Vec<T>>>) -> Option<Option<Vec<T>>> {
    match list {
        Some(list) => list.map(Some),
        None => Some(None),
    }
}

/// The values of a list, or a single `None` where the list is left out.
fn options<T>(list: &Option<Vec<T>>) -> Vec<Option<&T>> {
    list.as_ref().map_or_else(|| vec![None], |list| list.iter().map(Some).collect())
}

fn numbers(value: &Value<'_>) -> Option<Vec<Written<u64>>> {
    let (due, most) = ("a list of whole numbers, as in [1, 2, 4]", bounds::IN_STACK as usize);
    let list = value.few(most, "leave some out", due, |k| format!("value {k} of {}", value.name))?;
    not_empty(value, &list)?;
    let numbers: Vec<Written<u64>> = list.iter().map(|v| v.whole(1, bounds::IN_STACK)).collect::<Option<_>>()?;
    once(value, &list, &numbers.iter().map(|n| n.value.to_string()).collect::<Vec<_>>())?;
    Some(numbers)
}

fn not_empty(value: &Value<'_>, list: &[Value<'_>]) -> Option<()> {
    if list.is_empty() {
        value.refuse(format!("{} is empty", value.name), "at least one is required", None);
        return None;
    }
    Some(())
}

/// Each value of a list makes layouts of its own name, so none may be there twice.
fn once(value: &Value<'_>, list: &[Value<'_>], words: &[String]) -> Option<()> {
    let Some(k) = (1..words.len()).find(|&k| words[..k].contains(&words[k])) else { return Some(()) };
    let message = format!("{} holds {} twice", value.name, words[k]);
    list[k].refuse_of(Fault::Duplicate, message, "a second time here", None);
    None
}

fn take_offs(value: &Value<'_>) -> Option<Vec<(TakeOff, Range<usize>)>> {
    let due = "a list of take-offs, as in [\"one end\", \"both ends\"]";
    let list = value.few(TakeOff::ALL.len(), "name each once", due, |k| format!("value {k} of {}", value.name))?;
    not_empty(value, &list)?;
    let words = TakeOff::ALL.map(|kind| (kind.word(), kind));
    let kinds: Vec<(TakeOff, Range<usize>)> =
        list.iter().map(|v| Some((v.choice(&words)?, v.span.clone()))).collect::<Option<_>>()?;
    once(value, &list, &kinds.iter().map(|k| format!("\"{}\"", k.0.word())).collect::<Vec<_>>())?;
    Some(kinds)
}

fn leads<'a>(value: &Value<'a>) -> Option<Vec<Lead<'a>>> {
    let (due, mend) = ("a list of leads, as in [{ cable = \"NAME\" }]", "leave some out");
    let list = value.few(bounds::GRID_LEADS, mend, due, |k| format!("lead {k} of the grid"))?;
    not_empty(value, &list)?;
    let leads: Vec<Lead<'a>> = list.iter().map(|v| lead(v, &list)).collect::<Option<_>>()?;
    once(value, &list, &leads.iter().map(|l| format!("\"{}\"", l.name)).collect::<Vec<_>>())?;
    Some(leads)
}

/// Named by its cable, and by what else tells it from the others with the same one.
fn lead<'a>(value: &Value<'a>, all: &[Value<'a>]) -> Option<Lead<'a>> {
    let s = value.section(GRID_LEAD_KEYS)?;
    let mut name = s.need("cable", "\"NAME\"")?.text("the name of a cable type")?.value.to_owned();
    let written = |v: &Value<'a>, key: &str| Some(v.as_table()?.get(key)?.get_ref().as_str()?.to_owned());
    let mut alike: Vec<&Value<'a>> = all.iter().filter(|v| written(v, "cable").as_deref() == Some(&*name)).collect();
    for (key, before, after) in [("device", " with ", ""), ("poles", ", ", " fused"), ("at", " at ", "")] {
        let own = written(value, key);
        if alike.iter().all(|v| written(v, key) == own) {
            continue;
        }
        name += &own.as_ref().map_or_else(String::new, |own| format!("{before}{own}{after}"));
        alike.retain(|v| written(v, key) == own);
    }
    Some(Lead { name, table: s.table() })
}

/// Lead pairs of a stack for which the scenario names no place on the bus bar: it has fewer, at different places.
struct Homeless {
    stack: String,
    written: usize,
}

fn refuse(value: &Value<'_>, lead_pairs: &Written<u64>, Homeless { stack, written }: &Homeless) {
    let message = format!("the grid gives stack \"{stack}\" more lead pairs than the {written} that it has");
    let label = "where on the bus bar do the others go? Those that it has are at different places";
    let help = "give `at` to the leads of the grid, or write such a layout as [[layout]] with all its lead pairs";
    value.findings.error(lead_pairs.span.clone(), message, label.into(), Some(help.into()));
}

/// Where the lead pairs of a stack connect to the bus bar.
enum Place<'a> {
    /// All at the place that the lead of the grid gives.
    OfTheGrid,
    /// Each at the place of the written pair of the same number, further pairs at the place of the last one.
    AsWritten(Vec<Option<Placed<'a>>>),
}

impl<'a> Point<'a> {
    /// The point with its name; `None` where some stack cannot be wired so.
    fn named(self, root: &Section<'a>, tell_modules: bool) -> Result<Option<Named<'a>>, Homeless> {
        let Some(most) = self.most_modules(root)? else { return Ok(None) };
        Ok(Some((name(&self, most, tell_modules), self)))
    }

    /// Number of modules of the greatest stack; `None` where some stack cannot be wired so.
    fn most_modules(&self, root: &Section<'a>) -> Result<Option<usize>, Homeless> {
        let stacks = root.table().get("stack").map(|value| value.get_ref());
        let Some(DeValue::Array(stacks)) = stacks else { return Ok(None) };
        let mut most = 0;
        for stack in stacks.iter() {
            let Some(stack) = stack.get_ref().as_table() else { return Ok(None) };
            let Some((modules, pairs)) = self.size(stack) else { return Ok(None) };
            self.place(stack, pairs)?;
            if self.take_off.0.positions(pairs, modules).is_none() {
                return Ok(None);
            }
            most = most.max(modules);
        }
        Ok(Some(most))
    }

    /// How many modules and lead pairs a stack has.
    fn size(&self, stack: &DeTable<'a>) -> Option<(usize, usize)> {
        let modules = match &self.modules {
            Some(modules) => usize::try_from(modules.value).ok()?,
            None => count(stack)?,
        };
        let pairs = match self.take_off.0 {
            TakeOff::EveryModule => modules,
            _ => usize::try_from(self.lead_pairs).ok()?,
        };
        Some((modules, pairs))
    }

    /// Where the pairs of a stack connect; an error where there are more pairs than written, and those differ in place.
    fn place(&self, stack: &DeTable<'a>, pairs: usize) -> Result<Place<'a>, Homeless> {
        if self.lead.as_ref().is_some_and(|lead| lead.table.contains_key("at")) {
            return Ok(Place::OfTheGrid);
        }
        let at = |pair: &Placed<'a>| pair.get_ref().as_table().and_then(|t| t.get("at")).cloned();
        let written = stack.get("leads").and_then(|v| v.get_ref().as_array());
        let places: Vec<_> = written.map_or_else(Vec::new, |pairs| pairs.iter().map(at).collect());
        let metres: Vec<Option<f64>> = places.iter().map(|at| metres(at.as_ref())).collect();
        if pairs > places.len() && metres.windows(2).any(|two| two[0] != two[1]) {
            let name = stack.get("name").and_then(|v| v.get_ref().as_str()).unwrap_or_default();
            return Err(Homeless { stack: shortened(name), written: places.len() });
        }
        Ok(Place::AsWritten(places))
    }

    /// The document at this point; `None` where some stack cannot be wired so.
    pub fn table(&self, base: &DeTable<'a>) -> Option<DeTable<'a>> {
        let mut table = base.clone();
        let Some(DeValue::Array(stacks)) = table.get_mut("stack").map(|v| v.get_mut()) else { return None };
        for stack in stacks.iter_mut() {
            let DeValue::Table(stack) = stack.get_mut() else { return None };
            let (modules, pairs) = self.size(stack)?;
            let leads = lead_pairs(stack, self, (modules, pairs))?;
            overlay::set(stack, "leads", leads);
            if let Some(written) = &self.modules {
                overlay::set(stack, "count", overlay::whole(modules, written.span.clone())?);
            }
        }
        Some(table)
    }
}

/// A place on the bus bar [m], 0 where none is written; `None` where it is not a length, which is reported elsewhere.
fn metres(at: Option<&Placed<'_>>) -> Option<f64> {
    match at {
        None => Some(0.0),
        Some(at) => units::parse(at.get_ref().as_str()?, Kind::Length).ok(),
    }
}

fn name(point: &Point<'_>, modules: usize, tell_modules: bool) -> String {
    let take_off = point.take_off.0;
    let pairs = match (take_off, point.lead_pairs) {
        (TakeOff::EveryModule, _) => "a pair at every module".to_owned(),
        (_, 1) => format!("1 pair, {}", take_off.word()),
        (_, pairs) => format!("{pairs} pairs, {}", take_off.word()),
    };
    let modules = if tell_modules { format!("{modules} modules, ") } else { String::new() };
    let lead = point.lead.as_ref().map_or_else(String::new, |lead| format!(", {}", lead.name));
    format!("{modules}{pairs}{lead}")
}

/// The list of lead pairs of one stack.
fn lead_pairs<'a>(stack: &DeTable<'a>, point: &Point<'a>, (modules, pairs): (usize, usize)) -> Option<Placed<'a>> {
    let (take_off, span) = &point.take_off;
    let first = || stack.get("leads")?.get_ref().as_array()?.first()?.get_ref().as_table();
    let kind = point.lead.as_ref().map(|lead| lead.table).or_else(first)?;
    let positions = take_off.positions(pairs, modules)?;
    let place = point.place(stack, pairs).ok()?;
    let pair = |(k, (positive, negative)): (usize, (usize, usize))| {
        let mut table = kind.clone();
        if let Place::AsWritten(places) = &place {
            table.remove("at");
            if let Some(at) = places.get(k).or(places.last())? {
                overlay::set(&mut table, "at", at.clone());
            }
        }
        overlay::set(&mut table, "positive", overlay::whole(positive, span.clone())?);
        overlay::set(&mut table, "negative", overlay::whole(negative, span.clone())?);
        Some(overlay::table(table, span.clone()))
    };
    let pairs: Vec<Placed<'a>> = positions.into_iter().enumerate().map(pair).collect::<Option<_>>()?;
    Some(overlay::list(pairs, span.clone()))
}
