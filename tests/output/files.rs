//! The results folder.

use super::*;

#[test]
fn results_are_not_written_over_unless_told() {
    let home = tempfile::tempdir().unwrap();
    let dir = home.path().join("deep/out");
    ResultsFolder::create(&dir, Mode::Fresh).unwrap().write("results.json", b"1").unwrap();
    assert!(matches!(ResultsFolder::create(&dir, Mode::Fresh), Err(FolderError::Occupied(_))));
    ResultsFolder::create(&dir, Mode::Resume).unwrap();
    ResultsFolder::create(&dir, Mode::Force).unwrap().write("results.json", b"2").unwrap();
    assert_eq!(std::fs::read(dir.join("results.json")).unwrap(), b"2");
}

#[test]
fn a_write_that_fails_leaves_the_old_file_and_no_litter() {
    let home = tempfile::tempdir().unwrap();
    let folder = ResultsFolder::create(home.path(), Mode::Fresh).unwrap();
    folder.write("table.csv", b"old").unwrap();
    let full = folder.write_with("table.csv", |out| {
        out.write_all(&[b'x'; 100_000])?;
        Err(io::Error::new(io::ErrorKind::StorageFull, "no space left on device"))
    });
    let message = full.unwrap_err().to_string();
    assert!(message.contains("table.csv") && message.contains("no space left"), "{message}");
    assert_eq!(std::fs::read(home.path().join("table.csv")).unwrap(), b"old");
    assert_eq!(std::fs::read_dir(home.path()).unwrap().count(), 1);
}

#[test]
fn a_place_that_cannot_be_written_is_named() {
    let home = tempfile::tempdir().unwrap();
    let folder = ResultsFolder::create(home.path(), Mode::Fresh).unwrap();
    std::fs::create_dir(home.path().join("table.csv")).unwrap();
    assert!(folder.write("table.csv", b"x").unwrap_err().to_string().contains("table.csv"));
    std::fs::write(home.path().join("file"), b"").unwrap();
    let under_a_file = ResultsFolder::create(&home.path().join("file/out"), Mode::Fresh);
    assert!(matches!(under_a_file, Err(FolderError::Folder { .. })));
}

#[test]
fn no_name_leads_out_of_the_folder() {
    let home = tempfile::tempdir().unwrap();
    let folder = ResultsFolder::create(&home.path().join("out"), Mode::Fresh).unwrap();
    for name in ["../stray", "/tmp/stray", "", "a/../../stray"] {
        assert!(folder.write(name, b"x").is_err(), "{name}");
    }
    folder.write("figures/overload.svg", b"x").unwrap();
    folder.remove("figures/overload.svg").unwrap();
    folder.remove("figures/overload.svg").unwrap();
    assert!(!home.path().join("stray").exists());
}

#[cfg(unix)]
#[test]
fn a_new_file_has_the_rights_of_a_plain_one() {
    use std::os::unix::fs::PermissionsExt;
    let home = tempfile::tempdir().unwrap();
    let folder = ResultsFolder::create(home.path(), Mode::Fresh).unwrap();
    std::fs::write(home.path().join("plain"), b"").unwrap();
    let mode = |name: &str| std::fs::metadata(home.path().join(name)).unwrap().permissions().mode();
    folder.write("ours", b"x").unwrap();
    assert_eq!(mode("ours"), mode("plain"));
}
