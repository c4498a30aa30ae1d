//! The sheet that a figure is drawn on: text, lines, areas, and panels with axes.
//!
//! The drawing library has whole-number coordinates; the sheet is therefore ten times larger than
//! its size in CSS pixels, and `viewBox` scales it back. Lengths given to these functions are CSS pixels.
//! Text is measured with an embedded DejaVu Sans, wider than most readers' sans-serif.

use crate::escape;
use crate::output::kit::cautions;
use crate::output::kit::chart::axis::{Axis, Scale};
use crate::output::kit::chart::palette as ink;
use crate::output::kit::chart::palette::Ink;
use plotters::chart::{ChartBuilder, ChartContext};
use plotters::coord::Shift;
use plotters::drawing::{DrawingArea, IntoDrawingArea};
use plotters::element::{PathElement, Polygon, Rectangle, Text};
use plotters::prelude::{Cartesian2d, Color, IntoFont, SVGBackend, ShapeStyle, TextStyle};
use plotters::style::text_anchor::{HPos, Pos, VPos};
use plotters::style::{FontStyle, FontTransform, register_font};
use std::fmt::Display;
use std::sync::OnceLock;

/// Width of every figure [CSS px].
pub const WIDTH: f64 = 720.0;
/// Sizes of text [CSS px].
pub const SMALL: f64 = 13.0;
pub const TITLE: f64 = 17.0;
/// Height of one line of small text.
pub const LINE: f64 = 18.0;

const SCALE: f64 = 10.0;
const FAMILY: &str = "sans-serif";
/// The drawing library divides sizes by this when it writes them.
const EM: f64 = 1.24;
const MARGIN: f64 = 6.0;
/// Bold text is wider by this.
const BOLD: f64 = 1.14;

pub type Sheet<'a> = DrawingArea<SVGBackend<'a>, Shift>;
pub type Panel<'a> = ChartContext<'a, SVGBackend<'a>, Cartesian2d<Scale, Scale>>;
pub type Drawn = Result<(), ChartError>;

/// Why a figure could not be drawn; only a damaged build can cause it.
#[derive(Clone, Debug, PartialEq, Eq, thiserror::Error)]
#[error("cannot draw the figure: {0}")]
pub struct ChartError(pub String);

/// Where text stands against its point.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum Align {
    Start,
    Middle,
    End,
}

/// What a figure says of itself.
pub struct Figure<'a> {
    /// Begins every identifier in the figure.
    pub name: &'a str,
    pub title: String,
    pub subtitle: String,
    /// For readers who cannot see it.
    pub description: String,
}

/// A rectangle [CSS px].
#[derive(Clone, Copy, Debug)]
pub struct Frame {
    pub left: f64,
    pub top: f64,
    pub width: f64,
    pub height: f64,
}

pub fn fail(e: impl Display) -> ChartError {
    ChartError(e.to_string())
}

fn font_ready() -> Drawn {
    static DONE: OnceLock<bool> = OnceLock::new();
    let bytes = include_bytes!("../font/DejaVuSans-subset.ttf");
    let done = DONE.get_or_init(|| register_font(FAMILY, FontStyle::Normal, bytes).is_ok());
    if *done { Ok(()) } else { Err(ChartError("the embedded font is damaged".into())) }
}

pub fn px(x: f64) -> i32 {
    (x * SCALE).round() as i32
}

/// Width of a text [CSS px].
pub fn text_width(text: &str, size: f64) -> f64 {
    if font_ready().is_err() {
        return text.chars().count() as f64 * size * 0.6;
    }
    let font = (FAMILY, size * SCALE * EM).into_font();
    font.box_size(text).map_or(0.0, |b| f64::from(b.0) / SCALE / EM * 1.165)
}

/// Breaks a text into lines no wider than `width`; a word wider than that is cut.
pub fn wrap(text: &str, size: f64, width: f64) -> Vec<String> {
    let mut lines: Vec<String> = Vec::new();
    // The sign of a per cent stays with its number.
    let glued = text.replace(" %", "\u{a0}%");
    for word in glued.split([' ', '\n', '\t', '\r']).filter(|word| !word.is_empty()) {
        let word = shorten(word, size, width);
        match lines.last_mut() {
            Some(line) if text_width(&format!("{line} {word}"), size) <= width => {
                line.push(' ');
                line.push_str(&word);
            }
            _ => lines.push(word),
        }
    }
    lines
}

/// Cuts a text to a width, with `…` where something is missing.
pub fn shorten(text: &str, size: f64, width: f64) -> String {
    let clean = escape::line(text);
    if text_width(&clean, size) <= width {
        return clean;
    }
    let mut kept = clean;
    while kept.pop().is_some() && text_width(&format!("{kept}…"), size) > width {}
    kept.truncate(kept.trim_end().len());
    kept + "…"
}

impl Figure<'_> {
    /// Draws title and subtitle, the body below them, and the caution; `body` gets the sheet and the height at which it begins.
    pub fn draw(
        &self,
        body_height: f64,
        body: impl for<'s> FnOnce(&Sheet<'s>, f64) -> Drawn,
    ) -> Result<String, ChartError> {
        font_ready()?;
        let title = wrap(&self.title, TITLE * BOLD, WIDTH - 2.0 * MARGIN);
        let subtitle = wrap(&self.subtitle, SMALL, WIDTH - 2.0 * MARGIN);
        let top = MARGIN + title.len() as f64 * 22.0 + subtitle.len() as f64 * LINE + 10.0;
        let mut svg = String::new();
        let foot = top + body_height;
        let size = (px(WIDTH) as u32, px(foot + LINE) as u32);
        {
            let sheet = SVGBackend::with_string(&mut svg, size).into_drawing_area();
            sheet.fill(&Ink::Surface.colour()).map_err(fail)?;
            heading(&sheet, &title, &subtitle)?;
            body(&sheet, top)?;
            write(&sheet, cautions::FIGURE, (WIDTH - MARGIN, foot + LINE / 2.0), Ink::Muted, Align::End)?;
            sheet.present().map_err(fail)?;
        }
        Ok(self.finish(&svg, size))
    }

    fn finish(&self, svg: &str, (width, height): (u32, u32)) -> String {
        let name = self.name;
        let body = svg.split_once(">\n").map_or(svg, |(_, body)| body);
        let body =
            body.replace("\n</text>", "</text>").replace("\">\n", "\">").replace(" font-family=\"sans-serif\"", "");
        let body = ink::resolve(&body.replace(" opacity=\"1\"", ""), name);
        escape::document(format!(
            "<svg class=\"figure\" xmlns=\"http://www.w3.org/2000/svg\" viewBox=\"0 0 {width} {height}\" width=\"100%\" \
             role=\"img\" aria-labelledby=\"{name}-title {name}-desc\" stroke-linejoin=\"round\" \
             font-family=\"system-ui, 'DejaVu Sans', Arial, sans-serif\"><title id=\"{name}-title\">{}</title>\
             <desc id=\"{name}-desc\">{}</desc><style>{}</style>{}\n{body}",
            escape::markup(&self.title),
            escape::markup(&format!("{} {}", self.subtitle, self.description)),
            ink::style_sheet(),
            ink::hatches(&body, name),
        ))
    }
}

fn heading(sheet: &Sheet, title: &[String], subtitle: &[String]) -> Drawn {
    let mut y = MARGIN + 8.0;
    for line in title {
        let style = bold(style(Ink::Text, TITLE).pos(anchor(Align::Start)));
        sheet.draw(&Text::new(line.clone(), (px(MARGIN), px(y)), style)).map_err(fail)?;
        y += 22.0;
    }
    for line in subtitle {
        write(sheet, line, (MARGIN, y), Ink::Muted, Align::Start)?;
        y += LINE;
    }
    Ok(())
}

fn anchor(align: Align) -> Pos {
    let h = match align {
        Align::Start => HPos::Left,
        Align::Middle => HPos::Center,
        Align::End => HPos::Right,
    };
    Pos::new(h, VPos::Center)
}

fn style<'a>(ink: Ink, size: f64) -> TextStyle<'a> {
    let colour = ink.colour();
    (FAMILY, size * SCALE * EM).into_font().color(&colour)
}

fn bold(style: TextStyle<'_>) -> TextStyle<'_> {
    TextStyle { font: style.font.style(FontStyle::Bold), ..style }
}

/// Small text, centred on its height.
pub fn write(sheet: &Sheet, text: &str, (x, y): (f64, f64), ink: Ink, align: Align) -> Drawn {
    let style = style(ink, SMALL).pos(anchor(align));
    let clean = shorten(text, SMALL, WIDTH);
    sheet.draw(&Text::new(clean, (px(x), px(y)), style)).map_err(fail)
}

/// The same, in bold.
pub fn write_bold(sheet: &Sheet, text: &str, (x, y): (f64, f64), ink: Ink, align: Align) -> Drawn {
    let style = bold(style(ink, SMALL).pos(anchor(align)));
    sheet.draw(&Text::new(shorten(text, SMALL, WIDTH), (px(x), px(y)), style)).map_err(fail)
}

/// Lines of text below each other, from the left margin; `y` is the middle of the first.
pub fn notes(sheet: &Sheet, lines: &[String], y: f64) -> Drawn {
    let each =
        |(k, text): (usize, &String)| write(sheet, text, (MARGIN, y + k as f64 * LINE), Ink::Muted, Align::Start);
    lines.iter().enumerate().try_for_each(each)
}

/// A line of a colour and width [CSS px].
pub fn stroke(colour: impl Color, width: f64) -> ShapeStyle {
    ShapeStyle { color: colour.to_rgba(), filled: false, stroke_width: px(width) as u32 }
}

/// A line on the sheet itself.
pub fn line(sheet: &Sheet, points: &[(f64, f64)], style: ShapeStyle) -> Drawn {
    let points: Vec<_> = points.iter().map(|p| (px(p.0), px(p.1))).collect();
    sheet.draw(&PathElement::new(points, style)).map_err(fail)
}

/// A filled rectangle on the sheet itself.
pub fn area(sheet: &Sheet, f: Frame, colour: impl Color) -> Drawn {
    let corners = [(px(f.left), px(f.top)), (px(f.left + f.width), px(f.top + f.height))];
    sheet.draw(&Rectangle::new(corners, colour.filled())).map_err(fail)
}

/// A panel whose data area is exactly `frame`; axis labels stand left of it and below.
pub fn panel<'a>(sheet: &Sheet<'a>, frame: Frame, x: &Axis, y: &Axis) -> Result<Panel<'a>, ChartError> {
    const LEFT: f64 = 120.0;
    const BELOW: f64 = 46.0;
    let outer = sheet.clone().shrink(
        (px(frame.left - LEFT), px(frame.top)),
        (px(frame.width + LEFT) as u32, px(frame.height + BELOW) as u32),
    );
    let mut chart = ChartBuilder::on(&outer)
        .set_label_area_size(plotters::chart::LabelAreaPosition::Left, px(LEFT))
        .set_label_area_size(plotters::chart::LabelAreaPosition::Bottom, px(BELOW))
        .build_cartesian_2d(x.scale.clone(), y.scale.clone())
        .map_err(fail)?;
    let (x_text, y_text) = (|v: &f64| (x.show)(*v), |v: &f64| (y.show)(*v));
    let label = style(Ink::Muted, SMALL);
    let mut mesh = chart.configure_mesh();
    mesh.max_light_lines(0)
        .bold_line_style(stroke(Ink::Grid.colour(), 1.0))
        .axis_style(stroke(Ink::Muted.colour(), 1.0))
        .x_label_style(label.clone())
        .y_label_style(label.clone())
        .axis_desc_style(label.transform(FontTransform::None))
        .x_label_formatter(&x_text)
        .y_label_formatter(&y_text)
        .x_desc(x.name.clone())
        .set_all_tick_mark_size(px(4.0));
    if x.scale.ticks.is_empty() {
        mesh.disable_x_axis();
    }
    if y.scale.ticks.is_empty() {
        mesh.disable_y_axis();
    }
    mesh.draw().map_err(fail)?;
    Ok(chart)
}

/// A line through data points.
pub fn curve(panel: &mut Panel, points: Vec<(f64, f64)>, style: ShapeStyle) -> Drawn {
    if points.len() < 2 {
        return Ok(());
    }
    panel.draw_series(std::iter::once(PathElement::new(points, style))).map_err(fail).map(drop)
}

/// A filled area between an upper and a lower line.
pub fn band(panel: &mut Panel, upper: &[(f64, f64)], lower: &[(f64, f64)], colour: impl Color) -> Drawn {
    if upper.len() < 2 || lower.len() < 2 {
        return Ok(());
    }
    let outline: Vec<_> = upper.iter().chain(lower.iter().rev()).copied().collect();
    panel.draw_series(std::iter::once(Polygon::new(outline, colour.filled()))).map_err(fail).map(drop)
}

/// A filled rectangle between two data points.
pub fn block(panel: &mut Panel, corners: [(f64, f64); 2], colour: impl Color) -> Drawn {
    panel.draw_series(std::iter::once(Rectangle::new(corners, colour.filled()))).map_err(fail).map(drop)
}

/// Where a data point lies on the sheet [CSS px].
pub fn place(panel: &Panel, point: (f64, f64)) -> (f64, f64) {
    let (x, y) = panel.plotting_area().map_coordinate(&point);
    (f64::from(x) / SCALE, f64::from(y) / SCALE)
}
