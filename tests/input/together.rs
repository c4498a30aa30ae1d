//! Values that are at fault together.

use super::{SMALL, WHOLE, and, faults, good, refused, with};
use bankwright::diagnostic::render;
use bankwright::scenario::Distribution;

#[test]
fn names_that_refer_to_nothing() {
    let text = with(SMALL, "module = \"cellar\"", "module = \"celar\"");
    refused(&text, "celar\"", &["no [module.celar]", "did you mean \"cellar\"?"]);
    let text = with(SMALL, "{ cable = \"link\"", "{ cable = \"wire\"");
    refused(&text, "wire", &["no [cable.wire]", "defined: link"]);
}

#[test]
fn a_reference_to_a_faulty_type_is_not_a_second_fault() {
    refused(&with(SMALL, "\"13 mΩ\"", "\"13\""), "\"13\"", &["1 error\n"]);
}

#[test]
fn positions_outside_the_stack() {
    for (other, position) in [("positive = 3", "3"), ("positive = 0", "0")] {
        let text = with(SMALL, "positive = 2", other);
        let fault = format!("position {position}, outside");
        refused(&text, "leads", &[&fault, "from 1 (at the floor) to 2"]);
    }
    refused(&with(SMALL, "positive = 2", "positive = -1"), "leads", &["`positive` is -1"]);
}

#[test]
fn a_stack_without_leads() {
    let leads = "leads = [{ cable = \"link\", positive = 2, negative = 1 }]";
    refused(&with(SMALL, leads, "leads = []"), "leads", &["no lead pair"]);
    refused(&with(SMALL, leads, ""), "[[stack]]", &["has no `leads`"]);
}

fn stack(name: &str, count: u64) -> String {
    format!(
        "[[stack]]\nname = \"{name}\"\nmodule = \"cellar\"\ncount = {count}\njumper = \"link\"\n\
         leads = [{{ cable = \"link\", positive = 1, negative = 1 }}]"
    )
}

#[test]
fn names_of_stacks_keep_identifiers_apart() {
    for name in ["A.1", "A,1", "A 1", "Ä", ""] {
        let text = with(SMALL, "name = \"A\"", &format!("name = \"{name}\""));
        refused(&text, "name = ", &["`name` is"]);
    }
    let twice = and(&with(SMALL, "name = \"A\"", "name  = \"A\""), &stack("A", 2));
    refused(&twice, "name = \"A\"", &["two stacks are named \"A\""]);
    let long = with(SMALL, "count = 2", "count = 11");
    refused(&and(&long, &stack("A1", 2)), "\"A1\"", &["both A11"]);
    good(&and(SMALL, &stack("A1", 2)));
}

#[test]
fn a_bank_of_more_than_256_modules() {
    let more = |names: &[&str]| names.iter().fold(SMALL.to_owned(), |t, n| and(&t, &stack(n, 64)));
    refused(&more(&["B", "C", "D", "E"]), "\"E\"", &["more than 256 modules"]);
    assert_eq!(good(&more(&["B", "C", "D"])).scenario.module_count(), 194);
}

#[test]
fn lists_by_position_have_one_value_each() {
    let text = with(SMALL, "count = 2", "count = 2\nsoc = [\"90 %\"]");
    refused(&text, "soc", &["a list of 1 for 2 positions"]);
    let text = with(SMALL, "count = 2", "count = 2\nsoc = [\"90 %\", \"101 %\"]");
    refused(&text, "soc", &["`soc` of position 2 is 101 %", "at most 100 %"]);
}

#[test]
fn cables_by_resistance_or_by_size() {
    let cases = [
        ("resistance = \"1 mΩ\"\nlength = \"2 m\"", "length", "one of the two"),
        ("size = \"35 mm2\"", "[cable.link]", "has no `length`"),
        ("length = \"2 m\"", "[cable.link]", "has no `size`"),
        ("", "[cable.link]", "has no resistance"),
        ("size = \"36 mm2\"\nlength = \"2 m\"", "size", "35, 50"),
        ("size = \"5 AWG\"\nlength = \"2 m\"", "size", "4/0 AWG"),
        ("size = \"35\"\nlength = \"2 m\"", "size", "neither in mm² nor in AWG"),
        ("size = \"35 mm2\"\nlength = \"0 m\"", "length", "at least 0.001 m"),
        ("size = \"35 mm2\"\nlength = \"2 m\"\nclass = 3", "class", "2 (stranded) or 5"),
        ("size = \"2 AWG\"\nlength = \"2 m\"\nclass = 5", "class", "sizes in mm2"),
    ];
    for (other, at, fragment) in cases {
        refused(&with(SMALL, "resistance = \"0.25 mΩ\"", other), at, &[fragment]);
    }
}

#[test]
fn open_circuit_tables() {
    let cases = [
        ("\"lpf\"", "no such curve"),
        ("[[\"0 %\", \"3 V\"]]", "at least 2"),
        ("[[\"0 %\", \"3.3 V\"], [\"100 %\", \"3.2 V\"]]", "falls to 3.2 V"),
        ("[[\"50 %\", \"3.1 V\"], [\"40 %\", \"3.2 V\"]]", "does not rise"),
        ("[[\"0 %\", \"3.1 V\"], [\"101 %\", \"3.2 V\"]]", "is 101 %"),
        ("[[\"0 %\", \"3.1 V\"], [\"9 %\", \"3.2 V\"], [\"100 %\"]]", "row 3 of `open_circuit` is a list of 1"),
        ("52.8", "neither a text nor a table"),
    ];
    for (table, fragment) in cases {
        refused(&with(SMALL, "\"lfp\"", table), "open_circuit", &[fragment]);
    }
}

#[test]
fn windows_that_could_not_work() {
    let cases = [
        ("charge_temperature = {}", "neither `low` nor `high`"),
        ("charge_temperature = { low_release = \"5 °C\", high = \"45 °C\" }", "needs `low`"),
        ("charge_temperature = { low = \"0 °C\", low_release = \"-1 °C\" }", "must be above `low`"),
        ("charge_temperature = { high = \"45 °C\", high_release = \"45 °C\" }", "must be below `high`"),
        ("charge_temperature = { low = \"50 °C\", high = \"45 °C\" }", "`low` must be below `high`"),
        ("charge_temperature = { low = \"0 °C\", high = \"5 °C\", high_release = \"4 °C\" }", "never release"),
        ("charge_temperature = { low = \"0 V\" }", "a unit of voltage"),
        ("cell_voltage = { low = \"2.5 V\" }", "no `low_release`"),
        ("cell_voltage = { low = \"44 V\", low_release = \"3 V\" }", "at most 10 V"),
    ];
    for (window, fragment) in cases {
        let text = with(SMALL, "cells = 16", &format!("cells = 16\n{window}"));
        refused(&text, window, &[fragment]);
    }
}

#[test]
fn other_keys_of_a_module_that_belong_together() {
    let cases = [
        ("fixed_resistance = \"14 mΩ\"", "fixed_resistance", "more than the `resistance`"),
        ("heat_to_floor = \"1 W/K\"", "heat_to_floor", "`heat_capacity`"),
        ("heat_capacity = \"45 kJ/K\"", "[module", "no `heat_to_air`"),
        ("switches = \"contactors\"", "switches", "did you mean \"contactor\"?"),
        ("empty = \"100 %\"", "empty", "less than 100 %"),
        ("charge_factor = [[\"0 %\", \"1.6\"]]", "charge_factor", "a bare number"),
    ];
    for (more, at, fragment) in cases {
        let text = with(SMALL, "cells = 16", &format!("cells = 16\n{more}"));
        refused(&text, at, &[fragment]);
    }
}

#[test]
fn bar_and_inverter() {
    refused(&and(SMALL, "[bar]\nresistance = \"0 Ω/m\""), "0 Ω/m", &["must be at least"]);
    refused(&and(SMALL, "[bar]\nresistance = \"1 Ω\""), "1 Ω\"", &["Ω/km"]);
    let at = with(SMALL, "negative = 1 }", "negative = 1, at = \"1 m\" }");
    refused(&at, "leads", &["no [bar]"]);
    let cases = [
        ("cut_out = \"44 V\"", "[inverter]", "no `reconnect`"),
        ("reconnect = \"44 V\"", "reconnect", "needs `cut_out`"),
        ("cut_out = \"44 V\"\nreconnect = \"44 V\"", "reconnect", "must be above `cut_out`, 44 V"),
        ("efficiency = \"101 %\"", "efficiency", "at most 100 %"),
        ("efficiency = \"0 %\"", "efficiency", "more than 0 %"),
    ];
    for (more, at, fragment) in cases {
        let text = and(SMALL, &format!("[inverter]\nrated = \"8 kW\"\n{more}"));
        refused(&text, at, &[fragment]);
    }
}

#[test]
fn load_and_climate_are_given_once() {
    let cases = [
        ("[load]", "[load]", "exactly one of `profile`, `power` or `current`"),
        ("[load]\npower = \"1 W\"\ncurrent = \"1 A\"", "current", "more than one"),
        ("[load]\npower = \"1 W\"\nscale = 2", "scale", "belongs to `profile`"),
        ("[climate]", "[climate]", "neither `profile` nor `air`"),
        ("[climate]\nair = \"5 K\"", "air", "must be at least -100 °C"),
        ("[climate]\nair = \"5 °C\"\nseason = [\"11-31\", \"03-31\"]", "season", "\"11-31\""),
        ("[climate]\nair = \"5 °C\"\nutc_offset = \"-15 h\"", "utc_offset", "must be at least"),
    ];
    for (more, at, fragment) in cases {
        refused(&and(SMALL, more), at, &[fragment]);
    }
}

#[test]
fn room_and_floor_need_the_outdoors() {
    let cases = [
        ("[room]\nloss = \"60 W/K\"\nheat_capacity = \"5 MJ/K\"", "[room]", "without [climate]"),
        ("[floor]\nlag = \"8 h\"", "[floor]", "without [climate]"),
        ("[climate]\nair = \"5 °C\"\n[floor]\nlag = \"8 h\"\nfollows = \"room\"", "follows", "no [room]"),
        ("[climate]\nair = \"5 °C\"\n[floor]\nlag = \"8 h\"\noffset = \"5 °C\"", "offset", "is 5 K"),
    ];
    for (more, at, fragment) in cases {
        refused(&and(SMALL, more), at, &[fragment]);
    }
}

#[test]
fn faults_trials_and_targets() {
    let cases = [
        ("count = 10000", "count = 0", "from 1 to 10000000"),
        ("count = 10000", "count = 1e4", "write 10000"),
        ("seed = 7", "seed = -1", "`seed` is -1"),
        ("step = \"30 s\"", "step = \"2 h\"", "at most 3600 s"),
        ("hold = \"5 s\"", "hold = \"17 h\"", "longer than the horizon"),
        ("hold = \"5 s\"", "start = \"25:00\"", "00:00 to 23:59"),
        ("hold = \"5 s\"", "start = 17:00:00", "in quotes"),
        ("ride_through = \"12 h\"", "ride_through = \"17 h\"", "longer than the horizon, 16 h"),
        ("1e-3", "2", "must be at least 0 and at most 1"),
        ("1e-3", "\"0.1 %\"", "a bare number, without quotes"),
    ];
    for (piece, other, fragment) in cases {
        let at = if piece == "1e-3" { "overload_probability" } else { other };
        refused(&with(WHOLE, piece, other), at, &[fragment]);
    }
    let alone = with(WHOLE, "ride_through = \"12 h\"\n", "");
    refused(&alone, "ride_through_probability", &["needs `ride_through`"]);
}

#[test]
fn spreads_stay_possible() {
    let spread = |more: &str| and(SMALL, &format!("[spread]\n{more}"));
    let cases = [
        ("capacity = \"21 %\"", "at most 20 %"),
        ("capacity = \"-1 %\"", "at least 0 %"),
        ("load = { uniform = \"100 %\" }", "less than 100 %"),
        ("load = { uniform = \"1 %\", normal = \"1 %\" }", "more than one"),
        ("sensor = { lognormal = \"1 K\" }", "factors only"),
        ("sensor = \"1 °C\"", "kelvin"),
        ("load = { gamma = \"1 %\", normal = \"1 %\" }", "unknown key"),
    ];
    for (more, fragment) in cases {
        refused(&spread(more), more, &[fragment]);
    }
    assert_eq!(good(&spread("load = \"0 %\"")).scenario.spread.load, Distribution::None);
}

#[test]
fn faults_of_both_columns_of_a_table_are_reported() {
    let rows = "[[\"0\", \"3 V\"], [\"50 %\", \"3 A\"], [\"100 %\", 3.3]]";
    let found = faults(&with(SMALL, "\"lfp\"", rows));
    assert_eq!(found.len(), 3, "{}", render(&found, false));
}
