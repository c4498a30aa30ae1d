//! Parts of documents put together: a value keeps its own place wherever it is put.
//!
//! In: tables of parsed texts. Out: tables that are read like any other, whose faults point to where each value was
//! written: into an override, another file, or the key of a grid that it was made from.

use std::borrow::Cow;
use std::ops::Range;
use toml::Spanned;
use toml::de::{DeArray, DeTable, DeValue};

/// A value with its place.
pub type Placed<'a> = Spanned<DeValue<'a>>;

/// Puts a value in a table, in place of what was there.
pub fn set<'a>(table: &mut DeTable<'a>, key: &str, value: Placed<'a>) {
    let span = value.span();
    put(table, Spanned::new(span, Cow::Owned(key.to_owned())), value);
}

/// As `set`, for a key with its own place in the text.
fn put<'a>(table: &mut DeTable<'a>, key: Spanned<Cow<'a, str>>, value: Placed<'a>) {
    table.remove(key.get_ref().as_ref());
    table.insert(key, value);
}

/// Puts every entry of `over` in place of what `table` has under its key.
pub fn lay_over<'a>(table: &mut DeTable<'a>, over: &DeTable<'a>) {
    for (key, value) in over {
        put(table, key.clone(), value.clone());
    }
}

/// Digits of the whole numbers that can be made: a number of the parser borrows its text, so the text must last.
const NUMBERS: &str = "1 2 3 4 5 6 7 8 9 10 11 12 13 14 15 16 17 18 19 20 21 22 23 24 25 26 27 28 29 30 31 32 33 \
    34 35 36 37 38 39 40 41 42 43 44 45 46 47 48 49 50 51 52 53 54 55 56 57 58 59 60 61 62 63 64";

/// A bare whole number from 1 to 64; `None` of another.
pub fn whole(number: usize, span: Range<usize>) -> Option<Placed<'static>> {
    let digits = NUMBERS.split(' ').nth(number.checked_sub(1)?)?;
    Some(Spanned::new(span, DeValue::parse_recoverable(digits).0.into_inner()))
}

pub fn list<'a>(values: impl IntoIterator<Item = Placed<'a>>, span: Range<usize>) -> Placed<'a> {
    Spanned::new(span, DeValue::Array(values.into_iter().collect()))
}

pub fn table(table: DeTable<'_>, span: Range<usize>) -> Placed<'_> {
    Spanned::new(span, DeValue::Table(table))
}

/// A copy of the table in which every place is `by` bytes later, for a text that follows others.
pub fn moved<'a>(from: &DeTable<'a>, by: usize) -> DeTable<'a> {
    let later = |span: Range<usize>| span.start + by..span.end + by;
    let mut table = DeTable::new();
    for (key, value) in from {
        let key = Spanned::new(later(key.span()), key.get_ref().clone());
        table.insert(key, moved_value(value, by));
    }
    table
}

fn moved_value<'a>(value: &Placed<'a>, by: usize) -> Placed<'a> {
    let span = value.span().start + by..value.span().end + by;
    let value = match value.get_ref() {
        DeValue::Table(table) => DeValue::Table(moved(table, by)),
        DeValue::Array(values) => DeValue::Array(values.iter().map(|v| moved_value(v, by)).collect::<DeArray<'a>>()),
        other => other.clone(),
    };
    Spanned::new(span, value)
}
