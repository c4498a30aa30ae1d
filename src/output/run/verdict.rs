//! What the terminal prints at the end of a run: the designer's verdict.
//!
//! In: the results document, and the command that replays a night, but for its number.
//! Out: plain text of about twenty lines, the same for the same results.

use crate::output::kit::number;
use crate::output::kit::words::{EXACT, verdict_mark};
use crate::output::run::{tables, words};
use crate::study::limit::output::words as limit_words;
use crate::summary::Results;
use std::fmt::Write;

/// Elements, and chains, that the terminal shows.
const SHOWN_ELEMENTS: usize = 3;
const SHOWN_CHAINS: usize = 1;
/// Goes on under a line that begins with `Ride-through` or another of its kind.
const BELOW: &str = "\n               ";

/// `replay` is completed by a trial number: `bankwright replay refuge.toml --trial`.
pub fn verdict(results: &Results, replay: &str) -> String {
    // What is more frequent comes first.
    let leading = if words::cascades_lead(results) { cascades(results) + "\n" } else { String::new() };
    let following = if leading.is_empty() { cascades(results) } else { String::new() };
    let sections = [
        heading(results),
        targets(results),
        leading,
        overloads(results),
        chains(results),
        temperature(results),
        devices(results),
        ride_through(results),
        dropouts(results),
        following,
        worst_year(results),
        worst_night(results, replay),
        failures(results),
    ];
    let mut text: String = sections.concat();
    if text.ends_with("\n\n") {
        text.pop();
    }
    text
}

fn heading(r: &Results) -> String {
    let exact = if r.exact { format!("{}\n", EXACT) } else { String::new() };
    format!(
        "{}\n{} of {} from {}, seed {}\n{exact}\n",
        r.scenario,
        number::counted(r.trials, "trial", "trials"),
        number::hours(r.horizon_h),
        number::counted(r.nights.distinct, "calendar night", "different calendar nights"),
        r.seed
    )
}

fn targets(r: &Results) -> String {
    let mut text = String::new();
    for target in &r.targets {
        let (symbol, word) = verdict_mark(target.verdict);
        let _ = writeln!(text, "{symbol} {word:<12} {}", words::target(target, r.trials));
    }
    if let Some(target) = &r.limit_target {
        let (symbol, word) = verdict_mark(target.verdict);
        let (wanted, safe, set) = (limit_words::wanted(target), limit_words::safe(target), limit_words::in_set(target));
        let _ = writeln!(text, "{symbol} {word:<12} {wanted}: {safe} {set}");
    }
    if text.is_empty() {
        text.push_str("no targets in the scenario: nothing is judged\n");
    }
    text + "\n"
}

fn overloads(r: &Results) -> String {
    let over = words::overloaded(r);
    let hold = number::duration(r.hold_s / 3600.0);
    let mut text = format!(
        "Overload, any element over its rating for longer than {hold}: {}\n",
        number::frequency(&r.overload.any, r.trials)
    );
    if !over.is_empty() {
        text.push_str(&element_table(r, &over[..over.len().min(SHOWN_ELEMENTS)]));
    }
    text + &others(r, over.len().saturating_sub(SHOWN_ELEMENTS))
}

/// Elements that are not in the table, in one line.
fn others(r: &Results, more: usize) -> String {
    let mut parts = Vec::new();
    if more > 0 {
        parts.push(format!("{more} more in elements.csv"));
    }
    let never = words::never_over(r);
    if !never.is_empty() {
        parts.push(format!(
            "{} never seen over{}",
            number::counted(never.len() as u64, "element", "elements"),
            words::each_below(&never)
        ));
    }
    if parts.is_empty() { String::new() } else { format!("  {}\n", parts.join("; ")) }
}

fn element_table(r: &Results, elements: &[&crate::summary::ElementResult]) -> String {
    let lines = tables::elements(r).to_lines(elements.iter().map(|e| ("", *e)));
    lines.lines().fold(String::new(), |text, line| text + " " + line + "\n")
}

fn chains(r: &Results) -> String {
    let mut text = String::new();
    for sequence in words::sequences(r).iter().take(SHOWN_CHAINS) {
        let _ = writeln!(text, "  {}", words::sequence(sequence));
    }
    text + "\n"
}

/// Nothing where no conductor has insulation data.
fn temperature(r: &Results) -> String {
    words::over_temperature(r).map_or_else(String::new, |text| format!("Conductors     {text}\n"))
}

/// Nothing where there is no device.
fn devices(r: &Results) -> String {
    let opened = words::devices_opened(r).map_or_else(String::new, |text| format!("Devices        {text}\n"));
    words::device_faults(r).iter().fold(opened, |text, fault| format!("{text}✖ {fault}\n"))
}

fn ride_through(r: &Results) -> String {
    let brief = words::brief_shortfalls(r).map_or_else(String::new, |text| format!("{BELOW}{text}"));
    format!("Ride-through   {}{brief}\n", words::ride_through(r).join(BELOW))
}

fn dropouts(r: &Results) -> String {
    let [(_, any), causes @ ..] = words::dropouts(r);
    let mut text = format!("Dropouts       {}", number::frequency(&any, r.trials));
    if any.estimate > 0.0 {
        let causes = causes.map(|(cause, e)| format!("{cause} {}", number::frequency_short(&e)));
        text = text + ": " + &causes.join(", ");
    }
    text + "\n"
}

/// Trips that a dropout triggered, and how soon the bank was dead; where none was seen, the bounds.
fn cascades(r: &Results) -> String {
    let first = r.cascade.sequences.first();
    let first = first.map_or_else(String::new, |first| format!(", most often {}", words::cascade(first)));
    format!("Cascades       {}{first}{BELOW}{}\n", words::triggered(r), words::dark(r))
}

fn worst_year(r: &Results) -> String {
    let worst = r.nights.years.iter().find(|y| Some(&y.year) == r.nights.worst_year.as_ref());
    worst.map_or_else(String::new, |y| {
        format!(
            "Worst year     {}: overload {}, dropout {}\n",
            y.year,
            number::frequency_short(&y.overload),
            number::frequency_short(&y.dropout)
        )
    })
}

fn worst_night(r: &Results, replay: &str) -> String {
    r.worst
        .first()
        .map_or_else(String::new, |w| format!("Worst night    {}{BELOW}{replay} {}\n", words::worst_night(w), w.trial))
}

fn failures(r: &Results) -> String {
    if r.quality.failed_trials == 0 {
        return String::new();
    }
    format!(
        "\n✖ {} could not be finished by the program: rely on no figure above until that is understood\n",
        number::counted(r.quality.failed_trials, "trial", "trials")
    )
}
