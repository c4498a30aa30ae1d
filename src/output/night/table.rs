//! One replayed night as CSV.
//!
//! In: the record of the night. Out: CSV, one row a moment; at a discontinuity two rows have one time.

use crate::engine::record::{Moment, Record};
use crate::output::kit::table::Table;

/// The whole night.
pub fn record_csv(record: &Record) -> String {
    let bank = Table::<&Moment>::new()
        .column(["time_h"], |m| m.time.hours())
        .column(["bus_v", "bus_a", "demand_w"], |m| [m.bus_voltage, m.bus_current, m.demand_w])
        .column(["served"], |m| m.served)
        .column(["outdoor_degc", "floor_degc"], |m| [m.outdoor, m.floor]);
    let modules = record.modules.iter().enumerate().fold(bank, |table, (k, id)| {
        table
            .column([format!("{id}_a")], move |m| m.module_currents.get(k).copied())
            .column([format!("{id}_charge")], move |m| m.module_charges.get(k).copied())
            .column([format!("{id}_degc")], move |m| m.module_temperatures.get(k).copied())
            .column([format!("{id}_state")], move |m| m.module_states.get(k).map(|s| s.word()))
    });
    let conductors = record.conductors.iter().enumerate().fold(modules, |table, (k, id)| {
        table.column([format!("{id}_a")], move |m| m.conductor_currents.get(k).copied())
    });
    // Conductors with insulation data alone have a temperature.
    let warmth = |m: &Moment, k: usize| m.conductor_temperatures.get(k).copied().flatten();
    let insulated = |k: &usize| record.moments.iter().any(|m| warmth(m, *k).is_some());
    let ids = record.conductors.iter().enumerate().filter(|(k, _)| insulated(k));
    let all = ids.fold(conductors, |table, (k, id)| table.column([format!("{id}_degc")], move |m| warmth(m, k)));
    all.to_csv(&record.moments)
}
