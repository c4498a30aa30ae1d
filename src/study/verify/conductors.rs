//! Resistance, ampacity and warmth of conductors.

use super::case::{Answer, Part, greatest, one_module, point, scenario};
use crate::math;
use crate::scenario::ampacity::{adiabatic_time, bundling, time_constant};
use crate::scenario::tables::{StrandClass, conductor};
use std::f64::consts::PI;

/// Section [mm²], greatest resistance at 20 °C by class 2 and 5 [Ω/km].
const IEC_60228: [(u32, f64, f64); 9] = [
    (10, 1.83, 1.91),
    (16, 1.15, 1.21),
    (25, 0.727, 0.780),
    (35, 0.524, 0.554),
    (50, 0.387, 0.386),
    (70, 0.268, 0.272),
    (95, 0.193, 0.206),
    (120, 0.153, 0.161),
    (150, 0.124, 0.129),
];

/// Size, its number, and amperes at 60, 75 and 90 °C.
const NFPA_70: [(&str, i32, [f64; 3]); 7] = [
    ("4 AWG", 4, [70.0, 85.0, 95.0]),
    ("2 AWG", 2, [95.0, 115.0, 130.0]),
    ("1 AWG", 1, [110.0, 130.0, 145.0]),
    ("1/0 AWG", 0, [125.0, 150.0, 170.0]),
    ("2/0 AWG", -1, [145.0, 175.0, 195.0]),
    ("3/0 AWG", -2, [165.0, 200.0, 225.0]),
    ("4/0 AWG", -3, [195.0, 230.0, 260.0]),
];

const INSULATION: [u32; 3] = [60, 75, 90];

pub fn part() -> Part {
    let mut part = Part::new("conductors");
    resistances(&mut part);
    ampacities(&mut part);
    warmth(&mut part);
    part
}

fn ohm_per_km(size: &str, class: StrandClass) -> Option<f64> {
    conductor(size, class).ok().map(|c| c.ohm_per_metre * 1e3)
}

fn resistances(part: &mut Part) {
    const SOURCE: &str = "IEC 60228, tables 2 and 3 (read in reproductions)";
    for (class, name) in [(StrandClass::Two, 2), (StrandClass::Five, 5)] {
        let apart = IEC_60228.map(|(section, two, five)| {
            let wanted = if class == StrandClass::Two { two } else { five };
            ohm_per_km(&format!("{section} mm2"), class).map(|got| (got - wanted).abs())
        });
        let what = format!("resistance at 20 °C, 10 to 150 mm², class {name}: greatest departure from the table");
        part.check(what, SOURCE, Answer(0.0, 1e-12, "Ω/km"), greatest(apart));
    }
    let apart = NFPA_70.map(|(size, number, _)| {
        let wanted = by_diameter(number) * (1.0 + 0.00393 * 55.0);
        let at_75 = ohm_per_km(size, StrandClass::Five)? * (1.0 + 0.00393 * 55.0);
        Some((at_75 / wanted - 1.0).abs() * 100.0)
    });
    part.check(
        "resistance at 75 °C, 4 to 4/0 AWG: greatest departure from diameter, resistivity and 2 % lay",
        "by hand: d = 0.127 mm·92^((36−n)/39) (ASTM B258), 1.7241e-8 Ω·m at 20 °C (IEC 60028), 0.00393/K (IEC 60287-1-1, \
         table 1), 1.02 for the lay (an assumption of ours)",
        Answer(0.0, 0.2, "%"),
        greatest(apart),
    );
}

/// [Ω/km] at 20 °C: d = 0.127 mm·92^((36−n)/39), 1.7241e-8 Ω·m, 2 % longer by the lay.
fn by_diameter(number: i32) -> f64 {
    let metres = 0.127e-3 * math::powf(92.0, f64::from(36 - number) / 39.0);
    1.02 * 1.7241e-8 / (0.25 * PI * metres * metres) * 1e3
}

/// What the first lead of a bank of one module may carry in air of this temperature [A].
fn rating(size: &str, insulation: u32, air: f64) -> Option<f64> {
    let lead = format!("size = \"{size}\"\nlength = \"1 m\"\ninsulation = \"{insulation} °C\"\nampacity = \"table\"");
    let scenario = scenario(&one_module("open_circuit = \"52.8 V\"", &lead))?;
    point(&scenario, 1.0, air, None)?.conductors.first()?.rating_a
}

fn ampacities(part: &mut Part) {
    for (k, insulation) in INSULATION.into_iter().enumerate() {
        let apart = NFPA_70.map(|(size, _, amps)| rating(size, insulation, 30.0).map(|got| (got - amps[k]).abs()));
        part.check(
            format!("ampacity, 4 to 4/0 AWG, {insulation} °C, in air of 30 °C: greatest departure from the table"),
            "NFPA 70, table 310.16 (read in reproductions)",
            Answer(0.0, 1e-9, "A"),
            greatest(apart),
        );
    }
    for (size, insulation, amps) in [("35 mm²", 70, 137.0), ("35 mm²", 90, 169.0), ("95 mm²", 90, 328.0)] {
        part.check(
            format!("ampacity, {size}, {insulation} °C, three loaded, in air of 30 °C"),
            "IEC 60364-5-52, method F (read in reproductions)",
            Answer(amps, 1e-9, "A"),
            rating(size, insulation, 30.0),
        );
    }
    for (insulation, factor) in INSULATION.into_iter().zip([0.82, 0.88, 0.91]) {
        let warmer = rating("1/0 AWG", insulation, 40.0).zip(rating("1/0 AWG", insulation, 30.0));
        part.check(
            format!("factor for air of 40 °C, {insulation} °C"),
            "NFPA 70, 310.15(B)(1), the printed table (read in reproductions)",
            Answer(factor, 0.005, ""),
            warmer.map(|(warm, base)| warm / base),
        );
    }
    for (conductors, factor) in [(5, 0.8), (8, 0.7), (12, 0.5)] {
        part.check(
            format!("factor for {conductors} conductors in one bundle"),
            "NFPA 70, 310.15(C)(1) (read in reproductions)",
            Answer(factor, 0.0, ""),
            bundling(conductors),
        );
    }
}

fn warmth(part: &mut Part) {
    let lead = "size = \"35 mm2\"\nlength = \"1 m\"\ninsulation = \"90 °C\"\nampacity = \"100 A\"";
    let bank = scenario(&one_module("open_circuit = \"52.8 V\"", lead));
    for (share, celsius, tolerance) in
        [(0.5, 42.82, 0.006), (0.8, 65.50, 0.006), (1.0, 90.0, 1e-6), (1.25, 137.46, 0.006), (1.5, 218.4, 0.06)]
    {
        let settles = |bank| point(bank, share * 100.0, 30.0, None)?.conductors.first()?.steady_temperature_c;
        part.check(
            format!("where {share} of the current that makes it 90 °C takes it, in air of 30 °C"),
            "by hand: T − 30 = 60·x²·R(T)/R(90), x the share, R(T) ∝ 1 + 0.00393·(T − 20) (IEC 60287-1-1, table 1)",
            Answer(celsius, tolerance, "°C"),
            bank.as_ref().and_then(settles),
        );
    }
    for (section, ohm_per_km, amps, minutes) in
        [(25.0, 0.727, 135.0, 5.1), (35.0, 0.524, 169.0, 6.3), (95.0, 0.193, 328.0, 12.4)]
    {
        part.check(
            format!("time constant of {section} mm², its copper alone"),
            "by hand: 3.45e6 J/(K·m³)·S·60 K/(I²·R′(90 °C)), heat capacity of IEC 60949, I of IEC 60364-5-52, method F, R′ of \
             IEC 60228, class 2 (all read in reproductions)",
            Answer(minutes, 0.05, "min"),
            time_constant(section, ohm_per_km / 1e3, amps, 90.0, 30.0) / 60.0,
        );
    }
    part.check(
        "time that 35 mm² of 90 °C stands 5 kA",
        "by hand: (k·S/I)², k = 143 A·√s/mm² for copper in XLPE (IEC 60364-5-54, read in reproductions)",
        Answer(1.002, 5e-4, "s"),
        adiabatic_time(35.0, 90.0, 5000.0),
    );
}
