//! What is proposed: the layouts by price, cheapest first, and what became of each.

use super::price_axis;
use crate::output::chart::ChartError;
use crate::output::chart::axis::Axis;
use crate::output::chart::canvas::{
    self, Align, Drawn, Figure, Frame, LINE, Panel, SMALL, Sheet, WIDTH, line, place, stroke,
};
use crate::output::chart::ink::{Ink, Texture};
use crate::output::compare::proposal::{fate_mark, reason, sentences, word};
use crate::study::propose::{Fate, Judged, Proposal};
use plotters::element::Circle;
use plotters::style::Color;

/// Layouts that are drawn.
const MOST: usize = 20;
const LEFT: f64 = 208.0;
const RIGHT: f64 = 352.0;
const ROW: f64 = 40.0;
const AXIS: f64 = 54.0;

/// # Errors
/// Only where the embedded font is damaged.
pub fn proposal(p: &Proposal) -> Result<String, ChartError> {
    let rows: Vec<&Judged> = p.layouts.iter().take(MOST).collect();
    let notes = canvas::wrap(&note(p, rows.len()), SMALL, WIDTH - 12.0);
    let height = ROW * rows.len() as f64;
    figure(p).draw(height + AXIS + LINE * (notes.len() as f64 + 1.0), |sheet, top| {
        let frame = Frame { left: LEFT, top: top + 6.0, width: WIDTH - LEFT - RIGHT, height };
        let prices = price_axis(rows.iter().map(|l| l.price), p.currency.as_deref(), (0.1, 3));
        let panel = canvas::panel(sheet, frame, &prices, &Axis::bare(-(rows.len() as f64), 0.0))?;
        for (k, layout) in rows.iter().enumerate() {
            row(sheet, &panel, layout, (frame, k))?;
        }
        for (k, note) in notes.iter().enumerate() {
            let y = frame.top + height + AXIS + LINE * (k as f64 + 0.5);
            canvas::write(sheet, note, (6.0, y), Ink::Muted, Align::Start)?;
        }
        Ok(())
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

fn row(sheet: &Sheet, panel: &Panel, layout: &Judged, (frame, k): (Frame, usize)) -> Drawn {
    let y = frame.top + ROW * (k as f64 + 0.5);
    let (ink, text) = inks(layout.fate);
    let name = canvas::shorten(&layout.name, SMALL, LEFT - 18.0);
    canvas::write(sheet, &name, (LEFT - 10.0, y), Ink::Text, Align::End)?;
    let x = place(panel, (layout.price, 0.0)).0;
    let right = frame.left + frame.width;
    line(sheet, &[(x, y), (right, y)], stroke(Ink::Muted.with(Texture::Dots), 1.0))?;
    let radius = canvas::px(if layout.fate == Fate::Proposed { 7.0 } else { 4.5 });
    let spot = (canvas::px(x), canvas::px(y));
    sheet.draw(&Circle::new(spot, radius, ink.colour().filled())).map_err(canvas::fail)?;
    let fate = format!("{} {}", fate_mark(layout.fate), word(layout.fate));
    if layout.fate == Fate::Proposed {
        canvas::write_bold(sheet, &fate, (right + 10.0, y - 9.0), text, Align::Start)?;
    } else {
        canvas::write(sheet, &fate, (right + 10.0, y - 9.0), text, Align::Start)?;
    }
    let why = canvas::shorten(&reason(layout), SMALL, RIGHT - 16.0);
    canvas::write(sheet, &why, (right + 10.0, y + 9.0), Ink::Muted, Align::Start)
}

fn note(p: &Proposal, rows: usize) -> String {
    let more = p.layouts.len() - rows;
    let more = if more > 0 { format!(" Not drawn: {more} dearer ones, in proposal.csv.") } else { String::new() };
    let told = sentences(p).into_iter().skip(1).filter(|s| !s.starts_with("Next")).collect::<Vec<_>>();
    told.join(" ") + &more
}
