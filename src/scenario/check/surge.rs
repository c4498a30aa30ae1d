//! Short loads on top of the profile, such as motor starts: `[[surge]]`.

use super::defaults;
use crate::bounds;
use crate::diagnostic::{Fault, shortened};
use crate::scenario::document::{Limits, Section, Value, Written};
use crate::scenario::{Load, Surge, SurgeSize, SurgeWhen};
use crate::time::Time;
use crate::units::Kind;

const KEYS: &[&str] = &["name", "power", "current", "lasts", "every", "at"];
const LENGTH: Limits = Limits::between(1e-3, 3600.0);

/// The load that surges add to.
#[derive(Clone, Copy)]
pub enum Base<'a> {
    /// The scenario has no load.
    Missing,
    /// The load is at fault, so surges are not checked against it.
    Unknown,
    Known(&'a Load),
}

/// All surges; `None` where any is at fault.
pub fn surges(value: &Value<'_>, base: Base<'_>) -> Option<Vec<Surge>> {
    let (due, mend) = ("tables in double brackets, [[surge]]", "join surges of one kind: `every` may be shorter");
    let list = value.few(bounds::SURGES, mend, due, |k| format!("[[surge]] {k}"))?;
    if let (Base::Missing, Some(first)) = (base, list.first()) {
        let help = "add [load] with `power`, `current` or `profile`".to_owned();
        let message = "there is a [[surge]], and no [load]".into();
        first.refuse_of(Fault::Missing, message, "adds to the load", Some(help));
    }
    let mut names = Vec::new();
    let surges: Vec<Option<Surge>> = list.iter().map(|v| surge(v, base, &mut names)).collect();
    surges.into_iter().collect()
}

fn surge<'a>(value: &Value<'a>, base: Base<'_>, names: &mut Vec<&'a str>) -> Option<Surge> {
    let s = value.section(KEYS)?;
    let name = s.need("name", "\"pump\"").and_then(|v| name(&v, names));
    let size = size(&s, base);
    let lasts = s.need_quantity("lasts", Kind::Time, LENGTH);
    let every = s.quantity("every", Kind::Time, Limits::at_least(1.0));
    let at = s.get("at").map(|v| at(&v, lasts.as_ref()));
    let when = match s.one_of(&["every", "at"], "every = \"2 h\"")? {
        "every" => SurgeWhen::Every(every?.value),
        _ => SurgeWhen::At(at??),
    };
    Some(Surge { name: name?, size: size?, lasts: Time::from_seconds(lasts?.value), when })
}

fn name<'a>(value: &Value<'a>, names: &mut Vec<&'a str>) -> Option<String> {
    let name = value.text("a short name")?.value;
    if names.contains(&name) {
        let message = format!("two surges are named \"{}\"", shortened(name));
        value.refuse_of(Fault::Duplicate, message, "a second time here", None);
        return None;
    }
    names.push(name);
    Some(name.to_owned())
}

/// Watts add to watts and amperes to amperes: to convert one takes a voltage that the load does not have.
fn size(s: &Section<'_>, base: Base<'_>) -> Option<SurgeSize> {
    let power = s.quantity("power", Kind::Power, Limits::POSITIVE);
    let current = s.quantity("current", Kind::Current, Limits::POSITIVE);
    let key = s.one_of(&["power", "current"], "power = \"3 kW\"")?;
    if let Base::Known(load) = base {
        let due = if matches!(load, Load::Current(_)) { "current" } else { "power" };
        if key != due {
            s.refuse(&[key], &format!("[load] is a {due}: give `{due}`"));
            return None;
        }
    }
    match key {
        "power" => Some(SurgeSize::Power(power?.value)),
        _ => Some(SurgeSize::Current(current?.value)),
    }
}

/// Times after the start of the night, apart by more than the surge lasts.
fn at(value: &Value<'_>, lasts: Option<&Written<f64>>) -> Option<Vec<Time>> {
    let (due, mend) = ("a list of times, as in [\"2 h\", \"5 h\"]", "write `every` instead");
    let list = value.few(bounds::SURGE_TIMES, mend, due, |k| format!("time {k} of `at`"))?;
    if list.is_empty() {
        value.refuse("`at` is an empty list".into(), "expected at least one time", None);
        return None;
    }
    let within = Limits::between(0.0, defaults::LONGEST_HORIZON);
    let time = |v: &Value<'_>| v.quantity(Kind::Time, within).map(|q| Time::from_seconds(q.value));
    let times: Vec<Option<Time>> = list.iter().map(time).collect();
    let times: Vec<Time> = times.into_iter().collect::<Option<_>>()?;
    let lasts = Time::from_seconds(lasts?.value);
    let mut apart = true;
    for (two, here) in times.windows(2).zip(list.iter().skip(1)) {
        let [before, after] = two else { continue };
        if *after <= before.after(lasts) {
            apart = false;
            let message = format!("{} is {}", here.name, Kind::Time.show(after.seconds()));
            let label =
                format!("must be more than `lasts`, {}, after the time before", Kind::Time.show(lasts.seconds()));
            here.refuse(message, &label, None);
        }
    }
    apart.then_some(times)
}
