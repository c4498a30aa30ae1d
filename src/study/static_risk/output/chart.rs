//! The chance of each element being over at a moment, against the load.
//!
//! In: the chances at one temperature. Out: a figure: a line for each element or group of elements that are alike,
//! on a logarithmic scale. Where no set puts an element over there is no point: the words below say so. What is below
//! `number::LEAST` stands as a hollow point in a strip below the axis's last decade.

use crate::math;
use crate::output::kit::chart::label;
use crate::output::kit::chart::prelude::*;
use crate::study::static_risk::output::words::{chance, conditions, load, ranked, share};
use crate::study::static_risk::{AtLoad, Chances};

/// Lines drawn at most.
const MOST: usize = 6;
/// Share of the panel that the strip takes for what is below the least that is told.
const STRIP: f64 = 0.14;
const LEFT: f64 = 96.0;
const RIGHT: f64 = 220.0;
const HEIGHT: f64 = 260.0;
const HEAD: f64 = 26.0;
const AXIS: f64 = 76.0;
/// Height of a line of a label.
const NAME: f64 = 16.0;

/// Elements with the same chance at every load.
struct Group {
    ids: Vec<String>,
    chances: Vec<f64>,
}

impl Group {
    fn name(&self) -> String {
        match &self.ids[..] {
            [one] => one.clone(),
            [one, two] => label::poles(one, two).unwrap_or_else(|| format!("{one}, {two}")),
            // Kept together where a label breaks.
            [one, more @ ..] => format!("{one} and\u{a0}{}\u{a0}more", more.len()),
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
    let shown = &groups[..groups.len().min(MOST)];
    let notes = notes(chances, groups.len() - shown.len());
    let body = if shown.is_empty() { 0.0 } else { HEAD + HEIGHT + AXIS };
    figure(chances).draw(body + notes.len() as f64 * LINE + 6.0, |sheet, top| {
        if !shown.is_empty() {
            draw_panel(sheet, chances, shown, top)?;
        }
        canvas::notes(sheet, &notes, top + body + 0.5 * LINE)
    })
}

fn draw_panel(sheet: &Sheet, chances: &Chances, shown: &[Group], top: f64) -> Drawn {
    let name = "Chance of being over its limit at such a moment P, logarithmic";
    write_bold(sheet, name, (6.0, top + 6.0), Ink::Text, Align::Start)?;
    let frame = Frame { left: LEFT, top: top + HEAD, width: WIDTH - LEFT - RIGHT, height: HEIGHT };
    let (x, y, strip) = axes(chances, shown);
    let mut panel = canvas::panel(sheet, frame, &x, &y)?;
    if let Some(at) = strip {
        let (_, y) = place(&panel, (0.0, at));
        write(sheet, "below 10⁻⁹", (LEFT - 8.0, y), Ink::Muted, Align::End)?;
    }
    ticks(sheet, &panel, chances, frame)?;
    lines(sheet, &mut panel, shown, (frame, strip))
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
    let likelier = |a: &&AtLoad, b: &&AtLoad| a.any.low.total_cmp(&b.any.low);
    let Some(worst) = chances.loads.iter().max_by(likelier) else {
        return "The scenario has no load".to_string();
    };
    let named = |at: &AtLoad| match at.load_share {
        Some(share) if share >= 1.0 => format!("{}, the greatest load", load(at)),
        Some(share) => format!("{}, not exceeded for {} of the time", load(at), number::chosen(share)),
        None => load(at),
    };
    let at = if chances.loads.len() > 1 { "any of these loads".to_owned() } else { load(worst) };
    // Of elements alike the first.
    let low = |k: usize| worst.elements[k].chance.low;
    let Some(element) = ranked(chances).into_iter().reduce(|a, b| if low(b) > low(a) { b } else { a }) else {
        return format!("Nothing is over its limit at {at}, in any set of modules out that was solved");
    };
    if low(element) < number::LEAST {
        return format!("No element's chance of being over its limit reaches 10⁻⁹ at {at}");
    }
    let element = &worst.elements[element];
    let first = chances.loads.first().filter(|first| first.demand() != worst.demand());
    let then = first.map_or(String::new(), |at| format!("; any element at {}: {}", load(at), chance(at.any)));
    format!("At {}, {} is over its limit with a chance of {}{then}", named(worst), element.id, chance(element.chance))
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

/// The axes, and the height of the strip where something is below the least that is told.
fn axes(chances: &Chances, shown: &[Group]) -> (Axis, Axis, Option<f64>) {
    let positive = || shown.iter().flat_map(|g| &g.chances).copied().filter(|p| *p > 0.0);
    let (low, high) = (positive().fold(1.0, f64::min), positive().fold(0.0, f64::max));
    let below = low < number::LEAST;
    let low = if below { number::LEAST } else { low / 2.0 };
    let mut x = Axis::linear(-0.3, chances.loads.len() as f64 - 0.7, "");
    x.scale.ticks = (0..chances.loads.len()).map(|k| k as f64).collect();
    x.show = Box::new(|_| String::new());
    let mut y = Axis::log_percent(low, (high * 2.0).clamp(if below { low * 1e3 } else { low }, 1.0), "");
    y.show = Box::new(|v| number::probability_tick(math::powf(10.0, v)));
    let strip = below.then(|| {
        let deep = STRIP * (y.scale.high - y.scale.low);
        y.scale.low -= deep;
        y.scale.low + deep / 2.0
    });
    (x, y, strip)
}

/// Under each load its size, and for how much of the time it is not exceeded.
fn ticks(sheet: &Sheet, panel: &Panel, chances: &Chances, frame: Frame) -> Drawn {
    let base = frame.top + frame.height;
    for (k, at) in chances.loads.iter().enumerate() {
        let x = place(panel, (k as f64, 0.0)).0;
        write(sheet, &load(at), (x, base + 16.0), Ink::Muted, Align::Middle)?;
        write(sheet, &share(at), (x, base + 33.0), Ink::Muted, Align::Middle)?;
    }
    let shares = chances.loads.iter().any(|at| at.load_share.is_some());
    let (name, below) = if shares {
        ("Load at the bus, and the share of the time for which it is not exceeded", 54.0)
    } else {
        ("Load at the bus", 40.0)
    };
    write(sheet, name, (frame.left + frame.width / 2.0, base + below), Ink::Muted, Align::Middle)
}

fn lines(sheet: &Sheet, panel: &mut Panel, shown: &[Group], (frame, strip): (Frame, Option<f64>)) -> Drawn {
    let mut ends = Vec::with_capacity(shown.len());
    for (group, (ink, _, texture)) in shown.iter().zip(LOOKS) {
        let height = |p: f64| strip.filter(|_| p < number::LEAST).unwrap_or_else(|| math::log10(p));
        let points = group.chances.iter().enumerate().filter(|(_, p)| **p > 0.0);
        let points: Vec<(f64, f64)> = points.map(|(k, p)| (k as f64, height(*p))).collect();
        ends.push(points.last().map_or(frame.top, |&p| place(panel, p).1));
        curve(panel, points.clone(), stroke(ink.with(texture), 2.5))?;
        for &point in &points {
            let at = place(panel, point);
            let fill = if strip == Some(point.1) { Ink::Surface } else { ink };
            disc(sheet, at, 4.5, fill)?;
            ring(sheet, at, 4.5, (ink, 1.5))?;
        }
    }
    let names: Vec<Vec<String>> = shown.iter().map(label_of).collect();
    let most = names.iter().map(Vec::len).max().unwrap_or(1);
    let gap = NAME * most as f64;
    let placed = label::spread(&ends, gap, frame.top, frame.top + frame.height - (gap - NAME));
    for ((name, y), (_, ink, _)) in names.iter().zip(placed).zip(LOOKS) {
        for (k, line) in name.iter().enumerate() {
            write(sheet, line, (WIDTH - RIGHT + 8.0, y + NAME * k as f64), ink, Align::Start)?;
        }
    }
    Ok(())
}

/// The chance at the last load, and whose it is, on two lines at most.
fn label_of(group: &Group) -> Vec<String> {
    let last = group.chances.last().filter(|p| **p > 0.0).map_or(String::new(), |p| number::probability(*p) + " ");
    let width = RIGHT - 16.0;
    let mut lines = wrap(&(last + &group.name()), SMALL, width);
    let rest = lines.split_off(lines.len().min(1)).join(" ");
    lines.extend((!rest.is_empty()).then(|| shorten(&rest, SMALL, width)));
    lines
}

/// What has no point, and what is not drawn.
fn notes(chances: &Chances, more: usize) -> Vec<String> {
    let Some(last) = chances.loads.last() else { return Vec::new() };
    let ranked = ranked(chances);
    let none = last.elements.len() - ranked.len();
    let lows = || chances.loads.iter().flat_map(|at| ranked.iter().map(|&k| at.elements[k].chance.low));
    let mut parts = Vec::new();
    if chances.remaining > 0.0 {
        let bound = number::upper(chances.remaining);
        parts.push(format!(
            "Every chance may be more by what was not solved, below {bound}; where a line has no point, it is below that."
        ));
    } else if lows().any(|p| p <= 0.0) {
        parts.push("Where a line has no point, no set of modules out puts it over.".to_string());
    }
    if lows().any(|p| p > 0.0 && p < number::LEAST) {
        parts.push("Hollow points: below 10⁻⁹, where what the model leaves out is likelier.".to_string());
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
    wrap(&parts.join(" "), SMALL, WIDTH - 12.0)
}
