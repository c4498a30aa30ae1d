//! How much work a night takes, counted and not timed: a step or a solution more shows here.

use super::*;
use bankwright::engine::trial::Nobody;
use bankwright::scenario::check::load;

/// Where nothing happens a minute is one step and one solution, and the start is one more.
#[test]
fn an_idle_night_takes_one_solution_a_minute() {
    let m = module("m", 15.0, "\"52 V\"", "");
    let stack = single("A", "m", "");
    for load in ["[load]\ncurrent = \"5 A\"\n", "[load]\npower = \"200 W\"\n", "[load]\npower = \"0 W\"\n"] {
        let work = night(&[&m, SHORT, &stack, load, &trials("10 h", "soc = \"90 %\"")]).result.work;
        assert_eq!((work.steps, work.solves, work.events), (600, 601, 0), "{load}");
    }
}

/// Where a profile holds for an hour, fifteen minutes are one.
#[test]
fn an_idle_night_of_a_profile_takes_one_solution_in_a_quarter_of_an_hour() {
    let folder = tempfile::tempdir().unwrap();
    std::fs::write(folder.path().join("load.csv"), "hours,power\n0,200\n1,200\n20,200\n").unwrap();
    let m = module("m", 15.0, "\"52 V\"", "");
    let parts = [&m, SHORT, &single("A", "m", ""), "[load]\nprofile = \"load.csv\"\n", &trials("10 h", "")];
    let work = run(&campaign_in(&parts, folder.path())).result.work;
    assert_eq!((work.steps, work.solves, work.events), (40, 41, 0));
}

/// Steps, solutions and events of nights in which things happen. More of any is a loss: renew a number only with the
/// reason for it.
#[test]
fn nights_with_events_take_as_much_work_as_they_did() {
    let root = Path::new(env!("CARGO_MANIFEST_DIR")).join("scenarios");
    let work = |file: &str, trials: u64| {
        let scenario = load(&root.join(file)).unwrap_or_else(|faults| panic!("{}", shown(&faults))).scenario;
        let campaign =
            Campaign::new(&scenario, scenario.load.as_ref().unwrap(), scenario.trials.as_ref().unwrap()).unwrap();
        let works = (0..trials).map(|k| campaign.run_one(k, &mut Nobody).unwrap().work);
        works.fold((0, 0, 0), |sum, w| (sum.0 + w.steps, sum.1 + w.solves, sum.2 + w.events))
    };
    let all = [work("refuge.toml", 64), work("polder.toml", 64), work("boat_house.toml", 4)];
    assert_eq!(all, [(4684, 9447, 4), (12332, 13127, 138), (720, 724, 0)]);
}
