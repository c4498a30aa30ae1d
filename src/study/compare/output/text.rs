//! What the terminal prints of a comparison.
//!
//! In: the comparison. Out: plain text: sentences, a table of the layouts, least risk first, and what decides the
//! ranking.

use crate::output::kit::number;
use crate::study::compare::Comparison;
use crate::study::compare::output::{tables, words};

/// Layouts that the table shows.
const SHOWN: usize = 25;

/// What the terminal prints.
pub fn text(c: &Comparison) -> String {
    let heading = format!(
        "{}\n{} under the same {}, seed {}\n\n",
        c.scenario,
        number::counted(c.layouts.len() as u64, "layout", "layouts"),
        number::nights(c.trials, c.horizon_h, c.distinct_nights),
        c.seed
    );
    let table = tables::layouts(c).to_lines(tables::ranked(c).take(SHOWN));
    let sentences = words::sentences(c).join("\n");
    format!("{heading}{sentences}\n\n{}\n{}{}\n{}\n", table, more(c), neighbours(c), words::screening(c))
}

fn more(c: &Comparison) -> String {
    match c.ranking.len().saturating_sub(SHOWN) {
        0 => String::new(),
        n => format!("{} in layouts.csv\n", number::counted(n as u64, "more", "more")),
    }
}

/// How many steps of the ranking are decided.
fn neighbours(c: &Comparison) -> String {
    let steps = || c.neighbours.iter().filter(|d| !d.same_nights);
    if steps().all(|d| d.overload_first_alone + d.overload_second_alone == 0) && steps().count() > 0 {
        return "No night tells a layout from the next of this ranking; of equals the more often served, then the cheaper \
                comes first.\n"
            .to_owned();
    }
    let decided = steps().filter(|d| d.decided).count();
    let first = steps().find(|d| !d.decided);
    let open = first.map_or_else(String::new, |d| {
        let apart = d.overload_first_alone + d.overload_second_alone;
        let name = |k: usize| &c.layouts[k].name;
        format!(
            "; the first that is not: \"{}\" before \"{}\", with {}",
            name(d.first),
            name(d.second),
            number::counted(apart, "night that differs", "nights that differ")
        )
    });
    match steps().count() as u64 {
        0 => String::new(),
        _ if c.exact => String::new(),
        n => format!(
            "Decided, each at 95 %: {decided} of {} of the ranking{open}.\n",
            number::counted(n, "step", "steps")
        ),
    }
}
