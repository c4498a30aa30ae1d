//! Conductors: how warm they become.

use super::*;

/// Of copper by IEC 60287-1-1, as a share of that at 90 °C.
fn share_of_90(celsius: f64) -> f64 {
    (1.0 + 0.00393 * (celsius - 20.0)) / (1.0 + 0.00393 * 70.0)
}

/// A lead that comes to 90 °C in air of 30 °C at 100 A, with a time constant of 10 min, at a current with a ripple of 50 %.
fn rippled(amps: u32, trials: &str, check: impl Fn(&TrialResult)) {
    let m = module("m", "capacity = \"10000 Ah\"\nresistance = \"10 mΩ\"\nopen_circuit = \"52 V\"");
    let lead = "[cable.lead]\nsize = \"35 mm2\"\nlength = \"2 m\"\ninsulation = \"90 °C\"\nampacity = \"100 A\"\n\
                time_constant = \"10 min\"\n";
    let stack = single("A", "m", "").replace("short", "lead");
    let more = format!(
        "[inverter]\nrated = \"10 kW\"\nripple = \"50 %\"\n[climate]\nair = \"30 °C\"\n[load]\ncurrent = \"{amps} A\"\n\
         [trials]\ncount = 1\n{trials}\n"
    );
    each_way_as_written(&[&m, lead, &stack, &more], check);
}

/// One that comes to 90 °C in air of 30 °C at 100 A carries 100 A with a ripple of 50 %: its mean square is 1.25 of that, and it
/// comes to where T − 30 = 60·1.25·R(T)/R(90), R that of copper (by hand, a linear equation).
#[test]
fn ripple_warms_a_conductor() {
    let slope = 60.0 * 1.25 * 0.00393 / (1.0 + 0.00393 * 70.0);
    let settled = (30.0 + 60.0 * 1.25 * share_of_90(0.0)) / (1.0 - slope);
    rippled(100, "horizon = \"6 h\"", |r| near(r.elements[1].hottest.unwrap(), settled, 0.01));
}

/// The same at 90 A, less than it may carry, but not with that ripple: it comes to 90.9 °C, and to its 90 °C in a time constant,
/// longer by what its resistance rises, times ln(ΔT(0)/ΔT(t)) (a linear equation). From there on it is too hot.
#[test]
fn ripple_makes_a_conductor_too_hot_below_its_ampacity() {
    let rise = 60.0 * 0.81 * 1.25;
    let slope = rise * 0.00393 / (1.0 + 0.00393 * 70.0);
    let settled = (30.0 + rise * share_of_90(0.0)) / (1.0 - slope);
    let reached = 600.0 / (1.0 - slope) * f64::ln((settled - 30.0) / (settled - 90.0));
    rippled(90, "horizon = \"2 h\"\nstep = \"1 s\"", |r| {
        assert_eq!(r.elements[1].first_over, None);
        at_moment(r.elements[1].first_hot, reached, 1.0);
        near(r.elements[1].time_hot.seconds(), 7200.0 - reached, 1.0);
    });
}

/// Two modules that even out through their leads: i = i₀·e^(−t/τ), so that a lead of time constant T warms by
/// θ = k·(e^(−2t/τ) − e^(−t/T))/(1/T − 2/τ) (a linear equation), k its rise by ampere squared and second at its own
/// resistance: 60 K/(30 A)²·R(30)/R(90)/T. τ = ΣR·Q/(2·E′) = 2.7 s, i₀ = 0.8 V/24 mΩ. The mean square of each step counts.
#[test]
fn a_current_that_falls_warms_by_its_mean_square() {
    let m = module(
        "m",
        "capacity = \"1 Ah\"\nresistance = \"10 mΩ\"\nopen_circuit = [[\"0 %\", \"2.4 V\"], [\"100 %\", \"3.4 V\"]]",
    );
    let lead =
        "[cable.lead]\nresistance = \"1 mΩ\"\ninsulation = \"90 °C\"\nampacity = \"30 A\"\ntime_constant = \"100 s\"\n";
    let stack = |name: &str, soc: &str| single(name, "m", &format!("soc = [\"{soc}\"]")).replace("short", "lead");
    let more = "[climate]\nair = \"30 °C\"\n[load]\ncurrent = \"0 A\"\n[trials]\ncount = 1\nhorizon = \"30 s\"\nstep = \"0.5 s\"\n";
    let (tau, warms, i0) = (0.024 * 3600.0 / 32.0, 100.0_f64, 0.8_f64 / 0.024);
    let k = 60.0 / 900.0 * share_of_90(30.0) / warms * i0 * i0;
    let rise = |t: f64| k * (f64::exp(-2.0 * t / tau) - f64::exp(-t / warms)) / (1.0 / warms - 2.0 / tau);
    let most = (1..300).map(|n| rise(f64::from(n) * 0.1)).fold(0.0, f64::max);
    each_way_as_written(&[&m, lead, &stack("A", "55 %"), &stack("B", "50 %"), more], |r| {
        near(r.elements[0].greatest, i0, 1e-6);
        near(r.elements[2].hottest.unwrap() - 30.0, most, 0.01 * most);
    });
}

/// Of four loaded conductors in a bundle each carries 0.80 of what one does alone (NFPA 70, 310.15(C)(1)), of eight 0.70, of
/// two as much: there the conductor comes to the temperature of its insulation, and beyond it is over.
#[test]
fn a_bundle_carries_less() {
    let m = module("m", "capacity = \"10000 Ah\"\nresistance = \"10 mΩ\"\nopen_circuit = \"52 V\"");
    let stack = single("A", "m", "").replace("short", "lead");
    for (bundled, factor) in [(2, 1.0), (4, 0.8), (8, 0.7)] {
        for (share, over) in [(0.999, false), (1.001, true)] {
            let lead = format!(
                "[cable.lead]\nresistance = \"1 mΩ\"\ninsulation = \"90 °C\"\nampacity = \"100 A\"\nbundled = {bundled}\n\
                 time_constant = \"1 min\"\n"
            );
            let more = format!(
                "[climate]\nair = \"30 °C\"\n[load]\ncurrent = \"{} A\"\n[trials]\ncount = 1\nhorizon = \"2 h\"\n",
                100.0 * factor * share
            );
            each_way_as_written(&[&m, &lead, &stack, &more], |r| {
                assert_eq!(r.elements[1].first_over.is_some(), over);
                assert_eq!(r.elements[1].first_hot.is_some(), over);
                // Some 0.15 K by the square of the share, and more by what its resistance rises.
                near(r.elements[1].hottest.unwrap(), 90.0, 0.2);
            });
        }
    }
}
