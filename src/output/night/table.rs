//! One replayed night as CSV.
//!
//! In: the record of the night. Out: CSV, one row a moment.

use crate::engine::record::{Moment, Record};
use crate::output::kit::table::{number, optional, text};

/// One replayed night, one row a moment; at a discontinuity two rows have one time.
pub fn record_csv(record: &Record) -> String {
    let mut header: Vec<String> =
        ["time_h", "bus_v", "bus_a", "demand_w", "served", "outdoor_degc", "floor_degc"].map(String::from).into();
    for id in &record.modules {
        header.extend(["a", "charge", "degc", "state"].map(|quantity| format!("{id}_{quantity}")));
    }
    header.extend(record.conductors.iter().map(|id| format!("{id}_a")));
    let insulated = insulated(record);
    header.extend(insulated.iter().filter_map(|&k| Some(format!("{}_degc", record.conductors.get(k)?))));
    let names: Vec<&str> = header.iter().map(String::as_str).collect();
    text(&names, record.moments.iter().map(|m| moment(record, &insulated, m)))
}

/// Conductors with insulation data, which alone have a temperature.
fn insulated(record: &Record) -> Vec<usize> {
    let warm = |m: &Moment, k: usize| m.conductor_temperatures.get(k).is_some_and(Option::is_some);
    (0..record.conductors.len()).filter(|&k| record.moments.iter().any(|m| warm(m, k))).collect()
}

fn moment(record: &Record, insulated: &[usize], m: &Moment) -> Vec<String> {
    let mut row = vec![
        number(m.time.hours()),
        number(m.bus_voltage),
        number(m.bus_current),
        number(m.demand_w),
        m.served.to_string(),
        number(m.outdoor),
        number(m.floor),
    ];
    for k in 0..record.modules.len() {
        row.push(optional(m.module_currents.get(k).copied()));
        row.push(optional(m.module_charges.get(k).copied()));
        row.push(optional(m.module_temperatures.get(k).copied()));
        row.push(m.module_states.get(k).map_or("", |s| s.word()).into());
    }
    row.extend((0..record.conductors.len()).map(|k| optional(m.conductor_currents.get(k).copied())));
    row.extend(insulated.iter().map(|&k| optional(m.conductor_temperatures.get(k).copied().flatten())));
    row
}
