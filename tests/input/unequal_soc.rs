//! Modules that begin the night at unequal voltage are warned of where that alone drives a current above a limit.

use super::*;
use bankwright::scenario::check::load;

/// The refuge with another charge at the start, and its warnings.
fn refuge(soc: &str, spread: &str) -> Checked {
    let path = Path::new(env!("CARGO_MANIFEST_DIR")).join("scenarios/refuge.toml");
    let text = std::fs::read_to_string(&path).unwrap();
    let text = with(&text, "soc     = \"94 %\"", &format!("soc = \"{soc}\""));
    let text = with(&text, "start_charge = \"1 %\"", &format!("start_charge = {spread}"));
    parse(&text, "refuge.toml", path.parent().unwrap()).unwrap_or_else(|faults| panic!("{}", render(&faults, false)))
}

/// The current in the only warning [A], and all that it shows.
fn current(checked: &Checked) -> (f64, String) {
    let shown = render(&checked.warnings, false);
    assert_eq!(checked.warnings.len(), 1, "{shown}");
    let message = &checked.warnings[0].message;
    let amps = message.split(" A may flow between two modules").next().and_then(|number| number.parse().ok());
    (amps.unwrap_or_else(|| panic!("{message}")), shown)
}

/// Chance moves all modules alike, so that no two begin apart: neither at the steep end of the curve, where one spread
/// for each module drove 143 A from one at 100 % into one at 97 %, nor with the widest spread.
#[test]
fn a_spread_common_to_all_drives_nothing_between_them() {
    for (soc, spread) in [("99 %", "\"1 %\""), ("97.5 %", "{ uniform = \"2 %\" }"), ("99 %", "\"20 %\"")] {
        let checked = refuge(soc, spread);
        assert!(checked.warnings.is_empty(), "{}", render(&checked.warnings, false));
    }
}

#[test]
fn no_shipped_scenario_is_warned_of_it() {
    let folder = Path::new(env!("CARGO_MANIFEST_DIR")).join("scenarios");
    let files = ["", "reference"].map(|under| std::fs::read_dir(folder.join(under)).unwrap());
    let paths = files.into_iter().flatten().map(|entry| entry.unwrap().path());
    let scenarios: Vec<_> = paths.filter(|path| path.extension().is_some_and(|end| end == "toml")).collect();
    assert!(scenarios.len() >= 8, "{scenarios:?}");
    for path in scenarios {
        let checked = load(&path).unwrap_or_else(|faults| panic!("{}", render(&faults, false)));
        let shown = render(&checked.warnings, false);
        assert!(!shown.contains("may flow between two modules"), "{shown}");
    }
}

/// Charges by position: 4 V over 24 mΩ by hand, at the list, and only above a limit.
#[test]
fn charges_by_position() {
    let curve = "open_circuit = [[\"0 %\", \"3.0 V\"], [\"90 %\", \"3.3 V\"], [\"100 %\", \"3.55 V\"]]";
    let bank = |limits: &str, soc: &str| {
        let text = with(SMALL, "open_circuit = \"lfp\"", &format!("{curve}\n{limits}"));
        let text = with(&text, "jumper = \"link\"", &format!("jumper = \"link\"\n{soc}"));
        and(&text, "[load]\npower = \"1 kW\"\n[trials]\ncount = 10\nhorizon = \"1 h\"")
    };
    let resistance = 13e-3;
    let limits = "discharge_limit = \"60 A\"\ncharge_limit = \"30 A\"";
    let checked = good(&bank(limits, "soc = [\"90 %\", \"100 %\"]"));
    let (amps, shown) = current(&checked);
    assert!((amps - 16.0 * 0.25 / (2.0 * resistance)).abs() <= 0.5, "{amps}\n{shown}");
    assert!(shown.contains("from A2 at 100 % into A1 at 90 %") && shown.contains("nearer to each other"), "{shown}");
    assert_eq!(checked.warnings[0].place().0, line_of(&checked.text.text, "soc = ["));
    let silent = |limits: &str, soc: &str| {
        let checked = good(&bank(limits, soc));
        assert!(checked.warnings.is_empty(), "{}", render(&checked.warnings, false));
    };
    silent(limits, "soc = [\"98 %\", \"98 %\"]");
    // Unrated and without stages nothing is over; a module that holds its own current is not.
    silent("", "soc = [\"90 %\", \"100 %\"]");
    silent(&format!("{limits}\nself_limit = {{ charge = \"25 A\" }}"), "soc = [\"90 %\", \"100 %\"]");
    // Of 88 and 90 % the voltages differ little. Moved up by 2 %, two standard deviations, they are at either side of the
    // knee: 90 and 92 %, and 0.8 V over 26 mΩ by hand.
    let moved = format!("{limits}\n");
    let apart = "soc = [\"88 %\", \"90 %\"]";
    silent(&moved, apart);
    let spread = |spread: &str| bank(&moved, apart) + &format!("\n[spread]\nstart_charge = {spread}\n");
    let (amps, shown) = current(&good(&spread("\"1 %\"")));
    assert!((amps - 0.8 / (2.0 * resistance)).abs() <= 0.1, "{amps}\n{shown}");
    assert!(shown.contains("from A2 at 92 % into A1 at 90 %") && shown.contains("all moved alike"), "{shown}");
    // A triangle of 2 % goes no farther than 1.63 %.
    assert!(good(&spread("{ triangular = \"2 %\" }")).warnings.is_empty());
    // A stage below the limit is met first.
    let stage = "charge_limit = \"150 A\"\nover_current = [{ charge = \"152 A\", delay = \"5 s\" }, { discharge = \"80 A\", delay = \"5 s\" }]";
    let (_, shown) = current(&good(&bank(stage, "soc = [\"90 %\", \"100 %\"]")));
    assert!(shown.contains("above the over-current stage of 80 A"), "{shown}");
}
