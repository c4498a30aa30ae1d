//! A module at rest and in the cold.

use super::case::{Answer, Part, SHORT, one_module, point, scenario};

pub fn part() -> Part {
    let mut part = Part::new("modules");
    let built_in = scenario(&one_module("open_circuit = \"lfp\"", SHORT));
    let rests = |charge| point(built_in.as_ref()?, 0.0, 25.0, Some(charge))?.bus.voltage_v.map(|volts| volts / 16.0);
    for (charge, volts) in [(0.2972, 3.2772), (0.9833, 3.3511), (1.0, 3.5981)] {
        part.check(
            format!("open-circuit voltage of a cell at {:.2} % charge", charge * 100.0),
            "Sunil, Pattipati, Balasingam, IEEE Transactions on Instrumentation and Measurement, 2025: open-circuit voltage \
             of an LFP cell at C/32 and 25 °C, table of 10 knots",
            Answer(volts, 1e-9, "V"),
            rests(charge),
        );
    }
    for (charge, volts) in [(0.1, 3.1882), (0.5, 3.2781), (0.9, 3.3218)] {
        part.check(
            format!("open-circuit voltage of a cell at {:.0} % charge, beside that of another cell", charge * 100.0),
            "by hand from the electrode curves of the 2 Ah LFP example of the open standard Battery Parameter eXchange \
             (BPX 0.1.0, 2022; FaradayInstitution/BPX, examples/lfp_18650_cell_BPX.json); 35 mV is an assumption of ours: \
             how far LFP cells differ",
            Answer(volts, 0.035, "V"),
            rests(charge),
        );
    }
    for (kilojoule, celsius, factor) in
        [(20, -20.0, 4.1961), (20, 0.0, 2.0926), (20, 45.0, 0.6022), (30, -20.0, 8.5954), (30, 45.0, 0.4673)]
    {
        part.check(
            format!("resistance at {celsius} °C by that at 25 °C, {kilojoule} kJ/mol"),
            "by hand, Arrhenius' law: exp(Ea/R·(1/T − 1/298.15 K)), R = 8.314463 J/(mol·K)",
            Answer(factor, 6e-5, ""),
            resistance(kilojoule, celsius).map(|ohm| ohm / 0.015),
        );
    }
    part
}

/// As a meter would find it: by the drop with 10 A [Ω].
fn resistance(kilojoule: u32, celsius: f64) -> Option<f64> {
    let keys = format!("open_circuit = \"52 V\"\nactivation_energy = \"{kilojoule} kJ/mol\"");
    let bank = scenario(&one_module(&keys, SHORT))?;
    Some((52.0 - point(&bank, 10.0, celsius, None)?.modules.first()?.voltage_v?) / 10.0)
}
