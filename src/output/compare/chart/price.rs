//! Price against risk: a mark a layout, and the edge of those that none beats in both.

use crate::output::compare::chart::risk::{
    at, conditions, mark, price_axis, ring_note, risk_axis, risk_heading, shown, target, unseen, upright,
};
use crate::output::compare::words;
use crate::output::kit::chart::label::{self, End};
use crate::output::kit::chart::prelude::*;
use crate::study::compare::Comparison;

const LEFT: f64 = 58.0;
const RIGHT: f64 = 232.0;
const HEIGHT: f64 = 320.0;
/// Layouts of the edge that are named.
const MOST: usize = 12;

/// # Errors
/// Only where the embedded font is damaged.
pub fn price(c: &Comparison) -> Result<String, ChartError> {
    let edge = words::efficient(c);
    let notes = wrap(&notes(c), SMALL, WIDTH - 12.0);
    figure(c, &edge).draw(28.0 + HEIGHT + 52.0 + notes.len() as f64 * LINE, |sheet, top| {
        risk_heading(sheet, top)?;
        let frame = Frame { left: LEFT, top: top + 28.0, width: WIDTH - LEFT - RIGHT, height: HEIGHT };
        let prices = price_axis(c.layouts.iter().filter_map(|l| l.price), c.currency.as_deref(), (0.06, 4));
        let mut panel = canvas::panel(sheet, frame, &prices, &risk_axis(c))?;
        draw_target(sheet, &panel, frame, c)?;
        draw_edge(&mut panel, c, &edge)?;
        draw_marks(sheet, &panel, c, &edge)?;
        label::callouts(sheet, frame, 18.0, &names(&panel, c, &edge))?;
        canvas::notes(sheet, &notes, frame.top + HEIGHT + 56.0)
    })
}

fn figure<'a>(c: &Comparison, edge: &[usize]) -> Figure<'a> {
    let priced = c.layouts.iter().filter(|l| l.price.is_some()).count() as u64;
    let title = match (priced, edge.len()) {
        (0, _) => "No layout has a price: nothing to weigh against risk".to_owned(),
        (_, 0) => "Prices cannot be compared: some parts have one in some layouts and none in others".to_owned(),
        (_, 1) => format!("No layout costs less than \"{}\" or has less risk", c.layouts[edge[0]].name),
        (_, n) => {
            let all = n + edge.iter().map(|&k| words::alike(c, k)).sum::<usize>();
            format!(
                "{all} of {} are beaten by none in both price and risk",
                number::counted(priced, "layout", "layouts")
            )
        }
    };
    let told = edge.iter().map(|&k| {
        let l = &c.layouts[k];
        let price = number::money(l.price, c.currency.as_deref());
        format!("{}: {price}, {}.", l.name, number::frequency_short(&l.overload))
    });
    Figure {
        name: "price",
        title,
        subtitle: format!("{} Logarithmic scale. Blue: the efficient edge, by estimates.", conditions(c)),
        description: told.collect::<Vec<_>>().join(" "),
    }
}

fn draw_target(sheet: &Sheet, panel: &Panel, frame: Frame, c: &Comparison) -> Drawn {
    let Some(target) = target(c) else { return Ok(()) };
    let start = panel.plotting_area().get_x_range().start;
    let y = place(panel, (start, at(target))).1;
    line(sheet, &[(frame.left, y), (frame.left + frame.width, y)], stroke(Ink::Text.with(Texture::Long), 2.0))?;
    let text = format!("target: {}", number::chosen(target));
    write(sheet, &text, (frame.left + frame.width - 6.0, y + 12.0), Ink::Text, Align::End)
}

/// In steps: until the next price, nothing less risky can be had.
fn draw_edge(panel: &mut Panel, c: &Comparison, edge: &[usize]) -> Drawn {
    let mut points: Vec<(f64, f64)> = Vec::new();
    for &k in edge {
        let Some(price) = c.layouts[k].price else { continue };
        let y = at(shown(c, &c.layouts[k].overload));
        points.extend(points.last().map(|before| (price, before.1)));
        points.push((price, y));
    }
    curve(panel, points, stroke(Ink::Blue.colour(), 2.0))
}

fn spot(panel: &Panel, c: &Comparison, k: usize) -> Option<(f64, f64)> {
    let layout = &c.layouts[k];
    Some(place(panel, (layout.price?, at(shown(c, &layout.overload)))))
}

fn draw_marks(sheet: &Sheet, panel: &Panel, c: &Comparison, edge: &[usize]) -> Drawn {
    let others = (0..c.layouts.len()).filter(|k| !edge.contains(k));
    for (k, ink) in others.map(|k| (k, Ink::Muted)).chain(edge.iter().map(|&k| (k, Ink::Blue))) {
        let risk = &c.layouts[k].overload;
        let (Some(spot), Some(price)) = (spot(panel, c, k), c.layouts[k].price) else { continue };
        if unseen(risk) && !risk.is_exact() {
            upright(sheet, spot.0, [spot.1, place(panel, (price, at(risk.high))).1], ink)?;
        }
        mark(sheet, spot, risk, ink)?;
    }
    Ok(())
}

/// Names of the layouts of the edge, each with how many are as good.
fn names(panel: &Panel, c: &Comparison, edge: &[usize]) -> Vec<End> {
    let name = |k: usize| {
        let alike = match words::alike(c, k) {
            0 => String::new(),
            n => format!(", and {n} alike"),
        };
        shorten(&c.layouts[k].name, SMALL, RIGHT - 14.0 - text_width(&alike, SMALL)) + &alike
    };
    edge.iter().take(MOST).filter_map(|&k| Some((Some(spot(panel, c, k)?), name(k), Ink::BlueText))).collect()
}

fn notes(c: &Comparison) -> String {
    let mut notes: Vec<String> = ring_note(c).into_iter().collect();
    if c.layouts.iter().any(|l| l.price.is_some()) {
        notes.extend(words::unpriced_in_any(c));
    }
    notes.join(" ")
}
