//! Fuses and breakers: their types, and where they stand.

use super::{SMALL, WHOLE, and, faults, good, line_of, refused, with};
use bankwright::diagnostic::render;
use bankwright::scenario::{Bar, DeviceKind, DeviceType, Fitted, Poles, TripCurve};

const RATINGS: &str = "breaking_capacity = \"20 kA\"\nvoltage = \"80 V\"";

fn device(more: &str) -> String {
    and(SMALL, &format!("[device.main]\n{RATINGS}\n{more}"))
}

fn fuse(more: &str) -> String {
    device(&format!("kind = \"fuse\"\nrated = \"125 A\"\n{more}"))
}

fn breaker(more: &str) -> String {
    device(&format!("kind = \"breaker\"\nrated = \"125 A\"\n{more}"))
}

fn only(text: &str) -> DeviceType {
    let checked = good(text);
    assert!(checked.warnings.is_empty(), "{}", render(&checked.warnings, false));
    checked.scenario.devices[0].clone()
}

#[test]
fn a_fuse_has_the_curve_of_a_link_and_assumed_cooling() {
    let fuse = only(&fuse(""));
    assert_eq!((fuse.name.as_str(), fuse.kind, fuse.rated), ("main", DeviceKind::Fuse, 125.0));
    assert_eq!((fuse.curve, fuse.instantaneous), (TripCurve::FuseLink, None));
    assert_eq!((fuse.cooling, fuse.resistance), (600.0, 0.0));
    assert_eq!((fuse.breaking_capacity, fuse.voltage), (Some(20e3), Some(80.0)));
    assert_eq!(only(&self::fuse("curve = \"fuse-link\"")).curve, TripCurve::FuseLink);
}

#[test]
fn the_named_curves_of_the_standards() {
    // IEC 60255-151, Table A.1: very inverse 13.5 s and 1, extremely inverse 80 s and 2.
    let very = TripCurve::Inverse { k: 13.5, alpha: 1.0, multiplier: 1.0 };
    assert_eq!(only(&breaker("curve = \"very inverse\"")).curve, very);
    let extremely = TripCurve::Inverse { k: 80.0, alpha: 2.0, multiplier: 0.3 };
    assert_eq!(only(&fuse("curve = \"extremely inverse\"\nmultiplier = 0.3")).curve, extremely);
}

#[test]
fn a_thermal_curve_cools_as_it_warms() {
    let thermal = only(&breaker("curve = \"thermal\"\ntime_constant = \"8 min\""));
    assert_eq!((thermal.curve, thermal.cooling), (TripCurve::Thermal { time_constant: 480.0 }, 480.0));
}

#[test]
fn a_breaker_by_its_data_sheet() {
    let s = good(WHOLE).scenario;
    let names: Vec<&str> = s.devices.iter().map(|d| d.name.as_str()).collect();
    assert_eq!(names, ["link", "small", "main", "relay"]);
    let small = &s.devices[1];
    assert_eq!((small.kind, small.rated), (DeviceKind::Breaker, 110.0));
    assert_eq!(small.curve, TripCurve::Points(vec![(1.35, 3600.0), (2.0, 100.0), (10.0, 1.0)]));
    assert_eq!((small.instantaneous, small.cooling), (Some(800.0), 180.0));
}

#[test]
fn devices_stand_where_they_are_named() {
    let s = good(WHOLE).scenario;
    let at = |device, poles| Some(Fitted { device, poles });
    assert_eq!(s.stacks[0].leads[0].device, at(0, Poles::Positive));
    assert_eq!(s.stacks[0].leads[1].device, at(3, Poles::Both));
    assert_eq!(s.stacks[0].module_device, at(1, Poles::Negative));
    assert_eq!((s.stacks[1].module_device, s.stacks[1].leads[0].device), (None, None));
    assert_eq!(s.main, at(2, Poles::Both));
}

#[test]
fn a_main_device_needs_no_length_of_bar() {
    let bar = format!("{}\n[bar]\ndevice = \"main\"", fuse("resistance = \"0.1 mΩ\""));
    let s = good(&bar).scenario;
    assert!(matches!(s.bar, Bar::Ideal));
    assert_eq!(s.main, Some(Fitted { device: 0, poles: Poles::Positive }));
    for (key, value) in [("load_at", "7 m"), ("rating", "300 A")] {
        refused(&and(&bar, &format!("{key} = \"{value}\"")), value, &["has no meaning here", "one point a pole"]);
    }
    let at = with(&bar, "negative = 1 }", "negative = 1, at = \"1 m\" }");
    refused(&at, "leads", &["`at` has no meaning here", "[bar] has no `resistance`"]);
}

#[test]
fn devices_that_could_not_work() {
    let cases = [
        (device("rated = \"125 A\""), "[device.main]", "has no `kind`"),
        (device("kind = \"fuse\""), "[device.main]", "has no `rated`"),
        (device("kind = \"switch\"\nrated = \"125 A\""), "kind", "must be \"fuse\" or \"breaker\""),
        (breaker(""), "[device.main]", "has no `curve`"),
        (breaker("curve = \"fuse-link\""), "curve", "belongs to a fuse"),
        (breaker("curve = \"inverse\""), "curve", "\"extremely inverse\" or \"thermal\""),
        (breaker("curve = \"thermal\""), "[device.main]", "has no `time_constant`"),
        (fuse("instantaneous = \"900 A\""), "instantaneous", "belongs to a breaker"),
        (fuse("multiplier = 2"), "multiplier", "\"very inverse\" and \"extremely inverse\""),
        (fuse("curve = \"very inverse\"\nmultiplier = 0"), "multiplier", "must be more than 0"),
        (fuse("time_constant = \"5 min\""), "time_constant", "`curve = \"thermal\"`"),
        (fuse("curve = \"thermal\"\ntime_constant = \"5 min\"\ncooling = \"5 min\""), "cooling", "`time_constant`"),
        (fuse("cooling = \"0 s\""), "cooling", "at least 0.001 s"),
        (fuse("resistance = \"-1 mΩ\""), "resistance = \"-1", "at least 0 mΩ"),
        (breaker("curve = \"very inverse\"\ninstantaneous = \"125 A\""), "instantaneous", "above `rated`, 125 A"),
    ];
    for (text, at, fragment) in cases {
        refused(&text, at, &[fragment]);
    }
    let weak = with(&fuse(""), "\"20 kA\"", "\"100 A\"");
    refused(&weak, "breaking_capacity", &["`breaking_capacity` is 100 A", "above `rated`, 125 A"]);
    refused(&with(&fuse(""), "\"80 V\"", "\"0 V\""), "0 V\"", &["more than 0 V"]);
}

#[test]
fn rows_of_a_curve_that_could_not_be() {
    let cases = [
        ("[[1.5, \"1 h\"]]", "at least 2 rows"),
        ("[[1.5, \"1 h\"], [1.5, \"1 s\"]]", "does not rise"),
        ("[[1.5, \"1 min\"], [3, \"2 min\"]]", "must not take longer"),
        ("[[0, \"1 h\"], [3, \"1 s\"]]", "more than 0"),
        ("[[1.5, \"1 h\"], [3, \"0 s\"]]", "more than 0 s"),
        ("[[\"1.5\", \"1 h\"], [3, \"1 s\"]]", "a bare number"),
        ("[[1.5, \"1 h\"], [3, \"1 A\"]]", "a unit of current"),
    ];
    for (rows, fragment) in cases {
        refused(&fuse(&format!("curve = {rows}")), "curve", &[fragment]);
    }
    let flat = only(&fuse("curve = [[1.5, \"1 min\"], [3, \"1 min\"]]"));
    assert_eq!(flat.curve, TripCurve::Points(vec![(1.5, 60.0), (3.0, 60.0)]));
}

#[test]
fn places_that_could_not_be() {
    let stack = |more: &str| with(&fuse(""), "count = 2", &format!("count = 2\n{more}"));
    refused(&stack("module_device = \"mian\""), "mian", &["no [device.mian]", "did you mean \"main\"?"]);
    refused(&stack("module_poles = \"both\""), "module_poles", &["needs `module_device`"]);
    refused(&stack("module_device = \"main\"\nmodule_poles = \"all\""), "module_poles", &["\"negative\" or \"both\""]);
    let lead = |more: &str| with(&fuse(""), "negative = 1 }", &format!("negative = 1, {more} }}"));
    refused(&lead("poles = \"both\""), "leads", &["needs `device`"]);
    refused(&lead("device = \"other\""), "leads", &["no [device.other]", "defined: main"]);
    let none = with(SMALL, "negative = 1 }", "negative = 1, device = \"main\" }");
    refused(&none, "leads", &["no device type is defined"]);
    let bar = |more: &str| and(&fuse(""), &format!("[bar]\n{more}"));
    refused(&bar("device = \"main\""), "device = \"main\"", &["has no resistance", "to [device.main]"]);
    refused(&bar("resistance = \"1 mΩ/m\"\npoles = \"both\""), "poles", &["needs `device`"]);
    refused(&bar(""), "[bar]", &["[bar] says nothing", "`resistance` or `device` is required"]);
}

#[test]
fn a_reference_to_a_faulty_device_is_not_a_second_fault() {
    let text = fuse("resistance = 5\n[bar]\ndevice = \"main\"");
    refused(&text, "resistance = 5", &["1 error\n"]);
}

#[test]
fn unusual_devices_are_warned_of_at_their_place() {
    let plain = and(SMALL, "[device.main]\nkind = \"fuse\"\nrated = \"125 A\"");
    let on_lead = |text: &str| with(text, "negative = 1 }", "negative = 1, device = \"main\" }");
    let cases = [
        (with(&fuse(""), "125 A", "62 A"), "62 A", "from 63 to 400 A only"),
        (with(&fuse(""), "125 A", "401 A"), "401 A", "from 63 to 400 A only"),
        (fuse("curve = [[0.9, \"1 h\"], [3, \"1 s\"]]"), "curve", "less than its rated current"),
        (plain.clone(), "[device.main]", "has no `breaking_capacity` and no `voltage`"),
        (and(&plain, "voltage = \"80 V\""), "[device.main]", "has no `breaking_capacity`\n"),
        // The lead of this bank is rated 140 A.
        (on_lead(&with(&fuse(""), "125 A", "160 A")), "leads", "the fuse is rated 160 A, its lead 140 A"),
    ];
    for (text, at, fragment) in cases {
        let warnings = good(&text).warnings;
        let shown = render(&warnings, false);
        assert!(shown.contains(fragment) && shown.ends_with("1 warning\n"), "{fragment}:\n{shown}");
        assert_eq!(warnings[0].place().0, line_of(&text, at), "{shown}");
    }
    assert!(good(&on_lead(&with(&fuse(""), "125 A", "140 A"))).warnings.is_empty());
    let other = "curve = [[1.5, \"1 h\"], [3, \"1 s\"]]";
    assert!(good(&with(&fuse(other), "125 A", "20 A")).warnings.is_empty());
}

#[test]
fn a_lead_is_protected_by_the_lesser_of_rating_and_ampacity() {
    // In air of 30 °C six bundled conductors carry 0.8 of 150 A: 120 A, less than the rating and the fuse.
    let more = "insulation = \"90 °C\"\nampacity = \"150 A\"\nbundled = 6\ntime_constant = \"5 min\"";
    let text = with(&fuse(""), "rating = \"140 A\"", more);
    let text = with(&text, "negative = 1 }", "negative = 1, device = \"main\" }");
    let shown = render(&good(&text).warnings, false);
    assert!(shown.contains("the fuse is rated 125 A, its lead 120 A") && shown.ends_with("1 warning\n"), "{shown}");
}

#[test]
fn every_fault_of_a_device_is_reported_at_once() {
    let found = faults(&device("kind = \"fuse\"\nrated = 125\ncooling = 5\nvolts = \"80 V\""));
    assert_eq!(found.len(), 3, "{}", render(&found, false));
}
