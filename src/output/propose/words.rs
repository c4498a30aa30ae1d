//! What is proposed, in words and as a table.
//!
//! In: the proposal. Out: sentences, plain text, CSV.

use crate::output::compare::obstacle::{self, Judgement};
use crate::output::compare::tables::priced_in;
use crate::output::compare::words as compare_words;
use crate::output::kit::number;
use crate::output::kit::table::{Cell, Look, Table};
use crate::output::kit::words::{EXACT, class, verdict_mark};
use crate::output::limit::words as limit_words;
use crate::study::propose::{Fate, Judged, Proposal};
use crate::summary::{Target, TargetVerdict, Verdict};
use maud::html;

/// Layouts that the table shows.
const SHOWN: usize = 40;

/// What is proposed, how sure that is, and what was spared.
pub fn sentences(p: &Proposal) -> Vec<String> {
    let mut told = vec![proposed(p)];
    let runners: Vec<String> = p.layouts.iter().filter(|l| l.fate == Fate::RunnerUp).map(|l| named(p, l)).collect();
    if !runners.is_empty() {
        told.push(format!("Next: {}.", runners.join("; ")));
    }
    told.extend(reservations(p));
    told
}

/// How sure that is, and what was spared.
pub fn reservations(p: &Proposal) -> Vec<String> {
    let mut told = Vec::new();
    let open = cheaper_and_open(p) as u64;
    if open > 0 {
        let layouts = match p.proposed {
            Some(_) => number::counted(open, "cheaper layout is", "cheaper layouts are"),
            None => number::counted(open, "layout is", "layouts are"),
        };
        told.push(format!("{layouts} not decided: with more nights one may turn out to meet the targets."));
    }
    told.extend(obstacles(p));
    told.push(looks(p));
    told.push(screening(p));
    told.extend(compare_words::unpriced(&p.unpriced));
    told
}

fn named(p: &Proposal, l: &Judged) -> String {
    format!("\"{}\", {}", l.name, number::money(Some(l.price), p.currency.as_deref()))
}

fn proposed(p: &Proposal) -> String {
    match p.proposed {
        Some(k) => format!("Proposed: {}, the cheapest that is shown to meet every target.", named(p, &p.layouts[k])),
        None => {
            let of = |fate| p.layouts.iter().filter(|l| l.fate == fate).count() as u64;
            compare_words::none_meets_every_target(p.layouts.len() as u64, of(Fate::NotDecided))
        }
    }
}

/// Undecided ones that cost less than what is proposed.
pub fn cheaper_and_open(p: &Proposal) -> usize {
    let before = p.proposed.unwrap_or(p.layouts.len());
    p.layouts[..before].iter().filter(|l| l.fate == Fate::NotDecided).count()
}

/// What stands in the way, where it is sure that no layout meets every target.
fn obstacles(p: &Proposal) -> Vec<String> {
    let missed = |l: &Judged| matches!(l.fate, Fate::LimitMissed | Fate::TargetMissed);
    if !p.layouts.iter().all(missed) {
        return Vec::new();
    }
    // Of layouts that the limit excludes no night was run: nothing is known of their nights.
    let judged: Vec<Judgement<'_>> = p.layouts.iter().map(judgement).collect();
    obstacle::obstacles(&judged, |_| false)
}

fn judgement(l: &Judged) -> Judgement<'_> {
    Judgement {
        name: &l.name,
        nights: l.nights,
        targets: &l.targets,
        limit: l.limit.as_ref(),
        ended: l.ended,
        most_often_over: l.most_often_over.as_deref(),
    }
}

fn looks(p: &Proposal) -> String {
    if p.exact {
        return format!("{EXACT} One night decides a layout.");
    }
    let looks: Vec<String> = p.looks.iter().map(|n| number::count(*n)).collect();
    format!(
        "Looked at after {} nights; intervals are widened so that all looks at all layouts hold together at {} %.",
        looks.join(", "),
        number::significant((1.0 - p.error) * 100.0, 3)
    )
}

fn screening(p: &Proposal) -> String {
    let s = &p.screening;
    let out = |n: u64, why: &str| (n > 0).then(|| format!("{} {why}", number::counted(n, "layout", "layouts")));
    let by = [out(s.by_limit, "ruled out by the exact limit"), out(s.by_price, "not run for a higher price")];
    let by: Vec<String> = by.into_iter().flatten().collect();
    let early = if by.is_empty() { "No layout was ruled out early".to_owned() } else { by.join(", ") };
    let (run, all) = (number::count(s.nights_run), number::count(s.nights_run + s.nights_spared));
    format!("{early}; {run} of {all} nights were needed.")
}

/// What became of a layout, in a word.
pub fn word(fate: Fate) -> &'static str {
    match fate {
        Fate::Proposed => "proposed",
        Fate::RunnerUp => "runner-up",
        Fate::LimitMissed => "limit missed",
        Fate::TargetMissed => "target missed",
        Fate::NotDecided => "not decided",
        Fate::NotRun => "not run",
    }
}

/// The symbol beside the word.
pub fn fate_mark(fate: Fate) -> &'static str {
    let verdict = match fate {
        Fate::Proposed | Fate::RunnerUp => Verdict::Met,
        Fate::LimitMissed | Fate::TargetMissed => Verdict::Missed,
        Fate::NotDecided => Verdict::NotDecided,
        Fate::NotRun => return number::NONE,
    };
    verdict_mark(verdict).0
}

/// Why a layout stands where it does.
pub fn reason(l: &Judged) -> String {
    let of = |verdict| l.targets.iter().find(|t| t.verdict == verdict);
    match l.fate {
        Fate::Proposed | Fate::RunnerUp => "meets every target".to_owned(),
        Fate::NotRun => "dearer than those found".to_owned(),
        Fate::LimitMissed => limit(l),
        Fate::TargetMissed => of(Verdict::Missed).map_or_else(String::new, told),
        Fate::NotDecided => of(Verdict::NotDecided).map_or_else(|| limit(l), told),
    }
}

fn told(target: &TargetVerdict) -> String {
    let got = number::frequency_narrow(&target.got);
    let got = if target.target == Target::RideThrough { number::as_served(&got) } else { got };
    format!("{got}; wanted: {}", target.wanted)
}

fn limit(l: &Judged) -> String {
    let Some(v) = &l.limit else { return String::new() };
    format!("{} of {} {}", limit_words::safe(v), number::current(v.wanted_a), limit_words::in_set(v))
}

/// What the terminal prints.
pub fn text(p: &Proposal) -> String {
    let rows = table(p).to_lines(p.layouts.iter().take(SHOWN));
    let more = p.layouts.len().saturating_sub(SHOWN);
    let more = if more > 0 { format!("{more} more in proposal.csv\n") } else { String::new() };
    format!("{}\n{}\n\n{rows}{more}", p.scenario, sentences(p).join("\n"))
}

/// One row a layout, cheapest first.
pub fn csv(p: &Proposal) -> String {
    table(p).to_csv(&p.layouts)
}

/// What there is to tell of a layout.
pub fn table(p: &Proposal) -> Table<'_, &Judged> {
    let currency = p.currency.as_deref();
    let became = |l: &Judged| format!("{} {}", fate_mark(l.fate), word(l.fate));
    Table::<&Judged>::new()
        .column(["layout"], |l| &l.name)
        .people("layout", Look::Name, |l| l.name.clone())
        .column(["price"], |l| l.price)
        .terminal("price", Look::Number, move |l| number::money(Some(l.price), currency))
        .page(&priced_in("Price", currency), Look::Number, |l| number::money(Some(l.price), None))
        .column(["currency"], move |_| currency)
        .column(["fate"], |l| word(l.fate))
        .column(["nights"], |l| l.nights)
        .people("nights", Look::Number, |l| number::count(l.nights))
        .for_people()
        .terminal("", Look::Words, became)
        .page("What became of it", Look::Words, move |l| {
            let look = match l.fate {
                Fate::Proposed | Fate::RunnerUp => Verdict::Met,
                Fate::LimitMissed | Fate::TargetMissed => Verdict::Missed,
                Fate::NotDecided | Fate::NotRun => Verdict::NotDecided,
            };
            Cell::looking(format!("status {}", class(look)), html! { (became(l)) })
        })
        .column(["why"], reason)
        .people("why", Look::Words, reason)
}
