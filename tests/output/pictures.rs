//! Figures: what they say and that nothing is clipped.

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
fn where_cascades_are_more_frequent_the_first_title_says_so_first() {
    let svg = chart::overload(&sample::dark()).unwrap();
    let title = svg.split("</title>").next().unwrap();
    assert!(
        title.ends_with(
            "In 7.5 % of nights (6.9–8.1 %) one dropout triggered further trips. A.lead1+ is the element most often over \
             its rating: 1.23 % of nights (1.02–1.47 %)"
        ),
        "{title}"
    );
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
    assert!(svg.contains("In 0.12 % of nights (0.06–0.21 %) one dropout triggered further trips"));
    assert!(
        svg.contains("within 60 s after an earlier loss and would have had no cause to")
            && svg.contains("10,000 nights of 16 h")
    );
    let words: Vec<String> = markup::texts(&svg).into_iter().map(|t| t.3).collect();
    let at = |wanted: &str| words.iter().position(|w| w == wanted).unwrap_or_else(|| panic!("{wanted}: {words:?}"));
    assert!(at("any cascade") < at("A1 (cold) → A2 (over-current) → A3 (over-current)"));
    at("The bank went dead in 0.030\u{a0}% of nights (0.006–0.088\u{a0}%), typically 11 s after the first dropout.");
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
    let wanted: Vec<f64> = results.cascade.sequences.iter().take(10).map(|s| s.chance.estimate).collect();
    assert_eq!(bars.len(), wanted.len(), "ten are drawn");
    for (bar, estimate) in bars.iter().zip(&wanted) {
        assert!((bar / bars[0] - estimate / wanted[0]).abs() < 2.0 / bars[0], "{bars:?} for {wanted:?}");
    }
    assert!(svg.contains("Not drawn: 10 rarer sequences, in cascades.csv."));
}

#[test]
fn where_no_cascade_was_seen_the_bound_is_drawn() {
    let svg = chart::cascade(&sample::nothing_seen()).unwrap();
    assert!(svg.contains("In none of 10,000 nights (below 0.037 %) did a dropout trigger further trips"));
    assert!(svg.contains("none seen (&lt; 0.037 %)") && svg.contains("stroke-dasharray"));
    assert!(svg.contains("The bank went dead in none of 10,000 nights (below 0.037 %)."));
    assert!(!svg.contains("Time from the first dropout"), "there is no time to draw");
}

#[test]
fn a_long_night_stays_small() {
    let svg = night::chart::night(&sample_night::long_record()).unwrap();
    assert!(svg.len() < 600_000, "{} bytes", svg.len());
}

/// The line goes on beside a percentile's mark and then falls: words right of it are above it, by half their height at least.
#[test]
fn words_at_a_percentile_are_not_on_the_line() {
    let attribute = |tag: &str, name: &str| -> f64 {
        let from = format!(" {tag}");
        let from = from.split(&format!(" {name}=\"")).nth(1).unwrap().split('"').next().unwrap();
        from.parse().unwrap()
    };
    let mut seen = 0;
    for (name, results, _) in cases() {
        let svg = chart::ride_through(&results).unwrap();
        let marks: Vec<f64> = svg.split("<circle ").skip(1).map(|c| attribute(c, "cy")).collect();
        let labels = svg.split("<text ").filter(|t| t.contains(" ended by ") && t.contains("text-anchor=\"start\""));
        for (label, mark) in labels.zip(marks) {
            let y = attribute(label, "y");
            assert!(y <= mark - 80.0, "{name}: {y} beside {mark}");
            seen += 1;
        }
    }
    assert!(seen > 0);
}
