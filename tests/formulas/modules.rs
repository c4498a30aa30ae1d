//! Modules: resistance, voltage, charge, guards.

use super::*;

/// R = s·(fixed + cell·f(z)·exp(Ea/Rg·(1/T − 1/298.15 K))), s by position, Rg = 8.314462618 J/(mol·K) (CODATA 2018). Two of
/// one voltage share a current as their conductances (Ohm's law): one as its type says, 6 mΩ of 10 mΩ fixed, one of 25 mΩ by
/// position, at −10 °C, 20 kJ/mol and a factor by charge of 1.3.
#[test]
fn resistance_by_position_cold_and_charge() {
    let m = module(
        "m",
        "capacity = \"1000 Ah\"\nresistance = \"10 mΩ\"\nfixed_resistance = \"6 mΩ\"\nopen_circuit = \"52 V\"\n\
         activation_energy = \"20 kJ/mol\"\ncharge_factor = [[\"0 %\", 1.6], [\"100 %\", 1.0]]",
    );
    let n = module("n", "capacity = \"1000 Ah\"\nresistance = \"12 mΩ\"\nopen_circuit = \"52 V\"");
    let more = "[climate]\nair = \"-10 °C\"\n[load]\ncurrent = \"100 A\"\n\
                [trials]\ncount = 1\nhorizon = \"1 s\"\nsoc = \"50 %\"\n";
    let by_position = single("B", "m", "resistance = [\"25 mΩ\"]");
    let cold = f64::exp(20e3 / 8.314462618 * (1.0 / 263.15 - 1.0 / 298.15));
    let of = |scale: f64| scale * (6e-3 + 4e-3 * 1.3 * cold);
    let shares = [1.0 / of(1.0), 1.0 / of(2.5), 1.0 / 12e-3];
    let sum: f64 = shares.iter().sum();
    each_way_as_written(&[&m, &n, SHORT, &single("A", "m", ""), &by_position, &single("C", "n", ""), more], |r| {
        for (k, share) in shares.iter().enumerate() {
            near(r.elements[k].greatest, 100.0 * share / sum, 1e-3);
        }
    });
}

/// What stays out while the other is charged comes to lie below the rails: 20 A for an hour are 20 % of 100 Ah, 0.32 V on a
/// curve of 1.6 V, and 20 A through 15 mΩ 0.3 V more. It rejoins where 0.62 V are within its difference, and with
/// −(I/2 + ΔE/(2R)).
#[test]
fn a_module_below_the_rails_waits_too() {
    let run = |difference: &str| {
        let m = module(
            "m",
            &format!(
                "capacity = \"100 Ah\"\nresistance = \"15 mΩ\"\nopen_circuit = [[\"0 %\", \"3.2 V\"], [\"100 %\", \"3.3 V\"]]\n\
                 rejoin_difference = \"{difference}\""
            ),
        );
        let more = "[load]\ncurrent = \"-20 A\"\n[trials]\ncount = 1\nhorizon = \"2 h\"\nsoc = \"10 %\"\n";
        let c = campaign(&[&m, SHORT, &single("A", "m", ""), &single("B", "m", ""), more]);
        let mut luck = c.luck(0);
        at(&mut luck, Mishap::Module(1), &[10.0, 3610.0]);
        (c, luck)
    };
    let (c, luck) = run("0.5 V");
    each_way(&c, &luck, |r| assert_eq!(r.rejoined, None));
    let (c, luck) = run("0.7 V");
    each_way(&c, &luck, |r| {
        let rejoined = r.rejoined.expect("it came back");
        near(rejoined.at.seconds(), 3610.0, 1e-6);
        near(rejoined.current, -(10.0 + 0.32 / 0.030), 0.02);
    });
}
