//! The tables of a run: what each column is called, what it says to programs and what to people.
//!
//! In: the results document. Out: tables, and the CSV files made of them.

mod cells;
mod protection;

pub use protection::{devices, temperatures};

use crate::output::kit::number;
use crate::output::kit::table::{Look, Table};
use crate::output::run::words::{self, Cause, Intervals};
use crate::summary::{Chain, ElementResult, Estimate, Results, Sequence, WorstNight, YearResult};
use cells::{ESTIMATE, mean_time, short};
use maud::html;

/// Every table of a run: file name and text.
pub fn all(r: &Results) -> Vec<(&'static str, String)> {
    let modules = r.overload.modules.iter().map(|e| ("module", e));
    let conductors = r.overload.conductors.iter().map(|e| ("conductor", e));
    let hot = r.over_temperature.iter().flat_map(|o| &o.conductors);
    let opened = r.device_opened.iter().flat_map(|o| &o.devices);
    vec![
        ("elements.csv", elements(r).to_csv(modules.chain(conductors))),
        ("ride_through.csv", ride_through(r)),
        ("dropouts.csv", dropouts(r).to_csv(dropped(r))),
        ("temperatures.csv", temperatures(r).to_csv(hot)),
        ("devices.csv", devices(r).to_csv(opened)),
        ("chains.csv", chains(r).to_csv(&r.chains)),
        ("cascades.csv", cascades(r).to_csv(&r.cascade.sequences)),
        ("years.csv", years(r).to_csv(&r.nights.years)),
        ("worst_nights.csv", worst_nights("").to_csv(&r.worst)),
    ]
}

/// Every module and conductor, each after its kind: how often it was over, and its greatest current.
pub fn elements(r: &Results) -> Table<'_, (&'static str, &ElementResult)> {
    let often = match words::intervals(r) {
        Intervals::None => "nights over",
        Intervals::Trials => "nights over (95 % interval)",
        Intervals::TrialsAndNights => "nights over (95 % by trials)",
    };
    let frequency = |e: &ElementResult| number::frequency_short(&words::probability(e));
    Table::<(&'static str, &ElementResult)>::new()
        .column(["id"], |(_, e)| &e.id)
        .people("element", Look::Id, |(_, e)| e.id.clone())
        .column(["kind"], |(kind, _)| kind)
        .column(["rating_a"], |(_, e)| e.rating_a)
        .terminal("rated", Look::Number, |(_, e)| number::rating(e.rating_a))
        .page("Rated", Look::Number, |(_, e)| {
            let charge = e.charge_rating_a.map_or_else(String::new, |a| format!(" / {}", number::current(a)));
            number::rating(e.rating_a) + &charge
        })
        .column(["charge_rating_a"], |(_, e)| e.charge_rating_a)
        .column(ESTIMATE, |(_, e)| words::probability(e))
        .terminal(often, Look::Whole, move |(_, e)| frequency(e))
        .page(&words::with_interval(r, "Nights over"), Look::Whole, move |(_, e)| {
            if words::rated(e) { frequency(e) } else { "not judged".into() }
        })
        .column(["nights"], |(_, e)| e.nights)
        .page("Nights", Look::Number, |(_, e)| number::count(e.nights))
        .column(["mean_time_over_h"], |(_, e)| e.mean_time_over_h)
        .people("mean time over", Look::Number, |(_, e)| mean_time(e.nights, e.mean_time_over_h))
        .column(["greatest_a"], |(_, e)| e.greatest_a)
        .people("greatest", Look::Number, |(_, e)| number::current(e.greatest_a))
        .column(["trial"], |(_, e)| e.greatest_trial)
        .column(["at_h"], |(_, e)| e.greatest_at_h)
        .page("in trial, after", Look::Number, |(_, e)| {
            format!("{}, {}", e.greatest_trial, number::duration(e.greatest_at_h))
        })
        .column(["low_by_night", "high_by_night"], |(_, e)| e.by_night)
}

/// The elements most often over their rating, with what was out then.
pub fn worst_elements(r: &Results) -> Table<'_, &ElementResult> {
    let after = |e: &ElementResult| match r.chains.iter().find(|c| c.over == e.id) {
        Some(c) => {
            let out = words::out_and_amiss(c, "no module");
            format!("{out}: {}", number::counted(c.nights, "night", "nights"))
        }
        None => number::NONE.into(),
    };
    Table::<&ElementResult>::new()
        .on_page("Element", Look::Id, |e| e.id.as_str())
        .on_page("Rated", Look::Number, |e| number::rating(e.rating_a))
        .on_page(&words::with_interval(r, "Nights over"), Look::Whole, |e| {
            number::frequency_short(&words::probability(e))
        })
        .on_page("Most often with these out", Look::Words, after)
        .on_page("Greatest current", Look::Number, |e| number::current(e.greatest_a))
}

/// For each quarter hour, the number of nights whose service ended in it, and the share still served at its end.
fn ride_through(r: &Results) -> String {
    let mut ended = 0u64;
    let rows = r.ride_through_h.histogram.iter().map(|&(hours, nights)| {
        ended = ended.saturating_add(nights);
        (hours, nights, number::share_left(r.trials, ended))
    });
    Table::<(f64, u64, f64)>::new()
        .column(["hours"], |(hours, ..)| hours)
        .column(["nights_ending"], |(_, nights, _)| nights)
        .column(["share_surviving"], |(.., share)| share)
        .to_csv(rows)
}

/// Why modules dropped out, or how many at one moment; and how often.
#[derive(Clone, Copy)]
pub enum Dropped {
    /// A module dropped out by this cause.
    Cause(Cause, Estimate),
    /// At least this number of modules were out at the same moment.
    AtLeast(u64, Estimate),
}

/// How often modules dropped out, by cause and by how many at one moment.
pub fn dropped(r: &Results) -> impl Iterator<Item = Dropped> {
    let causes = words::dropouts(r).map(|(cause, often)| Dropped::Cause(cause, often));
    let counts = r.dropout.at_least.iter();
    causes.into_iter().chain(counts.map(|a| Dropped::AtLeast(a.modules, a.chance)))
}

/// The table of it.
pub fn dropouts(r: &Results) -> Table<'_, Dropped> {
    let often = |row| match row {
        Dropped::Cause(_, often) | Dropped::AtLeast(_, often) => often,
    };
    Table::<Dropped>::new()
        .column(["cause"], |row| match row {
            Dropped::Cause(cause, _) => cause.to_string(),
            Dropped::AtLeast(..) => "at_least".to_owned(),
        })
        .page("Dropout in a night", Look::Words, |row| match row {
            Dropped::Cause(Cause::Any, _) => "Any module out of service".to_owned(),
            Dropped::Cause(Cause::Fault, _) => "by a fault, a nuisance trip or the communication chain".to_owned(),
            Dropped::Cause(Cause::Other, _) => "by heat, cell voltage, over-current or its device".to_owned(),
            Dropped::Cause(Cause::Cold, _) => "by cold".to_owned(),
            Dropped::AtLeast(n, _) => format!("at least {} out at one moment", number::counted(n, "module", "modules")),
        })
        .column(["modules"], |row| match row {
            Dropped::Cause(..) => None,
            Dropped::AtLeast(modules, _) => Some(modules),
        })
        .both((ESTIMATE, &words::with_interval(r, "Share of nights")), Look::Whole, often, short)
}

/// Which modules were out when which element went over.
pub fn chains(r: &Results) -> Table<'_, &Chain> {
    Table::<&Chain>::new()
        .column(["out"], |c| c.out.join(" "))
        .page("Modules out and conductors not whole when it began", Look::Words, |c| words::out_and_amiss(c, "none"))
        .both((["over"], "Over its rating"), Look::Words, |c| c.over.as_str(), |id| id)
        .both((["nights"], "Nights"), Look::Number, |c| c.nights, number::count)
        .both((ESTIMATE, &words::with_interval(r, "Share of nights")), Look::Whole, |c| c.chance, short)
        .column(["why"], |c| c.why.join(", "))
        .column(["amiss"], |c| c.amiss.join(", "))
}

/// What was lost in cascades, in order: first this, then that.
pub fn cascades(r: &Results) -> Table<'_, &Sequence> {
    Table::<&Sequence>::new()
        .column(["sequence"], |s| s.losses.join(", "))
        .page("First this, then that", Look::Words, |s| s.losses.join(", then "))
        .both((["nights"], "Nights"), Look::Number, |s| s.nights, number::count)
        .both((ESTIMATE, &words::with_interval(r, "Share of nights")), Look::Whole, |s| s.chance, short)
}

/// Each winter or year apart.
pub fn years(r: &Results) -> Table<'_, &YearResult> {
    let heading = |of| words::with_interval(r, of);
    let worst = |y: &YearResult| r.nights.worst_year.as_deref() == Some(y.year.as_str());
    Table::<&YearResult>::new()
        .column(["year"], |y| &y.year)
        .page("Year", Look::Words, move |y| y.year.clone() + if worst(y) { " ▲ worst" } else { "" })
        .both((["trials"], "Trials"), Look::Number, |y| y.trials, number::count)
        .both(
            (["overload", "overload_low", "overload_high"], &heading("Any overload")),
            Look::Whole,
            |y| y.overload,
            short,
        )
        .both((["dropout", "dropout_low", "dropout_high"], &heading("Any dropout")), Look::Whole, |y| y.dropout, short)
}

/// The nights to look at first; `replay` is the command that shows one again, but for its number.
pub fn worst_nights(replay: &str) -> Table<'_, &WorstNight> {
    Table::<&WorstNight>::new()
        .column(["trial"], |w| w.trial)
        .page("Trial", Look::Words, |w| w.trial)
        .column(["date"], |w| &w.date)
        .page("Night of", Look::Whole, |w| if w.date.is_empty() { number::NONE } else { &w.date })
        .both((["time_over_h"], "Time over"), Look::Number, |w| w.time_over_h, number::duration)
        .on_page("Longest over", Look::Words, |w| w.over.as_deref().unwrap_or(number::NONE))
        .on_page("Modules out", Look::Number, |w| w.modules_out)
        .both((["ride_through_h"], "Served for"), Look::Number, |w| w.ride_through_h, number::hours)
        .column(["modules_out"], |w| w.modules_out)
        .column(["over"], |w| w.over.as_deref())
        .on_page("To replay it", Look::Words, move |w| html! { code { (replay) " " (w.trial) } })
}
