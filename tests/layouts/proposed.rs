//! What is proposed, against every layout run through every night.

use super::{TINY, candidates, checked, compared, nights};
use bankwright::progress::Progress;
use bankwright::scenario::check::Checked;
use bankwright::study::error::StudyError;
use bankwright::study::propose::output::{chart, words};
use bankwright::study::propose::{Fate, Proposal, solve};
use std::sync::atomic::AtomicBool;

fn with_limit(limit: &str, outages: usize) -> String {
    let text = TINY.replace("limit = \"70 A\"", &format!("limit = \"{limit}\""));
    text.replace("limit_outages = 1", &format!("limit_outages = {outages}"))
}

pub fn proposal(checked: &Checked) -> Proposal {
    solve(&candidates(checked), &Progress::none()).unwrap()
}

/// The cheapest of those whose limit and whose share of all nights meet the targets, by running all of it.
fn by_brute_force(checked: &Checked) -> Option<(String, f64)> {
    let candidates = candidates(checked);
    let c = compared(&candidates, &nights(&candidates, 100));
    let targets = checked.scenario.targets;
    let meets = |l: &&bankwright::study::compare::LayoutResult| {
        let limit = targets.limit.unwrap();
        let amps = l.at_rest.limits[limit.outages].current_a.unwrap();
        amps >= limit.current && l.overload.estimate <= targets.overload_probability.unwrap()
    };
    let met = c.layouts.iter().filter(meets);
    let cheapest = met.min_by(|a, b| a.price.unwrap().total_cmp(&b.price.unwrap()))?;
    Some((cheapest.name.clone(), cheapest.price.unwrap()))
}

/// Targets at which layouts fall to the limit, to the nights, and to the price.
#[test]
fn brute_force_finds_the_same() {
    let mut fates = Vec::new();
    let cases =
        [("70 A", 1, "0.4"), ("70 A", 1, "0.05"), ("110 A", 1, "0.4"), ("120 A", 0, "0.3"), ("130 A", 1, "0.4")];
    for (limit, outages, overload) in cases {
        let text = with_limit(limit, outages).replace("count = 400", "count = 1500");
        let text = text.replace("overload_probability = 0.4", &format!("overload_probability = {overload}"));
        let checked = checked(&text);
        let found = proposal(&checked);
        let told: Vec<String> =
            found.layouts.iter().map(|l| format!("{} {} {:?} {}", l.name, l.price, l.fate, l.nights)).collect();
        println!("{limit}, {overload}:\n  {}", told.join("\n  "));
        let svg = chart::proposal(&found).unwrap();
        for l in &found.layouts {
            assert!(svg.contains(&l.name) && svg.contains(words::word(l.fate)), "{} is not drawn as it is", l.name);
        }
        assert!(svg.contains("role=\"img\"") && svg.contains("proposal-title") && !svg.contains("NaN"));
        // A long reason goes on in a second line.
        assert!(!svg.contains('…'), "{limit}, {overload}: something is cut");
        let proposed = found.proposed.map(|k| (found.layouts[k].name.clone(), found.layouts[k].price));
        assert_eq!(proposed, by_brute_force(&checked), "{limit}, {overload}");
        fates.extend(found.layouts.iter().map(|l| l.fate));
    }
    for fate in [Fate::Proposed, Fate::RunnerUp, Fate::LimitMissed, Fate::TargetMissed, Fate::NotRun] {
        assert!(fates.contains(&fate), "no layout was {fate:?}");
    }
}

#[test]
fn what_a_screening_excludes_goes_through_no_night() {
    let found = proposal(&checked(&with_limit("120 A", 0)));
    for l in &found.layouts {
        let spared = matches!(l.fate, Fate::LimitMissed | Fate::NotRun);
        assert_eq!(l.nights == 0, spared, "{}", l.name);
        assert!(l.limit.as_ref().is_some_and(|v| v.met == (l.fate != Fate::LimitMissed)));
    }
    let s = found.screening;
    assert!(s.by_limit > 0 && s.by_price > 0);
    assert_eq!(s.nights_run + s.nights_spared, s.layouts * 400);
    assert!(s.nights_spared > s.nights_run, "{s:?}");
}

/// Layouts × looks × targets share 5 %: eight campaigns or fewer, three looks, one target of nights.
#[test]
fn looking_often_is_paid_for() {
    let checked = checked(TINY);
    let found = proposal(&checked);
    assert_eq!(found.looks, [25, 100, 400]);
    let left = found.layouts.iter().filter(|l| l.fate != Fate::LimitMissed);
    let candidates = candidates(&checked);
    let of = |name: &str| candidates.list.iter().find(|c| c.name == name).unwrap().campaign;
    let campaigns: std::collections::BTreeSet<usize> = left.map(|l| of(&l.name)).collect();
    assert!((found.confidence_each - (1.0 - 0.05 / (3.0 * campaigns.len() as f64))).abs() < 1e-12);
}

#[test]
fn nothing_to_meet_and_nothing_to_pay_are_told() {
    let error = |text: &str| solve(&candidates(&checked(text)), &Progress::none()).unwrap_err();
    let targets = "[targets]\noverload_probability = 0.4\nlimit = \"70 A\"\nlimit_outages = 1\n";
    assert!(TINY.contains(targets));
    assert!(matches!(error(&TINY.replace(targets, "")), StudyError::NoTargets));
    let bare: String = TINY.lines().filter(|l| !l.starts_with("price = ")).map(|l| format!("{l}\n")).collect();
    assert!(matches!(error(&bare), StudyError::NoPrice(name) if name == "as written"));
    let stop = AtomicBool::new(true);
    let stopped = solve(&candidates(&checked(TINY)), &Progress { stop: &stop, ..Progress::none() }).unwrap_err();
    assert!(stopped.is_interruption());
}
