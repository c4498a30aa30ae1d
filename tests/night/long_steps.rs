//! Where nothing changes several steps are one: nothing that a user acts on may change by it.

use super::*;
use bankwright::engine::batch;
use bankwright::engine::trial::Nobody;
use bankwright::scenario::check::load;
use rand::{RngExt, SeedableRng};
use rand_chacha::ChaCha8Rng;
use std::fmt::Write;
use std::sync::atomic::AtomicBool;

fn grid_of(parts: &[&str], minutes: &[u32]) -> f64 {
    let folder = tempfile::tempdir().unwrap();
    let mut profile = "hours,power\n".to_owned();
    for minute in minutes {
        let _ = writeln!(profile, "{:.12},100", f64::from(*minute) / 60.0);
    }
    std::fs::write(folder.path().join("load.csv"), profile).unwrap();
    let stack = [module("m", 15.0, "\"52 V\"", ""), SHORT.to_owned(), single("A", "m", "")].concat();
    campaign_in(&[&[stack.as_str()], parts].concat(), folder.path()).model.grid.seconds()
}

#[test]
fn the_grid_is_as_long_as_the_load_holds() {
    let profile = "[load]\nprofile = \"load.csv\"\n";
    let day = trials("2 h", "step = \"60 s\"");
    assert_eq!(grid_of(&[profile, &day], &[0, 15, 60, 120]), 900.0);
    assert_eq!(grid_of(&[profile, &day], &[0, 14, 60, 120]), 120.0);
    assert_eq!(grid_of(&[profile, &day], &[0, 1, 60, 120]), 60.0);
    assert_eq!(
        grid_of(&[profile, &trials("2 h", "step = \"200 s\"")], &[0, 60, 120]),
        600.0,
        "a quarter of an hour at most"
    );
    assert_eq!(grid_of(&[profile, &trials("2 h", "step = \"7 s\"")], &[0, 60, 120]), 7.0);
    // A constant load is an exact calculation.
    assert_eq!(grid_of(&["[load]\npower = \"100 W\"\n", &day], &[0, 60]), 60.0);
    // Limits that follow temperature are worked out at every step.
    let follows = "[controller]\ndischarge_by_temperature = [[\"0 °C\", \"50 %\"], [\"4 °C\", \"100 %\"]]\n\
                   [inverter]\nrated = \"5 kW\"\n";
    assert_eq!(grid_of(&[profile, &day, follows], &[0, 60, 120]), 60.0);
}

/// The refuge, its first nights, on the grid of steps and with every step by itself.
#[test]
fn nights_of_the_refuge_are_the_same_with_every_step_by_itself() {
    let path = Path::new(env!("CARGO_MANIFEST_DIR")).join("scenarios/refuge.toml");
    let scenario = load(&path).unwrap_or_else(|faults| panic!("{}", shown(&faults))).scenario;
    let (load, trials) = (scenario.load.clone().unwrap(), scenario.trials.clone().unwrap());
    let mut campaign = Campaign::new(&scenario, &load, &trials).unwrap();
    let realizations: Vec<Realization> = (0..320).map(|n| campaign.realization(n)).collect();
    let run = |campaign: &Campaign| -> Vec<TrialResult> {
        let runs =
            realizations.chunks(16).map(|few| batch::run(&campaign.model, few, &AtomicBool::new(false)).unwrap());
        runs.flatten().map(Result::unwrap).collect()
    };
    let long = run(&campaign);
    assert!(campaign.model.grid == Time(15 * trials.step.0));
    campaign.model.grid = trials.step;
    let each = run(&campaign);
    let [few, many] = [&long, &each].map(|all| all.iter().map(|r| r.work.steps).sum::<u64>());
    assert!(few * 10 < many, "{few} of {many} steps");
    let mut over = 0;
    for (long, each) in long.iter().zip(each) {
        let n = long.trial;
        assert_eq!((long.any_over(), long.dropout.most), (each.any_over(), each.dropout.most), "trial {n}");
        assert_eq!(long.served_until.is_some(), each.served_until.is_some(), "trial {n}");
        let [a, b] = [long.served_until, each.served_until].map(|t| t.unwrap_or(trials.horizon).seconds());
        assert!((a - b).abs() < 5.0, "trial {n}: {a} and {b} s");
        over += u32::from(each.any_over());
    }
    assert!(over > 0, "nothing was put to the test");
}

/// A current that rises above its limit and falls below it between the ends of a long step: modules that pass a corner
/// of their curve one after the other. The limit lies a little under the peak that
/// steps of a second show.
#[test]
fn no_peak_is_stepped_over() {
    let (mut missed, mut cases) = (0, 0);
    for seed in 0..60 {
        let mut rng = ChaCha8Rng::seed_from_u64(seed);
        let mut between = |low: f64, high: f64| rng.random_range(low..high);
        let (corner, apart) = (between(55.0, 75.0), between(1.0, 6.0));
        let curve = format!(
            "[[\"0 %\", \"3.0 V\"], [\"{corner:.3} %\", \"{:.4} V\"], [\"100 %\", \"3.36 V\"]]",
            between(3.30, 3.35)
        );
        let watts = between(3000.0, 6000.0);
        let folder = tempfile::tempdir().unwrap();
        let profile: String = (0..=24).map(|k| format!("{},{watts}\n", f64::from(k) / 24.0)).collect();
        std::fs::write(folder.path().join("load.csv"), format!("hours,power\n{profile}")).unwrap();
        let bank = |rating: f64, step: &str| {
            let rated = format!("discharge_limit = \"{rating} A\"");
            let stacks = format!("{}soc = [\"{} %\"]\n", single("A", "m", ""), corner + 8.0)
                + &format!("{}soc = [\"{} %\"]\n", single("B", "m", ""), corner + 8.0 - apart);
            let trials = trials("1 h", &format!("step = \"{step}\"\nhold = \"1 ms\"\nsoc = \"50 %\""));
            let m = module("m", 12.0, &curve, &rated);
            campaign_in(&[&m, SHORT, &stacks, "[load]\nprofile = \"load.csv\"\n", &trials], folder.path())
        };
        let run = |campaign: &Campaign| {
            let realization = campaign.realization(0);
            trial::run(&campaign.model, &realization, &mut Nobody).unwrap()
        };
        let fine = run(&bank(1000.0, "1 s"));
        let peak = fine.elements[0].greatest;
        let rating = 0.996 * peak;
        let near = bank(rating, "30 s");
        assert_eq!(near.model.grid.seconds(), 150.0);
        assert!(run(&near).elements[0].first_over.is_some(), "seed {seed}: {peak} A");
        // Where nothing looks at it, the ends of the same long steps do not show it.
        missed += u32::from(run(&bank(1000.0, "30 s")).elements[0].greatest < rating);
        cases += 1;
    }
    assert!(missed * 5 > cases, "{missed} of {cases}: nothing was put to the test");
}
