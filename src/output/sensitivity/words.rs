//! What moves the limit, in words and tables.
//!
//! In: the changes of the limit. Out: short texts and CSV, greatest change first.

use crate::output::kit::number;
use crate::output::kit::table::{Look, Table};
use crate::study::sensitivity::{Change, Derivative, Kind, Sensitivity};
use std::fmt::Write;

/// Changes below this share of the limit are rounding.
const NOTHING: f64 = 1e-7;

/// `cable lead: rating`, `stack A: one more lead pair`.
pub fn input(change: &Change) -> String {
    named(change.what, &change.of)
}

/// An input of this kind, of the type or stack of this name.
pub fn named(kind: Kind, name: &str) -> String {
    let (of, what) = match kind {
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
    format!("{of} {name}: {what}")
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
pub fn text(both: &[Sensitivity]) -> String {
    both.iter().fold(String::new(), |mut out, all| {
        let limit = all.limit_a.map_or("unbounded".to_string(), number::current);
        let binding = all.binding.as_deref().unwrap_or(number::NONE);
        let _ = writeln!(
            out,
            "\nWhat moves the {} limit with {} out ({limit}, {binding} binds):",
            all.direction, all.outages
        );
        if that_move(all).next().is_some() {
            let _ = writeln!(out, "{}", table().to_terminal(that_move(all).map(|c| (all, Moves::Input(c)))));
        }
        let _ = writeln!(out, "{}.", best(all));
        out
    })
}

/// An input, or an element that carries current.
#[derive(Clone, Copy)]
enum Moves<'a> {
    Input(&'a Change),
    Element(&'a Derivative),
}

impl<'a> Moves<'a> {
    fn input(self) -> Option<&'a Change> {
        match self {
            Moves::Input(change) => Some(change),
            Moves::Element(_) => None,
        }
    }

    fn element(self) -> Option<&'a Derivative> {
        match self {
            Moves::Input(_) => None,
            Moves::Element(element) => Some(element),
        }
    }
}

/// What moves the limit of a direction.
type Row<'a> = (&'a Sensitivity, Moves<'a>);

fn table<'a>() -> Table<'a, Row<'a>> {
    let less = |c: &Change| if c.what.is_count() { number::NONE.to_owned() } else { moved(c.less_a) };
    Table::<Row<'a>>::new()
        .column(["direction"], |(all, _)| all.direction.to_string())
        .column(["outages"], |(all, _)| all.outages)
        .column(["of"], |(_, row)| match row {
            Moves::Input(c) => &c.of,
            Moves::Element(e) => &e.id,
        })
        .column(["input"], |(_, row)| row.input().map_or_else(|| "derivative".to_owned(), |c| c.what.to_string()))
        .terminal("input", Look::Words, |(_, row)| row.input().map(input).unwrap_or_default())
        .column(["less_a"], |(_, row)| row.input().and_then(|c| c.less_a))
        .terminal("a tenth less", Look::Number, move |(_, row)| row.input().map(less).unwrap_or_default())
        .column(["more_a"], |(_, row)| row.input().and_then(|c| c.more_a))
        .terminal("a tenth more, or one more", Look::Number, |(_, row)| {
            row.input().map(|c| moved(c.more_a)).unwrap_or_default()
        })
        .column(["a_per_ohm"], |(_, row)| row.element().map(|e| e.by_resistance))
        .column(["a_per_a"], |(_, row)| row.element().map(|e| e.by_limit))
}

/// One row an input and direction, then one an element that carries current.
pub fn csv(both: &[Sensitivity]) -> String {
    table().to_csv(both.iter().flat_map(|all| {
        let elements = all.elements.iter().map(Moves::Element);
        all.inputs.iter().map(Moves::Input).chain(elements).map(move |row| (all, row))
    }))
}
