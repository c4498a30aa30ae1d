//! One replayed night: currents, share of rating, temperatures and states above one time axis.
//!
//! In: the record of one trial. Out: a figure of small multiples; events are numbered where they
//! fall and told below. Each panel draws itself; this file decides what stands where.

mod events;
mod lines;
mod states;

use crate::engine::record::Record;
use crate::output::kit::chart::ChartError;
use crate::output::kit::chart::axis::Axis;
use crate::output::kit::chart::canvas::{self, Align, Drawn, Figure, Frame, LINE, Panel, SMALL, Sheet, WIDTH};
use crate::output::kit::chart::palette::Ink;
use crate::output::kit::number;
use events::Mark;

const LEFT: f64 = 104.0;
const RIGHT: f64 = 136.0;
/// Room for a panel's heading above it, and for the last axis.
const HEADING: f64 = 28.0;
const GAP: f64 = 12.0;
const AXIS: f64 = 66.0;
/// Room for the numbers of events above the first panel.
const MARKS: f64 = 22.0;

/// What all panels share.
struct Night<'a> {
    record: &'a Record,
    hours: f64,
    /// Clock time of the start [h after midnight], where there is a calendar.
    start: Option<f64>,
    marks: Vec<Mark>,
}

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
    let legend = night.legend(&rows);
    let panels: f64 = heights.iter().map(|h| h + HEADING + GAP).sum();
    let height = night.above() + panels + AXIS + legend.len() as f64 * LINE + 12.0;
    night.figure().draw(height, |sheet, top| {
        let bottom = night.draw_panels(sheet, top + night.above(), heights, &rows)?;
        states::draw_key(sheet, bottom, &rows)?;
        for (k, (text, ink)) in legend.iter().enumerate() {
            canvas::write(sheet, text, (6.0, bottom + LINE * (k as f64 + 1.0)), *ink, Align::Start)?;
        }
        Ok(())
    })
}

impl Night<'_> {
    /// Room that the numbers of events take above the first panel.
    fn above(&self) -> f64 {
        if self.marks.is_empty() { 0.0 } else { MARKS }
    }

    fn figure<'a>(&self) -> Figure<'a> {
        let date = match self.record.start.as_str() {
            "" => String::new(),
            start => format!(" from {start}, local time"),
        };
        let numbers = if self.marks.is_empty() { "" } else { " Numbers above the panels mark events, listed below." };
        let told = self.marks.iter().map(events::Mark::line);
        Figure {
            name: "night",
            title: lines::headline(self.record),
            subtitle: format!(
                "Trial {}{date}, {}, replayed step by step.{numbers}",
                self.record.trial,
                number::hours(self.hours)
            ),
            description: told.collect::<Vec<_>>().join(". "),
        }
    }

    /// Returns the height below the time axis.
    fn draw_panels(&self, sheet: &Sheet, top: f64, heights: [f64; 4], rows: &states::Rows) -> Result<f64, ChartError> {
        let [bus, loads, temperatures, states] = heights;
        let frames = stack(top, [bus, loads, temperatures, states]);
        events::draw(sheet, &self.marks, self.hours, &frames)?;
        lines::bus(sheet, self, frames[0])?;
        lines::loads(sheet, self, frames[1])?;
        lines::temperatures(sheet, self, frames[2])?;
        states::draw(sheet, self, frames[3], rows)?;
        Ok(frames[3].top + states + AXIS)
    }

    /// A panel under its heading; only the last one carries the labels of the time axis.
    fn panel<'s>(&self, sheet: &Sheet<'s>, frame: Frame, y: &Axis, last: bool) -> Result<Panel<'s>, ChartError> {
        let mut x = Axis::clock(self.hours, self.start);
        if !last {
            x.show = Box::new(|_| String::new());
            x.name = String::new();
        }
        canvas::panel(sheet, frame, &x, y)
    }

    fn legend(&self, rows: &states::Rows) -> Vec<(String, Ink)> {
        let notes = rows.left_out().into_iter().flat_map(|note| canvas::wrap(&note, SMALL, WIDTH - 12.0));
        let told = events::lines(&self.marks).into_iter().map(|line| (line, Ink::Text));
        let blank = std::iter::once((String::new(), Ink::Muted));
        blank.chain(notes.map(|note| (note, Ink::Muted))).chain(told).collect()
    }
}

fn stack(top: f64, heights: [f64; 4]) -> [Frame; 4] {
    let mut y = top;
    heights.map(|height| {
        let frame = Frame { left: LEFT, top: y + HEADING, width: WIDTH - LEFT - RIGHT, height };
        y += height + HEADING + GAP;
        frame
    })
}

fn heading(sheet: &Sheet, frame: Frame, text: &str) -> Drawn {
    canvas::write_bold(sheet, text, (6.0, frame.top - 14.0), Ink::Text, Align::Start)
}

/// Hours after midnight of `2018-12-31 17:00`.
fn clock_of(start: &str) -> Option<f64> {
    let (_, clock) = start.trim().split_once([' ', 'T'])?;
    let mut parts = clock.split(':');
    let hours: f64 = parts.next()?.parse().ok()?;
    let minutes: f64 = parts.next()?.get(..2)?.parse().ok()?;
    (0.0..24.0).contains(&hours).then_some(hours + minutes / 60.0)
}
