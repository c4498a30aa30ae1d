//! The page: markup, numbering, words.

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
    let html = whole_page(&sample::results(), &sample_night::record(4, true));
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
    let mut record = sample_night::record(4, true);
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
    let html = whole_page(&sample::results(), &sample_night::record(4, true));
    let devices = |id| row(&html, "Protective devices", id);
    assert_eq!(
        devices("A.lead1+.fuse"),
        [
            "A.lead1+.fuse",
            "125 A",
            "0.17 % (0.09–0.28 %)",
            "9.13 kA",
            "20 kA",
            "80 V",
            "4.2 ms",
            "310 ms",
            "✔ suffices"
        ]
    );
    assert!(html.contains("the highest voltage of the bank, which each must break, is 54.4 V"));
    let main = devices("main.breaker");
    assert_eq!((main[4].as_str(), main[8].as_str()), ("6 kA", "✖ breaking capacity too small"));
    let module = devices("A1.fuse");
    assert_eq!((module[7].as_str(), module[8].as_str()), ("not known", "? breaks it; conductor not known"));
    assert!(html.contains("by resistance alone") && html.contains("it is an upper figure"));
    assert!(html.contains("data and local codes govern"));
}

#[test]
fn every_shortcoming_of_a_device_is_a_warning_in_the_finding() {
    let html = whole_page(&sample::weak_devices(), &sample_night::record(4, false));
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
    let html = whole_page(&sample::results(), &sample_night::record(4, true));
    let lead = row(&html, "Conductors with insulation data", "A.lead1+");
    assert_eq!(lead, ["A.lead1+", "75 °C", "78.6 °C", "0.31 % (0.21–0.44 %)", "31", "24 min"]);
    let jumper = row(&html, "Conductors with insulation data", "A.jumper1-2+");
    assert_eq!(jumper[5], "–");
    let quiet = whole_page(&sample::nothing_seen(), &sample_night::record(4, false));
    assert!(quiet.contains("The scenario has no protective device") && quiet.contains("No conductor has insulation"));
}

#[test]
fn the_finding_tells_of_cascades_and_of_the_dark() {
    let finding = |results: &Results| {
        let html = whole_page(results, &sample_night::record(4, true)).replace('\u{a0}', " ");
        html.split("<section id=\"figures\"").next().unwrap().to_owned()
    };
    let text = finding(&sample::dark());
    let lead = text.split("<p class=\"lead\">").nth(1).unwrap();
    assert!(lead.starts_with("In 7.5 % of nights (6.9–8.1 %) one dropout triggered further trips. A.lead1+ is"));
    let usual = finding(&sample::results());
    assert!(usual.contains("<p class=\"lead\">A.lead1+ is the element most often over its rating"));
    assert!(usual.contains(
        "<b>Cascades. </b>In 0.12 % of nights (0.06–0.21 %) one dropout triggered further trips, most often A1 (cold), \
         then A2 (over-current), then A3 (over-current). The bank went dead in 0.030 % of nights (0.006–0.088 %), \
         typically 11 s after the first dropout.</p>"
    ), "{usual}");
    // What was never seen has a bound.
    let quiet = finding(&sample::nothing_seen());
    assert!(quiet.contains(
        "<b>Cascades. </b>In none of 10,000 nights (below 0.037 %) did a dropout trigger further trips. The bank went \
         dead in none of 10,000 nights (below 0.037 %).</p>"
    ), "{quiet}");
    let mut cold = sample::nothing_seen();
    cold.cascade.dark_from_start = sample::share(120, cold.trials);
    assert!(finding(&cold).contains("(below 0.037 %); it was dead from the start in 1.20 % of nights ("));
}

#[test]
fn verdicts_are_words_with_symbols() {
    let html = whole_page(&sample::results(), &sample_night::record(4, true));
    for word in ["✖ missed", "✔ met"] {
        assert!(html.contains(word), "{word}");
    }
    assert!(html.contains("bankwright run scenarios/refuge.toml --replay 4711"));
}

#[test]
fn the_target_of_the_limit_is_judged_beside_those_of_the_nights() {
    let html = whole_page(&sample::results(), &sample_night::record(4, true));
    assert_eq!(
        row(&html, "Targets", "safe up to 120.0 A with any 2 modules out"),
        ["✖ missed", "safe up to 120.0 A with any 2 modules out", "116.2 A with A1 and A2 out, B.lead1+ binds"]
    );
    assert!(html.contains("simulated nights") && !page_of(&sample::nothing_seen()).contains("simulated nights"));
    let mut alone = sample::results();
    alone.targets.clear();
    assert!(!page_of(&alone).contains("nothing is judged"));
    assert!(!verdict::verdict(&alone, REPLAY).contains("nothing is judged"));
}

fn page_of(results: &bankwright::summary::Results) -> String {
    whole_page(results, &sample_night::record(4, true))
}
