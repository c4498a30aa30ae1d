//! Stacks: `[[stack]]`, their positions and their lead pairs.

use super::device::{Devices, fitted};
use super::{defaults, lint};
use crate::bounds;
use crate::diagnostic::{Fault, shortened};
use crate::scenario::document::{Limits, Section, Value, Written};
use crate::scenario::{CableType, Fitted, LeadPair, ModuleType, Position, Stack};
use crate::units::Kind;
use std::collections::HashMap;

const KEYS: &[&str] = &[
    "name",
    "module",
    "count",
    "jumper",
    "leads",
    "module_device",
    "module_poles",
    "heat_to_floor",
    "soc",
    "resistance",
    "open_circuit",
];
const LEAD_KEYS: &[&str] = &["cable", "positive", "negative", "at", "device", "poles"];
const LONGEST_NAME: usize = 32;

/// What stacks refer to.
pub struct Types<'a> {
    pub modules: &'a [String],
    /// The module types; `None` where one of them has a fault.
    pub module_types: Option<&'a [ModuleType]>,
    pub cables: &'a [String],
    /// The cable types; `None` where one of them has a fault.
    pub cable_types: Option<&'a [CableType]>,
    pub devices: Devices<'a>,
    /// Why leads have no distance along the bar, where they have none.
    pub no_distance: Option<&'static str>,
}

/// All stacks; `None` where any is at fault.
pub fn stacks(value: &Value<'_>, types: &Types<'_>) -> Option<Vec<Stack>> {
    let mend = "put modules on top of each other by `count`";
    let due = "tables in double brackets, [[stack]]";
    let list = value.few(bounds::MODULES, mend, due, |k| format!("[[stack]] {k}"))?;
    if list.is_empty() {
        value.refuse("there is no stack".into(), "at least one is required", None);
    }
    let mut names = Vec::new();
    let stacks: Vec<Option<Stack>> = list.iter().map(|v| stack(v, types, &mut names)).collect();
    identifiers(value, &names);
    many_leads(&list, &stacks);
    let stacks: Vec<Stack> = stacks.into_iter().collect::<Option<_>>()?;
    (!stacks.is_empty()).then_some(stacks)
}

/// A fault at the stack with which there are more lead pairs than a bank may have.
fn many_leads(list: &[Value<'_>], stacks: &[Option<Stack>]) {
    let mut total = 0;
    for (value, stack) in list.iter().zip(stacks) {
        let before = total;
        total += stack.as_ref().map_or(0, |stack| stack.leads.len());
        if before <= bounds::LEADS && total > bounds::LEADS {
            let message = format!("the bank has more than {} lead pairs", bounds::LEADS);
            let help = "give `leads` fewer pairs: one a module is the most that is of use".to_owned();
            value.refuse_of(Fault::TooMuch, message, "with this stack it has too many", Some(help));
        }
    }
}

/// A stack's name with its number of modules.
type Named<'a> = (Written<&'a str>, u64);

fn stack<'a>(value: &Value<'a>, types: &Types<'_>, names: &mut Vec<Named<'a>>) -> Option<Stack> {
    let s = value.section(KEYS)?;
    let name = s.need("name", "\"A\"").and_then(|v| name(&v));
    let module = s.need("module", "\"NAME\"").and_then(|v| v.reference("module", types.modules));
    let count = s.need("count", "4").and_then(|v| v.whole(1, bounds::IN_STACK));
    if let Some(name) = &name {
        names.push((name.clone(), count.as_ref().map_or(0, |c| c.value)));
    }
    let count = count.map(|c| c.value);
    let jumper = jumper(&s, count, types);
    let leads = leads(&s, count, types);
    let module_device = fitted(&s, ["module_device", "module_poles"], types.devices);
    let type_of = |module: Option<usize>| types.module_types?.get(module?);
    if let (Some(Some(fitted)), Some(module)) = (module_device, type_of(module)) {
        types.devices.get(fitted).inspect(|device| lint::module_device(&s, device, module));
    }
    let overrides = Overrides::read(&s, count);
    let heat_to_floor = s.quantity("heat_to_floor", Kind::ThermalConductance, Limits::NOT_NEGATIVE).map(|q| q.value);
    let count = usize::try_from(count?).ok()?;
    let module = module?;
    let jumper = if s.has("jumper") || count > 1 { Some(jumper?) } else { None };
    Some(Stack {
        name: name?.value.to_owned(),
        jumper,
        positions: (0..count).map(|k| overrides.position(k, module)).collect(),
        leads: leads?,
        module_device: module_device?,
        heat_to_floor,
    })
}

fn name<'a>(value: &Value<'a>) -> Option<Written<&'a str>> {
    let name = value.text("a short name")?;
    let fits = |c: char| c.is_ascii_alphanumeric() || c == '-' || c == '_';
    if name.value.chars().all(fits) && name.value.len() <= LONGEST_NAME {
        return Some(name);
    }
    let message = format!("`name` is \"{}\"", shortened(name.value));
    let label = format!("must be letters, digits, `-` and `_`, at most {LONGEST_NAME}");
    let help = "positions are counted after it, as in A1: dots, commas and blanks would be ambiguous";
    value.refuse(message, &label, Some(help.into()));
    None
}

fn jumper(s: &Section<'_>, count: Option<u64>, types: &Types<'_>) -> Option<usize> {
    let value = match count {
        Some(count) if count > 1 => s.need("jumper", "\"NAME\""),
        _ => s.get("jumper"),
    };
    value?.reference("cable", types.cables)
}

fn leads(s: &Section<'_>, count: Option<u64>, types: &Types<'_>) -> Option<Vec<LeadPair>> {
    let example = "[{ cable = \"NAME\", positive = 1, negative = 1 }]";
    let value = s.need("leads", example)?;
    let (due, mend) =
        (format!("a list of lead pairs, as in {example}"), "one pair a module is the most that is of use");
    let list = value.few(bounds::LEADS_OF_STACK, mend, &due, |k| format!("lead pair {k}"))?;
    if list.is_empty() {
        let help = format!("write `leads = {example}`");
        value.refuse(format!("{} has no lead pair", s.name), "at least one is required", Some(help));
        return None;
    }
    let leads: Vec<Option<LeadPair>> = list.iter().map(|v| lead(v, count, types)).collect();
    leads.into_iter().collect()
}

fn lead(value: &Value<'_>, count: Option<u64>, types: &Types<'_>) -> Option<LeadPair> {
    let s = value.section(LEAD_KEYS)?;
    let cable = s.need("cable", "\"NAME\"").and_then(|v| v.reference("cable", types.cables));
    let positive = s.need("positive", "1").and_then(|v| take_off(&v, count));
    let negative = s.need("negative", "1").and_then(|v| take_off(&v, count));
    let at = s.quantity_or("at", Kind::Length, Limits::between(0.0, 1e3), 0.0);
    if let Some(why) = types.no_distance {
        s.refuse(&["at"], why);
    }
    let device = fitted(&s, ["device", "poles"], types.devices);
    if let (Some(cable), Some(Some(device))) = (cable, device) {
        unprotected(&s, cable, device, types);
    }
    Some(LeadPair { cable: cable?, positive: positive?, negative: negative?, at, device: device? })
}

/// A device protects a lead whose rating and ampacity are not below its own.
fn unprotected(s: &Section<'_>, cable: usize, fitted: Fitted, types: &Types<'_>) {
    let (Some(device), Some(cable)) = (types.devices.get(fitted), types.cable_types.and_then(|c| c.get(cable))) else {
        return;
    };
    let ampacity = cable.ampacity.map_or(f64::INFINITY, |a| a.limit(a.base));
    let rating = cable.rating.unwrap_or(f64::INFINITY).min(ampacity);
    let Some(value) = s.get("device") else { return };
    if device.rated > rating {
        let (rated, rating) = (Kind::Current.show(device.rated), Kind::Current.show(rating));
        let message = format!("the {} is rated {rated}, its lead {rating}", device.kind.word());
        s.findings.unusual(value.span, message, "does not protect the lead");
    }
}

/// A position of the stack, from 1.
fn take_off(value: &Value<'_>, count: Option<u64>) -> Option<usize> {
    let position = value.whole(0, u64::MAX)?.value;
    let top = count.unwrap_or(bounds::IN_STACK);
    if (1..=top).contains(&position) {
        return usize::try_from(position).ok();
    }
    let message = format!("{} is position {position}, outside the stack", value.name);
    let label = match count {
        Some(1) => "the stack has one module: position 1".to_owned(),
        _ => format!("must be from 1 (at the floor) to {top}"),
    };
    value.refuse(message, &label, None);
    None
}

/// Values by position that replace those of the module type; `None`: that of the type.
struct Overrides {
    soc: Vec<Option<f64>>,
    resistance: Vec<Option<f64>>,
    open_circuit: Vec<Option<f64>>,
}

impl Overrides {
    fn read(s: &Section<'_>, count: Option<u64>) -> Overrides {
        let voltage = Limits::POSITIVE.at_most(1500.0);
        Overrides {
            soc: by_position(s, "soc", count, Kind::Ratio, Limits::SHARE),
            resistance: by_position(s, "resistance", count, Kind::Resistance, defaults::RESISTANCE),
            open_circuit: by_position(s, "open_circuit", count, Kind::Voltage, voltage),
        }
    }

    fn position(&self, k: usize, module: usize) -> Position {
        let of = |list: &[Option<f64>]| list.get(k).copied().flatten();
        Position { module, soc: of(&self.soc), resistance: of(&self.resistance), open_circuit: of(&self.open_circuit) }
    }
}

fn by_position(s: &Section<'_>, key: &'static str, count: Option<u64>, kind: Kind, limits: Limits) -> Vec<Option<f64>> {
    let Some(value) = s.get(key) else {
        return Vec::new();
    };
    let due = format!("a list with one value a position, as in [\"{}\", …]", kind.example());
    let Some(list) = value.list(&due, |k| format!("`{key}` of position {k}")) else {
        return Vec::new();
    };
    if let Some(count) = count.filter(|count| *count != list.len() as u64) {
        let message = format!("`{key}` is a list of {} for {count} positions", list.len());
        value.refuse(message, "must have one value a position, from the floor up", None);
    }
    list.iter().map(|v| v.quantity(kind, limits).map(|q| q.value)).collect()
}

/// Names must not repeat, nor make one identifier of two modules: `A1` in position 1 and `A` in
/// position 11 are both `A11`.
fn identifiers(value: &Value<'_>, names: &[Named<'_>]) {
    let mut taken: HashMap<String, &str> = HashMap::new();
    let mut total = 0;
    for (k, (name, count)) in names.iter().enumerate() {
        let repeated = names.iter().take(k).any(|(other, _)| other.value == name.value);
        let refuse = |fault, message, label| value.findings.error_of(fault, name.span.clone(), message, label, None);
        if repeated {
            refuse(
                Fault::Duplicate,
                format!("two stacks are named \"{}\"", name.value),
                "a second time here".to_owned(),
            );
            continue;
        }
        let mut clash = None;
        for position in 1..=*count {
            let id = format!("{}{position}", name.value);
            clash = clash.or(taken.get(&id).map(|other| (id.clone(), *other)));
            taken.entry(id).or_insert(name.value);
        }
        if let Some((id, other)) = clash {
            let message = format!("a module of stack \"{}\" and one of stack \"{other}\" are both {id}", name.value);
            refuse(Fault::Duplicate, message, "choose a name that does not end in a digit".to_owned());
        }
        total += usize::try_from(*count).unwrap_or(usize::MAX);
        if total > bounds::MODULES {
            let message = format!("the bank has more than {} modules", bounds::MODULES);
            refuse(Fault::TooMuch, message, "with this stack it is too large".to_owned());
            return;
        }
    }
}
