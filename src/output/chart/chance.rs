//! The chance of each element being over at a moment, against the load.
//!
//! In: the chances at one temperature. Out: a figure: a line for each element or group of elements that are alike,
//! on a logarithmic scale. Where no set puts an element over there is no point: the words below say so.

use super::axis::Axis;
use super::canvas::{self, Align, Drawn, Figure, Frame, LINE, Panel, SMALL, Sheet, WIDTH, curve, place, stroke};
use super::ink::{Ink, Texture};
use super::{ChartError, label};
use crate::math;
use crate::output::chance_words::{chance, conditions, load, ranked, share};
use crate::output::number;
use crate::study::moment::{AtLoad, Chances};
use plotters::element::Circle;
use plotters::style::Color;

/// Lines drawn at most.
const MOST: usize = 6;
/// Chances below this are not drawn.
const FLOOR: f64 = 1e-12;
const LEFT: f64 = 96.0;
const RIGHT: f64 = 220.0;
const HEIGHT: f64 = 260.0;
const HEAD: f64 = 26.0;
const AXIS: f64 = 76.0;

const LOOKS: [(Ink, Ink, Texture); MOST] = [
    (Ink::Blue, Ink::BlueText, Texture::Plain),
    (Ink::Vermillion, Ink::VermillionText, Texture::Long),
    (Ink::Green, Ink::GreenText, Texture::Short),
    (Ink::Purple, Ink::PurpleText, Texture::Dots),
    (Ink::Text, Ink::Text, Texture::Long),
    (Ink::Muted, Ink::Muted, Texture::Short),
];

/// Elements with the same chance at every load.
struct Group {
    ids: Vec<String>,
    chances: Vec<f64>,
}

impl Group {
    fn name(&self) -> String {
        match &self.ids[..] {
            [one] => one.clone(),
            [one, two] => match (one.strip_suffix('+'), two.strip_suffix('-')) {
                (Some(pair), Some(other)) if pair == other => format!("{pair}+/-"),
                _ => format!("{one}, {two}"),
            },
            [one, more @ ..] => format!("{one} and {} more", more.len()),
            [] => String::new(),
        }
    }
}

/// The chances by load.
///
/// # Errors
/// Only where the embedded font is damaged.
pub fn chances(chances: &Chances) -> Result<String, ChartError> {
    let groups = groups(chances);
    let drawn = groups.iter().filter(|g| g.chances.iter().any(|p| *p >= FLOOR)).count().min(MOST);
    let shown = &groups[..drawn];
    let notes = notes(chances, groups.len() - drawn);
    figure(chances).draw(HEAD + HEIGHT + AXIS + notes.len() as f64 * LINE + 6.0, |sheet, top| {
        let name = "Chance of being over its limit at such a moment P, logarithmic";
        canvas::write_bold(sheet, name, (6.0, top + 6.0), Ink::Text, Align::Start)?;
        let frame = Frame { left: LEFT, top: top + HEAD, width: WIDTH - LEFT - RIGHT, height: HEIGHT };
        let (x, y) = axes(chances, shown);
        let mut panel = canvas::panel(sheet, frame, &x, &y)?;
        ticks(sheet, &panel, chances, frame)?;
        lines(sheet, &mut panel, shown, frame)?;
        for (k, note) in notes.iter().enumerate() {
            let y = top + HEAD + HEIGHT + AXIS + (k as f64 + 0.5) * LINE;
            canvas::write(sheet, note, (6.0, y), Ink::Muted, Align::Start)?;
        }
        Ok(())
    })
}

fn figure<'a>(chances: &Chances) -> Figure<'a> {
    let told = chances.loads.iter().map(|at| format!("At {}: any element {}.", load(at), chance(at.any)));
    Figure {
        name: "chance",
        title: title(chances),
        subtitle: format!("Everything at {}. {}", number::celsius(chances.air_c), conditions(chances).trim_end()),
        description: told.collect::<Vec<_>>().join(" "),
    }
}

fn title(chances: &Chances) -> String {
    let (Some(first), Some(last)) = (chances.loads.first(), chances.loads.last()) else {
        return "The scenario has no load".to_string();
    };
    let named = |at: &AtLoad| match at.load_share {
        Some(share) if share >= 1.0 => format!("{}, the greatest load", load(at)),
        Some(share) => format!("{}, not exceeded for {} of the time", load(at), number::chosen(share)),
        None => load(at),
    };
    let Some(element) = ranked(chances).first().and_then(|&k| last.elements.get(k)) else {
        return format!("Up to {} nothing is over its limit in any set of modules out that was solved", named(last));
    };
    let then = if chances.loads.len() > 1 {
        format!("; any element at {}: {}", load(first), chance(first.any))
    } else {
        String::new()
    };
    format!("At {}, {} is over its limit with a chance of {}{then}", named(last), element.id, chance(element.chance))
}

fn groups(chances: &Chances) -> Vec<Group> {
    let mut groups: Vec<Group> = Vec::new();
    for k in ranked(chances) {
        let Some(id) = chances.loads.first().map(|at| at.elements[k].id.clone()) else { continue };
        let all: Vec<f64> = chances.loads.iter().map(|at| at.elements[k].chance.low).collect();
        let alike = |g: &&mut Group| g.chances.iter().zip(&all).all(|(a, b)| (a - b).abs() <= 1e-9 * a.max(*b));
        match groups.iter_mut().find(alike) {
            Some(group) => group.ids.push(id),
            None => groups.push(Group { ids: vec![id], chances: all }),
        }
    }
    groups
}

fn axes(chances: &Chances, shown: &[Group]) -> (Axis, Axis) {
    let positive = || shown.iter().flat_map(|g| &g.chances).copied().filter(|p| *p >= FLOOR);
    let (low, high) = (positive().fold(1.0, f64::min), positive().fold(0.0, f64::max));
    let (low, high) = if high > 0.0 { (low / 2.0, (high * 2.0).min(1.0)) } else { (1e-6, 1.0) };
    let mut x = Axis::linear(-0.3, chances.loads.len() as f64 - 0.7, "");
    x.scale.ticks = (0..chances.loads.len()).map(|k| k as f64).collect();
    x.show = Box::new(|_| String::new());
    let mut y = Axis::log_percent(low, high, "");
    y.show = Box::new(|v| number::probability(math::powf(10.0, v)));
    (x, y)
}

/// Under each load its size, and for how much of the time it is not exceeded.
fn ticks(sheet: &Sheet, panel: &Panel, chances: &Chances, frame: Frame) -> Drawn {
    let base = frame.top + frame.height;
    for (k, at) in chances.loads.iter().enumerate() {
        let x = place(panel, (k as f64, 0.0)).0;
        canvas::write(sheet, &load(at), (x, base + 16.0), Ink::Muted, Align::Middle)?;
        canvas::write(sheet, &share(at), (x, base + 33.0), Ink::Muted, Align::Middle)?;
    }
    let shares = chances.loads.iter().any(|at| at.load_share.is_some());
    let (name, below) = if shares {
        ("Load at the bus, and the share of the time for which it is not exceeded", 54.0)
    } else {
        ("Load at the bus", 40.0)
    };
    canvas::write(sheet, name, (frame.left + frame.width / 2.0, base + below), Ink::Muted, Align::Middle)
}

fn lines(sheet: &Sheet, panel: &mut Panel, shown: &[Group], frame: Frame) -> Drawn {
    let mut ends = Vec::with_capacity(shown.len());
    for (group, (ink, _, texture)) in shown.iter().zip(LOOKS) {
        let points = group.chances.iter().enumerate().filter(|(_, p)| **p >= FLOOR);
        let points: Vec<(f64, f64)> = points.map(|(k, p)| (k as f64, math::log10(*p))).collect();
        for &point in &points {
            let (x, y) = place(panel, point);
            let disc = Circle::new((canvas::px(x), canvas::px(y)), canvas::px(4.5), ink.colour().filled());
            sheet.draw(&disc).map_err(canvas::fail)?;
        }
        ends.push(points.last().map_or(frame.top, |&p| place(panel, p).1));
        curve(panel, points, stroke(ink.with(texture), 2.5))?;
    }
    let placed = label::spread(&ends, 16.0, frame.top, frame.top + frame.height);
    for ((group, y), (_, ink, _)) in shown.iter().zip(placed).zip(LOOKS) {
        let last = group.chances.last().filter(|p| **p > 0.0).map_or(String::new(), |p| number::probability(*p) + " ");
        let name = canvas::shorten(&(last + &group.name()), SMALL, RIGHT - 16.0);
        canvas::write(sheet, &name, (WIDTH - RIGHT + 8.0, y), ink, Align::Start)?;
    }
    Ok(())
}

/// What has no point, and what is not drawn.
fn notes(chances: &Chances, more: usize) -> Vec<String> {
    let Some(last) = chances.loads.last() else { return Vec::new() };
    let none = last.elements.len() - ranked(chances).len();
    let mut parts = Vec::new();
    if chances.remaining > 0.0 {
        let bound = number::upper(chances.remaining);
        parts.push(format!(
            "Every chance may be more by what was not solved, {bound}; where a line has no point, it is below that."
        ));
    } else {
        parts.push("Where a line has no point, no set of modules out puts it over.".to_string());
    }
    if none > 0 {
        parts.push(format!("Over in none that was solved: {}.", number::counted(none as u64, "element", "elements")));
    }
    if more > 0 {
        parts.push(format!(
            "Not drawn: {}, in chance.csv.",
            number::counted(more as u64, "less likely group", "less likely groups")
        ));
    }
    if last.not_carried.low > 0.0 {
        parts.push(format!("The bank does not carry {}: {}.", load(last), chance(last.not_carried)));
    }
    canvas::wrap(&parts.join(" "), SMALL, WIDTH - 12.0)
}
