//! Module types: `[module.NAME]`.

use super::parts::price;
use super::{defaults, lint, points, protection, window};
use crate::bounds;
use crate::curve::Curve;
use crate::diagnostic::{Fault, shortened};
use crate::scenario::document::{Limits, Section, Value, Written};
use crate::scenario::tables::LFP_CELL;
use crate::scenario::{Heat, ModuleResistance, ModuleType, Switches};
use crate::units::{self, Kind};

const KEYS: &[&str] = &[
    "cells",
    "capacity",
    "resistance",
    "open_circuit",
    "discharge_limit",
    "charge_limit",
    "empty",
    "fixed_resistance",
    "activation_energy",
    "charge_factor",
    "standing",
    "switch_drop",
    "switches",
    "pitch",
    "heat_capacity",
    "heat_to_air",
    "heat_to_floor",
    "heat_to_neighbour",
    "charge_temperature",
    "discharge_temperature",
    "cell_voltage",
    "over_current",
    "retry_after",
    "retries",
    "rejoin_wait",
    "rejoin_difference",
    "pre_charge",
    "heater",
    "self_limit",
    "price",
];

/// One module type; `None` where a value without which there is no module is at fault.
pub fn module(name: &str, value: &Value<'_>) -> Option<ModuleType> {
    let s = value.section(KEYS)?;
    let cells = cells(&s);
    let capacity = capacity(&s);
    let resistance = resistance(&s);
    let open_circuit = s.need("open_circuit", "\"lfp\"").and_then(|v| open_circuit(&v, cells));
    let empty = s.quantity_or("empty", Kind::Ratio, Limits::SHARE.below(1.0), 0.0);
    let heat = heat(&s);
    let windows = window::windows(&s);
    let (protection, heater) = (protection::protection(&s), protection::heater(&s));
    let self_limit = protection::self_limit(&s);
    let limit = |key| s.quantity(key, Kind::Current, Limits::POSITIVE).map(|q| q.value);
    let (discharge_limit, charge_limit) = (limit("discharge_limit"), limit("charge_limit"));
    let switches = s
        .get("switches")
        .and_then(|v| v.choice(&[("separate", Switches::Separate), ("contactor", Switches::Contactor)]));
    let standing = s.quantity_or("standing", Kind::Power, Limits::NOT_NEGATIVE, 0.0);
    let switch_drop = s.quantity_or("switch_drop", Kind::Voltage, Limits::between(0.0, 10.0), 0.0);
    let pitch = s.quantity_or("pitch", Kind::Length, Limits::POSITIVE.at_most(10.0), defaults::PITCH);
    let module = ModuleType {
        name: name.to_owned(),
        cells: cells?,
        capacity: capacity?,
        resistance: resistance?,
        open_circuit: open_circuit?,
        discharge_limit,
        charge_limit,
        empty,
        standing,
        switch_drop,
        switches: switches.unwrap_or(Switches::Separate),
        pitch,
        heat,
        charge_temperature: windows.charge_temperature,
        discharge_temperature: windows.discharge_temperature,
        cell_voltage: windows.cell_voltage,
        protection,
        heater,
        self_limit,
        price: price(&s, "price"),
    };
    lint::module(&s, &module);
    Some(module)
}

fn cells(s: &Section<'_>) -> Option<u32> {
    let cells = s.need("cells", "16")?.whole(1, bounds::CELLS)?;
    if !(14..=17).contains(&cells.value) {
        let message = format!("`cells` is {}", cells.value);
        s.findings.unusual(cells.span, message, "a 48 V LFP module has 15 or 16 cells in series");
    }
    u32::try_from(cells.value).ok()
}

fn capacity(s: &Section<'_>) -> Option<f64> {
    let capacity = s.need_quantity("capacity", Kind::Charge, defaults::CAPACITY)?;
    let amp_hours = capacity.value / 3600.0;
    if !(10.0..=1000.0).contains(&amp_hours) {
        let message = format!("`capacity` is {}", Kind::Charge.show(capacity.value));
        s.findings.unusual(capacity.span, message, "modules of this kind hold 10 to 1000 Ah");
    }
    Some(capacity.value)
}

fn resistance(s: &Section<'_>) -> Option<ModuleResistance> {
    let total = s.need_quantity("resistance", Kind::Resistance, defaults::RESISTANCE);
    let fixed = s.quantity("fixed_resistance", Kind::Resistance, Limits::NOT_NEGATIVE);
    let most = Limits::between(0.0, 200e3);
    let activation = s.quantity("activation_energy", Kind::MolarEnergy, most);
    let charge_factor = match s.get("charge_factor") {
        Some(value) => charge_factor(&value),
        None => Some(Curve::constant(1.0)),
    };
    if let Some(ea) = activation.clone().filter(|ea| ea.value > 60e3) {
        let message = format!("`activation_energy` is {}", Kind::MolarEnergy.show(ea.value));
        s.findings.unusual(ea.span, message, "20 to 45 kJ/mol is usual for LFP cells");
    }
    let total = total?;
    unusual_resistance(s, &total);
    let fixed = part_of(s, fixed, total.value)?;
    Some(ModuleResistance {
        fixed,
        cell: total.value - fixed,
        activation: activation.map_or(0.0, |ea| ea.value),
        charge_factor: charge_factor?,
    })
}

fn part_of(s: &Section<'_>, fixed: Option<Written<f64>>, total: f64) -> Option<f64> {
    let Some(fixed) = fixed else { return Some(0.0) };
    if fixed.value <= total {
        return Some(fixed.value);
    }
    let (part, whole) = (Kind::Resistance.show(fixed.value), Kind::Resistance.show(total));
    let message = format!("`fixed_resistance` is {part}, more than the `resistance` of {whole}");
    let label = "is a part of `resistance`".to_owned();
    s.findings.error(fixed.span, message, label, None);
    None
}

fn unusual_resistance(s: &Section<'_>, total: &Written<f64>) {
    if !(1e-3..=0.1).contains(&total.value) {
        let message = format!("`resistance` is {}", Kind::Resistance.show(total.value));
        let why = "modules of this kind have 1 to 100 mΩ between their terminals";
        s.findings.unusual(total.span.clone(), message, why);
    }
}

fn charge_factor(value: &Value<'_>) -> Option<Curve> {
    let example = "[[\"0 %\", 1.6], [\"20 %\", 1.0]]";
    let factor = Limits::POSITIVE.at_most(1000.0);
    let points = points::read(value, example, 1, share, |v| v.number(factor))?;
    points::curve(&points, 1.0)
}

fn share(value: &Value<'_>) -> Option<Written<f64>> {
    value.quantity(Kind::Ratio, Limits::SHARE)
}

/// The open-circuit voltage of the module [V] by its state of charge (0…1).
fn open_circuit(value: &Value<'_>, cells: Option<u32>) -> Option<Curve> {
    let scale = cells.map(f64::from);
    match value.as_text() {
        Some("lfp") => {
            let scale = scale?;
            Curve::new(LFP_CELL.iter().map(|(z, v)| (*z, v * scale)).collect()).ok()
        }
        Some(text) => one_voltage(value, text, scale),
        None if value.is_list() => cell_table(value, scale),
        None => {
            let label = "must be \"lfp\", one voltage, or a table by charge";
            let help = "write \"lfp\", \"52.8 V\", or rows as in [[\"0 %\", \"2.90 V\"], [\"100 %\", \"3.38 V\"]]";
            value.refuse_of(
                Fault::WrongType,
                "`open_circuit` is neither a text nor a table".into(),
                label,
                Some(help.into()),
            );
            None
        }
    }
}

fn one_voltage(value: &Value<'_>, text: &str, cells: Option<f64>) -> Option<Curve> {
    if let Err(units::QuantityError::NoNumber) = units::parse(text, Kind::Voltage) {
        let message = format!("`open_circuit` is \"{}\", and there is no such curve", shortened(text));
        let help = "the built-in curve is \"lfp\"; or give a table by charge".to_owned();
        value.refuse_of(Fault::UnknownWord, message, "must be \"lfp\" or one voltage, as in \"52.8 V\"", Some(help));
        return None;
    }
    let voltage = value.quantity(Kind::Voltage, Limits::POSITIVE.at_most(1500.0))?;
    let per_cell = voltage.value / cells?;
    if !(2.0..=3.8).contains(&per_cell) {
        let message = format!("`open_circuit` is {}", Kind::Voltage.show(voltage.value));
        let why = format!("that is {} a cell; an LFP cell at rest has 2 to 3.8 V", Kind::Voltage.show(per_cell));
        value.findings.unusual(voltage.span, message, &why);
    }
    Some(Curve::constant(voltage.value))
}

fn cell_table(value: &Value<'_>, cells: Option<f64>) -> Option<Curve> {
    let example = "[[\"0 %\", \"2.90 V\"], [\"100 %\", \"3.38 V\"]]";
    let volt = |v: &Value<'_>| v.quantity(Kind::Voltage, defaults::CELL_VOLTAGE);
    let points = points::read(value, example, 2, share, volt)?;
    let mut sound = true;
    for two in points.windows(2) {
        let [(_, before), (_, here)] = two else {
            continue;
        };
        if here.value < before.value {
            sound = false;
            let message = format!("`open_circuit` falls to {}", Kind::Voltage.show(here.value));
            let label = "must not fall as charge rises".to_owned();
            value.findings.error(here.span.clone(), message, label, None);
        }
    }
    let covers = points.first().is_some_and(|p| p.0.value == 0.0) && points.last().is_some_and(|p| p.0.value == 1.0);
    if !covers {
        let why = "beyond its first and last row the voltage stays as it is there";
        value.findings.unusual(value.span.clone(), "`open_circuit` does not reach from 0 % to 100 %".into(), why);
    }
    sound.then_some(())?;
    points::curve(&points, cells?)
}

fn heat(s: &Section<'_>) -> Option<Heat> {
    let conductance = |key| s.quantity(key, Kind::ThermalConductance, Limits::NOT_NEGATIVE).map(|q| q.value);
    let (to_floor, to_neighbour) = (conductance("heat_to_floor"), conductance("heat_to_neighbour"));
    if !(s.has("heat_capacity") || s.has("heat_to_air")) {
        let why = "it needs `heat_capacity` and `heat_to_air`";
        s.refuse(&["heat_to_floor", "heat_to_neighbour"], why);
        return None;
    }
    let capacity = s.need_quantity("heat_capacity", Kind::HeatCapacity, Limits::at_least(1.0));
    let to_air = s.need_quantity("heat_to_air", Kind::ThermalConductance, Limits::NOT_NEGATIVE);
    Some(Heat {
        capacity: capacity?.value,
        to_air: to_air?.value,
        to_floor: to_floor.unwrap_or(0.0),
        to_neighbour: to_neighbour.unwrap_or(0.0),
    })
}
