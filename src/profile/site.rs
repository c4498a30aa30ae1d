//! Readings of meters on site: a CSV of currents and voltages, element by element.
//!
//! In: text, and the elements that there are. Out: readings in the order of the file, each with its standard deviation
//! and its place, or every fault at the bytes of its cell.

use super::csv::table;
use super::file::{Faults, Text};
use super::record::{Record, unquoted};
use super::types::ProfileError;
use crate::bounds::READING_CASES;
use crate::diagnostic::{Diagnostic, Fault, shortened};
use crate::escape;
use crate::units::{Kind, parse};
use std::borrow::Cow;
use std::collections::HashSet;
use std::ops::Range;
use std::path::Path;

/// What is read at one element, in one case.
#[derive(Clone, Debug, PartialEq)]
pub struct SiteReading {
    /// Identifier of a module or conductor; `bus` for the bank.
    pub element: String,
    /// Readings of one case were taken at one load.
    pub case: String,
    /// Current [A], where it was read.
    pub current: Option<Measured>,
    /// Voltage drop [V], where it was read.
    pub drop: Option<Measured>,
    /// Temperature of the element [°C], where it was read.
    pub temperature: Option<f64>,
}

/// The cells of a row that hold what was read.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum SiteCell {
    /// Its current.
    Current,
    /// Its voltage drop, or its voltage.
    Drop,
}

/// All readings of a file, and their places in it.
#[derive(Debug)]
pub struct SiteSheet {
    /// In the order of the file.
    pub readings: Vec<SiteReading>,
    text: Text,
    /// For each reading, the bytes of the file that hold its current and its drop.
    places: Vec<[Range<usize>; 2]>,
}

impl SiteSheet {
    fn span(&self, row: usize, cell: SiteCell) -> Range<usize> {
        let places = self.places.get(row).cloned().unwrap_or([0..0, 0..0]);
        let [current, drop] = places;
        match cell {
            SiteCell::Current => current,
            SiteCell::Drop => drop,
        }
    }

    /// What is wrong with the reading in this cell of this row (from 0).
    pub fn fault(&self, row: usize, cell: SiteCell, message: String, label: &str, help: &str) -> Diagnostic {
        self.text.fault(Fault::Conflict, self.span(row, cell), message, label, help)
    }

    /// Line of the file, from 1.
    pub fn line(&self, row: usize, cell: SiteCell) -> usize {
        let before = self.text.as_str().as_bytes().get(..self.span(row, cell).start).unwrap_or(&[]);
        1 + before.iter().filter(|byte| **byte == b'\n').count()
    }
}

/// A number read, and the standard deviation of its error.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Measured {
    /// In the unit of the quantity.
    pub value: f64,
    /// Standard deviation, above 0, in the same unit.
    pub deviation: f64,
}

/// The word for the bank in the column `element`.
pub const BUS: &str = "bus";

/// Accuracy of a current where the file gives none, and of a drop [V].
const CURRENT_ACCURACY: Accuracy = Accuracy::Share(0.01);
const DROP_ACCURACY: Accuracy = Accuracy::Greater { share: 5e-4, absolute: 2e-4 };
/// No meter is better, however small what it reads [A], [V]: an assumption.
const LEAST_CURRENT: f64 = 0.01;
const LEAST_DROP: f64 = 1e-6;
/// Readings beyond are mistakes [A], [V].
const MOST: f64 = 1e6;

#[derive(Clone, Copy, Debug)]
enum Accuracy {
    Share(f64),
    Absolute(f64),
    Greater { share: f64, absolute: f64 },
}

impl Accuracy {
    fn of(self, value: f64, least: f64) -> Measured {
        let deviation = match self {
            Accuracy::Share(share) => share * value.abs(),
            Accuracy::Absolute(absolute) => absolute,
            Accuracy::Greater { share, absolute } => absolute.max(share * value.abs()),
        };
        Measured { value, deviation: deviation.max(least) }
    }
}

/// Reads the file; `known` are the identifiers there are, `nearest` finds the one that another was meant to be.
///
/// # Errors
/// `Unreadable`, or every fault of the file.
pub fn read_readings(
    path: &Path,
    known: &[&str],
    nearest: impl Fn(&str) -> Option<String>,
) -> Result<SiteSheet, ProfileError> {
    let text = Text::open(path, &escape::path(path))?;
    of_text(text, known, nearest).map_err(ProfileError::Faults)
}

fn of_text(text: Text, known: &[&str], nearest: impl Fn(&str) -> Option<String>) -> Result<SiteSheet, Vec<Diagnostic>> {
    let (header, rows) = table(&text)?;
    let mut faults = text.faults();
    let Some(columns) = Columns::find(text.as_str(), &header, &mut faults) else { return Err(faults.list()) };
    let mut sheet = Sheet { text: text.as_str(), columns, known, faults };
    let readings = rows.iter().filter_map(|row| Some((sheet.reading(row, &nearest)?, sheet.places(row))));
    let (readings, places): (Vec<SiteReading>, Vec<[Range<usize>; 2]>) = readings.unzip();
    sheet.too_many_cases(&rows);
    if readings.iter().all(|r| r.current.is_none() && r.drop.is_none()) && sheet.faults.is_empty() {
        let help = "write a row for each element that was measured: its current, its drop, or both";
        sheet.faults.add(header.span(), "no reading in the file".into(), "only a header", help);
    }
    sheet.faults.none_or(())?;
    Ok(SiteSheet { readings, text, places })
}

/// Numbers of the columns, from 0.
struct Columns {
    element: usize,
    current: usize,
    drop: usize,
    case: Option<usize>,
    current_accuracy: Option<usize>,
    drop_accuracy: Option<usize>,
    temperature: Option<usize>,
}

impl Columns {
    const NAMES: [&str; 7] =
        ["element", "current_a", "drop_v", "case", "current_accuracy", "drop_accuracy", "temperature"];

    fn find(text: &str, header: &Record, faults: &mut Faults) -> Option<Columns> {
        let mut places = [None; 7];
        for (k, cell) in header.cells.iter().enumerate() {
            let (span, name) = unquoted(text, cell);
            match Columns::NAMES.iter().position(|known| *known == name) {
                Some(which) if places[which].is_none() => places[which] = Some(k),
                Some(_) => faults.add(span, format!("two columns are named `{name}`"), "the second of them", ""),
                None => {
                    let message = format!("there is no column `{}`", shortened(&name));
                    let help = format!("the columns are: {}", Columns::NAMES.join(", "));
                    faults.add(span, message, "not known", &help);
                }
            }
        }
        let wanted = |which: usize, faults: &mut Faults| {
            if places[which].is_none() {
                let message = format!("no column `{}` in the header", Columns::NAMES[which]);
                let help = "the first row is: element,current_a,drop_v and, where wanted, case, current_accuracy, \
                            drop_accuracy, temperature";
                faults.add(header.span(), message, "expected the names of the columns", help);
            }
            places[which]
        };
        let (element, current, drop) = (wanted(0, faults), wanted(1, faults), wanted(2, faults));
        let [_, _, _, case, current_accuracy, drop_accuracy, temperature] = places;
        let (element, current, drop) = (element?, current?, drop?);
        faults.is_empty().then_some(Columns {
            element,
            current,
            drop,
            case,
            current_accuracy,
            drop_accuracy,
            temperature,
        })
    }
}

struct Sheet<'a> {
    text: &'a str,
    columns: Columns,
    known: &'a [&'a str],
    faults: Faults,
}

impl<'a> Sheet<'a> {
    /// A cell and its place; `None` where it is empty or not there.
    fn cell(&self, row: &Record, column: usize) -> Option<(Range<usize>, Cow<'a, str>)> {
        row.cells.get(column).map(|cell| unquoted(self.text, cell)).filter(|(_, cell)| !cell.is_empty())
    }

    /// The places of current and drop in a row, empty or not.
    fn places(&self, row: &Record) -> [Range<usize>; 2] {
        let place = |column: usize| row.cells.get(column).map_or(row.span(), |cell| unquoted(self.text, cell).0);
        [place(self.columns.current), place(self.columns.drop)]
    }

    /// A fault at the first case too many.
    fn too_many_cases(&mut self, rows: &[Record]) {
        let Some(column) = self.columns.case else { return };
        let mut known: HashSet<String> = HashSet::new();
        let mut cases = rows.iter().filter_map(|row| self.cell(row, column));
        let beyond = cases.find(|(_, case)| {
            !known.contains(case.as_ref()) && {
                known.insert(case.to_string());
                known.len() > READING_CASES
            }
        });
        if let Some((span, _)) = beyond {
            let message = format!("more than {READING_CASES} cases");
            let help = "keep the readings of a few loads that lie far apart: they tell as much";
            self.faults.add_of(Fault::TooMuch, span, message, "the first case too many", help);
        }
    }

    fn reading(&mut self, row: &Record, nearest: &impl Fn(&str) -> Option<String>) -> Option<SiteReading> {
        let Some((span, element)) = self.cell(row, self.columns.element) else {
            self.faults.add(row.span(), "no element in this row".into(), "what was measured?", "write its identifier");
            return None;
        };
        if element != BUS && !self.known.contains(&element.as_ref()) {
            let message = format!("there is no element `{}` in this scenario", shortened(&element));
            let help = match nearest(&element) {
                Some(meant) => format!("did you mean `{meant}`?"),
                None => format!("write `{BUS}` for the bank, or an identifier as `check` and `point` show them"),
            };
            self.faults.add(span, message, "not known", &help);
            return None;
        }
        let current = self.number(row, self.columns.current, "A");
        let drop = self.number(row, self.columns.drop, "V");
        let of_current = self.accuracy(row, self.columns.current_accuracy, Kind::Current, CURRENT_ACCURACY);
        let of_drop = self.accuracy(row, self.columns.drop_accuracy, Kind::Voltage, DROP_ACCURACY);
        let temperature = self.temperature(row);
        let case = self.case(row);
        Some(SiteReading {
            element: element.into_owned(),
            case,
            current: current.map(|value| of_current.of(value, LEAST_CURRENT)),
            drop: drop.map(|value| of_drop.of(value, LEAST_DROP)),
            temperature,
        })
    }

    /// The name of the load at which it was read; a name has no invisible characters.
    fn case(&mut self, row: &Record) -> String {
        let Some((span, case)) = self.columns.case.and_then(|column| self.cell(row, column)) else {
            return String::new();
        };
        if let Some(hidden) = escape::hidden_in(&case) {
            let message = format!("the case \"{}\" holds an invisible character, {hidden}", shortened(&case));
            self.faults.add(span, message, "expected a name that can be read", "type the name anew");
        }
        case.into_owned()
    }

    fn number(&mut self, row: &Record, column: usize, unit: &str) -> Option<f64> {
        let (span, cell) = self.cell(row, column)?;
        match cell.parse::<f64>() {
            Ok(number) if number.abs() <= MOST => Some(number),
            _ => {
                let message = format!("`{}` is not a number", shortened(&cell));
                let label = format!("expected a number in {unit}, or nothing");
                self.faults.add(span, message, &label, "write decimals with a point, and no unit: the header has it");
                None
            }
        }
    }

    /// Reads an accuracy, in per cent of the reading or in its own unit.
    fn accuracy(&mut self, row: &Record, column: Option<usize>, kind: Kind, default: Accuracy) -> Accuracy {
        let Some((span, cell)) = column.and_then(|column| self.cell(row, column)) else { return default };
        let share = parse(&cell, Kind::Ratio).map(Accuracy::Share);
        match share.or_else(|_| parse(&cell, kind).map(Accuracy::Absolute)) {
            Ok(Accuracy::Share(x) | Accuracy::Absolute(x)) if x <= 0.0 => {
                self.faults.add(span, "an accuracy is above 0".into(), "no meter is exact", "");
                default
            }
            Ok(accuracy) => accuracy,
            Err(_) => {
                let message = format!("`{}` is no accuracy", shortened(&cell));
                let label = format!("expected a share, as 1 %, or a {}, as {}", kind.name(), kind.example());
                self.faults.add(span, message, &label, "write the number and its unit");
                default
            }
        }
    }

    /// Reads a temperature [°C], written with a unit or as a bare number in °C.
    fn temperature(&mut self, row: &Record) -> Option<f64> {
        let (span, cell) = self.columns.temperature.and_then(|column| self.cell(row, column))?;
        let celsius = cell.parse::<f64>().or_else(|_| parse(&cell, Kind::Temperature));
        match celsius {
            Ok(celsius) if (-100.0..=150.0).contains(&celsius) => Some(celsius),
            _ => {
                let message = format!("`{}` is no temperature", shortened(&cell));
                self.faults.add(span, message, "expected -100 to 150 °C", "write it as 25 °C");
                None
            }
        }
    }
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::bounds::READING_ROWS;

    fn sheet(text: &str) -> Result<SiteSheet, Vec<Diagnostic>> {
        let text = Text::from_bytes(text.as_bytes(), "readings.csv").unwrap();
        of_text(text, &["A1", "A.lead1+"], |_| Some("A.lead1+".into()))
    }

    fn read(text: &str) -> Result<Vec<SiteReading>, Vec<Diagnostic>> {
        sheet(text).map(|sheet| sheet.readings)
    }

    #[test]
    fn readings_and_their_accuracies() {
        let all = read(
            "element,current_a,drop_v,case,current_accuracy,drop_accuracy,temperature\n\
             bus,100,52.1,noon,,,\nA1,,52.2,noon,2 %,0.1 %,\n\"A.lead1+\",-50.5,0.021,dusk,0.5 A,1 mV,30 °C\nA1,0,,,,,-5\n",
        )
        .unwrap();
        let measured = |value, deviation| Some(Measured { value, deviation });
        assert_eq!((all[0].current, all[0].drop), (measured(100.0, 1.0), measured(52.1, 52.1 * 5e-4)));
        assert_eq!((all[1].current, all[1].drop), (None, measured(52.2, 52.2e-3)));
        assert_eq!((all[2].current, all[2].drop), (measured(-50.5, 0.5), measured(0.021, 1e-3)));
        assert_eq!((all[2].temperature, all[3].temperature), (Some(30.0), Some(-5.0)));
        assert_eq!((all[3].current, all[3].case.as_str(), all[2].case.as_str()), (measured(0.0, 0.01), "", "dusk"));
    }

    #[test]
    fn every_fault_is_told_at_its_place() {
        let head = "element,current_a,drop_v\n";
        for (text, place, message) in [
            ("element,current_a\n", (1, 1), "no column `drop_v`"),
            ("element,current_a,drop_v,colour\n", (1, 26), "there is no column `colour`"),
            ("element,current_a,drop_v\n", (1, 1), "no reading"),
            ("element,current_a,drop_v\nA.lead1,3,\n", (2, 1), "no element `A.lead1`"),
            ("element,current_a,drop_v\nA1,3 A,\n", (2, 4), "`3 A` is not a number"),
            ("element,current_a,drop_v\n,3,\n", (2, 1), "no element in this row"),
            ("element,current_a,drop_v,drop_accuracy\nA1,3,1,0.2\n", (2, 8), "`0.2` is no accuracy"),
            ("element,current_a,drop_v,drop_accuracy\nA1,3,1,0 mV\n", (2, 8), "above 0"),
            ("element,current_a,drop_v,temperature\nA1,3,1,400\n", (2, 8), "no temperature"),
        ] {
            let faults = read(text).unwrap_err();
            assert_eq!((faults.len(), faults[0].place()), (1, place), "{text}");
            assert!(faults[0].message.contains(message), "{}", faults[0].message);
        }
        assert!(read(&format!("{head}A1,3,\n\n")).is_ok());
    }
    /// 0.2 mV and 0.05 % of the reading are one at 0.4 V.
    #[test]
    fn a_drop_is_as_accurate_as_the_greater_of_a_floor_and_a_share() {
        for (drop, deviation) in [("0.012", 2e-4), ("-0.012", 2e-4), ("0.39", 2e-4), ("0.5", 2.5e-4), ("53", 0.0265)] {
            let got = read(&format!("element,current_a,drop_v\nA1,,{drop}\n")).unwrap()[0].drop.unwrap().deviation;
            assert!((got - deviation).abs() < 1e-12, "{drop}: {got}");
        }
    }

    #[test]
    fn files_beyond_the_limits_are_refused_in_words() {
        let head = "element,current_a,drop_v,case\n";
        let rows = |n: usize, cases: usize| {
            let rows: String = (0..n).map(|k| format!("A1,{k},,{}\n", k % cases)).collect();
            format!("{head}{rows}")
        };
        assert!(read(&rows(READING_ROWS, READING_CASES)).is_ok());
        let refused = |text: &str| read(text).unwrap_err().remove(0);
        let long = refused(&rows(READING_ROWS + 1, 1));
        assert_eq!((long.message.as_str(), long.place()), ("more than 5 000 rows", (5_002, 1)));
        let many = refused(&rows(READING_CASES + 1, READING_CASES + 1));
        assert_eq!((many.message.as_str(), many.place()), ("more than 500 cases", (502, 9)));
    }

    #[test]
    fn a_reading_knows_its_place() {
        let sheet = sheet("element,current_a,drop_v\n\nA1,30,52\nA.lead1+, 31 ,0.1\n").unwrap();
        let at = |row, cell| sheet.fault(row, cell, String::new(), "", "").place();
        assert_eq!(
            (at(0, SiteCell::Current), at(1, SiteCell::Current), at(1, SiteCell::Drop)),
            ((3, 4), (4, 11), (4, 15))
        );
        assert_eq!(sheet.line(1, SiteCell::Drop), 4);
    }
}
