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

fn figures(results: &Results, record: &Record) -> [String; 4] {
    [
        chart::overload(results).unwrap(),
        chart::ride_through(results).unwrap(),
        chart::cascade(results).unwrap(),
        chart::night(record).unwrap(),
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
        ("weak-devices", sample::weak_devices(), sample::record(4, false)),
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
    fn cascades_are_ranked_and_read_from_loss_to_loss() {
        let svg = chart::cascade(&sample::results()).unwrap();
        assert!(svg.contains("After a loss, protection took out more in 0.12 % of nights (0.06–0.21 %)"));
        assert!(svg.contains("within 60 s after an earlier loss") && svg.contains("10,000 nights of 16 h"));
        let words: Vec<String> = markup::texts(&svg).into_iter().map(|t| t.3).collect();
        let at = |wanted: &str| words.iter().position(|w| w == wanted).unwrap_or_else(|| panic!("{wanted}: {words:?}"));
        assert!(at("any cascade") < at("A1 (cold) → A2 (over-current) → A3 (over-current)"));
        at("After a loss nothing was delivered any more in 0.030 % of nights (0.006–0.088 %).");
        at("5 % of those nights within 500 ms, half (disc) within 11 s, 95 % within 38 s");
    }

    /// Lengths of the bars, read from the picture, are as the probabilities.
    #[test]
    fn bars_of_cascades_are_as_long_as_they_are_likely() {
        let results = sample::many();
        let svg = chart::cascade(&results).unwrap();
        let bars: Vec<f64> = svg
            .split("<rect ")
            .skip(1)
            .filter(|r| r.split('>').next().unwrap().contains("f-blue") || r.contains("f-blue"))
            .filter_map(|r| r.split(" width=\"").nth(1)?.split('"').next()?.parse().ok())
            .collect();
        let wanted: Vec<f64> = results.cascade.sequences.iter().take(10).map(|s| s.estimate).collect();
        assert_eq!(bars.len(), wanted.len(), "ten are drawn");
        for (bar, estimate) in bars.iter().zip(&wanted) {
            assert!((bar / bars[0] - estimate / wanted[0]).abs() < 2.0 / bars[0], "{bars:?} for {wanted:?}");
        }
        assert!(svg.contains("Not drawn: 10 rarer sequences, in cascades.csv."));
    }

    #[test]
    fn where_no_cascade_was_seen_the_bound_is_drawn() {
        let svg = chart::cascade(&sample::nothing_seen()).unwrap();
        assert!(svg.contains("No protection took anything out within 60 s after a loss"));
        assert!(svg.contains("none seen (&lt; 0.037 %)") && svg.contains("stroke-dasharray"));
        assert!(svg.contains("nothing was delivered any more in none of 10,000 nights (below 0.037 %)"));
        assert!(!svg.contains("Time from the first loss"), "there is no time to draw");
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
    fn figures_and_tables_are_numbered_in_order() {
        for (name, results, record) in cases() {
            let html = whole_page(&results, &record);
            let numbers = |word: &str| -> Vec<usize> {
                let mark = format!("<b>{word} ");
                html.split(&mark).skip(1).map(|t| t.split('.').next().unwrap().parse().unwrap()).collect()
            };
            let figures = if record.moments.is_empty() { 3 } else { 4 };
            assert_eq!(numbers("Figure"), (1..=figures).collect::<Vec<_>>(), "{name}");
            assert_eq!(numbers("Table"), (1..=10).collect::<Vec<_>>(), "{name}");
        }
    }

    /// The cells of the row of one table that begins with this identifier, markup taken away.
    fn row(html: &str, caption: &str, id: &str) -> Vec<String> {
        let named = |t: &&str| t.split("</caption>").next().unwrap().contains(caption);
        let table = html.split("<table>").skip(1).find(named).unwrap_or_else(|| panic!("no {caption}"));
        let row = table.split("<tr>").find(|r| r.contains(&format!(">{id}</th>"))).unwrap_or_else(|| panic!("no {id}"));
        let text = |cell: &str| cell.split('>').nth(1).unwrap().split('<').next().unwrap().replace('\u{a0}', " ");
        row.split("<t").skip(1).map(text).collect()
    }

    #[test]
    fn a_device_is_told_with_what_it_must_break_and_what_it_can() {
        let html = whole_page(&sample::results(), &sample::record(4, true));
        let devices = |id| row(&html, "Protective devices", id);
        assert_eq!(
            devices("A.lead1+.fuse"),
            [
                "A.lead1+.fuse",
                "125 A",
                "0.17 % (0.09–0.28 %)",
                "9.13 kA",
                "20 kA",
                "54.4 V / 80 V",
                "4.2 ms",
                "310 ms",
                "✔ suffices"
            ]
        );
        let main = devices("main.breaker");
        assert_eq!((main[4].as_str(), main[8].as_str()), ("6 kA", "✖ breaking capacity too small"));
        let module = devices("A1.fuse");
        assert_eq!((module[7].as_str(), module[8].as_str()), ("not known", "? breaks it; conductor not known"));
        assert!(html.contains("by resistance alone") && html.contains("it is an upper figure"));
        assert!(html.contains("data and local codes govern"));
    }

    #[test]
    fn every_shortcoming_of_a_device_is_a_warning_in_the_finding() {
        let html = whole_page(&sample::weak_devices(), &sample::record(4, false));
        let finding = html.split("<section id=\"figures\"").next().unwrap();
        for words in [
            "Breaking capacity not stated: B1.fuse, A1.fuse, A2.fuse and 2 more",
            "Breaking capacity too small: main.breaker and B.lead1+.fuse (6 kA for 9.13 kA at worst)",
            "Direct voltage not stated: A1.fuse",
            "Direct voltage too low: A.lead1+.fuse (48 V for 54.4 V)",
            "Never opens at its prospective current: A.lead1-.fuse",
            "Conductor does not stand the fault until it opens: B.lead1-.fuse (310 ms for 2.1 s)",
        ] {
            assert!(finding.contains(&format!("<p class=\"warning\"><b>✖ </b>{words}")), "{words} in {finding}");
        }
        assert_eq!(
            row(&html, "Protective devices", "A1.fuse")[8],
            "✖ breaking capacity not stated; direct voltage not stated"
        );
    }

    #[test]
    fn a_hot_conductor_is_told_with_what_it_stands() {
        let html = whole_page(&sample::results(), &sample::record(4, true));
        let lead = row(&html, "Conductors with insulation data", "A.lead1+");
        assert_eq!(lead, ["A.lead1+", "75 °C", "78.6 °C", "0.31 % (0.21–0.44 %)", "31", "24 min"]);
        let jumper = row(&html, "Conductors with insulation data", "A.jumper1-2+");
        assert_eq!(jumper[5], "–");
        let quiet = whole_page(&sample::nothing_seen(), &sample::record(4, false));
        assert!(
            quiet.contains("The scenario has no protective device") && quiet.contains("No conductor has insulation")
        );
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
          3 more in elements.csv; 18 elements never seen over, each below 0.037 %
          with A1 out, A.lead1+ was over in 37 nights

        Conductors     over temperature in 0.31 % of nights (0.21–0.44 %); worst A.lead1+: reached 78.6 °C, stands 75 °C
        Devices        opened in 0.19 % of nights (0.11–0.30 %), most often A.lead1+.fuse: 0.17 % (0.09–0.28 %)
        ✖ breaking capacity too small: main.breaker (6 kA for 9.13 kA)
        Ride-through   5 % of nights end before 12.6 h (12.5–12.8 h); more than half last to the horizon.
                       Served to the horizon of 16 h in 68.7 % of nights (67.8–69.7 %).
                       3.4 Wh a night on average in shortfalls of up to 10 s, which end no night
        Dropouts       8.4 % of nights (7.8–9.0 %): cold 8.2 % (7.6–8.8 %), fault 0.29 % (0.19–0.42 %), other none seen (< 0.037 %)
        Cascades       0.12 % of nights (0.06–0.21 %), most often A1 (cold), then A2 (over-current), then A3 (over-current)
        Worst year     2018/19: overload 3.6 % (3.0–4.4 %), dropout 13.1 % (11.9–14.3 %)
        Worst night    trial 4711 (2018-12-31): A.lead1+ over for 42 min, 3 modules out, served for 11.2 h
                       bankwright run scenarios/refuge.toml --replay 4711
        "#);
    }

    #[test]
    fn devices_that_are_no_protection_have_a_line_with_a_cross() {
        let text = verdict::verdict(&sample::weak_devices(), REPLAY);
        let crosses: Vec<&str> = text.lines().filter(|l| l.starts_with("✖ ") && !l.starts_with("✖ missed")).collect();
        insta::assert_snapshot!(crosses.join("\n"), @r#"
        ✖ breaking capacity not stated: B1.fuse, A1.fuse, A2.fuse and 2 more (a short drives up to 10.1 kA through it)
        ✖ breaking capacity too small: main.breaker and B.lead1+.fuse (6 kA for 9.13 kA at worst)
        ✖ direct voltage not stated: A1.fuse, A2.fuse, A3.fuse and 2 more (a full module has 54.4 V)
        ✖ direct voltage too low: A.lead1+.fuse (48 V for 54.4 V)
        ✖ never opens at its prospective current: A.lead1-.fuse (a short drives up to 9.13 kA through it)
        ✖ conductor does not stand the fault until it opens: B.lead1-.fuse (310 ms for 2.1 s)
        "#);
        assert!(text.contains("Devices        opened in none of 10,000 nights (below 0.037 %)"));
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
            let (weak, others): (Vec<_>, Vec<_>) =
                text.lines().partition(|l| l.starts_with("✖ ") && !l.starts_with("✖ missed"));
            assert!(others.len() <= 25 && weak.len() <= 6, "{name}: {} lines and {}", others.len(), weak.len());
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
    fn devices_and_temperatures_read_back() {
        let results = sample::results();
        let of = |text: &str, id: &str| -> Vec<String> {
            text.lines().find(|l| l.starts_with(id)).unwrap().split(',').map(String::from).collect()
        };
        let text = table::devices(&results);
        let named = |id: &str, column: &str| {
            let k = text.lines().next().unwrap().split(',').position(|c| c == column).unwrap();
            of(&text, id)[k].clone()
        };
        assert_eq!(named("main.breaker,", "breaking_capacity_a"), "6000");
        assert_eq!(named("main.breaker,", "prospective_a"), "9123.4");
        assert_eq!(named("main.breaker,", "breaks"), "false");
        assert_eq!(named("main.breaker,", "highest_v"), "54.32");
        assert_eq!(named("A.lead1+.fuse,", "opens_after_s"), "0.0042");
        assert_eq!(named("A.lead1+.fuse,", "nights"), "17");
        assert_eq!(named("A1.fuse,", "conductor_stands_s"), "", "not known");
        let lead = of(&table::temperatures(&results), "A.lead1+,");
        assert_eq!(
            (&lead[1..4], &lead[6..]),
            (&["75", "78.64", "0.0031"].map(String::from)[..], &["31", "0.4"].map(String::from)[..])
        );
        let none = sample::nothing_seen();
        assert_eq!(table::devices(&none).lines().count(), 1, "the header alone");
        assert_eq!(table::temperatures(&none).lines().count(), 1, "the header alone");
    }

    #[test]
    fn a_night_has_a_temperature_of_each_conductor_with_insulation_data_and_of_no_other() {
        let text = table::record_csv(&sample::record(4, true));
        let header: Vec<&str> = text.lines().next().unwrap().split(',').collect();
        let warm: Vec<&&str> = header.iter().filter(|c| c.contains('.') && c.ends_with("_degc")).collect();
        assert_eq!(warm, [&"A.lead1+_degc", &"A.lead1-_degc", &"B.lead1+_degc", &"B.lead1-_degc"]);
        let first: Vec<&str> = text.lines().nth(1).unwrap().split(',').collect();
        let cell = |column: &str| first[header.iter().position(|c| *c == column).unwrap()].parse::<f64>().unwrap();
        assert!((cell("A.lead1+_degc") - (20.0 + cell("bus_a") / 8.0)).abs() < 1e-12);
    }

    /// Every column that a table has is told of, and no other.
    #[test]
    fn the_columns_are_those_that_are_described() {
        let described = include_str!("../output/README.md");
        let columns_of = |file: &str| -> Vec<String> {
            let mark = format!("\n### `{file}`\n");
            let section = described.split(&mark).nth(1).unwrap_or_else(|| panic!("{file} is not described"));
            let rows = section.split("\n#").next().unwrap().lines().filter_map(|l| l.strip_prefix("| `"));
            rows.map(|l| l.split("` |").next().unwrap().to_string()).collect()
        };
        for (file, text) in table::all(&sample::results()) {
            assert_eq!(columns_of(file), text.lines().next().unwrap().split(',').collect::<Vec<_>>(), "{file}");
        }
        let text = table::record_csv(&sample::record(1, false));
        let night = text.lines().next().unwrap().split(',').map(|c| match c.split_once('_') {
            Some(("A1", quantity)) => format!("<module>_{quantity}"),
            Some((id, quantity)) if id.contains('.') => format!("<conductor>_{quantity}"),
            _ => c.to_string(),
        });
        let mut night: Vec<String> = night.collect();
        night.dedup();
        assert_eq!(columns_of("night.csv"), night);
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
        for (figure, svg) in ["overload", "ride", "cascade", "night"].iter().zip(figures(&results, &record)) {
            folder.write(&format!("{name}-{figure}.svg"), svg.as_bytes()).unwrap();
        }
        println!("==== {name}\n{}", verdict::verdict(&results, REPLAY));
    }
}
