//! Published tables that a scenario may lean on: copper conductors, and the built-in cell curve.
//!
//! In: a size as written. Out: resistance by length at 20 °C [Ω/m], or why there is none.
//! R(T) = R20·(1 + α20·(T − 20 °C)), α20 = 0.00393 /K (IEC 60287-1-1, Table 1).

use crate::math;
use crate::units::in_words;

/// Temperature coefficient of the resistance of copper at 20 °C [1/K] (IEC 60287-1-1, Table 1).
pub const COPPER_ALPHA_20: f64 = 0.00393;

/// Resistance of copper at `celsius` [°C], from its resistance at 20 °C [Ω].
#[inline(always)]
pub fn copper_resistance(at_20: f64, celsius: f64) -> f64 {
    at_20 * (1.0 + COPPER_ALPHA_20 * (celsius - 20.0))
}

/// A row of IEC 60228: nominal section [mm²], greatest resistance at 20 °C [Ω/km] of plain
/// copper, class 2 (stranded; Table 2) and class 5 (flexible; Table 3).
pub struct MetricRow {
    /// Nominal section [mm²].
    pub section: f64,
    /// Stranded [Ω/km at 20 °C].
    pub class_2: f64,
    /// Flexible [Ω/km at 20 °C].
    pub class_5: f64,
}

const fn metric(section: f64, class_2: f64, class_5: f64) -> MetricRow {
    MetricRow { section, class_2, class_5 }
}

/// Sections of `IEC_60228` whose rows are from memory, not seen [mm²].
const FROM_MEMORY: [f64; 5] = [4.0, 6.0, 185.0, 240.0, 300.0];

/// IEC 60228, Tables 2 and 3; those of `FROM_MEMORY` not seen.
/// Class 5 below class 2 at 50 mm² is genuine.
pub const IEC_60228: [MetricRow; 14] = [
    metric(4.0, 4.61, 4.95),
    metric(6.0, 3.08, 3.30),
    metric(10.0, 1.83, 1.91),
    metric(16.0, 1.15, 1.21),
    metric(25.0, 0.727, 0.780),
    metric(35.0, 0.524, 0.554),
    metric(50.0, 0.387, 0.386),
    metric(70.0, 0.268, 0.272),
    metric(95.0, 0.193, 0.206),
    metric(120.0, 0.153, 0.161),
    metric(150.0, 0.124, 0.129),
    metric(185.0, 0.0991, 0.106),
    metric(240.0, 0.0754, 0.0801),
    metric(300.0, 0.0601, 0.0641),
];

/// A row of NFPA 70, chapter 9, Table 8: stranded uncoated copper [Ω/kft at 75 °C].
pub struct AwgRow {
    /// Size as the table names it: `1/0`.
    pub size: &'static str,
    /// The n of ASTM B258: 0 for 1/0, −3 for 4/0.
    pub number: i32,
    /// Resistance at 75 °C [Ω/kft].
    pub ohm_per_kft_at_75: f64,
}

const fn awg(size: &'static str, number: i32, ohm_per_kft_at_75: f64) -> AwgRow {
    AwgRow { size, number, ohm_per_kft_at_75 }
}

/// NFPA 70, chapter 9, Table 8.
pub const NFPA_70_TABLE_8: [AwgRow; 7] = [
    awg("4", 4, 0.308),
    awg("2", 2, 0.194),
    awg("1", 1, 0.154),
    awg("1/0", 0, 0.122),
    awg("2/0", -1, 0.0967),
    awg("3/0", -2, 0.0766),
    awg("4/0", -3, 0.0608),
];

impl AwgRow {
    /// [Ω/m]; the table's value at 75 °C brought to 20 °C.
    pub fn ohm_per_metre_at_20(&self) -> f64 {
        self.ohm_per_kft_at_75 / 304.8 / (1.0 + COPPER_ALPHA_20 * 55.0)
    }

    /// Section [mm²] by ASTM B258: a wire of 0.127 mm·92^((36−n)/39).
    pub fn section(&self) -> f64 {
        let diameter = 0.127 * math::powf(92.0, f64::from(36 - self.number) / 39.0);
        std::f64::consts::PI / 4.0 * diameter * diameter
    }
}

/// How finely a metric conductor is stranded (IEC 60228).
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum StrandClass {
    /// Stranded.
    Two,
    /// Flexible.
    Five,
}

/// A conductor found in a table.
#[derive(Clone, Debug, PartialEq)]
pub struct Conductor {
    /// `35 mm²`, `1/0 AWG`.
    pub size: String,
    /// Resistance at 20 °C [Ω/m].
    pub ohm_per_metre: f64,
    /// Cross-section [mm²].
    pub section: f64,
    /// Whether a strand class applies to it.
    pub metric: bool,
    /// Whether its resistance was recalled from memory, not seen in print.
    pub from_memory: bool,
}

/// Why a size is in no table.
#[derive(Clone, Debug, PartialEq, Eq, thiserror::Error)]
pub enum SizeError {
    /// The size has neither of the units of the tables, mm² and AWG.
    #[error("it is neither in mm² nor in AWG")]
    NoUnit,
    /// The size does not begin with a number.
    #[error("its number cannot be read")]
    NoNumber,
    /// No row of IEC 60228 has this section.
    #[error("there is no such section in the table of IEC 60228")]
    NoSuchSection,
    /// No row of NFPA 70 has this size.
    #[error("there is no such size in Table 8 of NFPA 70, chapter 9")]
    NoSuchAwg,
}

impl SizeError {
    /// The sizes that there are.
    pub fn help(&self) -> String {
        let sections: Vec<String> = IEC_60228.iter().map(|r| r.section.to_string()).collect();
        let sections: Vec<&str> = sections.iter().map(String::as_str).collect();
        let sizes: Vec<&str> = NFPA_70_TABLE_8.iter().map(|r| r.size).collect();
        match self {
            SizeError::NoSuchSection => format!("sections: {} mm²", in_words(&sections)),
            SizeError::NoSuchAwg => format!("sizes: {} AWG", in_words(&sizes)),
            _ => format!("sizes: {} mm², or {} AWG", in_words(&sections), in_words(&sizes)),
        }
    }
}

/// The conductor of a size such as `35 mm2` or `1/0 AWG`.
///
/// # Errors
/// A text that is no size, or a size that is not in the tables.
pub fn conductor(size: &str, class: StrandClass) -> Result<Conductor, SizeError> {
    let size = size.trim();
    if let Some(number) = size.strip_suffix("AWG") {
        return awg_conductor(number.trim());
    }
    let number = ["mm2", "mm²", "mm^2"].iter().find_map(|unit| size.strip_suffix(unit));
    metric_conductor(number.ok_or(SizeError::NoUnit)?.trim(), class)
}

fn metric_conductor(number: &str, class: StrandClass) -> Result<Conductor, SizeError> {
    let section: f64 = number.parse().map_err(|_| SizeError::NoNumber)?;
    let row = IEC_60228.iter().find(|r| r.section == section).ok_or(SizeError::NoSuchSection)?;
    let ohm_per_km = match class {
        StrandClass::Two => row.class_2,
        StrandClass::Five => row.class_5,
    };
    let size = format!("{section} mm²");
    let from_memory = FROM_MEMORY.contains(&section);
    Ok(Conductor { size, ohm_per_metre: ohm_per_km / 1e3, section, metric: true, from_memory })
}

fn awg_conductor(number: &str) -> Result<Conductor, SizeError> {
    let row = NFPA_70_TABLE_8.iter().find(|r| r.size == number).ok_or(SizeError::NoSuchAwg)?;
    let size = format!("{} AWG", row.size);
    let (ohm_per_metre, section) = (row.ohm_per_metre_at_20(), row.section());
    Ok(Conductor { size, ohm_per_metre, section, metric: false, from_memory: false })
}

/// Open-circuit voltage of one LFP cell [V] by its state of charge (0…1), at rest, 25 °C, measured at C/32:
/// the ten knots of Sunil, Pattipati and Balasingam, IEEE Trans. Instrum. Meas. 2025.
pub const LFP_CELL: [(f64, f64); 10] = [
    (0.0, 2.0102),
    (0.0033, 2.4177),
    (0.0117, 2.7405),
    (0.0267, 2.9299),
    (0.0534, 3.0872),
    (0.0885, 3.1942),
    (0.2972, 3.2772),
    (0.9833, 3.3511),
    (0.9950, 3.4180),
    (1.0, 3.5981),
];

#[cfg(test)]
mod tests {
    use super::*;

    /// Resistivity of annealed copper at 20 °C [Ω·m] (IEC 60028).
    const IACS: f64 = 1.7241e-8;

    #[test]
    fn awg_table_follows_from_wire_area_copper_and_lay() {
        // ASTM B258 area, IACS resistivity at 75 °C, 2 % longer for the lay.
        for row in NFPA_70_TABLE_8 {
            let by_area = copper_resistance(IACS, 75.0) / (row.section() * 1e-6) * 304.8 * 1.02;
            let apart = by_area / row.ohm_per_kft_at_75 - 1.0;
            assert!(apart.abs() < 0.002, "{} AWG: {apart:+.4}", row.size);
            let back = copper_resistance(row.ohm_per_metre_at_20(), 75.0) * 304.8;
            assert!((back / row.ohm_per_kft_at_75 - 1.0).abs() < 1e-14);
        }
    }

    #[test]
    fn metric_table_holds_5_to_12_percent_more_than_the_nominal_section() {
        // ρ/S with the nominal section is 5 to 12 % too low (by hand, from the rows that were seen); the rows from
        // memory must keep to it as well.
        for row in IEC_60228 {
            for per_km in [row.class_2, row.class_5] {
                let low = IACS / (row.section * 1e-6) * 1e3;
                let above = per_km / low - 1.0;
                assert!((0.04..0.16).contains(&above), "{} mm²: {above:.3}", row.section);
            }
        }
        assert!(IEC_60228.windows(2).all(|w| w[0].class_2 > w[1].class_2 && w[0].class_5 > w[1].class_5));
    }

    #[test]
    fn voltage_drop_along_16_awg() {
        // By hand, with NFPA 70, chapter 9, table 8, 4.99 Ω/kft: 4 A along 2 × 100 ft drop 3.992 V.
        let ohm = awg("16", 16, 4.99).ohm_per_metre_at_20() * 200.0 * 0.3048;
        assert!((copper_resistance(ohm, 75.0) * 4.0 - 3.992).abs() < 1e-12);
    }

    #[test]
    fn sizes_are_found_in_each_spelling() {
        for text in ["35 mm2", "35 mm²", "35mm^2", " 35.0 mm2 "] {
            let found = conductor(text, StrandClass::Five).unwrap();
            assert_eq!((found.size.as_str(), found.ohm_per_metre), ("35 mm²", 0.554e-3), "{text}");
        }
        assert_eq!(conductor("50 mm2", StrandClass::Two).unwrap().ohm_per_metre, 0.387 / 1e3);
        assert_eq!(conductor("1/0AWG", StrandClass::Five).unwrap().size, "1/0 AWG");
        assert_eq!(conductor("36 mm2", StrandClass::Five), Err(SizeError::NoSuchSection));
        assert_eq!(conductor("3 AWG", StrandClass::Five), Err(SizeError::NoSuchAwg));
        assert_eq!(conductor("nan mm2", StrandClass::Five), Err(SizeError::NoSuchSection));
        assert_eq!(conductor("mm2", StrandClass::Five), Err(SizeError::NoNumber));
        assert_eq!(conductor("35", StrandClass::Five), Err(SizeError::NoUnit));
    }
}
