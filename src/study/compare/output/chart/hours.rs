//! How long each layout is served: small multiples of the share of nights still served, with one scale. Layouts whose
//! lines could not be told apart share a panel.

use crate::output::kit::chart::prelude::*;
use crate::output::kit::chart::survival::{self, Step, stairs};
use crate::study::compare::{Comparison, LayoutResult};
use crate::summary::Estimate;
use crate::summary::inference::Inference;
use plotters::style::Color;

const COLUMNS: usize = 4;
/// Panels at most.
const MOST: usize = 24;
const LEFT: f64 = 50.0;
const GAP: f64 = 16.0;
/// Height of a panel among several, and of a single one.
const HEIGHT: [f64; 2] = [84.0, 200.0];
/// Lines of a name above its panel, at most, and a panel's share of the axis below.
const LINES: usize = 4;
const BELOW: f64 = 22.0;

/// # Errors
/// Only where the embedded font is damaged.
pub fn hours(c: &Comparison) -> Result<String, ChartError> {
    let floor = floor_of(c);
    let groups = groups(c, floor);
    let shown = &groups[..groups.len().min(MOST)];
    let columns = shown.len().clamp(1, COLUMNS);
    let rows = shown.len().div_ceil(columns).max(1);
    let width = (WIDTH - LEFT - 10.0 - GAP * (columns as f64 - 1.0)) / columns as f64;
    let names: Vec<Vec<String>> = shown.iter().map(|g| name(&heading(c, g), width + GAP - 4.0)).collect();
    let above = 8.0 + LINE * names.iter().map(Vec::len).max().unwrap_or(1) as f64;
    let height = HEIGHT[usize::from(groups.len() == 1)];
    let pitch = above + height + BELOW;
    figure(c, &groups, floor).draw(rows as f64 * pitch + 44.0, |sheet, top| {
        for (k, group) in shown.iter().enumerate() {
            let (row, column) = (k / columns, k % columns);
            let frame = Frame {
                left: LEFT + column as f64 * (width + GAP),
                top: top + row as f64 * pitch + above,
                width,
                height,
            };
            let lowest = k + columns >= shown.len();
            panel(sheet, c, frame, (group.first, floor, column == 0, lowest))?;
            for (line, text) in names[k].iter().rev().enumerate() {
                let y = frame.top - 10.0 - LINE * line as f64;
                write(sheet, text, (frame.left, y), Ink::Text, Align::Start)?;
            }
        }
        let y = top + rows as f64 * pitch + 20.0;
        write(
            sheet,
            "Time after the start t (h); upright: share of nights still served S(t) (%)",
            (6.0, y),
            Ink::Muted,
            Align::Start,
        )
    })
}

/// Layouts that share a panel.
struct Group<'a> {
    /// Whose line is drawn: the first of the ranking.
    first: &'a LayoutResult,
    /// How many there are.
    layouts: usize,
}

/// In the order of the ranking.
fn groups(c: &Comparison, floor: f64) -> Vec<Group<'_>> {
    let mut groups: Vec<Group<'_>> = Vec::new();
    for layout in c.ranking.iter().map(|&k| &c.layouts[k]) {
        match groups.iter_mut().find(|g| apart(c, g.first, layout) <= told_from(floor)) {
            Some(group) => group.layouts += 1,
            None => groups.push(Group { first: layout, layouts: 1 }),
        }
    }
    groups
}

/// Lines are told apart beyond this distance: a twentieth of the axis, as a share of all nights.
fn told_from(floor: f64) -> f64 {
    (1.0 - floor) / 20.0
}

/// Greatest distance of two lines, as a share of all nights.
fn apart(c: &Comparison, a: &LayoutResult, b: &LayoutResult) -> f64 {
    let ended = |l: &LayoutResult, hours: f64| -> u64 {
        l.ride_through_h.histogram.iter().filter(|bar| bar.0 <= hours).map(|bar| bar.1).sum()
    };
    let times = a.ride_through_h.histogram.iter().chain(&b.ride_through_h.histogram).map(|bar| bar.0);
    let nights = times.map(|t| ended(a, t).abs_diff(ended(b, t))).max().unwrap_or(0);
    nights as f64 / c.trials.max(1) as f64
}

fn heading(c: &Comparison, group: &Group<'_>) -> String {
    match group.layouts {
        1 => group.first.name.clone(),
        n if n == c.layouts.len() => format!("All {n} layouts"),
        n => format!("{} and {} alike", group.first.name, n - 1),
    }
}

fn figure<'a>(c: &Comparison, groups: &[Group<'_>], floor: f64) -> Figure<'a> {
    let met = |l: &LayoutResult| l.ride_through_met.estimate;
    let best = c.layouts.iter().reduce(|a, b| if met(b) > met(a) { b } else { a });
    let worst = c.layouts.iter().reduce(|a, b| if met(b) < met(a) { b } else { a });
    let wanted = number::hours(wanted(c));
    let title = match (best, worst) {
        (Some(a), Some(b)) if met(a) > met(b) => format!(
            "Served for {wanted} in {} by \"{}\", in {} by \"{}\"",
            number::of_nights(&a.ride_through_met.by_trials(), c.trials),
            a.name,
            number::of_nights(&b.ride_through_met.by_trials(), c.trials),
            b.name
        ),
        (Some(a), _) => {
            let served = number::of_nights(&a.ride_through_met.by_trials(), c.trials);
            format!("With every layout served for {wanted} in {served}")
        }
        _ => String::new(),
    };
    let mut more = String::new();
    if groups.len() < c.layouts.len() {
        more += &format!(
            " Layouts that differ by at most {} of the nights at any time share a panel.",
            number::upper(told_from(floor))
        );
    }
    let hidden: usize = groups.iter().skip(MOST).map(|g| g.layouts).sum();
    if hidden > 0 {
        more += &format!(" {} more in results.json.", number::counted(hidden as u64, "layout", "layouts"));
    }
    let shaded = if c.exact { "U" } else { "Shaded: pointwise 95 % interval; u" };
    let told = c.layouts.iter().map(|l| format!("{}: {}.", l.name, number::frequency_short(&l.ride_through_met)));
    Figure {
        name: "hours",
        title,
        subtitle: format!(
            "{} that are the same for all, least risk of overload first. {shaded}pright line: what is wanted.{more}",
            number::counted(c.trials, "night", "nights")
        ),
        description: told.collect::<Vec<_>>().join(" "),
    }
}

/// The wanted length, or the horizon [h].
fn wanted(c: &Comparison) -> f64 {
    let targets = c.layouts.iter().flat_map(|l| &l.targets);
    targets.filter_map(|t| t.length_h).next().unwrap_or(c.horizon_h)
}

/// Still served where so many nights have ended.
fn still_served(c: &Comparison, l: &LayoutResult, ended: u64) -> Estimate {
    Inference::new(!l.exact).probability(c.trials.saturating_sub(ended), c.trials)
}

/// Share still served by hours, from 0 h to the horizon.
fn survival(c: &Comparison, l: &LayoutResult) -> Vec<Step> {
    let ended = l.ride_through_h.histogram.iter().map(|&(hours, nights)| (hours.min(c.horizon_h), nights));
    survival::steps(ended, c.horizon_h, (c.trials, Inference::new(!l.exact)))
}

/// Low end of the axis of all panels.
fn floor_of(c: &Comparison) -> f64 {
    // Nothing is lower than the end of a layout's line.
    let end = |l: &LayoutResult| still_served(c, l, l.ride_through_h.histogram.iter().map(|bar| bar.1).sum()).low;
    survival::floor(c.layouts.iter().map(end).fold(1.0, f64::min))
}

fn panel(
    sheet: &Sheet,
    c: &Comparison,
    frame: Frame,
    (layout, floor, first, lowest): (&LayoutResult, f64, bool, bool),
) -> Drawn {
    let mut x = Axis::clock(c.horizon_h, None);
    x.name = String::new();
    let mut y = Axis::percent(floor, 1.0, "");
    y.scale.ticks = y.scale.ticks.iter().copied().step_by(y.scale.ticks.len().div_ceil(3).max(1)).collect();
    if !first {
        y.show = Box::new(|_| String::new());
    }
    if !lowest {
        x.show = Box::new(|_| String::new());
    }
    let mut panel = canvas::panel(sheet, frame, &x, &y)?;
    let steps = survival(c, layout);
    let shade = Ink::Blue.colour().mix(0.25);
    canvas::band(&mut panel, &stairs(&steps, |e| e.high), &stairs(&steps, |e| e.low), shade)?;
    curve(&mut panel, stairs(&steps, |e| e.estimate), stroke(Ink::Blue.colour(), 2.0))?;
    let goal = place(&panel, (wanted(c), floor)).0;
    line(sheet, &[(goal, frame.top), (goal, frame.top + frame.height)], stroke(Ink::Text.with(Texture::Long), 1.5))?;
    Ok(())
}

/// A name in lines of a width; what does not fit is told by `…`.
fn name(name: &str, width: f64) -> Vec<String> {
    let mut lines = wrap(name, SMALL, width);
    let more = lines.len() > LINES;
    lines.truncate(LINES);
    lines = lines.iter().map(|line| shorten(line, SMALL, width)).collect();
    if let Some(last) = lines.last_mut().filter(|_| more) {
        last.push('…');
    }
    lines
}
