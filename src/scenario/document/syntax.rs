//! Where a fault of syntax begins: parsers tell where they noticed it.
//!
//! In: the text, and the place that the parser tells. Out: the place that a person would mend.

use std::ops::Range;

/// The bracket before `at` that was never closed, where `at` is the start of something that can only stand outside
/// brackets: a section, a key with its value, or the end of another kind of bracket.
pub fn open_bracket(text: &str, at: usize) -> Option<usize> {
    let start = text.get(..at)?.rfind('\n').map_or(0, |newline| newline + 1);
    let line = text[start..].split('\n').next()?.trim();
    let open = last_open(&text[..start])?;
    let other = if text.as_bytes().get(open) == Some(&b'{') { ']' } else { '}' };
    (is_header(line) || is_assignment(line) || line.starts_with(other)).then_some(open)
}

/// The last bracket of a value that is open at the end of a text; brackets within quotes and comments are none.
fn last_open(text: &str) -> Option<usize> {
    let mut open = Vec::new();
    let mut quote = None;
    let mut comment = false;
    let mut before = b' ';
    for (at, &byte) in text.as_bytes().iter().enumerate() {
        match (quote, byte) {
            // A text ends with its line, closed or not.
            (_, b'\n') => (quote, comment) = (None, false),
            (_, _) if comment => {}
            (Some(mark), _) if byte == mark && before != b'\\' => quote = None,
            (Some(_), _) => {}
            (None, b'"' | b'\'') => quote = Some(byte),
            (None, b'#') => comment = true,
            (None, b'[' | b'{') => open.push(at),
            (None, b']' | b'}') => drop(open.pop()),
            _ => {}
        }
        before = byte;
    }
    open.pop()
}

/// `[bar]`, `[[stack]]`, `[cable.lead]`
fn is_header(line: &str) -> bool {
    let name = line.split('#').next().unwrap_or_default().trim();
    let inner = name.strip_prefix('[').and_then(|rest| rest.strip_suffix(']')).unwrap_or_default();
    let inner = inner.trim_matches(['[', ']']);
    let plain = |c: char| c.is_alphanumeric() || matches!(c, '_' | '-' | '.');
    inner.starts_with(|c: char| c.is_alphabetic()) && inner.chars().all(plain)
}

/// `count = 4`
fn is_assignment(line: &str) -> bool {
    let Some((key, _)) = line.split_once('=') else { return false };
    let key = key.trim();
    key.starts_with(|c: char| c.is_alphabetic()) && key.chars().all(|c| c.is_alphanumeric() || c == '_')
}

/// The line with the most dots and brackets: a fault of nesting has no place of its own.
pub fn deepest(text: &str) -> Range<usize> {
    let mut at = 0;
    let lines = text.split_inclusive('\n').map(|line| {
        at += line.len();
        (at - line.len()..at, line.bytes().filter(|b| matches!(b, b'.' | b'[' | b'{')).count())
    });
    lines.max_by_key(|(span, depth)| (*depth, std::cmp::Reverse(span.start))).map_or(0..0, |(span, _)| span)
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn a_bracket_is_open_where_a_key_or_section_follows() {
        for (text, at, open) in [
            ("a = [1, 2\nb = 3\n", "b =", Some("[1")),
            ("a = [1, 2\n[bar]\n", "[bar]", Some("[1")),
            ("a = [\n  { b = 1\n]\n", "]\n", Some("{ b")),
            ("a = [\"[\", 2] # [\nb 3\n", "b 3", None),
            ("a = [\n[\"1 %\", 2]\n[\"2 %\", 3]]\n", "[\"2 %", None),
            ("a = \"[\nb = 3\n", "b =", None),
        ] {
            let place = |piece: &str| text.find(piece).unwrap();
            assert_eq!(open_bracket(text, place(at)), open.map(place), "{text}");
        }
    }

    #[test]
    fn the_deepest_line_is_the_one_that_nests_most() {
        assert_eq!(deepest("a.b = 1\nc = [[[1]]]\nd = 2\n"), 8..20);
        assert_eq!(deepest(""), 0..0);
    }
}
