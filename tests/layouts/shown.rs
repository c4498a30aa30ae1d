//! A comparison in words, tables and pictures.

use super::{TINY, checked, field, nights};
use bankwright::output::chart;
use bankwright::output::compare::{csv, finding, text};
use bankwright::study::compare::{Comparison, compare};

fn comparison(text: &str) -> Comparison {
    let checked = checked(text);
    let field = field(&checked);
    compare(&field, &nights(&field, 100), 1).unwrap()
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

#[test]
fn a_sentence_says_whether_the_nights_suffice() {
    let c = comparison(TINY);
    let told = finding::sentences(&c);
    assert!(told[0].contains(&format!("\"{}\"", c.layouts[c.ranking[0]].name)), "{told:?}");
    let open = c.best_against_all.iter().filter(|d| !d.decided).count();
    assert!(open > 0 && told.iter().any(|t| t.contains(&format!("tell it from {open} of the 10 others"))), "{told:?}");
    assert!(told.iter().any(|t| t.starts_with("Cheapest that meets every target")), "{told:?}");
    // Ten thousand nights in which one is over and the other is not leave no doubt.
    let mut sure = c.clone();
    sure.best_against_all.iter_mut().for_each(|d| d.decided = true);
    assert!(finding::sentences(&sure).iter().any(|t| t.contains("nights suffice")));
}

#[test]
fn parts_add_up_to_the_price_of_their_layout() {
    let checked = checked(TINY);
    let field = field(&checked);
    let table = csv::parts(field.candidates.iter().map(|c| (c.name.as_str(), &c.parts)), Some("EUR"));
    let mut reader = csv_reader(&table);
    let rows: Vec<csv_crate::StringRecord> = reader.records().map(Result::unwrap).collect();
    for candidate in &field.candidates {
        let own = rows.iter().filter(|r| r[0] == candidate.name);
        let sum: f64 = own.filter_map(|r| r[8].parse::<f64>().ok()).sum();
        assert_eq!(Some(sum), candidate.parts.price, "{}", candidate.name);
    }
}

use ::csv as csv_crate;

fn csv_reader(text: &str) -> csv_crate::Reader<&[u8]> {
    csv_crate::Reader::from_reader(text.as_bytes())
}

/// With targets and prices, without, and of one layout that no grid has.
#[test]
fn pictures_are_drawn_of_any_comparison() {
    let bare: String = TINY.lines().filter(|l| !l.starts_with("price = ")).map(|l| format!("{l}\n")).collect();
    let (before, _) = bare.split_once("[targets]").unwrap();
    let odd = format!(
        "{before}\n[[layout]]\nname = \"<odd> & one\"\n[layout.stack.A]\n\
         leads = [{{ cable = \"thin\", positive = 2, negative = 1 }}]\n"
    );
    for scenario in [TINY.to_owned(), before.to_owned() + "[[layout]]\nname = \"twin\"\n", odd] {
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
