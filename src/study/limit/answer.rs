//! The answer of the limit study, as types and as JSON.
//!
//! In: nothing but numbers and identifiers. Out: what tables, charts and JSON are made of.

use super::binding_current::{Direction, Why};
use crate::engine::module::State;
use serde::ser::SerializeMap;
use serde::{Serialize, Serializer};

/// The answer. Other programs rely on its names: add, never rename.
#[derive(Clone, Debug, Serialize)]
pub struct Limits {
    /// For each number of modules out, the worst set.
    pub limits: Vec<Row>,
    /// The one-division rule; null where no stack has rated leads only.
    pub by_hand_a: Option<f64>,
    /// Current of the one-division rule less the limit with all modules in service [A].
    pub by_hand_gap_a: Option<f64>,
    /// The limits with the worst lead conductor open, for each number of modules out.
    pub one_lead_open: Vec<Row>,
    /// The limits at each air temperature, where more than one is asked for.
    pub by_air: Vec<AtAir>,
    /// Charge of the modules (0…1); null where they differ.
    pub soc: Option<f64>,
    /// Temperature of everything [°C].
    pub air_c: f64,
    /// Modules that temperature or state of charge keeps from discharging or from charging, at `air_c`.
    pub kept_out: Vec<KeptOut>,
    /// Protective devices: what is lost when one has opened, and whether it stays closed at these limits.
    pub devices: Vec<Device>,
    /// How many sets were solved.
    pub sets: u64,
    /// What is unusual, in words.
    pub warnings: Vec<String>,
    /// Work that the solution took, counted and not timed.
    #[serde(skip)]
    pub factorisations: u64,
}

/// A module that is not simply in service, without having failed.
#[derive(Clone, Debug, Serialize)]
pub struct KeptOut {
    /// Its identifier, as `A2` or `A.lead1+`.
    pub id: String,
    /// What temperature and state of charge leave of it.
    pub state: State,
}

/// The limit at one temperature.
#[derive(Clone, Debug, Serialize)]
pub struct AtAir {
    /// Temperature of everything [°C].
    pub air_c: f64,
    /// For each number of modules out, the worst set.
    pub limits: Vec<Row>,
    /// Modules that temperature or state of charge keeps from discharging or from charging there.
    pub kept_out: Vec<KeptOut>,
}

/// The limits in both directions with exactly `outages` modules out.
#[derive(Clone, Debug)]
pub struct Row {
    /// Modules out.
    pub outages: usize,
    /// The greatest discharge current.
    pub discharge: Bound,
    /// The greatest charge current.
    pub charge: Bound,
}

/// The worst set in one direction.
#[derive(Clone, Debug)]
pub struct Bound {
    /// Safe current, positive [A], proven where the sets are too many to solve all; `None`: nothing limits it.
    pub current_a: Option<f64>,
    /// Where the limit lies, if not every set was solved; `None`: `current_a` is exact.
    pub bounds: Option<Range>,
    /// Identifier of the element that reaches its limit first; `None`: no element does, and `why` says what ends it.
    pub binding: Option<String>,
    /// What ends the range of safe currents.
    pub why: Why,
    /// The limit that this element reaches.
    pub limited_by: Option<LimitedBy>,
    /// Identifiers of the modules that are out in the worst set.
    pub out: Vec<String>,
    /// Identifier of the open lead conductor; `None`: none is open.
    pub open: Option<String>,
    /// Identifier of the protective device in that conductor, which may have opened it.
    pub open_device: Option<String>,
    /// What a controller that adds up module limits would announce with so many out, at least; `None` where a
    /// module is unrated.
    pub announced_a: Option<f64>,
}

/// Which limit an element reaches.
#[derive(Clone, Copy, Debug, PartialEq, Eq, Serialize)]
#[serde(rename_all = "snake_case")]
pub enum LimitedBy {
    /// A module's own limit in that direction.
    ModuleLimit,
    /// The rating of a conductor's assembly, the same in any air.
    Rating,
    /// What a conductor's insulation and terminals allow in this air.
    Ampacity,
}

display_as_serialised!(LimitedBy);

/// The range in which a limit lies that was not solved exactly.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Range {
    /// Proven to be safe [A].
    pub low_a: f64,
    /// Limit of the worst set that was solved [A]; `None`: none of them has a limit.
    pub high_a: Option<f64>,
}

impl Row {
    /// Whether either limit is bounded and not exact.
    pub fn is_bounded(&self) -> bool {
        self.discharge.bounds.is_some() || self.charge.bounds.is_some()
    }

    /// The limit in one direction.
    pub fn side(&self, direction: Direction) -> &Bound {
        match direction {
            Direction::Discharge => &self.discharge,
            Direction::Charge => &self.charge,
        }
    }
}

impl Bound {
    /// Of a set that was found to what is proven of all.
    pub(super) fn widen(&mut self, safe: f64) {
        let high_a = self.current_a;
        let low_a = safe.min(high_a.unwrap_or(f64::INFINITY));
        if high_a.is_some_and(|high| high - low_a > 1e-9 * high) || (high_a.is_none() && low_a.is_finite()) {
            self.bounds = Some(Range { low_a, high_a });
            self.current_a = Some(low_a);
        }
    }

    /// The announced sum less the limit [A].
    pub fn gap_a(&self) -> Option<f64> {
        Some(self.announced_a? - self.current_a?)
    }
}

/// One flat row: plain names for discharge, the same with `charge_` before them for charge.
impl Serialize for Row {
    fn serialize<S: Serializer>(&self, serializer: S) -> Result<S::Ok, S::Error> {
        let mut map = serializer.serialize_map(None)?;
        map.serialize_entry("outages", &self.outages)?;
        for (bound, before) in [(&self.discharge, ""), (&self.charge, "charge_")] {
            let name = |field: &str| format!("{before}{field}");
            map.serialize_entry(&name("current_a"), &bound.current_a)?;
            map.serialize_entry(&name("binding"), &bound.binding)?;
            map.serialize_entry(&name("why"), &bound.why)?;
            map.serialize_entry(&name("limited_by"), &bound.limited_by)?;
            map.serialize_entry(&name("out"), &bound.out)?;
            map.serialize_entry(&name("exact"), &bound.bounds.is_none())?;
            if let Some(range) = &bound.bounds {
                map.serialize_entry(&name("low_a"), &range.low_a)?;
                map.serialize_entry(&name("high_a"), &range.high_a)?;
            }
            if let Some(open) = &bound.open {
                map.serialize_entry(&name("open"), open)?;
                map.serialize_entry(&name("open_device"), &bound.open_device)?;
            }
            map.serialize_entry(&name("announced_a"), &bound.announced_a)?;
            map.serialize_entry(&name("gap_a"), &bound.gap_a())?;
        }
        map.end()
    }
}

/// What is lost when a device has opened.
#[derive(Clone, Copy, Debug, PartialEq, Eq, Serialize)]
#[serde(rename_all = "snake_case")]
pub enum OpenedIs {
    /// The device is in a module: that module is out.
    ModuleOut,
    /// The device is in a lead conductor: that conductor is open.
    LeadOpen,
    /// The device is in a pole of the whole bank: the bank carries nothing.
    BankOff,
}

/// One protective device.
#[derive(Clone, Debug, Serialize)]
pub struct Device {
    /// Its identifier, as `A2` or `A.lead1+`.
    pub id: String,
    /// Identifier of the module or conductor that it is fitted in.
    #[serde(rename = "in")]
    pub stands_in: String,
    /// What is lost when it has opened.
    pub opened_is: OpenedIs,
    /// Rated current [A].
    pub rated_a: f64,
    /// Greatest magnitude at any of the limits.
    pub current_a: f64,
    /// The limit at which that is.
    pub outages: usize,
    /// Direction of that limit.
    pub direction: Direction,
    /// How long it carries that current from cold before it opens [s]; null: it never opens.
    pub opens_after_s: Option<f64>,
}
