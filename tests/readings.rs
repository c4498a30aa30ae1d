//! What site readings say: against Ohm's law, and against banks whose truth is known, read with drawn errors.

use bankwright::network::Demand;
use bankwright::profile::{Measured, SiteReading};
use bankwright::scenario::Scenario;
use bankwright::scenario::check::parse;
use bankwright::study::point;
use bankwright::study::readings::{ResistanceEstimate, SiteFindings, explain};
use rand::SeedableRng;
use rand_chacha::ChaCha8Rng;
use rand_distr::{Distribution, StandardNormal};
use std::path::Path;

/// Four modules on two lead pairs; further keys of the stack and sections besides.
fn bank(stack: &str, more: &str) -> Scenario {
    let text = format!(
        "format = 1\ntitle = \"bank\"\n[module.m]\ncells = 16\ncapacity = \"100 Ah\"\nresistance = \"15 mΩ\"\n\
         open_circuit = \"52.8 V\"\n[cable.jumper]\nresistance = \"0.3 mΩ\"\n[cable.lead]\nsize = \"35 mm2\"\n\
         length = \"2 m\"\ncontact = \"0.05 mΩ\"\n[cable.bad]\nsize = \"35 mm2\"\nlength = \"2 m\"\ncontact = \"0.5 mΩ\"\n\
         [[stack]]\nname = \"A\"\nmodule = \"m\"\ncount = 4\njumper = \"jumper\"\n{stack}\n{more}\n"
    );
    let checked = parse(&text, "bank.toml", Path::new("."));
    checked.unwrap_or_else(|faults| panic!("{}\n{text}", bankwright::diagnostic::render(&faults, false))).scenario
}

const SOUND: &str =
    "leads = [{ cable = \"lead\", positive = 4, negative = 1 }, { cable = \"lead\", positive = 1, negative = 4 }]";

fn reading(element: &str, case: &str, current: Option<(f64, f64)>, drop: Option<(f64, f64)>) -> SiteReading {
    let measured = |read: (f64, f64)| Measured { value: read.0, deviation: read.1 };
    let (element, case) = (element.to_string(), case.to_string());
    SiteReading { element, case, current: current.map(measured), drop: drop.map(measured), temperature: None }
}

/// All that meters of 1 % and 0.2 mV would read of a bank, with drawn errors.
fn read(truth: &Scenario, loads: &[f64], seed: u64) -> Vec<SiteReading> {
    let mut rng = ChaCha8Rng::seed_from_u64(seed);
    let mut all = Vec::new();
    for (case, &amps) in loads.iter().enumerate() {
        let question = point::Question { demand: Demand::Current(amps), soc: None, air: 25.0, without: Vec::new() };
        let found = point::solve(truth, &question).unwrap();
        let mut take = |id: &str, current: f64, drop: f64| {
            let mut noise = || -> f64 { StandardNormal.sample(&mut rng) };
            let off = (0.01 * current.abs()).max(0.01);
            let (current, drop) = ((current + off * noise(), off), (drop + 2e-4 * noise(), 2e-4));
            all.push(reading(id, &case.to_string(), Some(current), Some(drop)));
        };
        take("bus", amps, found.bus.voltage_v.unwrap());
        found.modules.iter().for_each(|m| take(&m.id, m.current_a, m.voltage_v));
        found.conductors.iter().for_each(|c| take(&c.id, c.current_a, c.drop_v));
    }
    all
}

fn of<'a>(findings: &'a SiteFindings, id: &str) -> &'a ResistanceEstimate {
    findings.estimates.iter().find(|e| e.id == id).unwrap()
}

fn suspected(findings: &SiteFindings, id: &str) -> f64 {
    findings.suspects.iter().find(|s| s.id == id).map_or(0.0, |s| s.probability)
}

#[track_caller]
fn near(got: f64, wanted: f64, tolerance: f64) {
    assert!((got - wanted).abs() <= tolerance, "{got} is not {wanted}");
}

/// Ohm's law: R = U/I, its relative error the root of the squares of both. With one current and one drop there is
/// nothing else to tell; the spread that was expected, a factor of 4.5, is far wider.
#[test]
fn one_drop_and_one_current() {
    let lead = "leads = [{ cable = \"lead\", positive = 1, negative = 1 }]";
    let scenario = bank(lead, "");
    let rows = [reading("bus", "", Some((100.0, 2.0)), None), reading("A.lead1+", "", None, Some((0.150, 0.001)))];
    let findings = explain(&scenario, &rows, 25.0).unwrap();
    let lead = of(&findings, "A.lead1+");
    near(lead.resistance_ohm, 1.5e-3, 1e-6);
    near(lead.std_error_ohm, 1.5e-3 * f64::hypot(0.02, 0.001 / 0.150), 1e-7);
    assert!(lead.determined && !of(&findings, "A.lead1-").determined && !of(&findings, "A1").determined);
}

/// A module's terminal voltage at two loads: R = ΔU/ΔI, whatever its voltage at rest.
#[test]
fn a_module_at_two_loads() {
    let scenario = bank(SOUND, "");
    let row = |case: &str, amps, volts| reading("A2", case, Some((amps, 1e-4)), Some((volts, 1e-4)));
    let bus = |case: &str, amps| reading("bus", case, Some((amps, 0.1)), None);
    let rows = [bus("a", 40.0), row("a", 10.0, 52.6), bus("b", 200.0), row("b", 50.0, 51.8)];
    let findings = explain(&scenario, &rows, 25.0).unwrap();
    near(of(&findings, "A2").resistance_ohm, 0.8 / 40.0, 2e-5);
    near(of(&findings, "A2").std_error_ohm, f64::hypot(1e-4, 1e-4) / 40.0, 2e-6);
    let one = explain(&scenario, &rows[..2], 25.0).unwrap();
    assert!(!of(&one, "A2").determined);
}

/// Standard errors are honest: of resistances known beforehand some 95 in 100 lie within two of them.
#[test]
fn truth_lies_within_the_standard_errors() {
    let truth = bank(&format!("{SOUND}\nresistance = [\"15 mΩ\", \"15.5 mΩ\", \"14.6 mΩ\", \"15 mΩ\"]"), "");
    let given = bank(SOUND, "");
    let known = explain(&truth, &[reading("bus", "", Some((1.0, 0.1)), None)], 25.0).unwrap();
    let (mut inside, mut all) = (0, 0);
    for seed in 0..25 {
        let findings = explain(&given, &read(&truth, &[60.0, 200.0], seed), 25.0).unwrap();
        for (found, true_value) in findings.estimates.iter().zip(&known.estimates) {
            // The middle jumpers carry next to nothing: the leads' two ends share the stack.
            assert!(found.determined || found.id.contains("jumper2-3"), "{}", found.id);
            all += 1;
            let off = (found.resistance_ohm - true_value.expected_ohm).abs() / found.std_error_ohm;
            assert!(off < 5.0, "{} is off by {off} standard errors", found.id);
            inside += usize::from(off < 2.0);
        }
    }
    // 350 of them; some are correlated.
    assert!(inside * 100 >= 92 * all && inside < all, "{inside} of {all}");
}

/// A joint ten times its like, a module half as much again: named first. A sound bank: nobody is.
#[test]
fn who_is_not_sound_is_named_and_who_is_sound_is_not() {
    let bad = "leads = [{ cable = \"bad\", positive = 4, negative = 1 }, { cable = \"lead\", positive = 1, negative = 4 }]\n\
               resistance = [\"15 mΩ\", \"22 mΩ\", \"15 mΩ\", \"15 mΩ\"]";
    let (given, truth, sound) = (bank(SOUND, ""), bank(bad, ""), bank(SOUND, ""));
    for seed in 0..10 {
        let findings = explain(&given, &read(&truth, &[60.0, 200.0], seed), 25.0).unwrap();
        let named: Vec<&str> = findings.suspects.iter().take(3).map(|s| s.id.as_str()).collect();
        for id in ["A2", "A.lead1+", "A.lead1-"] {
            assert!(named.contains(&id) && suspected(&findings, id) > 0.95, "{named:?}");
        }
        assert!(findings.suspects.iter().skip(3).all(|s| s.probability < 0.5), "{:?}", findings.suspects);
        assert!(findings.suspects.windows(2).all(|pair| pair[0].probability >= pair[1].probability));
        let calm = explain(&given, &read(&sound, &[60.0, 200.0], 100 + seed), 25.0).unwrap();
        assert!(calm.suspects.iter().all(|s| s.probability < 0.5), "{:?}", calm.suspects);
    }
}

/// Where two would explain the same, neither is sure, and together they are. Only the bus is read, at two loads, of a
/// bank whose two lead conductors lie in series: one of them is bad.
#[test]
fn what_cannot_be_told_apart_shares_the_suspicion() {
    let lead = "leads = [{ cable = \"lead\", positive = 1, negative = 1 }]";
    let worse = lead.replace("\"lead\", positive", "\"bad\", positive");
    let truth = bank(&worse, "");
    let exact: Vec<SiteReading> = read(&truth, &[20.0, 200.0], 1)
        .into_iter()
        .filter(|r| r.element == "bus" || r.element.starts_with("A1"))
        .collect();
    let findings = explain(&bank(lead, ""), &exact, 25.0).unwrap();
    let (plus, minus) = (suspected(&findings, "A.lead1+"), suspected(&findings, "A.lead1-"));
    near(plus, minus, 0.05);
    assert!(plus > 0.3 && plus < 0.6, "{plus} {minus}");
}

/// Copper at 75 °C has 1 + 0.00393/K·55 K times its resistance at 20 °C (IEC 60287-1-1): no reason to suspect it.
#[test]
fn a_warm_conductor_is_expected_to_have_more() {
    let scenario = bank(SOUND, "");
    let mut rows = vec![reading("bus", "", Some((200.0, 1.0)), None)];
    rows.push(reading("A.lead1+", "", Some((100.0, 0.5)), None));
    rows[1].temperature = Some(75.0);
    let findings = explain(&scenario, &rows, 20.0).unwrap();
    let (warm, cold) = (of(&findings, "A.lead1+").expected_ohm, of(&findings, "A.lead2+").expected_ohm);
    // 2 m of 0.554 mΩ/m, and two joints of 0.05 mΩ that stay as they are.
    near(cold, 1.108e-3 + 0.1e-3, 1e-9);
    near(warm, 1.108e-3 * (1.0 + 0.00393 * 55.0) + 0.1e-3, 1e-9);
}

/// What a scenario says of the spread is believed: 2 % and a poor reading leave it at 2 %.
#[test]
fn a_given_spread_is_the_prior() {
    let scenario = bank(SOUND, "[spread]\nresistance = \"2 %\"\njoint = { lognormal = \"30 %\" }\n");
    let rows = [reading("bus", "", Some((100.0, 1.0)), None), reading("A1", "", Some((25.0, 5.0)), None)];
    let findings = explain(&scenario, &rows, 25.0).unwrap();
    let module = of(&findings, "A1");
    near(module.resistance_ohm, 15e-3, 1e-4);
    near(module.std_error_ohm, 0.02 * 15e-3, 1e-5);
    assert!(!module.determined && findings.suspects.is_empty());
}

/// A current read with the wrong sign cannot be explained by any resistance: it is told as such.
#[test]
fn a_reading_that_nothing_explains_is_told() {
    let given = bank(SOUND, "");
    let mut rows = read(&given, &[60.0, 200.0], 5);
    assert!(explain(&given, &rows, 25.0).unwrap().warnings.is_empty());
    let wrong = rows.iter_mut().rfind(|r| r.element == "A.lead1+").unwrap();
    wrong.current.as_mut().unwrap().value *= -1.0;
    let findings = explain(&given, &rows, 25.0).unwrap();
    assert!(findings.warnings[0].starts_with("the current of A.lead1+ in case 1 is "), "{:?}", findings.warnings);
}
