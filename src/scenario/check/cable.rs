//! Cable types: `[cable.NAME]`.

use super::{defaults, insulation, parts};
use crate::diagnostic::{Fault, shortened};
use crate::scenario::document::{Limits, Section, Value, Written};
use crate::scenario::tables::{Conductor, StrandClass, conductor};
use crate::scenario::{CableType, ConductorResistance};
use crate::units::Kind;

const KEYS: &[&str] = &[
    "resistance",
    "size",
    "length",
    "class",
    "contact",
    "rating",
    "insulation",
    "ampacity",
    "loaded",
    "base",
    "terminals",
    "bundled",
    "above_base",
    "time_constant",
    "price",
    "price_per_metre",
];

/// One cable type; `None` where its conductor is at fault.
pub fn cable(name: &str, value: &Value<'_>) -> Option<CableType> {
    let s = value.section(KEYS)?;
    let contact = s.quantity("contact", Kind::Resistance, Limits::NOT_NEGATIVE);
    if let Some(contact) = contact.clone().filter(|c| c.value > 1e-3) {
        let message = format!("`contact` is {}", Kind::Resistance.show(contact.value));
        let why = "a sound lug or connector has well under 1 mΩ";
        s.findings.unusual(contact.span, message, why);
    }
    let rating = s.quantity("rating", Kind::Current, Limits::POSITIVE);
    let resistance = s.quantity("resistance", Kind::Resistance, defaults::RESISTANCE);
    let length = length(&s);
    let found = size(&s);
    unusual_rating(&s, rating.as_ref(), found.as_ref());
    let ampacity = insulation::ampacity(&s, found.as_ref());
    let from_memory = insulation::from_memory(&s, found.as_ref(), ampacity.flatten().as_ref());
    insulation::unusual_rating(&s, rating.as_ref(), ampacity.flatten().as_ref());
    let price = parts::conductor_price(&s, length);
    let conductor = match way(&s)? {
        Way::Resistance => ConductorResistance::Fixed(resistance?.value),
        Way::Size => ConductorResistance::Copper { at_20: found.as_ref()?.ohm_per_metre * length? },
    };
    Some(CableType {
        name: name.to_owned(),
        conductor,
        contact: contact.map_or(0.0, |c| c.value),
        rating: rating.map(|r| r.value),
        ampacity: ampacity?,
        length,
        section: found.as_ref().map(|c| c.section),
        size: found.map(|c| c.size),
        price,
        from_memory,
    })
}

/// Which key of the section gives the conductor's resistance.
enum Way {
    Resistance,
    Size,
}

fn way(s: &Section<'_>) -> Option<Way> {
    let by_size = s.has("size") || s.has("length");
    match (s.has("resistance"), by_size) {
        (true, false) => {
            s.refuse(&["class"], "it belongs to `size`");
            Some(Way::Resistance)
        }
        (true, true) => {
            s.refuse(&["size", "length", "class"], "`resistance` is given: one of the two is enough");
            None
        }
        (false, true) => {
            let complete = s.need("size", "\"35 mm2\"").is_some() & s.need("length", "\"2 m\"").is_some();
            complete.then_some(Way::Size)
        }
        (false, false) => {
            let message = format!("{} has no resistance", s.name);
            let label = "`resistance`, or `size` and `length`, are required here".to_owned();
            let help = "add `resistance = \"0.25 mΩ\"`, or `size = \"35 mm2\"` and `length = \"2 m\"`";
            s.findings.error_of(Fault::Missing, s.span.clone(), message, label, Some(help.to_owned()));
            None
        }
    }
}

fn length(s: &Section<'_>) -> Option<f64> {
    let length = s.quantity("length", Kind::Length, Limits::between(1e-3, 1e3))?;
    if length.value > 20.0 {
        let message = format!("`length` is {}", Kind::Length.show(length.value));
        let why = "leads within a bank are seldom longer than 20 m; it is the length of one conductor";
        s.findings.unusual(length.span, message, why);
    }
    Some(length.value)
}

fn size(s: &Section<'_>) -> Option<Conductor> {
    let class = class(s);
    let value = s.get("size")?;
    let text = value.text("a size, as in \"35 mm2\" or \"1/0 AWG\"")?.value;
    let found = match conductor(text, class.unwrap_or(StrandClass::Five)) {
        Ok(found) => found,
        Err(fault) => {
            let message = format!("`size` is \"{}\": {fault}", shortened(text));
            value.refuse_of(Fault::Quantity, message, "expected a size in mm2 or AWG", Some(fault.help()));
            return None;
        }
    };
    if !found.metric {
        s.refuse(&["class"], "strand classes belong to sizes in mm2");
    }
    Some(found)
}

fn class(s: &Section<'_>) -> Option<StrandClass> {
    let value = s.get("class")?;
    let class = value.whole(1, 6)?;
    match class.value {
        2 => Some(StrandClass::Two),
        5 => Some(StrandClass::Five),
        other => {
            value.refuse(format!("`class` is {other}"), "must be 2 (stranded) or 5 (flexible)", None);
            None
        }
    }
}

fn unusual_rating(s: &Section<'_>, rating: Option<&Written<f64>>, found: Option<&Conductor>) {
    /// Current density above which insulated copper in free air is hot in any table [A/mm²].
    const DENSE: f64 = 10.0;
    let (Some(rating), Some(found)) = (rating, found) else {
        return;
    };
    if rating.value > DENSE * found.section {
        let message = format!("`rating` is {} for {}", Kind::Current.show(rating.value), found.size);
        let why = "more than 10 A/mm²: beyond what tables allow for continuous current";
        s.findings.unusual(rating.span.clone(), message, why);
    }
}
