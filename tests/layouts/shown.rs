//! A comparison in words, tables and pictures.

use super::{TINY, any_scenarios, candidates, checked, compared, nights};
use bankwright::output::compare::{chart, text, words as finding};
use bankwright::study::compare::Comparison;
use bankwright::study::parts::{self, Item};

fn comparison(text: &str) -> Comparison {
    let checked = checked(text);
    let candidates = candidates(&checked);
    compared(&candidates, &nights(&candidates, 100))
}

/// By definition: no layout of the edge is beaten in both, and every other is.
#[test]
fn the_efficient_edge_is_what_none_beats() {
    let c = comparison(TINY);
    let edge = finding::efficient(&c);
    let of = |k: usize| (c.layouts[k].price.unwrap(), c.layouts[k].overload.estimate);
    let beaten = |k: usize| {
        (0..c.layouts.len()).any(|j| {
            let ((price, risk), (other, less)) = (of(k), of(j));
            other <= price && less <= risk && (other < price || less < risk)
        })
    };
    assert!(edge.len() > 1 && edge.iter().all(|&k| !beaten(k)));
    for k in (0..c.layouts.len()).filter(|k| !edge.contains(k)) {
        assert!(beaten(k) || edge.iter().any(|&e| of(e) == of(k)), "{}", c.layouts[k].name);
    }
}

/// One that costs as much and has as much risk as another is not beaten by it.
#[test]
fn layouts_alike_on_the_edge_are_counted_and_told() {
    let mut c = comparison(TINY);
    let edge = finding::efficient(&c);
    let title = |n| format!("{n} of {} layouts are beaten by none in both price and risk", c.layouts.len());
    assert!(chart::price(&c).unwrap().contains(&title(edge.len())));
    let one_more = title(edge.len() + 1);
    let other = (0..c.layouts.len()).find(|k| !edge.contains(k)).unwrap();
    (c.layouts[other].price, c.layouts[other].overload) = (c.layouts[edge[0]].price, c.layouts[edge[0]].overload);
    let svg = chart::price(&c).unwrap();
    assert!(svg.contains(&one_more) && svg.contains(", and 1 alike"), "{svg}");
}

#[test]
fn a_sentence_says_whether_the_nights_suffice() {
    let c = comparison(TINY);
    let told = finding::sentences(&c);
    assert!(told[0].contains(&format!("\"{}\"", c.layouts[c.ranking[0]].name)), "{told:?}");
    let open = c.best_against_all.iter().filter(|d| !d.decided).count();
    assert!(
        open > 0 && open < 10 && told.iter().any(|t| t.contains(&format!("from {open} of the 10 others"))),
        "{told:?}"
    );
    assert!(told.iter().any(|t| t.starts_with("Cheapest that meets every target")), "{told:?}");
    // Ten thousand nights in which one is over and the other is not leave no doubt.
    let mut sure = c.clone();
    sure.best_against_all.iter_mut().for_each(|d| d.decided = true);
    assert!(finding::sentences(&sure).iter().any(|t| t.contains("nights suffice")));
}

#[test]
fn parts_add_up_to_the_price_of_their_layout() {
    let checked = checked(TINY);
    let candidates = candidates(&checked);
    let table =
        bankwright::output::parts::csv(candidates.list.iter().map(|c| (c.name.as_str(), &c.parts)), Some("EUR"));
    let mut reader = csv_reader(&table);
    let rows: Vec<csv_crate::StringRecord> = reader.records().map(Result::unwrap).collect();
    for candidate in &candidates.list {
        let own = rows.iter().filter(|r| r[0] == candidate.name);
        let sum: f64 = own.filter_map(|r| r[8].parse::<f64>().ok()).sum();
        assert_eq!(Some(sum), candidate.parts.price, "{}", candidate.name);
    }
}

/// Two, one a pole, from the first tap to the last; an ideal bus is a point.
#[test]
fn bars_are_parts_from_the_first_tap_to_the_last() {
    let lead = "leads = [{ cable = \"thin\", positive = 3, negative = 1";
    let taps =
        format!("{lead}, at = \"0.3 m\" }}, {{ cable = \"thin\", positive = 1, negative = 3, at = \"1.1 m\" }}]");
    let two = TINY.replace(&format!("{lead} }}]"), &taps);
    let (before, _) = two.split_once("[layouts]").unwrap();
    let bar = |load_at: &str| format!("{before}\n[bar]\nresistance = \"0.1 mΩ/m\"\nload_at = \"{load_at}\"\n");
    for (load_at, length) in [("0 m", 1.1), ("0.5 m", 0.8), ("1.4 m", 1.1)] {
        let list = parts::list(&checked(&bar(load_at)).scenario);
        let bars: Vec<_> = list.parts.iter().filter(|p| p.item == Item::Bar).collect();
        assert!(
            matches!(bars[..], [bar] if bar.count == 2 && (bar.length_m.unwrap() - length).abs() < 1e-12),
            "{bars:?}"
        );
        assert_eq!(list.unpriced, [Item::Bar, Item::Joint]);
    }
    let one_place = TINY.replace("[load]", "[bar]\nresistance = \"0.1 mΩ/m\"\n[load]");
    for ideal in [TINY, &one_place] {
        let list = parts::list(&checked(ideal).scenario);
        assert!(list.parts.iter().all(|p| p.item != Item::Bar));
    }
}

use ::csv as csv_crate;

fn csv_reader(text: &str) -> csv_crate::Reader<&[u8]> {
    csv_crate::Reader::from_reader(text.as_bytes())
}

/// With targets and prices, without, and of one layout that no grid has.
#[test]
fn pictures_are_drawn_of_any_comparison() {
    for scenario in any_scenarios() {
        let c = comparison(&scenario);
        for (name, figure) in [("leads", chart::leads(&c)), ("price", chart::price(&c)), ("hours", chart::hours(&c))] {
            let svg = figure.unwrap();
            assert!(svg.starts_with("<svg") && svg.trim_end().ends_with("</svg>"), "{name}");
            assert!(svg.contains("role=\"img\"") && svg.contains(&format!("{name}-title")), "{name}");
            assert!(!svg.contains("NaN") && !svg.contains("<odd>"), "{name}");
        }
        let told = text::text(&c);
        assert!(!told.contains("NaN") && told.contains("as written"), "{told}");
    }
}

/// Where no night can see a difference there is none, and no number of nights is asked for.
#[test]
fn the_same_to_every_night_is_no_want_of_nights() {
    let (before, _) = TINY.split_once("[layouts]").unwrap();
    let c = comparison(&format!("{before}[[layout]]\nname = \"dear\"\n[layout.module.box]\nprice = 1200\n"));
    let d = &c.best_against_all[0];
    assert!(d.same_nights && !d.decided && d.overload.low == 0.0 && d.overload.high == 0.0, "{d:?}");
    let told = finding::sentences(&c).join("\n");
    assert!(
        told.contains("Nothing that acts in a night differs between \"as written\" and 1 other layout.")
            && !told.contains("suffice"),
        "{told}"
    );
    assert!(told.contains("All 2 layouts alike: overload in "), "{told}");
    assert!(!text::text(&c).contains("of the ranking"), "{}", text::text(&c));
}

/// A type without a price among others that have one makes a layout look cheap.
#[test]
fn sums_that_leave_out_different_parts_are_not_compared() {
    let c = comparison(&TINY.replace("rating = \"150 A\"\nprice = 45", "rating = \"150 A\""));
    assert!(!c.prices_comparable && comparison(TINY).prices_comparable);
    assert!(finding::efficient(&c).is_empty());
    let told = finding::sentences(&c).join("\n");
    assert!(told.contains("Which is the cheapest cannot be said") && !told.contains("Cheapest"), "{told}");
    assert!(chart::price(&c).unwrap().contains("Prices cannot be compared"));
}

#[test]
fn what_every_sum_leaves_out_is_told() {
    let told = finding::sentences(&comparison(TINY)).join("\n");
    assert!(told.contains("Without a price, and left out of the sums: joint."), "{told}");
}

/// A ring for none seen stands below every layout that was seen over, or less risk would be drawn as more.
#[test]
fn none_seen_is_drawn_below_all_that_were_seen() {
    let mut c = comparison(TINY);
    let (never, once) = (bankwright::summary::interval::clopper_pearson(0, 400), 1);
    for (k, l) in c.layouts.iter_mut().enumerate() {
        l.overload = if k == 0 { bankwright::summary::interval::clopper_pearson(once, 400) } else { never };
    }
    let svg = chart::price(&c).unwrap();
    // Marks are circles: rings are open, the disc is filled; its centre is the higher one.
    let heights = |filled: bool| -> Vec<f64> {
        let circles = svg.split("<circle ").skip(1).map(|s| s.split("/>").next().unwrap());
        let of = circles
            .filter(|s| s.contains("r=\"4") || s.contains("r=\"5"))
            .filter(|s| s.contains("fill=\"none\"") != filled);
        of.map(|s| s.split("cy=\"").nth(1).unwrap().split('"').next().unwrap().parse().unwrap()).collect()
    };
    let (rings, highest) = (heights(false), heights(true).into_iter().fold(f64::INFINITY, f64::min));
    assert!(!rings.is_empty() && rings.iter().all(|y| *y > highest), "{rings:?} {highest}");
}

/// Layouts that share take-off, lead and pairs have a mark each, and names that do not fit say so.
#[test]
fn no_layout_is_hidden_in_a_picture() {
    let (before, _) = TINY.split_once("[layouts]").unwrap();
    let one = |k: usize| {
        let name = format!("a long name, the longest that a layout may have, number {k:04}");
        format!("[[layout]]\nname = \"{name}\"\n[layout.cable.thin]\nrating = \"{} A\"\n", 90 + k)
    };
    let c = comparison(&format!("{before}{}", (1..8).map(one).collect::<String>()));
    let svg = chart::leads(&c).unwrap();
    assert!(svg.contains("Marks above one another"));
    let hours = chart::hours(&c).unwrap();
    for k in 1..8 {
        assert!(hours.contains(&format!("{k:04}")), "{k}");
    }
}

/// The best was picked from all, so what it gains on the scenario as written has the interval of all together.
#[test]
fn the_gain_of_the_best_is_told_with_the_error_of_picking_it() {
    let mut c = comparison(TINY);
    let wide = bankwright::summary::Estimate::new(-0.125, -0.25, 0.5);
    let d = c.best_against_all.iter_mut().find(|d| d.second == 0).unwrap();
    (d.overload, d.decided) = (wide, false);
    let told = finding::sentences(&c).join("\n");
    assert!(told.contains("(−25 to +50) against the scenario as written: too close to call"), "{told}");
}
