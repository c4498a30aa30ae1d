//! What is legal and unlikely to be meant is warned of, with a way out.

use super::*;

const LIMITED: &str = "open_circuit = \"lfp\"\ndischarge_limit = \"60 A\"\ncharge_limit = \"30 A\"";

/// Exactly one warning, with these words, where the module has further keys.
fn warned(text: &str, fragments: &[&str]) {
    let checked = good(text);
    let shown = render(&checked.warnings, false);
    assert_eq!(checked.warnings.len(), 1, "{shown}");
    assert!(checked.warnings[0].help.is_some(), "{shown}");
    for fragment in fragments {
        assert!(shown.contains(fragment), "no {fragment:?} in\n{shown}");
    }
}

fn module(keys: &str) -> String {
    with(SMALL, "open_circuit = \"lfp\"", &format!("{LIMITED}\n{keys}"))
}

fn silent(text: &str) {
    let checked = good(text);
    assert!(checked.warnings.is_empty(), "{}", render(&checked.warnings, false));
}

#[test]
fn a_voltage_guard_without_a_delay_chases_itself() {
    let window = |delay: &str| module(&format!("cell_voltage = {{ low = \"2.8 V\", low_release = \"3.0 V\"{delay} }}"));
    warned(
        &window(", delay = \"0 s\""),
        &["`delay` of `cell_voltage`", "trip and let go without end", "delay = \"1 s\""],
    );
    silent(&window(", delay = \"1 ms\""));
    silent(&window(""));
    // Temperatures do not jump back.
    silent(&module("discharge_temperature = { low = \"-10 °C\", delay = \"0 s\" }"));
    let same = module("cell_voltage = { low = \"2.8 V\", low_release = \"2.8 V\" }");
    refused(&same, "low_release", &["must be above `low`"]);
}

#[test]
fn stages_that_trip_too_early_or_never() {
    let stage = |stage: &str| module(&format!("over_current = [{{ {stage}, delay = \"5 s\" }}]"));
    warned(&stage("discharge = \"60 A\""), &["within the module's limit of 60 A", "1.02 to 1.1"]);
    warned(&stage("charge = \"25 A\""), &["within the module's limit of 30 A"]);
    silent(&stage("discharge = \"66 A\""));
    let held = "self_limit = { discharge = \"62 A\" }\nover_current = [{ discharge = \"66 A\", delay = \"5 s\" }]";
    warned(&module(held), &["it never acts", "holds itself at 62 A"]);
    let retries = "over_current = [{ discharge = \"66 A\", delay = \"5 s\" }]\nretries = 3\nretry_after = \"0 s\"";
    warned(&module(retries), &["every retry is spent at once"]);
}

#[test]
fn a_heater_that_comes_too_late() {
    let heater = |on: &str| {
        module(&format!(
            "heat_capacity = \"45 kJ/K\"\nheat_to_air = \"2 W/K\"\ncharge_temperature = {{ low = \"0 °C\" }}\nheater = \
             {{ power = \"60 W\", on = \"{on}\", off = \"8 °C\" }}"
        ))
    };
    warned(&heater("-2 °C"), &["`charge_temperature` has stopped it by then", "turn it on above 0 °C"]);
    silent(&heater("2 °C"));
}

#[test]
fn a_controller_that_announces_nothing_or_a_link_that_never_fails() {
    let controller = |text: &str, keys: &str| and(text, &format!("[controller]\n{keys}"));
    warned(&controller(SMALL, ""), &["[module.cellar] has no `discharge_limit`", "give the module `discharge_limit`"]);
    let limited = module("");
    silent(&controller(&limited, ""));
    warned(&controller(&limited, "lost_link = \"hold\""), &["`lost_link` acts on nothing", "give `link_mtbf`"]);
    warned(&controller(&limited, "lost_after = \"5 s\""), &["`lost_after` acts on nothing"]);
    let fails = "lost_link = \"default\"\nlink_mtbf = \"5000 h\"";
    warned(&controller(&limited, fails), &["`default_discharge` is 0 A: it stops"]);
    silent(&controller(&limited, &format!("{fails}\ndefault_discharge = \"20 A\"")));
}

#[test]
fn a_device_of_a_module_that_is_rated_below_it() {
    let device = |rated: &str| {
        let fuse = format!(
            "[device.f]\nkind = \"fuse\"\nrated = \"{rated}\"\nbreaking_capacity = \"20 kA\"\nvoltage = \"80 V\"\n\
             curve = [[1.5, \"1 h\"], [3, \"10 s\"]]"
        );
        and(&with(&module(""), "jumper = \"link\"", "jumper = \"link\"\nmodule_device = \"f\""), &fuse)
    };
    warned(&device("50 A"), &["rated 50 A", "less than the module's limit of 60 A", "1.25 times"]);
    silent(&device("80 A"));
}
