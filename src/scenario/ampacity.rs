//! What a copper conductor may carry, and how warm it becomes.
//!
//! In: size, insulation, surroundings and current. Out: amperes allowed, temperatures of the
//! conductor, and the time for which its insulation withstands a short circuit.
//!
//! One node a conductor, with losses to the air in proportion to its rise: τ·dT/dt = H·R(T)/R(Tr) −
//! (T − air), where H is the steady rise that the current would give with the resistance at Tr, the
//! temperature of its insulation.

use super::cable::Ampacity;
use super::tables::{COPPER_ALPHA_20, copper_resistance};
use crate::math::{self, vector};
use crate::units::in_words;

/// Amperes by the insulation's temperature [°C].
type Columns = &'static [(f64, f64)];

/// How many conductors of a circuit carry its current.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum Loaded {
    /// A direct-current pair.
    Two,
    /// Three.
    Three,
}

/// NFPA 70, Table 310.16: copper, not more than three loaded conductors, air of 30 °C. It makes no
/// difference between two and three.
const NFPA_70_310_16: [(&str, Columns); 7] = [
    ("4 AWG", &[(60.0, 70.0), (75.0, 85.0), (90.0, 95.0)]),
    ("2 AWG", &[(60.0, 95.0), (75.0, 115.0), (90.0, 130.0)]),
    ("1 AWG", &[(60.0, 110.0), (75.0, 130.0), (90.0, 145.0)]),
    ("1/0 AWG", &[(60.0, 125.0), (75.0, 150.0), (90.0, 170.0)]),
    ("2/0 AWG", &[(60.0, 145.0), (75.0, 175.0), (90.0, 195.0)]),
    ("3/0 AWG", &[(60.0, 165.0), (75.0, 200.0), (90.0, 225.0)]),
    ("4/0 AWG", &[(60.0, 195.0), (75.0, 230.0), (90.0, 260.0)]),
];

/// IEC 60364-5-52, copper, air of 30 °C, method F, three loaded and touching: PVC 70 °C, XLPE 90 °C.
const IEC_60364_5_52_THREE: [(&str, Columns); 7] = [
    ("25 mm²", &[(70.0, 110.0), (90.0, 135.0)]),
    ("35 mm²", &[(70.0, 137.0), (90.0, 169.0)]),
    ("50 mm²", &[(70.0, 167.0), (90.0, 207.0)]),
    ("70 mm²", &[(70.0, 216.0), (90.0, 268.0)]),
    ("95 mm²", &[(70.0, 264.0), (90.0, 328.0)]),
    ("120 mm²", &[(70.0, 308.0), (90.0, 383.0)]),
    ("150 mm²", &[(70.0, 356.0), (90.0, 444.0)]),
];

/// IEC 60364-5-52, as above but two loaded, XLPE 90 °C alone. From memory, not seen.
const IEC_60364_5_52_TWO: [(&str, Columns); 5] = [
    ("25 mm²", &[(90.0, 161.0)]),
    ("35 mm²", &[(90.0, 200.0)]),
    ("50 mm²", &[(90.0, 242.0)]),
    ("70 mm²", &[(90.0, 310.0)]),
    ("95 mm²", &[(90.0, 377.0)]),
];

/// Volumetric heat capacity of copper [J/(K·m³)] (IEC 60949).
const COPPER_HEAT_CAPACITY: f64 = 3.45e6;

/// A conductor is destroyed long before this [°C] (copper melts at 1085 °C), and its temperature is
/// followed no further.
pub const HOTTEST: f64 = 1000.0;

/// Current [A] that a table gives to a size, written as `tables::Conductor::size` writes it, with
/// insulation of this temperature [°C], in air of 30 °C. `None`: no table has it.
pub fn by_table(size: &str, insulation: f64, loaded: Loaded) -> Option<f64> {
    let metric: &[(&str, Columns)] = match loaded {
        Loaded::Two => &IEC_60364_5_52_TWO,
        Loaded::Three => &IEC_60364_5_52_THREE,
    };
    let (_, columns) = NFPA_70_310_16.iter().chain(metric).find(|(name, _)| *name == size)?;
    columns.iter().find(|(celsius, _)| *celsius == insulation).map(|(_, amps)| *amps)
}

/// The sizes that `by_table` knows, and their insulations: for messages.
pub fn sizes_in_tables() -> String {
    let names = |rows: &[(&'static str, Columns)], unit: &str| {
        let numbers: Vec<&str> = rows.iter().filter_map(|(size, _)| size.strip_suffix(unit)).collect();
        in_words(&numbers)
    };
    let (sections, sizes) = (names(&IEC_60364_5_52_THREE, " mm²"), names(&NFPA_70_310_16, " AWG"));
    format!("{sections} mm² at 70 or 90 °C; {sizes} AWG at 60, 75 or 90 °C")
}

/// Current [A] at which a conductor that comes to `insulation` at `current` [A] in air of `base` comes
/// to `terminal` [°C]: the table's column for that temperature where there is one, else by the square
/// root of the rises. Never more than `current`; 0 where `terminal` is not above `base`.
///
/// The column is the printed one, for air of 30 °C (NFPA 70, 110.14(C)).
pub fn at_terminal(size: Option<&str>, current: f64, insulation: f64, base: f64, terminal: f64, loaded: Loaded) -> f64 {
    let column = size.and_then(|s| by_table(s, terminal, loaded));
    column.unwrap_or_else(|| current * ambient_factor(terminal, base, insulation - base)).min(current)
}

/// √((rating − air)/rise), 0 where the air leaves no rise (NFPA 70, 310.15(B)(1)).
fn ambient_factor(rating: f64, air: f64, rise: f64) -> f64 {
    if rating > air && rise > 0.0 { ((rating - air) / rise).sqrt() } else { 0.0 }
}

/// The least of `bundling` that was seen in print.
pub const LEAST_BUNDLING_SEEN: f64 = 0.5;

/// Factor on the current of each of `conductors` loaded conductors bundled together (NFPA 70,
/// 310.15(C)(1); beyond 20 from memory, not seen).
pub fn bundling(conductors: u64) -> f64 {
    match conductors {
        0..=3 => 1.0,
        4..=6 => 0.8,
        7..=9 => 0.7,
        10..=20 => 0.5,
        21..=30 => 0.45,
        31..=40 => 0.40,
        _ => 0.35,
    }
}

/// First-order time constant [s] with which a copper conductor warms: C′·(Tr − Tb)/(I²·R′(Tr)), with
/// the heat capacity of its copper alone (IEC 60949). Insulation makes it slower.
///
/// `current` [A] is that at which it comes to `insulation` [°C] in air of `base` [°C].
pub fn time_constant(section_mm2: f64, ohm_per_metre_at_20: f64, current: f64, insulation: f64, base: f64) -> f64 {
    let heat_capacity = COPPER_HEAT_CAPACITY * section_mm2 * 1e-6;
    let watt_per_metre = current * current * copper_resistance(ohm_per_metre_at_20, insulation);
    heat_capacity * (insulation - base) / watt_per_metre
}

/// Time [s] for which insulation withstands a short circuit of `amps` that begins at the conductor's
/// full temperature: k²S²/I², no heat leaving the copper. Infinite without current.
///
/// k = 226·√(ln(1 + (θf − θi)/(234.5 + θi))) (IEC 60949) in whole numbers, as the tables of IEC
/// 60364-5-54 print it; θf is 250 °C for insulation of 90 °C and more (XLPE), else 160 °C (PVC).
pub fn adiabatic_time(section_mm2: f64, insulation: f64, amps: f64) -> f64 {
    let carried = short_circuit_factor(insulation) * section_mm2 / amps;
    carried * carried
}

/// k [A·√s/mm²].
fn short_circuit_factor(insulation: f64) -> f64 {
    let last = if insulation >= 90.0 { 250.0 } else { 160.0 };
    let rise = (last - insulation).max(0.0) / (234.5 + insulation);
    (226.0 * math::ln_1p(rise).sqrt()).round()
}

/// How a conductor warms: τ·dT/dt = H·R(T)/R(Tr) − (T − air) with H the steady rise that the current would give with
/// the resistance at the insulation's temperature Tr.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Warming {
    /// H by mean square of the current [K/A²].
    per_square: f64,
    /// Share by which the resistance at Tr rises in one kelvin.
    per_kelvin: f64,
    /// Resistance at 0 °C as a share of that at Tr.
    resistance_at_0: f64,
    /// [1/s]
    constants_per_second: f64,
}

/// Where a conductor comes to with the current at the start of a step.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Foreseen {
    /// [°C]
    pub celsius: f64,
    /// What a greater mean square of the current adds to that [K/A²].
    pub per_square: f64,
}

impl Warming {
    /// Temperature after `seconds` with this constant mean square of the current [A²] in constant air [°C]
    /// (`Ampacity::temperature_after`), and what a little more or less of it changes.
    #[inline(always)]
    pub fn foresee(&self, from: f64, seconds: f64, mean_square: f64, air: f64) -> Foreseen {
        /// Below this g·s its series is nearer than the difference of two numbers near 1.
        const SMALL: f64 = 1e-4;
        let heating = self.per_square * mean_square;
        let damping = 1.0 - self.per_kelvin * heating;
        let constants = seconds * self.constants_per_second;
        let damped = damping * constants;
        let left = vector::exp(-damped);
        // (1 − e^(−g·s))/g, which is s where the air takes just what each kelvin adds.
        let series = constants * (1.0 - damped * (0.5 - damped * (1.0 / 6.0)));
        let risen = if damped.abs() < SMALL { series } else { (1.0 - left) / damping };
        let by_heating = (self.resistance_at_0 + self.per_kelvin * air) * risen;
        let after = air + (from - air) * left + heating * by_heating;
        // Past what a number can hold it has run away; a step without a length leaves it where it is.
        let after = if seconds > 0.0 { after } else { from };
        let holds = after < HOTTEST;
        Foreseen {
            celsius: if holds { after } else { HOTTEST },
            per_square: if holds { self.per_square * by_heating } else { 0.0 },
        }
    }
}

impl Foreseen {
    /// Temperature at the end of a step whose current goes from `start` to `end` [A] along a straight line, where
    /// `heating` times the square of that of the start was foreseen. The mean square of the line is more than that of
    /// the start by (b − a)·(b + 2a)/3. What the change adds to the resistance itself is left for the next step, so
    /// that it never falls below both air and where it was.
    #[inline(always)]
    pub fn after(&self, start: f64, end: f64, heating: f64) -> f64 {
        let more = (end - start) * (end + 2.0 * start) * (heating / 3.0);
        let after = self.celsius + self.per_square * more;
        if after < HOTTEST { after } else { HOTTEST }
    }
}

impl Ampacity {
    /// Current that insulation and terminals allow for good in air of this temperature [A].
    ///
    /// The insulation's current follows the air, as √((Tr − air)/(Tr − base)); colder air than `base`
    /// raises it only where `above_base` says so. The terminals' is a cap whatever the air (NFPA 70,
    /// 110.14(C)), until the air alone is at their temperature rating: 0 from there on.
    pub fn limit(&self, air: f64) -> f64 {
        if air >= self.temperature_rating() {
            return 0.0;
        }
        let factor = ambient_factor(self.insulation, air, self.insulation - self.base);
        let factor = if self.above_base { factor } else { factor.min(1.0) };
        let cap = self.terminal.map_or(f64::INFINITY, |t| t.current);
        (self.installed() * factor).min(cap)
    }

    /// Greatest continuous temperature of the conductor [°C]: the lower of those of insulation and terminals.
    pub fn temperature_rating(&self) -> f64 {
        self.terminal.map_or(self.insulation, |t| t.temperature.min(self.insulation))
    }

    /// Temperature [°C] at which the conductor settles at `amps` in air of `air` [°C], its resistance
    /// rising with it. `None`: it does not settle, each kelvin adding more heat than the air takes.
    pub fn steady_temperature(&self, air: f64, amps: f64) -> Option<f64> {
        let heating = self.heating(amps * amps);
        let damping = 1.0 - self.per_kelvin() * heating;
        (damping > 0.0).then(|| air + heating * self.resistance_at_air(air) / damping)
    }

    /// Temperature [°C] after `seconds` from `from` [°C], with this constant mean square of the
    /// current [A²] in constant air [°C]; exact, and never above `HOTTEST`.
    pub fn temperature_after(&self, from: f64, seconds: f64, mean_square: f64, air: f64) -> f64 {
        self.warming().foresee(from, seconds, mean_square, air).celsius
    }

    /// How the conductor warms, with all that does not change calculated once.
    pub fn warming(&self) -> Warming {
        let at_insulation = copper_resistance(1.0, self.insulation);
        Warming {
            per_square: self.heating(1.0),
            per_kelvin: self.per_kelvin(),
            resistance_at_0: copper_resistance(1.0, 0.0) / at_insulation,
            constants_per_second: 1.0 / self.time_constant,
        }
    }

    /// Current [A] at which the conductor comes to `insulation` in air of `base` as it is installed: a
    /// bundle comes to it at less than each conductor alone.
    fn installed(&self) -> f64 {
        self.current * self.bundling
    }

    /// Steady rise [K] that this mean square [A²] would give with the resistance at `insulation`.
    fn heating(&self, mean_square: f64) -> f64 {
        let full = self.installed() * self.installed();
        if mean_square > 0.0 { (self.insulation - self.base) * mean_square / full } else { 0.0 }
    }

    /// Share by which the resistance at `insulation` rises in one kelvin more.
    fn per_kelvin(&self) -> f64 {
        COPPER_ALPHA_20 / copper_resistance(1.0, self.insulation)
    }

    /// Resistance at the temperature of the air, as a share of that at `insulation`.
    fn resistance_at_air(&self, air: f64) -> f64 {
        copper_resistance(1.0, air) / copper_resistance(1.0, self.insulation)
    }
}

#[cfg(test)]
mod tests {
    use super::super::cable::Terminal;
    use super::super::tables::{self, StrandClass};
    use super::*;

    fn alone(current: f64, insulation: f64) -> Ampacity {
        Ampacity {
            current,
            insulation,
            base: 30.0,
            terminal: None,
            bundling: 1.0,
            above_base: false,
            time_constant: 600.0,
        }
    }

    #[test]
    fn tables_are_found_by_the_sizes_of_the_conductor_tables() {
        // NFPA 70 Table 310.16 and IEC 60364-5-52, as in the tables above.
        for (size, celsius, loaded, amps) in [
            ("1/0 AWG", 60.0, Loaded::Two, 125.0),
            ("4/0AWG", 75.0, Loaded::Three, 230.0),
            ("35 mm2", 70.0, Loaded::Three, 137.0),
            ("150 mm2", 90.0, Loaded::Three, 444.0),
            ("70 mm^2", 90.0, Loaded::Two, 310.0),
        ] {
            let found = tables::conductor(size, StrandClass::Two).unwrap();
            assert_eq!(by_table(&found.size, celsius, loaded), Some(amps), "{size}");
        }
        assert_eq!(by_table("35 mm²", 70.0, Loaded::Two), None);
        assert_eq!(by_table("35 mm²", 75.0, Loaded::Three), None);
        assert_eq!(by_table("16 mm²", 90.0, Loaded::Three), None);
        let said = sizes_in_tables();
        assert!(said.starts_with("25, 35, 50, 70, 95, 120 or 150 mm²") && said.contains("3/0 or 4/0 AWG"), "{said}");
    }

    #[test]
    fn tables_rise_with_size_and_insulation() {
        for rows in [&NFPA_70_310_16[..], &IEC_60364_5_52_THREE, &IEC_60364_5_52_TWO] {
            let rising = |columns: Columns| columns.windows(2).all(|w| w[0].0 < w[1].0 && w[0].1 < w[1].1);
            assert!(rows.iter().all(|(_, columns)| rising(columns)));
            assert!(rows.windows(2).all(|w| w[0].1.iter().zip(w[1].1).all(|(a, b)| a.0 == b.0 && a.1 < b.1)));
        }
    }

    #[test]
    fn printed_columns_of_a_table_keep_to_the_square_root_of_their_rises() {
        // The columns of Table 310.16 differ by the rise they allow, and by rounding to 5 A, hence the
        // band; what formula and column say of a terminal must agree to that.
        for (size, columns) in NFPA_70_310_16 {
            let ninety = columns[2].1;
            for &(terminal, printed) in &columns[..2] {
                let formula = at_terminal(None, ninety, 90.0, 30.0, terminal, Loaded::Three);
                assert!((formula / printed - 1.0).abs() < 0.07, "{size} {terminal}: {formula}");
                assert_eq!(at_terminal(Some(size), ninety, 90.0, 30.0, terminal, Loaded::Three), printed);
            }
        }
    }

    #[test]
    fn terminals_never_raise_a_conductor() {
        assert_eq!(at_terminal(Some("35 mm²"), 100.0, 70.0, 30.0, 90.0, Loaded::Three), 100.0);
        assert_eq!(at_terminal(None, 100.0, 70.0, 30.0, 90.0, Loaded::Three), 100.0);
        assert_eq!(at_terminal(None, 100.0, 70.0, 30.0, 30.0, Loaded::Three), 0.0);
        assert!((at_terminal(None, 100.0, 90.0, 30.0, 45.0, Loaded::Two) - 50.0).abs() < 1e-12);
    }

    #[test]
    fn ambient_corrections_of_the_code() {
        // NFPA 70, 310.15(B)(1): 40 °C, and the band 16–20 °C at its upper end.
        for (insulation, at_40, at_20) in [(60.0, 0.816, 1.15), (75.0, 0.882, 1.11), (90.0, 0.913, 1.08)] {
            let insulated = alone(100.0, insulation);
            assert!((insulated.limit(40.0) / 100.0 - at_40).abs() < 5e-4, "{insulation}");
            assert_eq!(insulated.limit(20.0), 100.0);
            let raised = Ampacity { above_base: true, ..insulated };
            assert!((raised.limit(20.0) / 100.0 - at_20).abs() < 5e-3, "{insulation}");
            assert_eq!(raised.limit(40.0), insulated.limit(40.0));
            assert_eq!([insulated.limit(insulation), insulated.limit(200.0)], [0.0; 2]);
        }
    }

    #[test]
    fn bundle_and_terminals_take_the_lesser() {
        // NFPA 70, 310.15(C)(1).
        let factors = [1, 3, 4, 6, 7, 9, 10, 20].map(bundling);
        assert_eq!(factors, [1.0, 1.0, 0.8, 0.8, 0.7, 0.7, 0.5, 0.5]);
        assert!([20, 21, 31, 41, u64::MAX].map(bundling).windows(2).all(|w| w[0] >= w[1] && w[1] > 0.0));
        let terminal = Some(Terminal { temperature: 75.0, current: 150.0 });
        let lead = Ampacity { terminal, ..alone(170.0, 90.0) };
        assert_eq!((lead.limit(30.0), lead.temperature_rating()), (150.0, 75.0));
        // 170 A × 0.8 is under what the terminals allow; so is 170 A in air of 60 °C.
        assert!((Ampacity { bundling: 0.8, ..lead }.limit(30.0) - 136.0).abs() < 1e-12);
        assert!((lead.limit(60.0) - 170.0 * 0.5f64.sqrt()).abs() < 1e-12);
        assert_eq!(lead.limit(75.0), 0.0);
        assert_eq!(alone(170.0, 90.0).temperature_rating(), 90.0);
    }

    #[test]
    fn steady_temperatures_with_the_resistance_rising() {
        // 90 °C insulation, 30 °C air, copper of IEC 60287-1-1: solved independently.
        let lead = alone(200.0, 90.0);
        for (share, celsius) in
            [(0.0, 30.0), (0.5, 42.82), (0.8, 65.50), (1.0, 90.0), (1.1, 106.2), (1.25, 137.46), (1.5, 218.4)]
        {
            let found = lead.steady_temperature(30.0, share * 200.0).unwrap();
            assert!((found - celsius).abs() < if celsius < 100.0 { 0.006 } else { 0.06 }, "{share}: {found}");
        }
        // The greatest share with a steady state is 2.3254.
        assert!(lead.steady_temperature(30.0, 2.3253 * 200.0).is_some());
        assert_eq!(lead.steady_temperature(30.0, 2.3255 * 200.0), None);
        assert_eq!(lead.steady_temperature(30.0, f64::INFINITY), None);
        let bundled = Ampacity { bundling: 0.5, ..lead };
        assert!((bundled.steady_temperature(30.0, 100.0).unwrap() - 90.0).abs() < 1e-9);
    }

    #[test]
    fn time_constants_of_copper_in_free_air() {
        // IEC 60364-5-52 XLPE, class 2 of IEC 60228, IEC 60949: minutes, to the digit given.
        for (size, minutes) in [("25 mm²", 5.1), ("35 mm²", 6.3), ("50 mm²", 8.2), ("70 mm²", 9.8), ("95 mm²", 12.4)]
        {
            let copper = tables::conductor(size, StrandClass::Two).unwrap();
            let amps = by_table(size, 90.0, Loaded::Three).unwrap();
            let found = time_constant(copper.section, copper.ohm_per_metre, amps, 90.0, 30.0) / 60.0;
            assert!((found - minutes).abs() < 0.05, "{size}: {found}");
        }
    }

    /// A current that changes along a straight line in a step, against small steps of Heun's method. Left out are that
    /// late heat is less gone than early heat, ΔH·x²/12 for x = t/τ, and what the change adds to the resistance, at
    /// most ΔH·x/2 times its rise above that of the air; H is the steady rise.
    #[test]
    fn a_changing_current_warms_by_its_mean_square() {
        let (lead, seconds, air) = (alone(200.0, 90.0), 300.0, 30.0);
        for (from, start, end) in
            [(35.0, 100.0, 100.0), (35.0, 100.0, 105.0), (50.0, 150.0, 140.0), (35.0, 60.0, 0.0), (35.0, 60.0, -60.0)]
        {
            let steady = |amps: f64| 60.0 * (amps / 200.0_f64).powi(2);
            let rate = |at: f64, t: f64| {
                let amps = start + (end - start) * at / seconds;
                (steady(amps) * copper_resistance(1.0, t) / copper_resistance(1.0, 90.0) - (t - air)) / 600.0
            };
            let (mut t, step) = (from, 0.01);
            for k in 0..30_000 {
                let (at, slope) = (f64::from(k) * step, rate(f64::from(k) * step, t));
                t += step * 0.5 * (slope + rate(at + step, t + step * slope));
            }
            let found = lead.warming().foresee(from, seconds, start * start, air).after(start, end, 1.0);
            let x = seconds / 600.0;
            let resistance = lead.per_kelvin() * (from.max(t) - air);
            // The heat of a current that turns round swings by all of what it was.
            let swing = (steady(start) - steady(end)).abs().max(if end < 0.0 { steady(start) } else { 0.0 });
            let left_out = swing * (x * x / 12.0 + resistance * x / 2.0);
            assert!((found - t).abs() <= left_out + 1e-5, "{start} A to {end} A: {found} {t} {left_out}");
        }
    }

    /// However much the current falls, and however hot the conductor.
    #[test]
    fn a_conductor_never_cools_below_its_air() {
        let lead = alone(200.0, 90.0);
        for share in [0.5, 2.0, 2.3254, 2.6, 10.0, 1e6] {
            for seconds in [1e-3, 10.0, 900.0, 86_400.0] {
                let start = share * 200.0;
                let foreseen = lead.warming().foresee(20.0, seconds, start * start, 30.0);
                let after = foreseen.after(start, 0.0, 1.0);
                assert!((20.0..=HOTTEST).contains(&after), "{share}, {seconds} s: {after}");
            }
        }
    }

    #[test]
    fn warming_in_two_halves_is_warming_in_one() {
        let lead = alone(200.0, 90.0);
        for share in [0.0, 0.1, 1.0, 2.0, 2.3254, 3.0] {
            let square = (share * 200.0f64).powi(2);
            let half = lead.temperature_after(20.0, 45.0, square, 35.0);
            let (halves, whole) =
                (lead.temperature_after(half, 45.0, square, 35.0), lead.temperature_after(20.0, 90.0, square, 35.0));
            assert!(whole < HOTTEST && (halves - whole).abs() < 1e-9, "{share}: {halves} {whole}");
        }
    }

    #[test]
    fn warming_follows_its_equation() {
        // Against small steps of Heun's method, below, at and beyond the current without a steady state.
        let lead = alone(200.0, 90.0);
        for share in [0.3, 1.0, 2.0, 5.4076f64.sqrt(), 3.0] {
            let rate = |t: f64| {
                let rise = 60.0 * share * share * copper_resistance(1.0, t) / copper_resistance(1.0, 90.0);
                (rise - (t - 30.0)) / 600.0
            };
            let (mut t, step) = (25.0, 0.01);
            for _ in 0..9000 {
                let slope = rate(t);
                t += step * 0.5 * (slope + rate(t + step * slope));
            }
            let found = lead.temperature_after(25.0, 90.0, (share * 200.0f64).powi(2), 30.0);
            assert!((found - t).abs() < 1e-5, "{share}: {found} {t}");
        }
    }

    #[test]
    fn small_currents_settle_and_great_ones_run_away() {
        let lead = alone(200.0, 90.0);
        let steady = lead.steady_temperature(10.0, 100.0).unwrap();
        assert!((lead.temperature_after(80.0, 1e5, 1e4, 10.0) - steady).abs() < 1e-9);
        assert!((lead.temperature_after(80.0, f64::MAX, 0.0, 10.0) - 10.0).abs() < 1e-9);
        assert_eq!(lead.temperature_after(80.0, 0.0, f64::INFINITY, 10.0), 80.0);
        for square in [1e6, 1e12, f64::MAX, f64::INFINITY] {
            assert_eq!(lead.temperature_after(-20.0, 1e5, square, -20.0), HOTTEST, "{square}");
        }
        // At just the current where damping vanishes the rise is a straight line.
        let square = 4e4 / (60.0 * lead.per_kelvin());
        let rise = |s: f64| lead.temperature_after(30.0, s, square, 30.0) - 30.0;
        assert!((rise(200.0) / rise(100.0) - 2.0).abs() < 1e-12);
    }

    #[test]
    fn short_circuit_factors_of_the_standard() {
        // IEC 60364-5-54: copper, XLPE 90 → 250 °C 143, PVC 70 → 160 °C 115; 35 mm² at 5.0 kA: 1.002 s.
        assert_eq!((short_circuit_factor(90.0), short_circuit_factor(70.0)), (143.0, 115.0));
        assert!((adiabatic_time(35.0, 90.0, 5000.0) - 1.002).abs() < 5e-4);
        assert_eq!(adiabatic_time(35.0, 90.0, 0.0), f64::INFINITY);
        assert_eq!(adiabatic_time(35.0, 300.0, 100.0), 0.0);
    }
}
