//! Risk against lead pairs per module: a line a take-off, a panel a kind of lead.

use super::{at, conditions, mark, risk_axis, shown, target, upright};
use crate::output::chart::axis::Axis;
use crate::output::chart::canvas::{
    self, Align, Drawn, Figure, Frame, LINE, Panel, Sheet, WIDTH, curve, line, place, stroke,
};
use crate::output::chart::ink::{Ink, Texture};
use crate::output::chart::{ChartError, label};
use crate::output::{compare::finding, number};
use crate::study::compare::{Comparison, LayoutResult};

const LEFT: f64 = 58.0;
const RIGHT: f64 = 104.0;
const GAP: f64 = 22.0;
const HEIGHT: f64 = 300.0;
/// Kinds of lead that have a panel.
const MOST: usize = 3;

/// Take-offs in the order of their inks.
const LINES: [(&str, Ink, Ink, Texture); 5] = [
    ("one end", Ink::Vermillion, Ink::VermillionText, Texture::Plain),
    ("opposite ends", Ink::Purple, Ink::PurpleText, Texture::Long),
    ("both ends", Ink::Blue, Ink::BlueText, Texture::Plain),
    ("spread", Ink::Green, Ink::GreenText, Texture::Short),
    ("every module", Ink::Text, Ink::Text, Texture::Dots),
];

/// The layouts of one kind of lead.
struct Kind<'a> {
    leads: &'a [String],
    devices: &'a [String],
    layouts: Vec<&'a LayoutResult>,
}

/// # Errors
/// Only where the embedded font is damaged.
pub fn leads(c: &Comparison) -> Result<String, ChartError> {
    let kinds = kinds(c);
    let drawn = &kinds[..kinds.len().min(MOST)];
    let notes = canvas::wrap(&notes(c, &kinds), canvas::SMALL, WIDTH - 12.0);
    let height = 46.0 + HEIGHT + 52.0 + notes.len() as f64 * LINE;
    figure(c).draw(height, |sheet, top| {
        canvas::write_bold(
            sheet,
            "Probability of overload in one night P (%)",
            (6.0, top + 6.0),
            Ink::Text,
            Align::Start,
        )?;
        let count = drawn.len().max(1) as f64;
        let width = (WIDTH - LEFT - RIGHT - GAP * (count - 1.0)) / count;
        for (k, kind) in drawn.iter().enumerate() {
            let frame = Frame { left: LEFT + k as f64 * (width + GAP), top: top + 46.0, width, height: HEIGHT };
            panel(sheet, c, frame, (kind, k == 0, k + 1 == drawn.len()))?;
        }
        for (k, note) in notes.iter().enumerate() {
            let y = top + 46.0 + HEIGHT + 56.0 + k as f64 * LINE;
            canvas::write(sheet, note, (6.0, y), Ink::Muted, Align::Start)?;
        }
        Ok(())
    })
}

fn figure<'a>(c: &Comparison) -> Figure<'a> {
    let wanted = target(c).map_or_else(String::new, |p| format!(" Dashed: target, {} of nights.", number::chosen(p)));
    let told = c.layouts.iter().map(|l| format!("{}: {}.", l.name, number::frequency_short(&l.overload)));
    Figure {
        name: "leads",
        title: finding::least_risk(c).trim_end_matches('.').to_owned(),
        subtitle: format!(
            "{} Mark: share of nights; upright line: 95 % interval; logarithmic scale.{wanted}",
            conditions(c)
        ),
        description: told.collect::<Vec<_>>().join(" "),
    }
}

/// Layouts of a known take-off, by what their leads are.
fn kinds(c: &Comparison) -> Vec<Kind<'_>> {
    let mut kinds: Vec<Kind<'_>> = Vec::new();
    for layout in c.layouts.iter().filter(|l| l.take_off.is_some() && shown(&l.overload) > 0.0) {
        match kinds.iter_mut().find(|k| k.leads == layout.leads && k.devices == layout.lead_devices) {
            Some(kind) => kind.layouts.push(layout),
            None => kinds.push(Kind { leads: &layout.leads, devices: &layout.lead_devices, layouts: vec![layout] }),
        }
    }
    kinds
}

fn per_module(l: &LayoutResult) -> f64 {
    l.lead_pairs as f64 / l.modules as f64
}

/// Positions side by side: each number of pairs a module has one, so that few and many stand apart alike.
fn places(c: &Comparison) -> Vec<f64> {
    let mut places: Vec<f64> = c.layouts.iter().filter(|l| l.take_off.is_some()).map(per_module).collect();
    places.sort_by(f64::total_cmp);
    places.dedup();
    places
}

fn panel(sheet: &Sheet, c: &Comparison, frame: Frame, (kind, first, last): (&Kind<'_>, bool, bool)) -> Drawn {
    let places = places(c);
    let x = pairs_axis(&places);
    let mut y = risk_axis(c);
    if !first {
        y.show = Box::new(|_| String::new());
    }
    let mut panel = canvas::panel(sheet, frame, &x, &y)?;
    let devices = if kind.devices.is_empty() { String::new() } else { format!(", {}", kind.devices.join(", ")) };
    let name = format!("{}{devices}", kind.leads.join(", "));
    canvas::write_bold(
        sheet,
        &canvas::shorten(&name, canvas::SMALL, frame.width),
        (frame.left, frame.top - 14.0),
        Ink::Text,
        Align::Start,
    )?;
    draw_target(sheet, &panel, frame, c)?;
    let mut ends = Vec::new();
    for (take_off, ink, text, texture) in LINES {
        let mut points: Vec<&LayoutResult> =
            kind.layouts.iter().copied().filter(|l| l.take_off == Some(take_off)).collect();
        points.sort_by(|a, b| per_module(a).total_cmp(&per_module(b)));
        points.dedup_by(|a, b| per_module(a) == per_module(b));
        let of = |l: &LayoutResult| {
            let number = places.iter().position(|p| *p == per_module(l)).unwrap_or(0);
            (number as f64, at(shown(&l.overload)))
        };
        curve(&mut panel, points.iter().map(|l| of(l)).collect(), stroke(ink.with(texture), 2.5))?;
        for l in &points {
            draw_point(sheet, &panel, (of(l), l), ink)?;
        }
        ends.extend(points.last().map(|l| (place(&panel, of(l)), take_off, text)));
    }
    if last { draw_names(sheet, frame, &ends) } else { Ok(()) }
}

fn pairs_axis(places: &[f64]) -> Axis {
    let mut axis = Axis::linear(-0.4, places.len() as f64 - 0.6, "Lead pairs per module n");
    axis.scale.ticks = (0..places.len()).map(|k| k as f64).collect();
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
    if l.overload.estimate > 0.0 {
        upright(sheet, here.0, [height(l.overload.low), height(l.overload.high)], ink)?;
    }
    mark(sheet, here, &l.overload, ink)
}

/// Names of the lines beside their ends; where a line ends early, a thin line leads to its name.
fn draw_names(sheet: &Sheet, frame: Frame, ends: &[((f64, f64), &str, Ink)]) -> Drawn {
    let heights: Vec<f64> = ends.iter().map(|e| e.0.1).collect();
    let placed = label::spread(&heights, 17.0, frame.top + 4.0, frame.top + frame.height - 4.0);
    let right = frame.left + frame.width;
    for (((x, y), name, ink), height) in ends.iter().zip(placed) {
        line(sheet, &[(x + 7.0, *y), (right + 4.0, height)], stroke(Ink::Muted.with(Texture::Dots), 1.0))?;
        canvas::write(sheet, name, (right + 8.0, height), *ink, Align::Start)?;
    }
    Ok(())
}

fn notes(c: &Comparison, kinds: &[Kind<'_>]) -> String {
    let mut notes = Vec::new();
    if c.layouts.iter().any(|l| l.overload.estimate <= 0.0) {
        notes.push("Ring: overload was not seen; it stands at the upper end of its 95 % interval.".to_owned());
    }
    let other = c.layouts.iter().filter(|l| l.take_off.is_none()).count() as u64;
    if other > 0 {
        notes.push(format!("Not drawn: {} of another take-off.", number::counted(other, "layout", "layouts")));
    }
    if kinds.len() > MOST {
        notes.push(format!(
            "{} more in layouts.csv.",
            number::counted((kinds.len() - MOST) as u64, "kind of lead", "kinds of lead")
        ));
    }
    notes.join(" ")
}
