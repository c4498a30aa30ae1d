//! Help, version, and arguments that are wrong.

use super::{Place, Ran};

const COMMANDS: [&str; 10] =
    ["check", "point", "limit", "run", "compare", "propose", "replay", "readings", "verify", "completions"];

#[test]
fn help_and_version_go_to_standard_output_at_every_level() {
    let place = Place::small();
    for command in COMMANDS.iter().chain(&[""]) {
        for flag in ["--help", "-h", "--version", "-V"] {
            let ran = place.run(&format!("{command} {flag}")).ends(0);
            let wanted =
                if flag.to_lowercase().contains('h') { "Usage: bankwright" } else { env!("CARGO_PKG_VERSION") };
            assert!(ran.out.contains(wanted) && ran.err.is_empty(), "{command} {flag}\n{}", ran.out);
        }
    }
    assert_eq!(place.list(""), ["bank.toml"]);
}

#[test]
fn help_names_every_command_an_example_and_the_exit_codes() {
    let help = Place::small().run("--help").ends(0).out;
    for piece in
        COMMANDS.iter().chain(&["Examples:", "0 done", "1 a failure", "2 the input", "3 done", "130 interrupted"])
    {
        assert!(help.contains(piece), "{piece}\n{help}");
    }
    assert!(help.lines().count() < 30, "no longer fits a screen\n{help}");
}

#[test]
fn the_examples_of_the_help_are_commands_that_exist() {
    let help = Place::small().run("--help").ends(0).out;
    let examples: Vec<&str> = help.lines().filter_map(|line| line.strip_prefix("  bankwright ")).collect();
    assert!(examples.len() >= 2, "{help}");
    for example in examples {
        // Wrong only in that there is no such file here.
        Place::small().run(example).ends(2).says(&["cannot read scenarios/"]);
    }
}

#[test]
fn without_arguments_there_is_help_on_standard_error() {
    let ran = Place::small().run("").ends(2).says(&["Usage: bankwright", "bankwright run"]);
    assert!(ran.out.is_empty());
}

#[test]
fn what_is_mistyped_is_refused_with_the_nearest_name() {
    let place = Place::constant();
    for (args, near) in [
        ("pont bank.toml --current 1", "'point'"),
        ("chekc bank.toml", "'check'"),
        ("point bank.toml --curent 1", "'--current'"),
        ("run bank.toml --resum", "'--resume'"),
        ("replay bank.toml --trail 1", "'--trial'"),
    ] {
        let ran = place.run(args).ends(2).says(&["similar", near]);
        assert!(ran.out.is_empty());
    }
    assert_eq!(place.list(""), ["bank.toml"]);
}

#[test]
fn commands_are_not_abbreviated() {
    for args in ["poin bank.toml --current 1", "r bank.toml", "p bank.toml --current 1"] {
        Place::constant().run(args).ends(2);
    }
}

#[test]
fn what_does_not_exist_yet_is_refused_not_stubbed() {
    let place = Place::winter();
    place.write("readings.csv", "element,current_a,drop_v\nbus,10,52\n");
    for args in ["compare bank.toml", "propose bank.toml", "report output/bank", "run bank.toml --sampling strata"] {
        let ran = place.run(args).ends(2);
        assert!(ran.out.is_empty() && !ran.err.is_empty(), "{args}");
    }
    assert_eq!(place.list(""), ["air.csv", "bank.toml", "load.csv", "readings.csv"]);
}

#[test]
fn arguments_out_of_range_are_refused_before_anything_is_written() {
    let place = Place::constant();
    for args in [
        "run bank.toml --trials 0",
        "run bank.toml --trials 1000000001",
        "run bank.toml --trials many",
        "run bank.toml --seed -1",
        "run bank.toml --threads 0",
        "run bank.toml --resume --force",
        "run bank.toml --out",
        "run bank.toml extra",
        "run",
        "replay bank.toml",
        "replay bank.toml --trial -1",
        "replay bank.toml --trial 1.5",
        "point bank.toml",
        "point bank.toml --current 1 --power 1",
        "point bank.toml --current nan",
        "point bank.toml --current inf",
        "point bank.toml --current 1e300",
        "point bank.toml --current 30A",
        "point bank.toml --power 3 --soc 1.01",
        "point bank.toml --power 3 --soc -0.1",
        "point bank.toml --power 3 --soc 90%",
        "point bank.toml --power 3 --air -300",
        "check",
    ] {
        let ran = place.run(args).ends(2);
        assert!(ran.out.is_empty() && !ran.err.is_empty(), "{args}");
    }
    assert_eq!(place.list(""), ["bank.toml"]);
}

/// A shell reads what it is given; where it is not installed, the names alone are looked for.
#[test]
fn completions_know_every_command_and_bash_reads_them() {
    let place = Place::small();
    for shell in ["bash", "zsh", "fish", "powershell", "elvish"] {
        let ran = place.run(&format!("completions {shell}")).ends(0);
        assert!(ran.err.is_empty(), "{shell}: {}", ran.err);
        for word in COMMANDS.iter().chain(&["outages", "trials", "resume", "color"]) {
            assert!(ran.out.contains(word), "{shell}: no {word}");
        }
        place.write(shell, &ran.out);
    }
    assert_eq!(place.list("").len(), 6);
    let bash = |line: &str| std::process::Command::new("bash").current_dir(place.dir()).args(["-c", line]).output();
    assert!(bash("bash -n bash").unwrap().status.success());
    // The second word, begun with `pro`, can only be one.
    let complete = "source ./bash; COMP_WORDS=(bankwright pro); COMP_CWORD=1; _bankwright bankwright pro bankwright; \
                    echo ${COMPREPLY[*]}";
    let completed = bash(complete).unwrap();
    assert_eq!(String::from_utf8_lossy(&completed.stdout).trim(), "propose", "{completed:?}");
    place.run("completions tcsh").ends(2).says(&["bash", "zsh", "fish"]);
    place.run("completions").ends(2);
}

#[test]
fn a_folder_with_an_empty_name_is_refused() {
    let place = Place::constant();
    let mut command = place.command("run bank.toml --out");
    Ran::of(command.arg("")).ends(2);
    assert_eq!(place.list(""), ["bank.toml"]);
}
