//! How long the bank lasts: the share of nights still served, by hours.
//!
//! In: the results document, the wanted length. Out: a figure: the empirical survival function in
//! steps of the histogram's quarter hours, with its pointwise 95 % interval (Clopper-Pearson, from the
//! beta distribution), the target, and the share that outlasts the horizon.

use crate::output::kit::chart::label;
use crate::output::kit::chart::prelude::*;
use crate::output::kit::chart::survival::{self, Step, stairs};
use crate::output::run::words;
use crate::summary::Results;
use plotters::style::Color;

const LEFT: f64 = 62.0;
const RIGHT: f64 = 128.0;
const HEIGHT: f64 = 280.0;

/// The point that the bank is to reach: hours and probability.
type Goal = Option<(f64, f64)>;

/// Ride-through of all nights.
///
/// # Errors
/// Only where the embedded font is damaged.
pub fn ride_through(results: &Results) -> Result<String, ChartError> {
    let steps = survival(results);
    let goal = words::ride_through_target(results).filter(|g| g.0.is_finite() && g.1.is_finite());
    let x = Axis::clock(results.horizon_h.max(goal.map_or(0.0, |g| g.0)), None);
    let least = steps.iter().map(|s| s.1.low).chain(goal.map(|g| g.1)).fold(1.0, f64::min);
    let y = Axis::percent(survival::floor(least), 1.0, "");
    figure(results, goal).draw(HEIGHT + 28.0 + 56.0, |sheet, top| {
        write_bold(sheet, "Share of nights still served S(t) (%)", (6.0, top + 6.0), Ink::Text, Align::Start)?;
        let frame = Frame { left: LEFT, top: top + 28.0, width: WIDTH - LEFT - RIGHT, height: HEIGHT };
        let mut panel = canvas::panel(sheet, frame, &x, &y)?;
        draw_steps(&mut panel, &steps)?;
        draw_goal(sheet, &panel, (&steps, goal))?;
        draw_percentiles(sheet, &panel, results, (&steps, goal))?;
        draw_end(sheet, &panel, results, &steps)
    })
}

fn figure<'a>(results: &Results, goal: Goal) -> Figure<'a> {
    let r = &results.ride_through_h;
    let reached = number::of_nights(&results.ride_through_met, results.trials);
    let title = match goal {
        Some((hours, _)) => format!("Served for at least {} in {reached}", number::hours(hours)),
        None => format!(
            "Served to the horizon of {} in {}",
            number::hours(results.horizon_h),
            number::of_nights(&r.censored, results.trials)
        ),
    };
    let shaded = if results.exact { "" } else { " Shaded: pointwise 95 % interval of the share." };
    let target = goal.map_or_else(String::new, |(h, p)| {
        format!(" Target: {} with probability {}.", number::hours(h), number::chosen(p))
    });
    Figure {
        name: "ride",
        title,
        subtitle: format!(
            "{}, counted by the quarter hour in which service ended.{shaded} \
             Nights still served at {} are not followed further.{target}",
            number::counted(results.trials, "night", "nights"),
            number::hours(results.horizon_h)
        ),
        description: words::ride_through(results).join(" "),
    }
}

/// Steps from 0 h to the horizon.
fn survival(results: &Results) -> Vec<Step> {
    let mut rows: Vec<(f64, u64)> =
        results.ride_through_h.histogram.iter().copied().filter(|r| r.0.is_finite()).collect();
    rows.sort_by(|a, b| a.0.total_cmp(&b.0));
    survival::steps(rows.into_iter(), results.horizon_h, (results.trials, results.inference()))
}

fn draw_steps(panel: &mut Panel, steps: &[Step]) -> Drawn {
    let upper = stairs(steps, |e| e.high);
    let lower = stairs(steps, |e| e.low);
    if steps.iter().any(|s| s.1.low < s.1.high) {
        canvas::band(panel, &upper, &lower, Ink::Blue.colour().mix(0.25))?;
    }
    curve(panel, stairs(steps, |e| e.estimate), stroke(Ink::Blue.colour(), 2.5))
}

fn draw_goal(sheet: &Sheet, panel: &Panel, (steps, goal): (&[Step], Goal)) -> Drawn {
    let Some((hours, probability)) = goal else {
        return Ok(());
    };
    let corner = place(panel, (hours, probability));
    let range = (panel.plotting_area().get_x_range(), panel.plotting_area().get_y_range());
    let (left, bottom) = place(panel, (range.0.start, range.1.start));
    let style = stroke(Ink::VermillionText.with(Texture::Long), 2.0);
    line(sheet, &[(left, corner.1), corner, (corner.0, bottom)], style)?;
    let text = format!("target: {} of nights for {}", number::chosen(probability), number::hours(hours));
    // A line that meets the target passes above the corner, one that misses it below: the other side is free.
    let met = held(steps, hours) >= probability;
    let fits = corner.0 + 10.0 + text_width(&text, SMALL) < WIDTH - 6.0;
    let (at, align) = match (met, fits) {
        (true, _) => ((corner.0 - 10.0, corner.1 + 14.0), Align::End),
        (false, true) => ((corner.0 + 10.0, corner.1 + 2.0), Align::Start),
        (false, false) => ((WIDTH - 6.0, corner.1 - 12.0), Align::End),
    };
    write(sheet, &text, at, Ink::VermillionText, align)
}

/// The hours at which 5 % and half of the nights have ended, on the line; words stand where it has left room.
fn draw_percentiles(sheet: &Sheet, panel: &Panel, results: &Results, (steps, goal): (&[Step], Goal)) -> Drawn {
    let r = &results.ride_through_h;
    for (hours, share, words) in [(r.p5, 0.95, "5 % ended"), (r.p50, 0.5, "half ended")] {
        let low_end = panel.plotting_area().get_y_range().start;
        if !hours.is_finite() || hours >= results.horizon_h || share < low_end {
            continue;
        }
        let (x, y) = place(panel, (hours, held(steps, hours)));
        disc(sheet, (x, y), 4.5, Ink::BlueText)?;
        let text = format!("{words} by {}", number::hours(hours));
        let right = x + 12.0 + text_width(&text, SMALL) < WIDTH - 6.0;
        // The curve goes on as a step and then down: above it is room, and above the target's line where that is near.
        let line = goal.map(|g| place(panel, g)).filter(|g| (-22.0..8.0).contains(&(g.1 - y)) && x < g.0);
        let beside = line.map_or(y, |g| g.1.min(y)) - 12.0;
        let (at, align) = if right { ((x + 12.0, beside), Align::Start) } else { ((x - 12.0, y + 16.0), Align::End) };
        write(sheet, &text, at, Ink::BlueText, align)?;
    }
    Ok(())
}

/// The share drawn at a moment.
fn held(steps: &[Step], hours: f64) -> f64 {
    steps.iter().take_while(|s| s.0 <= hours).last().map_or(1.0, |s| s.1.estimate)
}

/// What is left at the horizon, beside the end of the line.
fn draw_end(sheet: &Sheet, panel: &Panel, results: &Results, steps: &[Step]) -> Drawn {
    let Some(last) = steps.last() else {
        return Ok(());
    };
    let (x, y) = place(panel, (last.0, last.1.estimate));
    let censored = &results.ride_through_h.censored;
    let lines = if censored.estimate >= 1.0 {
        ["all nights".to_string(), "still served".into(), format!("at {}", number::hours(results.horizon_h))]
    } else if censored.estimate <= 0.0 {
        ["none served".to_string(), "to the end,".into(), number::hours(results.horizon_h)]
    } else {
        [number::share(censored), "still served".into(), format!("at {}", number::hours(results.horizon_h))]
    };
    let (top, bottom) = (place(panel, (0.0, 1.0)).1, place(panel, (0.0, panel.plotting_area().get_y_range().start)).1);
    let first = label::spread(&[y - 18.0], 0.0, top, bottom - 36.0).first().copied().unwrap_or(y);
    for (k, text) in lines.iter().enumerate() {
        let at = (x + 10.0, first + 18.0 * k as f64);
        write(sheet, text, at, Ink::BlueText, Align::Start)?;
    }
    Ok(())
}
