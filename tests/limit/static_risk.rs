//! The chances of a moment against closed forms and against every set, one by one, on single points.

use super::*;
use bankwright::engine::module::State;
use bankwright::progress::Progress;
use bankwright::study::static_risk::{self, Chance, Chances, LoadAt, quantiles};

const AMPS: [f64; 4] = [40.0, 120.0, 250.0, -60.0];

fn stated(amps: f64) -> LoadAt {
    LoadAt { share: None, demand: Demand::Current(amps) }
}

fn chances(bank: &Scenario, air: f64, loads: Vec<LoadAt>, most_sets: u64) -> Chances {
    static_risk::solve(bank, &static_risk::Question { soc: None, air, loads, most_sets }, &Progress::none()).unwrap()
}

#[track_caller]
fn near(got: f64, wanted: f64) {
    assert!((got - wanted).abs() <= 1e-12 + 1e-9 * wanted, "{got} is not {wanted}");
}

/// So many stacks of one module of 100 A on leads of 1 nΩ, with a section of failures.
fn alike(count: usize, faults: &str) -> Scenario {
    let stack = |k: usize| {
        let leads = "[{ cable = \"lead\", positive = 1, negative = 1 }]";
        format!("[[stack]]\nname = \"S{k}-\"\nmodule = \"m\"\ncount = 1\nleads = {leads}\n")
    };
    let stacks: String = (1..=count).map(stack).collect();
    scenario(&format!(
        "format = 1\ntitle = \"alike\"\n[module.m]\ncells = 16\ncapacity = \"100 Ah\"\nresistance = \"15 mΩ\"\n\
         open_circuit = \"52.8 V\"\ndischarge_limit = \"100 A\"\n[cable.lead]\nresistance = \"1e-06 mΩ\"\n{stacks}{faults}"
    ))
}

/// Sixteen equal shares, each out with probability 0.01: 1390 A is over with 13 or fewer in service. At least 3 of 16
/// out: 5.079424e-4 (binomial distribution, 14 of 16 in service; closed form).
#[test]
fn equal_shares_are_binomial() {
    let bank = alike(16, "[faults]\nmodule_mtbf = \"99 h\"\nmodule_mttr = \"1 h\"\n");
    let found = chances(&bank, 25.0, vec![stated(1390.0)], MOST_SETS);
    near(found.module_unavailability, 0.01);
    assert_eq!((found.sets, found.remaining), (65_536, 0.0));
    let at = &found.loads[0];
    assert!((at.any.low - 5.079424e-4).abs() < 5e-11, "{}", at.any.low);
    // One of them: 15/16 of the others' chance by symmetry is not a closed form; the sum over all is.
    let binomial = |k: u32| {
        let ways = (0..k).fold(1.0, |c, j| c * f64::from(16 - j) / f64::from(j + 1));
        ways * 0.01f64.powi(k as i32) * 0.99f64.powi(16 - k as i32)
    };
    let in_service_and_over: f64 = (3..16).map(|k| binomial(k) * f64::from(16 - k)).sum();
    near(at.elements.iter().map(|e| e.chance.low).sum(), in_service_and_over);
    assert_eq!(at.not_carried.low, at.not_carried.high);
    near(at.not_carried.low, binomial(16));
}

/// Openings without a cause and a common cause of a stack of one are further ways to be out.
#[test]
fn ways_to_be_out_add_up() {
    let faults = "[faults]\nmodule_mtbf = \"99 h\"\nmodule_mttr = \"1 h\"\nnuisance_mtbf = \"198 h\"\nnuisance_mttr = \"2 h\"\n\
                  stack_mtbf = \"9 h\"\nstack_mttr = \"1 h\"\n";
    let found = chances(&alike(1, faults), 25.0, vec![stated(50.0)], MOST_SETS);
    near(found.module_unavailability, 1.0 - 0.99 * 0.99);
    near(found.loads[0].not_carried.low, 1.0 - 0.99 * 0.99 * 0.9);
    assert_eq!(found.loads[0].any, Chance { low: 0.0, high: 0.0 });
}

#[test]
fn what_is_not_repaired_and_what_is_left_out_is_told() {
    let faults = "[faults]\nmodule_mtbf = \"99 h\"\nlead_mtbf = \"9000 h\"\n";
    let found = chances(&alike(2, faults), 25.0, vec![stated(50.0)], MOST_SETS);
    assert_eq!((found.module_unavailability, found.sets), (0.0, 1));
    assert_eq!(found.not_counted.len(), 2, "{:?}", found.not_counted);
}

/// At rest nothing cuts out, limits itself or opens: where the scenario has such a thing, it is told.
#[test]
fn protection_that_no_moment_knows_is_told_where_there_is_any() {
    let not_counted = |bank: &Scenario| chances(bank, 25.0, vec![stated(50.0)], MOST_SETS).not_counted;
    let inverter = "[inverter]\nrated = \"8 kW\"\n";
    assert!(not_counted(&alike(2, inverter)).is_empty());
    let cut_out = format!("{inverter}cut_out = \"44 V\"\nreconnect = \"50 V\"\n");
    assert_eq!(not_counted(&alike(2, &cut_out)), ["the inverter's low-voltage cut-out"]);
    let shipped = |file: &str| {
        let path = std::path::Path::new(env!("CARGO_MANIFEST_DIR")).join("scenarios").join(file);
        not_counted(&bankwright::scenario::check::load(&path).unwrap().scenario)
    };
    for (file, what) in [
        ("reference/cold_night.toml", ["cut-out", "fuses and breakers"]),
        ("polder.toml", ["controller announces", "over-current stages"]),
    ] {
        let told = shipped(file);
        assert!(what.iter().all(|w| told.iter().any(|t| t.contains(w))), "{file}: {told:?}");
    }
}

/// Every set of modules out with its probability, by what each stack may be: out as a whole, or module by module.
fn by_hand(bank: &Scenario, air: f64, amps: f64, (each, stack): (f64, f64)) -> (Vec<(String, f64)>, f64, f64) {
    let shape: Vec<usize> = bank.stacks.iter().map(|s| s.positions.len()).collect();
    let all = point(bank, 0.0, air, &[]);
    let open = |k: usize| all.modules[k].state == State::Open;
    let ids: Vec<String> = all.modules.iter().map(|m| m.id.clone()).collect();
    let mut over_in: Vec<(String, f64)> =
        ids.iter().chain(all.conductors.iter().map(|c| &c.id)).map(|id| (id.clone(), 0.0)).collect();
    let (mut any, mut not_carried) = (0.0, 0.0);
    for mask in 0..1u32 << ids.len() {
        let is_out = |k: usize| mask >> k & 1 == 1;
        let (mut first, mut probability) = (0, 1.0);
        for count in &shape {
            let own: f64 = (first..first + count).map(|k| if is_out(k) { each } else { 1.0 - each }).product();
            let whole = if (first..first + count).all(is_out) { stack } else { 0.0 };
            probability *= whole + (1.0 - stack) * own;
            first += count;
        }
        let out: Vec<String> = (0..ids.len()).filter(|&k| is_out(k) && !open(k)).map(|k| ids[k].clone()).collect();
        let at = point(bank, amps, air, &out);
        // A bank that does not carry the load is left at rest: nothing is over then.
        if !at.bus.carried {
            not_carried += probability;
            continue;
        }
        let over = over(&at);
        over_in.iter_mut().filter(|(id, _)| over.contains(&id.as_str())).for_each(|e| e.1 += probability);
        any += if over.is_empty() { 0.0 } else { probability };
    }
    (over_in, any, not_carried)
}

/// 60 random banks of up to six modules, in discharge and in charge, with common causes of stacks.
#[test]
fn agrees_with_every_set_on_points() {
    let (mut banks, mut certain, mut between) = (0, 0, 0);
    for seed in 3000..3200 {
        let (mut bank, air) = random_bank(seed);
        if bank.module_count() > 6 || banks == 60 {
            continue;
        }
        banks += 1;
        let (each, stack) = (0.2, if seed % 2 == 0 { 0.1 } else { 0.0 });
        let faults = |q: f64| bankwright::scenario::Faults {
            mtbf: 3600.0 * (1.0 - q) / q,
            mttr: Some(3600.0),
            start: bankwright::scenario::FaultStart::Stationary,
        };
        bank.faults = Some(faults(each));
        bank.hazards.stack = (stack > 0.0).then(|| faults(stack));
        let found = chances(&bank, air, AMPS.map(stated).to_vec(), MOST_SETS);
        assert_eq!(found.remaining, 0.0);
        for (at, amps) in found.loads.iter().zip(AMPS) {
            let (elements, any, not_carried) = by_hand(&bank, air, amps, (each, stack));
            near(at.not_carried.low, not_carried);
            near(at.any.low, any);
            for element in &at.elements {
                near(element.chance.low, elements.iter().find(|e| e.0 == element.id).unwrap().1);
            }
            between += usize::from(any > 0.0);
            certain += usize::from(not_carried > 0.99);
        }
    }
    assert!(banks == 60 && between > 60 && certain < 120, "{banks} {between} {certain}");
}

/// Power is met on the Thevenin line, for the same current as on a point.
#[test]
fn a_power_is_the_current_that_it_draws() {
    let mut bank = ladder(4, "rating = \"120 A\"", "[{ cable = \"lead\", positive = 1, negative = 1 }]");
    bank.faults = alike(1, "[faults]\nmodule_mtbf = \"9 h\"\nmodule_mttr = \"1 h\"\n").faults;
    let power = LoadAt { share: None, demand: Demand::Power(9000.0) };
    let found = chances(&bank, 25.0, vec![power], MOST_SETS);
    let mut wanted = 0.0;
    for mask in 0..16u32 {
        let out: Vec<String> = (0..4).filter(|k| mask >> k & 1 == 1).map(|k| format!("A{}", k + 1)).collect();
        let question = point::Question { demand: Demand::Power(9000.0), soc: None, air: 25.0, without: out.clone() };
        let at = point::solve(&bank, &question).unwrap();
        let mass = 0.1f64.powi(out.len() as i32) * 0.9f64.powi(4 - out.len() as i32);
        wanted += if at.bus.carried && !over(&at).is_empty() { mass } else { 0.0 };
    }
    near(found.loads[0].any.low, wanted);
    assert!(wanted > 0.01 && wanted < 0.99, "{wanted}");
}

/// With few sets solved the exact chance lies between the bounds, and what remains is the binomial tail.
#[test]
fn what_is_not_solved_stands_in_the_upper_bound() {
    let bank = alike(20, "[faults]\nmodule_mtbf = \"99 h\"\nmodule_mttr = \"1 h\"\n");
    let found = chances(&bank, 25.0, vec![stated(1750.0)], 1 + 20 + 190);
    let tail = |from: u32| -> f64 {
        let of = |k: u32| {
            let ways = (0..k).fold(1.0, |c, j| c * f64::from(20 - j) / f64::from(j + 1));
            ways * 0.01f64.powi(k as i32) * 0.99f64.powi(20 - k as i32)
        };
        (from..=20).map(of).sum()
    };
    near(found.remaining, tail(3));
    let any = found.loads[0].any;
    assert_eq!(any.low, 0.0, "17 in service carry 102.9 A each, 18 carry 97.2 A");
    near(any.high, tail(3));
    let more = chances(&bank, 25.0, vec![stated(1750.0)], 300_000);
    assert!(more.remaining < 1e-10 && more.loads[0].any.low > 0.99 * tail(3), "{}", more.remaining);
}

/// A module that cold keeps out is out for certain.
#[test]
fn cold_keeps_out_for_certain() {
    let mut bank = alike(3, "[faults]\nmodule_mtbf = \"9 h\"\nmodule_mttr = \"1 h\"\n");
    let mut frail = bank.modules[0].clone();
    frail.discharge_temperature = scenario(&ladder_text_single_modules().replacen(
        "\ncharge_limit",
        "\ndischarge_temperature = { low = \"0 °C\" }\ncharge_temperature = { low = \"0 °C\" }\ncharge_limit",
        1,
    ))
    .modules[0]
        .discharge_temperature;
    frail.charge_temperature = frail.discharge_temperature;
    bank.modules.push(frail);
    bank.stacks[0].positions[0].module = 1;
    // Two are left for 150 A: over where one of them is out.
    let at = |air| chances(&bank, air, vec![stated(150.0)], MOST_SETS);
    near(at(-5.0).loads[0].any.low, 2.0 * 0.1 * 0.9);
    near(at(5.0).loads[0].any.low, 3.0 * 0.01 * 0.9);
    assert_eq!((at(-5.0).sets, at(-5.0).kept_out.len()), (4, 1));
}

/// A constant load is one load, converted as in a run: 2 kW of 5 kW at 95 % with 30 W of its own.
#[test]
fn loads_are_those_at_the_bus() {
    let bank = alike(
        1,
        "[load]\npower = \"2 kW\"\n[inverter]\nrated = \"5 kW\"\nefficiency = \"95 %\"\nstanding = \"30 W\"\n",
    );
    assert_eq!(quantiles(&bank), [LoadAt { share: None, demand: Demand::Power(2000.0 / 0.95 + 30.0) }]);
    assert_eq!(quantiles(&alike(1, "")), []);
}

#[test]
fn chances_are_the_same_for_any_number_of_threads() {
    let (mut bank, air) = random_bank(3);
    bank.faults = alike(1, "[faults]\nmodule_mtbf = \"9 h\"\nmodule_mttr = \"1 h\"\n").faults;
    let on = |threads: usize| {
        let pool = rayon::ThreadPoolBuilder::new().num_threads(threads).build().unwrap();
        let found = pool.install(|| chances(&bank, air, AMPS.map(stated).to_vec(), MOST_SETS));
        serde_json::to_string(&found).unwrap()
    };
    assert_eq!(on(1), on(3));
}
