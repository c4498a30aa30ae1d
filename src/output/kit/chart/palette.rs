//! Colours, dashes and hatches by role, for light and dark.
//!
//! The drawing library writes fixed colours; here each role has a marker colour that stands for it
//! while drawing, and `resolve` turns markers into a light colour (what a viewer without CSS shows)
//! and a class that a style sheet switches with the reader's scheme.
//!
//! Hues: Okabe and Ito, "Color Universal Design" (2008). Text hues are darker companions with a
//! contrast of at least 4.5 on white; dark ones reach it on #15191C (WCAG 2.2, 1.4.3 and 1.4.11).

use plotters::style::RGBColor;
use std::fmt::Write;

#[derive(Clone, Copy, Debug, PartialEq, Eq)]
#[repr(u8)]
pub enum Ink {
    Text,
    Muted,
    Grid,
    Surface,
    Blue,
    Vermillion,
    Green,
    Purple,
    BlueText,
    VermillionText,
    GreenText,
    PurpleText,
}

/// Dash of a line, or hatch of an area.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
#[repr(u8)]
pub enum Texture {
    Plain,
    Long,
    Short,
    Dots,
    Rising,
    Falling,
    Crossed,
}

/// What lines of one panel look like, and the ink of their names.
pub const LOOKS: [(Ink, Ink, Texture); 6] = [
    (Ink::Blue, Ink::BlueText, Texture::Plain),
    (Ink::Vermillion, Ink::VermillionText, Texture::Long),
    (Ink::Green, Ink::GreenText, Texture::Short),
    (Ink::Purple, Ink::PurpleText, Texture::Dots),
    (Ink::Text, Ink::Text, Texture::Long),
    (Ink::Muted, Ink::Muted, Texture::Short),
];

/// Class, light, dark; in the order of `Ink`.
const INKS: [(&str, &str, &str); 12] = [
    ("text", "#1B1F23", "#E6E6E6"),
    ("muted", "#595959", "#B4BAC0"),
    ("grid", "#DCDFE2", "#3A4148"),
    ("surface", "#FFFFFF", "#15191C"),
    ("blue", "#0072B2", "#56B4E9"),
    ("vermillion", "#D55E00", "#F08A3C"),
    ("green", "#009E73", "#2FC196"),
    ("purple", "#9A3E6D", "#CC79A7"),
    ("blue-text", "#0072B2", "#7CC6F0"),
    ("vermillion-text", "#A94700", "#F5A566"),
    ("green-text", "#00704F", "#4FD0A9"),
    ("purple-text", "#9A3E6D", "#E0A3C4"),
];

/// Dash lengths in canvas units, in the order of `Texture`.
const DASHES: [&str; 7] = ["", "80 40", "40 30", "15 30", "", "", ""];

/// First byte of every marker colour.
const MARKER: u8 = 0xF1;

impl Ink {
    pub fn colour(self) -> RGBColor {
        self.with(Texture::Plain)
    }

    pub fn with(self, texture: Texture) -> RGBColor {
        RGBColor(MARKER, self as u8, texture as u8)
    }
}

/// Replaces every marker colour of an SVG text by attributes that a style sheet can switch.
pub fn resolve(svg: &str, figure: &str) -> String {
    let mut out = String::with_capacity(svg.len());
    let mut rest = svg;
    while let Some(at) = rest.find("=\"#F1") {
        let (before, from) = rest.split_at(at);
        let (marker, after) = from.split_at_checked(10).unwrap_or((from, ""));
        let property = if before.ends_with("stroke") { "stroke" } else { "fill" };
        out.push_str(before.strip_suffix(property).unwrap_or(before));
        out.push_str(&attributes(property, marker, figure));
        rest = after;
    }
    out.push_str(rest);
    out
}

/// `marker` is `="#F1IITT"`: ink, then texture.
fn attributes(property: &str, marker: &str, figure: &str) -> String {
    let byte = |from: usize| marker.get(from..from + 2).and_then(|h| usize::from_str_radix(h, 16).ok()).unwrap_or(0);
    let (class, light, _) = INKS.get(byte(5)).copied().unwrap_or(INKS[0]);
    let texture = byte(7);
    let hatched = texture >= Texture::Rising as usize;
    if hatched && property == "fill" {
        return format!("fill=\"url(#{figure}-hatch{}-{class})\"", texture);
    }
    let mut text = format!("class=\"{}-{class}\" {property}=\"{light}\"", &property[..1]);
    if let Some(dash) = DASHES.get(texture).filter(|d| !d.is_empty()) {
        let _ = write!(text, " stroke-dasharray=\"{dash}\"");
    }
    text
}

/// The style sheet of a figure. Identical in all of them, so that several may stand in one page.
pub fn style_sheet() -> String {
    let variables = |pick: fn(&(&'static str, &'static str, &'static str)) -> &'static str| {
        INKS.iter().fold(String::new(), |mut text, ink| {
            let _ = write!(text, "--fig-{}:{};", ink.0, pick(ink));
            text
        })
    };
    let (light, dark) = (variables(|i| i.1), variables(|i| i.2));
    let mut css = format!(
        ".figure{{{light}}}@media (prefers-color-scheme:dark){{.figure{{{dark}}}}}@media print{{.figure{{{light}}}}}"
    );
    for (class, ..) in INKS {
        let _ =
            write!(css, ".figure .f-{class}{{fill:var(--fig-{class})}}.figure .s-{class}{{stroke:var(--fig-{class})}}");
    }
    css
}

/// Definitions of the hatches that a figure uses.
pub fn hatches(svg: &str, figure: &str) -> String {
    let mut out = String::new();
    for (class, light, _) in INKS {
        for (texture, path) in [
            (Texture::Rising, "M-10,70 L70,-10 M-10,10 L10,-10 M50,70 L70,50"),
            (Texture::Falling, "M-10,-10 L70,70 M50,-10 L70,10 M-10,50 L10,70"),
            (Texture::Crossed, "M-10,70 L70,-10 M-10,-10 L70,70"),
        ] {
            let id = format!("{figure}-hatch{}-{class}", texture as u8);
            if svg.contains(&id) {
                let _ = write!(
                    out,
                    "<pattern id=\"{id}\" width=\"60\" height=\"60\" patternUnits=\"userSpaceOnUse\"><path d=\"{path}\" \
                     fill=\"none\" class=\"s-{class}\" stroke=\"{light}\" stroke-width=\"12\"/></pattern>"
                );
            }
        }
    }
    if out.is_empty() { out } else { format!("<defs>{out}</defs>") }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn markers_become_classes_with_a_fallback() {
        let RGBColor(r, g, b) = Ink::Vermillion.with(Texture::Long);
        let svg = format!("<line stroke=\"#{r:02X}{g:02X}{b:02X}\" x1=\"0\"/>");
        assert_eq!(
            resolve(&svg, "x"),
            "<line class=\"s-vermillion\" stroke=\"#D55E00\" stroke-dasharray=\"80 40\" x1=\"0\"/>"
        );
    }

    #[test]
    fn hatches_become_patterns_of_the_figure() {
        let RGBColor(r, g, b) = Ink::Muted.with(Texture::Falling);
        let svg = resolve(&format!("<rect fill=\"#{r:02X}{g:02X}{b:02X}\" stroke=\"none\"/>"), "night");
        assert_eq!(svg, "<rect fill=\"url(#night-hatch5-muted)\" stroke=\"none\"/>");
        assert!(hatches(&svg, "night").contains("<pattern id=\"night-hatch5-muted\""));
    }

    /// Contrast of two colours by WCAG 2.2, "contrast ratio" and "relative luminance".
    fn contrast(a: &str, b: &str) -> f64 {
        let luminance = |hex: &str| {
            let part = |k: usize| f64::from(u8::from_str_radix(&hex[k..k + 2], 16).unwrap()) / 255.0;
            let linear = |c: f64| {
                if c <= 0.04045 { c / 12.92 } else { ((c + 0.055) / 1.055).powf(2.4) }
            };
            0.2126 * linear(part(1)) + 0.7152 * linear(part(3)) + 0.0722 * linear(part(5))
        };
        let (x, y) = (luminance(a) + 0.05, luminance(b) + 0.05);
        x.max(y) / x.min(y)
    }

    #[test]
    fn every_ink_stands_out_from_its_ground_in_light_and_dark() {
        let ground = INKS[Ink::Surface as usize];
        for (class, light, dark) in INKS {
            let least = match class {
                "grid" | "surface" => continue,
                name if name.ends_with("text") || name == "muted" => 4.5,
                _ => 3.0,
            };
            assert!(contrast(light, ground.1) >= least, "{class} on light");
            assert!(contrast(dark, ground.2) >= least, "{class} on dark");
        }
    }

    #[test]
    fn every_ink_stands_in_the_table_at_its_number() {
        assert_eq!(INKS[Ink::PurpleText as usize].0, "purple-text");
        assert_eq!(INKS[Ink::Surface as usize].0, "surface");
    }
}
