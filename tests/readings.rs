//! What site readings say: against Ohm's law, against an independent least squares, and against banks whose truth is known,
//! read with drawn errors.

mod mistaken;

use bankwright::network::Demand;
use bankwright::profile::{Measured, SiteReading};
use bankwright::progress::Progress;
use bankwright::scenario::Scenario;
use bankwright::scenario::check::parse;
use bankwright::study::point;
use bankwright::study::readings::{Question, ReadingsError, ResistanceEstimate, SiteFindings, solve};
use rand::SeedableRng;
use rand_chacha::ChaCha8Rng;
use rand_distr::{Distribution, StandardNormal};
use std::path::Path;
use std::sync::atomic::{AtomicBool, AtomicU64, Ordering};

fn asked(readings: &[SiteReading]) -> Question<'_> {
    Question { readings, air: 25.0 }
}

fn explain(scenario: &Scenario, readings: &[SiteReading], air: f64) -> Result<SiteFindings, ReadingsError> {
    solve(scenario, &Question { readings, air }, &Progress::none())
}

/// Four modules; leads and further keys of the stack, and sections besides.
fn bank(stack: &str, more: &str) -> Scenario {
    bank_of(4, stack, more)
}

fn bank_of(count: usize, stack: &str, more: &str) -> Scenario {
    let jumper = if count > 1 { "jumper = \"jumper\"\n" } else { "" };
    let text = format!(
        "format = 1\ntitle = \"bank\"\n[module.m]\ncells = 16\ncapacity = \"100 Ah\"\nresistance = \"15 mΩ\"\n\
         open_circuit = \"52.8 V\"\n[cable.jumper]\nresistance = \"0.3 mΩ\"\n[cable.lead]\nsize = \"35 mm2\"\n\
         length = \"2 m\"\ncontact = \"0.05 mΩ\"\n[cable.bad]\nsize = \"35 mm2\"\nlength = \"2 m\"\ncontact = \"0.5 mΩ\"\n\
         [cable.half]\nsize = \"35 mm2\"\nlength = \"2 m\"\ncontact = \"0.36 mΩ\"\n\
         [[stack]]\nname = \"A\"\nmodule = \"m\"\ncount = {count}\n{jumper}{stack}\n{more}\n"
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
        found.modules.iter().for_each(|m| take(&m.id, m.current_a, m.voltage_v.unwrap()));
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

/// Two modules, each on its own lead pair, and three clamps: the currents close by a closed form. With u = I − i_A − i_B and
/// S = σ_A² + σ_B² + σ_I² the adjusted current is i_A + u·σ_A²/S, of variance σ_A²·(1 − σ_A²/S); what contradicts is u²/S,
/// with one degree of freedom, and every one of the three is u/√S off (adjustment of one condition, by hand).
#[test]
fn three_clamps_close_as_by_hand() {
    let scenario = pair("");
    let (a, b, bus) = ((48.0, 0.5), (49.0, 0.4), (99.0, 1.2));
    let rows = [
        reading("bus", "", Some(bus), None),
        reading("A1", "", Some(a), None),
        reading("B1", "", Some(b), None),
        reading("A.lead1+", "", None, Some((0.060, 1e-5))),
    ];
    let findings = explain(&scenario, &rows, 20.0).unwrap();
    let (apart, sum) = (bus.0 - a.0 - b.0, bus.1 * bus.1 + a.1 * a.1 + b.1 * b.1);
    let current = a.0 + apart * a.1 * a.1 / sum;
    let error = a.1 * (1.0 - a.1 * a.1 / sum).sqrt();
    let lead = of(&findings, "A.lead1+");
    near(lead.resistance_ohm, 0.060 / current, 0.060 / current * 1e-4);
    let relative = f64::hypot(error / current, 1e-5 / 0.060);
    near(lead.std_error_ohm / lead.resistance_ohm, relative, 1e-3 * relative);
    near(findings.agreement.chi_square, apart * apart / sum, 1e-3);
    near(findings.agreement.degrees_of_freedom, 1.0, 1e-3);
    near(findings.agreement.farthest.unwrap(), apart / sum.sqrt(), 1e-3);
}

/// Two stacks, of two modules and of one, each on its own lead pair, with further sections.
fn pair_of_stacks(more: &str) -> Scenario {
    let lead = "leads = [{ cable = \"lead\", positive = 2, negative = 1 }]\n[[stack]]\nname = \"B\"\nmodule = \"m\"\n\
                count = 1\nleads = [{ cable = \"lead\", positive = 1, negative = 1 }]";
    bank_of(2, lead, more)
}

/// Two modules, each on its own lead pair.
fn pair(more: &str) -> Scenario {
    bank_of(1, &format!("{ALONE}\n[[stack]]\nname = \"B\"\nmodule = \"m\"\ncount = 1\n{ALONE}"), more)
}

const ALONE: &str = "leads = [{ cable = \"lead\", positive = 1, negative = 1 }]";

/// The same minimum found elsewhere: nodal equations in numpy, x of nine ln R, three E and two I with least
/// Σ((f(x) − y)/σ)² + Σ((x − x₀)/s)², s = 1.5, 1 V and 1000 A, by scipy.optimize.least_squares 1.17.1 (jac="3-point",
/// tolerances 1e-15); standard error R·√C_kk with C = inverse(JᵀJ). The readings are of a bank drawn there: R of the scenario
/// times 1.05, 0.97, 1.1, 1.2, 0.9, 1.4, 1.0, 0.95, 1.02, voltages at rest 52.81, 52.79 and 52.80 V, loads 60 and 180 A.
#[test]
fn an_independent_least_squares_finds_the_same() {
    let read = [
        ("bus", 0, 60.42, 52.36631),
        ("A1", 0, 18.74, 52.43332),
        ("A2", 0, 19.28, 52.54124),
        ("B1", 0, 21.62, 52.45682),
        ("A.jumper1-2+", 0, 19.23, 0.00668),
        ("A.jumper1-2-", 0, 19.86, 0.00505),
        ("A.lead1+", 0, 38.53, 0.06547),
        ("A.lead1-", 0, 38.34, 0.0464),
        ("B.lead1+", 0, 21.5, 0.02487),
        ("B.lead1-", 0, 21.15, 0.0265),
        ("bus", 1, 183.05, 51.58189),
        ("A1", 1, 55.71, 51.94019),
        ("A2", 1, 59.6, 51.93038),
        ("B1", 1, 65.18, 51.68774),
        ("A.jumper1-2+", 1, 56.17, 0.01997),
        ("A.jumper1-2-", 1, 59.82, 0.01602),
        ("A.lead1+", 1, 114.04, 0.1948),
        ("A.lead1-", 1, 114.03, 0.13935),
        ("B.lead1+", 1, 64.79, 0.07454),
        ("B.lead1-", 1, 64.09, 0.08018),
    ];
    let answers = [
        ("A1", 1.557158e-02, 5.2005e-04),
        ("A2", 1.439304e-02, 4.7706e-04),
        ("B1", 1.626858e-02, 4.3796e-04),
        ("A.jumper1-2+", 3.576825e-04, 3.9097e-06),
        ("A.jumper1-2-", 2.682664e-04, 3.4963e-06),
        ("A.lead1+", 1.691668e-03, 5.2580e-06),
        ("A.lead1-", 1.209002e-03, 3.9303e-06),
        ("B.lead1+", 1.152250e-03, 5.8787e-06),
        ("B.lead1-", 1.238273e-03, 6.2113e-06),
    ];
    let row = |&(id, case, amps, volts): &(&str, i32, f64, f64)| {
        let accuracies = ((0.01 * amps).max(0.01), (5e-4 * volts).max(2e-4));
        reading(id, &case.to_string(), Some((amps, accuracies.0)), Some((volts, accuracies.1)))
    };
    let rows: Vec<SiteReading> = read.iter().map(row).collect();
    let findings = explain(&pair_of_stacks(""), &rows, 20.0).unwrap();
    // Of 40 readings and 14 unknowns.
    near(findings.agreement.degrees_of_freedom, 26.0, 0.01);
    near(findings.agreement.chi_square, 36.82, 0.05);
    // The lead with 40 % more is suspected, which leaves its prior as wide as all others are here.
    for (id, ohm, error) in answers {
        let found = of(&findings, id);
        near(found.resistance_ohm, ohm, 1e-5 * ohm);
        near(found.std_error_ohm, error, 1e-3 * error);
        assert!(found.determined, "{id}");
    }
    assert!(suspected(&findings, "A.lead1+") > 0.95, "{:?}", findings.suspects);
}

/// A lead whose joints raise it by half, and a module by half: named first, each alone.
#[test]
fn half_as_much_again_is_suspected() {
    let lead =
        "leads = [{ cable = \"half\", positive = 4, negative = 1 }, { cable = \"lead\", positive = 1, negative = 4 }]";
    let module = format!("{SOUND}\nresistance = [\"15 mΩ\", \"15 mΩ\", \"22.5 mΩ\", \"15 mΩ\"]");
    for (stack, culprits) in [(lead, vec!["A.lead1+", "A.lead1-"]), (module.as_str(), vec!["A3"])] {
        for seed in 0..5 {
            let findings = explain(&bank(SOUND, ""), &read(&bank(stack, ""), &[60.0, 200.0], seed), 25.0).unwrap();
            let named: Vec<&str> = findings.suspects.iter().take(culprits.len()).map(|s| s.id.as_str()).collect();
            for id in &culprits {
                assert!(named.contains(id) && suspected(&findings, id) > 0.95, "{:?}", findings.suspects);
                let expected = of(&findings, id);
                near(expected.resistance_ohm / expected.expected_ohm, 1.5, 0.1);
            }
        }
    }
}

/// With currents alone every resistance may be so many times as great and all currents stay: no reading tells how great
/// one is, however well the scenario says that its neighbours are known.
#[test]
fn currents_alone_determine_no_resistance() {
    let stacks: String = ["B", "C", "D"]
        .map(|name| format!("\n[[stack]]\nname = \"{name}\"\nmodule = \"m\"\ncount = 1\n{ALONE}"))
        .concat();
    let spread = "[spread]\nresistance = \"4 %\"\njoint = \"10 %\"\n";
    let given = bank_of(1, &format!("{ALONE}{stacks}"), spread);
    let truth = bank_of(1, &format!("{ALONE}\nresistance = [\"30 mΩ\"]{stacks}"), spread);
    let mut rows = read(&truth, &[60.0, 200.0, 300.0], 3);
    rows.iter_mut().for_each(|row| row.drop = None);
    let findings = explain(&given, &rows, 25.0).unwrap();
    assert!(suspected(&findings, "A1") > 0.3, "{:?}", findings.suspects);
    for e in &findings.estimates {
        assert!(!e.determined, "{e:?}");
    }
    // Drops besides, and what they tell of is determined.
    let findings = explain(&given, &read(&truth, &[60.0, 200.0, 300.0], 3), 25.0).unwrap();
    assert!(of(&findings, "A1").determined && of(&findings, "C.lead1-").determined);
}

/// A suspect's figure is what it would have if it were the culprit, also where another shares the suspicion.
#[test]
fn each_suspect_is_told_with_its_own_figure() {
    let worse = ALONE.replace("\"lead\", positive", "\"bad\", positive");
    let rows: Vec<SiteReading> = read(&bank(&worse, ""), &[20.0, 200.0], 1)
        .into_iter()
        .filter(|r| r.element == "bus" || r.element.starts_with("A1"))
        .collect();
    let findings = explain(&bank(ALONE, ""), &rows, 25.0).unwrap();
    for id in ["A.lead1+", "A.lead1-"] {
        let suspect = findings.suspects.iter().find(|s| s.id == id).unwrap();
        // Each would have to make up for both: 1.23 mΩ and 2·0.9 mΩ more.
        let ohm: f64 = suspect.why.split(' ').next().unwrap().parse().unwrap();
        assert!((ohm - 3.03).abs() < 0.15 && suspect.why.contains("more"), "{}", suspect.why);
    }
}

/// As many rows as a file may have, hundreds of cases: each case used to be an unknown among all others, and every
/// derivative two solutions of the whole bank, which took minutes.
#[test]
fn a_file_as_long_as_is_taken_is_explained() {
    let given = bank(SOUND, "");
    let loads: Vec<f64> = (0..330).map(|k| 20.0 + f64::from(k)).collect();
    let rows = read(&given, &loads, 2);
    assert!(rows.len() >= 4_900 && rows.len() <= 5_000, "{}", rows.len());
    let tried = AtomicU64::new(0);
    let count = |n| {
        tried.fetch_add(n, Ordering::Relaxed);
    };
    let never = AtomicBool::new(false);
    let findings = solve(&given, &asked(&rows), &Progress { stop: &never, listener: &count }).unwrap();
    assert!(tried.load(Ordering::Relaxed) >= 3, "whoever waits hears of it");
    assert!(findings.suspects.is_empty() && findings.warnings.is_empty(), "{findings:?}");
}

#[test]
fn whoever_waits_may_stop_it() {
    let given = bank(SOUND, "");
    let stop = AtomicBool::new(true);
    let rows = read(&given, &[60.0, 200.0], 1);
    let halted = solve(&given, &asked(&rows), &Progress { stop: &stop, ..Progress::none() });
    assert!(matches!(&halted, Err(ReadingsError::Study(error)) if error.is_interruption()), "{halted:?}");
}

#[test]
fn a_bank_that_is_too_large_is_refused_in_words() {
    // 64 modules and twice 63 jumpers a stack.
    let stacks: String = ["B", "C", "D"]
        .map(|name| format!("\n[[stack]]\nname = \"{name}\"\nmodule = \"m\"\ncount = 64\njumper = \"jumper\"\n{ALONE}"))
        .concat();
    let refused = explain(&bank_of(64, &format!("{ALONE}{stacks}"), ""), &[reading("bus", "", None, None)], 25.0);
    let message = refused.unwrap_err().to_string();
    assert!(message.contains("768 elements") && message.contains("300 at most"), "{message}");
}
