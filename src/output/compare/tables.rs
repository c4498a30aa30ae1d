//! Tables of a comparison for other programs.
//!
//! In: the comparison, the parts lists. Out: one text a table, as in `output::table`.

use crate::output::kit::table::{estimate, number, optional, text};
use crate::study::compare::{Comparison, Difference, LayoutResult};
use crate::study::parts::Parts;
use crate::summary::Verdict;

/// One row a layout, in the order of the scenario.
pub fn layouts(c: &Comparison) -> String {
    let header = [
        "layout",
        "rank",
        "same_nights_as",
        "modules",
        "lead_pairs",
        "take_off",
        "leads",
        "lead_devices",
        "overload",
        "overload_low",
        "overload_high",
        "most_often_over",
        "ride_through_met",
        "ride_through_met_low",
        "ride_through_met_high",
        "ride_through_p5_h",
        "ride_through_p50_h",
        "ride_through_p95_h",
        "ride_through_mean_h",
        "limit_a",
        "limit_binding",
        "limit_one_out_a",
        "load_a",
        "loss_w",
        "drop_v",
        "price",
        "currency",
        "targets",
    ];
    text(&header, c.layouts.iter().enumerate().map(|(k, l)| layout(c, k, l)))
}

fn layout(c: &Comparison, k: usize, l: &LayoutResult) -> Vec<String> {
    let rank = c.ranking.iter().position(|&r| r == k).map(|r| (r + 1).to_string()).unwrap_or_default();
    let limit = |outages: usize| l.at_rest.limits.iter().find(|row| row.outages == outages);
    let amps = |outages| optional(limit(outages).and_then(|row| row.current_a));
    let binding = limit(0).and_then(|row| row.binding.clone()).unwrap_or_default();
    let h = &l.ride_through_h;
    let mut cells = vec![
        l.name.clone(),
        rank,
        l.same_nights_as.clone().unwrap_or_default(),
        l.modules.to_string(),
        l.lead_pairs.to_string(),
        l.take_off.unwrap_or_default().to_owned(),
        l.leads.join(" "),
        l.lead_devices.join(" "),
    ];
    cells.extend(estimate(&l.overload));
    cells.push(l.most_often_over.clone().unwrap_or_default());
    cells.extend(estimate(&l.ride_through_met));
    cells.extend([h.p5, h.p50, h.p95, h.mean].map(number));
    cells.extend([amps(0), binding, amps(1)]);
    let at = &l.at_rest.at_load;
    cells.extend([at.current_a, at.loss_w, at.drop_v].map(|x| if at.carried { number(x) } else { String::new() }));
    cells.extend([optional(l.price), c.currency.clone().unwrap_or_default(), word(l.verdict()).to_owned()]);
    cells
}

pub fn word(verdict: Verdict) -> &'static str {
    match verdict {
        Verdict::Met => "met",
        Verdict::Missed => "missed",
        Verdict::NotDecided => "not decided",
    }
}

/// One row a pair that the ranking rests on.
pub fn differences(c: &Comparison) -> String {
    let header = [
        "pairs",
        "first",
        "second",
        "overload",
        "overload_low",
        "overload_high",
        "first_alone",
        "second_alone",
        "decided",
        "nights_to_decide",
        "short",
        "short_low",
        "short_high",
        "ride_through_h",
        "ride_through_low_h",
        "ride_through_high_h",
    ];
    let groups = [("as written", &c.against_first), ("neighbours", &c.neighbours), ("best", &c.best_against_all)];
    let rows = groups.into_iter().flat_map(|(group, all)| all.iter().map(move |d| difference(c, group, d)));
    text(&header, rows)
}

fn difference(c: &Comparison, group: &str, d: &Difference) -> Vec<String> {
    let name = |k: usize| c.layouts[k].name.clone();
    let mut cells = vec![group.to_owned(), name(d.first), name(d.second)];
    cells.extend(estimate(&d.overload));
    cells.extend([d.overload_first_alone, d.overload_second_alone].map(|n| n.to_string()));
    cells.push(d.decided.to_string());
    cells.push(d.nights_to_decide.map(|n| n.to_string()).unwrap_or_default());
    cells.extend(estimate(&d.short));
    cells.extend(estimate(&d.ride_through_h));
    cells
}

/// The parts list of each layout.
pub fn parts<'a>(layouts: impl Iterator<Item = (&'a str, &'a Parts)>, currency: Option<&str>) -> String {
    let header =
        ["layout", "item", "type", "size", "length_m", "count", "total_length_m", "unit_price", "price", "currency"];
    let rows = layouts.flat_map(|(layout, parts)| {
        parts.parts.iter().map(move |p| {
            vec![
                layout.to_owned(),
                p.item.to_owned(),
                p.kind.clone(),
                p.size.clone(),
                optional(p.length_m),
                p.count.to_string(),
                optional(p.length_m.map(|metres| metres * p.count as f64)),
                optional(p.unit_price),
                optional(p.price()),
                currency.filter(|_| p.unit_price.is_some()).unwrap_or_default().to_owned(),
            ]
        })
    });
    text(&header, rows)
}
