//! What moves the limit: ranked bars.
//!
//! In: the changes of the limit in discharge and in charge. Out: a figure: a row for each input, with the change for
//! a tenth less and for a tenth more, or for one more, greatest first.

use crate::output::kit::chart::prelude::*;
use crate::study::sensitivity::output::words::{best, input, moved, that_move};
use crate::study::sensitivity::{Change, Sensitivity};

/// Rows drawn at most in each direction.
const MOST: usize = 10;
const LEFT: f64 = 246.0;
const RIGHT: f64 = 92.0;
const BAR: f64 = 11.0;
const ROW: f64 = 34.0;
const HEAD: f64 = 50.0;
const AXIS: f64 = 54.0;

/// The changes of both directions.
///
/// # Errors
/// Only where the embedded font is damaged.
pub fn sensitivity(both: &[Sensitivity]) -> Result<String, ChartError> {
    let drawn: Vec<Vec<&Change>> = both.iter().map(|all| that_move(all).take(MOST).collect()).collect();
    let tall = |rows: &[&Change]| match rows.len() {
        0 => 2.0 * LINE + 8.0,
        n => HEAD + ROW * n as f64 + AXIS + LINE + 8.0,
    };
    let height = drawn.iter().map(|rows| tall(rows)).sum();
    figure(both).draw(height, |sheet, top| {
        let mut top = top;
        for (all, rows) in both.iter().zip(&drawn) {
            draw(sheet, all, rows, top)?;
            top += tall(rows);
        }
        Ok(())
    })
}

fn figure<'a>(both: &[Sensitivity]) -> Figure<'a> {
    let outages = both.first().map_or(0, |all| all.outages);
    let out = if outages == 0 { "all modules in".to_string() } else { format!("any {outages} out") };
    let told = both.iter().flat_map(|all| {
        that_move(all)
            .map(|c| format!("In {}, {}: {} less, {} more.", all.direction, input(c), moved(c.less_a), moved(c.more_a)))
    });
    Figure {
        name: "sensitivity",
        title: both.first().map_or(String::new(), title),
        subtitle: format!(
            "Change of the greatest safe bank current with {out}, each input alone a tenth less or a tenth more, or one \
             more; every set solved anew. What buys most is by each piece that is added."
        ),
        description: told.collect::<Vec<_>>().join(" "),
    }
}

/// The first of what buys most.
fn title(all: &Sensitivity) -> String {
    let best = best(all);
    best.split("; then ").next().unwrap_or(&best).to_string()
}

fn draw(sheet: &Sheet, all: &Sensitivity, rows: &[&Change], top: f64) -> Drawn {
    let limit = all.limit_a.map_or("unbounded".to_string(), number::current);
    let binding = all.binding.as_ref().map_or(String::new(), |id| format!(", {id} binds"));
    let name = format!("In {}: {limit}{binding}", all.direction);
    write_bold(sheet, &name, (6.0, top + 8.0), Ink::Text, Align::Start)?;
    if rows.is_empty() {
        return write(sheet, "No input alone moves it.", (6.0, top + 8.0 + LINE), Ink::Muted, Align::Start);
    }
    write(sheet, "▨ a tenth less", (LEFT, top + 30.0), Ink::VermillionText, Align::Start)?;
    write(sheet, "■ a tenth more, or one more", (LEFT + 130.0, top + 30.0), Ink::BlueText, Align::Start)?;
    let height = ROW * rows.len() as f64;
    let frame = Frame { left: LEFT, top: top + HEAD, width: WIDTH - LEFT - RIGHT, height };
    let changes = || rows.iter().flat_map(|c| c.less_a.into_iter().chain(c.more_a));
    let (low, high) = (changes().fold(0.0, f64::min), changes().fold(0.0, f64::max));
    let room = (high - low).max(1e-6) * 0.03;
    let axis = Axis::linear(low - room, high + room, "Change of the safe bank current ΔI (A)");
    let panel = canvas::panel(sheet, frame, &axis, &Axis::bare(-(rows.len() as f64), 0.0))?;
    for (k, change) in rows.iter().enumerate() {
        row(sheet, &panel, change, frame.top + ROW * k as f64)?;
    }
    let zero = place(&panel, (0.0, 0.0)).0;
    line(sheet, &[(zero, frame.top), (zero, frame.top + height)], stroke(Ink::Text.colour(), 1.5))?;
    let more = that_move(all).count() - rows.len();
    let still = all.inputs.len() - that_move(all).count();
    let mut note = format!("Moves nothing: {}.", number::counted(still as u64, "input", "inputs"));
    if more > 0 {
        note += &format!(" Not drawn: {more} that move less, in sensitivity.csv.");
    }
    write(sheet, &note, (6.0, frame.top + height + AXIS + LINE / 2.0), Ink::Muted, Align::Start)
}

fn row(sheet: &Sheet, panel: &Panel, change: &Change, top: f64) -> Drawn {
    let name = shorten(&input(change), SMALL, LEFT - 18.0);
    write(sheet, &name, (LEFT - 10.0, top + ROW / 2.0), Ink::Text, Align::End)?;
    let end = panel.plotting_area().get_x_range().end;
    let zero = place(panel, (0.0, 0.0)).0;
    let less =
        (!change.what.is_count()).then_some((change.less_a, Ink::Vermillion, Texture::Rising, Ink::VermillionText));
    let more = Some((change.more_a, Ink::Blue, Texture::Plain, Ink::BlueText));
    let both: Vec<_> = less.into_iter().chain(more).collect();
    for (k, (amps, ink, texture, text)) in both.iter().enumerate() {
        let y = top + if both.len() == 1 { ROW / 2.0 } else { 9.5 + 15.0 * k as f64 };
        let x = place(panel, (amps.unwrap_or(end), 0.0)).0;
        let bar = Frame { left: zero.min(x), top: y - BAR / 2.0, width: (x - zero).abs(), height: BAR };
        if bar.width > 0.5 {
            area(sheet, bar, ink.with(*texture))?;
            line(sheet, &[(x, bar.top), (x, bar.top + BAR)], stroke(ink.colour(), 1.5))?;
        }
        write(sheet, &moved(*amps), (WIDTH - 6.0, y), *text, Align::End)?;
    }
    Ok(())
}
