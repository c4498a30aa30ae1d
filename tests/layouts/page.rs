//! The page of a comparison: its markup, and that its figures are those of the comparison.

use super::proposed::proposal;
use super::{TINY, any_scenarios, candidates, checked, compared, nights};
use crate::output::markup;
use bankwright::output::kit::design::Provenance;
use bankwright::scenario::check::Checked;
use bankwright::study::compare::output::chart;
use bankwright::study::compare::output::page::{self, LayoutFigures, LayoutsInput};
use bankwright::study::compare::{Candidates, Comparison};
use bankwright::study::propose::output::{
    chart as proposal_chart, page::ProposalInput, page::proposal as proposal_page,
};
use bankwright::summary::Verdict;

const PROVENANCE: Provenance<'_> = Provenance {
    version: "bankwright 0.1.0",
    scenario_file: "tiny.toml",
    digest: DIGEST,
    files: &[],
    gaps: &[],
    from_memory: &[],
};
const DIGEST: &str = "5f0c6a3c1f7d4f3c9d2a9c0e3b1f8e6d7a4b2c1d0e9f8a7b6c5d4e3f2a1b0c9d";

fn made(text: &str) -> (Checked, Candidates, Comparison) {
    let checked = checked(text);
    let candidates = candidates(&checked);
    let comparison = compared(&candidates, &nights(&candidates, 100));
    (checked, candidates, comparison)
}

fn written(checked: &Checked, candidates: &Candidates, comparison: &Comparison) -> String {
    let figures = [chart::leads(comparison), chart::price(comparison), chart::hours(comparison)].map(Result::unwrap);
    page::layouts(&LayoutsInput {
        comparison,
        figures: LayoutFigures { leads: &figures[0], price: &figures[1], hours: &figures[2] },
        parts: &candidates.list.iter().map(|c| &c.parts).collect::<Vec<_>>(),
        not_modelled: &checked.scenario.left_out(),
        provenance: PROVENANCE,
    })
}

/// The cells of each row of the table with this caption, markup taken away.
fn rows(html: &str, caption: &str) -> Vec<Vec<String>> {
    let named = |t: &&str| t.split("</caption>").next().unwrap().contains(caption);
    let table = html.split("<table>").skip(1).find(named).unwrap_or_else(|| panic!("no {caption}"));
    let body = table.split("<tbody>").nth(1).unwrap().split("</tbody>").next().unwrap();
    let plain = |cell: &str| {
        let inner = cell.split_once('>').unwrap().1;
        let text: String = inner.split('<').map(|t| t.split_once('>').map_or(t, |(_, t)| t)).collect();
        text.replace('\u{a0}', " ")
    };
    let cells = |row: &str| {
        let marked = row.replace("<th", "\u{1}").replace("<td", "\u{1}");
        marked.split('\u{1}').skip(1).map(plain).collect()
    };
    body.split("<tr").skip(1).map(cells).collect()
}

/// Without targets and prices, and with names that are markup.
#[test]
fn any_comparison_makes_a_sound_page() {
    for text in any_scenarios() {
        let (checked, candidates, comparison) = made(&text);
        let html = written(&checked, &candidates, &comparison);
        markup::check(&html, "layouts");
        assert!(!html.contains("http:") && !html.contains("https:") && !html.contains("<script"));
        assert!(!html.contains("NaN") && !html.contains("inf ") && !html.contains("<odd>"));
        assert_eq!(html.matches("<h1").count(), 1);
        assert_eq!(html.matches("<figure").count(), 3);
        assert_eq!(html.matches("<table>").count(), html.matches("<caption>").count());
        for words in ["designer's aid, not an approval", "Local codes", "licensed and qualified persons", DIGEST] {
            assert!(html.contains(words), "{words}");
        }
    }
}

#[test]
fn the_tables_hold_what_was_compared() {
    let (checked, candidates, comparison) = made(TINY);
    let html = written(&checked, &candidates, &comparison);
    let table = rows(&html, "Layouts, least risk first");
    assert_eq!(table.len(), comparison.layouts.len());
    for (row, &k) in table.iter().zip(&comparison.ranking) {
        let l = &comparison.layouts[k];
        assert_eq!(row[0], l.name);
        // Rounded down, never up, to a tenth of an ampere.
        let exact = l.at_rest.limits[0].current_a.unwrap();
        let limit: f64 = row[3].parse().unwrap();
        assert!(limit <= exact + 1e-6 && exact - limit < 0.1 + 1e-6, "{row:?} {exact}");
        assert_eq!(row[7].replace(',', "").parse::<f64>().unwrap(), l.price.unwrap().round(), "{row:?}");
        let word = match l.verdict() {
            Verdict::Met => "✔ met",
            Verdict::Missed => "✖ missed: ",
            Verdict::NotDecided => "? not decided: ",
        };
        assert!(row[8].starts_with(word), "{row:?}");
    }
    let differences = rows(&html, "less every other");
    let all = &comparison.best_against_all;
    assert_eq!(differences.len(), all.len());
    for (row, d) in differences.iter().zip(all) {
        assert_eq!(row[0], comparison.layouts[d.second].name);
        if d.same_nights {
            assert_eq!(row[1], "the nights see no difference");
            continue;
        }
        assert_eq!(row[2..4], [d.overload_first_alone, d.overload_second_alone].map(|n| n.to_string()), "{row:?}");
        assert_eq!(row[4], if d.decided { "✔ yes" } else { "? no" }, "{row:?}");
    }
    // What would decide it holds for a pair alone, and only where more nights are asked than were run.
    let alone = rows(&html, "Each layout less the scenario as written");
    assert_eq!(alone.len(), comparison.against_first.len());
    for (row, d) in alone.iter().zip(&comparison.against_first).filter(|(_, d)| !d.same_nights) {
        let more = d.nights_to_decide.filter(|n| !d.decided && *n > comparison.trials);
        assert_eq!(row[4].starts_with("? no: about "), more.is_some(), "{row:?}");
    }
}

/// Counted from the verdicts of the layouts; each row has all of them.
#[test]
fn every_layout_is_counted_under_each_target() {
    let (checked, candidates, comparison) = made(TINY);
    let table = rows(&written(&checked, &candidates, &comparison), "How many layouts meet each target");
    let first = &comparison.layouts[0];
    assert_eq!(table.len(), first.targets.len() + usize::from(first.at_rest.limit_target.is_some()) + 1);
    for row in &table {
        let sum: usize = row[1..].iter().map(|n| n.parse::<usize>().unwrap()).sum();
        assert_eq!(sum, comparison.layouts.len(), "{row:?}");
    }
    let met = comparison.layouts.iter().filter(|l| l.verdict() == Verdict::Met).count();
    assert_eq!(table.last().unwrap()[..2], ["all together".to_owned(), met.to_string()]);
}

/// The sum on the page is that of its rows, and that of the layout.
#[test]
fn parts_on_the_page_add_up() {
    let (checked, candidates, comparison) = made(TINY);
    let html = written(&checked, &candidates, &comparison);
    let table = rows(&html, "Parts of &quot;as written&quot;");
    let price = |row: &Vec<String>| row[6].replace(',', "").parse::<f64>().unwrap_or(0.0);
    let (sum, parts) = table.split_last().unwrap();
    assert_eq!(sum[0], "Sum");
    assert_eq!(price(sum), parts.iter().map(price).sum::<f64>());
    assert_eq!(Some(price(sum)), comparison.layouts[0].price);
}

/// A row a layout, cheapest first, with what became of it; the parts are those of the proposed one.
#[test]
fn the_page_of_a_proposal_holds_every_layout() {
    for text in [TINY.to_owned(), TINY.replace("limit = \"70 A\"", "limit = \"7000 A\"")] {
        let checked = checked(&text);
        let candidates = candidates(&checked);
        let p = proposal(&checked);
        let parts: Vec<_> = candidates.list.iter().map(|c| (c.name.as_str(), &c.parts)).collect();
        let html = proposal_page(&ProposalInput {
            proposal: &p,
            figure: &proposal_chart::proposal(&p).unwrap(),
            parts: &parts,
            not_modelled: &checked.scenario.left_out(),
            provenance: PROVENANCE,
        });
        markup::check(&html, "proposal");
        assert!(!html.contains("http") && !html.contains("<script") && !html.contains("NaN"));
        assert!(html.contains("designer's aid, not an approval") && html.contains(DIGEST));
        let table = rows(&html, "Layouts, cheapest first");
        assert_eq!(table.len(), p.layouts.len());
        for (row, l) in table.iter().zip(&p.layouts) {
            assert_eq!(row[0], l.name);
            assert_eq!(row[1].replace(',', "").parse::<f64>().unwrap(), l.price.round());
            assert_eq!(row[2].replace(',', "").parse::<u64>().unwrap(), l.nights);
        }
        match p.proposed {
            None => assert!(html.contains("Nothing is proposed")),
            Some(k) => {
                let parts = rows(&html, &format!("Parts of &quot;{}&quot;", p.layouts[k].name));
                let sum = parts.last().unwrap()[6].replace(',', "");
                assert_eq!(sum.parse::<f64>().unwrap(), p.layouts[k].price);
            }
        }
    }
}
