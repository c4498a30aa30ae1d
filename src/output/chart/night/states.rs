//! The band chart of module states: a row a module, told apart by pattern and words.

use super::{Night, heading};
use crate::engine::module::State;
use crate::engine::record::Record;
use crate::output::chart::axis::Axis;
use crate::output::chart::canvas::{self, Align, Drawn, Frame, Sheet, area, line, stroke};
use crate::output::chart::ink::{Ink, Texture};
use plotters::style::{Color, RGBAColor};

/// Rows drawn at most; modules that stay in service give way first.
const MOST: usize = 24;
const ROW: f64 = 19.0;

/// One stretch of one state.
struct Stretch {
    from_h: f64,
    to_h: f64,
    state: State,
}

pub struct Row {
    id: String,
    stretches: Vec<Stretch>,
}

/// Modules in order from the first; where there are too many, those that were ever out of service first.
pub fn rows(record: &Record) -> Vec<Row> {
    let mut all: Vec<Row> = (0..record.modules.len()).filter_map(|k| row(record, k)).collect();
    if all.len() > MOST {
        all.retain(|r| r.stretches.iter().any(|s| s.state != State::InService));
        all.truncate(MOST);
    }
    all
}

pub fn height(rows: &[Row]) -> f64 {
    rows.len().max(1) as f64 * ROW
}

fn row(record: &Record, module: usize) -> Option<Row> {
    let mut stretches: Vec<Stretch> = Vec::new();
    for moment in &record.moments {
        let Some(&state) = moment.module_states.get(module) else {
            continue;
        };
        let at = moment.time.hours();
        if let Some(open) = stretches.last_mut() {
            open.to_h = at;
            if open.state == state {
                continue;
            }
        }
        stretches.push(Stretch { from_h: at, to_h: at, state });
    }
    Some(Row { id: record.modules.get(module)?.clone(), stretches })
}

/// Ground, and hatch over it.
fn fills(state: State) -> (RGBAColor, Option<RGBAColor>) {
    match state {
        State::InService => (Ink::Green.colour().mix(0.28), None),
        State::DischargeOnly => (Ink::Blue.colour().mix(0.22), Some(Ink::Blue.with(Texture::Rising).mix(1.0))),
        State::ChargeOnly => (Ink::Purple.colour().mix(0.22), Some(Ink::Purple.with(Texture::Falling).mix(1.0))),
        State::Open => (Ink::Vermillion.colour().mix(0.3), Some(Ink::Vermillion.with(Texture::Crossed).mix(1.0))),
    }
}

pub fn draw(sheet: &Sheet, night: &Night, frame: Frame, rows: &[Row]) -> Drawn {
    heading(sheet, frame, "d · State of each module")?;
    night.panel(sheet, frame, &Axis::bare(0.0, 1.0), true)?;
    if rows.is_empty() {
        let at = (frame.left + 8.0, frame.top + ROW / 2.0);
        return canvas::write(sheet, "all modules in service all night", at, Ink::Text, Align::Start);
    }
    let scale = frame.width / night.hours.max(1e-9);
    for (k, row) in rows.iter().enumerate() {
        let top = frame.top + k as f64 * ROW;
        let id = canvas::shorten(&row.id, canvas::SMALL, frame.left - 16.0);
        canvas::write(sheet, &id, (frame.left - 8.0, top + ROW / 2.0), Ink::Text, Align::End)?;
        for s in &row.stretches {
            let left = frame.left + s.from_h * scale;
            let width = (s.to_h - s.from_h) * scale;
            bar(sheet, Frame { left, top: top + 2.0, width, height: ROW - 4.0 }, s.state)?;
        }
    }
    Ok(())
}

/// A stretch is filled, edged at its start, and named where the word fits.
fn bar(sheet: &Sheet, f: Frame, state: State) -> Drawn {
    if f.width <= 0.0 {
        return Ok(());
    }
    fill(sheet, f, state)?;
    if state == State::InService {
        return Ok(());
    }
    let word = state.word();
    line(sheet, &[(f.left, f.top), (f.left, f.top + f.height)], stroke(Ink::Text.colour(), 1.5))?;
    let width = canvas::text_width(word, canvas::SMALL);
    if width + 14.0 > f.width {
        return Ok(());
    }
    let centre = f.left + f.width / 2.0;
    let plate = Frame { left: centre - width / 2.0 - 4.0, width: width + 8.0, ..f };
    area(sheet, plate, Ink::Surface.colour())?;
    canvas::write(sheet, word, (centre, f.top + f.height / 2.0), Ink::Text, Align::Middle)
}

fn fill(sheet: &Sheet, f: Frame, state: State) -> Drawn {
    let (ground, hatch) = fills(state);
    area(sheet, f, ground)?;
    hatch.map_or(Ok(()), |colour| area(sheet, f, colour))
}

/// The patterns that occur, with their words, in one line.
pub fn draw_key(sheet: &Sheet, y: f64, rows: &[Row]) -> Drawn {
    let mut seen: Vec<State> = Vec::new();
    for stretch in rows.iter().flat_map(|r| &r.stretches) {
        if !seen.contains(&stretch.state) {
            seen.push(stretch.state);
        }
    }
    let mut x = 6.0;
    for state in seen {
        let word = state.word();
        fill(sheet, Frame { left: x, top: y - 7.0, width: 26.0, height: 14.0 }, state)?;
        canvas::write(sheet, word, (x + 32.0, y), Ink::Muted, Align::Start)?;
        x += 32.0 + canvas::text_width(word, canvas::SMALL) + 22.0;
    }
    Ok(())
}
