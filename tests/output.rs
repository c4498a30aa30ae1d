//! Text, pictures and files made of results.

mod files;
mod hidden;
mod inputs;
mod limits;
pub mod markup;
mod nights;
mod on_the_page;
mod pictures;
mod printed;
mod sample;
mod sample_night;
mod tables;

use bankwright::engine::record::Record;
use bankwright::output::kit::design::Provenance;
use bankwright::output::kit::folder::{Folder, FolderError, Mode, Writer};
use bankwright::output::night;
use bankwright::output::run::page::{Figures, PageInput, page};
use bankwright::output::run::{chart, tables as table, verdict};
use bankwright::summary::Results;

const REPLAY: &str = "bankwright run scenarios/refuge.toml --replay";

/// One of the tables of a run.
fn csv_of(file: &str, results: &Results) -> String {
    let all = table::all(results);
    all.into_iter().find(|(name, _)| *name == file).unwrap_or_else(|| panic!("no {file}")).1
}

fn figures(results: &Results, record: &Record) -> [String; 4] {
    [
        chart::overload(results).unwrap(),
        chart::ride_through(results).unwrap(),
        chart::cascade(results).unwrap(),
        night::chart::night(record).unwrap(),
    ]
}

fn whole_page(results: &Results, record: &Record) -> String {
    let [overload, ride_through, cascade, night] = figures(results, record);
    page(&PageInput {
        results,
        figures: Figures { overload: &overload, ride_through: &ride_through, cascade: &cascade, night: &night },
        record,
        provenance: Provenance {
            version: "bankwright 0.1.0",
            scenario_file: "scenarios/refuge.toml",
            digest: "5f0c6a3c1f7d4f3c9d2a9c0e3b1f8e6d7a4b2c1d0e9f8a7b6c5d4e3f2a1b0c9d",
            files: &[("load.csv".into(), "9e107d9d372bb6826bd81d3542a419d6e1c3b1f8e6d7a4b2c1d0e9f8a7b6c5d4".into())],
            gaps: &["air.csv: 3 readings missing from 2017-01-04 02:00, bridged by a straight line".into()],
            from_memory: &["resistance of 185 mm², class 5 (IEC 60228)".into()],
        },
        replay: REPLAY,
    })
}

/// Every case that the pictures and the page must bear: name, results, record.
fn cases() -> Vec<(&'static str, Results, Record)> {
    vec![
        ("usual", sample::results(), sample_night::record(4, true)),
        ("quiet", sample::nothing_seen(), sample_night::record(4, false)),
        ("ended", sample::all_ended(), sample_night::record(4, true)),
        ("single", sample::single_module(), sample_night::record(1, false)),
        ("large", sample::many(), sample_night::record(32, true)),
        ("weak-devices", sample::weak_devices(), sample_night::record(4, false)),
        ("dark", sample::dark(), sample_night::record(4, true)),
        ("empty", sample::no_trials(), Record::default()),
        ("not-numbers", sample::not_numbers(), sample_night::broken_record()),
    ]
}

/// To be looked at: `BANKWRIGHT_SAMPLES=dir cargo test output::samples -- --ignored`.
#[test]
#[ignore = "writes files to look at"]
fn samples() {
    let dir = std::env::var_os("BANKWRIGHT_SAMPLES").map_or_else(std::env::temp_dir, Into::into);
    let write = |name: String, text: String| std::fs::write(dir.join(name), text).unwrap();
    for (name, results, record) in cases() {
        write(format!("{name}.html"), whole_page(&results, &record));
        for (figure, svg) in ["overload", "ride", "cascade", "night"].iter().zip(figures(&results, &record)) {
            write(format!("{name}-{figure}.svg"), svg);
        }
        println!("==== {name}\n{}", verdict::verdict(&results, REPLAY));
    }
}
