//! How often each element is over its rating, with the 95 % interval, against the target.
//!
//! In: the results document. Out: a figure, worst element first. Of an element that was never over,
//! the upper bound is drawn as an open bracket: zero seen is not zero. Where calendar nights are told apart, their interval
//! decides: it is the thin line, and the one in words.

use crate::math;
use crate::output::kit::chart::label;
use crate::output::kit::chart::prelude::*;
use crate::output::kit::words::verdict_mark;
use crate::output::run::words::{self, Intervals};
use crate::summary::{ElementResult, Estimate, Results, Verdict};

/// Elements drawn at most, and of those never seen over at most.
const MOST: usize = 20;
const MOST_UNSEEN: usize = 4;
const LEFT: f64 = 128.0;
/// Width of `✔ below target`, and the gap before a column.
const STATUS: f64 = 106.0;
const COLUMN_GAP: f64 = 12.0;
const ROW: f64 = 24.0;

struct Row {
    id: String,
    /// Whether it is of all elements together.
    summed: bool,
    probability: Estimate,
}

/// The bars of a figure and what they are drawn against.
struct Ranking {
    rows: Vec<Row>,
    target: Option<f64>,
    logarithmic: bool,
}

/// Overload probability by element.
///
/// # Errors
/// Only where the embedded font is damaged.
pub fn overload(results: &Results) -> Result<String, ChartError> {
    let ranking = rank(results);
    let axis = ranking.axis();
    let notes = wrap(&left_over(results, &ranking), SMALL, WIDTH - 12.0);
    let plot = ROW * ranking.rows.len() as f64 + 8.0;
    let height = 24.0 + plot + 60.0 + notes.len() as f64 * LINE;
    figure(results, &ranking).draw(height, |sheet, top| {
        let frame = Frame { left: LEFT, top: top + 24.0, width: WIDTH - LEFT - ranking.right(), height: plot };
        let n = ranking.rows.len() as f64;
        let mut panel = canvas::panel(sheet, frame, &axis, &Axis::bare(-n - 0.2, 0.2))?;
        draw_target(sheet, &panel, frame, &ranking)?;
        for (k, row) in ranking.rows.iter().enumerate() {
            draw_row(sheet, &mut panel, &ranking, (-(k as f64) - 0.5, row))?;
        }
        canvas::notes(sheet, &notes, frame.top + plot + 64.0)
    })
}

fn figure<'a>(results: &Results, ranking: &Ranking) -> Figure<'a> {
    let scale = if ranking.logarithmic { "; logarithmic scale" } else { "" };
    let line = match words::intervals(results) {
        Intervals::None => "",
        Intervals::Trials => "; line: 95 % interval",
        Intervals::TrialsAndNights => {
            "; thick line: 95 % interval by trials; thin line, and in words: by calendar nights"
        }
    };
    let rows = ranking.rows.iter().map(|r| format!("{}: {}.", r.id, number::frequency(&r.probability, results.trials)));
    Figure {
        name: "overload",
        title: words::headline(results),
        subtitle: format!(
            "{} of {}; overload is a current over the rating for longer than {}. Mark: share of nights{line}{scale}.",
            number::counted(results.trials, "night", "nights"),
            number::hours(results.horizon_h),
            number::duration(results.hold_s / 3600.0),
        ),
        description: rows.collect::<Vec<_>>().join(" "),
    }
}

fn rank(results: &Results) -> Ranking {
    let row = |e: &&ElementResult| Row { id: e.id.clone(), summed: false, probability: words::probability(e) };
    let sound = |r: &Row| [r.probability.estimate, r.probability.low, r.probability.high].iter().all(|p| p.is_finite());
    let seen = words::overloaded(results);
    let unseen = words::never_over(results);
    let room = (MOST.saturating_sub(seen.len())).min(if seen.is_empty() { 2 * MOST_UNSEEN } else { MOST_UNSEEN });
    let mut rows = vec![Row { id: "any element".into(), summed: true, probability: results.overload.any }];
    rows.extend(seen.iter().take(MOST).map(row));
    rows.extend(unseen.iter().take(room).map(row));
    rows.retain(sound);
    let target = words::overload_target(results).filter(|t| *t > 0.0 && t.is_finite());
    let logarithmic = wide(&rows, target);
    Ranking { rows, target, logarithmic }
}

/// The estimate with the interval that decides: that by calendar nights where there is one.
fn deciding(p: Estimate) -> Estimate {
    p.by_nights().unwrap_or(p)
}

/// Whether the probabilities differ too much for a linear axis.
fn wide(rows: &[Row], target: Option<f64>) -> bool {
    let shown = rows
        .iter()
        .map(|r| if r.probability.estimate > 0.0 { r.probability.estimate } else { deciding(r.probability).high });
    let positive: Vec<f64> = shown.chain(target).filter(|p| *p > 0.0).collect();
    let greatest = positive.iter().copied().fold(0.0, f64::max);
    let least = positive.iter().copied().fold(f64::INFINITY, f64::min);
    positive.len() > 1 && greatest > 20.0 * least
}

impl Ranking {
    fn axis(&self) -> Axis {
        const NAME: &str = "Probability of overload in one night P (%)";
        let highs = self.rows.iter().map(|r| deciding(r.probability).high.max(r.probability.high));
        let high = highs.chain(self.target).fold(0.0, f64::max);
        if !self.logarithmic {
            return Axis::percent(0.0, if high > 0.0 { (high * 1.08).min(1.0) } else { 1.0 }, NAME);
        }
        let lows = self.rows.iter().map(|r| match r.probability {
            p if p.estimate > 0.0 => p.low.max(p.estimate / 10.0),
            p => p.high / 5.0,
        });
        let low = lows.chain(self.target.map(|t| t / 2.0)).filter(|p| *p > 0.0).fold(1.0, f64::min);
        Axis::log_percent(low / 1.2, (high * 1.3).min(1.0), NAME)
    }

    /// Room right of the axis for what is told in words.
    fn right(&self) -> f64 {
        let words = self.rows.iter().map(|r| text_width(&in_words(r), SMALL));
        let status = if self.target.is_some() { STATUS + COLUMN_GAP } else { 6.0 };
        COLUMN_GAP + words.fold(0.0, f64::max) + status
    }

    /// Where a probability lies on the axis; below its low end, at that end.
    fn at(&self, panel: &Panel, p: f64, row: f64) -> (f64, f64) {
        let x = if self.logarithmic { math::log10(p.max(1e-300)) } else { p };
        let range = panel.plotting_area().get_x_range();
        place(panel, (x.clamp(range.start, range.end), row))
    }
}

fn draw_target(sheet: &Sheet, panel: &Panel, frame: Frame, ranking: &Ranking) -> Drawn {
    let Some(target) = ranking.target else {
        return Ok(());
    };
    let x = ranking.at(panel, target, 0.0).0;
    let style = stroke(Ink::Text.with(Texture::Long), 2.0);
    line(sheet, &[(x, frame.top - 8.0), (x, frame.top + frame.height)], style)?;
    let text = format!("target, any element: {} of nights", number::chosen(target));
    let half = text_width(&text, SMALL) / 2.0;
    let centre = label::spread(&[x], 0.0, 6.0 + half, WIDTH - 6.0 - half);
    write(sheet, &text, (centre.first().copied().unwrap_or(x), frame.top - 17.0), Ink::Text, Align::Middle)
}

fn draw_row(sheet: &Sheet, panel: &mut Panel, ranking: &Ranking, (at, row): (f64, &Row)) -> Drawn {
    let (p, outer) = (row.probability, deciding(row.probability));
    let verdict = ranking.target.map(|t| p.stays_within(t));
    let over = verdict == Some(Verdict::Missed);
    let ink = if over { Ink::Vermillion } else { Ink::Blue };
    let (low, high) = (ranking.at(panel, p.low, at), ranking.at(panel, p.high, at));
    if p.estimate > 0.0 {
        if !p.is_exact() {
            interval(sheet, low, high, ink)?;
            line(
                sheet,
                &[ranking.at(panel, outer.low, at), ranking.at(panel, outer.high, at)],
                stroke(ink.colour(), 1.5),
            )?;
        }
        draw_mark(sheet, ranking.at(panel, p.estimate, at), (over, ink))?;
    } else if !p.is_exact() {
        bracket(sheet, low, ranking.at(panel, outer.high, at))?;
    }
    draw_words(sheet, ranking, (row, verdict), low.1)
}

/// A disc; a cross where the element is over the target.
fn draw_mark(sheet: &Sheet, (x, y): (f64, f64), (over, ink): (bool, Ink)) -> Drawn {
    if !over {
        return disc(sheet, (x, y), 5.0, ink);
    }
    let style = stroke(ink.colour(), 3.0);
    line(sheet, &[(x - 5.0, y - 5.0), (x + 5.0, y + 5.0)], style)?;
    line(sheet, &[(x - 5.0, y + 5.0), (x + 5.0, y - 5.0)], style)
}

fn draw_words(sheet: &Sheet, ranking: &Ranking, (row, verdict): (&Row, Option<Verdict>), y: f64) -> Drawn {
    let name = shorten(&row.id, SMALL, LEFT - 16.0);
    let in_weight = if row.summed { write_bold } else { write };
    in_weight(sheet, &name, (LEFT - 10.0, y), Ink::Text, Align::End)?;
    let column = WIDTH - ranking.right() + COLUMN_GAP;
    write(sheet, &in_words(row), (column, y), Ink::Text, Align::Start)?;
    let Some(verdict) = verdict else {
        return Ok(());
    };
    let ink = match verdict {
        Verdict::Missed => Ink::VermillionText,
        Verdict::Met => Ink::GreenText,
        Verdict::NotDecided => Ink::Muted,
    };
    let told = format!("{} {}", verdict_mark(verdict).0, words::against_target(verdict));
    write(sheet, &told, (WIDTH - STATUS, y), ink, Align::Start)
}

fn in_words(row: &Row) -> String {
    number::frequency_short(&deciding(row.probability))
}

/// What the figure does not show.
fn left_over(results: &Results, ranking: &Ranking) -> String {
    let shown = |id: &str| ranking.rows.iter().any(|r| r.id == id);
    let seen = words::overloaded(results).iter().filter(|e| !shown(&e.id)).count();
    let never = words::never_over(results);
    let hidden: Vec<_> = never.into_iter().filter(|e| !shown(&e.id)).collect();
    let unrated = words::unrated(results);
    let mut parts = Vec::new();
    if seen > 0 {
        parts.push(format!("{} with fewer overloads", number::counted(seen as u64, "element", "elements")));
    }
    if !hidden.is_empty() {
        let elements = number::counted(hidden.len() as u64, "further element", "further elements");
        parts.push(format!("{elements} never seen over{}", words::each_below(&hidden)));
    }
    if unrated > 0 {
        parts.push(format!("{} without a rating, not judged", number::counted(unrated as u64, "element", "elements")));
    }
    if parts.is_empty() { String::new() } else { format!("Not drawn: {}.", parts.join("; ")) }
}
