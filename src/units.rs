//! Quantities at the edge: strings with a unit become numbers in SI units, and back for messages.
//!
//! In: text such as `"13 mΩ"`, and the kind of quantity that is due. Out: a finite `f64` in the
//! unit that the scenario types use (volt, ampere, ohm, watt, coulomb, second, metre, kelvin
//! differences; temperatures in °C, energies in joule, ratios as such). Value in SI =
//! (number − zero)·mul/div, so that decimal sub-multiples are rounded once.

mod kind;
mod text;

pub use kind::Kind;
pub use text::{in_words, plain};

use kind::Unit;

/// Beyond this magnitude [SI] no quantity of a battery bank lies, and products could overflow.
pub const LARGEST: f64 = 1e12;

/// Why a text is not a quantity of the kind that is expected.
#[derive(Clone, Debug, PartialEq, thiserror::Error)]
pub enum QuantityError {
    /// The text is blank.
    #[error("there is nothing in it")]
    Empty,
    /// It does not begin with a number.
    #[error("it does not start with a number")]
    NoNumber,
    /// A number without a unit.
    #[error("it has no unit")]
    NoUnit,
    /// Two numbers.
    #[error("it holds two numbers")]
    TwoNumbers,
    /// A comma where a decimal point belongs.
    #[error("it has a decimal comma")]
    DecimalComma,
    /// A number in another form than the decimal.
    #[error("its number is in another notation than decimal")]
    NotDecimal,
    /// No quantity has this unit.
    #[error("`{0}` is not a unit that is known here")]
    UnknownUnit(String),
    /// A unit of another quantity than is due.
    #[error("`{unit}` is a unit of {}", .of.name())]
    WrongKind {
        /// The unit as written.
        unit: String,
        /// The kind of quantity that has this unit.
        of: Kind,
    },
    /// Its magnitude is above [`LARGEST`].
    #[error("it is beyond anything that can be calculated with")]
    TooLarge,
}

impl QuantityError {
    /// How to correct the text where a quantity of this `kind` is expected.
    pub fn help(&self, kind: Kind) -> String {
        let example = kind.example();
        match self {
            QuantityError::DecimalComma => format!("write a decimal point, as in \"{example}\""),
            QuantityError::WrongKind { of: Kind::Temperature, .. } if kind == Kind::TemperatureDifference => {
                format!("a difference is written in kelvin, as in \"{example}\": 5 °C warmer is 5 K")
            }
            QuantityError::UnknownUnit(unit) => match nearest(unit, kind) {
                Some(near) => {
                    format!("did you mean `{near}`? Capitals matter, as in \"{example}\"")
                }
                None => format!("write a number and a unit, as in \"{example}\""),
            },
            _ => format!("write a number and a unit, as in \"{example}\""),
        }
    }
}

/// The accepted unit that differs from `unit` only by capitals or by one letter.
fn nearest(unit: &str, kind: Kind) -> Option<&'static str> {
    let units = kind.units();
    let lower = unit.to_lowercase();
    let same = units.iter().find(|u| u.name.to_lowercase() == lower);
    let close = || {
        let near = |u: &&Unit| u.name.chars().count() > 1 && strsim::osa_distance(u.name, unit) == 1;
        units.iter().find(near)
    };
    same.or_else(close).map(|u| u.name)
}

/// The SI value of a text such as `"13 mΩ"`.
///
/// A number (sign, decimal point, exponent), an optional blank, a unit. Both signs for ohm and for
/// micro, `ohm`, `u` for micro before ohm and `deg` for ° are understood.
///
/// # Errors
/// Anything else: no number or more than one, no unit, a unit of another kind, or a magnitude
/// beyond [`LARGEST`].
pub fn parse(text: &str, kind: Kind) -> Result<f64, QuantityError> {
    let text = one_spelling(text);
    let text = text.trim();
    if text.is_empty() {
        return Err(QuantityError::Empty);
    }
    let (number, rest) = text.split_at(number_length(text));
    let number: f64 = number.parse().map_err(|_| QuantityError::NoNumber)?;
    let unit = find_unit(rest, kind)?;
    let si = (number - unit.zero) * unit.mul / unit.div;
    if si.is_finite() && si.abs() <= LARGEST { Ok(si) } else { Err(QuantityError::TooLarge) }
}

fn find_unit(rest: &str, kind: Kind) -> Result<&'static Unit, QuantityError> {
    let name = unit_spelling(rest.trim());
    let Some(first) = name.chars().next() else {
        return Err(QuantityError::NoUnit);
    };
    if let Some(unit) = kind.unit(&name) {
        return Ok(unit);
    }
    if first == ',' && rest.starts_with(',') {
        return Err(QuantityError::DecimalComma);
    }
    if matches!(first, '0'..='9' | '+' | '-' | '.') {
        return Err(QuantityError::TwoNumbers);
    }
    if matches!(first, 'x' | 'X' | '_') && name.len() > 1 {
        return Err(QuantityError::NotDecimal);
    }
    match Kind::ALL.into_iter().find(|k| k.unit(&name).is_some()) {
        Some(of) => Err(QuantityError::WrongKind { unit: name, of }),
        None => Err(QuantityError::UnknownUnit(crate::diagnostic::shortened(&name))),
    }
}

/// The text with one spelling for characters that look alike.
fn one_spelling(text: &str) -> String {
    text.chars()
        .map(|c| match c {
            '\u{2212}' => '-',
            '\u{2126}' => 'Ω',
            '\u{3bc}' => 'µ',
            'º' | '˚' => '°',
            c if c.is_whitespace() => ' ',
            c => c,
        })
        .collect()
}

fn unit_spelling(unit: &str) -> String {
    let unit = unit.replace("ohm", "Ω").replace("Ohm", "Ω").replace("deg", "°");
    let unit = unit.replace(" /", "/").replace("/ ", "/");
    match unit.strip_prefix("uΩ") {
        Some(rest) => format!("µΩ{rest}"),
        None => unit,
    }
}

/// Bytes of a decimal number at the start of `text`: sign, digits, point, exponent; all ASCII.
fn number_length(text: &str) -> usize {
    let bytes = text.as_bytes();
    let digits = |from: usize| bytes.iter().skip(from).take_while(|b| b.is_ascii_digit()).count();
    let is = |at: usize, any: &[u8]| bytes.get(at).is_some_and(|b| any.contains(b));
    let mut end = usize::from(is(0, b"+-"));
    let whole = digits(end);
    end += whole;
    let mut fraction = 0;
    if is(end, b".") {
        fraction = digits(end + 1);
        end += 1 + fraction;
    }
    if whole + fraction == 0 {
        return 0;
    }
    if is(end, b"eE") {
        let sign = usize::from(is(end + 1, b"+-"));
        let exponent = digits(end + 1 + sign);
        if exponent > 0 {
            end += 1 + sign + exponent;
        }
    }
    end
}

#[cfg(test)]
mod tests {
    use super::*;
    use proptest::prelude::*;

    #[test]
    fn every_spelling_is_understood() {
        let cases = [
            ("120 A", Kind::Current, 120.0),
            ("14 mΩ", Kind::Resistance, 0.014),
            ("14 m\u{2126}", Kind::Resistance, 0.014),
            ("14 mohm", Kind::Resistance, 0.014),
            ("14 uohm", Kind::Resistance, 14e-6),
            ("14 µΩ", Kind::Resistance, 14e-6),
            ("14 \u{3bc}\u{2126}", Kind::Resistance, 14e-6),
            ("1e-05 mΩ", Kind::Resistance, 1e-8),
            ("6.5 ft", Kind::Length, 1.9812),
            ("2 m", Kind::Length, 2.0),
            ("-10 °C", Kind::Temperature, -10.0),
            ("\u{2212}10 degC", Kind::Temperature, -10.0),
            ("14 °F", Kind::Temperature, -10.0),
            ("14degF", Kind::Temperature, -10.0),
            ("263.15 K", Kind::Temperature, -10.0),
            ("5 K", Kind::TemperatureDifference, 5.0),
            ("3 kW", Kind::Power, 3000.0),
            ("100 Ah", Kind::Charge, 360_000.0),
            ("12 h", Kind::Time, 43_200.0),
            ("+60s", Kind::Time, 60.0),
            ("2 %", Kind::Ratio, 0.02),
            ("0.115 mΩ / m", Kind::ResistancePerLength, 0.000115),
            (".5 Wh/K", Kind::HeatCapacity, 1800.0),
        ];
        for (text, kind, si) in cases {
            assert_eq!(parse(text, kind), Ok(si), "{text}");
        }
    }

    #[test]
    fn a_thousand_feet_and_a_kilometre_agree() {
        let feet = parse("1 ohm/kft", Kind::ResistancePerLength).unwrap();
        assert!((feet - 1.0 / 304.8).abs() < 1e-18);
        assert_eq!(parse("1 Ω/km", Kind::ResistancePerLength), Ok(1e-3));
    }

    #[test]
    fn what_is_no_quantity_is_refused() {
        let cases = [
            ("", QuantityError::Empty),
            ("  ", QuantityError::Empty),
            ("A", QuantityError::NoNumber),
            ("nan A", QuantityError::NoNumber),
            ("inf A", QuantityError::NoNumber),
            ("-.A", QuantityError::NoNumber),
            ("5", QuantityError::NoUnit),
            ("0x10 A", QuantityError::NotDecimal),
            ("1_000 A", QuantityError::NotDecimal),
            ("1,5 A", QuantityError::DecimalComma),
            ("5 5 A", QuantityError::TwoNumbers),
            ("1.2.3 A", QuantityError::TwoNumbers),
            ("1e999 A", QuantityError::TooLarge),
            ("1e13 A", QuantityError::TooLarge),
            ("5 B", QuantityError::UnknownUnit("B".into())),
            ("5 V", QuantityError::WrongKind { unit: "V".into(), of: Kind::Voltage }),
        ];
        for (text, fault) in cases {
            assert_eq!(parse(text, Kind::Current), Err(fault), "{text}");
        }
    }

    #[test]
    fn a_difference_in_celsius_is_refused_with_the_reason() {
        let fault = parse("5 °C", Kind::TemperatureDifference).unwrap_err();
        assert_eq!(fault, QuantityError::WrongKind { unit: "°C".into(), of: Kind::Temperature });
        assert!(fault.help(Kind::TemperatureDifference).contains("kelvin"));
    }

    #[test]
    fn a_slip_of_capitals_is_named() {
        assert!(parse("5 KW", Kind::Power).unwrap_err().help(Kind::Power).contains("`kW`"));
        assert!(parse("5 ah", Kind::Charge).unwrap_err().help(Kind::Charge).contains("`Ah`"));
    }

    #[test]
    fn no_unit_stands_twice_in_a_kind() {
        for kind in Kind::ALL {
            let units = kind.units();
            for (k, u) in units.iter().enumerate() {
                assert!(units.iter().skip(k + 1).all(|v| v.name != u.name), "{}", u.name);
            }
            assert!(parse(kind.example(), kind).is_ok(), "{}", kind.example());
        }
    }

    proptest! {
        #[test]
        fn no_text_makes_it_panic(text in any::<String>(), k in 0..Kind::ALL.len()) {
            if let Ok(si) = parse(&text, Kind::ALL[k]) {
                prop_assert!(si.is_finite());
            }
        }

        #[test]
        fn nearly_a_quantity_does_not_make_it_panic(
            text in "[-+0-9.,eExµuΩ°%/ ]{0,12}[A-Za-z°µΩ/% ]{0,6}", k in 0..Kind::ALL.len()
        ) {
            if let Err(fault) = parse(&text, Kind::ALL[k]) {
                prop_assert!(!fault.help(Kind::ALL[k]).is_empty());
            }
        }

        #[test]
        fn shown_and_read_again_is_the_same(x in -1e6..1e6f64, k in 0..Kind::ALL.len()) {
            let kind = Kind::ALL[k];
            let again = parse(&kind.show(x), kind).unwrap();
            prop_assert!((again - x).abs() <= 1e-11 * x.abs().max(1e-300), "{x} -> {again}");
        }

        #[test]
        fn every_unit_scales_as_defined(x in -1e4..1e4f64, k in 0..Kind::ALL.len()) {
            let kind = Kind::ALL[k];
            for u in kind.units() {
                let si = parse(&format!("{x:e} {}", u.name), kind);
                let due = (x - u.zero) * u.mul / u.div;
                prop_assert_eq!(si, if due.abs() <= LARGEST { Ok(due) } else { Err(QuantityError::TooLarge) });
            }
        }
    }
}
