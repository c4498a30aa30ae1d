//! A CSV text split into records and cells (RFC 4180), each by its place.
//!
//! In: text. Out: byte ranges. The `csv` crate tells where a record begins but not where a cell
//! lies, which a caret needs.

use crate::bounds;
use std::borrow::Cow;
use std::ops::Range;

/// A cell without blanks and quotes around it, and its place.
pub(super) fn unquoted<'a>(text: &'a str, cell: &Range<usize>) -> (Range<usize>, Cow<'a, str>) {
    let whole = &text[cell.clone()];
    let start = cell.start + (whole.len() - whole.trim_start().len());
    let inner = whole.trim();
    let span = start..start + inner.len();
    match inner.strip_prefix('"').and_then(|rest| rest.strip_suffix('"')) {
        Some(quoted) => (span, Cow::Owned(quoted.replace("\"\"", "\"").trim().to_owned())),
        None => (span, Cow::Borrowed(inner)),
    }
}

/// The places of a row's cells.
#[derive(Debug, Default)]
pub(super) struct Record {
    pub cells: Vec<Range<usize>>,
}

impl Record {
    pub fn span(&self) -> Range<usize> {
        match (self.cells.first(), self.cells.last()) {
            (Some(first), Some(last)) => first.start..last.end,
            _ => 0..0,
        }
    }

    pub fn is_blank(&self, text: &str) -> bool {
        self.cells.iter().all(|cell| text[cell.clone()].trim().is_empty())
    }
}

/// Splits a text into records and cells. A comma or line end between quotes belongs to the cell; empty lines are no
/// records. Ends early at a record of too many cells.
pub(super) struct Records<'a> {
    text: &'a str,
    at: usize,
    /// Place of a quote that is never closed.
    pub open_quote: Option<usize>,
    /// Place of the first cell too many.
    pub too_wide: Option<usize>,
}

impl Iterator for Records<'_> {
    type Item = Record;

    fn next(&mut self) -> Option<Record> {
        let left = self.text.as_bytes().get(self.at..)?;
        self.at += left.iter().take_while(|byte| matches!(byte, b'\n' | b'\r')).count();
        let rest = self.text.as_bytes().get(self.at..).filter(|rest| !rest.is_empty())?;
        let (start, mut cell) = (self.at, self.at);
        let mut record = Record::default();
        let (mut quote, mut closed) = (None, None);
        for (k, &byte) in rest.iter().enumerate() {
            let here = start + k;
            self.at = here + 1;
            match byte {
                b'"' if quote.is_some() => (quote, closed) = (None, Some(here + 1)),
                // A doubled quote closes and opens again.
                b'"' if closed == Some(here) || self.text[cell..here].trim_start().is_empty() => quote = Some(here),
                b',' | b'\n' if quote.is_none() => {
                    if record.cells.len() == bounds::COLUMNS {
                        (self.too_wide, self.at) = (Some(cell), self.text.len());
                        return None;
                    }
                    record.cells.push(cell..here);
                    cell = here + 1;
                    if byte == b'\n' {
                        return Some(self.without_return(record));
                    }
                }
                _ => {}
            }
        }
        self.open_quote = quote;
        record.cells.push(cell..self.at);
        Some(self.without_return(record))
    }
}

impl<'a> Records<'a> {
    pub fn of(text: &'a str) -> Records<'a> {
        Records { text, at: 0, open_quote: None, too_wide: None }
    }

    /// Takes a carriage return off the last cell, so that no caret stands below it.
    fn without_return(&self, mut record: Record) -> Record {
        if let Some(last) = record.cells.last_mut() {
            last.end = last.start + self.text[last.clone()].trim_end_matches('\r').len();
        }
        record
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    fn split(text: &str) -> (Vec<Vec<Cow<'_, str>>>, Option<usize>) {
        let mut records = Records::of(text);
        let row = |record: Record| record.cells.iter().map(|cell| unquoted(text, cell).1).collect();
        let rows = records.by_ref().map(row).collect();
        (rows, records.open_quote)
    }

    #[test]
    fn quotes_hold_commas_lines_and_quotes() {
        let (rows, open) = split("a,\"b,\nc\",\"\"\"d\"\"\"\r\n , x\"y\"\"z ,\n");
        assert_eq!(rows, [vec!["a", "b,\nc", "\"d\""], vec!["", "x\"y\"\"z", ""]]);
        assert_eq!(open, None);
    }

    #[test]
    fn a_quote_that_never_closes_is_told() {
        assert_eq!(split("a,\"b\nc,d").1, Some(2));
        assert_eq!(split("a,b\"\nc,d\"").1, None);
    }

    #[test]
    fn empty_lines_are_no_records_and_a_row_ends_at_the_thousandth_cell() {
        assert_eq!(split("\n\r\na,b\n\n\nc\n").0, [vec!["a", "b"], vec!["c"]]);
        let wide = ",".repeat(999);
        assert_eq!(Records::of(&wide).next().unwrap().cells.len(), 1000);
        let wider = ",".repeat(5000) + "\na\n";
        let mut records = Records::of(&wider);
        assert!(records.next().is_none() && records.next().is_none());
        assert_eq!(records.too_wide, Some(1000));
    }

    #[test]
    fn places_leave_out_blanks_and_returns() {
        let record = Records::of("ab , cd\r\n").next().unwrap();
        assert_eq!(record.span(), 0..7);
        assert_eq!(unquoted("ab , cd\r\n", &record.cells[1]).0, 5..7);
    }
}
