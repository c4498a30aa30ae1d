//! The results folder from within: what is looked at, what is put, what stays.

use super::*;
use std::path::Path;

fn files<'a>(texts: &[(&'a str, &str)]) -> Vec<(&'a str, Vec<u8>)> {
    texts.iter().map(|(name, text)| (*name, text.as_bytes().to_vec())).collect()
}

fn put(dir: &Path, mode: Mode, texts: &[(&str, &str)]) -> Result<Vec<String>, FolderError> {
    let names: Vec<&str> = texts.iter().map(|(name, _)| *name).collect();
    Folder::open(dir, Writer::new("limit"), mode, &names)?.put(&files(texts), None)
}

fn text(dir: &Path, name: &str) -> String {
    std::fs::read_to_string(dir.join(name)).unwrap()
}

fn list(dir: &Path) -> Vec<String> {
    let mut names: Vec<String> =
        std::fs::read_dir(dir).unwrap().map(|e| e.unwrap().file_name().into_string().unwrap()).collect();
    names.sort();
    names
}

#[test]
fn results_are_not_written_over_unless_told() {
    let home = tempfile::tempdir().unwrap();
    let dir = home.path().join("deep/out");
    put(&dir, Mode::Fresh, &[("a.csv", "1"), ("results.json", "1")]).unwrap();
    assert!(matches!(put(&dir, Mode::Fresh, &[("b.csv", "2")]), Err(FolderError::Occupied { .. })));
    assert!(put(&dir, Mode::Force, &[("a.csv", "2"), ("results.json", "2")]).unwrap().is_empty());
    assert_eq!((text(&dir, "a.csv"), text(&dir, "results.json")), ("2".into(), "2".into()));
    assert_eq!(list(&dir), ["a.csv", "manifest.json", "results.json"]);
}

#[test]
fn what_an_earlier_set_left_goes_unless_somebody_has_changed_it() {
    let home = tempfile::tempdir().unwrap();
    put(home.path(), Mode::Fresh, &[("a.csv", "1"), ("b.csv", "1"), ("c.csv", "1")]).unwrap();
    std::fs::write(home.path().join("c.csv"), "mine").unwrap();
    let notes = put(home.path(), Mode::Force, &[("a.csv", "2")]).unwrap();
    assert!(notes.len() == 1 && notes[0].contains("c.csv") && notes[0].contains("kept"), "{notes:?}");
    assert_eq!(list(home.path()), ["a.csv", "c.csv", "manifest.json"]);
    assert_eq!(text(home.path(), "c.csv"), "mine");
    // It is no file of the results any more.
    let refused = put(home.path(), Mode::Force, &[("c.csv", "3")]);
    assert!(matches!(refused, Err(FolderError::Unlisted(_))));
}

/// Two commands that begin at a folder which is not there yet: the second to end finds the results of the first, and was
/// not told to write over them.
#[test]
fn results_that_came_while_the_work_went_on_are_another_commands() {
    let home = tempfile::tempdir().unwrap();
    let dir = home.path().join("out");
    let late = Folder::open(&dir, Writer::new("compare"), Mode::Fresh, &["a.csv"]).unwrap();
    put(&dir, Mode::Fresh, &[("b.csv", "1")]).unwrap();
    assert!(matches!(late.put(&files(&[("a.csv", "2")]), None), Err(FolderError::Occupied { .. })));
    assert_eq!((list(&dir), text(&dir, "b.csv")), (vec!["b.csv".into(), "manifest.json".into()], "1".into()));
}

/// What comes into the way while the work goes on refuses the set as a whole, too.
#[test]
fn names_are_looked_at_again_before_the_first_file_takes_its_place() {
    let home = tempfile::tempdir().unwrap();
    let texts = [("a.csv", "2"), ("b.csv", "2"), ("c.csv", "2")];
    put(home.path(), Mode::Fresh, &[("a.csv", "1"), ("b.csv", "1")]).unwrap();
    let folder = Folder::open(home.path(), Writer::new("limit"), Mode::Force, &["a.csv", "b.csv", "c.csv"]).unwrap();
    std::fs::write(home.path().join("c.csv"), "mine").unwrap();
    assert!(matches!(folder.put(&files(&texts), None), Err(FolderError::Unlisted(_))));
    assert_eq!(["a.csv", "b.csv", "c.csv"].map(|name| text(home.path(), name)), ["1", "1", "mine"]);
    assert_eq!(list(home.path()), ["a.csv", "b.csv", "c.csv", "manifest.json"]);
    std::fs::remove_file(home.path().join("c.csv")).unwrap();
    // Changed in the meantime, and told.
    std::fs::write(home.path().join("b.csv"), "changed").unwrap();
    let notes = folder.put(&files(&texts), None).unwrap();
    assert!(notes.len() == 1 && notes[0].contains("b.csv"), "{notes:?}");
    assert_eq!(["a.csv", "b.csv", "c.csv"].map(|name| text(home.path(), name)), ["2", "2", "2"]);
}

#[test]
fn a_place_that_cannot_be_written_is_named() {
    let home = tempfile::tempdir().unwrap();
    std::fs::create_dir(home.path().join("table.csv")).unwrap();
    let refused = put(home.path(), Mode::Force, &[("table.csv", "x")]).unwrap_err();
    assert!(refused.is_refusal() && refused.to_string().contains("table.csv is a folder"), "{refused}");
    std::fs::write(home.path().join("file"), b"").unwrap();
    let under_a_file = put(&home.path().join("file/out"), Mode::Fresh, &[("table.csv", "x")]);
    assert!(matches!(under_a_file, Err(FolderError::Folder { .. })));
}

#[test]
fn no_name_leads_out_of_the_folder() {
    let home = tempfile::tempdir().unwrap();
    let dir = home.path().join("out");
    for name in ["../stray", "/tmp/bankwright/stray", "", "a/../../stray", "a/b", "manifest.json", "shards"] {
        assert!(put(&dir, Mode::Fresh, &[(name, "x")]).is_err(), "{name}");
    }
    assert!(!home.path().join("stray").exists());
}

#[cfg(unix)]
#[test]
fn a_new_file_has_the_rights_of_a_plain_one() {
    use std::os::unix::fs::PermissionsExt;
    let home = tempfile::tempdir().unwrap();
    std::fs::write(home.path().join("plain"), b"").unwrap();
    let mode = |name: &str| std::fs::metadata(home.path().join(name)).unwrap().permissions().mode();
    put(home.path(), Mode::Fresh, &[("ours", "x")]).unwrap();
    assert_eq!((mode("ours"), mode("manifest.json")), (mode("plain"), mode("plain")));
}
