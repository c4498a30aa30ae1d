//! One operating point as a card to hold against a clamp meter.
//!
//! In: the question and its answer. Out: plain text.

use crate::network::Demand;
use crate::output::kit::number;
use crate::study::point::{Bus, Point, Question};
use comfy_table::{CellAlignment, Table, presets};

/// The card.
pub fn table(title: &str, question: &Question, point: &Point) -> String {
    let heading = format!("{title}\n{}\n{}\n\n", asked(question), bus(&point.bus));
    heading + &elements(point) + &finding(point) + &devices(point)
}

fn elements(point: &Point) -> String {
    // A column for how warm conductors become, where it is known of any.
    let warm = point.conductors.iter().any(|c| c.steady_temperature_c.is_some());
    let cells = |[id, current, limit, share, drop]: [String; 5], steady: String, state: String| {
        let steady = warm.then_some(steady);
        [id, current, limit, share, drop].into_iter().chain(steady).chain([state]).collect::<Vec<String>>()
    };
    let mut table = Table::new();
    table.load_style(presets::NOTHING);
    let header = ["element", "current", "limit", "of limit", "voltage or drop"].map(String::from);
    table.set_header(cells(header, "becomes".into(), "state".into()));
    for m in &point.modules {
        let state = format!("{}{}", m.state.word(), over(m.over));
        let row = row(&m.id, m.current_a, m.limit_a, volts(m.voltage_v, number::NONE));
        table.add_row(cells(row, String::new(), state));
    }
    for c in &point.conductors {
        let row = row(&c.id, c.current_a, c.rating_a, format!("{} mV", number::fixed(c.drop_v * 1e3, 1)));
        let steady = c.steady_temperature_c.map_or(number::NONE.into(), number::celsius);
        table.add_row(cells(row, steady, over(c.over).trim().to_string()));
    }
    for column in table.column_iter_mut().skip(1).take(if warm { 5 } else { 4 }) {
        column.set_cell_alignment(CellAlignment::Right);
    }
    format!("{table}\n")
}

/// Nothing where there is none.
fn devices(point: &Point) -> String {
    if point.devices.is_empty() {
        return String::new();
    }
    let mut table = Table::new();
    table.load_style(presets::NOTHING);
    table.set_header(["device", "current", "rated", "opens after", "state"]);
    for d in &point.devices {
        let opens = d.opens_after_s.map_or("never".to_string(), number::seconds);
        let state = if d.opens_after_s.is_some() { "✖ OPENS" } else { "" };
        let (current, rated) = (number::current(d.current_a), number::current(d.rated_a));
        table.add_row([d.id.clone(), current, rated, opens, state.to_string()]);
    }
    for column in table.column_iter_mut().skip(1).take(3) {
        column.set_cell_alignment(CellAlignment::Right);
    }
    format!("\n{table}\n")
}

fn asked(question: &Question) -> String {
    let demand = match question.demand {
        Demand::Current(amps) => format!("{} A", amps + 0.0),
        Demand::Power(watts) => format!("{} W", watts + 0.0),
    };
    let soc = question.soc.map_or("charge as in the scenario".to_string(), |s| format!("charge {s}"));
    let out = match question.without.as_slice() {
        [] => "all modules in".to_string(),
        out => format!("without {}", out.join(", ")),
    };
    format!("{demand} at the bus, {soc}, everything at {} °C, {out}", question.air + 0.0)
}

fn bus(bus: &Bus) -> String {
    let voltage = volts(bus.voltage_v, "no voltage");
    if bus.carried {
        format!("bus: {voltage}, {}, {} W", number::current(bus.current_a), number::fixed(bus.power_w, 0))
    } else {
        format!("✖ the bank cannot carry this load; at open circuit: {voltage}")
    }
}

fn volts(volts: Option<f64>, none: &str) -> String {
    volts.map_or(none.to_string(), |v| format!("{} V", number::fixed(v, 3)))
}

fn over(over: bool) -> &'static str {
    if over { " ✖ OVER" } else { "" }
}

fn row(id: &str, amps: f64, limit: Option<f64>, voltage: String) -> [String; 5] {
    let share = limit.map_or("–".to_string(), |limit| format!("{:.0} %", amps.abs() / limit * 100.0));
    [id.to_string(), number::current(amps), number::rating(limit), share, voltage]
}

fn finding(point: &Point) -> String {
    let modules = point.modules.iter().map(|m| (&m.id, m.over));
    let conductors = point.conductors.iter().map(|c| (&c.id, c.over));
    let over: Vec<&str> = modules.chain(conductors).filter(|(_, over)| *over).map(|(id, _)| id.as_str()).collect();
    match over.as_slice() {
        [] if !point.bus.carried => String::new(),
        [] => "Nothing is over its limit.\n".to_string(),
        over => format!("Over its limit: {}.\n", over.join(", ")),
    }
}
