//! The tables on protective devices and on conductors that may run hot.

use crate::output::kit::number;
use crate::output::kit::table::framed;
use crate::output::run::words;
use crate::summary::{DeviceOpened, DeviceResult, HotConductor, Results};
use maud::{Markup, html};

/// Each device: how often it opened, and what a short asks of it.
pub fn devices(r: &Results) -> Markup {
    let Some(opened) = &r.device_opened else {
        return html! { p { b { "Table 5. " } "The scenario has no protective device: none opens, and none is judged." } };
    };
    let body = html! {
        thead { tr {
            th scope="col" { "Device" }
            th.n scope="col" { "Rated" }
            th scope="col" { (words::with_interval(r, "Nights opened")) }
            th.n scope="col" { "Prospective fault current" }
            th.n scope="col" { "Breaking capacity" }
            th.n scope="col" { "Direct voltage it breaks" }
            th.n scope="col" { "Opens after" }
            th.n scope="col" { "Conductor stands for" }
            th scope="col" { "Verdict" }
        } }
        tbody { @for d in words::devices(opened) { (device(opened, d)) } }
    };
    let highest = number::voltage(number::rounded_up(opened.highest_v));
    let caption = format!("Protective devices; the highest voltage of the bank, which each must break, is {highest}");
    html! {
        div.wide { (framed(&caption, "5", body)) }
        p {
            "The prospective fault current is what a bolted short beside the device would drive through it by resistance \
             alone, with all modules full, in service, as nominal and as warm as their guards allow (60 °C without one), and \
             conductors at 20 °C. Inductance, the arc and the electronics of the modules are left out, each of which would \
             lessen it: it is an upper figure, against which to hold the breaking capacity. It is not what every fault \
             draws: one further away, with an arc or with fewer modules draws less, and a device then takes longer to open, \
             or does not open at all. The two times in the table are for the prospective current, the device cold and the \
             conductor at its full temperature. The device's own data and local codes govern."
        }
    }
}

fn device(opened: &DeviceOpened, d: &DeviceResult) -> Markup {
    let (symbol, words) = words::device_verdict(d, opened.highest_v);
    let class = match symbol {
        "✔" => "met",
        "✖" => "missed",
        _ => "open",
    };
    let stated = |x: Option<f64>, show: fn(f64) -> String| x.map_or_else(|| "not stated".into(), show);
    html! {
        tr {
            th.id scope="row" { (d.id) }
            td.n { (number::fault_current(d.rated_a)) }
            td { (number::frequency_short(&words::opening(d))) }
            td.n { (number::fault_current(number::rounded_up(d.prospective_a))) }
            td.n { (stated(d.breaking_capacity_a, number::fault_current)) }
            td.n { (stated(d.voltage_v, number::voltage)) }
            td.n { (d.opens_after_s.map_or_else(|| "never".into(), number::seconds)) }
            td.n { (d.conductor_stands_s.map_or_else(|| "not known".into(), number::seconds)) }
            td.verdict.(class) { (symbol) " " (words) }
        }
    }
}

/// Each conductor with insulation data: what it stands, and how hot it became.
pub fn temperatures(r: &Results) -> Markup {
    let Some(over) = &r.over_temperature else {
        return html! { p { b { "Table 6. " } "No conductor has insulation data: how hot each becomes is not known." } };
    };
    let body = html! {
        thead { tr {
            th scope="col" { "Conductor" }
            th.n scope="col" { "Stands" }
            th.n scope="col" { "Hottest" }
            th scope="col" { (words::with_interval(r, "Nights over temperature")) }
            th.n scope="col" { "Nights" }
            th.n scope="col" { "Mean time over" }
        } }
        tbody { @for c in words::hot_conductors(over) { (conductor(c)) } }
    };
    framed(
        "Conductors with insulation data: the lesser of what insulation and terminals stand, and what came",
        "6",
        body,
    )
}

fn conductor(c: &HotConductor) -> Markup {
    html! {
        tr {
            th.id scope="row" { (c.id) }
            td.n { (number::celsius(c.stands_c)) }
            td.n { (number::celsius(c.hottest_c)) }
            td.p { (number::frequency_short(&words::heat(c))) }
            td.n { (number::count(c.nights)) }
            td.n { @if c.nights > 0 { (number::duration(c.mean_time_hot_h)) } @else { (number::NONE) } }
        }
    }
}
