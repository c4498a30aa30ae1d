//! Modules that begin the night at unequal charge are warned of where that alone drives a current above a limit.

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

/// By hand, from the knots of the published cell curve and the refuge's 14 mΩ a module: two standard deviations of
/// 1 % about 99 % are 97 % and (cut off) 100 %.
#[test]
fn the_refuge_begun_at_99_percent() {
    let checked = refuge("99 %", "\"1 %\"");
    let at_97 = 3.2772 + (3.3511 - 3.2772) * (0.97 - 0.2972) / (0.9833 - 0.2972);
    let by_hand = 16.0 * (3.5981 - at_97) / (14e-3 + 14e-3);
    assert!((140.0..145.0).contains(&by_hand), "{by_hand}");
    let (amps, shown) = current(&checked);
    assert!((amps - by_hand).abs() <= 0.5, "{amps} and {by_hand}");
    for words in ["A1 at 100 %", "A2 at 97 %", "its charge limit of 30 A", "smaller spread", "`soc = \"97 %\"`"] {
        assert!(shown.contains(words), "no {words:?} in\n{shown}");
    }
    assert_eq!(checked.warnings[0].place().0, line_of(&checked.text.text, "start_charge ="));
    // What it advises mends it.
    assert!(refuge("97 %", "\"1 %\"").warnings.is_empty());
    assert!(refuge("99 %", "\"0.1 %\"").warnings.is_empty());
    assert!(refuge("99 %", "\"0 %\"").warnings.is_empty());
}

/// A spread with ends goes no farther than they are: 97 % ± 1.63 % of a triangle within 2 % stays below 99 %.
#[test]
fn each_kind_of_spread_reaches_as_far_as_it_goes() {
    assert!(refuge("97 %", "{ triangular = \"2 %\" }").warnings.is_empty());
    // 97 % + 2 % and 97 % − 2 %, both ends of the spread.
    let at = |charge: f64| 3.2772 + (3.3511 - 3.2772) * (charge - 0.2972) / (0.9833 - 0.2972);
    let at_99_5 = 3.4180;
    let by_hand = 16.0 * (at_99_5 - at(0.955)) / 28e-3;
    let (amps, shown) = current(&refuge("97.5 %", "{ uniform = \"2 %\" }"));
    assert!((amps - by_hand).abs() <= 0.05, "{amps} and {by_hand}\n{shown}");
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
    // A stage below the limit is met first.
    let stage = "charge_limit = \"150 A\"\nover_current = [{ charge = \"152 A\", delay = \"5 s\" }, { discharge = \"80 A\", delay = \"5 s\" }]";
    let (_, shown) = current(&good(&bank(stage, "soc = [\"90 %\", \"100 %\"]")));
    assert!(shown.contains("above the over-current stage of 80 A"), "{shown}");
}
