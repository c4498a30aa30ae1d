//! What the terminal prints of a comparison.
//!
//! In: the comparison. Out: plain text: sentences, a table of the layouts, least risk first, and what decides the
//! ranking.

use crate::output::compare::{tables as csv, words};
use crate::output::kit::number;
use crate::output::limit::words as limit_words;
use crate::study::compare::{Comparison, LayoutResult};
use comfy_table::{CellAlignment, Table, presets};

/// Layouts that the table shows.
const SHOWN: usize = 25;
/// Characters of a name.
const NAME: usize = 44;

pub fn text(c: &Comparison) -> String {
    let heading = format!(
        "{}\n{} under the same {}, seed {}\n\n",
        c.scenario,
        number::counted(c.layouts.len() as u64, "layout", "layouts"),
        number::nights(c.trials, c.horizon_h, c.distinct_nights),
        c.seed
    );
    let sentences = words::sentences(c).join("\n");
    format!("{heading}{sentences}\n\n{}\n{}{}\n{}\n", table(c), more(c), neighbours(c), words::screening(c))
}

fn table(c: &Comparison) -> String {
    let mut table = Table::new();
    table.load_style(presets::NOTHING);
    table.set_header([
        "",
        "layout",
        if c.exact { "nights over" } else { "nights over (95 % interval)" },
        "served",
        "limit",
        "one out",
        "loss",
        "drop",
        "price",
        "targets",
    ]);
    for (rank, &k) in c.ranking.iter().enumerate().take(SHOWN) {
        let l = &c.layouts[k];
        table.add_row(row(c, rank, l));
    }
    for column in table.column_iter_mut().skip(4) {
        column.set_cell_alignment(CellAlignment::Right);
    }
    table.to_string().lines().map(|line| format!("{}\n", line.trim_end())).collect()
}

fn row(c: &Comparison, rank: usize, l: &LayoutResult) -> [String; 10] {
    let at = &l.at_rest.at_load;
    let carried = |text: String| if at.carried { text } else { number::NONE.to_owned() };
    [
        format!("{}.", rank + 1),
        shortened(&l.name),
        number::frequency_short(&l.overload),
        number::served_short(&l.ride_through_met),
        limit(l, 0),
        limit(l, 1),
        carried(format!("{} W", number::significant(at.loss_w, 3))),
        carried(format!("{} mV", number::significant(at.drop_v * 1e3, 3))),
        number::money(l.price, c.currency.as_deref()),
        csv::word(l.verdict()).to_owned(),
    ]
}

/// The greatest safe discharge current with exactly so many modules out, never told higher than it is.
pub fn limit(l: &LayoutResult, outages: usize) -> String {
    let Some(row) = l.at_rest.limits.iter().find(|row| row.outages == outages) else { return number::NONE.to_owned() };
    let at_least = if row.exact { "" } else { "≥ " };
    let shown = |amps: f64| format!("{at_least}{}", number::current(limit_words::rounded_down(amps, 10.0)));
    row.current_a.map_or(number::NONE.to_owned(), shown)
}

fn shortened(name: &str) -> String {
    match name.char_indices().nth(NAME) {
        Some((at, _)) => format!("{}…", &name[..at]),
        None => name.to_owned(),
    }
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
