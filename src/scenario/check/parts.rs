//! Prices, and what is only counted: `[prices]`, `[communication]` and `[earthing]`.
//!
//! A price is a bare number in the currency of `[prices]`; without one it is a fault.

use super::sections::optional;
use crate::diagnostic::Fault;
use crate::scenario::document::{Limits, Section, Value};
use crate::scenario::{Per, Prices, Wire};
use crate::units::Kind;

const PRICE_KEYS: &[&str] = &["currency", "joint"];
const WIRE_KEYS: &[&str] = &["length", "size", "per", "price"];

/// Currencies are short: `EUR`, `Fr.`.
const LONGEST_CURRENCY: usize = 8;

/// A price, where it is given.
pub fn price(s: &Section<'_>, key: &'static str) -> Option<f64> {
    s.get(key)?.number(Limits::between(0.0, 1e9)).map(|w| w.value)
}

/// The price of one conductor: that of the assembly, that by length, or their sum.
pub fn conductor_price(s: &Section<'_>, length: Option<f64>) -> Option<f64> {
    let (each, by_length) = (price(s, "price"), price(s, "price_per_metre"));
    if by_length.is_some() && !s.has("length") {
        s.refuse(&["price_per_metre"], "it needs `size` and `length`");
    }
    let by_length = by_length.zip(length).map(|(price, metres)| price * metres);
    each.into_iter().chain(by_length).reduce(|a, b| a + b)
}

/// What is counted and priced beside the types.
#[derive(Default)]
pub struct Counted {
    pub prices: Prices,
    pub communication: Option<Wire>,
    pub earthing: Option<Wire>,
}

impl Counted {
    /// Reads the three sections; `None` where any of them is at fault.
    pub fn read(root: &Section<'_>) -> Option<Counted> {
        let prices = optional(root, "prices", prices);
        let communication = optional(root, "communication", |v| wire(v, Per::Module));
        let earthing = optional(root, "earthing", |v| wire(v, Per::Stack));
        no_currency(root);
        Some(Counted { prices: prices?.unwrap_or_default(), communication: communication?, earthing: earthing? })
    }
}

fn prices(value: &Value<'_>) -> Option<Prices> {
    let s = value.section(PRICE_KEYS)?;
    let joint = price(&s, "joint");
    let value = s.need("currency", "\"EUR\"")?;
    let currency = value.text("the name of a currency, as in \"EUR\"")?;
    if currency.value.chars().count() > LONGEST_CURRENCY {
        let label = format!("must be at most {LONGEST_CURRENCY} letters");
        value.refuse_of(Fault::TooMuch, "`currency` is too long".into(), &label, None);
        return None;
    }
    Some(Prices { currency: Some(currency.value.to_owned()), joint })
}

fn wire(value: &Value<'_>, per: Per) -> Option<Wire> {
    let s = value.section(WIRE_KEYS)?;
    let length = s.need_quantity("length", Kind::Length, Limits::between(1e-3, 1e3));
    let size = s.get("size").map(|v| v.text("a size, as in \"16 mm2\""));
    let words = [("module", Per::Module), ("stack", Per::Stack)];
    let per = s.get("per").map_or(Some(per), |v| v.choice(&words));
    let price = price(&s, "price");
    let size = match size {
        Some(size) => Some(size?.value.replace("mm2", "mm²")),
        None => None,
    };
    Some(Wire { size, length: length?.value, per: per?, price })
}

/// A number without a currency is no price.
pub fn no_currency(root: &Section<'_>) {
    if root.has("prices") {
        return;
    }
    let tables = |key: &'static str| root.get(key).and_then(|v| v.as_table()).into_iter();
    let types = ["module", "cable", "device"].into_iter().flat_map(tables);
    let types = types.flat_map(|kind| kind.values()).filter_map(|one| one.get_ref().as_table());
    let wires = ["communication", "earthing"].into_iter().flat_map(tables);
    let priced = types.chain(wires).flat_map(|t| ["price", "price_per_metre"].map(|key| t.get(key)));
    for value in priced.flatten() {
        let label = "in which currency?".to_owned();
        let help = "add [prices] with `currency = \"EUR\"`, or another".to_owned();
        let message = "a price without [prices]".into();
        root.findings.error_of(Fault::Missing, value.span(), message, label, Some(help));
    }
}
