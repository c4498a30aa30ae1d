//! What moves the nights, in words and tables.
//!
//! In: the changes by each input. Out: sentences, plain text and CSV, greatest change first.

use crate::output::kit::number;
use crate::output::kit::table::{Look, Table};
use crate::output::kit::words::EXACT;
use crate::study::inputs::{Buy, Hazard, Input, InputResult, Inputs, Quantity, Shift, Side, Step};
use crate::study::sensitivity::output::words::named;
use crate::summary::Estimate;

/// Names that a sentence lists.
const LISTED: usize = 2;

/// `load`, `module cellar: capacity`.
pub fn name(input: &InputResult) -> String {
    let typed = |of: &str, what: &str| format!("{of} {}: {what}", input.of);
    match input.input {
        Input::OfLimit(_) => input.input.kind().map_or_else(String::new, |kind| named(kind, &input.of)),
        Input::Load => "load".to_owned(),
        Input::StartCharge => "charge at the start".to_owned(),
        Input::OutdoorTemperature => "outdoor temperature".to_owned(),
        Input::Capacity(_) => typed("module", "capacity"),
        Input::ColdCutOff(_) => typed("module", "cold cut-off"),
        Input::RoomLoss => "room: loss".to_owned(),
        Input::RoomGain => "room: gain".to_owned(),
        Input::FloorOffset => "floor: offset".to_owned(),
        Input::Reaction => "controller: reaction".to_owned(),
        Input::DeviceRated(_) => typed("device", "rated current"),
        Input::Mtbf(hazard) => format!("{}: MTBF", fails(hazard)),
        Input::Mttr(hazard) => format!("{}: MTTR", fails(hazard)),
    }
}

fn fails(hazard: Hazard) -> &'static str {
    match hazard {
        Hazard::Module => "modules",
        Hazard::Stack => "stacks",
        Hazard::Nuisance => "nuisance openings",
        Hazard::Chain => "chain links",
        Hazard::Joint => "joints",
        Hazard::Lead => "leads",
        Hazard::Link => "controller link",
    }
}

/// `10 %`, `×2`: how far it is moved.
pub fn step(step: Step) -> &'static str {
    match step {
        Step::Tenth => "10 %",
        Step::Points => "5 points",
        Step::Kelvin => "1 K",
        Step::Kelvins => "2 K",
        Step::Twofold => "×2",
    }
}

/// `load 10 % less`, `modules: MTBF doubled`.
pub fn change(input: &InputResult, side: Side) -> String {
    let how = match (input.input.step(), side) {
        (Step::Twofold, Side::Less) => "halved".to_owned(),
        (Step::Twofold, Side::More) => "doubled".to_owned(),
        (by @ (Step::Kelvin | Step::Kelvins), Side::Less) => format!("{} lower", step(by)),
        (by @ (Step::Kelvin | Step::Kelvins), Side::More) => format!("{} higher", step(by)),
        (by, Side::Less) => format!("{} less", step(by)),
        (by, Side::More) => format!("{} more", step(by)),
    };
    format!("{} {how}", name(input))
}

/// Whether a change is more than rounding: means are summed in steps of about 1e-6.
pub fn moves(change: f64) -> bool {
    change.abs() > 2e-6
}

/// The inputs that change anything that was counted.
pub fn that_move(all: &Inputs) -> impl Iterator<Item = &InputResult> {
    all.inputs.iter().filter(|i| {
        i.effects().any(|e| {
            let shifts = [Some(e.overload), Some(e.short), Some(e.ride_through_h), e.margin];
            shifts.iter().flatten().any(|s| moves(s.by.estimate))
        })
    })
}

fn aim(all: &Inputs, quantity: Quantity) -> String {
    match quantity {
        Quantity::Overload => "Against overload".to_owned(),
        Quantity::Short => format!("For being served {}", number::hours(all.wanted_h)),
        Quantity::Margin => "For the margin".to_owned(),
    }
}

fn bought(all: &Inputs, quantity: Quantity) -> Option<&Buy> {
    match quantity {
        Quantity::Overload => all.best.overload.as_ref(),
        Quantity::Short => all.best.short.as_ref(),
        Quantity::Margin => all.best.margin.as_ref(),
    }
}

const ALL: [Quantity; 3] = [Quantity::Overload, Quantity::Short, Quantity::Margin];

/// What buys most of the first quantity of which anything is shown to buy, and whether the nights suffice to say so.
pub fn title(all: &Inputs) -> String {
    let first = ALL.into_iter().find_map(|quantity| Some((quantity, bought(all, quantity)?)));
    let nights = number::counted(all.trials, "night", "nights");
    let Some((quantity, buy)) = first else {
        return format!("No single input is shown to buy anything by {nights}");
    };
    let verdict = match buy.open.len() {
        0 => format!("{nights} suffice to say so"),
        open => format!("{nights} do not tell it from {}", number::counted(open as u64, "other", "others")),
    };
    let what = change(&all.inputs[buy.input], buy.side);
    format!("{} \"{what}\" buys most ({}); {verdict}", aim(all, quantity), points(buy.by.estimate))
}

/// What there is as written, and what buys most of each quantity.
pub fn sentences(all: &Inputs) -> Vec<String> {
    let mut told = vec![as_written(all)];
    told.extend(
        ALL.into_iter().filter(|q| *q != Quantity::Margin || all.as_written.margin.is_some()).map(|q| best(all, q)),
    );
    told.push(intervals(all));
    told
}

fn as_written(all: &Inputs) -> String {
    let a = &all.as_written;
    let nearest = a
        .nearest
        .as_ref()
        .filter(|_| a.margin.is_some())
        .map_or(String::new(), |id| format!("; of any night {id} has the least"));
    let margin = a.margin.map_or(String::new(), |m| format!(", mean margin {} %", signed(m * 100.0)));
    format!(
        "As written: overload in {}; not served {} in {}{margin}{nearest}.",
        number::of_nights(&a.overload, all.trials),
        number::hours(all.wanted_h),
        number::of_nights(&a.short, all.trials),
    )
}

fn best(all: &Inputs, quantity: Quantity) -> String {
    let aim = aim(all, quantity);
    let Some(buy) = bought(all, quantity) else {
        return format!("{aim} no change is shown to buy anything.");
    };
    let what = change(&all.inputs[buy.input], buy.side);
    let verdict = if buy.open.is_empty() {
        format!(
            "The nights suffice to say so: {} told apart from it.",
            number::counted(buy.others, "other change", "other changes")
        )
    } else {
        let names: Vec<String> =
            buy.open.iter().take(LISTED).map(|(k, side)| format!("\"{}\"", change(&all.inputs[*k], *side))).collect();
        let more = buy.open.len().saturating_sub(LISTED);
        let more = if more > 0 { format!(" and {more} more") } else { String::new() };
        format!("The nights do not tell it from {}{more}.", names.join(", "))
    };
    format!("{aim} \"{what}\" buys most, {}. {verdict}", number::points(&buy.by))
}

/// What the intervals hold for.
pub fn intervals(all: &Inputs) -> String {
    if all.exact {
        return EXACT.to_owned();
    }
    format!(
        "Each change alone, the same nights; of each quantity the intervals of all {} changes hold together at 95 %, each \
         at {} %.",
        all.changes,
        number::significant(all.confidence_each * 100.0, 5)
    )
}

/// `+3.2`, `−0.04`.
fn signed(x: f64) -> String {
    if x.is_finite() { number::significant(x, 3).replace('-', "−") } else { number::NONE.to_owned() }
}

fn plus(x: f64) -> String {
    if x > 0.0 { format!("+{}", signed(x)) } else { signed(x) }
}

/// A change of a ratio: `−3.2 points`.
pub fn points(change: f64) -> String {
    format!("{} points", plus(change * 100.0))
}

/// What the terminal prints.
pub fn text(all: &Inputs) -> String {
    let heading = format!(
        "{}\n{} moved under the same {}, seed {}\n",
        all.scenario,
        number::counted(all.inputs.len() as u64, "input", "inputs"),
        number::nights(all.trials, all.horizon_h, all.distinct_nights),
        all.seed
    );
    let still = all.inputs.len() - that_move(all).count();
    let still = match still {
        0 => String::new(),
        n => format!("Moved nothing in these nights: {}.\n", number::counted(n as u64, "input", "inputs")),
    };
    format!(
        "{heading}\n{}\n\nIn points of a per cent, and in hours; ? where the interval holds 0:\n{}{still}",
        sentences(all).join("\n"),
        table().to_lines(changes(that_move(all)))
    )
}

/// A change of one input: its rank among those that are told, and the side to which it is moved.
type Change<'a> = (usize, &'a InputResult, Side);

fn changes<'a>(inputs: impl Iterator<Item = &'a InputResult>) -> impl Iterator<Item = Change<'a>> {
    let sides = |(k, input)| [Side::Less, Side::More].map(|side| (k + 1, input, side));
    inputs.enumerate().flat_map(sides).filter(|(_, input, side)| input.effect(*side).is_some())
}

/// What there is to tell of a change.
fn table<'a>() -> Table<'a, Change<'a>> {
    // Told once an input.
    let head = |input: &InputResult, side, text: String| {
        if side == Side::Less || input.less.is_none() { text } else { String::new() }
    };
    let overload = |(_, i, side): Change<'a>| i.effect(side).map(|e| e.overload);
    let short = |(_, i, side): Change<'a>| i.effect(side).map(|e| e.short);
    let ride = |(_, i, side): Change<'a>| i.effect(side).map(|e| e.ride_through_h);
    let margin = |(_, i, side): Change<'a>| i.effect(side).and_then(|e| e.margin);
    let word = |(_, _, side)| if side == Side::Less { "less" } else { "more" };
    Table::<Change<'a>>::new()
        .column(["rank"], |(rank, ..)| rank)
        .terminal("", Look::Words, move |(rank, i, side)| head(i, side, format!("{rank}.")))
        .column(["of"], |(_, i, _)| &i.of)
        .column(["input"], |(_, i, _)| i.input.to_string())
        .terminal("input", Look::Words, move |(_, i, side)| head(i, side, name(i)))
        .column(["step"], |(_, i, _)| step(i.input.step()))
        .terminal("step", Look::Words, move |(_, i, side)| head(i, side, step(i.input.step()).to_owned()))
        .column(["side"], word)
        .terminal("", Look::Words, word)
        .column(["overload", "overload_low", "overload_high", "overload_decided"], move |row| overload(row).map(cells))
        .terminal("overload", Look::Number, move |row| marked(overload(row), 100.0, 2))
        .column(["short", "short_low", "short_high", "short_decided"], move |row| short(row).map(cells))
        .terminal("not served", Look::Number, move |row| marked(short(row), 100.0, 2))
        .column(RIDE_THROUGH, move |row| ride(row).map(cells))
        .terminal("hours", Look::Number, move |row| marked(ride(row), 1.0, 4))
        .column(["margin", "margin_low", "margin_high", "margin_decided"], move |row| margin(row).map(cells))
        .terminal("margin", Look::Number, move |row| marked(margin(row), 100.0, 2))
}

const RIDE_THROUGH: [&str; 4] = ["ride_through_h", "ride_through_low_h", "ride_through_high_h", "ride_through_decided"];

/// A change with this number of decimals, and a `?` where the nights do not decide it; 0 where it rounds to nothing.
fn marked(shift: Option<Shift>, unit: f64, decimals: usize) -> String {
    let Some(shift) = shift.filter(|s| s.by.estimate.is_finite()) else { return number::NONE.to_owned() };
    if !moves(shift.by.estimate) {
        return "0  ".to_owned();
    }
    let change = number::change(shift.by.estimate * unit, decimals);
    format!("{change} {}", if shift.decided { " " } else { "?" })
}

/// One row a change.
pub fn csv(all: &Inputs) -> String {
    table().to_csv(changes(all.inputs.iter()))
}

fn cells(shift: Shift) -> (Estimate, bool) {
    (shift.by, shift.decided)
}
