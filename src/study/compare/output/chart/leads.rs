//! Risk against lead pairs per module: a line a take-off, a panel a kind of lead.

use crate::output::kit::chart::label::{self, End};
use crate::output::kit::chart::prelude::*;
use crate::scenario::TakeOff;
use crate::study::compare::output::chart::risk::{
    at, conditions, mark, ring_note, risk_axis, risk_heading, shown, target, unseen, upright,
};
use crate::study::compare::output::words;
use crate::study::compare::{Comparison, LayoutResult};

const LEFT: f64 = 58.0;
const RIGHT: f64 = 104.0;
const GAP: f64 = 22.0;
/// Height of a panel: with one row of panels, and with several.
const HEIGHT: [f64; 2] = [300.0, 170.0];
/// Kind and number of modules above a panel, and the numbers of pairs below.
const ABOVE: f64 = 26.0;
const BELOW: f64 = 30.0;
/// Panels at most, and side by side.
const MOST: usize = 12;
const COLUMNS: usize = 3;
/// A number of pairs takes so much of its axis.
const LABEL: f64 = 44.0;

/// Take-offs in the order of their inks.
const LINES: [(TakeOff, Ink, Ink, Texture); 5] = [
    (TakeOff::OneEnd, Ink::Vermillion, Ink::VermillionText, Texture::Plain),
    (TakeOff::OppositeEnds, Ink::Purple, Ink::PurpleText, Texture::Long),
    (TakeOff::BothEnds, Ink::Blue, Ink::BlueText, Texture::Plain),
    (TakeOff::Spread, Ink::Green, Ink::GreenText, Texture::Short),
    (TakeOff::EveryModule, Ink::Text, Ink::Text, Texture::Dots),
];

/// The layouts of one kind of lead and number of modules: what a line joins differs in its lead pairs alone.
struct Kind<'a> {
    leads: &'a [String],
    devices: &'a [String],
    modules: u64,
    layouts: Vec<&'a LayoutResult>,
}

/// # Errors
/// Only where the embedded font is damaged.
pub fn leads(c: &Comparison) -> Result<String, ChartError> {
    let kinds = kinds(c);
    let drawn = &kinds[..kinds.len().min(MOST)];
    let columns = columns(drawn);
    let rows = drawn.len().div_ceil(columns).max(1);
    let high = HEIGHT[usize::from(rows > 1)];
    let pitch = ABOVE + high + BELOW;
    let notes = wrap(&notes(c, &kinds), SMALL, WIDTH - 12.0);
    let body = 20.0 + rows as f64 * pitch;
    figure(c).draw(body + 22.0 + notes.len() as f64 * LINE, |sheet, top| {
        risk_heading(sheet, top)?;
        let width = (WIDTH - LEFT - RIGHT - GAP * (columns as f64 - 1.0)) / columns as f64;
        for (row, kinds) in drawn.chunks(columns).enumerate() {
            let frame = |k: usize| Frame {
                left: LEFT + k as f64 * (width + GAP),
                top: top + 20.0 + row as f64 * pitch + ABOVE,
                width,
                height: high,
            };
            let mut ends: Vec<End> = Vec::new();
            for (k, kind) in kinds.iter().enumerate() {
                // Lines of panels before the last have their names beside it all the same.
                let of_panel = panel(sheet, c, frame(k), (kind, &title(c, kind), k == 0, row + 1 == rows))?;
                ends.iter_mut().for_each(|end| end.0 = None);
                ends.retain(|end| of_panel.iter().all(|new| new.1 != end.1));
                ends.extend(of_panel);
            }
            label::callouts(sheet, frame(kinds.len() - 1), 17.0, &ends)?;
        }
        canvas::notes(sheet, &notes, top + body + 26.0)
    })
}

/// A column a kind of lead where there are few, so that a row is a number of modules.
fn columns(kinds: &[Kind<'_>]) -> usize {
    let first = kinds.first().map_or(0, |k| k.modules);
    kinds.iter().filter(|k| k.modules == first).count().clamp(1, COLUMNS)
}

fn figure<'a>(c: &Comparison) -> Figure<'a> {
    let wanted = target(c).map_or_else(String::new, |p| format!(" Dashed: target, {} of nights.", number::chosen(p)));
    let line = if c.exact { "" } else { "; upright line: 95 % interval" };
    let told = c.layouts.iter().map(|l| format!("{}: {}.", l.name, number::frequency_short(&l.overload)));
    Figure {
        name: "leads",
        title: words::least_risk(c).trim_end_matches('.').to_owned(),
        subtitle: format!("{} Mark: share of nights{line}; logarithmic scale.{wanted}", conditions(c)),
        description: told.collect::<Vec<_>>().join(" "),
    }
}

/// Layouts of a known take-off, by what their leads are and how many modules they have; fewest modules first.
fn kinds(c: &Comparison) -> Vec<Kind<'_>> {
    let mut kinds: Vec<Kind<'_>> = Vec::new();
    for layout in c.layouts.iter().filter(|l| l.take_off.is_some()) {
        let same = |k: &&mut Kind<'_>| {
            k.leads == layout.leads && k.devices == layout.lead_devices && k.modules == layout.modules
        };
        match kinds.iter_mut().find(same) {
            Some(kind) => kind.layouts.push(layout),
            None => kinds.push(Kind {
                leads: &layout.leads,
                devices: &layout.lead_devices,
                modules: layout.modules,
                layouts: vec![layout],
            }),
        }
    }
    kinds.sort_by_key(|k| k.modules);
    kinds
}

fn title(c: &Comparison, kind: &Kind<'_>) -> String {
    let several = c.layouts.iter().any(|l| l.modules != kind.modules);
    let modules = if several { format!("{} modules, ", kind.modules) } else { String::new() };
    let devices = if kind.devices.is_empty() { String::new() } else { format!(", {}", kind.devices.join(", ")) };
    format!("{modules}{}{devices}", kind.leads.join(", "))
}

fn per_module(l: &LayoutResult) -> f64 {
    l.lead_pairs as f64 / l.modules as f64
}

/// Positions side by side: each number of pairs a module has one, so that few and many stand apart alike.
fn places(kind: &Kind<'_>) -> Vec<f64> {
    let mut places: Vec<f64> = kind.layouts.iter().copied().map(per_module).collect();
    places.sort_by(f64::total_cmp);
    places.dedup();
    places
}

/// The layouts of a take-off, by lead pairs for each module.
fn of_take_off<'a>(kind: &Kind<'a>, take_off: TakeOff) -> Vec<&'a LayoutResult> {
    let mut points: Vec<&LayoutResult> =
        kind.layouts.iter().copied().filter(|l| l.take_off == Some(take_off)).collect();
    points.sort_by(|a, b| per_module(a).total_cmp(&per_module(b)));
    points
}

fn panel(
    sheet: &Sheet,
    c: &Comparison,
    frame: Frame,
    (kind, title, first, lowest): (&Kind<'_>, &str, bool, bool),
) -> Result<Vec<End>, ChartError> {
    let places = places(kind);
    let x = pairs_axis(&places, frame.width, lowest);
    let mut y = risk_axis(c);
    if !first {
        y.show = Box::new(|_| String::new());
    }
    let mut panel = canvas::panel(sheet, frame, &x, &y)?;
    let title = shorten(title, SMALL, frame.width);
    write_bold(sheet, &title, (frame.left, frame.top - 14.0), Ink::Text, Align::Start)?;
    draw_target(sheet, &panel, frame, c)?;
    let mut ends = Vec::new();
    for (take_off, ink, text, texture) in LINES {
        let points = of_take_off(kind, take_off);
        let of = |l: &LayoutResult| {
            let number = places.iter().position(|p| *p == per_module(l)).unwrap_or(0);
            (number as f64, at(shown(c, &l.overload)))
        };
        // Where layouts differ in something else, the line goes through the first and each has its mark.
        let mut joined = points.clone();
        joined.dedup_by(|a, b| per_module(a) == per_module(b));
        curve(&mut panel, joined.iter().map(|l| of(l)).collect(), stroke(ink.with(texture), 2.5))?;
        for l in &points {
            draw_point(sheet, &panel, (of(l), l), ink)?;
        }
        ends.extend(joined.last().map(|l| (Some(place(&panel, of(l))), take_off.word().to_owned(), text)));
    }
    Ok(ends)
}

fn pairs_axis(places: &[f64], width: f64, named: bool) -> Axis {
    let name = if named { "Lead pairs per module n" } else { "" };
    let mut axis = Axis::linear(-0.4, places.len() as f64 - 0.6, name);
    let every = (places.len() as f64 * LABEL / width).ceil().max(1.0) as usize;
    axis.scale.ticks = (0..places.len()).step_by(every).map(|k| k as f64).collect();
    let places = places.to_vec();
    axis.show = Box::new(move |v| {
        places.get(v.round().max(0.0) as usize).map_or(String::new(), |p| number::significant(*p, 3))
    });
    axis
}

fn draw_target(sheet: &Sheet, panel: &Panel, frame: Frame, c: &Comparison) -> Drawn {
    let Some(target) = target(c) else { return Ok(()) };
    let y = place(panel, (0.0, at(target))).1;
    let style = stroke(Ink::Text.with(Texture::Long), 2.0);
    line(sheet, &[(frame.left, y), (frame.left + frame.width, y)], style)
}

fn draw_point(sheet: &Sheet, panel: &Panel, ((x, y), l): ((f64, f64), &LayoutResult), ink: Ink) -> Drawn {
    let floor = panel.plotting_area().get_y_range().start;
    let height = |risk: f64| place(panel, (x, at(risk).max(floor))).1;
    let here = place(panel, (x, y));
    let low = if unseen(&l.overload) { here.1 } else { height(l.overload.low) };
    if !l.overload.is_exact() {
        upright(sheet, here.0, [low, height(l.overload.high)], ink)?;
    }
    mark(sheet, here, &l.overload, ink)
}

fn notes(c: &Comparison, kinds: &[Kind<'_>]) -> String {
    let mut notes: Vec<String> = ring_note(c).into_iter().collect();
    let apart = |two: &[&LayoutResult]| {
        per_module(two[0]) == per_module(two[1]) && two[0].overload.estimate != two[1].overload.estimate
    };
    let off_line = |kind: &Kind<'_>| LINES.iter().any(|line| of_take_off(kind, line.0).windows(2).any(apart));
    if kinds.iter().take(MOST).any(off_line) {
        notes.push("Marks above one another on one line: layouts that differ in something else.".to_owned());
    }
    let other = c.layouts.iter().filter(|l| l.take_off.is_none()).count() as u64;
    if other > 0 {
        notes.push(format!("Not drawn: {} of another take-off.", number::counted(other, "layout", "layouts")));
    }
    if kinds.len() > MOST {
        let more = number::counted((kinds.len() - MOST) as u64, "panel", "panels");
        notes.push(format!("Left out for want of room: {more}; all of it is in layouts.csv."));
    }
    notes.join(" ")
}
