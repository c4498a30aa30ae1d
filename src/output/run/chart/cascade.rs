//! What is lost after what: the most frequent cascades, ranked, and how soon the bank is dead.
//!
//! In: the results document. Out: a figure: one bar a sequence with its 95 % interval, and the time from
//! the first dropout until the bank is dead. Where no cascade was seen, the upper bound stands in its place.

use crate::output::kit::chart::prelude::*;
use crate::output::kit::words::capital;
use crate::output::run::words;
use crate::summary::{Estimate, Results};

/// Sequences drawn at most, and lines of a label at most.
const MOST: usize = 10;
const LABEL_LINES: usize = 3;
/// Stands at the row that sums up all.
const ANY: &str = "any cascade";
const LEFT: f64 = 12.0;
const GAP: f64 = 12.0;
/// Height of a bar, and of its place with the room below it.
const BAR: f64 = 12.0;
const BAR_PLACE: f64 = 28.0;
/// Height of the axis with its name.
const AXIS: f64 = 50.0;
/// Height of the axis of the time until dark, and of the sentence above it.
const DARK: f64 = 112.0;
const SENTENCE: f64 = 20.0;

struct Row {
    label: Vec<String>,
    probability: Estimate,
    /// From the top of the panel [CSS px].
    top: f64,
}

impl Row {
    fn height(label: &[String]) -> f64 {
        label.len() as f64 * LINE + BAR_PLACE
    }

    /// Height of the middle of the bar, from the top of the panel.
    fn bar(&self) -> f64 {
        self.top + self.label.len() as f64 * LINE + BAR / 2.0 + 1.0
    }
}

/// Cascades of all nights.
///
/// # Errors
/// Only where the embedded font is damaged.
pub fn cascade(results: &Results) -> Result<String, ChartError> {
    let width = panel_width(results);
    let rows = rows(results, width);
    let height = rows.last().map_or(0.0, |r| r.top + Row::height(&r.label));
    let notes = wrap(&left_over(results), SMALL, WIDTH - 12.0);
    let dark_words = wrap(&dark_words(results), SMALL, 0.9 * WIDTH);
    let sentence = SENTENCE + (dark_words.len() as f64 - 1.0) * LINE;
    let dark = sentence + if words::dark_after(results).is_some() { DARK } else { 0.0 };
    let below = AXIS + notes.len() as f64 * LINE + 14.0;
    figure(results).draw(height + below + dark, |sheet, top| {
        let frame = Frame { left: LEFT, top, width, height };
        let high = rows.iter().map(|r| r.probability.high).filter(|p| p.is_finite()).fold(0.0, f64::max);
        let high = if high > 0.0 { (high * 1.08).min(1.0) } else { 1.0 };
        let axis = Axis::percent(0.0, high, "Probability of a cascade in one night P (%)");
        let panel = canvas::panel(sheet, frame, &axis, &Axis::bare(-height, 0.0))?;
        for row in &rows {
            draw_row(sheet, &panel, row)?;
        }
        for (k, note) in notes.iter().enumerate() {
            let y = top + height + AXIS + (k as f64 + 0.5) * LINE;
            write(sheet, note, (6.0, y), Ink::Muted, Align::Start)?;
        }
        let top = top + height + below;
        for (k, words) in dark_words.iter().enumerate() {
            let y = top + k as f64 * LINE;
            write_bold(sheet, words, (6.0, y), Ink::Text, Align::Start)?;
        }
        draw_dark(sheet, results, top + sentence - SENTENCE)
    })
}

fn figure<'a>(results: &Results) -> Figure<'a> {
    let nights = number::counted(results.trials, "night", "nights");
    let title = if results.trials == 0 {
        "No night was run: there is nothing to say".into()
    } else {
        words::triggered(results)
    };
    let line = match results.exact {
        true => "",
        false => "; line: 95 % interval; dashed bracket: upper bound where none was seen",
    };
    let told = shown(results)
        .map(|(losses, e)| format!("{}: {}.", losses.join(", then "), number::frequency(&e, results.trials)));
    Figure {
        name: "cascade",
        title,
        subtitle: format!(
            "{nights} of {}; a cascade is {}. Bar: share of nights{line}.",
            number::hours(results.horizon_h),
            words::what_is_a_cascade(results)
        ),
        description: told.chain(std::iter::once(dark_words(results))).collect::<Vec<_>>().join(" "),
    }
}

/// The sequences that are drawn, most frequent first.
fn shown(results: &Results) -> impl Iterator<Item = (&[String], Estimate)> {
    results.cascade.sequences.iter().take(MOST).map(|s| (s.losses.as_slice(), s.chance))
}

/// What the numbers beside the bars leave.
fn panel_width(results: &Results) -> f64 {
    let all = shown(results).map(|(_, e)| e).chain([results.cascade.any]);
    let numbers = all.map(|e| text_width(&number::frequency_short(&e), SMALL));
    WIDTH - LEFT - GAP - numbers.fold(0.0, f64::max) - 6.0
}

/// Any cascade, then the sequences.
fn rows(results: &Results, width: f64) -> Vec<Row> {
    let told = shown(results).map(|(losses, e)| (label(losses, width - 8.0), e));
    let mut top = 4.0;
    std::iter::once((vec![ANY.to_string()], results.cascade.any))
        .chain(told)
        .map(|(label, probability)| {
            let row = Row { top, probability, label };
            top += Row::height(&row.label);
            row
        })
        .collect()
}

/// `A1 (cold) → A2 (over-current)` in few lines: no name is broken, and what has no room is cut.
fn label(losses: &[String], width: f64) -> Vec<String> {
    let glued: Vec<String> = losses.iter().map(|loss| loss.replace(' ', "\u{a0}")).collect();
    let lines = wrap(&glued.join(" →\u{a0}"), SMALL, width);
    let (kept, rest) = lines.split_at(lines.len().min(LABEL_LINES - 1));
    let mut kept = kept.to_vec();
    if !rest.is_empty() {
        kept.push(shorten(&rest.join(" "), SMALL, width));
    }
    kept.iter().map(|line| line.replace('\u{a0}', " ")).collect()
}

fn draw_row(sheet: &Sheet, panel: &Panel, row: &Row) -> Drawn {
    let origin = place(panel, (0.0, 0.0));
    let summed = row.label == [ANY];
    for (k, text) in row.label.iter().enumerate() {
        let at = (origin.0 + 2.0, origin.1 + row.top + (k as f64 + 0.5) * LINE);
        let in_weight = if summed { write_bold } else { write };
        in_weight(sheet, text, at, Ink::Text, Align::Start)?;
    }
    let p = row.probability;
    let x = |p: f64| place(panel, (if p.is_finite() { p } else { 0.0 }, 0.0)).0;
    let y = origin.1 + row.bar();
    if p.estimate > 0.0 {
        let bar = Frame { left: origin.0, top: y - BAR / 2.0, width: x(p.estimate) - origin.0, height: BAR };
        area(sheet, bar, if summed { Ink::Muted.with(Texture::Rising) } else { Ink::Blue.colour() })?;
        if !p.is_exact() {
            interval(sheet, (x(p.low), y), (x(p.high), y), Ink::Text)?;
        }
    } else if p.high.is_finite() && !p.is_exact() {
        bracket(sheet, (origin.0, y), (x(p.high), y))?;
    }
    let end = panel.plotting_area().get_x_range().end;
    let words = number::frequency_short(&p);
    write(sheet, &words, (place(panel, (end, 0.0)).0 + GAP, y), Ink::Text, Align::Start)
}

/// What the figure does not show.
fn left_over(results: &Results) -> String {
    let more = results.cascade.sequences.len().saturating_sub(MOST);
    if more == 0 {
        return String::new();
    }
    format!("Not drawn: {}, in cascades.csv.", number::counted(more as u64, "rarer sequence", "rarer sequences"))
}

fn dark_words(results: &Results) -> String {
    capital(&words::dark(results)) + "."
}

/// How soon after the first dropout the bank was dead, on an axis of its own; nothing where it never was.
fn draw_dark(sheet: &Sheet, results: &Results, top: f64) -> Drawn {
    let Some(times) = words::dark_after(results) else { return Ok(()) };
    let (unit, name) = unit_of(times[2]);
    let frame = Frame { left: LEFT, top: top + 14.0, width: WIDTH - 2.0 * LEFT - 24.0, height: 62.0 };
    let axis = Axis::linear(0.0, times[2] / unit * 1.08, &format!("Time from the first dropout until then t ({name})"));
    let panel = canvas::panel(sheet, frame, &axis, &Axis::bare(0.0, 1.0))?;
    let [low, half, high] = times.map(|s| place(&panel, (s / unit, 0.3)));
    interval(sheet, low, high, Ink::Blue)?;
    disc(sheet, half, 5.0, Ink::Blue)?;
    line(sheet, &[(half.0, half.1 - 8.0), (half.0, half.1 + 8.0)], stroke(Ink::Blue.colour(), 2.5))?;
    let [first, middle, last] = times.map(number::seconds);
    let words = format!("5 % of those nights within {first}, half (disc) within {middle}, 95 % within {last}");
    write(sheet, &words, (frame.left + 4.0, frame.top + 12.0), Ink::BlueText, Align::Start)
}

/// The unit that suits a time, in seconds.
fn unit_of(seconds: f64) -> (f64, &'static str) {
    match seconds {
        s if s < 100.0 => (1.0, "s"),
        s if s < 6000.0 => (60.0, "min"),
        _ => (3600.0, "h"),
    }
}
