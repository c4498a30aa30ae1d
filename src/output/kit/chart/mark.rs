//! Marks that several figures share.

use crate::output::kit::chart::canvas::{Drawn, Sheet, fail, line, px, stroke};
use crate::output::kit::chart::palette::{Ink, Texture};
use plotters::element::Circle;
use plotters::style::Color;

/// A 95 % interval from its low to its high end.
pub fn interval(sheet: &Sheet, low: (f64, f64), high: (f64, f64), ink: Ink) -> Drawn {
    let style = stroke(ink.colour(), 2.5);
    line(sheet, &[low, high], style)?;
    for end in [low, high] {
        line(sheet, &[(end.0, end.1 - 5.0), (end.0, end.1 + 5.0)], style)?;
    }
    Ok(())
}

/// Where nothing was seen, from nothing to the bound: closed at the bound only.
pub fn bracket(sheet: &Sheet, low: (f64, f64), high: (f64, f64)) -> Drawn {
    line(sheet, &[low, high], stroke(Ink::Muted.with(Texture::Short), 2.0))?;
    let (x, y) = high;
    line(sheet, &[(x - 5.0, y - 6.0), (x, y - 6.0), (x, y + 6.0), (x - 5.0, y + 6.0)], stroke(Ink::Muted.colour(), 2.0))
}

/// A filled disc.
pub fn disc(sheet: &Sheet, (x, y): (f64, f64), radius: f64, ink: Ink) -> Drawn {
    sheet.draw(&Circle::new((px(x), px(y)), px(radius), ink.colour().filled())).map_err(fail)
}

/// An open ring.
pub fn ring(sheet: &Sheet, (x, y): (f64, f64), radius: f64, (ink, width): (Ink, f64)) -> Drawn {
    sheet.draw(&Circle::new((px(x), px(y)), px(radius), stroke(ink.colour(), width))).map_err(fail)
}
