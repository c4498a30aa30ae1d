//! One operating point as a card to hold against a clamp meter.
//!
//! In: the question and its answer. Out: plain text.

use super::number;
use crate::network::Demand;
use crate::study::point::{Bus, Point, Question};
use comfy_table::{CellAlignment, Table, presets};
use std::fmt::Write;

/// The card.
pub fn table(title: &str, question: &Question, point: &Point) -> String {
    let mut text = format!("{title}\n{}\n{}\n\n", asked(question), bus(&point.bus));
    let mut table = Table::new();
    table.load_style(presets::NOTHING);
    table.set_header(["element", "current", "limit", "of limit", "voltage or drop", "state"]);
    for m in &point.modules {
        let state = format!("{}{}", m.state.replace('_', " "), over(m.over));
        table.add_row(row(&m.id, m.current_a, m.limit_a, format!("{:.3} V", m.voltage_v), state));
    }
    for c in &point.conductors {
        let drop = format!("{:.1} mV", c.drop_v * 1e3);
        table.add_row(row(&c.id, c.current_a, c.rating_a, drop, over(c.over).trim().to_string()));
    }
    for column in table.column_iter_mut().skip(1).take(4) {
        column.set_cell_alignment(CellAlignment::Right);
    }
    let _ = writeln!(text, "{table}");
    text + &finding(point)
}

fn asked(question: &Question) -> String {
    let demand = match question.demand {
        Demand::Current(amps) => format!("{amps} A"),
        Demand::Power(watts) => format!("{watts} W"),
    };
    let soc = question.soc.map_or("charge as in the scenario".to_string(), |s| format!("charge {s}"));
    let out = match question.without.as_slice() {
        [] => "all modules in".to_string(),
        out => format!("without {}", out.join(", ")),
    };
    format!("{demand} at the bus, {soc}, everything at {} °C, {out}", question.air)
}

fn bus(bus: &Bus) -> String {
    let voltage = bus.voltage_v.map_or("no voltage".to_string(), |v| format!("{v:.3} V"));
    if bus.carried {
        format!("bus: {voltage}, {}, {:.0} W", number::current(bus.current_a), bus.power_w)
    } else {
        format!("✖ the bank cannot carry this load; at open circuit: {voltage}")
    }
}

fn over(over: bool) -> &'static str {
    if over { " ✖ OVER" } else { "" }
}

fn row(id: &str, amps: f64, limit: Option<f64>, voltage: String, state: String) -> [String; 6] {
    let share = limit.map_or("–".to_string(), |limit| format!("{:.0} %", amps.abs() / limit * 100.0));
    [id.to_string(), number::current(amps), number::rating(limit), share, voltage, state]
}

fn finding(point: &Point) -> String {
    let modules = point.modules.iter().map(|m| (&m.id, m.over));
    let conductors = point.conductors.iter().map(|c| (&c.id, c.over));
    let over: Vec<&str> = modules.chain(conductors).filter(|(_, over)| *over).map(|(id, _)| id.as_str()).collect();
    match over.as_slice() {
        [] => "Nothing is over its limit.\n".to_string(),
        over => format!("Over its limit: {}.\n", over.join(", ")),
    }
}
