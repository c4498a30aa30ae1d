//! The steep ends of the built-in curve: bounded, without oscillation, and the step has no say.
//!
//! An explicit step is stable there only for dt < 2·Q·R/(dE/dz): 16 cells lose 6.5 V between 0.33 and
//! 0 %, 1976 V a unit of charge, so 5.5 s for 100 Ah and 15 mΩ (by hand).

use super::{Night, SHORT, at_moment, module, near, night, single, trials};

/// Three modules, none like another, from full to empty.
fn unlike(load: &str, step: &str) -> Night {
    let lfp = |name, ohm, ah: &str| module(name, ohm, "\"lfp\"", "").replace("100 Ah", ah);
    let modules = [lfp("a", 12.0, "104 Ah"), lfp("b", 15.0, "100 Ah"), lfp("c", 19.0, "93 Ah")].concat();
    let stacks = [single("A", "a", ""), single("B", "b", ""), single("C", "c", "")].concat();
    let trials = trials("8 h", &format!("soc = \"100 %\"\nstep = \"{step}\""));
    night(&[&modules, SHORT, &stacks, &format!("[load]\n{load}\n"), &trials])
}

const LOADS: [&str; 2] = ["current = \"150 A\"", "power = \"7 kW\""];

/// Wherever a step ends, its currents are those of steps of 1 s to within 5 A of 50: nothing
/// oscillates. (The currents of the three do swing by 20 A where the curve bends for one before the next.)
#[test]
fn long_steps_stay_bounded_and_do_not_oscillate() {
    for load in LOADS {
        let exact = unlike(load, "1 s");
        for step in ["10 s", "60 s", "600 s", "1 h"] {
            let n = unlike(load, step);
            let whole_seconds = n.seen.iter().filter(|s| s.served && s.time.0 % 1_000_000 == 0);
            for seen in whole_seconds.filter(|s| s.time.seconds() < 7100.0) {
                let wanted = exact.at(seen.time.seconds());
                near(seen.currents[..3].iter().sum(), seen.bus.current, 1e-9);
                for k in 0..3 {
                    near(seen.currents[k], wanted.currents[k], 5.0);
                }
            }
        }
    }
}

/// Constant current: 297 Ah at 150 A, to the millisecond whatever the step, for one weight of the
/// end serves all three and no charge is lost. Constant power: 60 and 30 s are within a second of each
/// other in 2.2 h, and 1 h within two of 1 s.
#[test]
fn the_step_does_not_move_ride_through() {
    for step in ["1 s", "60 s", "600 s", "1 h"] {
        at_moment(unlike(LOADS[0], step).served_until(), 297.0 / 150.0 * 3600.0);
    }
    let ride = |step| unlike(LOADS[1], step).served_until().unwrap();
    let [exact, fine, usual, long] = ["1 s", "30 s", "60 s", "1 h"].map(ride);
    println!("{exact:.3} s; {:+.3} s, {:+.3} s, {:+.3} s", fine - exact, usual - exact, long - exact);
    near(fine, usual, 1.0);
    near(usual, exact, 1.5);
    near(long, exact, 2.0);
}

/// The steep ends cost a few steps more, and no more than that.
#[test]
fn work_is_bounded() {
    for load in LOADS {
        let work = unlike(load, "60 s").result.work;
        assert!(work.steps <= 480 + 30 && work.solves <= 480 + 150, "{load}: {work:?}");
    }
}
