//! What the terminal prints.

use super::*;
use bankwright::engine::module::State;
use bankwright::network::Demand;
use bankwright::output::run::words as finding;
use bankwright::study::point::output as point_table;
use bankwright::study::point::{Bus, ConductorPoint, DevicePoint, ModulePoint, Point, Question};

#[test]
fn the_usual_verdict() {
    insta::assert_snapshot!(verdict::verdict(&sample::results(), REPLAY), @r#"
    Hut on the pass: two stacks of four on one bus bar (invented)
    10,000 trials of 16 h from 540 different calendar nights, seed 1

    ✔ met          served for at least 12 h with probability 0.95: 97.3 % of nights (96.9–97.7 %)
    ✖ missed       any element over its rating with probability 0.001 at most: 1.71 % of nights (1.46–1.99 %)
    ✖ missed       safe up to 120.0 A with any 2 modules out: 116.2 A with A1 and A2 out, B.lead1+ binds

    Overload, any element over its rating for longer than 10 s: 1.71 % of nights (1.46–1.99 %)
      element     rated  nights over (95 % interval)  mean time over  greatest
      A.lead1+  160.0 A  1.23 % (1.02–1.47 %)                 13 min   172.8 A
      A.lead1-  160.0 A  1.19 % (0.98–1.43 %)                 13 min   172.8 A
      B.lead1+  160.0 A  0.41 % (0.29–0.56 %)                 13 min   172.8 A
      3 more in elements.csv; 18 elements never seen over, each below 0.037 %
      with A1 (cold) out, A.lead1+ was over in 37 nights

    Conductors     over temperature in 0.31 % of nights (0.21–0.44 %); worst A.lead1+: peaked at 78.6 °C (rated 75 °C)
    Devices        opened in 0.19 % of nights (0.11–0.30 %), most often A.lead1+.fuse: 0.17 % (0.09–0.28 %)
    ✖ breaking capacity too small: main.breaker (6 kA for 9.13 kA)
    Ride-through   5 % of nights end before 12.6 h (12.5–12.8 h); more than half last to the horizon.
                   Served to the horizon of 16 h in 68.7 % of nights (67.8–69.7 %).
                   Dips of up to 10 s cost 3.4 Wh a night on average; they end no night
    Dropouts       8.4 % of nights (7.8–9.0 %): cold 8.2 % (7.6–8.8 %), fault 0.29 % (0.19–0.42 %), other none seen (< 0.037 %)
    Cascades       In 0.12 % of nights (0.06–0.21 %) one dropout triggered further trips, most often A1 (cold), then A2 (over-current), then A3 (over-current)
                   the bank went dead in 0.030 % of nights (0.006–0.088 %), typically 11 s after the first dropout
    Worst year     2018/19: overload 3.6 % (3.0–4.4 %), dropout 13.1 % (11.9–14.3 %)
    Worst night    trial 4711 (2018-12-31): A.lead1+ over for 42 min, 3 modules out, served for 11.2 h
                   bankwright run scenarios/refuge.toml --replay 4711
    "#);
}

/// A limit that is bounded alone says so, and what would solve more.
#[test]
fn a_limit_that_is_not_decided_says_what_decides_it() {
    let text = verdict::verdict(&sample::all_ended(), REPLAY);
    let line = text.lines().find(|l| l.contains("safe up to")).unwrap();
    insta::assert_snapshot!(line, @"? not decided  safe up to 120.0 A with any 2 modules out: at least 116.2 A (worst set found: 131.0 A with A1 and A2 out, B.lead1+ binds; `limit --outages 2 --most-sets` solves more sets)");
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
fn cascades_more_frequent_than_overload_come_first() {
    let text = verdict::verdict(&sample::dark(), REPLAY);
    let at = |words: &str| text.find(words).unwrap_or_else(|| panic!("{words}: {text}"));
    assert!(at("✖ missed") < at("Cascades       In 7.5 % of nights") && at("Cascades") < at("Overload, any"));
    assert_eq!(text.matches("Cascades").count(), 1);
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
    Cascades       In none of 10,000 nights (below 0.037 %) did a dropout trigger further trips
                   the bank went dead in none of 10,000 nights (below 0.037 %)
    "#);
}

#[test]
fn every_case_is_short_and_free_of_what_is_not_a_number() {
    for (name, results, _) in cases() {
        let text = verdict::verdict(&results, REPLAY);
        // A line a target.
        let judged = |l: &&str| ["✔ met", "✖ missed", "? not decided"].iter().any(|word| l.starts_with(word));
        let lines = text.lines().filter(|l| !judged(l));
        let (weak, others): (Vec<_>, Vec<_>) = lines.partition(|l| l.starts_with("✖ "));
        assert!(others.len() <= 24 && weak.len() <= 6, "{name}: {} lines and {}", others.len(), weak.len());
        assert!(!text.contains("NaN") && !text.contains("inf"), "{name}: {text}");
        assert!(text.lines().all(|l| l == l.trim_end()), "{name}: blanks at an end of a line");
    }
}

fn point(steady: Option<f64>, devices: Vec<DevicePoint>) -> String {
    let module = ModulePoint {
        id: "A1".into(),
        current_a: 130.0,
        voltage_v: Some(51.2),
        state: State::InService,
        limit_a: Some(160.0),
        over: false,
    };
    let lead = ConductorPoint {
        id: "A.lead1+".into(),
        current_a: 130.0,
        rating_a: Some(125.0),
        over: true,
        drop_v: 0.0892,
        loss_w: 11.6,
        steady_temperature_c: steady,
    };
    let question = Question { demand: Demand::Current(130.0), soc: None, air: 25.0, without: vec![] };
    let bus = Bus { carried: true, voltage_v: Some(51.0), current_a: 130.0, power_w: 6630.0 };
    let point = Point { bus, modules: vec![module], conductors: vec![lead], devices };
    let text = point_table::table("one module", &question, &point);
    text.lines().skip(4).map(|line| line.trim_end().to_string() + "\n").collect()
}

#[test]
fn a_point_without_devices_and_insulation_has_no_word_of_them() {
    insta::assert_snapshot!(point(None, vec![]), @r#"
     element   current    limit  of limit  voltage or drop  state
     A1        130.0 A  160.0 A      81 %         51.200 V  in service
     A.lead1+  130.0 A  125.0 A     104 %          89.2 mV  ✖ OVER
    Over its limit: A.lead1+.
    "#);
}

#[test]
fn a_point_tells_when_a_device_opens_and_how_warm_a_conductor_becomes() {
    let device =
        |id: &str, opens_after_s| DevicePoint { id: id.into(), current_a: 130.0, rated_a: 100.0, opens_after_s };
    let devices = vec![device("A1.breaker", Some(420.0)), device("A.lead1+.fuse", None)];
    insta::assert_snapshot!(point(Some(71.43), devices), @r#"
     element   current    limit  of limit  voltage or drop  becomes  state
     A1        130.0 A  160.0 A      81 %         51.200 V           in service
     A.lead1+  130.0 A  125.0 A     104 %          89.2 mV  71.4 °C  ✖ OVER
    Over its limit: A.lead1+.

     device         current    rated  opens after  state
     A1.breaker     130.0 A  100.0 A        7 min  ✖ OPENS
     A.lead1+.fuse  130.0 A  100.0 A        never
    "#);
}

#[test]
fn a_long_cascade_is_told_in_short() {
    let mut results = sample::results();
    let losses = &mut results.cascade.sequences[0].losses;
    losses.extend(["B1 (cold)", "B2 (cold)"].map(String::from));
    let text = verdict::verdict(&results, REPLAY);
    assert!(
        text.contains("most often A1 (cold), then A2 (over-current), then A3 (over-current), then 2 more\n"),
        "{text}"
    );
}

/// Modules that were out for one cause are told together, others each with its own.
#[test]
fn what_was_out_before_an_overload_and_why() {
    let mut told = sample::results().chains;
    let [one, both, none] = [0, 1, 2].map(|k| finding::out(&told[k]));
    assert_eq!(one.as_deref(), Some("A1 (cold)"));
    assert_eq!(both.as_deref(), Some("A1 (cold) and B1 (fault)"));
    assert_eq!(none, None);
    told[1].why = vec!["cold".into(), "cold".into()];
    told[1].amiss = vec!["A.lead2+ open".into()];
    assert_eq!(finding::out_and_amiss(&told[1], "none"), "A1 and B1 (cold); A.lead2+ open");
}
