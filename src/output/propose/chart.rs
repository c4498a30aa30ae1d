//! What is proposed: the layouts by price, cheapest first, and what became of each.

use crate::output::compare::chart::risk::price_axis;
use crate::output::kit::chart::prelude::*;
use crate::output::propose::words::{fate_mark, reason, reservations, sentences, word};
use crate::study::propose::{Fate, Judged, Proposal};

/// Layouts that are drawn.
const MOST: usize = 20;
const LEFT: f64 = 208.0;
const RIGHT: f64 = 352.0;
const ROW: f64 = 44.0;
/// Lines of a name, and of why.
const MOST_LINES: usize = 2;
const AXIS: f64 = 54.0;

/// # Errors
/// Only where the embedded font is damaged.
pub fn proposal(p: &Proposal) -> Result<String, ChartError> {
    let rows: Vec<&Judged> = p.layouts.iter().take(MOST).collect();
    let notes = wrap(&note(p, rows.len()), SMALL, WIDTH - 12.0);
    let rows: Vec<Row> = rows.into_iter().map(Row::new).collect();
    let height = rows.iter().map(Row::height).sum();
    figure(p).draw(height + AXIS + LINE * (notes.len() as f64 + 1.0), |sheet, top| {
        let frame = Frame { left: LEFT, top: top + 6.0, width: WIDTH - LEFT - RIGHT, height };
        let prices = price_axis(rows.iter().map(|row| row.layout.price), p.currency.as_deref(), (0.1, 3));
        let panel = canvas::panel(sheet, frame, &prices, &Axis::bare(-1.0, 0.0))?;
        let mut row_top = frame.top;
        for row in &rows {
            row.draw(sheet, &panel, (frame, row_top + row.height() / 2.0))?;
            row_top += row.height();
        }
        canvas::notes(sheet, &notes, frame.top + height + AXIS + 0.5 * LINE)
    })
}

fn figure<'a>(p: &Proposal) -> Figure<'a> {
    let mut told = sentences(p).into_iter();
    let title = told.next().unwrap_or_default();
    Figure {
        name: "proposal",
        title: title.trim_end_matches('.').to_owned(),
        subtitle: "Layouts by price of parts, cheapest first, what became of each, and why.".to_owned(),
        description: told.collect::<Vec<_>>().join(" "),
    }
}

fn inks(fate: Fate) -> (Ink, Ink) {
    match fate {
        Fate::Proposed | Fate::RunnerUp => (Ink::Blue, Ink::BlueText),
        Fate::LimitMissed | Fate::TargetMissed => (Ink::Vermillion, Ink::VermillionText),
        Fate::NotDecided | Fate::NotRun => (Ink::Muted, Ink::Muted),
    }
}

/// One layout, its words in lines.
struct Row<'a> {
    layout: &'a Judged,
    name: Vec<String>,
    why: Vec<String>,
}

impl Row<'_> {
    fn new(layout: &Judged) -> Row<'_> {
        Row { layout, name: lines(&layout.name, LEFT - 18.0), why: lines(&reason(layout), RIGHT - 16.0) }
    }

    fn height(&self) -> f64 {
        ROW + LINE * (self.why.len().max(1) - 1) as f64
    }

    fn draw(&self, sheet: &Sheet, panel: &Panel, (frame, y): (Frame, f64)) -> Drawn {
        let fate = self.layout.fate;
        let (ink, text) = inks(fate);
        let x = place(panel, (self.layout.price, 0.0)).0;
        let right = frame.left + frame.width;
        line(sheet, &[(x, y), (right, y)], stroke(Ink::Muted.with(Texture::Dots), 1.0))?;
        disc(sheet, (x, y), if fate == Fate::Proposed { 7.0 } else { 4.5 }, ink)?;
        for (k, name) in self.name.iter().enumerate() {
            write(sheet, name, (LEFT - 10.0, y + centred(k, self.name.len())), Ink::Text, Align::End)?;
        }
        let told = self.why.len() + 1;
        let at = |k: usize| (right + 10.0, y + centred(k, told));
        let became = format!("{} {}", fate_mark(fate), word(fate));
        let in_weight = if fate == Fate::Proposed { write_bold } else { write };
        in_weight(sheet, &became, at(0), text, Align::Start)?;
        self.why.iter().enumerate().try_for_each(|(k, why)| write(sheet, why, at(k + 1), Ink::Muted, Align::Start))
    }
}

/// How far the middle of a line of several is below the middle of all.
fn centred(k: usize, lines: usize) -> f64 {
    LINE * (k as f64 - (lines as f64 - 1.0) / 2.0)
}

/// At most `MOST_LINES`, the last cut where there is more.
fn lines(text: &str, width: f64) -> Vec<String> {
    let mut lines = wrap(text, SMALL, width);
    if lines.len() > MOST_LINES {
        let rest = lines.split_off(MOST_LINES - 1).join(" ");
        lines.push(shorten(&rest, SMALL, width));
    }
    lines
}

fn note(p: &Proposal, rows: usize) -> String {
    let more = p.layouts.len() - rows;
    let more = if more > 0 { format!(" Not drawn: {more} dearer ones, in proposal.csv.") } else { String::new() };
    reservations(p).join(" ") + &more
}
