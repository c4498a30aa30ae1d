//! What is cited can be followed: a document that is named is in the repository, and no source is a place that is not.

use super::{FORMAT, root};
use std::path::Path;

/// Text that is ours, by its path from the top.
fn texts() -> Vec<(String, String)> {
    let mut found = Vec::new();
    for folder in ["src", "tests", "benches", "scenarios", ".ci"] {
        collect(&root().join(folder), &mut found);
    }
    for file in ["README.md", "DEVELOPERS.md", "CHANGELOG.md", "output/README.md", "Cargo.toml"] {
        read(&root().join(file), &mut found);
    }
    assert!(found.len() > 300, "the sources were not found");
    found
}

fn collect(folder: &Path, found: &mut Vec<(String, String)>) {
    for entry in std::fs::read_dir(folder).unwrap() {
        let path = entry.unwrap().path();
        let text = path.extension().is_none_or(|e| ["rs", "md", "toml"].iter().any(|ours| e == *ours));
        match path.is_dir() {
            true => collect(&path, found),
            false if text => read(&path, found),
            false => {}
        }
    }
}

fn read(path: &Path, found: &mut Vec<(String, String)>) {
    if let Ok(text) = std::fs::read_to_string(path) {
        found.push((path.strip_prefix(root()).unwrap().to_str().unwrap().replace('\\', "/"), text));
    }
}

/// Ways to cite what a reader of the repository cannot open. In pieces, so that this file is no case of them.
fn nowhere_to_be_found(line: &str) -> bool {
    let line = line.to_lowercase();
    let phrases = [("check", "values"), ("of the", "contract"), ("solar", "forum"), ("textbook", "circuit")];
    let named = phrases.iter().any(|(a, b)| line.contains(&format!("{a} {b}")));
    // A section by number is of a document: of a published standard that the same line names, or of none.
    let published = ["xml 1.0", "iec ", "nfpa ", "ieee ", "iso "].iter().any(|of| line.contains(of));
    let number = |rest: &str| rest.starts_with(|c: char| c.is_ascii_digit());
    named || !published && line.split(&["section", " "].concat()).skip(1).any(number)
}

#[test]
fn no_source_is_a_document_that_is_not_here() {
    let judged = texts().into_iter().flat_map(|(file, text)| {
        let faults = text.lines().enumerate().filter(|(_, line)| nowhere_to_be_found(line));
        faults.map(|(k, line)| format!("{file}:{}: {}", k + 1, line.trim())).collect::<Vec<_>>()
    });
    let faults: Vec<String> = judged.collect();
    assert!(faults.is_empty(), "{}", faults.join("\n"));
    assert!(nowhere_to_be_found(&["by the check", "values, section", "3"].join(" ")), "the test itself");
}

#[test]
fn every_document_that_is_named_is_here() {
    let mut named = 0;
    for (file, text) in texts() {
        let beside = root().join(&file).parent().unwrap().to_owned();
        let in_a_name = |c: char| c.is_ascii_alphanumeric() || "_-./".contains(c);
        for name in text.split(|c| !in_a_name(c)).filter(|word| Path::new(word).extension().is_some_and(|e| e == "md"))
        {
            let there =
                [root().join(name.trim_start_matches('/')), beside.join(name)].iter().any(|path| path.is_file());
            assert!(there, "{file} names {name}");
            named += 1;
        }
    }
    assert!(named > 10);
}

/// Rows that were recalled are marked where users choose a size.
#[test]
fn the_rows_from_memory_are_marked_in_the_format() {
    for words in [
        "4, 6, 185, 240 and 300 mm² are from memory",
        "25 to 95 mm² at 90 °C, is from memory",
        "these three from memory",
    ] {
        assert!(FORMAT.contains(words), "{words}");
    }
}
