//! How long each layout is served: small multiples of the share of nights still served, with one scale.

use crate::output::chart::ChartError;
use crate::output::chart::axis::Axis;
use crate::output::chart::canvas::{self, Align, Drawn, Figure, Frame, LINE, Sheet, WIDTH, curve, line, place, stroke};
use crate::output::chart::ink::{Ink, Texture};
use crate::output::{number, table};
use crate::study::compare::{Comparison, LayoutResult};
use crate::summary::inference::Inference;

const COLUMNS: usize = 4;
/// Panels at most.
const MOST: usize = 24;
const LEFT: f64 = 50.0;
const GAP: f64 = 16.0;
const HEIGHT: f64 = 84.0;
/// Lines of a name above its panel, at most, and a panel's share of the axis below.
const LINES: usize = 4;
const BELOW: f64 = 22.0;

/// # Errors
/// Only where the embedded font is damaged.
pub fn hours(c: &Comparison) -> Result<String, ChartError> {
    let shown: Vec<&LayoutResult> = c.ranking.iter().take(MOST).map(|&k| &c.layouts[k]).collect();
    let rows = shown.len().div_ceil(COLUMNS).max(1);
    let floor = floor_of(c, &shown);
    let width = (WIDTH - LEFT - 10.0 - GAP * (COLUMNS as f64 - 1.0)) / COLUMNS as f64;
    let names: Vec<Vec<String>> = shown.iter().map(|l| name(&l.name, width + GAP - 4.0)).collect();
    let above = 8.0 + LINE * names.iter().map(Vec::len).max().unwrap_or(1) as f64;
    let pitch = above + HEIGHT + BELOW;
    figure(c).draw(rows as f64 * pitch + 44.0, |sheet, top| {
        for (k, layout) in shown.iter().enumerate() {
            let (row, column) = (k / COLUMNS, k % COLUMNS);
            let frame = Frame {
                left: LEFT + column as f64 * (width + GAP),
                top: top + row as f64 * pitch + above,
                width,
                height: HEIGHT,
            };
            let lowest = k + COLUMNS >= shown.len();
            panel(sheet, c, frame, (layout, floor, column == 0, lowest))?;
            for (line, text) in names[k].iter().rev().enumerate() {
                let y = frame.top - 10.0 - LINE * line as f64;
                canvas::write(sheet, text, (frame.left, y), Ink::Text, Align::Start)?;
            }
        }
        let y = top + rows as f64 * pitch + 20.0;
        canvas::write(
            sheet,
            "Time after the start t (h); upright: share of nights still served S(t) (%)",
            (6.0, y),
            Ink::Muted,
            Align::Start,
        )
    })
}

fn figure<'a>(c: &Comparison) -> Figure<'a> {
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
            format!(
                "All layouts are served for {wanted} in {}",
                number::of_nights(&a.ride_through_met.by_trials(), c.trials)
            )
        }
        _ => String::new(),
    };
    let more = c.layouts.len().saturating_sub(MOST);
    let more = if more > 0 {
        format!(" {} more in results.json.", number::counted(more as u64, "layout", "layouts"))
    } else {
        String::new()
    };
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

/// Share still served by hours, from 0 h to the horizon: estimate, low, high.
fn survival(c: &Comparison, l: &LayoutResult) -> Vec<(f64, [f64; 3])> {
    let step = |hours: f64, ended: u64| {
        let e = Inference::new(!l.exact).probability(c.trials.saturating_sub(ended), c.trials);
        (hours, [table::share_left(c.trials, ended), e.low, e.high])
    };
    let mut ended = 0u64;
    let mut steps = vec![step(0.0, 0)];
    for &(hours, nights) in &l.ride_through_h.histogram {
        ended = ended.saturating_add(nights);
        steps.push(step(hours.min(c.horizon_h), ended));
    }
    steps.push(step(c.horizon_h, ended));
    steps
}

/// Low end of the axis of all panels that are shown.
fn floor_of(c: &Comparison, shown: &[&LayoutResult]) -> f64 {
    let least = shown.iter().flat_map(|l| survival(c, l)).map(|(_, s)| s[1]).fold(1.0, f64::min);
    if least < 0.6 { 0.0 } else { (1.0 - (1.0 - least) * 1.25).clamp(0.0, 0.95) }
}

fn stairs(steps: &[(f64, [f64; 3])], which: usize) -> Vec<(f64, f64)> {
    let mut points: Vec<(f64, f64)> =
        steps.windows(2).flat_map(|two| [(two[0].0, two[0].1[which]), (two[1].0, two[0].1[which])]).collect();
    points.extend(steps.last().map(|s| (s.0, s.1[which])));
    points
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
    canvas::band(
        &mut panel,
        &stairs(&steps, 2),
        &stairs(&steps, 1),
        plotters::style::Color::mix(&Ink::Blue.colour(), 0.25),
    )?;
    curve(&mut panel, stairs(&steps, 0), stroke(Ink::Blue.colour(), 2.0))?;
    let goal = place(&panel, (wanted(c), floor)).0;
    line(sheet, &[(goal, frame.top), (goal, frame.top + frame.height)], stroke(Ink::Text.with(Texture::Long), 1.5))?;
    Ok(())
}

/// A name in lines of a width; what does not fit is told by `…`.
fn name(name: &str, width: f64) -> Vec<String> {
    let mut lines = canvas::wrap(name, canvas::SMALL, width);
    let more = lines.len() > LINES;
    lines.truncate(LINES);
    lines = lines.iter().map(|line| canvas::shorten(line, canvas::SMALL, width)).collect();
    if let Some(last) = lines.last_mut().filter(|_| more) {
        last.push('…');
    }
    lines
}
