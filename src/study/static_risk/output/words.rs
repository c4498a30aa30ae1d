//! The chances of a moment in words and tables: what the text, the CSV and the chart share.
//!
//! In: the chances. Out: short texts and CSV. What was found in no set is never a bare zero: it is `in no set` where
//! all were solved, and an upper bound where not.

use crate::network::Demand;
use crate::output::kit::number;
use crate::output::kit::table::{Look, Table};
use crate::study::static_risk::{AtLoad, Chance, Chances};
use std::fmt::Write;

/// Elements told at most.
const MOST: usize = 12;

/// `0.13 %`; `in no set`; `below 10⁻⁹`; `0.13 to 0.14 %`.
pub fn chance(c: Chance) -> String {
    if c.high <= 0.0 {
        "in no set".to_string()
    } else if c.low < number::LEAST {
        format!("below {}", number::upper(c.high))
    } else if c.high - c.low <= 1e-3 * c.low {
        number::probability(c.low)
    } else {
        format!("{} to {}", number::probability(c.low), number::upper(c.high))
    }
}

/// `6.2 kW`, `130.0 A`.
pub fn load(at: &AtLoad) -> String {
    match at.demand() {
        Demand::Power(watts) if watts.abs() >= 1000.0 => format!("{} kW", number::significant(watts / 1000.0, 3)),
        Demand::Power(watts) => format!("{} W", number::significant(watts, 3)),
        Demand::Current(amps) => number::current(amps),
    }
}

/// `99 %`, `greatest`; empty for a load that is stated.
pub fn share(at: &AtLoad) -> String {
    match at.load_share {
        None => String::new(),
        Some(share) if share >= 1.0 => "greatest".to_string(),
        Some(share) => number::chosen(share),
    }
}

/// One table a temperature.
pub fn table(all: &[Chances]) -> String {
    let mut out = String::new();
    for chances in all {
        let _ = writeln!(
            out,
            "\nChance of being over at a moment, everything at {}, by the load at the bus:\n{}",
            number::celsius(chances.air_c),
            grid(chances)
        );
        out.push_str(&conditions(chances));
    }
    out
}

/// A row: whose chance, and which it is at each load.
type Row<'a> = (&'a str, Box<dyn Fn(&AtLoad) -> Chance + 'a>);

fn grid(chances: &Chances) -> String {
    let elements = ranked(chances).into_iter().take(MOST).filter_map(|k| {
        let element = chances.loads.first()?.elements.get(k)?;
        Some((element.id.as_str(), Box::new(move |at: &AtLoad| at.elements[k].chance) as _))
    });
    let mut rows: Vec<Row<'_>> = vec![("any element", Box::new(|at| at.any))];
    rows.extend(elements);
    rows.push(("load not carried", Box::new(|at| at.not_carried)));
    let over = Table::<&Row<'_>>::new().shown("over", Look::Words, |(name, _)| (*name).to_owned());
    let table = chances.loads.iter().fold(over, |table, at| {
        let heading = format!("{} {}", share(at), load(at));
        table.shown(heading.trim(), Look::Number, move |(_, of)| chance(of(at)))
    });
    table.to_terminal(&rows)
}

/// Places of the elements that any set puts over, worst at the greatest load first.
pub fn ranked(chances: &Chances) -> Vec<usize> {
    let count = chances.loads.first().map_or(0, |at| at.elements.len());
    let low = |at: &AtLoad, k: usize| at.elements[k].chance.low;
    let mut places: Vec<usize> = (0..count).filter(|&k| chances.loads.iter().any(|at| low(at, k) > 0.0)).collect();
    let worse = |&a: &usize, &b: &usize| {
        let by_load = chances.loads.iter().rev().map(|at| low(at, b).total_cmp(&low(at, a)));
        by_load.fold(std::cmp::Ordering::Equal, std::cmp::Ordering::then)
    };
    places.sort_by(worse);
    places
}

/// What the chances are made of.
pub fn conditions(chances: &Chances) -> String {
    let mut text =
        format!("A module is out with probability {} by chance", number::probability(chances.module_unavailability));
    if chances.stack_unavailability > 0.0 {
        let _ = write!(text, ", a whole stack with {}", number::probability(chances.stack_unavailability));
    }
    let _ = write!(text, "; {} solved", number::counted(chances.sets, "set", "sets"));
    if chances.remaining > 0.0 {
        let _ = write!(text, ", all others together below {}", number::upper(chances.remaining));
    } else {
        text.push_str(", which are all");
    }
    if !chances.not_counted.is_empty() {
        let _ = write!(text, ". Not counted: {}", chances.not_counted.join("; "));
    }
    text + ".\n"
}

/// One row a temperature, load and element; `any` and `not_carried` are elements here.
pub fn csv(all: &[Chances]) -> String {
    let loads = all.iter().flat_map(|chances| chances.loads.iter().map(move |at| (chances.air_c, at)));
    let rows = loads.flat_map(|(air, at)| {
        let own = [("any", at.any), ("not_carried", at.not_carried)];
        let all = own.into_iter().chain(at.elements.iter().map(|e| (e.id.as_str(), e.chance)));
        all.map(move |(id, chance)| (air, at, id, chance))
    });
    Table::<(f64, &AtLoad, &str, Chance)>::new()
        .column(["air_degc"], |(air, ..)| air)
        .column(["load_share"], |(_, at, ..)| at.load_share)
        .column(["power_w"], |(_, at, ..)| at.power_w)
        .column(["current_a"], |(_, at, ..)| at.current_a)
        .column(["element"], |(_, _, id, _)| id)
        .column(["low", "high"], |(.., c)| [c.low, c.high])
        .to_csv(rows)
}
