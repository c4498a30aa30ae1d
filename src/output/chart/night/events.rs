//! Events of a night: numbered marks over the panels, and what each number stands for.

use crate::engine::record::Record;
use crate::output::chart::axis;
use crate::output::chart::canvas::{self, Align, Drawn, Frame, Sheet, WIDTH, stroke};
use crate::output::chart::ink::{Ink, Texture};
use crate::output::number;

/// Marks that are told below the figure.
const TOLD: usize = 10;
/// Events closer than this share of the night stand under one number.
const NEAR: f64 = 0.028;

/// One or more events that lie close together.
pub struct Mark {
    pub number: usize,
    pub from_h: f64,
    texts: Vec<(f64, String)>,
}

pub fn marks(record: &Record, hours: f64) -> Vec<Mark> {
    let mut marks: Vec<Mark> = Vec::new();
    for (time, text) in &record.events {
        let at = time.hours();
        let event = (at, text.clone());
        match marks.last_mut() {
            Some(mark) if at - mark.from_h <= NEAR * hours => mark.texts.push(event),
            _ => marks.push(Mark { number: marks.len() + 1, from_h: at, texts: vec![event] }),
        }
    }
    marks
}

impl Mark {
    /// `1. 03:12 A1 opened (cold); 03:13 A.lead1+ over 160 A`
    pub fn line(&self, start: Option<f64>) -> String {
        let show = |at: f64| start.map_or_else(|| format!("{at:.2} h"), |s| axis::clock(s + at));
        let mut shown = String::new();
        let mut text = format!("{}. ", self.number);
        for (k, (at, event)) in self.texts.iter().enumerate() {
            if k > 0 {
                text.push_str("; ");
            }
            let clock = show(*at);
            if clock != shown {
                text.push_str(&clock);
                text.push(' ');
                shown = clock;
            }
            text.push_str(event);
        }
        text
    }
}

/// Lines of text below the figure, each within its width.
pub fn told(marks: &[Mark], start: Option<f64>) -> Vec<String> {
    let mut lines = Vec::new();
    for mark in marks.iter().take(TOLD) {
        let wrapped = canvas::wrap(&mark.line(start), canvas::SMALL, WIDTH - 30.0);
        let indented = wrapped.into_iter().enumerate().map(|(k, l)| if k == 0 { l } else { format!("    {l}") });
        lines.extend(indented.take(3));
    }
    let untold = marks.len().saturating_sub(TOLD);
    if untold > 0 {
        let later = number::counted(untold as u64, "later mark", "later marks");
        lines.push(format!("{later}: see the table of the night."));
    }
    lines
}

/// Thin lines through all panels, with their numbers above the first.
pub fn draw(sheet: &Sheet, marks: &[Mark], hours: f64, frames: &[Frame]) -> Drawn {
    for mark in marks {
        for (k, frame) in frames.iter().enumerate() {
            let at = frame.left + frame.width * (mark.from_h / hours.max(1e-9)).clamp(0.0, 1.0);
            let line = [(at, frame.top), (at, frame.top + frame.height)];
            canvas::line(sheet, &line, stroke(Ink::Muted.with(Texture::Dots), 1.2))?;
            if k == 0 {
                let number = mark.number.to_string();
                canvas::write_bold(sheet, &number, (at, frame.top - 9.0), Ink::Text, Align::Middle)?;
            }
        }
    }
    Ok(())
}
