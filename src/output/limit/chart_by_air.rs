//! The safe current by temperature.
//!
//! In: the limits at several temperatures. Out: a figure: in discharge and in charge a line for each number of
//! modules out, broken where modules are kept out; where its course changes, a number, and below the reason.

use crate::output::kit::chart::label;
use crate::output::kit::chart::prelude::*;
use crate::output::limit::steps::{Step, by_air, jumps, steps};
use crate::output::limit::words::rounded_down;
use crate::study::limit::{AtAir, Direction, Limits, Row};

/// Lines and reasons drawn at most in each direction.
const MOST: usize = 4;
const MOST_STEPS: usize = 6;
const LEFT: f64 = 62.0;
const RIGHT: f64 = 72.0;
const HEIGHT: f64 = 180.0;
const HEAD: f64 = 50.0;
const AXIS: f64 = 54.0;
/// Marks are drawn where no more temperatures than this were solved.
const FEW: usize = 24;

/// Where a line ends on the sheet; `None` where it has no point.
type End = Option<(f64, f64)>;

struct Panels<'a> {
    airs: Vec<&'a AtAir>,
    x: Axis,
    y: Axis,
}

/// The limits by temperature.
///
/// # Errors
/// Only where the embedded font is damaged.
pub fn limits_by_air(limits: &Limits) -> Result<String, ChartError> {
    let airs = by_air(limits);
    let ends = (airs.first().map_or(0.0, |a| a.air_c), airs.last().map_or(1.0, |a| a.air_c));
    let bounds = airs.iter().flat_map(|at| at.limits.iter().take(MOST));
    let amps = bounds.flat_map(|row| Direction::BOTH.map(|side| row.side(side).current_a.unwrap_or(0.0)));
    let high = amps.fold(0.0, f64::max);
    let x = Axis::linear(ends.0, ends.1, "Temperature of everything T (°C)");
    let y = Axis::linear(0.0, if high > 0.0 { high * 1.08 } else { 1.0 }, "");
    let panels = Panels { airs, x, y };
    let told = Direction::BOTH.map(|side| reasons(&steps(limits, side)));
    let tall = |lines: &[String]| HEAD + HEIGHT + AXIS + lines.len() as f64 * LINE + 10.0;
    let heights = [tall(&told[0]), tall(&told[1])];
    figure(limits).draw(heights[0] + heights[1], |sheet, top| {
        for (k, side) in Direction::BOTH.into_iter().enumerate() {
            let top = top + heights[..k].iter().sum::<f64>();
            panels.draw(sheet, side, top, &steps(limits, side))?;
            for (j, text) in told[k].iter().enumerate() {
                let y = top + HEAD + HEIGHT + AXIS + (j as f64 + 0.5) * LINE;
                write(sheet, text, (6.0, y), Ink::Text, Align::Start)?;
            }
        }
        Ok(())
    })
}

fn figure<'a>(limits: &Limits) -> Figure<'a> {
    let soc = limits.soc.map_or("the scenario's charge".into(), |s| format!("{} charge", number::chosen(s)));
    let reasons = Direction::BOTH.map(|side| {
        let told = steps(limits, side).into_iter().map(|s| format!("Between {} and {}: {}.", s.below, s.above, s.why));
        format!("In {}. {}", side, told.collect::<Vec<_>>().join(" "))
    });
    let is_bounded = |at: &AtAir| at.limits.iter().any(Row::is_bounded);
    let bounded = if limits.by_air.iter().any(is_bounded) {
        " Where the sets are too many to solve all, the line is what is proven safe."
    } else {
        ""
    };
    Figure {
        name: "limit-air",
        title: title(limits),
        subtitle: format!(
            "Greatest bank current with nothing over its limit, everything at one temperature, {soc}; the worst of \
             all sets with so many modules out. A conductor's limit is the lesser of its rating and what its \
             insulation allows in that air.{bounded}"
        ),
        description: reasons.join(" "),
    }
}

/// The least and the greatest limit with all in, and where.
fn title(limits: &Limits) -> String {
    let all = by_air(limits);
    let of = |at: &&AtAir| Some((at.air_c, at.limits.first()?.discharge.current_a?));
    let safe: Vec<(f64, f64)> = all.iter().filter_map(of).collect();
    let Some(&most) = safe.iter().max_by(|a, b| a.1.total_cmp(&b.1)) else {
        return "Nothing that carries current has a limit at any of these temperatures".to_string();
    };
    // Of several temperatures that are as bad, the one nearest to the best.
    let apart = |at: &(f64, f64)| (at.0 - most.0).abs();
    let least = safe.iter().min_by(|a, b| a.1.total_cmp(&b.1).then(apart(a).total_cmp(&apart(b)))).unwrap_or(&most);
    let amps = |x: f64| format!("{} A", rounded_down(x, 1.0));
    if amps(least.1) == amps(most.1) {
        return format!("Safe up to {} with all modules in at each of these temperatures", amps(least.1));
    }
    let (cold, warm) = (number::celsius(least.0), number::celsius(most.0));
    format!("With all modules in, safe up to {} at {warm} but {} at {cold}", amps(most.1), amps(least.1))
}

/// Numbered, in lines; the same numbers stand over the panel.
fn reasons(steps: &[Step]) -> Vec<String> {
    let told = steps.iter().take(MOST_STEPS).enumerate();
    let between = |s: &Step| format!("Between {} and {}", number::celsius(s.below), number::celsius(s.above));
    let lines = told.map(|(k, s)| format!("{}. {}: {}.", k + 1, between(s), s.why));
    let mut lines: Vec<String> = lines.flat_map(|text| wrap(&text, SMALL, WIDTH - 12.0)).collect();
    if steps.len() > MOST_STEPS {
        lines.push(format!("and {} further changes, in limit.csv.", steps.len() - MOST_STEPS));
    }
    lines
}

impl Panels<'_> {
    fn draw(&self, sheet: &Sheet, side: Direction, top: f64, steps: &[Step]) -> Drawn {
        let name = format!("In {}: bank current I (A)", side);
        write_bold(sheet, &name, (6.0, top + 8.0), Ink::Text, Align::Start)?;
        let frame = Frame { left: LEFT, top: top + HEAD, width: WIDTH - LEFT - RIGHT, height: HEIGHT };
        let mut panel = canvas::panel(sheet, frame, &self.x, &self.y)?;
        numbers(sheet, &panel, frame, steps)?;
        let rows = self.airs.first().map_or(0, |at| at.limits.len()).min(MOST);
        let mut ends = Vec::with_capacity(rows);
        for row in 0..rows {
            ends.push(self.line(sheet, &mut panel, side, row)?);
        }
        let x = ends.iter().flatten().map(|end| end.0).fold(frame.left, f64::max);
        let heights: Vec<f64> = ends.iter().map(|end| end.map_or(frame.top, |at| at.1)).collect();
        let placed = label::spread(&heights, 16.0, frame.top, frame.top + HEIGHT);
        let rows = self.airs.first().into_iter().flat_map(|at| &at.limits);
        for (((row, y), end), look) in rows.zip(placed).zip(ends).zip(LOOKS) {
            let text = if row.outages == 0 { "all in".to_string() } else { format!("{} out", row.outages) };
            let text = if end.is_some() { text } else { format!("{text}: –") };
            write(sheet, &text, (x + 10.0, y), look.1, Align::Start)?;
        }
        Ok(())
    }

    /// One line; its end, or where it last carried current.
    fn line(&self, sheet: &Sheet, panel: &mut Panel, side: Direction, row: usize) -> Result<End, ChartError> {
        let (ink, _, texture) = LOOKS[row % MOST];
        let mut runs: Vec<Vec<(f64, f64)>> = vec![Vec::new()];
        for (k, at) in self.airs.iter().enumerate() {
            if k > 0 && jumps(self.airs[k - 1], at, side) {
                runs.push(Vec::new());
            }
            let amps = at.limits.get(row).and_then(|r| r.side(side).current_a);
            match (amps, runs.last_mut()) {
                (Some(amps), Some(run)) => run.push((at.air_c, amps)),
                _ => runs.push(Vec::new()),
            }
        }
        let ends = || runs.iter().rev().filter_map(|run| run.last());
        let end = ends().find(|p| p.1 > 0.0).or(ends().next()).map(|&p| place(panel, p));
        for run in runs {
            if self.airs.len() <= FEW || run.len() == 1 {
                for &point in &run {
                    disc(sheet, place(panel, point), 3.5, ink)?;
                }
            }
            curve(panel, run, stroke(ink.with(texture), 2.5))?;
        }
        Ok(end)
    }
}

/// The numbers of the changes over the panel, moved apart, each with a line down at its place.
fn numbers(sheet: &Sheet, panel: &Panel, frame: Frame, steps: &[Step]) -> Drawn {
    let x = |s: &Step| place(panel, ((s.below + s.above) / 2.0, 0.0)).0;
    let at: Vec<f64> = steps.iter().take(MOST_STEPS).map(x).collect();
    let placed = label::spread(&at, 16.0, frame.left, frame.left + frame.width);
    for (k, (x, shown)) in at.iter().zip(placed).enumerate() {
        let style = stroke(Ink::Muted.with(Texture::Short), 1.5);
        line(sheet, &[(shown, frame.top - 14.0), (*x, frame.top - 2.0), (*x, frame.top + HEIGHT)], style)?;
        write_bold(sheet, &(k + 1).to_string(), (shown, frame.top - 22.0), Ink::Text, Align::Middle)?;
    }
    Ok(())
}
