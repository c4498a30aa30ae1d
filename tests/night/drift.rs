//! Two modules that drift apart, against the solution of their two first-order equations by hand (`apart_exactly`).

use super::{Night, SHORT, module, near, night, single, trials};

/// Open-circuit voltage of a module: straight, 1.6 V from empty to full.
const STRAIGHT: &str = "[[\"0 %\", \"3.2 V\"], [\"100 %\", \"3.3 V\"]]";

fn two(second_ah: f64, step: &str) -> Night {
    let first = module("a", 15.0, STRAIGHT, "");
    let second = module("b", 20.0, STRAIGHT, "").replace("100 Ah", &format!("{second_ah} Ah"));
    let stacks = [single("A", "a", ""), single("B", "b", "")].concat();
    let load = "[load]\ncurrent = \"100 A\"\n";
    night(&[&first, &second, SHORT, &stacks, load, &trials("1 h", &format!("step = \"{step}\""))])
}

fn apart(night: &Night) -> f64 {
    let end = night.at(3600.0);
    end.charges[0] - end.charges[1]
}

const TAU: f64 = 0.035 / (1.6 * (1.0 / 360_000.0 + 1.0 / 324_000.0));

/// Δz(t) = I·(R1·Q1 − R2·Q2)/(a·(Q1+Q2))·(1 − e^(−t/τ)), τ = (R1+R2)/(a·(1/Q1+1/Q2)) = 3730.26 s.
fn apart_exactly(seconds: f64) -> f64 {
    let far = 100.0 * (0.015 * 360_000.0 - 0.020 * 324_000.0) / (1.6 * 684_000.0);
    far * (1.0 - (-seconds / TAU).exp())
}

#[test]
fn drift_is_that_of_the_closed_form() {
    near(TAU, 3730.26, 5e-3);
    near(apart_exactly(3600.0), -0.06109017, 5e-9);
    let n = two(90.0, "10 s");
    near(apart(&n), -0.06109017, 2e-8);
    near(n.at(3600.0).currents[0], 54.350164, 2e-6);
    for seconds in [600.0, 1800.0, 3000.0] {
        let seen = n.at(seconds);
        near(seen.charges[0] - seen.charges[1], apart_exactly(seconds), 2e-8);
    }
    // Both ends of the sum: what one gives less the other gives more.
    let given = 360_000.0 * (0.9 - n.at(3600.0).charges[0]) + 324_000.0 * (0.9 - n.at(3600.0).charges[1]);
    near(given, 360_000.0, 1e-6);
}

/// Second order: half the step, a quarter of the error, three times over.
#[test]
fn halving_the_step_quarters_the_error() {
    let exact = apart_exactly(3600.0);
    let errors = ["600 s", "300 s", "150 s", "75 s"].map(|step| apart(&two(90.0, step)) - exact);
    for pair in errors.windows(2) {
        near(pair[0] / pair[1], 4.0, 0.15);
    }
    assert!(errors[0].abs() < 1e-4 && errors[3].abs() > 1e-12, "{errors:?}");
}

/// R1·Q1 = R2·Q2: 15 mΩ × 100 Ah = 20 mΩ × 75 Ah. The two leads of 1 nΩ each, which are equal and so
/// not in that proportion, let them part by I·2 nΩ·(Q1 − Q2)/(a·(Q1 + Q2)) = 1.8e-8 at most.
#[test]
fn equal_products_do_not_drift() {
    let n = two(75.0, "60 s");
    let tau = 0.035 / (1.6 * (1.0 / 360_000.0 + 1.0 / 270_000.0));
    let far = 100.0 * 2e-9 * 90_000.0 / (1.6 * 630_000.0);
    for seen in &n.seen {
        let wanted = far * (1.0 - (-seen.time.seconds() / tau).exp());
        near(seen.charges[0] - seen.charges[1], wanted, 1e-11);
    }
}
