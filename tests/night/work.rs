//! How much work a night takes, counted and not timed: a step or a solution more shows here.

use super::*;

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
