//! What moves the limit, in words and tables.
//!
//! In: the changes of the limit. Out: short texts and CSV, greatest change first.

use crate::output::kit::number;
use crate::output::kit::table::{number as cell, optional, text};
use crate::study::sensitivity::{Change, Kind, Sensitivity};
use comfy_table::{CellAlignment, Table, presets};
use std::fmt::Write;

/// Changes below this share of the limit are rounding.
const NOTHING: f64 = 1e-7;

/// `cable lead: rating`, `stack A: one more lead pair`.
pub fn input(change: &Change) -> String {
    let (of, what) = match change.what {
        Kind::ModuleResistance => ("module", "resistance"),
        Kind::DischargeLimit => ("module", "discharge limit"),
        Kind::ChargeLimit => ("module", "charge limit"),
        Kind::CableResistance => ("cable", "resistance"),
        Kind::CableContact => ("cable", "contact"),
        Kind::CableRating => ("cable", "rating"),
        Kind::CableAmpacity => ("cable", "ampacity"),
        Kind::DeviceResistance => ("device", "resistance"),
        Kind::BarResistance => return "bar: resistance".to_string(),
        Kind::BarRating => return "bar: rating".to_string(),
        Kind::LeadPairEach => return "every stack: one more lead pair".to_string(),
        Kind::ModuleEach => return "every stack: one more module".to_string(),
        Kind::LeadPair => ("stack", "one more lead pair"),
        Kind::Module => ("stack", "one more module"),
    };
    format!("{of} {}: {what}", change.of)
}

/// `+12.0 A`, `−3.4 A`, `no change`, `unbounded`.
pub fn moved(change: Option<f64>) -> String {
    match change {
        None => "unbounded".to_string(),
        Some(amps) if amps.abs() < 0.05 => "none".to_string(),
        Some(amps) if amps < 0.0 => format!("−{}", number::current(-amps)),
        Some(amps) => format!("+{}", number::current(amps)),
    }
}

/// The inputs that change the limit.
pub fn that_move(all: &Sensitivity) -> impl Iterator<Item = &Change> {
    let least = NOTHING * all.limit_a.unwrap_or(0.0);
    all.inputs.iter().filter(move |c| c.less_a.into_iter().chain(c.more_a).any(|x| x.abs() > least))
}

/// What buys most: the greatest gains by the piece, each with how it is had.
pub fn best(all: &Sensitivity) -> String {
    let mut gains: Vec<&Change> = that_move(all).filter(|c| c.gain() >= 0.05).collect();
    gains.sort_by(|a, b| b.gain_a_piece().total_cmp(&a.gain_a_piece()));
    let told = |change: &&Change| {
        let more = change.more_a.is_some_and(|m| m >= change.gain());
        let how = match (change.less_a.is_some(), more) {
            (false, _) => "",
            (true, true) => " a tenth more",
            (true, false) => " a tenth less",
        };
        format!("{}{how} ({})", input(change), moved(Some(change.gain())))
    };
    match &gains.iter().take(3).map(told).collect::<Vec<_>>()[..] {
        [] => format!("No single input buys more {} current", all.direction),
        [first] => format!("What buys most in {}: {first}", all.direction),
        [first, others @ ..] => format!("What buys most in {}: {first}; then {}", all.direction, others.join(", ")),
    }
}

/// One table a direction, with what buys most.
pub fn table(both: &[Sensitivity]) -> String {
    both.iter().fold(String::new(), |mut out, all| {
        let limit = all.limit_a.map_or("unbounded".to_string(), number::current);
        let binding = all.binding.as_deref().unwrap_or(number::NONE);
        let _ = writeln!(
            out,
            "\nWhat moves the {} limit with {} out ({limit}, {binding} binds):",
            all.direction, all.outages
        );
        if that_move(all).next().is_some() {
            let _ = writeln!(out, "{}", rows(all));
        }
        let _ = writeln!(out, "{}.", best(all));
        out
    })
}

fn rows(all: &Sensitivity) -> Table {
    let mut table = Table::new();
    table.load_style(presets::NOTHING);
    table.set_header(["input", "a tenth less", "a tenth more, or one more"]);
    for change in that_move(all) {
        let less = if change.what.is_count() { number::NONE.to_string() } else { moved(change.less_a) };
        table.add_row([input(change), less, moved(change.more_a)]);
    }
    for column in [1, 2] {
        if let Some(column) = table.column_mut(column) {
            column.set_cell_alignment(CellAlignment::Right);
        }
    }
    table
}

/// One row an input and direction, then one an element that carries current.
pub fn csv(both: &[Sensitivity]) -> String {
    let header = ["direction", "outages", "of", "input", "less_a", "more_a", "a_per_ohm", "a_per_a"];
    let rows = both.iter().flat_map(|all| {
        let head = move || vec![all.direction.to_string(), all.outages.to_string()];
        let inputs = all.inputs.iter().map(move |c| {
            let cells = [c.of.clone(), c.what.tag().to_string(), optional(c.less_a), optional(c.more_a)];
            [head(), cells.to_vec(), vec![String::new(), String::new()]].concat()
        });
        let elements = all.elements.iter().map(move |e| {
            let cells = [e.id.clone(), "derivative".to_string(), String::new(), String::new()];
            [head(), cells.to_vec(), vec![cell(e.by_resistance), cell(e.by_limit)]].concat()
        });
        inputs.chain(elements)
    });
    text(&header, rows)
}
