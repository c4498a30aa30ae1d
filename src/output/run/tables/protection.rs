//! The tables on protective devices and on conductors that may run hot.

use super::{ESTIMATE, mean_time};
use crate::output::kit::number;
use crate::output::kit::table::{Cell, Look, Table};
use crate::output::run::words;
use crate::summary::{DeviceResult, HotConductor, Results};
use maud::html;

/// Each device: how often it opened, and what a short asks of it against what it can.
pub fn devices(r: &Results) -> Table<'_, &DeviceResult> {
    let highest_v = r.device_opened.as_ref().map_or(f64::NAN, |opened| opened.highest_v);
    let stated = |x: Option<f64>, show: fn(f64) -> String| x.map_or_else(|| "not stated".into(), show);
    Table::<&DeviceResult>::new()
        .column(["id"], |d| &d.id)
        .page("Device", Look::Id, |d| &d.id)
        .column(["rated_a"], |d| d.rated_a)
        .page("Rated", Look::Number, |d| number::fault_current(d.rated_a))
        .column(ESTIMATE, words::opening)
        .page(&words::with_interval(r, "Nights opened"), Look::Words, |d| number::frequency_short(&words::opening(d)))
        .column(["nights"], |d| d.nights)
        .column(["prospective_a"], |d| d.prospective_a)
        .page("Prospective fault current", Look::Number, |d| number::fault_current(number::rounded_up(d.prospective_a)))
        .column(["breaking_capacity_a"], |d| d.breaking_capacity_a)
        .page("Breaking capacity", Look::Number, move |d| stated(d.breaking_capacity_a, number::fault_current))
        .column(["highest_v"], move |_| highest_v)
        .column(["voltage_v"], |d| d.voltage_v)
        .page("Direct voltage it breaks", Look::Number, move |d| stated(d.voltage_v, number::voltage))
        .column(["breaks"], |d| d.breaks)
        .column(["opens_after_s"], |d| d.opens_after_s)
        .page("Opens after", Look::Number, |d| d.opens_after_s.map_or_else(|| "never".into(), number::seconds))
        .column(["conductor_stands_s"], |d| d.conductor_stands_s)
        .page("Conductor stands for", Look::Number, |d| {
            d.conductor_stands_s.map_or_else(|| "not known".into(), number::seconds)
        })
        .on_page("Verdict", Look::Words, move |d| {
            let (symbol, words) = words::device_verdict(d, highest_v);
            let look = match symbol {
                "✔" => "verdict met",
                "✖" => "verdict missed",
                _ => "verdict open",
            };
            Cell::looking(look, html! { (symbol) " " (words) })
        })
}

/// Each conductor with insulation data: how often it was over temperature, what it stands, and how hot it became.
pub fn temperatures(r: &Results) -> Table<'_, &HotConductor> {
    Table::<&HotConductor>::new()
        .column(["id"], |c| &c.id)
        .page("Conductor", Look::Id, |c| &c.id)
        .column(["stands_degc"], |c| c.stands_c)
        .page("Stands", Look::Number, |c| number::celsius(c.stands_c))
        .column(["hottest_degc"], |c| c.hottest_c)
        .page("Hottest", Look::Number, |c| number::celsius(c.hottest_c))
        .column(ESTIMATE, words::heat)
        .page(&words::with_interval(r, "Nights over temperature"), Look::Whole, |c| {
            number::frequency_short(&words::heat(c))
        })
        .column(["nights"], |c| c.nights)
        .page("Nights", Look::Number, |c| number::count(c.nights))
        .column(["mean_time_over_temperature_h"], |c| c.mean_time_hot_h)
        .page("Mean time over", Look::Number, |c| mean_time(c.nights, c.mean_time_hot_h))
}
