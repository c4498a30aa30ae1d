//! Events of a night: numbered marks over the panels, and what each number stands for.

use crate::engine::record::Record;
use crate::output::kit::chart::axis::moment;
use crate::output::kit::chart::prelude::*;

/// Lines below the figure in all, and of one mark.
const LINES: usize = 30;
const LINES_OF_ONE: usize = 3;
/// Room that a number of two digits takes [CSS px].
const APART: f64 = 24.0;
/// Elements named at most where one thing happens to several at once.
const NAMED: usize = 3;
const INDENT: &str = "\u{a0}\u{a0}\u{a0}\u{a0}";

/// One or more events that lie close together.
pub struct Mark {
    pub number: usize,
    pub from_h: f64,
    /// In words, each with its time where that is another than the one before.
    told: Vec<Told>,
}

/// What happened at one time to one element, or to several alike.
struct Told {
    words: String,
    events: usize,
}

/// Marks so far apart that their numbers have room on a panel of this width [CSS px].
pub fn marks(record: &Record, hours: f64, start: Option<f64>, width: f64) -> Vec<Mark> {
    let near = APART / width * hours;
    let mut groups: Vec<Vec<(f64, &str)>> = Vec::new();
    for (time, text) in &record.events {
        let event = (time.hours(), text.as_str());
        match groups.last_mut() {
            Some(group) if event.0 - group[0].0 < near => group.push(event),
            _ => groups.push(vec![event]),
        }
    }
    let mark = |(k, group): (usize, &Vec<(f64, &str)>)| Mark {
        number: k + 1,
        from_h: group[0].0,
        told: told(record, group, |at| moment(at, start, hours)),
    };
    groups.iter().enumerate().map(mark).collect()
}

/// The events of a group, those that follow each other and tell the same of several elements as one.
fn told(record: &Record, group: &[(f64, &str)], clock: impl Fn(f64) -> String) -> Vec<Told> {
    let split = |event: &(f64, &str)| {
        let (head, tail) = event.1.split_once(' ')?;
        let element = record.modules.iter().chain(&record.conductors).any(|id| id == head);
        element.then(|| (head.to_owned(), tail.to_owned()))
    };
    let alike = |a: &(f64, &str), b: &(f64, &str)| {
        let tails = (split(a).map(|s| s.1), split(b).map(|s| s.1));
        clock(a.0) == clock(b.0) && tails.0.is_some() && tails.0 == tails.1
    };
    let mut shown = String::new();
    let words = |run: &[(f64, &str)]| {
        let at = clock(run[0].0);
        let what = match (split(&run[0]), run.len()) {
            (Some((_, tail)), 2..) => {
                let heads: Vec<String> = run.iter().filter_map(split).map(|s| s.0).collect();
                format!("{} {}", listed(&heads), tail.replacen("its limit", "their limit", 1))
            }
            _ => run[0].1.to_owned(),
        };
        let words = match at.strip_prefix(day_of(&shown)) {
            _ if at == shown => what,
            later => format!("{} {what}", later.unwrap_or(&at)),
        };
        shown = at;
        Told { words, events: run.len() }
    };
    group.chunk_by(alike).map(words).collect()
}

/// `day 2 ` of `day 2 03:12`; nothing where no day is told.
fn day_of(moment: &str) -> &str {
    let clock = moment.rfind(' ').filter(|_| moment.starts_with("day "));
    &moment[..clock.map_or(0, |at| at + 1)]
}

/// `A1 and A2`; `A1, A2, A3 and 5 more`.
fn listed(ids: &[String]) -> String {
    match ids {
        [all @ .., last] if ids.len() <= NAMED + 1 => format!("{} and {last}", all.join(", ")),
        _ => format!("{} and {} more", ids[..NAMED].join(", "), ids.len() - NAMED),
    }
}

impl Mark {
    /// `1. 03:12 A1 open (cold); 03:13 A.lead1+ over its limit 160 A`
    pub fn line(&self) -> String {
        self.first(self.told.len())
    }

    /// The same of so many things that are told; the rest is counted.
    fn first(&self, kept: usize) -> String {
        let words: Vec<&str> = self.told[..kept].iter().map(|t| t.words.as_str()).collect();
        let rest: usize = self.told[kept..].iter().map(|t| t.events).sum();
        let more = if rest > 0 {
            format!("; and {}", number::counted(rest as u64, "more event", "more events"))
        } else {
            String::new()
        };
        format!("{}. {}{more}", self.number, words.join("; "))
    }

    /// On so many lines: as much as fits as a whole.
    fn lines(&self, most: usize) -> Vec<String> {
        let width = WIDTH - 30.0;
        let fits = |kept: &usize| wrap(&self.first(*kept), SMALL, width).len() <= most;
        let kept = (1..=self.told.len()).rev().find(fits).unwrap_or(1);
        wrap(&self.first(kept), SMALL, width)
    }
}

/// Lines of text below the figure, each within its width.
pub fn lines(marks: &[Mark]) -> Vec<String> {
    let most = (LINES / marks.len().max(1)).clamp(1, LINES_OF_ONE);
    let indent = |(k, line): (usize, String)| if k == 0 { line } else { format!("{INDENT}{line}") };
    marks.iter().flat_map(|mark| mark.lines(most).into_iter().enumerate().map(indent)).collect()
}

/// Thin lines through all panels, with their numbers above the first.
pub fn draw(sheet: &Sheet, marks: &[Mark], hours: f64, frames: &[Frame]) -> Drawn {
    for mark in marks {
        for (k, frame) in frames.iter().enumerate() {
            let at = frame.left + frame.width * (mark.from_h / hours.max(1e-9)).clamp(0.0, 1.0);
            let ends = [(at, frame.top), (at, frame.top + frame.height)];
            line(sheet, &ends, stroke(Ink::Muted.with(Texture::Dots), 1.2))?;
            if k == 0 {
                let number = mark.number.to_string();
                write_bold(sheet, &number, (at, frame.top - 9.0), Ink::Text, Align::Middle)?;
            }
        }
    }
    Ok(())
}
