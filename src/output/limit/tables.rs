//! The tables of the safe limits: one row a case, temperature, number of modules out and direction.
//!
//! In: the limits. Out: tables. An unknown or unbounded number is an empty cell.

use super::steps::by_air as coldest_first;
use super::words::{binds, limit, set};
use crate::output::kit::number;
use crate::output::kit::table::{Look, Table};
use crate::study::limit::{AtAir, Bound, Direction, Limits, Row};

/// Temperatures of a longer range are told here and there; the CSV file has them all.
const MOST_AIRS: usize = 18;

/// A limit: its case, the temperature of everything [°C], the number of modules out, and the direction.
#[derive(Clone, Copy)]
struct Case<'a> {
    case: &'static str,
    air: f64,
    row: &'a Row,
    side: Direction,
}

impl<'a> Case<'a> {
    fn bound(self) -> &'a Bound {
        self.row.side(self.side)
    }
}

/// Every row of the limits.
pub fn csv(limits: &Limits) -> String {
    let sides = |case: &'static str, air: f64, rows| -> Vec<Case<'_>> {
        let rows: &[Row] = rows;
        rows.iter().flat_map(|row| Direction::BOTH.map(|side| Case { case, air, row, side })).collect()
    };
    let own =
        [sides("limits", limits.air_c, &limits.limits), sides("one_lead_open", limits.air_c, &limits.one_lead_open)];
    let by_air = limits.by_air.iter().map(|at| sides("by_air", at.air_c, &at.limits));
    table().to_csv(own.into_iter().chain(by_air).flatten())
}

/// One direction for people, by number of modules out.
pub fn rows(rows: &[Row], side: Direction) -> String {
    table().to_terminal(rows.iter().map(|row| Case { case: "", air: f64::NAN, row, side }))
}

fn table<'a>() -> Table<'a, Case<'a>> {
    let amps = |amps: Option<f64>| amps.map_or(number::NONE.to_owned(), number::current);
    let low = |b: &Bound| b.bounds.map_or(b.current_a, |range| Some(range.low_a));
    let high = |b: &Bound| b.bounds.map_or(b.current_a, |range| range.high_a);
    Table::<Case<'a>>::new()
        .column(["case"], |c| c.case)
        .column(["air_degc"], |c| c.air)
        .column(["outages"], |c| c.row.outages)
        .terminal("out", Look::Number, |c| c.row.outages.to_string())
        .column(["direction"], |c| c.side.to_string())
        .column(["limit_a"], |c| c.bound().current_a)
        .terminal("limit", Look::Number, |c| limit(c.bound()))
        .column(["exact"], |c| c.bound().bounds.is_none())
        .column(["low_a", "high_a"], move |c| [low(c.bound()), high(c.bound())].map(|a| a.unwrap_or(f64::NAN)))
        .column(["binding"], |c| c.bound().binding.as_deref())
        .terminal("binds", Look::Words, |c| binds(c.bound()))
        .column(["why"], |c| c.bound().why.to_string())
        .column(["limited_by"], |c| c.bound().limited_by.map(|by| by.to_string()))
        .column(["out"], |c| c.bound().out.join(" "))
        .column(["open"], |c| c.bound().open.as_deref())
        .column(["open_device"], |c| c.bound().open_device.as_deref())
        .column(["announced_a"], |c| c.bound().announced_a)
        .terminal("announced", Look::Number, move |c| amps(c.bound().announced_a))
        .column(["gap_a"], |c| c.bound().gap_a())
        .terminal("gap", Look::Number, move |c| amps(c.bound().gap_a()))
        .for_people()
        .terminal("worst set", Look::Words, |c| with_found(c.bound()))
}

/// The worst set; where not all were solved, the worst that was found, with its limit.
fn with_found(bound: &Bound) -> String {
    let found = bound.bounds.map_or(String::new(), |range| {
        let high = range.high_a.map_or("unbounded".to_string(), number::current);
        format!("found {high}: ")
    });
    found + &set(bound)
}

/// The limits by temperature: a column a direction and number of modules out.
pub fn by_air(limits: &Limits) -> String {
    let air = Table::<&AtAir>::new().shown("air", Look::Number, |at| number::celsius_asked(at.air_c));
    let sides = [Direction::Discharge, Direction::Charge].into_iter();
    let columns = sides.flat_map(|side| limits.limits.iter().enumerate().map(move |(k, row)| (side, k, row.outages)));
    let table = columns.fold(air, |table, (side, k, outages)| {
        let heading = format!("{}, {outages} out", side);
        table.shown(&heading, Look::Number, move |at| {
            at.limits.get(k).map_or_else(String::new, |row| limit(row.side(side)))
        })
    });
    let all = coldest_first(limits);
    let (every, last) = (all.len().div_ceil(MOST_AIRS), all.len().saturating_sub(1));
    table.to_terminal(all.into_iter().enumerate().filter(|(k, _)| k % every == 0 || *k == last).map(|(_, at)| at))
}
