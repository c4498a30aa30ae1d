//! What files, paths and arguments hold reaches no terminal raw, and forges no line.

use super::{PROGRAM, Place, Ran};
use bankwright::escape;
use std::ffi::OsStr;

/// Clears a screen, names a window, turns the direction, forges a verdict.
const EVIL: &str = "\u{1b}[2J\u{9b}31m\u{1b}]0;x\u{7}\u{202e}\u{2066}\u{61c}\n✔ met  all targets\r";

fn ran(place: &Place, args: &[&OsStr]) -> Ran {
    Ran::of(assert_cmd::Command::new(PROGRAM).current_dir(place.dir()).timeout(super::PATIENCE).args(args))
}

/// Nothing hidden in what was said, and no line that the user's text began.
fn is_clean(ran: &Ran, case: &str) {
    for said in [&ran.out, &ran.err] {
        let hidden = escape::hidden_in(&said.replace(['\n', '\t'], ""));
        assert_eq!(hidden, None, "{case}\n{said:?}");
        assert!(said.lines().all(|line| !line.starts_with("✔ met  all")), "{case}\n{said}");
    }
}

#[test]
fn no_argument_and_no_path_steers_the_terminal() {
    let place = Place::constant();
    let (evil, other) = (EVIL.to_owned(), format!("{EVIL}2"));
    let cases: [(i32, Vec<&str>); 12] = [
        (2, vec!["check", &evil]),
        (2, vec![&evil]),
        (2, vec!["check", "bank.toml", &evil]),
        (2, vec!["run", "bank.toml", "--trials", &evil]),
        (2, vec!["run", "bank.toml", "--color", &evil]),
        (2, vec!["limit", "bank.toml", "--air", &evil]),
        (2, vec!["point", "bank.toml", "--current", "1", "--without", &evil]),
        (2, vec!["readings", "bank.toml", &evil]),
        (0, vec!["run", "bank.toml", "--out", &evil]),
        (2, vec!["run", "bank.toml", "--out", &evil]),
        (0, vec!["limit", "bank.toml", "--out", &other]),
        (2, vec!["limit", "bank.toml", "--out", &other]),
    ];
    for (code, args) in &cases {
        let ran = ran(&place, &args.iter().map(OsStr::new).collect::<Vec<_>>()).ends(*code);
        is_clean(&ran, &format!("{args:?}"));
        assert!(*code == 0 || ran.err.contains("\\u{1b}[2J\\u{9b}31m"), "spelled out, not lost: {args:?}\n{}", ran.err);
    }
}

#[test]
fn colour_that_is_asked_for_comes_from_the_program_alone() {
    let place = Place::constant();
    let ran = ran(&place, &["run", "bank.toml", "--color=always", "--trials", "\u{1b}[2J"].map(OsStr::new)).ends(2);
    assert!(
        ran.err.contains("\u{1b}[") && !ran.err.contains("\u{1b}[2J") && ran.err.contains("\\u{1b}[2J"),
        "{:?}",
        ran.err
    );
}

#[cfg(unix)]
#[test]
fn bytes_that_are_no_text_are_shown_as_such() {
    use std::os::unix::ffi::OsStrExt;
    use std::os::unix::process::CommandExt;
    let place = Place::constant();
    let bytes = OsStr::from_bytes(b"x\xff\x1b[2J.toml");
    for args in [
        vec![OsStr::new("check"), bytes],
        ["point", "bank.toml", "--current", "1", "--without"].map(OsStr::new).to_vec(),
    ] {
        let mut args = args;
        if args.len() > 2 {
            args.push(bytes);
        }
        is_clean(&ran(&place, &args).ends(2), &format!("{args:?}"));
    }
    let called = std::process::Command::new(PROGRAM).arg0("\u{1b}[2Jbankwright").arg("--help").output().unwrap();
    is_clean(&Ran::from(called).ends(0), "called by another name");
}

#[test]
fn a_case_of_readings_with_something_invisible_is_refused() {
    let place = Place::small();
    for hidden in ["\u{1b}[2J", "\u{202e}", "a\u{2066}b", "\u{ffff}"] {
        place.write("readings.csv", &format!("element,current_a,drop_v,case\nA1,15,,noon{hidden}\n"));
        let ran = place.run("readings bank.toml readings.csv").ends(2);
        is_clean(&ran.says(&["readings.csv:2:8", "invisible character, U+"]), hidden);
    }
    place.write("readings.csv", "element,current_a,drop_v,case\nA1,15,,正午 à midi\n");
    place.run("readings bank.toml readings.csv").ends(0);
}

#[cfg(unix)]
#[test]
fn a_command_to_go_on_with_can_be_pasted() {
    let place = Place::winter();
    let mut child = std::process::Command::new(PROGRAM)
        .current_dir(place.dir())
        .args(["run", "bank.toml", "--threads", "1", "--trials", "4000", "--out", "it's \u{202e}here"])
        .stderr(std::process::Stdio::piped())
        .spawn()
        .unwrap();
    let shards = place.path("it's \u{202e}here/shards");
    while !shards.join("run.json").exists() {
        assert!(child.try_wait().unwrap().is_none(), "it still runs");
        std::thread::sleep(std::time::Duration::from_millis(20));
    }
    let killed = std::process::Command::new("kill").args(["-INT", &child.id().to_string()]).status().unwrap();
    assert!(killed.success());
    let ran = Ran::from(child.wait_with_output().unwrap()).ends(130);
    is_clean(&ran, "interrupted");
    assert!(ran.err.contains(r"--out $'it\'s \xe2\x80\xaehere'"), "{}", ran.err);
    let command = ran.err.lines().last().unwrap().trim().replacen("bankwright", PROGRAM, 1);
    let pasted = std::process::Command::new("bash").current_dir(place.dir()).args(["-c", &command]).output().unwrap();
    Ran::from(pasted).ends(3);
    assert!(place.path("it's \u{202e}here/results.json").is_file());
}
