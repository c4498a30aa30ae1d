//! One operating point as a card to hold against a clamp meter.
//!
//! In: the question and its answer. Out: plain text.

use crate::network::Demand;
use crate::output::kit::number;
use crate::output::kit::table::{Look, Table};
use crate::study::point::{Bus, DevicePoint, Point, Question};

/// The card.
pub fn table(title: &str, question: &Question, point: &Point) -> String {
    let heading = format!("{title}\n{}\n{}\n\n", asked(question), bus(&point.bus));
    heading + &elements(point) + &finding(point) + &devices(point)
}

/// What is shown of a module or conductor.
struct Element<'a> {
    id: &'a str,
    current: f64,
    limit: Option<f64>,
    voltage: String,
    becomes: String,
    state: String,
}

fn elements(point: &Point) -> String {
    let modules = point.modules.iter().map(|m| Element {
        id: &m.id,
        current: m.current_a,
        limit: m.limit_a,
        voltage: volts(m.voltage_v, number::NONE),
        becomes: String::new(),
        state: format!("{}{}", m.state.word(), over(m.over)),
    });
    let conductors = point.conductors.iter().map(|c| Element {
        id: &c.id,
        current: c.current_a,
        limit: c.rating_a,
        voltage: format!("{} mV", number::fixed(c.drop_v * 1e3, 1)),
        becomes: c.steady_temperature_c.map_or(number::NONE.into(), number::celsius),
        state: over(c.over).trim().to_owned(),
    });
    let rows: Vec<Element<'_>> = modules.chain(conductors).collect();
    let share = |e: &Element<'_>| e.limit.map(|limit| format!("{:.0} %", e.current.abs() / limit * 100.0));
    let table = Table::<&Element<'_>>::new()
        .shown("element", Look::Id, |e| e.id.to_owned())
        .shown("current", Look::Number, |e| number::current(e.current))
        .shown("limit", Look::Number, |e| number::rating(e.limit))
        .shown("of limit", Look::Number, move |e| share(e).unwrap_or_else(|| number::NONE.into()))
        .shown("voltage or drop", Look::Number, |e| e.voltage.clone())
        .shown("becomes", Look::Number, |e| e.becomes.clone())
        // How warm conductors become, where it is known of any.
        .terminal_if(point.conductors.iter().any(|c| c.steady_temperature_c.is_some()))
        .shown("state", Look::Words, |e| e.state.clone());
    format!("{}\n", table.to_terminal(&rows))
}

/// Nothing where there is none.
fn devices(point: &Point) -> String {
    if point.devices.is_empty() {
        return String::new();
    }
    let state = |d: &DevicePoint| if d.opens_after_s.is_some() { "✖ OPENS" } else { "" };
    let table = Table::<&DevicePoint>::new()
        .shown("device", Look::Id, |d| d.id.clone())
        .shown("current", Look::Number, |d| number::current(d.current_a))
        .shown("rated", Look::Number, |d| number::current(d.rated_a))
        .shown("opens after", Look::Number, |d| d.opens_after_s.map_or("never".to_string(), number::seconds))
        .shown("state", Look::Words, move |d| state(d).to_owned());
    format!("\n{}\n", table.to_terminal(&point.devices))
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
