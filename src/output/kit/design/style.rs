//! The look of the page: light and dark, wide and narrow, screen and paper.

use crate::escape;

/// All of it but the foot.
const SHEET: &str = include_str!("page.css");

/// The style sheet; the foot of every printed page names study, program and digest.
pub fn sheet(title: &str, version: &str, digest: &str) -> String {
    let digest: String = digest.chars().take(12).collect();
    let foot = css_string(&format!("{title} · {version} · {digest}"));
    format!(
        "{SHEET}@page{{size:A4;margin:18mm 15mm;@bottom-left{{content:{foot};font:8pt sans-serif;color:#595959}}@bottom-right{{content:counter(page) \" / \" counter(pages);font:8pt sans-serif;color:#595959}}}}\n"
    )
}

/// A CSS string that nothing can break out of: all but letters, digits and a few signs is escaped.
fn css_string(text: &str) -> String {
    let mut out = String::from("\"");
    for c in escape::line(text).chars() {
        if c.is_alphanumeric() || matches!(c, ' ' | '.' | ',' | '-' | '·' | '_') {
            out.push(c);
        } else {
            out.push_str(&format!("\\{:x} ", u32::from(c)));
        }
    }
    out.push('"');
    out
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn a_title_cannot_leave_its_string() {
        let css = sheet("a\"};</style><b>\n\\", "v", "d");
        assert!(!css.contains("</style>") && !css.contains("a\"}"));
        assert!(css_string("\"\\<\n").starts_with("\"\\22 \\5c \\3c \\5c n"));
        assert!(!css_string("a\u{202e}b").contains("\\202e "), "a browser would turn the direction");
    }
}
