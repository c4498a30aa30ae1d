//! The safe limit against closed forms, one division, and brute force on single points.

#[path = "limit/progress.rs"]
mod progress;
#[path = "limit/sensitivity.rs"]
mod sensitivity;
#[path = "limit/static_risk.rs"]
mod static_risk;

use bankwright::network::Demand;
use bankwright::progress::Progress;
use bankwright::scenario::Scenario;
use bankwright::scenario::check::parse;
use bankwright::study::limit::output::steps::steps;
use bankwright::study::limit::output::text as limit_table;
use bankwright::study::limit::{Bound, Direction, LimitedBy, Limits, MOST_SETS, OpenedIs, Question, Row, Why, solve};
use bankwright::study::point::{self, Point};
use rand::{RngExt, SeedableRng};
use rand_chacha::ChaCha8Rng;
use std::fmt::Write;
use std::path::Path;

fn scenario(text: &str) -> Scenario {
    let checked = parse(text, "bank.toml", Path::new("/nowhere"));
    checked.unwrap_or_else(|faults| panic!("{}\n{text}", bankwright::diagnostic::render(&faults, false))).scenario
}

fn limits_at(scenario: &Scenario, outages: usize, air: f64) -> Limits {
    solve(
        scenario,
        &Question { outages, soc: None, air, also_air: Vec::new(), most_sets: MOST_SETS },
        &Progress::none(),
    )
    .unwrap()
}

fn limits(scenario: &Scenario, outages: usize) -> Limits {
    limits_at(scenario, outages, 25.0)
}

fn point(scenario: &Scenario, amps: f64, air: f64, without: &[String]) -> Point {
    let question = point::Question { demand: Demand::Current(amps), soc: None, air, without: without.to_vec() };
    point::solve(scenario, &question).unwrap()
}

fn over(point: &Point) -> Vec<&str> {
    let modules = point.modules.iter().filter(|m| m.over).map(|m| m.id.as_str());
    modules.chain(point.conductors.iter().filter(|c| c.over).map(|c| c.id.as_str())).collect()
}

#[track_caller]
fn close(got: Option<f64>, wanted: f64, tolerance: f64) {
    let got = got.expect("bounded");
    assert!((got - wanted).abs() <= tolerance, "{got} is not {wanted}");
}

/// Modules of 15 mΩ, 52.8 V, 100 A both ways; jumpers of 0.3 mΩ; leads of 1 nΩ; more lines besides.
fn ladder(count: usize, jumper: &str, leads: &str) -> Scenario {
    scenario(&format!(
        "format = 1\ntitle = \"ladder\"\n\
         [module.m]\ncells = 16\ncapacity = \"100 Ah\"\nresistance = \"15 mΩ\"\nopen_circuit = \"52.8 V\"\n\
         discharge_limit = \"100 A\"\ncharge_limit = \"100 A\"\n\
         [cable.jumper]\nresistance = \"0.3 mΩ\"\n{jumper}\n[cable.lead]\nresistance = \"1e-06 mΩ\"\n\
         [[stack]]\nname = \"A\"\nmodule = \"m\"\ncount = {count}\njumper = \"jumper\"\nleads = {leads}\n"
    ))
}

const ONE_END: &str = "[{ cable = \"lead\", positive = 1, negative = 1 }]";
const OPPOSITE: &str = "[{ cable = \"lead\", positive = 8, negative = 1 }]";

/// 100 A over the greatest share of eight modules, r/j = 50 (by hand: γ from cosh γ = 1 + j/r; one end
/// s₁ = 2·sinh(γ/2)·cosh(7.5γ)/sinh(8γ); opposite ends s₁ = sinh(γ/2)·cosh(3.5γ)/sinh(4γ)).
#[test]
fn eight_modules_with_unrated_jumpers() {
    let g = (1.0 + 0.3f64 / 15.0).acosh();
    let one_end = 100.0 / (2.0 * (g / 2.0).sinh() * (7.5 * g).cosh() / (8.0 * g).sinh());
    let opposite = 100.0 / ((g / 2.0).sinh() * (3.5 * g).cosh() / (4.0 * g).sinh());
    for (leads, wanted, shown, binding) in [(ONE_END, one_end, 504.6, "A1"), (OPPOSITE, opposite, 706.6, "A1")] {
        let found = limits(&ladder(8, "", leads), 0);
        let row = &found.limits[0];
        close(row.discharge.current_a, wanted, 1e-7 * wanted);
        close(row.discharge.current_a, shown, 0.05);
        close(row.charge.current_a, wanted, 1e-7 * wanted);
        assert_eq!(row.discharge.binding.as_deref(), Some(binding));
        assert_eq!(row.discharge.announced_a, Some(800.0));
        close(row.discharge.gap_a(), 800.0 - wanted, 1e-6 * wanted);
        assert_eq!(found.by_hand_a, None, "no lead is rated");
    }
}

/// With A2 out, A1 works beside two empty jumper pairs and a ladder of six, seen as r·s₁(6): it reaches 100 A at
/// 100·(1 + r/(r·s₁(6) + 4j)) = 431.917 A (by hand). No other single outage is worse.
#[test]
fn the_worst_neighbour_out() {
    let (r, j) = (15.0f64, 0.3f64);
    let g = (1.0 + j / r).acosh();
    let s6 = 2.0 * (g / 2.0).sinh() * (5.5 * g).cosh() / (6.0 * g).sinh();
    let wanted = 100.0 * (1.0 + r / (r * s6 + 4.0 * j));
    let found = limits(&ladder(8, "", ONE_END), 1);
    close(found.limits[1].discharge.current_a, wanted, 1e-6);
    assert_eq!(found.limits[1].discharge.out, ["A2"]);
}

/// The jumper next to the leads carries I·(1 − s₁) (by hand): opposite ends share better and load it more.
#[test]
fn eight_modules_with_rated_jumpers() {
    for (leads, wanted, binding) in [(ONE_END, 149.7, "A.jumper1-2+"), (OPPOSITE, 139.8, "A.jumper1-2-")] {
        let found = limits(&ladder(8, "rating = \"120 A\"", leads), 0);
        close(found.limits[0].discharge.current_a, wanted, 0.05);
        assert_eq!(found.limits[0].discharge.binding.as_deref(), Some(binding));
    }
}

/// The four lower out, leads at the lower end: at 400 A the rest carry 113.2117, 101.7402, 94.3383, 90.7099 A (by hand:
/// 400 A·2·sinh(γ/2)·cosh((4.5 − k)γ)/sinh(4γ), cosh γ = 1 + j/r; the empty jumpers only lie in series), so the limit of 100 A is reached at 400 A·100/113.2117.
#[test]
fn the_four_lower_out() {
    let bank = ladder(8, "", ONE_END);
    let out: Vec<String> = (1..=4).map(|k| format!("A{k}")).collect();
    let at_400 = point(&bank, 400.0, 25.0, &out);
    for (module, wanted) in at_400.modules[4..].iter().zip([113.2117, 101.7402, 94.3383, 90.7099]) {
        assert!((module.current_a - wanted).abs() < 5e-5, "{}", module.current_a);
    }
    let found = limits(&bank, 4);
    // Worse than the four lower are sets that leave one module alone near the leads; each is checked by brute force.
    let worst = found.limits[4].discharge.current_a.unwrap();
    assert!(worst < 400.0 * 100.0 / 113.2117);
    let by_hand = greatest(&bank, 1.0, 25.0, &out).unwrap();
    assert!((by_hand - 400.0 * 100.0 / 113.2117).abs() < 1e-3);
    assert_sets(&bank, &found.limits[4], 25.0);
}

/// One division: min(r·p/m)·Σm.
#[test]
fn one_division_is_exact() {
    let lead = "{ cable = \"lead\", positive = 1, negative = 1 }";
    let bank = |stacks: &[(usize, usize)], second: &str| {
        let mut text = String::from(
            "format = 1\ntitle = \"rule\"\n[module.m]\ncells = 16\ncapacity = \"100 Ah\"\nresistance = \"15 mΩ\"\n\
             open_circuit = \"52.8 V\"\n[cable.jumper]\nresistance = \"0.3 mΩ\"\n[cable.lead]\n\
             resistance = \"0.5 mΩ\"\nrating = \"120 A\"\n[cable.bare]\nresistance = \"0.5 mΩ\"\n",
        );
        for (k, (count, pairs)) in stacks.iter().enumerate() {
            let name = ["A", "B"][k];
            let lead = if k == 1 { second } else { lead };
            let leads = vec![lead; *pairs].join(", ");
            let _ = write!(
                text,
                "[[stack]]\nname = \"{name}\"\nmodule = \"m\"\ncount = {count}\njumper = \"jumper\"\nleads = [{leads}]\n"
            );
        }
        limits(&scenario(&text), 0).by_hand_a
    };
    assert_eq!(bank(&[(3, 2), (2, 1)], lead), Some(300.0));
    assert_eq!(bank(&[(3, 2), (3, 2)], lead), Some(480.0));
    let bare = "{ cable = \"bare\", positive = 1, negative = 1 }";
    assert_eq!(bank(&[(3, 2), (2, 1)], bare), Some(400.0), "the stack with unrated leads does not bind");
}

/// With jumpers and leads of next to no resistance every module carries the same, and the exact limit is one
/// division: three on two pairs and two on one 300 A, three on two pairs twice 480 A, of leads of 120 A.
#[test]
fn one_division_holds_where_shares_are_equal() {
    let limit = |stacks: [(usize, usize); 2]| {
        let mut text = String::from(
            "format = 1\ntitle = \"equal\"\n[module.m]\ncells = 16\ncapacity = \"100 Ah\"\nresistance = \"15 mΩ\"\n\
             open_circuit = \"52.8 V\"\n[cable.jumper]\nresistance = \"1e-06 mΩ\"\n[cable.lead]\n\
             resistance = \"1e-04 mΩ\"\nrating = \"120 A\"\n",
        );
        for ((count, pairs), name) in stacks.into_iter().zip(["A", "B"]) {
            let leads = vec!["{ cable = \"lead\", positive = 1, negative = 1 }"; pairs].join(", ");
            let _ = write!(
                text,
                "[[stack]]\nname = \"{name}\"\nmodule = \"m\"\ncount = {count}\njumper = \"jumper\"\nleads = [{leads}]\n"
            );
        }
        let found = limits(&scenario(&text), 0);
        (found.limits[0].discharge.current_a, found.by_hand_gap_a)
    };
    for (stacks, wanted) in [([(3, 2), (2, 1)], 300.0), ([(3, 2), (3, 2)], 480.0)] {
        let (exact, gap) = limit(stacks);
        close(exact, wanted, 0.01);
        close(gap, 0.0, 0.01);
    }
}

/// A symmetric bank with every lead alike: the exact limit is what one division says.
#[test]
fn equal_shares_are_the_rule() {
    let text = ladder_text_single_modules();
    let found = limits(&scenario(&text), 0);
    close(found.limits[0].discharge.current_a, 240.0, 1e-9 * 240.0);
    assert_eq!(found.limits[0].discharge.binding.as_deref(), Some("A.lead1+"));
    close(found.by_hand_a, 240.0, 1e-12);
    close(found.by_hand_gap_a, 0.0, 1e-6);
}

/// Two stacks of one module on one pair of 120 A each.
fn ladder_text_single_modules() -> String {
    let stack = |name: &str| {
        format!(
            "[[stack]]\nname = \"{name}\"\nmodule = \"m\"\ncount = 1\n\
             leads = [{{ cable = \"lead\", positive = 1, negative = 1 }}]\n"
        )
    };
    format!(
        "format = 1\ntitle = \"two\"\n[module.m]\ncells = 16\ncapacity = \"100 Ah\"\nresistance = \"15 mΩ\"\n\
         open_circuit = \"52.8 V\"\ndischarge_limit = \"200 A\"\ncharge_limit = \"50 A\"\n[cable.lead]\n\
         resistance = \"0.5 mΩ\"\nrating = \"120 A\"\n{}{}",
        stack("A"),
        stack("B")
    )
}

// ---- devices ----

/// An opened fuse is its lead conductor open, an opened module breaker its module out, a main fuse all of it. The
/// leads carry 200 A with a fuse of 100 A in the positive one: at twice its rated current the built-in fuse-link
/// opens after 2400/(2⁴ − 4) = 200 s.
#[test]
fn an_opened_device_is_what_it_stands_in() {
    let text = ladder_text_single_modules()
        .replace("rating = \"120 A\"", "rating = \"200 A\"")
        .replace("negative = 1 }", "negative = 1, device = \"f\" }")
        .replace("count = 1\n", "count = 1\nmodule_device = \"b\"\n");
    let types = "[device.f]\nkind = \"fuse\"\nrated = \"100 A\"\n\
                 [device.b]\nkind = \"breaker\"\nrated = \"250 A\"\ncurve = \"very inverse\"\n\
                 [device.main]\nkind = \"fuse\"\nrated = \"400 A\"\nresistance = \"0.1 mΩ\"\n[bar]\ndevice = \"main\"\n";
    let found = limits(&scenario(&format!("{text}{types}")), 1);
    let told: Vec<_> = found.devices.iter().map(|d| (d.id.as_str(), d.stands_in.as_str(), d.opened_is)).collect();
    for wanted in [
        ("A1.breaker", "A1", OpenedIs::ModuleOut),
        ("A.lead1+.fuse", "A.lead1+", OpenedIs::LeadOpen),
        ("main+.fuse", "main+", OpenedIs::BankOff),
    ] {
        assert!(told.contains(&wanted), "{told:?}");
    }
    let open = &found.one_lead_open[0].discharge;
    assert_eq!((open.open.as_deref(), open.open_device.as_deref()), (Some("A.lead1+"), Some("A.lead1+.fuse")));
    let fuse = found.devices.iter().find(|d| d.id == "A.lead1+.fuse").unwrap();
    close(Some(fuse.current_a), 200.0, 1e-6);
    close(fuse.opens_after_s, 200.0, 1e-6);
    let breaker = found.devices.iter().find(|d| d.id == "A1.breaker").unwrap();
    assert_eq!(breaker.opens_after_s, None);
    let table = limit_table::table("fitted", &found);
    for words in [
        "A.lead1+ open (as by A.lead1+.fuse)",
        "A.lead1+.fuse opens after 3 min",
        "its module out: A1.breaker, B1.breaker.",
    ] {
        assert!(table.contains(words), "no {words:?} in\n{table}");
    }
    let json = serde_json::to_value(&found).unwrap();
    assert_eq!(json["devices"][0]["in"], "A1");
    assert_eq!(json["one_lead_open"][0]["open_device"], "A.lead1+.fuse");
}

// ---- edges ----

#[test]
fn nothing_in_service_is_zero_and_a_pole_open_leaves_the_other_stack() {
    let found = limits(&scenario(&ladder_text_single_modules()), 9);
    assert_eq!(found.limits.len(), 3, "no more are out than there are");
    let none = &found.limits[2];
    for bound in [&none.discharge, &none.charge] {
        assert_eq!((bound.current_a, bound.why, bound.binding.as_deref()), (Some(0.0), Why::NothingCarries, None));
        assert_eq!(bound.out, ["A1", "B1"]);
    }
    assert_eq!(found.limits[1].discharge.announced_a, Some(200.0));
    close(found.limits[1].discharge.current_a, 120.0, 1e-7);
    close(found.limits[1].charge.current_a, 50.0, 1e-7);
    let open = &found.one_lead_open;
    assert_eq!(open[0].discharge.open.as_deref(), Some("A.lead1+"));
    close(open[0].discharge.current_a, 120.0, 1e-7);
    assert_eq!(open[0].discharge.binding.as_deref(), Some("B.lead1+"));
    assert_eq!(open[1].discharge.current_a, Some(0.0), "the lead of one stack and the module of the other");
}

/// One module on two pairs of 120 A: with one conductor open, the other of that pole carries all.
#[test]
fn a_pole_open_leaves_all_to_the_other() {
    let pair = "{ cable = \"lead\", positive = 1, negative = 1 }";
    let mut bank = ladder(1, "", &format!("[{pair}, {pair}]"));
    bank.cables[1].rating = Some(120.0);
    bank.modules[0].discharge_limit = Some(300.0);
    let found = limits(&bank, 0);
    close(found.limits[0].discharge.current_a, 240.0, 1e-6);
    let open = &found.one_lead_open[0].discharge;
    close(open.current_a, 120.0, 1e-6);
    assert_eq!((open.open.as_deref(), open.binding.as_deref()), (Some("A.lead1+"), Some("A.lead2+")));
}

#[test]
fn over_without_any_current_is_zero() {
    let text = ladder_text_single_modules().replacen("count = 1\n", "count = 1\nopen_circuit = [\"56 V\"]\n", 1);
    let found = limits(&scenario(&text), 0);
    let row = &found.limits[0];
    // 3.2 V over 32 mΩ drives 100 A: A1 discharges within 200 A, B1 is charged with more than 50 A.
    for bound in [&row.discharge, &row.charge] {
        assert_eq!((bound.current_a, bound.why, bound.binding.as_deref()), (Some(0.0), Why::AtRest, Some("B1")));
    }
    assert!(found.warnings.iter().any(|w| w.contains("without any current")), "{:?}", found.warnings);
}

#[test]
fn nothing_rated_is_unbounded() {
    let text = ladder_text_single_modules()
        .lines()
        .filter(|line| !line.contains("limit") && !line.contains("rating"))
        .collect::<Vec<_>>()
        .join("\n");
    let found = limits(&scenario(&text), 2);
    for bound in [&found.limits[0].discharge, &found.limits[0].charge] {
        assert_eq!((bound.current_a, bound.why), (None, Why::Unrated));
    }
    assert_eq!(found.limits[2].discharge.current_a, Some(0.0));
    assert_eq!(found.warnings.len(), 2);
    let json = serde_json::to_value(&found).unwrap();
    assert!(json["limits"][0]["current_a"].is_null() && json["limits"][0]["binding"].is_null());
    assert!(json["by_hand_a"].is_null());
}

/// Equal halves: the jumper between them carries nothing, and its rating does not bound a charge that nothing else
/// does.
#[test]
fn a_jumper_without_current_does_not_bind() {
    let leads = "[{ cable = \"lead\", positive = 1, negative = 1 }, { cable = \"lead\", positive = 2, negative = 2 }]";
    let mut bank = ladder(2, "rating = \"1 A\"", leads);
    bank.modules[0].charge_limit = None;
    bank.modules[0].discharge_limit = None;
    let found = limits(&bank, 0);
    assert_eq!((found.limits[0].charge.current_a, found.limits[0].charge.why), (None, Why::Unrated));
    assert_eq!(found.limits[0].discharge.why, Why::BusVoltage, "something is rated, and the voltage ends first");
    close(found.limits[0].discharge.current_a, 52.8 / 7.5e-3, 1.0);
}

// ---- too many sets ----

/// Bounds hold the exact limit between them, for every number of modules out, in 200 random banks, half of them of
/// equal voltages.
#[test]
fn bounds_hold_the_exact_limit_between_them() {
    let (mut bounded, mut telling, mut tight) = (0, 0, 0);
    for seed in 1000..1200 {
        let (mut bank, air) = random_bank(seed);
        if seed % 2 == 0 {
            let positions = bank.stacks.iter_mut().flat_map(|stack| &mut stack.positions);
            positions.for_each(|p| (p.soc, p.open_circuit) = (None, None));
        }
        let exact = limits_at(&bank, 9, air);
        let few = Question { outages: 9, soc: None, air, also_air: Vec::new(), most_sets: 1 };
        let found = solve(&bank, &few, &Progress::none()).unwrap();
        assert_eq!(found.limits.len(), exact.limits.len());
        for (row, wanted) in found.limits.iter().zip(&exact.limits) {
            for side in Direction::BOTH {
                let (bound, wanted) = (row.side(side), wanted.side(side));
                let exact = wanted.current_a.unwrap_or(f64::INFINITY);
                let Some(range) = bound.bounds else {
                    agree(bound, exact);
                    continue;
                };
                bounded += 1;
                telling += usize::from(range.low_a > 0.0);
                tight += usize::from(range.low_a > 0.8 * exact);
                assert_eq!(bound.current_a, Some(range.low_a));
                let high = range.high_a.unwrap_or(f64::INFINITY);
                assert!(
                    range.low_a <= exact * (1.0 + 1e-9) && exact <= high * (1.0 + 1e-9),
                    "{seed}: {bound:?} {exact}"
                );
            }
        }
    }
    assert!(bounded > 300 && telling > 150 && tight > 20, "{bounded} {telling} {tight}");
}

/// Twelve modules, six out: the first bound is the rating of one module, 100 A. The second, by hand: six are left, ρ
/// to the others from the end is 0.6 mΩ times 1…11, so that 100 A·6/(1 + (7 + 8 + 9 + 10 + 11)·0.6/15) = 214.286 A.
#[test]
fn the_bound_by_sharing_is_near_where_jumpers_are_short() {
    let bank = ladder(12, "", ONE_END);
    let question = |most_sets| Question { outages: 6, soc: None, air: 25.0, also_air: Vec::new(), most_sets };
    let (found, exact) = (solve(&bank, &question(200), &Progress::none()).unwrap(), limits(&bank, 6));
    let (low, truth) = (found.limits[6].discharge.bounds.unwrap().low_a, exact.limits[6].discharge.current_a.unwrap());
    close(Some(low), 600.0 / 2.8, 1e-4);
    assert!(low < truth, "{low} {truth}");
}

#[test]
fn too_many_sets_are_bounded_and_far_too_many_refused() {
    let bank = ladder(60, "", ONE_END);
    let question = |most_sets| Question { outages: 30, soc: None, air: 25.0, also_air: Vec::new(), most_sets };
    let found = solve(&bank, &question(5000), &Progress::none()).unwrap();
    assert_eq!(found.limits.len(), 31);
    let json = serde_json::to_value(&found).unwrap();
    assert_eq!((&json["limits"][2]["exact"], &json["limits"][3]["exact"]), (&true.into(), &false.into()));
    assert_eq!(json["limits"][30]["low_a"], json["limits"][30]["current_a"]);
    assert_eq!(found.limits[30].discharge.out.len(), 30);
    let table = limit_table::table("long", &found);
    assert!(table.contains("at least") && table.contains("found"), "{table}");
    let mut large = ladder(2, "", ONE_END);
    large.stacks[0].positions = vec![large.stacks[0].positions[0].clone(); 4000];
    let error = solve(&large, &Question { outages: 2000, ..question(100) }, &Progress::none()).unwrap_err().to_string();
    assert!(error.contains("2000 of 4000 modules out") && error.contains("--outages"), "{error}");
    assert_eq!(limits(&bank, 1).limits.len(), 2);
}

// ---- what is printed ----

/// Rounded down, with the condition, and the worst of fewer outages too.
#[test]
fn what_to_set_is_a_sentence() {
    let text = limit_table::table("ladder", &limits(&ladder(8, "", ONE_END), 1));
    for sentence in [
        "Set the inverter's discharge limit to at most 504 A (with all modules in, at 25 °C and 90 % charge); A1 binds.",
        "Set the inverter's charge limit to at most 504 A (with all modules in, at 25 °C and 90 % charge); A1 binds.",
        "Set the inverter's discharge limit to at most 431 A (with any 1 module out, or none, at 25 °C and 90 % charge); A1 binds.",
    ] {
        assert!(text.contains(sentence), "no {sentence:?} in\n{text}");
    }
    assert!(!text.contains("any 2 modules"), "{text}");
}

/// Cold: every module refuses charge, and the curve over ambient says from where on.
#[test]
fn the_limit_by_ambient() {
    let text = ladder_text_single_modules().replacen(
        "\ncharge_limit",
        "\ncharge_temperature = { low = \"0 °C\" }\ncharge_limit",
        1,
    );
    let question = Question { outages: 1, soc: Some(0.5), air: 25.0, also_air: vec![-5.0], most_sets: MOST_SETS };
    let found = solve(&scenario(&text), &question, &Progress::none()).unwrap();
    assert!(found.kept_out.is_empty() && found.soc == Some(0.5));
    let airs: Vec<f64> = found.by_air.iter().map(|at| at.air_c).collect();
    assert_eq!(airs, [25.0, -5.0]);
    assert_eq!(found.by_air[1].limits[0].charge.why, Why::NothingCarries);
    assert_eq!(found.by_air[1].limits[0].charge.announced_a, Some(0.0));
    close(found.by_air[1].limits[0].discharge.current_a, 240.0, 1e-6);
    close(found.by_air[0].limits[0].charge.current_a, 100.0, 1e-6);
    let table = limit_table::table("two", &found);
    assert!(table.contains("By temperature of everything") && table.contains("−5 °C"), "{table}");
}

/// A lead of 1/0 AWG and 75 °C has 150 A in air of 30 °C (NFPA 70, table 310.16), times 0.88 at 40 °C, 0.75 at 50 °C
/// and 0.58 at 60 °C (NFPA 70, table 310.15(B)(1), for 75 °C; two digits). Its connectors stand 140 A.
#[test]
fn a_limit_is_the_lesser_of_rating_and_ampacity_in_that_air() {
    let text = ladder_text_single_modules().replacen(
        "resistance = \"0.5 mΩ\"\nrating = \"120 A\"",
        "size = \"1/0 AWG\"\nlength = \"2 m\"\nrating = \"140 A\"\ninsulation = \"75 °C\"\nampacity = \"table\"",
        1,
    );
    let question =
        Question { outages: 1, soc: None, air: 20.0, also_air: vec![40.0, 50.0, 60.0, 80.0], most_sets: MOST_SETS };
    let found = solve(&scenario(&text), &question, &Progress::none()).unwrap();
    let one_out = |at: usize| &found.by_air[at].limits[1].discharge;
    assert_eq!((one_out(0).limited_by, one_out(1).limited_by), (Some(LimitedBy::Rating), Some(LimitedBy::Ampacity)));
    close(one_out(0).current_a, 140.0, 1e-6);
    for (at, factor) in [(1, 0.88), (2, 0.75), (3, 0.58)] {
        close(one_out(at).current_a, 150.0 * factor, 150.0 * 0.005);
    }
    assert_eq!(one_out(4).current_a, Some(0.0), "air hotter than the insulation stands");
    let told = steps(&found, Direction::Discharge);
    assert_eq!((told[0].below, told[0].above), (20.0, 40.0));
    assert_eq!(told[0].why, "below it A.lead1+ by its rating binds, above it A.lead1+ by its insulation or terminals");
}

/// Modules that cold keeps out are a step, told by name.
#[test]
fn a_window_is_a_step() {
    let text = ladder_text_single_modules().replacen(
        "\ncharge_limit",
        "\ncharge_temperature = { low = \"0 °C\" }\ncharge_limit",
        1,
    );
    let question = Question { outages: 0, soc: Some(0.5), air: 10.0, also_air: vec![-1.0, 0.0], most_sets: MOST_SETS };
    let found = solve(&scenario(&text), &question, &Progress::none()).unwrap();
    let told = steps(&found, Direction::Charge);
    assert_eq!(told.len(), 1);
    assert_eq!((told[0].below, told[0].above), (-1.0, 0.0));
    assert_eq!(told[0].why, "at −1 °C and colder A1 B1 carry no charge current");
    assert!(steps(&found, Direction::Discharge).is_empty());
}

// ---- work ----

/// One factorisation a set, however many sets: 65,536 of 16 modules in all.
#[test]
fn one_factorisation_a_set() {
    let bank = ladder(16, "rating = \"200 A\"", ONE_END);
    let found = limits(&bank, 16);
    let with_one_open = 2 * (1 + 16 + 120);
    assert_eq!(found.sets, 65_536 + with_one_open);
    assert_eq!(found.factorisations, found.sets);
    assert_eq!(found.limits.len(), 17);
}

#[test]
fn the_same_for_any_number_of_threads() {
    let bank = random_bank(3).0;
    let on = |threads: usize| {
        let pool = rayon::ThreadPoolBuilder::new().num_threads(threads).build().unwrap();
        serde_json::to_string(&pool.install(|| limits_at(&bank, 4, -3.0))).unwrap()
    };
    assert_eq!(on(1), on(3));
}

// ---- brute force ----

/// The least current in a direction (±1) at which a point is over or not carried, by a scan and bisection; `None`
/// where it is neither up to 5 kA.
fn greatest(bank: &Scenario, sign: f64, air: f64, out: &[String]) -> Option<f64> {
    let fails = |amps: f64| {
        let p = point(bank, sign * amps, air, out);
        !p.bus.carried || !over(&p).is_empty()
    };
    if fails(0.0) || fails(1e-5) {
        return Some(0.0);
    }
    let grid = (1..=80).map(|k| 5000.0 * (f64::from(k) / 80.0).powi(3));
    let mut good = 0.0;
    for amps in grid {
        if !fails(amps) {
            good = amps;
            continue;
        }
        let mut bad = amps;
        for _ in 0..60 {
            let middle = 0.5 * (good + bad);
            if fails(middle) { bad = middle } else { good = middle }
        }
        return Some(good);
    }
    None
}

/// Every set of so many out, by brute force: the least of them is the row's, and the row's set has it.
fn assert_sets(bank: &Scenario, row: &Row, air: f64) {
    let ids: Vec<String> = point(bank, 0.0, air, &[]).modules.into_iter().map(|m| m.id).collect();
    for (bound, sign) in [(&row.discharge, 1.0), (&row.charge, -1.0)] {
        let mut least = f64::INFINITY;
        for mask in 0..1u32 << ids.len() {
            if mask.count_ones() as usize != row.outages {
                continue;
            }
            let out: Vec<String> =
                ids.iter().enumerate().filter(|(k, _)| mask >> k & 1 == 1).map(|(_, id)| id.clone()).collect();
            least = least.min(greatest(bank, sign, air, &out).unwrap_or(f64::INFINITY));
        }
        agree(bound, least);
        let at_set = greatest(bank, sign, air, &bound.out).unwrap_or(f64::INFINITY);
        agree(bound, at_set);
        assert_eq!(bound.out.len(), row.outages);
        held(bank, bound, sign, air);
    }
}

#[track_caller]
fn agree(bound: &Bound, wanted: f64) {
    match bound.current_a {
        Some(got) if got < 5000.0 => assert!((got - wanted).abs() <= 2e-8 * wanted + 1e-6, "{bound:?}, not {wanted}"),
        _ => assert!(wanted.is_infinite(), "{bound:?}, not {wanted}"),
    }
}

/// `point` at the limit shows nothing over, and at 1.001 of it the element that binds.
fn held(bank: &Scenario, bound: &Bound, sign: f64, air: f64) {
    let (Some(amps), Why::Rating) = (bound.current_a, bound.why) else { return };
    let at = point(bank, sign * amps, air, &bound.out);
    assert!(over(&at).is_empty(), "{bound:?}: {:?}", over(&at));
    let beyond = point(bank, sign * (amps * 1.001 + 1e-6), air, &bound.out);
    assert!(!over(&beyond).is_empty(), "{bound:?}");
}

/// An invented bank of a seed, and the temperature to ask at: stacks, take-offs, unequal charge, resistance and
/// voltage by position, types that cold blocks one way or both, a bar with taps in one of three.
fn random_bank(seed: u64) -> (Scenario, f64) {
    let mut rng = ChaCha8Rng::seed_from_u64(seed);
    let mut text = String::from("format = 1\ntitle = \"random\"\n");
    let rated = |rng: &mut ChaCha8Rng, key: &str, low: f64, high: f64| {
        let amps = rng.random_range(low..high);
        if rng.random_bool(0.8) { format!("{key} = \"{amps:.1} A\"\n") } else { String::new() }
    };
    for (name, cold) in [
        ("plain", ""),
        ("shy", "charge_temperature = { low = \"0 °C\" }\nswitch_drop = \"0.05 V\"\n"),
        ("odd", "discharge_temperature = { low = \"0 °C\" }\ncharge_temperature = { low = \"-20 °C\" }\n"),
    ] {
        let ohm = rng.random_range(8.0..20.0);
        let _ = write!(
            text,
            "[module.{name}]\ncells = 16\ncapacity = \"100 Ah\"\nresistance = \"{ohm:.2} mΩ\"\n{cold}{}{}\
             open_circuit = [[\"0 %\", \"3.0 V\"], [\"20 %\", \"3.25 V\"], [\"100 %\", \"3.35 V\"]]\n",
            rated(&mut rng, "discharge_limit", 50.0, 120.0),
            rated(&mut rng, "charge_limit", 30.0, 80.0),
        );
    }
    for (cable, low, high, amps) in [("jumper", 0.1, 0.6, 160.0), ("lead", 0.3, 2.0, 140.0)] {
        let ohm = rng.random_range(low..high);
        let rating = rated(&mut rng, "rating", 60.0, amps);
        let _ = write!(text, "[cable.{cable}]\nresistance = \"{ohm:.4} mΩ\"\n{rating}");
    }
    let bar = rng.random_bool(0.33);
    if bar {
        text.push_str("[bar]\nresistance = \"0.2 mΩ/m\"\nload_at = \"0.3 m\"\nrating = \"300 A\"\n");
    }
    let stacks = rng.random_range(1..=3usize);
    (0..stacks).for_each(|k| random_stack(&mut rng, &mut text, ["A", "B", "C"][k], bar));
    let air = if rng.random_bool(0.5) { -5.0 } else { 25.0 };
    (scenario(&text), air)
}

fn random_stack(rng: &mut ChaCha8Rng, text: &mut String, name: &str, bar: bool) {
    let count = rng.random_range(1..=3usize);
    let module = ["plain", "shy", "odd"][rng.random_range(0..3usize)];
    let leads: Vec<String> = (0..rng.random_range(1..=2))
        .map(|_| {
            let (p, n) = (rng.random_range(1..=count), rng.random_range(1..=count));
            let at = if bar { format!(", at = \"{:.2} m\"", rng.random_range(0.0..1.0)) } else { String::new() };
            format!("{{ cable = \"lead\", positive = {p}, negative = {n}{at} }}")
        })
        .collect();
    let list = |rng: &mut ChaCha8Rng, key: &str, chance: f64, low: f64, high: f64, unit: &str| {
        if !rng.random_bool(chance) {
            return String::new();
        }
        let values: Vec<String> =
            (0..count).map(|_| format!("\"{:.3} {unit}\"", rng.random_range(low..high))).collect();
        format!("{key} = [{}]\n", values.join(", "))
    };
    let soc = list(rng, "soc", 0.5, 60.0, 95.0, "%");
    let ohm = list(rng, "resistance", 0.5, 8.0, 20.0, "mΩ");
    let emf = list(rng, "open_circuit", 0.3, 51.4, 53.6, "V");
    let _ = write!(
        text,
        "[[stack]]\nname = \"{name}\"\nmodule = \"{module}\"\ncount = {count}\njumper = \"jumper\"\n\
         leads = [{}]\n{soc}{ohm}{emf}",
        leads.join(", ")
    );
}

/// 200 random banks, both directions, all in: by bisection on points. In every tenth, every set of one and of two.
#[test]
fn agrees_with_bisection_on_points() {
    let (mut rated, mut at_rest, mut blocked) = (0, 0, 0);
    for seed in 0..200 {
        let (bank, air) = random_bank(seed);
        let found = limits_at(&bank, 2, air);
        assert_sets(&bank, &found.limits[0], air);
        if seed % 10 == 0 {
            found.limits[1..].iter().for_each(|row| assert_sets(&bank, row, air));
        }
        for bound in [&found.limits[0].discharge, &found.limits[0].charge] {
            rated += usize::from(bound.why == Why::Rating);
            at_rest += usize::from(bound.why == Why::AtRest);
        }
        blocked += usize::from(!found.kept_out.is_empty());
    }
    assert!(rated > 200 && at_rest > 5 && blocked > 50, "{rated} {at_rest} {blocked}");
}
