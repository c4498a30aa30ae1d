//! What an input may hold at most, in one place: each limit is looked at before the work that it bounds.
//!
//! Within them no command needs more than 1 GB of memory. `ALL` is the table "Limits" of `scenarios/README.md`, which a
//! test holds to it.

/// Of a scenario or parts file [bytes].
pub const SCENARIO_BYTES: u64 = 1 << 20;
/// Of a text in a scenario [characters].
pub const TEXT: usize = 1000;
/// Of the name of a type or a layout [characters].
pub const NAME: usize = 60;
/// Types of a kind: modules, cables, devices.
pub const TYPES: usize = 64;
/// Cells in series of a module.
pub const CELLS: u64 = 64;
/// Modules in a stack, and in the whole bank.
pub const IN_STACK: u64 = 64;
/// Modules in the whole bank.
pub const MODULES: usize = 256;
/// Lead pairs of a stack, and of the whole bank.
pub const LEADS_OF_STACK: usize = 64;
/// Lead pairs of the whole bank.
pub const LEADS: usize = 512;
/// Rows of a curve.
pub const CURVE_ROWS: usize = 101;
/// Of one list of a module, such as over-current stages.
pub const STAGES: usize = 20;
/// Sections `[[surge]]`, and times of one.
pub const SURGES: usize = 100;
/// Times of one section `[[surge]]`.
pub const SURGE_TIMES: usize = 1000;
/// Layouts that one scenario proposes, those of its grid included; kinds of lead in the grid.
pub const LAYOUTS: usize = 256;
/// Kinds of lead in the grid of layouts.
pub const GRID_LEADS: usize = 64;
/// Modules of all layouts together: `compare` keeps them all ready to run.
pub const LAYOUT_MODULES: usize = 16_384;
/// Trials of a run.
pub const TRIALS: u64 = 10_000_000;
/// [d]
pub const HORIZON_DAYS: u64 = 400;
/// Steps of a night.
pub const STEPS: u64 = 1_000_000;
/// Failures, repairs, and beginnings and ends of surges in a night, on average.
pub const CHANGES: u64 = 100_000;
/// Different nights that profiles make.
pub const NIGHTS: usize = 100_000;
/// Of all files of one profile together: text [bytes], rows with a time.
pub const PROFILE_BYTES: u64 = 128 << 20;
/// Of all files of one profile together: rows with a time.
pub const PROFILE_ROWS: usize = 4_000_000;
/// Files of one profile.
pub const PROFILE_FILES: usize = 100;
/// Cells in a row of a CSV.
pub const COLUMNS: usize = 1000;
/// Of a file of readings on site, and of the bank that they are of.
pub const READING_ROWS: usize = 5_000;
/// Cases of one file of readings.
pub const READING_CASES: usize = 500;
/// Elements of the bank that readings are of.
pub const READING_ELEMENTS: usize = 300;
/// How long a pipe may give nothing [s].
pub const SILENCE: u64 = 5;
/// Of `limit`: sets of modules, temperatures, loads.
pub const SETS: u64 = 1_000_000_000;
/// Temperatures of one `limit`.
pub const TEMPERATURES: usize = 1000;
/// Loads of one `limit`.
pub const LOADS: usize = 100;
/// Threads of a run.
pub const THREADS: u64 = 64;
/// Faults that are told of a scenario; the rest are counted.
pub const FAULTS: usize = 1000;

/// Each limit in words, with its unit or nothing.
pub const ALL: &[(&str, u64, &str)] = &[
    ("a scenario or parts file", SCENARIO_BYTES >> 20, "MiB"),
    ("a text in it", TEXT as u64, "characters"),
    ("the name of a type or layout", NAME as u64, "characters"),
    ("module, cable and device types, of each kind", TYPES as u64, ""),
    ("cells of a module", CELLS, ""),
    ("modules in a stack", IN_STACK, ""),
    ("modules in the bank", MODULES as u64, ""),
    ("lead pairs of a stack", LEADS_OF_STACK as u64, ""),
    ("lead pairs of the bank", LEADS as u64, ""),
    ("rows of a curve", CURVE_ROWS as u64, ""),
    ("over-current stages of a module", STAGES as u64, ""),
    ("sections `[[surge]]`", SURGES as u64, ""),
    ("times `at` of one surge", SURGE_TIMES as u64, ""),
    ("layouts, those of the grid included", LAYOUTS as u64, ""),
    ("modules of all layouts together", LAYOUT_MODULES as u64, ""),
    ("kinds of lead in `[layouts]`", GRID_LEADS as u64, ""),
    ("trials", TRIALS, ""),
    ("`horizon`", HORIZON_DAYS, "d"),
    ("steps of a night, `horizon` by `step`", STEPS, ""),
    ("failures, repairs, and starts and ends of surges in a night, on average", CHANGES, ""),
    ("different nights that the profiles make", NIGHTS as u64, ""),
    ("files of one profile", PROFILE_FILES as u64, ""),
    ("text of one profile, unpacked, all its files together", PROFILE_BYTES >> 20, "MiB"),
    ("rows of one profile, all its files together", PROFILE_ROWS as u64, ""),
    ("columns of a CSV", COLUMNS as u64, ""),
    ("rows of site readings", READING_ROWS as u64, ""),
    ("cases of site readings", READING_CASES as u64, ""),
    (
        "elements of the bank whose readings are explained: modules, jumpers, lead conductors, stretches of bar",
        READING_ELEMENTS as u64,
        "",
    ),
    ("silence of a pipe that is read", SILENCE, "s"),
    ("`limit --most-sets`", SETS, ""),
    ("temperatures of `limit --air`", TEMPERATURES as u64, ""),
    ("loads of `limit --chance`", LOADS as u64, ""),
    ("`--threads`", THREADS, ""),
    ("faults told of one scenario; the rest are counted", FAULTS as u64, ""),
];

/// `4 000 000`
pub fn grouped(number: u64) -> String {
    let digits = number.to_string();
    let mut text = String::new();
    for (k, digit) in digits.chars().enumerate() {
        if k > 0 && (digits.len() - k).is_multiple_of(3) {
            text.push(' ');
        }
        text.push(digit);
    }
    text
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn thousands_are_set_apart() {
        assert_eq!([0, 999, 1000, 4_000_000].map(grouped), ["0", "999", "1 000", "4 000 000"]);
    }
}
