//! Standard output, standard error, terminals, and readers that go away.

use super::{PROGRAM, Place, Ran, SMALL, with};
use std::process::{Command, Stdio};

fn shell(place: &Place, line: &str) -> Ran {
    let line = line.replace("bankwright", &format!("'{PROGRAM}'"));
    let mut shell = assert_cmd::Command::new("bash");
    shell.current_dir(place.dir()).timeout(super::PATIENCE).args(["-c", &format!("set -o pipefail; {line}")]);
    Ran::of(&mut shell)
}

#[test]
fn a_reader_that_goes_away_is_no_failure() {
    let place = Place::winter();
    for line in [
        "bankwright replay bank.toml --trial 3 | head -1",
        "bankwright replay bank.toml --trial 3 --json | head -1",
        "bankwright check bank.toml | head -1",
        "bankwright --help | head -1",
    ] {
        let ran = shell(&place, line).ends(0);
        assert_eq!((ran.out.lines().count(), ran.err.as_str()), (1, ""), "{line}");
    }
    let ran = shell(&place, "bankwright run bank.toml --json | true").ends(3);
    assert!(ran.err.is_empty(), "{}", ran.err);
    assert!(place.path("output/bank/results.json").is_file());
}

#[cfg(target_os = "linux")]
#[test]
fn an_output_that_cannot_be_written_is_a_failure_of_the_machine() {
    let place = Place::winter();
    for line in [
        "bankwright check bank.toml",
        "bankwright point bank.toml --current 1 --json",
        "bankwright replay bank.toml --trial 1",
        "bankwright run bank.toml --trials 5",
        "bankwright --help",
    ] {
        shell(&place, &format!("{line} >/dev/full")).ends(1).says(&["standard output", "No space left"]);
    }
}

#[cfg(target_os = "linux")]
#[test]
fn a_standard_error_that_cannot_be_written_changes_nothing() {
    let place = Place::winter();
    shell(&place, "bankwright run none.toml 2>/dev/full").ends(2);
    shell(&place, "bankwright run bank.toml --threads 0 2>/dev/full").ends(2);
    shell(&place, "bankwright run bank.toml --json 2>/dev/full").ends(3).json();
    shell(&place, "bankwright run bank.toml --json --force 2>&-").ends(3).json();
    shell(&place, "bankwright run bank.toml 2>/dev/full").ends(2);
    shell(&place, "bankwright check bank.toml >&- 2>&-").ends(0);
}

#[test]
fn piped_output_has_no_colour_and_no_carriage_return() {
    let place = Place::winter();
    place.write("wrong.toml", &with(SMALL, "\"100 Ah\"", "\"0 Ah\""));
    place.write("unusual.toml", &with(SMALL, "\"100 Ah\"", "\"2 Ah\""));
    let commands = [
        "run bank.toml --force",
        "run bank.toml --json --force",
        "run bank.toml --resume",
        "run bank.toml",
        "check wrong.toml",
        "check unusual.toml",
        "point bank.toml --current 900",
        "point",
        "pont",
        "--help",
    ];
    for args in commands {
        for environment in [("NO_COLOR", "1"), ("TERM", "xterm-256color"), ("TERM", "dumb")] {
            let ran = Ran::of(place.command(args).env(environment.0, environment.1));
            for text in [&ran.out, &ran.err] {
                assert!(!text.contains(['\u{1b}', '\r']), "{args} with {environment:?}\n{text}");
            }
        }
    }
}

/// The option wins over the environment; a document has none whatever is asked for.
#[test]
fn colour_is_what_is_asked_for() {
    let place = Place::winter();
    place.write("wrong.toml", &with(SMALL, "\"100 Ah\"", "\"0 Ah\""));
    let unrated = SMALL.lines().filter(|l| !l.contains("limit =") && !l.contains("rating =")).collect::<Vec<_>>();
    place.write("unrated.toml", &unrated.join("\n"));
    let run = "run bank.toml --trials 40 --force";
    let ran = |args: &str| Ran::of(place.command(args).env("NO_COLOR", "1").env("TERM", "dumb"));
    let always = ran(&format!("{run} --color always")).ends(3);
    assert!(always.out.contains("\u{1b}[1;31m✖ missed\u{1b}[0m") && !always.err.contains('\u{1b}'), "{}", always.out);
    let painted = always.out.matches('\u{1b}').count();
    assert_eq!(painted, 2 * place.run("run bank.toml --trials 40 --resume").ends(3).out.matches("✖ missed").count());
    assert!(!ran(&format!("{run} --color always --json")).ends(3).out.contains('\u{1b}'));
    for (args, code, label) in [
        ("check wrong.toml", 2, "\u{1b}"),
        ("limit bank.toml --outages 1 --chance --current 1 --most-sets 0", 2, "\u{1b}"),
        ("run bank.toml --trials 40", 2, "\u{1b}[1;31mbankwright:\u{1b}[0m "),
        ("limit unrated.toml", 0, "\u{1b}[1;33mwarning:\u{1b}[0m "),
    ] {
        for (option, wanted) in [("--color=always", true), ("--color never", false), ("", false)] {
            let told = ran(&format!("{args} {option}")).ends(code).err;
            assert_eq!(told.contains(label), wanted, "{args} {option}\n{told}");
        }
    }
    place.run("check bank.toml --color sometimes").ends(2).says(&["auto", "always", "never"]);
}

#[test]
fn quiet_leaves_results_and_errors() {
    let place = Place::with(&with(SMALL, "\"100 Ah\"", "\"2 Ah\""));
    let loud = place.run("check bank.toml").ends(0);
    assert!(loud.err.contains("warning"), "{}", loud.err);
    let quiet = place.run("check bank.toml --quiet").ends(0);
    assert_eq!((quiet.err.as_str(), quiet.out), ("", loud.out));
    place.run("run bank.toml --quiet").ends(2).says(&["needs [load]"]);
    let winter = Place::winter();
    let ran = winter.run("run bank.toml --quiet").ends(3);
    assert!(ran.err.is_empty() && !ran.out.is_empty(), "{}", ran.err);
}

#[test]
fn warnings_never_reach_standard_output() {
    let text = with(SMALL, "\"100 Ah\"", "\"2 Ah\"") + super::CONSTANT;
    let place = Place::with(&text);
    for args in [
        "check bank.toml --json",
        "point bank.toml --current 1 --json",
        "run bank.toml --json",
        "replay bank.toml --trial 0 --json",
    ] {
        let ran = place.run(args).ends(0).says(&["warning"]);
        ran.json();
    }
}

#[test]
fn nothing_is_read_from_standard_input() {
    let place = Place::constant();
    let mut child = Command::new(PROGRAM);
    child.current_dir(place.dir()).args(["run", "bank.toml", "--json"]).stdin(Stdio::piped()).stdout(Stdio::piped());
    // The pipe stays open: a program that read from it would wait.
    let mut child = child.spawn().unwrap();
    let held = child.stdin.take();
    Ran::from(child.wait_with_output().unwrap()).ends(0).json();
    drop(held);
}

/// `script` gives the command a terminal; what comes back is what a person sees.
#[cfg(target_os = "linux")]
#[test]
fn on_a_terminal_faults_have_colour_unless_told_not_to() {
    let place = Place::with(&with(SMALL, "\"100 Ah\"", "\"0 Ah\""));
    let Ok(version) = Command::new("script").arg("--version").output() else {
        eprintln!("no `script` here: not tested");
        return;
    };
    assert!(version.status.success());
    let seen_with = |environment: &[(&str, &str)], option: &str| {
        let mut script = assert_cmd::Command::new("script");
        script.current_dir(place.dir()).timeout(super::PATIENCE).env_remove("NO_COLOR").env("TERM", "xterm");
        script.args(["-qec", &format!("'{PROGRAM}' check bank.toml {option}"), "/dev/null"]);
        Ran::of(script.envs(environment.iter().copied())).ends(2).out
    };
    let seen = |environment: &[(&str, &str)]| seen_with(environment, "");
    assert!(!seen_with(&[], "--color never").contains('\u{1b}'));
    assert!(seen_with(&[("NO_COLOR", "1")], "--color always").contains('\u{1b}'));
    assert!(seen(&[]).contains('\u{1b}'));
    assert!(seen(&[("NO_COLOR", "")]).contains('\u{1b}'), "only a value that is not empty counts");
    for off in [("NO_COLOR", "1"), ("TERM", "dumb")] {
        assert!(!seen(&[off]).contains('\u{1b}'), "{off:?}");
    }
}
