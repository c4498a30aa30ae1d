//! What could hang, panic or answer nonsense, and does not.

use super::{Campaign, HEAD, SHORT, State, at_moment, campaign, module, near, night, run, single, trials};
use bankwright::engine::event::Event;
use bankwright::engine::module::Reason;
use bankwright::engine::result::TrialError;
use bankwright::engine::trial::Nobody;
use bankwright::network::Demand;
use bankwright::scenario::check;
use bankwright::study::point::{Question, solve};
use bankwright::time::Time;
use std::path::Path;

const STIFF: &str = "\"52 V\"";

fn load(what: &str) -> String {
    format!("[load]\n{what}\n")
}

/// Nothing asked, nothing short, empty or not.
#[test]
fn a_load_of_zero_is_always_served() {
    for load in [load("power = \"0 W\""), load("current = \"0 A\"")] {
        for soc in ["0 %", "50 %", "100 %"] {
            let trials = trials("1 h", &format!("soc = \"{soc}\""));
            let n = night(&[&module("m", 15.0, "\"lfp\"", ""), SHORT, &single("A", "m", ""), &load, &trials]);
            assert_eq!((n.result.served_until, n.result.unserved, n.result.curtailed), (None, 0.0, 0.0));
            assert!(n.seen.iter().all(|s| s.served && s.currents[0] == 0.0));
        }
    }
}

/// A bank that starts empty serves nothing from its first microsecond on; the rest of the night is
/// unserved at the voltage of the empty cells, 16 × 2.0102 V (less 100 A · 15 mΩ).
#[test]
fn an_empty_bank_on_a_constant_current() {
    let trials = trials("1 h", "soc = \"0 %\"");
    let m = module("m", 15.0, "\"lfp\"", "");
    let n = night(&[&m, SHORT, &single("A", "m", ""), &load("current = \"100 A\""), &trials]);
    assert!(n.served_until().unwrap() <= 2e-6);
    near(n.result.unserved, 100.0 * (16.0 * 2.0102 - 1.5) * 3600.0, 1.0);
    assert_eq!(n.result.dropout.most, 0);
}

/// Every module charge-blocked by cold, all night, and charge on offer: curtailed to the joule.
#[test]
fn charge_with_everything_blocked() {
    let m = module("m", 15.0, STIFF, "charge_temperature = { low = \"0 °C\" }");
    let stacks = [single("A", "m", ""), single("B", "m", "")].concat();
    let climate = "[climate]\nair = \"-5 °C\"\n";
    let n = night(&[&m, SHORT, &stacks, &load("power = \"-1 kW\""), climate, &trials("2 h", "")]);
    near(n.result.curtailed, 1000.0 * 7200.0, 1e-6);
    assert!(n.seen.iter().all(|s| s.served && s.currents.iter().all(|i| *i == 0.0)));
}

/// One stack at a fixed 53 V beside one at 52 V: (53 − 52)/(15 + 15 mΩ) = 33.3 A from one to the other
/// until the one is empty or the other full. From 90 %: 10 Ah to full, at 33.3 A 0.3 h.
#[test]
fn a_fixed_voltage_by_position() {
    let stacks = [single("A", "m", "open_circuit = [\"53 V\"]"), single("B", "m", "")].concat();
    let n = night(&[&module("m", 15.0, STIFF, ""), SHORT, &stacks, &load("current = \"0 A\""), &trials("1 h", "")]);
    near(n.at(0.0).currents[0], 100.0 / 3.0, 1e-5);
    at_moment(n.when(1, State::DischargeOnly).first().copied(), 10.0 / (1.0 / 0.03) * 3600.0);
    near(n.at(3600.0).currents[0], 0.0, 1e-9);
}

/// A full module is no dropout, not even with one contactor for both directions: its charge is refused,
/// and it delivers when asked.
#[test]
fn a_contactor_stays_closed_on_a_full_module() {
    let m = module("m", 15.0, STIFF, "switches = \"contactor\"");
    let n = night(&[&m, SHORT, &single("A", "m", ""), &load("current = \"-50 A\""), &trials("1 h", "")]);
    let full = Event::Module { module: 0, state: State::DischargeOnly, reason: Some(Reason::Full) };
    at_moment(n.when_event(full).first().copied(), 720.0);
    assert_eq!(n.result.dropout.most, 0);
    let cold = module("m", 15.0, STIFF, "switches = \"contactor\"\ncharge_temperature = { low = \"0 °C\" }");
    let climate = "[climate]\nair = \"-5 °C\"\n";
    let n = night(&[&cold, SHORT, &single("A", "m", ""), &load("current = \"50 A\""), climate, &trials("1 h", "")]);
    assert_eq!((n.seen[0].states[0], n.result.dropout.most), (State::Open, 1), "but cold opens it");
}

/// A step longer than the horizon, which the scenario's check refuses, does no harm to the engine.
#[test]
fn a_step_beyond_the_horizon() {
    let m = module("m", 15.0, STIFF, "");
    let mut c = campaign(&[&m, SHORT, &single("A", "m", ""), &load("current = \"90 A\""), &trials("90 min", "")]);
    c.model.trials.step = Time::from_seconds(1e6);
    at_moment(run(&c).served_until(), 3600.0);
}

/// A voltage guard without a delay or a load would let go at rest and trip under load for ever: the trial
/// is an error, soon, and no hang.
#[test]
fn a_guard_that_chases_its_tail_is_an_error() {
    let window = "cell_voltage = { low = \"3.0 V\", low_release = \"3.05 V\", delay = \"0 s\" }";
    let m = module("m", 50.0, "\"lfp\"", window);
    let c: Campaign = campaign(&[&m, SHORT, &single("A", "m", ""), &load("current = \"100 A\""), &trials("2 h", "")]);
    assert!(matches!(c.run_one(0, &mut Nobody), Err(TrialError::TooManyEvents { .. })));
}

/// A constant power that takes the bank to the brink, where resting lets two unlike modules even out and
/// the voltage recover: tried again at each step, and no oftener.
#[test]
fn a_load_on_the_brink_comes_back_at_most_once_a_step() {
    let curve = "[[\"0 %\", \"2.0 V\"], [\"20 %\", \"3.0 V\"], [\"100 %\", \"3.3 V\"]]";
    let m = module("m", 60.0, curve, "");
    let stacks = [single("A", "m", "soc = [\"60 %\"]"), single("B", "m", "soc = [\"12 %\"]")].concat();
    let n = night(&[&m, SHORT, &stacks, &load("power = \"16 kW\""), &trials("6 h", "")]);
    let again = n.when_event(Event::Served).len();
    assert!(n.result.served_until.is_some() && again <= 360, "{again}");
    assert!(again > 0, "else it tests nothing");
    // What rests gives nothing, up to the very moment at which it is asked again.
    for pair in n.seen.windows(2).filter(|w| w[0].time < w[1].time && !w[0].served) {
        near(pair[0].charges.iter().sum(), pair[1].charges.iter().sum(), 1e-12);
    }
}

/// Distances along the bar are places, whatever their unit: 0.7 m and 70 cm are one.
#[test]
fn one_place_on_the_bar_by_two_names() {
    let module = module("m", 15.0, STIFF, "");
    let stack = |name: &str, at: &str| {
        format!(
            "[[stack]]\nname = \"{name}\"\nmodule = \"m\"\ncount = 1\n\
             leads = [{{ cable = \"lead\", positive = 1, negative = 1, at = \"{at}\" }}]\n"
        )
    };
    let cable = "[cable.lead]\nresistance = \"1 mΩ\"\n";
    let bar = "[bar]\nresistance = \"0.1149 mΩ/m\"\nload_at = \"0.3 m\"\n";
    let places = ["0.3 m", "70 cm", "0.1 m", "0.7 m"];
    let stacks: String = ["A", "B", "C", "D"].iter().zip(places).map(|(n, at)| stack(n, at)).collect();
    let text = [HEAD, &module, cable, &stacks, bar].concat();
    let scenario = check::parse(&text, "test.toml", Path::new(".")).unwrap().scenario;
    let question = Question { demand: Demand::Current(200.0), soc: None, air: 25.0, without: Vec::new() };
    let point = solve(&scenario, &question).unwrap();
    let bars = point.conductors.iter().filter(|c| c.id.starts_with("bar"));
    assert_eq!(bars.count(), 4, "two stretches on two rails");
    // B and D share the stretch of 0.4 m on both rails, C has one of 0.2 m, A stands at the load.
    let (branch, metre) = (0.015 + 0.002, 2.0 * 0.1149e-3);
    let [a, pair, c] = [1.0 / branch, 1.0 / (branch / 2.0 + 0.4 * metre), 1.0 / (branch + 0.2 * metre)];
    let wanted = [a, pair / 2.0, c, pair / 2.0].map(|g| 200.0 * g / (a + pair + c));
    for (module, amps) in point.modules.iter().zip(wanted) {
        near(module.current_a, amps, 1e-8);
    }
}

/// Heat without a way out, through neighbours too, is finite from the start on.
#[test]
fn an_insulated_stack_has_a_temperature() {
    let heat =
        "heat_capacity = \"45 kJ/K\"\nheat_to_air = \"0 W/K\"\nheat_to_neighbour = \"5 W/K\"\nstanding = \"3 W\"";
    let stack = "[[stack]]\nname = \"A\"\nmodule = \"m\"\ncount = 2\njumper = \"short\"\n\
                 leads = [{ cable = \"short\", positive = 1, negative = 1 }]\n";
    let m = module("m", 15.0, STIFF, heat);
    let n = night(&[&m, SHORT, stack, &load("current = \"0 A\""), &trials("1 h", "")]);
    for k in 0..2 {
        near(n.at(0.0).temperatures[k], 25.0, 1e-9);
        near(n.at(3600.0).temperatures[k], 25.0 + 3.0 * 3600.0 / 45e3, 1e-4);
    }
}
