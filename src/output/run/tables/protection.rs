//! The tables on protective devices and on conductors that may run hot.

use crate::output::kit::number;
use crate::output::kit::table::{Cell, Look, Table};
use crate::output::kit::words::{class, verdict_mark};
use crate::output::run::tables::cells::{ESTIMATE, mean_time, short};
use crate::output::run::words;
use crate::summary::{DeviceResult, HotConductor, Results};
use maud::html;

/// Each device: how often it opened, and what a short asks of it against what it can.
pub fn devices(r: &Results) -> Table<'_, &DeviceResult> {
    let highest_v = r.device_opened.as_ref().map_or(f64::NAN, |opened| opened.highest_v);
    let up = |amps| number::fault_current(number::rounded_up(amps));
    let fault = |amps: Option<f64>| amps.map_or_else(|| "not stated".into(), number::fault_current);
    let volts = |volts: Option<f64>| volts.map_or_else(|| "not stated".into(), number::voltage);
    let opens = |s: Option<f64>| s.map_or_else(|| "never".into(), number::seconds);
    let stands = |s: Option<f64>| s.map_or_else(|| "not known".into(), number::seconds);
    Table::<&DeviceResult>::new()
        .both((["id"], "Device"), Look::Id, |d| d.id.as_str(), |id| id)
        .both((["rated_a"], "Rated"), Look::Number, |d| d.rated_a, number::fault_current)
        .both((ESTIMATE, &words::with_interval(r, "Nights opened")), Look::Words, |d| d.chance, short)
        .column(["nights"], |d| d.nights)
        .both((["prospective_a"], "Prospective fault current"), Look::Number, |d| d.prospective_a, up)
        .both((["breaking_capacity_a"], "Breaking capacity"), Look::Number, |d| d.breaking_capacity_a, fault)
        .column(["highest_v"], move |_| highest_v)
        .both((["voltage_v"], "Direct voltage it breaks"), Look::Number, |d| d.voltage_v, volts)
        .column(["breaks"], |d| d.breaks)
        .both((["opens_after_s"], "Opens after"), Look::Number, |d| d.opens_after_s, opens)
        .both((["conductor_stands_s"], "Conductor stands for"), Look::Number, |d| d.conductor_stands_s, stands)
        .on_page("Verdict", Look::Words, move |d| {
            let (verdict, words) = words::device_verdict(d, highest_v);
            Cell::looking(format!("verdict {}", class(verdict)), html! { (verdict_mark(verdict).0) " " (words) })
        })
}

/// Each conductor with insulation data: how often it was over temperature, what it stands, and how hot it became.
pub fn temperatures(r: &Results) -> Table<'_, &HotConductor> {
    Table::<&HotConductor>::new()
        .both((["id"], "Conductor"), Look::Id, |c| c.id.as_str(), |id| id)
        .both((["stands_degc"], "Stands"), Look::Number, |c| c.stands_c, number::celsius)
        .both((["hottest_degc"], "Hottest"), Look::Number, |c| c.hottest_c, number::celsius)
        .both((ESTIMATE, &words::with_interval(r, "Nights over temperature")), Look::Whole, |c| c.chance, short)
        .both((["nights"], "Nights"), Look::Number, |c| c.nights, number::count)
        .column(["mean_time_over_temperature_h"], |c| c.mean_time_hot_h)
        .page("Mean time over", Look::Number, |c| mean_time(c.nights, c.mean_time_hot_h))
}
