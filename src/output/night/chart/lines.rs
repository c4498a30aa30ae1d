//! The panels of lines: bank current, share of rating, temperatures.

use crate::engine::record::{Moment, Record};
use crate::output::kit::chart::decimate::thin;
use crate::output::kit::chart::label;
use crate::output::kit::chart::prelude::*;
use crate::output::night::chart::panel::{Night, heading};
use plotters::style::Color;

/// Elements whose share of rating is drawn.
const SHOWN: usize = 4;
/// Modules whose temperatures are drawn one by one.
const FEW: usize = 8;
const BUCKETS: usize = 400;

type Points = Vec<(f64, f64)>;

/// A line with its label at the end.
struct Series {
    label: String,
    line: (Ink, Texture),
    text: Ink,
    width: f64,
    parts: Vec<Points>,
}

/// An element's current as a share of what it is rated for [%].
struct Loading {
    id: String,
    percent: Vec<f64>,
    peak: f64,
}

/// The night in one sentence.
pub fn headline(record: &Record) -> String {
    let ended = record.moments.iter().find(|m| !m.served).map(|m| m.time.hours());
    let service = match ended {
        Some(h) => format!("demand first not met after {}", number::duration(h)),
        None => "demand met throughout".to_string(),
    };
    match loadings(record).first() {
        Some(worst) if worst.peak > 100.0 + 1e-7 => {
            format!("{} reaches {:.0} % of its rating; {service}", worst.id, worst.peak)
        }
        Some(worst) => format!("Nothing over its rating, {} the nearest at {:.0} %; {service}", worst.id, worst.peak),
        None => format!("The replayed night: {service}"),
    }
}

pub fn bus(sheet: &Sheet, night: &Night, frame: Frame) -> Drawn {
    let above = Frame { top: frame.top - night.above(), ..frame };
    heading(sheet, above, "a · Bank current at the bus I (A)")?;
    let current = series(night, "bank", Ink::Blue, |m| Some(m.bus_current));
    let (low, high) = range(current.parts.iter());
    let axis = Axis::linear(low.min(0.0), high + 0.08 * (high - low.min(0.0)), "");
    let mut panel = night.panel(sheet, frame, &axis, false)?;
    let unserved = stretches(&night.record.moments, |m| !m.served);
    for (from, to) in &unserved {
        canvas::block(
            &mut panel,
            [(*from, axis.scale.low), (*to, axis.scale.high)],
            Ink::Vermillion.with(Texture::Rising).mix(0.8),
        )?;
    }
    let labels = draw(&mut panel, [current])?;
    ends(sheet, &panel, &labels)?;
    if unserved.is_empty() {
        return Ok(());
    }
    write(
        sheet,
        "hatched: demand not met",
        (frame.left + frame.width, above.top - 14.0),
        Ink::VermillionText,
        Align::End,
    )
}

pub fn loads(sheet: &Sheet, night: &Night, frame: Frame) -> Drawn {
    heading(sheet, frame, "b · Share of rating I / I rated (%), highest elements")?;
    let lines = [
        (Ink::Vermillion, Texture::Plain, Ink::VermillionText),
        (Ink::Blue, Texture::Long, Ink::BlueText),
        (Ink::Green, Texture::Short, Ink::GreenText),
        (Ink::Purple, Texture::Dots, Ink::PurpleText),
    ];
    let all = loadings(night.record);
    let high = all.first().map_or(0.0, |l| l.peak).max(112.0) * 1.04;
    let mut panel = night.panel(sheet, frame, &Axis::linear(0.0, high, ""), false)?;
    let corners = [(0.0, 100.0), (night.hours, high)];
    canvas::block(&mut panel, corners, Ink::Vermillion.with(Texture::Falling).mix(0.45))?;
    let shown = alike(&all).into_iter().zip(lines).map(|((label, l), (ink, texture, text))| {
        let values = night.record.moments.iter().zip(&l.percent).map(|(m, p)| (m.time.hours(), *p));
        let parts = thin(values, BUCKETS, night.hours);
        Series { label, line: (ink, texture), text, width: 2.0, parts }
    });
    let labels = draw(&mut panel, shown)?;
    curve(&mut panel, vec![(0.0, 100.0), (night.hours, 100.0)], stroke(Ink::Text.colour(), 2.0))?;
    ends(sheet, &panel, &labels)?;
    let right = frame.left + frame.width;
    write(sheet, "hatched: over rating", (right, frame.top - 14.0), Ink::VermillionText, Align::End)
}

pub fn temperatures(sheet: &Sheet, night: &Night, frame: Frame) -> Drawn {
    heading(sheet, frame, "c · Temperature of modules, outdoor air and floor T (°C)")?;
    let mut all = modules(night);
    let mut outdoor = series(night, "outdoors", Ink::Muted, |m| Some(m.outdoor));
    outdoor.line.1 = Texture::Long;
    let mut floor = series(night, "floor", Ink::Purple, |m| Some(m.floor));
    floor.line.1 = Texture::Short;
    floor.text = Ink::PurpleText;
    all.extend([outdoor, floor]);
    let many = night.record.modules.len() > FEW;
    let (lower, upper) = if many { extremes(night) } else { Default::default() };
    let (low, high) = range(all.iter().flat_map(|s| &s.parts).chain([&lower, &upper]));
    let room = 0.08 * (high - low).max(1.0);
    let mut panel = night.panel(sheet, frame, &Axis::linear(low - room, high + room, ""), false)?;
    canvas::band(&mut panel, &upper, &lower, Ink::Blue.colour().mix(0.18))?;
    let labels = draw(&mut panel, all)?;
    ends(sheet, &panel, &labels)
}

/// Few modules one by one, many as a band; named are that which became coldest and that which became warmest.
fn modules(night: &Night) -> Vec<Series> {
    let count = night.record.modules.len();
    let line = |k: usize, label: &str| {
        let mut line = series(night, label, Ink::Blue, |m| m.module_temperatures.get(k).copied());
        line.width = if label.is_empty() { 1.0 } else { 2.0 };
        line
    };
    if count > 0 && alike_warm(night.record) {
        let label = if count == 1 { night.record.modules[0].as_str() } else { "all modules" };
        return vec![line(0, label)];
    }
    let ends: Vec<(usize, (f64, f64))> =
        (0..count).filter_map(|k| Some((k, coldest_and_warmest(night.record, k)?))).collect();
    // Where several were as cold, as at a start in common, the one that stayed so.
    let hundredths = |(low, high): (f64, f64)| ((low * 100.0).round() as i64, (high * 100.0).round() as i64);
    let coldest = ends.iter().min_by_key(|e| hundredths(e.1)).map(|e| e.0);
    let warmest = ends.iter().max_by_key(|e| (hundredths(e.1).1, hundredths(e.1).0)).map(|e| e.0);
    let named = |k: usize| match (Some(k) == coldest, Some(k) == warmest) {
        (true, true) => ", both ends",
        (true, false) => ", coldest",
        (false, true) => ", warmest",
        _ => "",
    };
    let label = |k: usize| if named(k).is_empty() { String::new() } else { night.record.modules[k].clone() + named(k) };
    let drawn = (0..count).filter(|k| count <= FEW || !named(*k).is_empty());
    drawn.map(|k| line(k, &label(k))).collect()
}

/// Whether no two modules differ by what a picture shows, at any moment.
fn alike_warm(record: &Record) -> bool {
    const SEEN: f64 = 0.05;
    record.moments.iter().all(|m| {
        let finite = || m.module_temperatures.iter().copied().filter(|t| t.is_finite());
        finite().fold(f64::NEG_INFINITY, f64::max) - finite().fold(f64::INFINITY, f64::min) <= SEEN
    })
}

/// How cold and how warm a module became.
fn coldest_and_warmest(record: &Record, module: usize) -> Option<(f64, f64)> {
    let values = record.moments.iter().filter_map(|m| m.module_temperatures.get(module).copied());
    let mut finite = values.filter(|t| t.is_finite());
    let first = finite.next()?;
    Some(finite.fold((first, first), |(low, high), t| (low.min(t), high.max(t))))
}

/// Coldest and warmest module at each moment.
fn extremes(night: &Night) -> (Points, Points) {
    let pick = |choose: fn(f64, f64) -> f64| {
        let values = night.record.moments.iter().map(move |m| {
            let finite = m.module_temperatures.iter().copied().filter(|t| t.is_finite());
            (m.time.hours(), finite.reduce(choose).unwrap_or(f64::NAN))
        });
        thin(values, BUCKETS / 2, night.hours).concat()
    };
    (pick(f64::min), pick(f64::max))
}

fn series(night: &Night, label: &str, ink: Ink, value: impl Fn(&Moment) -> Option<f64>) -> Series {
    let values = night.record.moments.iter().map(|m| (m.time.hours(), value(m).unwrap_or(f64::NAN)));
    let text = if ink == Ink::Blue { Ink::BlueText } else { ink };
    let parts = thin(values, BUCKETS, night.hours);
    Series { label: label.into(), line: (ink, Texture::Plain), text, width: 2.0, parts }
}

/// Conductors and modules by their greatest share of rating; the unrated have none. Shares that only rounding tells apart,
/// as of two conductors in series, go by name.
fn loadings(record: &Record) -> Vec<Loading> {
    let modules = record.modules.iter().zip(&record.module_limits).enumerate().map(|(k, (id, limit))| {
        // A limit of discharge says nothing of charging.
        loading(record, (id, *limit), move |m| m.module_currents.get(k).map(|i| i.max(0.0)))
    });
    let conductors =
        record.conductors.iter().zip(&record.conductor_ratings).enumerate().map(|(k, (id, rating))| {
            loading(record, (id, *rating), move |m| m.conductor_currents.get(k).map(|i| i.abs()))
        });
    let mut all: Vec<Loading> = modules.chain(conductors).flatten().collect();
    let step = |l: &Loading| (l.peak * 1e6).round();
    all.sort_by(|a, b| step(b).total_cmp(&step(a)).then_with(|| a.id.cmp(&b.id)));
    all
}

fn loading(
    record: &Record,
    (id, limit): (&str, Option<f64>),
    current: impl Fn(&Moment) -> Option<f64>,
) -> Option<Loading> {
    let limit = limit.filter(|l| *l > 0.0 && l.is_finite())?;
    let percent: Vec<f64> = record.moments.iter().map(|m| current(m).map_or(f64::NAN, |i| i / limit * 100.0)).collect();
    let peak = percent.iter().copied().filter(|p| p.is_finite()).reduce(f64::max)?;
    Some(Loading { id: id.into(), percent, peak })
}

/// The highest elements; one line where several carry the same, as a pair of leads does (`A.lead1+/-`).
fn alike(all: &[Loading]) -> Vec<(String, &Loading)> {
    let mut shown: Vec<(&Loading, Vec<&str>)> = Vec::new();
    for loading in all {
        if let Some((_, others)) = shown.iter_mut().find(|s| same(s.0, loading)) {
            others.push(&loading.id);
        } else if shown.len() < SHOWN {
            shown.push((loading, Vec::new()));
        }
    }
    let name = |first: &Loading, others: &[&str]| match others {
        [] => first.id.clone(),
        [one] => label::poles(&first.id, one).unwrap_or_else(|| format!("{} etc.", first.id)),
        _ => format!("{} etc.", first.id),
    };
    shown.into_iter().map(|(l, others)| (name(l, &others), l)).collect()
}

/// Within half a per cent of the rating throughout.
fn same(a: &Loading, b: &Loading) -> bool {
    a.percent.iter().zip(&b.percent).all(|(x, y)| (x - y).abs() < 0.5 || (x.is_nan() && y.is_nan()))
}

/// Least and greatest of all points.
fn range<'a>(all: impl Iterator<Item = &'a Points>) -> (f64, f64) {
    let values = all.flatten().map(|p| p.1);
    let (low, high) = values.fold((f64::INFINITY, f64::NEG_INFINITY), |(l, h), v| (l.min(v), h.max(v)));
    if low <= high { (low, high) } else { (0.0, 1.0) }
}

/// A label: what is written, in which ink, and the data point beside which it belongs.
type EndLabel = (String, Ink, (f64, f64));

fn draw(panel: &mut Panel, all: impl IntoIterator<Item = Series>) -> Result<Vec<EndLabel>, ChartError> {
    let mut labels = Vec::new();
    for series in all {
        let style = stroke(series.line.0.with(series.line.1), series.width);
        let end = series.parts.last().and_then(|p| p.last()).copied();
        for part in series.parts {
            curve(panel, part, style)?;
        }
        labels.extend(end.filter(|_| !series.label.is_empty()).map(|end| (series.label, series.text, end)));
    }
    Ok(labels)
}

/// Labels right of the lines' ends, moved apart.
fn ends(sheet: &Sheet, panel: &Panel, labels: &[EndLabel]) -> Drawn {
    let range = panel.plotting_area().get_pixel_range();
    let (top, bottom) = (f64::from(range.1.start) / 10.0, f64::from(range.1.end) / 10.0);
    let right = f64::from(range.0.end) / 10.0;
    let wanted: Vec<f64> = labels.iter().map(|l| place(panel, l.2).1).collect();
    let placed = label::spread(&wanted, 16.0, top, bottom);
    for ((text, ink, _), (from, to)) in labels.iter().zip(wanted.iter().zip(&placed)) {
        line(sheet, &[(right + 1.0, *from), (right + 8.0, *to)], stroke(ink.colour(), 1.0))?;
        let short = shorten(text, SMALL, WIDTH - right - 14.0);
        write(sheet, &short, (right + 11.0, *to), *ink, Align::Start)?;
    }
    Ok(())
}

/// Stretches of time in which something holds: from its first moment to the next at which it does not.
fn stretches(moments: &[Moment], holds: impl Fn(&Moment) -> bool) -> Points {
    let mut found = Points::new();
    for (k, run) in moments.chunk_by(|a, b| holds(a) == holds(b)).scan(0, |next, run| {
        *next += run.len();
        Some((*next, run))
    }) {
        let (Some(first), Some(last)) = (run.first(), run.last()) else {
            continue;
        };
        if holds(first) {
            found.push((first.time.hours(), moments.get(k).unwrap_or(last).time.hours()));
        }
    }
    found
}

#[cfg(test)]
mod tests {
    use super::*;

    /// Two poles of one lead share a name; elements that only carry the same do not.
    #[test]
    fn lines_that_coincide_name_elements_that_there_are() {
        let labels = |ids: &[&str]| -> Vec<String> {
            let all = ids.iter().map(|id| Loading { id: (*id).into(), percent: vec![50.0], peak: 50.0 });
            alike(&all.collect::<Vec<_>>()).into_iter().map(|(label, _)| label).collect()
        };
        assert_eq!(labels(&["A.lead1+", "A.lead1-"]), ["A.lead1+/-"]);
        assert_eq!(labels(&["A2", "A3"]), ["A2 etc."]);
        assert_eq!(labels(&["A.jumper1-2-", "A.jumper2-3-"]), ["A.jumper1-2- etc."]);
        assert_eq!(labels(&["A.lead1+", "B.lead1-"]), ["A.lead1+ etc."]);
        assert_eq!(labels(&["A1", "A2", "A3"]), ["A1 etc."]);
    }
}
