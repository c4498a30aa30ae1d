//! Fuses and breakers: how far each is on its way to opening, by the current through it.

use super::*;
use bankwright::engine::device::spent_after;

/// Two modules of 36 C whose voltage rises by 22.4 V from empty to full, 10 mΩ each, apart by 5 % of their charge. With
/// no load they even out: i = ΔE/(2R)·e^(−t/τ), τ = R·Q/E′ = 16.07 ms (Kirchhoff's voltage law around the loop, as two
/// capacitors by a resistor), from 56 A. The magnetic release of 20 A opens after 10 ms above it: the current passes
/// below 20 A after τ·ln(56/20) = 16.5 ms. Whatever the steps: from the first moment above, not the last.
#[test]
fn a_magnetic_release_opens_on_a_falling_current() {
    // Along a step the current is taken to be a straight line: over 20 ms that would be too long above 32 A.
    for (step, release, opens) in
        [("20 ms", "20 A", true), ("3 ms", "20 A", true), ("1 ms", "20 A", true), ("1 ms", "32 A", false)]
    {
        let m = module(
            "m",
            "capacity = \"10 mAh\"\nresistance = \"10 mΩ\"\n\
             open_circuit = [[\"0 %\", \"2.0 V\"], [\"100 %\", \"3.4 V\"]]",
        );
        let device = format!(
            "[device.d]\nkind = \"breaker\"\nrated = \"15 A\"\ncurve = \"thermal\"\ntime_constant = \"1 d\"\n\
             instantaneous = \"{release}\"\n"
        );
        let stack = |name: &str, soc: &str| single(name, "m", &format!("module_device = \"d\"\nsoc = [\"{soc}\"]"));
        let more = format!("[load]\ncurrent = \"0 A\"\n[trials]\ncount = 1\nhorizon = \"1 s\"\nstep = \"{step}\"\n");
        each_way_as_written(&[&m, SHORT, &device, &stack("A", "55 %"), &stack("B", "50 %"), &more], |r| {
            near(r.elements[0].greatest, 56.0, 1e-3);
            for opened in &r.opened {
                match opens {
                    // τ·ln(56/32) = 9.0 ms: 1 ms too short.
                    false => assert_eq!(*opened, None, "{release} by {step}"),
                    true => at_moment(*opened, 0.01, 5e-5),
                }
            }
        });
    }
}

/// Constant power P on a straight curve of slope a = E′ (E = E₀ + a·z): from P = V·I and V = E − R·I the charge between two
/// currents takes t = Q/a·(P/2·(1/I₀² − 1/I₁²) − R·ln(I₁/I₀)) (by hand: dE = (R − P/I²)·dI, dE/dt = −a·I/Q). A magnetic
/// release opens 10 ms after the current has come to it.
#[test]
fn a_magnetic_release_opens_on_a_rising_current() {
    let (q, a, r, p) = (3600.0_f64, 16.0_f64, 0.01_f64, 4000.0_f64);
    let m = module(
        "m",
        "capacity = \"1 Ah\"\nresistance = \"10 mΩ\"\nopen_circuit = [[\"0 %\", \"2.4 V\"], [\"100 %\", \"3.4 V\"]]",
    );
    let e0 = 16.0 * (2.4 + 0.9 * 1.0);
    let i0 = (e0 - (e0 * e0 - 4.0 * r * p).sqrt()) / (2.0 * r);
    let i1 = 85.0_f64;
    let wanted = q / a * (p / 2.0 * (1.0 / (i0 * i0) - 1.0 / (i1 * i1)) - r * (i1 / i0).ln());
    for (step, within) in [("60 s", 0.05), ("7 s", 0.02), ("1 s", 2e-3)] {
        let device = "[device.d]\nkind = \"breaker\"\nrated = \"84 A\"\ncurve = \"thermal\"\ntime_constant = \"30 d\"\n\
                      instantaneous = \"85 A\"\n";
        let more = format!(
            "[load]\npower = \"4 kW\"\n[trials]\ncount = 1\nhorizon = \"10 min\"\nstep = \"{step}\"\nsoc = \"90 %\"\n"
        );
        each_way_as_written(&[&m, SHORT, device, &single("A", "m", "module_device = \"d\""), &more], |result| {
            at_moment(result.opened[0], wanted + 0.01, within);
        });
    }
}

/// A fuse-link carries twice its rating for 200 s (2400/(2⁴ − 4)): 100 s spend half of it, 200 s at its rating leave
/// e^(−200/300) of that, and it opens once the rest is spent.
#[test]
fn pulses_add_up_and_rest_forgets() {
    let m = module("m", "capacity = \"1000 Ah\"\nresistance = \"10 mΩ\"\nopen_circuit = \"52 V\"");
    let fuse = "[device.d]\nkind = \"fuse\"\nrated = \"100 A\"\ncooling = \"5 min\"\n";
    let more = "[load]\ncurrent = \"100 A\"\n[[surge]]\nname = \"s\"\ncurrent = \"100 A\"\nlasts = \"100 s\"\nat = [\"100 s\"]\n\
                [[surge]]\nname = \"t\"\ncurrent = \"100 A\"\nlasts = \"190 s\"\nat = [\"400 s\"]\n\
                [trials]\ncount = 1\nhorizon = \"20 min\"\n";
    let left = 1.0 - 0.5 * f64::exp(-200.0 / 300.0);
    each_way_as_written(&[&m, SHORT, fuse, &single("A", "m", "module_device = \"d\""), more], |r| {
        at_moment(r.opened[0], 400.0 + 200.0 * left, 1e-3);
    });
}

/// Beyond the last row of a curve the device lets through so much heat, I²·t, as there: 3 s at six times its rating is
/// 0.75 s at twelve times. Between two rows it is straight on logarithmic scales: half way, by product, from 2 and 90 s to 6 and
/// 3 s stand √12 and √270 s.
#[test]
fn beyond_the_last_row_and_between_two() {
    let m = module("m", "capacity = \"1000 Ah\"\nresistance = \"10 mΩ\"\nopen_circuit = \"52 V\"");
    let breaker =
        "[device.d]\nkind = \"breaker\"\nrated = \"20 A\"\ncurve = [[1.35, \"1 h\"], [2, \"90 s\"], [6, \"3 s\"]]\n";
    for (multiple, opens) in [(12.0, 0.75), (6.0, 3.0), (12_f64.sqrt(), 270_f64.sqrt())] {
        let more = format!("[load]\ncurrent = \"{} A\"\n[trials]\ncount = 1\nhorizon = \"10 min\"\n", 20.0 * multiple);
        each_way_as_written(&[&m, SHORT, breaker, &single("A", "m", "module_device = \"d\""), &more], |r| {
            at_moment(r.opened[0], opens, 1e-3);
        });
    }
}

/// A thermal memory follows the square of the current: of a straight line from nothing to twice the rated current a third of
/// four (∫x²dx), from one to two times seven thirds, whichever way it runs.
#[test]
fn a_thermal_memory_takes_the_mean_square_of_a_line() {
    let breaker =
        "[device.d]\nkind = \"breaker\"\nrated = \"100 A\"\ncurve = \"thermal\"\ntime_constant = \"10 min\"\n";
    let m = module("m", "capacity = \"100 Ah\"\nresistance = \"10 mΩ\"\nopen_circuit = \"52 V\"");
    let s = scenario(&[&m, SHORT, breaker, &single("A", "m", "module_device = \"d\"")]);
    for (from, to, mean) in [(0.0, 200.0, 4.0 / 3.0), (100.0, 200.0, 7.0 / 3.0), (150.0, 150.0, 2.25)] {
        let rise = mean * -f64::exp_m1(-0.01);
        for amps in [(from, to), (to, from), (-from, -to)] {
            near(spent_after(&s.devices[0], 0.0, amps, 6.0), rise, 1e-12);
        }
    }
}
