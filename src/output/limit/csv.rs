//! The safe limits for other programs: CSV as in `table`, one row a case, temperature, number of modules out and
//! direction.
//!
//! In: the limits. Out: CSV. An unknown or unbounded number is an empty cell.

use crate::output::kit::table::{number, optional, text};
use crate::study::limit::{Direction, Limits, Row};

/// Every row of the limits.
pub fn limits(limits: &Limits) -> String {
    let header = [
        "case",
        "air_degc",
        "outages",
        "direction",
        "limit_a",
        "exact",
        "low_a",
        "high_a",
        "binding",
        "why",
        "limited_by",
        "out",
        "open",
        "open_device",
        "announced_a",
        "gap_a",
    ];
    let own = |case: &str, rows: &[Row]| cells(case, limits.air_c, rows);
    let by_air = limits.by_air.iter().flat_map(|at| cells("by_air", at.air_c, &at.limits));
    let first = own("limits", &limits.limits).into_iter().chain(own("one_lead_open", &limits.one_lead_open));
    text(&header, first.chain(by_air))
}

fn cells(case: &str, air: f64, rows: &[Row]) -> Vec<Vec<String>> {
    let sides = rows.iter().flat_map(|row| Direction::BOTH.map(|side| (row, side)));
    let row = |(row, side): (&Row, Direction)| {
        let bound = row.side(side);
        let low = bound.bounds.map_or(bound.current_a, |b| Some(b.low_a));
        let high = bound.bounds.map_or(bound.current_a, |b| b.high_a);
        vec![
            case.to_string(),
            number(air),
            row.outages.to_string(),
            side.name().to_string(),
            optional(bound.current_a),
            bound.bounds.is_none().to_string(),
            optional(low),
            optional(high),
            bound.binding.clone().unwrap_or_default(),
            bound.why.tag().to_string(),
            bound.limited_by.map_or(String::new(), |by| by.tag().to_string()),
            bound.out.join(" "),
            bound.open.clone().unwrap_or_default(),
            bound.open_device.clone().unwrap_or_default(),
            optional(bound.announced_a),
            optional(bound.gap_a()),
        ]
    };
    sides.map(row).collect()
}
