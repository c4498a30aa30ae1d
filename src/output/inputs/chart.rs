//! What moves the nights: ranked bars of three quantities side by side.
//!
//! In: the changes by each input. Out: a figure: a row an input with a bar for each side, greatest change first; full
//! where the interval leaves no doubt of the sign, hollow where it holds 0; the interval as a thin line through it.

use crate::output::inputs::words::{change, intervals, moves, name, points, step, that_move, title};
use crate::output::kit::chart::axis::{Axis, root};
use crate::output::kit::chart::prelude::*;
use crate::study::inputs::{Effect, InputResult, Inputs, Quantity, Shift, Side, Step};

/// Rows drawn at most.
const MOST: usize = 16;
const LEFT: f64 = 262.0;
const RIGHT: f64 = 16.0;
const GAP: f64 = 22.0;
const BAR: f64 = 9.0;
const ROW: f64 = 32.0;
/// Key and headings above the panels.
const HEAD: f64 = 66.0;
/// Ticks, and what they are.
const AXIS: f64 = 50.0;
/// From tick to tick at least.
const TICKS: f64 = 30.0;

const PANELS: [(Quantity, &str); 3] =
    [(Quantity::Overload, "Overload"), (Quantity::Short, "Not served"), (Quantity::Margin, "Margin")];

/// # Errors
/// Only where the embedded font is damaged.
pub fn inputs(all: &Inputs) -> Result<String, ChartError> {
    let rows: Vec<&InputResult> = that_move(all).take(MOST).collect();
    let height = match rows.len() {
        0 => 2.0 * LINE,
        n => HEAD + ROW * n as f64 + AXIS + LINE + 8.0,
    };
    figure(all).draw(height, |sheet, top| {
        if rows.is_empty() {
            return write(sheet, "No input alone moves anything.", (6.0, top + LINE), Ink::Muted, Align::Start);
        }
        draw(sheet, all, &rows, top)
    })
}

fn figure<'a>(all: &Inputs) -> Figure<'a> {
    let told = that_move(all).flat_map(|input| {
        [Side::Less, Side::More].into_iter().filter_map(move |side| {
            let effect = input.effect(side)?;
            let of = |shift: &Shift| {
                format!("{}{}", points(shift.by.estimate), if shift.decided { "" } else { " (not decided)" })
            };
            let margin = effect.margin.as_ref().map_or(String::new(), |m| format!(", margin {}", of(m)));
            let (overload, short) = (of(&effect.overload), of(&effect.short));
            Some(format!("{}: overload {overload}, not served {short}{margin}.", change(input, side)))
        })
    });
    Figure {
        name: "inputs",
        title: title(all),
        subtitle: format!(
            "Changes of the chance of overload in a night, of that of not being served {}, and of the mean margin. {}",
            number::hours(all.wanted_h),
            intervals(all)
        ),
        description: told.collect::<Vec<_>>().join(" "),
    }
}

fn draw(sheet: &Sheet, all: &Inputs, rows: &[&InputResult], top: f64) -> Drawn {
    key(sheet, top + 8.0)?;
    let frame_top = top + HEAD;
    for (k, input) in rows.iter().enumerate() {
        let by = step(input.input.step());
        let by = if input.input.step() == Step::Twofold { "×/÷ 2".to_owned() } else { format!("±{by}") };
        let room = LEFT - 20.0 - text_width(&by, SMALL) - 8.0;
        let label = format!("{} {by}", shorten(&name(input), SMALL, room));
        write(sheet, &label, (LEFT - 12.0, frame_top + ROW * (k as f64 + 0.5)), Ink::Text, Align::End)?;
    }
    let height = ROW * rows.len() as f64;
    let width = (WIDTH - LEFT - RIGHT - 2.0 * GAP) / 3.0;
    for (k, (quantity, heading)) in PANELS.into_iter().enumerate() {
        let left = LEFT + k as f64 * (width + GAP);
        write_bold(sheet, heading, (left, frame_top - 34.0), Ink::Text, Align::Start)?;
        let better = if quantity == Quantity::Margin { "right is better" } else { "left is better" };
        write(sheet, better, (left, frame_top - 16.0), Ink::Muted, Align::Start)?;
        panel(sheet, rows, quantity, Frame { left, top: frame_top, width, height })?;
    }
    let below = frame_top + height + AXIS;
    let (x, name) = (WIDTH - RIGHT, "Change (points of a per cent), on a scale of square roots");
    write(sheet, name, (x, below - 14.0), Ink::Muted, Align::End)?;
    write(sheet, &note(all, rows.len()), (6.0, below + LINE / 2.0), Ink::Muted, Align::Start)
}

fn key(sheet: &Sheet, y: f64) -> Drawn {
    write(sheet, "▨ less, or halved", (6.0, y), Ink::VermillionText, Align::Start)?;
    write(sheet, "■ more, or doubled", (142.0, y), Ink::BlueText, Align::Start)?;
    write(sheet, "□ hollow: the interval (thin line) holds 0, not decided", (294.0, y), Ink::Muted, Align::Start)
}

fn note(all: &Inputs, drawn: usize) -> String {
    let moving = that_move(all).count();
    let mut note = match all.inputs.len() - moving {
        0 => String::new(),
        still => format!("Moved nothing in these nights: {}. ", number::counted(still as u64, "input", "inputs")),
    };
    if moving > drawn {
        note += &format!("Not drawn: {} that move less, in inputs.csv.", moving - drawn);
    }
    note
}

fn panel(sheet: &Sheet, rows: &[&InputResult], quantity: Quantity, frame: Frame) -> Drawn {
    let shifts = || rows.iter().flat_map(|input| input.effects()).filter_map(|e| quantity.of(e));
    let ends = || shifts().flat_map(|s| [s.by.estimate, s.by.low, s.by.high]).filter(|x| x.is_finite());
    let (low, high) = (ends().fold(0.0, f64::min), ends().fold(0.0, f64::max));
    // Where nothing moves, a point to either side.
    let room = if high - low < 1e-4 { 0.01 } else { (high - low) * 0.01 };
    let x = Axis::root_percent(low - room, high + room, (frame.width, TICKS));
    let panel = canvas::panel(sheet, frame, &x, &Axis::bare(-(rows.len() as f64), 0.0))?;
    for (k, input) in rows.iter().enumerate() {
        row(sheet, &panel, input, quantity, frame.top + ROW * (k as f64 + 0.5))?;
    }
    let zero = place(&panel, (0.0, 0.0)).0;
    line(sheet, &[(zero, frame.top), (zero, frame.top + frame.height)], stroke(Ink::Text.colour(), 1.5))
}

fn row(sheet: &Sheet, panel: &Panel, input: &InputResult, quantity: Quantity, middle: f64) -> Drawn {
    let sides = [
        (Side::Less, Ink::Vermillion, Texture::Rising, middle - 6.5),
        (Side::More, Ink::Blue, Texture::Plain, middle + 6.5),
    ];
    for (side, ink, texture, y) in sides {
        let shift = input.effect(side).and_then(|e: &Effect| quantity.of(e));
        if let Some(shift) = shift.filter(|s| moves(s.by.estimate)) {
            bar(sheet, panel, &shift, y, (ink, texture))?;
        }
    }
    Ok(())
}

fn bar(sheet: &Sheet, panel: &Panel, shift: &Shift, y: f64, (ink, texture): (Ink, Texture)) -> Drawn {
    let at = |x: f64| place(panel, (root(x), 0.0)).0;
    let (zero, end) = (at(0.0), at(shift.by.estimate));
    let bar = Frame { left: zero.min(end), top: y - BAR / 2.0, width: (end - zero).abs(), height: BAR };
    if shift.decided {
        area(sheet, bar, ink.with(texture))?;
    }
    let (right, low) = (bar.left + bar.width, bar.top + BAR);
    let outline = [(bar.left, bar.top), (right, bar.top), (right, low), (bar.left, low), (bar.left, bar.top)];
    line(sheet, &outline, stroke(ink.colour(), 1.0))?;
    let (from, to) = (shift.by.low, shift.by.high);
    if from.is_finite() && to.is_finite() && from < to {
        line(sheet, &[(at(from), y), (at(to), y)], stroke(Ink::Text.colour(), 1.0))?;
    }
    Ok(())
}
