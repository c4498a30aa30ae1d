//! Text, pictures and files made of results.

#[path = "output/markup.rs"]
mod markup;
#[path = "output/sample.rs"]
mod sample;

use bankwright::engine::record::Record;
use bankwright::output::folder::{FolderError, Mode, ResultsFolder};
use bankwright::output::page::{Figures, PageInput, Provenance, page};
use bankwright::output::{chart, table, verdict};
use bankwright::summary::Results;
use std::io;

const REPLAY: &str = "bankwright run scenarios/refuge.toml --replay";

fn figures(results: &Results, record: &Record) -> [String; 3] {
    [chart::overload(results).unwrap(), chart::ride_through(results).unwrap(), chart::night(record).unwrap()]
}

fn whole_page(results: &Results, record: &Record) -> String {
    let [overload, ride_through, night] = figures(results, record);
    page(&PageInput {
        results,
        figures: Figures { overload: &overload, ride_through: &ride_through, night: &night },
        record,
        provenance: Provenance {
            version: "bankwright 0.1.0",
            scenario_file: "scenarios/refuge.toml",
            digest: "5f0c6a3c1f7d4f3c9d2a9c0e3b1f8e6d7a4b2c1d0e9f8a7b6c5d4e3f2a1b0c9d",
            files: &[("load.csv".into(), "9e107d9d372bb6826bd81d3542a419d6e1c3b1f8e6d7a4b2c1d0e9f8a7b6c5d4".into())],
        },
        gaps: &["air.csv: 3 readings missing from 2017-01-04 02:00, bridged by a straight line".into()],
        replay: REPLAY,
    })
}

/// Every case that the pictures and the page must bear: name, results, record.
fn cases() -> Vec<(&'static str, Results, Record)> {
    vec![
        ("usual", sample::results(), sample::record(4, true)),
        ("quiet", sample::nothing_seen(), sample::record(4, false)),
        ("ended", sample::all_ended(), sample::record(4, true)),
        ("single", sample::single_module(), sample::record(1, false)),
        ("large", sample::many(), sample::record(32, true)),
        ("empty", sample::no_trials(), Record::default()),
        ("not-numbers", sample::not_numbers(), sample::broken_record()),
    ]
}

mod pictures {
    use super::*;

    #[test]
    fn every_figure_of_every_case_is_well_formed() {
        for (name, results, record) in cases() {
            for svg in figures(&results, &record) {
                markup::check(&svg, name);
                assert!(svg.contains("role=\"img\"") && svg.contains("<title") && svg.contains("<desc"), "{name}");
                assert!(svg.contains("width=\"100%\"") && svg.contains("viewBox=\"0 0 7200 "), "{name}");
                assert!(!svg.contains("NaN") && !svg.contains("#F1"), "{name}: a marker colour or NaN is left");
            }
        }
    }

    #[test]
    fn no_text_is_smaller_than_twelve_pixels() {
        for (name, results, record) in cases() {
            for svg in figures(&results, &record) {
                for size in svg.split("font-size=\"").skip(1) {
                    let size: f64 = size.split('"').next().unwrap().parse().unwrap();
                    assert!(size >= 120.0, "{name}: {size}");
                }
            }
        }
    }

    #[test]
    fn text_stays_within_the_sheet() {
        for (name, results, record) in cases() {
            for svg in figures(&results, &record) {
                for (x, anchor, width, text) in markup::texts(&svg) {
                    let (left, right) = match anchor.as_str() {
                        "start" => (x, x + width),
                        "end" => (x - width, x),
                        _ => (x - width / 2.0, x + width / 2.0),
                    };
                    assert!(left >= -1.0 && right <= 7201.0, "{name}: {text:?} from {left} to {right}");
                }
            }
        }
    }

    #[test]
    fn the_title_of_the_first_figure_is_the_finding() {
        let svg = chart::overload(&sample::results()).unwrap();
        assert!(svg.contains("A.lead1+ is the element most often over its rating: 1.23 % of nights (1.02–1.47 %)"));
        let quiet = chart::overload(&sample::nothing_seen()).unwrap();
        assert!(quiet.contains("No element was over its rating"));
        assert!(quiet.contains("none seen (&lt; 0.037 %)"));
    }

    #[test]
    fn elements_beyond_the_first_twenty_are_counted() {
        let results = sample::many();
        let svg = chart::overload(&results).unwrap();
        let over = results.overload.conductors.iter().chain(&results.overload.modules).filter(|e| e.low > 0.001);
        assert_eq!(svg.matches("✖ over target").count(), over.count() + 1, "and the row of any element");
        assert!(svg.contains("Not drawn: 46 elements with fewer overloads; 126 further elements never seen over"));
    }

    #[test]
    fn a_long_night_stays_small() {
        let svg = chart::night(&sample::long_record()).unwrap();
        assert!(svg.len() < 600_000, "{} bytes", svg.len());
    }
}

mod on_the_page {
    use super::*;

    #[test]
    fn every_case_is_well_formed_and_calls_nothing_from_elsewhere() {
        for (name, results, record) in cases() {
            let html = whole_page(&results, &record);
            markup::check(&html, name);
            assert!(!html.contains("http:") && !html.contains("https:") && !html.contains("<script"), "{name}");
            assert!(!html.contains("NaN") && !html.contains("inf "), "{name}");
            assert_eq!(html.matches("<h1").count(), 1, "{name}");
        }
    }

    #[test]
    fn every_table_has_a_caption_and_scoped_headings() {
        let html = whole_page(&sample::results(), &sample::record(4, true));
        let tables: Vec<_> = html.split("<table>").skip(1).collect();
        assert!(tables.len() >= 9, "{} tables", tables.len());
        for table in tables {
            assert!(table.starts_with("<caption>"));
        }
        assert_eq!(html.matches("<th").count(), html.matches("<thead").count() + html.matches(" scope=\"").count());
    }

    #[test]
    fn titles_with_markup_are_text() {
        let mut results = sample::results();
        results.scenario = "<b onclick=\"x()\">A & B</b>".into();
        results.overload.conductors[0].id = "<A>&\"1\"".into();
        let mut record = sample::record(4, true);
        record.events[0].1 = "</svg><script>alert(1)</script>".into();
        let html = whole_page(&results, &record);
        markup::check(&html, "markup in names");
        assert!(!html.contains("<b onclick") && !html.contains("<script") && !html.contains("<A>"));
        assert!(html.contains("&lt;b onclick=&quot;x()&quot;&gt;A &amp; B&lt;/b&gt;"));
    }

    #[test]
    fn verdicts_are_words_with_symbols() {
        let html = whole_page(&sample::results(), &sample::record(4, true));
        for word in ["✖ missed", "✔ met"] {
            assert!(html.contains(word), "{word}");
        }
        assert!(html.contains("bankwright run scenarios/refuge.toml --replay 4711"));
    }
}

mod printed {
    use super::*;

    #[test]
    fn the_usual_verdict() {
        insta::assert_snapshot!(verdict::verdict(&sample::results(), REPLAY), @r#"
        Hut on the pass: two stacks of four on one bus bar (invented)
        10,000 trials of 16 h from 540 different calendar nights, seed 1

        ✔ met          served for at least 12 h with probability 0.95: 97.3 % of nights (96.9–97.7 %)
        ✖ missed       any element over its rating with probability 0.001 at most: 1.71 % of nights (1.46–1.99 %)

        Overload, any element over its rating for longer than 10 s: 1.71 % of nights (1.46–1.99 %)
          element     rated  nights over (95 % interval)  mean time over  greatest
          A.lead1+  160.0 A  1.23 % (1.02–1.47 %)                 13 min   172.8 A
          A.lead1-  160.0 A  1.19 % (0.98–1.43 %)                 13 min   172.8 A
          B.lead1+  160.0 A  0.41 % (0.29–0.56 %)                 13 min   172.8 A
          B.lead1-  160.0 A  0.38 % (0.26–0.53 %)                 13 min   172.8 A
          2 more in elements.csv; 18 elements never seen over, each below 0.037 %
          with A1 out, A.lead1+ was over in 37 nights
          with A1 and B1 out, A.lead1- was over in 22 nights
          with no module out, A.lead1+ was over in 9 nights

        Ride-through   5 % of nights end before 12.6 h (12.5–12.8 h); more than half last to the horizon.
                       Served to the horizon of 16 h in 68.7 % of nights (67.8–69.7 %).
        Dropouts       8.4 % of nights (7.8–9.0 %)
                       cold 8.2 % (7.6–8.8 %); fault 0.29 % (0.19–0.42 %); other none seen (< 0.037 %)
        Cascades       0.12 % of nights (0.06–0.21 %), most often A1 (cold), then A2 (over-current), then A3 (over-current)
        Worst year     2018/19: overload 3.6 % (3.0–4.4 %), dropout 13.1 % (11.9–14.3 %)
        Worst night    trial 4711 (2018-12-31): A.lead1+ over for 42 min, 3 modules out, served for 11.2 h
                       bankwright run scenarios/refuge.toml --replay 4711
        "#);
    }

    #[test]
    fn a_quiet_bank() {
        insta::assert_snapshot!(verdict::verdict(&sample::nothing_seen(), REPLAY), @r#"
        Hut on the pass: two stacks of four on one bus bar (invented)
        10,000 trials of 16 h from 1 calendar night, seed 1

        ✔ met          served for at least 12 h with probability 0.95: all of 10,000 nights: above 99.963 %
        ✔ met          any element over its rating with probability 0.001 at most: none seen in 10,000 nights: below 0.037 %

        Overload, any element over its rating for longer than 10 s: none seen in 10,000 nights: below 0.037 %
          24 elements never seen over, each below 0.037 %

        Ride-through   Served to the horizon of 16 h in all of 10,000 nights (above 99.963 %).
        Dropouts       none seen in 10,000 nights: below 0.037 %
        "#);
    }

    #[test]
    fn every_case_is_short_and_free_of_what_is_not_a_number() {
        for (name, results, _) in cases() {
            let text = verdict::verdict(&results, REPLAY);
            assert!(text.lines().count() <= 25, "{name}: {} lines", text.lines().count());
            assert!(!text.contains("NaN") && !text.contains("inf"), "{name}: {text}");
            assert!(text.lines().all(|l| l == l.trim_end()), "{name}: blanks at an end of a line");
        }
    }
}

mod tables {
    use super::*;

    #[test]
    fn every_table_has_rows_as_wide_as_its_header() {
        for (name, results, record) in cases() {
            let mut all = table::all(&results);
            all.push(("night.csv", table::record_csv(&record)));
            for (file, text) in all {
                assert!(!text.contains("NaN") && !text.contains("inf"), "{name} {file}");
                let mut reader = csv::Reader::from_reader(text.as_bytes());
                for row in reader.records() {
                    row.unwrap_or_else(|e| panic!("{name} {file}: {e}"));
                }
            }
        }
    }

    #[test]
    fn numbers_read_back_the_same() {
        let results = sample::results();
        let text = table::elements(&results);
        let lead = text.lines().find(|l| l.starts_with("A.lead1+,")).unwrap();
        let cells: Vec<_> = lead.split(',').collect();
        assert_eq!(cells[4].parse::<f64>().unwrap(), results.overload.conductors[0].estimate);
        assert_eq!(cells[2], "160");
    }

    #[test]
    fn a_name_with_a_comma_or_quote_is_quoted() {
        let mut results = sample::results();
        results.overload.modules[0].id = "A,\"1".into();
        assert!(table::elements(&results).contains("\r\n\"A,\"\"1\",module,"));
    }

    #[test]
    fn survivors_are_what_has_not_ended() {
        let text = table::ride_through(&sample::all_ended());
        assert!(text.trim_end().ends_with(",0"), "{text}");
    }
}

mod files {
    use super::*;

    #[test]
    fn results_are_not_written_over_unless_told() {
        let home = tempfile::tempdir().unwrap();
        let dir = home.path().join("deep/out");
        ResultsFolder::create(&dir, Mode::Fresh).unwrap().write("results.json", b"1").unwrap();
        assert!(matches!(ResultsFolder::create(&dir, Mode::Fresh), Err(FolderError::Occupied(_))));
        ResultsFolder::create(&dir, Mode::Resume).unwrap();
        ResultsFolder::create(&dir, Mode::Force).unwrap().write("results.json", b"2").unwrap();
        assert_eq!(std::fs::read(dir.join("results.json")).unwrap(), b"2");
    }

    #[test]
    fn a_write_that_fails_leaves_the_old_file_and_no_litter() {
        let home = tempfile::tempdir().unwrap();
        let folder = ResultsFolder::create(home.path(), Mode::Fresh).unwrap();
        folder.write("table.csv", b"old").unwrap();
        let full = folder.write_with("table.csv", |out| {
            out.write_all(&[b'x'; 100_000])?;
            Err(io::Error::new(io::ErrorKind::StorageFull, "no space left on device"))
        });
        let message = full.unwrap_err().to_string();
        assert!(message.contains("table.csv") && message.contains("no space left"), "{message}");
        assert_eq!(std::fs::read(home.path().join("table.csv")).unwrap(), b"old");
        assert_eq!(std::fs::read_dir(home.path()).unwrap().count(), 1);
    }

    #[test]
    fn a_place_that_cannot_be_written_is_named() {
        let home = tempfile::tempdir().unwrap();
        let folder = ResultsFolder::create(home.path(), Mode::Fresh).unwrap();
        std::fs::create_dir(home.path().join("table.csv")).unwrap();
        assert!(folder.write("table.csv", b"x").unwrap_err().to_string().contains("table.csv"));
        std::fs::write(home.path().join("file"), b"").unwrap();
        let under_a_file = ResultsFolder::create(&home.path().join("file/out"), Mode::Fresh);
        assert!(matches!(under_a_file, Err(FolderError::Folder { .. })));
    }

    #[test]
    fn no_name_leads_out_of_the_folder() {
        let home = tempfile::tempdir().unwrap();
        let folder = ResultsFolder::create(&home.path().join("out"), Mode::Fresh).unwrap();
        for name in ["../stray", "/tmp/stray", "", "a/../../stray"] {
            assert!(folder.write(name, b"x").is_err(), "{name}");
        }
        folder.write("figures/overload.svg", b"x").unwrap();
        folder.remove("figures/overload.svg").unwrap();
        folder.remove("figures/overload.svg").unwrap();
        assert!(!home.path().join("stray").exists());
    }

    #[cfg(unix)]
    #[test]
    fn a_new_file_has_the_rights_of_a_plain_one() {
        use std::os::unix::fs::PermissionsExt;
        let home = tempfile::tempdir().unwrap();
        let folder = ResultsFolder::create(home.path(), Mode::Fresh).unwrap();
        std::fs::write(home.path().join("plain"), b"").unwrap();
        let mode = |name: &str| std::fs::metadata(home.path().join(name)).unwrap().permissions().mode();
        folder.write("ours", b"x").unwrap();
        assert_eq!(mode("ours"), mode("plain"));
    }
}

/// To be looked at: `BANKWRIGHT_SAMPLES=dir cargo test --test output samples -- --ignored`.
#[test]
#[ignore = "writes files to look at"]
fn samples() {
    let dir = std::env::var_os("BANKWRIGHT_SAMPLES").map_or_else(std::env::temp_dir, Into::into);
    let folder = ResultsFolder::create(&dir, Mode::Force).unwrap();
    for (name, results, record) in cases() {
        folder.write(&format!("{name}.html"), whole_page(&results, &record).as_bytes()).unwrap();
        for (figure, svg) in ["overload", "ride", "night"].iter().zip(figures(&results, &record)) {
            folder.write(&format!("{name}-{figure}.svg"), svg.as_bytes()).unwrap();
        }
        println!("==== {name}\n{}", verdict::verdict(&results, REPLAY));
    }
}
