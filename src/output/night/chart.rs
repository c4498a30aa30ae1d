//! One replayed night: currents, share of rating, temperatures and states above one time axis.
//!
//! In: the record of one trial. Out: a figure of small multiples; events are numbered where they
//! fall and told below. Each panel draws itself; this file decides what stands where.

mod events;
mod lines;
mod panel;
mod states;

use crate::engine::record::Record;
use crate::output::kit::chart::prelude::*;
use panel::Night;

const LEFT: f64 = 104.0;
const RIGHT: f64 = 136.0;
/// Room for a panel's heading above it, and for the last axis.
const HEADING: f64 = 28.0;
const GAP: f64 = 12.0;
const AXIS: f64 = 66.0;

/// The replayed night.
///
/// # Errors
/// Only where the embedded font is damaged.
pub fn night(record: &Record) -> Result<String, ChartError> {
    let hours = record.moments.last().map_or(0.0, |m| m.time.hours());
    let start = clock_of(&record.start);
    let marks = events::marks(record, hours, start, WIDTH - LEFT - RIGHT);
    let night = Night { record, hours, start, marks };
    let rows = states::rows(record);
    let heights = [110.0, 160.0, 130.0, rows.height()];
    let legend = legend(&night, &rows);
    let panels: f64 = heights.iter().map(|h| h + HEADING + GAP).sum();
    let height = night.above() + panels + AXIS + legend.len() as f64 * LINE + 12.0;
    figure(&night).draw(height, |sheet, top| {
        let bottom = draw_panels(sheet, &night, top + night.above(), (heights, &rows))?;
        states::draw_key(sheet, bottom, &rows)?;
        for (k, (text, ink)) in legend.iter().enumerate() {
            write(sheet, text, (6.0, bottom + LINE * (k as f64 + 1.0)), *ink, Align::Start)?;
        }
        Ok(())
    })
}

fn figure<'a>(night: &Night) -> Figure<'a> {
    let date = match night.record.start.as_str() {
        "" => String::new(),
        start => format!(" from {start}, local time"),
    };
    let numbers = if night.marks.is_empty() { "" } else { " Numbers above the panels mark events, listed below." };
    let told = night.marks.iter().map(events::Mark::line);
    Figure {
        name: "night",
        title: lines::headline(night.record),
        subtitle: format!(
            "Trial {}{date}, {}, replayed step by step.{numbers}",
            night.record.trial,
            number::hours(night.hours)
        ),
        description: told.collect::<Vec<_>>().join(". "),
    }
}

/// Heights of the panels, and the rows of the last.
type Panels<'a> = ([f64; 4], &'a states::Rows);

/// Returns the height below the time axis.
fn draw_panels(sheet: &Sheet, night: &Night, top: f64, (heights, rows): Panels<'_>) -> Result<f64, ChartError> {
    let [bus, loads, temperatures, states] = heights;
    let frames = stack(top, [bus, loads, temperatures, states]);
    events::draw(sheet, &night.marks, night.hours, &frames)?;
    lines::bus(sheet, night, frames[0])?;
    lines::loads(sheet, night, frames[1])?;
    lines::temperatures(sheet, night, frames[2])?;
    states::draw(sheet, night, frames[3], rows)?;
    Ok(frames[3].top + states + AXIS)
}

fn legend(night: &Night, rows: &states::Rows) -> Vec<(String, Ink)> {
    let notes = rows.left_out().into_iter().flat_map(|note| wrap(&note, SMALL, WIDTH - 12.0));
    let told = events::lines(&night.marks).into_iter().map(|line| (line, Ink::Text));
    let blank = std::iter::once((String::new(), Ink::Muted));
    blank.chain(notes.map(|note| (note, Ink::Muted))).chain(told).collect()
}

fn stack(top: f64, heights: [f64; 4]) -> [Frame; 4] {
    let mut y = top;
    heights.map(|height| {
        let frame = Frame { left: LEFT, top: y + HEADING, width: WIDTH - LEFT - RIGHT, height };
        y += height + HEADING + GAP;
        frame
    })
}

/// Hours after midnight of `2018-12-31 17:00`.
fn clock_of(start: &str) -> Option<f64> {
    let (_, clock) = start.trim().split_once([' ', 'T'])?;
    let mut parts = clock.split(':');
    let hours: f64 = parts.next()?.parse().ok()?;
    let minutes: f64 = parts.next()?.get(..2)?.parse().ok()?;
    (0.0..24.0).contains(&hours).then_some(hours + minutes / 60.0)
}
