//! The safe current by how many modules are out, against what is announced and what one division says.
//!
//! In: the limits. Out: a figure: in discharge and in charge a row for each number of modules out, with the limit as
//! a bar, a second bar with one lead conductor open, the announced sum as a mark and the gap to it in amperes. What
//! is only bounded is a bar up to what is proven and a dashed bracket up to what is not excluded.

use crate::output::kit::chart::mark::bracket;
use crate::output::kit::chart::prelude::*;
use crate::output::limit::words::{binds, conditions, least, limit, rounded_down, set};
use crate::study::limit::{Bound, Direction, Limits, Row};

/// Rows drawn at most in each direction.
const MOST: usize = 9;
const LEFT: f64 = 52.0;
const GAP: f64 = 12.0;
/// Room right of the axis for the gap in amperes.
const BESIDE: f64 = 62.0;
/// Widest column of words.
const WORDS: f64 = 230.0;
const BAR: f64 = 13.0;
const ROW: f64 = 46.0;
/// Above a panel: its name, then two lines of labels. Below: the axis.
const HEAD: f64 = 58.0;
const AXIS: f64 = 56.0;

/// A row of the chart: so many out, and the same with one lead conductor open.
struct Pair<'a> {
    row: &'a Row,
    open: Option<&'a Row>,
}

struct Plan<'a> {
    pairs: Vec<Pair<'a>>,
    by_hand: Option<f64>,
    axis: Axis,
    words: f64,
}

/// The limits by number of modules out.
///
/// # Errors
/// Only where the embedded font is damaged.
pub fn limits(limits: &Limits) -> Result<String, ChartError> {
    let plan = Plan::new(limits);
    let notes = wrap(&left_over(limits), SMALL, WIDTH - 12.0);
    let rows = ROW * plan.pairs.len() as f64;
    let panel = HEAD + rows + AXIS;
    figure(limits).draw(2.0 * panel + notes.len() as f64 * LINE + 4.0, |sheet, top| {
        for (k, side) in Direction::BOTH.into_iter().enumerate() {
            let from = top + panel * k as f64;
            let width = WIDTH - LEFT - GAP - BESIDE - plan.words;
            plan.draw(sheet, side, from, Frame { left: LEFT, top: from + HEAD, width, height: rows })?;
        }
        canvas::notes(sheet, &notes, top + 2.0 * panel + 0.5 * LINE)
    })
}

fn figure<'a>(limits: &Limits) -> Figure<'a> {
    let bounds = if limits.limits.iter().any(Row::is_bounded) {
        " Dashed bracket: between what is proven safe and the worst set found."
    } else {
        ""
    };
    Figure {
        name: "limit",
        title: title(limits),
        subtitle: format!(
            "Greatest bank current with nothing over its limit, {}; worst case for each number of modules out, and \
             what binds there.{bounds}",
            conditions(limits)
        ),
        description: limits.limits.iter().map(told).collect::<Vec<_>>().join(" "),
    }
}

/// The finding: how much is safe, and how much is announced.
fn title(limits: &Limits) -> String {
    let Some(first) = limits.limits.first() else {
        return "There is no module".to_string();
    };
    let all_in = &first.discharge;
    let Some(safe) = all_in.current_a else {
        return "Nothing that carries current has a limit in discharge".to_string();
    };
    if safe <= 0.0 {
        return format!("No discharge current is safe even with all modules in: {}", binds(all_in));
    }
    let amps = |a: f64| format!("{} A", rounded_down(a, 1.0));
    let more = limits.limits.last().filter(|row| row.outages > 0);
    let with_out = more.and_then(|row| Some((row, least(limits, Direction::Discharge, row.outages)?.current_a?)));
    let then = with_out.map_or(String::new(), |(row, least)| {
        format!(
            ", {} with any {}",
            amps(least),
            if row.outages == 1 { "one out".into() } else { format!("{} out", row.outages) }
        )
    });
    let announced = all_in.announced_a.filter(|a| *a > safe * (1.0 + 1e-9)).map_or(String::new(), |sum| {
        let less = with_out.and_then(|(row, _)| row.discharge.announced_a);
        let also = less.map_or(String::new(), |a| format!(" and {}", amps(a)));
        format!("; the modules' own limits add up to {}{also}", amps(sum))
    });
    format!("Safe up to {} with all modules in{then}{announced}", amps(safe))
}

fn told(row: &Row) -> String {
    let one = |side: Direction| {
        let bound = row.side(side);
        format!("{}: {}, {} ({})", side, limit(bound), binds(bound), set(bound))
    };
    format!("{} out, {}; {}.", row.outages, one(Direction::Discharge), one(Direction::Charge))
}

fn left_over(limits: &Limits) -> String {
    let more = limits.limits.len().saturating_sub(MOST);
    if more == 0 { String::new() } else { format!("Not drawn: more than {} modules out, in limit.csv.", MOST - 1) }
}

/// Amperes and what binds: `504.4 A: A1`.
fn words(bound: &Bound) -> String {
    format!("{}: {}", limit(bound), binds(bound))
}

impl<'a> Plan<'a> {
    fn new(limits: &'a Limits) -> Plan<'a> {
        let open = |row: &Row| limits.one_lead_open.iter().find(|r| r.outages == row.outages);
        let pairs: Vec<Pair> = limits.limits.iter().take(MOST).map(|row| Pair { row, open: open(row) }).collect();
        let bounds = || {
            let rows = pairs.iter().flat_map(|p| std::iter::once(p.row).chain(p.open));
            rows.flat_map(|row| [&row.discharge, &row.charge])
        };
        let reach = bounds().flat_map(|b| [b.current_a, b.announced_a, b.bounds.and_then(|r| r.high_a)]);
        let high = reach.flatten().chain(limits.by_hand_a).fold(0.0, f64::max);
        let axis = Axis::linear(0.0, if high > 0.0 { high * 1.02 } else { 1.0 }, "Bank current I (A)");
        let widest = bounds().map(|b| text_width(&words(b), SMALL)).fold(0.0, f64::max);
        let series = text_width(ONE_OPEN, SMALL) + 20.0;
        Plan { by_hand: limits.by_hand_a, axis, words: widest.max(series).min(WORDS) + 6.0, pairs }
    }

    fn draw(&self, sheet: &Sheet, side: Direction, top: f64, frame: Frame) -> Drawn {
        write_bold(sheet, &format!("In {}", side), (6.0, top + 8.0), Ink::Text, Align::Start)?;
        let n = self.pairs.len() as f64;
        let panel = canvas::panel(sheet, frame, &self.axis, &Axis::bare(-n, 0.0))?;
        self.series(sheet, frame)?;
        self.references(sheet, &panel, side, frame)?;
        for (k, pair) in self.pairs.iter().enumerate() {
            let at = Line { sheet, panel: &panel, top: frame.top + ROW * k as f64, column: WIDTH - self.words };
            at.draw(pair, side)?;
        }
        Ok(())
    }

    /// Names of the two series over the column of words.
    fn series(&self, sheet: &Sheet, frame: Frame) -> Drawn {
        let x = WIDTH - self.words;
        write(sheet, "■ every lead in", (x, frame.top - 24.0), Ink::BlueText, Align::Start)?;
        if self.pairs.iter().any(|p| p.open.is_some()) {
            write(sheet, ONE_OPEN, (x, frame.top - 7.0), Ink::VermillionText, Align::Start)?;
        }
        Ok(())
    }

    /// What is announced and what one division says, named above the first row.
    fn references(&self, sheet: &Sheet, panel: &Panel, side: Direction, frame: Frame) -> Drawn {
        let Some(first) = self.pairs.first() else { return Ok(()) };
        let right = WIDTH - self.words - GAP;
        let named = |x: f64, y: f64, text: &str, ink: Ink| {
            let half = text_width(text, SMALL) / 2.0;
            let x = x.min(right - half).max(half + 6.0);
            let backing = Frame { left: x - half - 2.0, top: y - 8.0, width: 2.0 * half + 4.0, height: 16.0 };
            area(sheet, backing, Ink::Surface.colour())?;
            write(sheet, text, (x, y), ink, Align::Middle)
        };
        let at = |amps: f64| place(panel, (amps, 0.0)).0;
        if let Some(rule) = self.by_hand {
            let style = stroke(Ink::PurpleText.with(Texture::Long), 2.0);
            line(sheet, &[(at(rule), frame.top - 16.0), (at(rule), frame.top + ROW)], style)?;
            named(at(rule), frame.top - 24.0, &format!("equal sharing {}", number::current(rule)), Ink::PurpleText)?;
        }
        if let Some(sum) = first.row.side(side).announced_a {
            named(at(sum), frame.top - 7.0, &format!("announced {}", number::current(sum)), Ink::Text)?;
        }
        Ok(())
    }
}

const ONE_OPEN: &str = "▨ one lead conductor open";

/// Where one row is drawn.
struct Line<'a, 's, 'p> {
    sheet: &'a Sheet<'s>,
    panel: &'a Panel<'p>,
    top: f64,
    column: f64,
}

impl Line<'_, '_, '_> {
    fn x(&self, amps: f64) -> f64 {
        place(self.panel, (amps, 0.0)).0
    }

    fn draw(&self, pair: &Pair, side: Direction) -> Drawn {
        let name = if pair.row.outages == 0 { "all in".to_string() } else { format!("{} out", pair.row.outages) };
        let upper = self.top + 14.0;
        write(self.sheet, &name, (LEFT - 8.0, self.top + ROW / 2.0), Ink::Text, Align::End)?;
        let bound = pair.row.side(side);
        self.bar(bound, upper, (Ink::Blue, Texture::Plain), Ink::BlueText)?;
        if let Some(open) = pair.open {
            self.bar(open.side(side), upper + 17.0, (Ink::Vermillion, Texture::Rising), Ink::VermillionText)?;
        }
        self.gap(pair, side, upper)
    }

    fn bar(&self, bound: &Bound, y: f64, (ink, texture): (Ink, Texture), text: Ink) -> Drawn {
        let end = self.panel.plotting_area().get_x_range().end;
        let (left, right) = (self.x(0.0), self.x(bound.current_a.unwrap_or(end)));
        let frame = Frame { left, top: y - BAR / 2.0, width: right - left, height: BAR };
        if bound.current_a.is_none() {
            line(self.sheet, &[(left, y), (right, y)], stroke(ink.with(Texture::Short), 2.0))?;
        } else if frame.width > 0.5 {
            area(self.sheet, frame, ink.with(texture))?;
            line(self.sheet, &[(right, frame.top), (right, frame.top + BAR)], stroke(ink.colour(), 2.0))?;
        }
        if let Some(range) = bound.bounds {
            bracket(self.sheet, (right, y), (self.x(range.high_a.unwrap_or(end)), y))?;
        }
        let words = shorten(&words(bound), SMALL, WIDTH - self.column - 6.0);
        write(self.sheet, &words, (self.column, y), text, Align::Start)
    }

    /// The announced sum, and how far the limit is below it.
    fn gap(&self, pair: &Pair, side: Direction, y: f64) -> Drawn {
        let bound = pair.row.side(side);
        let (Some(announced), Some(current)) = (bound.announced_a, bound.current_a) else { return Ok(()) };
        let mark = self.x(announced);
        let style = stroke(Ink::Text.colour(), 2.5);
        line(self.sheet, &[(mark, self.top + 3.0), (mark, self.top + ROW - 3.0)], style)?;
        let gap = announced - current;
        if gap <= 1e-6 * announced {
            return Ok(());
        }
        let text = format!("−{}", number::current(gap));
        let reached = |b: &Bound| b.bounds.and_then(|r| r.high_a).or(b.current_a).unwrap_or(0.0);
        let from = self.x(reached(bound));
        if mark - from > 8.0 {
            line(self.sheet, &[(from + 3.0, y), (mark - 3.0, y)], stroke(Ink::Muted.colour(), 1.5))?;
            for end in [(from + 3.0, 4.0), (mark - 3.0, -4.0)] {
                let tip = [(end.0 + end.1, y - 3.5), (end.0, y), (end.0 + end.1, y + 3.5)];
                line(self.sheet, &tip, stroke(Ink::Muted.colour(), 1.5))?;
            }
        }
        let below = self.x(pair.open.map_or(0.0, |o| reached(o.side(side)))).max(from);
        let half = text_width(&text, SMALL) / 2.0;
        let middle = (below + mark) / 2.0;
        let inside = mark - below > 2.0 * half + 10.0;
        let (at, align) = if inside { (middle, Align::Middle) } else { (mark + 6.0, Align::Start) };
        // Lines of the grid and of the rule do not run through the words.
        let left = if inside { middle - half } else { mark + 6.0 };
        let backing = Frame { left: left - 2.0, top: y + 8.0, width: 2.0 * half + 4.0, height: 16.0 };
        area(self.sheet, backing, Ink::Surface.colour())?;
        write(self.sheet, &text, (at, y + 16.0), Ink::Text, align)
    }
}
