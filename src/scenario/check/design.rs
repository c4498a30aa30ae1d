//! What a layout may change: types, stacks, bar and controller, judged together.
//!
//! In: the document, as written or with a layout's overrides laid over it. Out: a `Design`, or its faults.

use super::device::Devices;
use super::sections::{need, optional, top};
use super::{bank, cable, controller, device, module, stack};
use crate::bounds;
use crate::diagnostic::Fault;
use crate::escape;
use crate::scenario::document::{Section, Value};
use crate::scenario::{Bar, CableType, Controller, Design, DeviceType, Fitted, ModuleType, Stack};

/// The parts of a design as read; those at fault are `None`.
pub struct Read {
    modules: Option<Vec<ModuleType>>,
    pub cables: Option<Vec<CableType>>,
    devices: Option<Vec<DeviceType>>,
    stacks: Option<Vec<Stack>>,
    bar: Option<(Bar, Option<Fitted>)>,
    controller: Option<Option<Controller>>,
}

pub fn read(root: &Section<'_>) -> Read {
    let (module_names, modules) = types(root, "module", module::module);
    let (cable_names, cables) = types(root, "cable", cable::cable);
    let (device_names, devices) = types(root, "device", device::device);
    let fittings = Devices { names: &device_names, types: devices.as_deref() };
    let (bar, no_distance) = bar(root, fittings);
    let referred = stack::Types {
        modules: &module_names,
        module_types: modules.as_deref(),
        cables: &cable_names,
        cable_types: cables.as_deref(),
        devices: fittings,
        no_distance,
    };
    need(root, "module", "[module.NAME]");
    need(root, "stack", "[[stack]]");
    let stacks = optional(root, "stack", |v| stack::stacks(v, &referred)).flatten();
    let controller = optional(root, "controller", |v| controller::controller(v, modules.as_deref()));
    Read { modules, cables, devices, stacks, bar, controller }
}

impl Read {
    /// Whether none of it is at fault.
    pub fn is_sound(&self) -> bool {
        let types = self.modules.is_some() && self.cables.is_some() && self.devices.is_some();
        types && self.stacks.is_some() && self.bar.is_some() && self.controller.is_some()
    }

    /// The design; `None` where any part is at fault.
    pub fn complete(self) -> Option<Design> {
        let (bar, main) = self.bar?;
        Some(Design {
            modules: self.modules?,
            cables: self.cables?,
            devices: self.devices?,
            stacks: self.stacks?,
            bar,
            main,
            controller: self.controller?,
        })
    }
}

/// The bar with the main device, and why leads have no distance along it, where they have none.
fn bar(root: &Section<'_>, devices: Devices<'_>) -> (Option<(Bar, Option<Fitted>)>, Option<&'static str>) {
    match optional(root, "bar", bank::open_bar) {
        None => (None, None),
        Some(None) => {
            let why = "it is a distance along the bus bar, and there is no [bar]";
            (Some((Bar::Ideal, None)), Some(why))
        }
        Some(Some(section)) => {
            let why = "it is a distance along the bus bar, and [bar] has no `resistance`";
            (bank::bar(&section, devices), (!section.has("resistance")).then_some(why))
        }
    }
}

/// The names of all types of a kind, to refer to, and the types if all are sound.
fn types<'a, T>(
    root: &Section<'a>,
    kind: &'static str,
    read: impl Fn(&str, &Value<'a>) -> Option<T>,
) -> (Vec<String>, Option<Vec<T>>) {
    let entries = top(root, kind).map_or_else(Vec::new, |v| v.named(kind));
    if let Some((first, _)) = entries.get(bounds::TYPES) {
        let message = format!("there are {} {kind} types", bounds::grouped(entries.len() as u64));
        let label = format!("the first too many: must be at most {}", bounds::TYPES);
        root.findings.error_of(
            Fault::TooMuch,
            first.span.clone(),
            message,
            label,
            Some("leave out those that no stack names".into()),
        );
        return (entries.into_iter().map(|(name, _)| name.value).collect(), None);
    }
    // Keys where names are due; one that stands among names is told by itself.
    let keys = entries.iter().filter(|(_, entry)| !entry.is_table()).count();
    if let (Some(value), true) =
        (top(root, kind), 2 * keys > entries.len() && !entries.iter().all(|(_, e)| e.is_list()))
    {
        let message = format!("[{kind}] is a type without a name");
        let help = format!("give it one, as in [{kind}.cellar], by which others refer to it");
        value.refuse_of(Fault::Missing, message, &format!("expected [{kind}.NAME]"), Some(help));
        return (entries.into_iter().map(|(name, _)| name.value).collect(), None);
    }
    for (name, _) in &entries {
        if name.value.chars().count() > bounds::NAME {
            let message = format!("the name of a {kind} type is too long");
            let label = format!("must be at most {} characters", bounds::NAME);
            root.findings.error_of(Fault::TooMuch, name.span.clone(), message, label, Some("shorten it".into()));
        }
        let hidden = escape::hidden_in(&name.value).map(|c| format!("holds an invisible character, {c}"));
        if let Some(what) = hidden.or_else(|| name.value.trim().is_empty().then(|| "is blank".to_owned())) {
            let label = "expected a name that can be read".to_owned();
            root.findings.error(name.span.clone(), format!("the name of a {kind} type {what}"), label, None);
        }
    }
    let all: Vec<Option<T>> = entries.iter().map(|(name, value)| read(&name.value, value)).collect();
    let names = entries.into_iter().map(|(name, _)| name.value).collect();
    (names, all.into_iter().collect())
}
