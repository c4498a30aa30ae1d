//! The band chart of module states: a row a module, told apart by pattern and words.

use crate::engine::module::State;
use crate::engine::record::Record;
use crate::output::kit::chart::prelude::*;
use crate::output::night::chart::panel::{Night, heading};
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

struct Row {
    id: String,
    stretches: Vec<Stretch>,
}

impl Row {
    /// For how long it was not in service in full [h].
    fn out_h(&self) -> f64 {
        let out = self.stretches.iter().filter(|s| s.state != State::InService);
        out.map(|s| s.to_h - s.from_h).sum()
    }

    fn ever_out(&self) -> bool {
        self.stretches.iter().any(|s| s.state != State::InService)
    }
}

/// The modules that are drawn, and how many are not.
pub struct Rows {
    drawn: Vec<Row>,
    in_service: usize,
    out_for_less: usize,
}

/// All modules in order; where there are too many, those that were longest not in service in full.
pub fn rows(record: &Record) -> Rows {
    let all: Vec<Row> = (0..record.modules.len()).filter_map(|k| row(record, k)).collect();
    if all.len() <= MOST {
        return Rows { drawn: all, in_service: 0, out_for_less: 0 };
    }
    let (out, in_service): (Vec<Row>, Vec<Row>) = all.into_iter().partition(Row::ever_out);
    let mut longest: Vec<usize> = (0..out.len()).collect();
    longest.sort_by(|&a, &b| out[b].out_h().total_cmp(&out[a].out_h()));
    longest.truncate(MOST);
    let out_for_less = out.len() - longest.len();
    let drawn = out.into_iter().enumerate().filter(|(k, _)| longest.contains(k)).map(|(_, row)| row).collect();
    Rows { drawn, in_service: in_service.len(), out_for_less }
}

impl Rows {
    pub fn height(&self) -> f64 {
        self.drawn.len().max(1) as f64 * ROW
    }

    /// Which modules have no row, where not all have one.
    pub fn left_out(&self) -> Option<String> {
        let modules = |n: usize| number::counted(n as u64, "module", "modules");
        let alone = self.drawn.is_empty();
        let in_service =
            (self.in_service > 0 && !alone).then(|| format!("{} in service all night", modules(self.in_service)));
        let others = (self.out_for_less > 0)
            .then(|| format!("{} out of full service for no longer than those drawn", modules(self.out_for_less)));
        let all: Vec<String> = in_service.into_iter().chain(others).collect();
        (!all.is_empty()).then(|| format!("Not drawn in panel d: {}; the CSV of the night has them.", all.join("; ")))
    }
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

pub fn draw(sheet: &Sheet, night: &Night, frame: Frame, rows: &Rows) -> Drawn {
    heading(sheet, frame, "d · State of each module")?;
    night.panel(sheet, frame, &Axis::bare(0.0, 1.0), true)?;
    if rows.drawn.is_empty() {
        let at = (frame.left + 8.0, frame.top + ROW / 2.0);
        return write(sheet, "all modules in service all night", at, Ink::Text, Align::Start);
    }
    let scale = frame.width / night.hours.max(1e-9);
    for (k, row) in rows.drawn.iter().enumerate() {
        let top = frame.top + k as f64 * ROW;
        let id = shorten(&row.id, SMALL, frame.left - 16.0);
        write(sheet, &id, (frame.left - 8.0, top + ROW / 2.0), Ink::Text, Align::End)?;
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
    let width = text_width(word, SMALL);
    if width + 14.0 > f.width {
        return Ok(());
    }
    let centre = f.left + f.width / 2.0;
    let plate = Frame { left: centre - width / 2.0 - 4.0, width: width + 8.0, ..f };
    area(sheet, plate, Ink::Surface.colour())?;
    write(sheet, word, (centre, f.top + f.height / 2.0), Ink::Text, Align::Middle)
}

fn fill(sheet: &Sheet, f: Frame, state: State) -> Drawn {
    let (fill, hatch) = fills(state);
    area(sheet, f, fill)?;
    hatch.map_or(Ok(()), |colour| area(sheet, f, colour))
}

/// The patterns that occur, with their words, in one line.
pub fn draw_key(sheet: &Sheet, y: f64, rows: &Rows) -> Drawn {
    let mut seen: Vec<State> = Vec::new();
    for stretch in rows.drawn.iter().flat_map(|r| &r.stretches) {
        if !seen.contains(&stretch.state) {
            seen.push(stretch.state);
        }
    }
    let mut x = 6.0;
    for state in seen {
        let word = state.word();
        fill(sheet, Frame { left: x, top: y - 7.0, width: 26.0, height: 14.0 }, state)?;
        write(sheet, word, (x + 32.0, y), Ink::Muted, Align::Start)?;
        x += 32.0 + text_width(word, SMALL) + 22.0;
    }
    Ok(())
}
