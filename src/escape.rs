//! What a user's text may hold that a person must not get raw, and how it is spelled out, medium by medium.
//!
//! In: text from files, names, paths and arguments. Out: text that a terminal, a page, a picture or a spreadsheet shows as
//! it is. No other place decides this.
//!
//! *Hidden* is what acts without being seen: control characters (Unicode category Cc), the direction marks (property
//! Bidi_Control), separators of lines and paragraphs, characters without width that no script needs, tags, and
//! noncharacters, of which U+FFFE and U+FFFF may not stand in XML 1.0 (section 2.2, Char). The joiners U+200C and U+200D
//! stay: Persian, Indic scripts and emoji need them. What is hidden is spelled out, as `\u{202e}`.

use std::borrow::Cow;
use std::path::Path;

/// Whether a character acts without being seen.
pub fn is_hidden(c: char) -> bool {
    c.is_control()
        || matches!(c, '\u{ad}' | '\u{61c}' | '\u{180e}' | '\u{200b}' | '\u{200e}' | '\u{200f}' | '\u{feff}')
        || matches!(c, '\u{2028}'..='\u{202e}' | '\u{2060}'..='\u{206f}' | '\u{fff9}'..='\u{fffb}')
        || matches!(c, '\u{e0000}'..='\u{e007f}' | '\u{fdd0}'..='\u{fdef}')
        || u32::from(c) & 0xfffe == 0xfffe
}

/// The first hidden character, as a fault tells of it: `U+202E`.
pub fn hidden_in(text: &str) -> Option<String> {
    text.chars().find(|c| is_hidden(*c)).map(|c| format!("U+{:04X}", u32::from(c)))
}

/// On one line, for whatever is said in words: a name, a path, an argument, a cell.
pub fn line(text: &str) -> String {
    spelled(text, &|_| false).into_owned()
}

/// For a terminal: ends of lines and tabs stay, so that a whole message goes through.
pub fn terminal(text: &str) -> String {
    let mut shown = String::with_capacity(text.len());
    for line in text.split_inclusive('\n') {
        let (body, end) = line.strip_suffix("\r\n").map_or((line, ""), |body| (body, "\r\n"));
        shown.push_str(&spelled(body, &|c| matches!(c, '\n' | '\t')));
        shown.push_str(end);
    }
    shown
}

/// For text between tags, and between the quotes of an attribute, of HTML and SVG.
pub fn markup(text: &str) -> String {
    line(text).replace('&', "&amp;").replace('<', "&lt;").replace('>', "&gt;").replace('"', "&quot;")
}

/// A whole HTML or SVG text, in which `&`, `<` and `>` of texts are escaped already.
pub fn document(markup: String) -> String {
    match spelled(&markup, &|c| matches!(c, '\n' | '\t')) {
        Cow::Borrowed(_) => markup,
        Cow::Owned(text) => text,
    }
}

/// A JSON text: the same document, with what is hidden as `\u202e`. It can stand within strings only.
pub fn json(text: String) -> String {
    if !text.chars().any(|c| c != '\n' && is_hidden(c)) {
        return text;
    }
    let mut units = [0; 2];
    text.chars().fold(String::with_capacity(text.len()), |mut all, c| {
        if c == '\n' || !is_hidden(c) {
            all.push(c);
        } else {
            c.encode_utf16(&mut units).iter().for_each(|unit| all.push_str(&format!("\\u{unit:04x}")));
        }
        all
    })
}

/// A cell of a CSV. What a spreadsheet would take for a formula gets an apostrophe before it, which spreadsheets use for
/// "this is text"; so does what begins with an apostrophe, so that one taken off always gives the text back.
pub fn spreadsheet(cell: &str) -> String {
    let text = line(cell);
    let first = text.trim_start().chars().next();
    let formula = first.is_some_and(|c| "=+-@＝＋－＠".contains(c)) && !is_number(&text);
    if formula || text.starts_with('\'') { format!("'{text}") } else { text }
}

/// Digits with a sign, a point and an exponent.
fn is_number(text: &str) -> bool {
    let digits = text.strip_prefix('-').unwrap_or(text);
    digits.starts_with(|c: char| c.is_ascii_digit()) && digits.parse::<f64>().is_ok()
}

/// A path as it is shown to people.
pub fn path(path: &Path) -> String {
    line(&path.display().to_string())
}

/// A path in a command that can be pasted into a shell: in quotes where it needs them, byte by byte where it has to be.
pub fn shell(path: &Path) -> String {
    let dashed = |text: &str| if text.starts_with('-') { "./" } else { "" };
    let Some(text) = path.to_str().filter(|text| hidden_in(text).is_none()) else {
        let byte = |b: &u8| match b {
            b'\'' | b'\\' => format!("\\{}", char::from(*b)),
            b' '..=b'~' => char::from(*b).to_string(),
            _ => format!("\\x{b:02x}"),
        };
        let bytes: String = path.as_os_str().as_encoded_bytes().iter().map(byte).collect();
        return format!("$'{}{bytes}'", dashed(&bytes));
    };
    let plain = |c: char| c.is_alphanumeric() || "/._-+=:,@%".contains(c);
    if !text.is_empty() && !text.starts_with('-') && text.chars().all(plain) {
        return text.to_owned();
    }
    format!("'{}{}'", dashed(text), text.replace('\'', r"'\''"))
}

/// A text with all that is hidden spelled out, but for what may stay.
fn spelled<'a>(text: &'a str, stays: &dyn Fn(char) -> bool) -> Cow<'a, str> {
    let spell = |c: char| is_hidden(c) && !stays(c);
    if !text.chars().any(spell) {
        return Cow::Borrowed(text);
    }
    let mut all = String::with_capacity(text.len() + 16);
    for c in text.chars() {
        if spell(c) { all.extend(c.escape_default()) } else { all.push(c) }
    }
    Cow::Owned(all)
}

#[cfg(test)]
mod tests {
    use super::*;
    use proptest::prelude::*;

    /// Section 2.2 of XML 1.0, fifth edition.
    fn is_xml(c: char) -> bool {
        matches!(c, '\t' | '\n' | '\r' | '\u{20}'..='\u{d7ff}' | '\u{e000}'..='\u{fffd}' | '\u{10000}'..='\u{10ffff}')
    }

    #[test]
    fn what_acts_unseen_is_hidden_and_letters_of_every_script_are_not() {
        // Bidi_Control of Unicode, PropList.txt: twelve characters.
        for c in
            "\u{61c}\u{200e}\u{200f}\u{202a}\u{202b}\u{202c}\u{202d}\u{202e}\u{2066}\u{2067}\u{2068}\u{2069}".chars()
        {
            assert!(is_hidden(c), "{c:?}");
        }
        for c in "\0\t\n\r\u{1b}\u{7f}\u{80}\u{9b}\u{2028}\u{fffe}\u{ffff}\u{1ffff}\u{10fffe}\u{fdd0}\u{e0041}".chars()
        {
            assert!(is_hidden(c), "{c:?}");
        }
        assert_eq!(hidden_in("Ærø Ω 電池 آب می‌خواهم बैटरी 🔋 A\u{a0}1 – m²"), None);
        assert_eq!(hidden_in("a\u{202e}b").as_deref(), Some("U+202E"));
    }

    #[test]
    fn a_cell_that_looks_like_a_formula_is_text_and_a_number_stays_a_number() {
        for formula in ["=1+1", "+A1", "-A1", "@SUM(A1)", " =1", "＝1", "-", "+5", "-inf", "-5 A", "-1-2", "=", "--5"]
        {
            assert_eq!(spreadsheet(formula), format!("'{formula}"));
        }
        for plain in ["-5", "-0.25", "-1e-7", "12", "A1", "", "a=b", "A-1", "–", "−5"] {
            assert_eq!(spreadsheet(plain), plain);
        }
        assert_eq!(spreadsheet("'quoted"), "''quoted");
        assert_eq!(spreadsheet("\t=1"), "\\t=1");
    }

    #[test]
    fn a_path_can_be_pasted_whatever_it_holds() {
        let of = |text: &str| shell(Path::new(text));
        assert_eq!(of("a/b-1.toml"), "a/b-1.toml");
        assert_eq!(of("it's here"), r"'it'\''s here'");
        assert_eq!(of("-x"), "'./-x'");
        assert_eq!(of(""), "''");
        assert_eq!(of("a\u{1b}[2J'\u{202e}\\"), r"$'a\x1b[2J\'\xe2\x80\xae\\'");
        assert_eq!(path(Path::new("a\n✔ met")), "a\\n✔ met");
    }

    proptest! {
        #[test]
        fn nothing_hidden_reaches_any_medium(text in any::<String>(), c in any::<char>()) {
            let text = format!("{c}{text}\u{202e}\u{1b}\u{ffff}\r\n");
            for shown in [line(&text), markup(&text), spreadsheet(&text), shell(Path::new(&text))] {
                prop_assert!(hidden_in(&shown).is_none(), "{:?}", shown);
            }
            for shown in [terminal(&text), document(text.clone()), json(text.clone())] {
                prop_assert!(hidden_in(&shown.replace("\r\n", "").replace(['\n', '\t'], "")).is_none(), "{:?}", shown);
            }
            prop_assert!(document(text.clone()).chars().all(is_xml));
            prop_assert!(!markup(&text).contains(['<', '>', '"']));
        }

        #[test]
        fn a_cell_without_the_hidden_reads_back(text in "[=+@'\\-]{0,2}[^\\p{C}\\p{Z}]{0,6}") {
            prop_assume!(hidden_in(&text).is_none());
            let cell = spreadsheet(&text);
            prop_assert_eq!(cell.strip_prefix('\'').unwrap_or(&cell), &text);
        }

        #[test]
        fn a_document_of_json_is_the_same_document(text in any::<String>()) {
            let text = format!("{text}\u{e0041}\u{202e}");
            let written = json(serde_json::to_string_pretty(&[&text]).unwrap());
            prop_assert_eq!(serde_json::from_str::<Vec<String>>(&written).unwrap(), [text]);
            prop_assert!(hidden_in(&written.replace('\n', "")).is_none());
        }
    }
}
