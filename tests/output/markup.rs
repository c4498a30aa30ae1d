//! A small judge of markup: tags in balance, identifiers used once, references that lead somewhere.

use std::collections::HashSet;

const VOID: [&str; 3] = ["meta", "br", "hr"];

/// Panics, with the case's name, where the text is not well-formed.
pub fn check(text: &str, case: &str) {
    let mut open: Vec<&str> = Vec::new();
    let mut ids = HashSet::new();
    let mut rest = text;
    while let Some(at) = rest.find('<') {
        assert!(
            !rest[..at].contains('>') || open.last() == Some(&"style"),
            "{case}: a loose > before {:.40}",
            &rest[at..]
        );
        let end = at + rest[at..].find('>').unwrap_or_else(|| panic!("{case}: a tag without end"));
        let tag = &rest[at + 1..end];
        rest = &rest[end + 1..];
        if tag.starts_with('!') {
            continue;
        }
        if let Some(name) = tag.strip_prefix('/') {
            assert_eq!(open.pop(), Some(name), "{case}: closes what is not open");
            continue;
        }
        assert_eq!(tag.matches('"').count() % 2, 0, "{case}: quotes of <{tag}>");
        if let Some(id) = attribute(tag, "id") {
            assert!(ids.insert(id.to_string()), "{case}: identifier {id} twice");
        }
        let name = tag.split(|c: char| c.is_whitespace() || c == '/').next().unwrap();
        if !tag.ends_with('/') && !VOID.contains(&name) {
            open.push(name);
        }
    }
    assert!(open.is_empty(), "{case}: never closed: {open:?}");
    references(text, &ids, case);
}

fn references(text: &str, ids: &HashSet<String>, case: &str) {
    let labelled = text.split("aria-labelledby=\"").skip(1).flat_map(|t| t.split('"').next().unwrap().split(' '));
    let linked = text.split("href=\"#").skip(1).map(|t| t.split('"').next().unwrap());
    let patterns = text.split("url(#").skip(1).map(|t| t.split(')').next().unwrap());
    for id in labelled.chain(linked).chain(patterns) {
        assert!(ids.contains(id), "{case}: nothing has the identifier {id}");
    }
}

fn attribute<'a>(tag: &'a str, name: &str) -> Option<&'a str> {
    let from = tag.find(&format!(" {name}=\""))? + name.len() + 3;
    tag[from..].split('"').next()
}

/// Texts of an SVG that are not turned: place, anchor, width by a rule of thumb, words.
pub fn texts(svg: &str) -> Vec<(f64, String, f64, String)> {
    let mut found = Vec::new();
    for part in svg.split("<text ").skip(1) {
        let (tag, words) = part.split_once('>').unwrap();
        let tag = format!(" {tag}");
        let size: f64 = attribute(&tag, "font-size").unwrap().parse().unwrap();
        let words = words.split("</text>").next().unwrap().trim().to_string();
        let x = attribute(&tag, "x").unwrap().parse().unwrap();
        // Just under half an em a character is the mean of a wide sans-serif.
        let width =
            words.replace("&lt;", "<").replace("&gt;", ">").replace("&amp;", "&").chars().count() as f64 * size * 0.48;
        found.push((x, attribute(&tag, "text-anchor").unwrap().into(), width, words));
    }
    found
}
