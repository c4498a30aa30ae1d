//! The kinds of quantities and their units: the table behind `units::parse`.
//!
//! Definitions of the units: SI brochure, 9th edition (tables 4 and 8); inch and foot are
//! international (0.0254 m, 0.3048 m); 0 °C = 273.15 K, 32 °F = 0 °C.

use super::text::{in_words, plain};

/// What is measured; decides which units are accepted.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum Kind {
    /// [A]
    Current,
    /// [V]
    Voltage,
    /// [Ω]
    Resistance,
    /// Resistance of a conductor by its length.
    ResistancePerLength,
    /// [m]
    Length,
    /// A temperature on a thermometer; SI value in °C.
    Temperature,
    /// A difference of temperatures.
    TemperatureDifference,
    /// [W]
    Power,
    /// [C]
    Charge,
    /// [J]
    Energy,
    /// [s]
    Time,
    /// [1]
    Ratio,
    /// [W/K]
    ThermalConductance,
    /// [J/K]
    HeatCapacity,
    /// [K/m]
    TemperatureGradient,
    /// [J/mol]
    MolarEnergy,
}

/// One accepted unit of a kind: SI value = (number − zero)·mul/div.
pub(super) struct Unit {
    pub(super) name: &'static str,
    pub(super) mul: f64,
    pub(super) div: f64,
    pub(super) zero: f64,
}

const fn unit(name: &'static str, mul: f64, div: f64) -> Unit {
    Unit { name, mul, div, zero: 0.0 }
}

/// What a kind is called, an example, and its units, the usual one first.
struct Row {
    name: &'static str,
    example: &'static str,
    units: &'static [Unit],
}

const CURRENT: Row = Row {
    name: "current",
    example: "120 A",
    units: &[unit("A", 1.0, 1.0), unit("mA", 1.0, 1e3), unit("kA", 1e3, 1.0)],
};
const VOLTAGE: Row = Row {
    name: "voltage",
    example: "52.8 V",
    units: &[unit("V", 1.0, 1.0), unit("mV", 1.0, 1e3), unit("kV", 1e3, 1.0)],
};
const RESISTANCE: Row = Row {
    name: "resistance",
    example: "13 mΩ",
    units: &[unit("mΩ", 1.0, 1e3), unit("Ω", 1.0, 1.0), unit("µΩ", 1.0, 1e6)],
};
const RESISTANCE_PER_LENGTH: Row = Row {
    name: "resistance by length",
    example: "0.115 mΩ/m",
    units: &[
        unit("mΩ/m", 1.0, 1e3),
        unit("Ω/m", 1.0, 1.0),
        unit("µΩ/m", 1.0, 1e6),
        unit("Ω/km", 1.0, 1e3),
        unit("Ω/ft", 1e4, 3048.0),
        unit("mΩ/ft", 10.0, 3048.0),
        unit("Ω/kft", 10.0, 3048.0),
    ],
};
const LENGTH: Row = Row {
    name: "length",
    example: "2 m",
    units: &[
        unit("m", 1.0, 1.0),
        unit("mm", 1.0, 1e3),
        unit("cm", 1.0, 1e2),
        unit("km", 1e3, 1.0),
        unit("ft", 3048.0, 1e4),
        unit("in", 254.0, 1e4),
    ],
};
const TEMPERATURE: Row = Row {
    name: "temperature",
    example: "-10 °C",
    units: &[
        unit("°C", 1.0, 1.0),
        Unit { name: "°F", mul: 5.0, div: 9.0, zero: 32.0 },
        Unit { name: "K", mul: 1.0, div: 1.0, zero: 273.15 },
    ],
};
const DIFFERENCE: Row = Row { name: "difference of temperatures", example: "5 K", units: &[unit("K", 1.0, 1.0)] };
const POWER: Row = Row {
    name: "power",
    example: "3 kW",
    units: &[unit("W", 1.0, 1.0), unit("kW", 1e3, 1.0), unit("MW", 1e6, 1.0), unit("mW", 1.0, 1e3)],
};
const CHARGE: Row = Row {
    name: "charge",
    example: "100 Ah",
    units: &[unit("Ah", 3600.0, 1.0), unit("mAh", 3.6, 1.0), unit("kAh", 3.6e6, 1.0)],
};
const ENERGY: Row = Row {
    name: "energy",
    example: "5 kWh",
    units: &[unit("Wh", 3600.0, 1.0), unit("kWh", 3.6e6, 1.0), unit("J", 1.0, 1.0), unit("kJ", 1e3, 1.0)],
};
const TIME: Row = Row {
    name: "time",
    example: "60 s",
    units: &[
        unit("s", 1.0, 1.0),
        unit("ms", 1.0, 1e3),
        unit("min", 60.0, 1.0),
        unit("h", 3600.0, 1.0),
        unit("d", 86400.0, 1.0),
    ],
};
const RATIO: Row = Row { name: "ratio", example: "90 %", units: &[unit("%", 1.0, 1e2)] };
const CONDUCTANCE: Row = Row { name: "thermal conductance", example: "2.5 W/K", units: &[unit("W/K", 1.0, 1.0)] };
const HEAT_CAPACITY: Row = Row {
    name: "heat capacity",
    example: "45 kJ/K",
    units: &[
        unit("kJ/K", 1e3, 1.0),
        unit("J/K", 1.0, 1.0),
        unit("MJ/K", 1e6, 1.0),
        unit("Wh/K", 3600.0, 1.0),
        unit("kWh/K", 3.6e6, 1.0),
    ],
};
const GRADIENT: Row = Row { name: "temperature gradient", example: "1.5 K/m", units: &[unit("K/m", 1.0, 1.0)] };
const MOLAR_ENERGY: Row =
    Row { name: "molar energy", example: "20 kJ/mol", units: &[unit("kJ/mol", 1e3, 1.0), unit("J/mol", 1.0, 1.0)] };

impl Kind {
    /// In the order of the list.
    pub const ALL: [Kind; 16] = [
        Kind::Current,
        Kind::Voltage,
        Kind::Resistance,
        Kind::ResistancePerLength,
        Kind::Length,
        Kind::Temperature,
        Kind::TemperatureDifference,
        Kind::Power,
        Kind::Charge,
        Kind::Energy,
        Kind::Time,
        Kind::Ratio,
        Kind::ThermalConductance,
        Kind::HeatCapacity,
        Kind::TemperatureGradient,
        Kind::MolarEnergy,
    ];

    pub(super) fn units(self) -> &'static [Unit] {
        self.row().units
    }

    const fn row(self) -> &'static Row {
        match self {
            Kind::Current => &CURRENT,
            Kind::Voltage => &VOLTAGE,
            Kind::Resistance => &RESISTANCE,
            Kind::ResistancePerLength => &RESISTANCE_PER_LENGTH,
            Kind::Length => &LENGTH,
            Kind::Temperature => &TEMPERATURE,
            Kind::TemperatureDifference => &DIFFERENCE,
            Kind::Power => &POWER,
            Kind::Charge => &CHARGE,
            Kind::Energy => &ENERGY,
            Kind::Time => &TIME,
            Kind::Ratio => &RATIO,
            Kind::ThermalConductance => &CONDUCTANCE,
            Kind::HeatCapacity => &HEAT_CAPACITY,
            Kind::TemperatureGradient => &GRADIENT,
            Kind::MolarEnergy => &MOLAR_ENERGY,
        }
    }

    /// `current`, `resistance by length`, …
    pub fn name(self) -> &'static str {
        self.row().name
    }

    /// A value as a scenario may give it: `120 A`.
    pub fn example(self) -> &'static str {
        self.row().example
    }

    /// The accepted units in words: `A, mA or kA`.
    pub fn accepted(self) -> String {
        let names: Vec<&str> = self.row().units.iter().map(|u| u.name).collect();
        in_words(&names)
    }

    pub(super) fn unit(self, name: &str) -> Option<&'static Unit> {
        self.row().units.iter().find(|u| u.name == name)
    }

    /// An SI value in the usual unit, rounded to twelve digits: `13 mΩ`.
    pub fn show(self, si: f64) -> String {
        let Some(unit) = self.row().units.first() else {
            return plain(si);
        };
        format!("{} {}", plain(si * unit.div / unit.mul + unit.zero), unit.name)
    }
}
