//! What is written for people is true: the scenario format, the results folder, the README's commands.

mod citations;

use bankwright::diagnostic::render;
use bankwright::scenario::check::parse;
use bankwright::units::Kind;
use std::collections::BTreeSet;
use std::path::{Path, PathBuf};
use std::process::{Command, Output};

const README: &str = include_str!("../README.md");
const FORMAT: &str = include_str!("../scenarios/README.md");
const RESULTS: &str = include_str!("../output/README.md");
const CI: &str = include_str!("../.ci/run");

fn root() -> &'static Path {
    Path::new(env!("CARGO_MANIFEST_DIR"))
}

fn bankwright(arguments: &[&str]) -> Output {
    Command::new(env!("CARGO_BIN_EXE_bankwright")).args(arguments).current_dir(root()).output().unwrap()
}

/// The cells of a row of a Markdown table.
fn cells(line: &str) -> Vec<&str> {
    line.trim_matches(['|', ' ']).split('|').map(str::trim).collect()
}

/// The tables of a Markdown text, as rows of cells, the header first.
fn tables(text: &str) -> Vec<Vec<Vec<&str>>> {
    let mut tables = vec![Vec::new()];
    for line in text.lines() {
        match line.starts_with('|') {
            true if line.starts_with("| ---") => {}
            true => tables.last_mut().unwrap().push(cells(line)),
            false => tables.push(Vec::new()),
        }
    }
    tables.retain(|t| !t.is_empty());
    tables
}

/// Texts between the fences of code blocks of a language.
fn blocks<'a>(text: &'a str, language: &str) -> Vec<&'a str> {
    let fence = format!("```{language}\n");
    text.split(&fence).skip(1).map(|rest| rest.split("```").next().unwrap()).collect()
}

/// What stands between quotes.
fn quoted(text: &str) -> BTreeSet<String> {
    text.split('"').skip(1).step_by(2).map(str::to_owned).collect()
}

/// The lists of keys that the checker opens sections with, from its source.
fn known_keys() -> Vec<BTreeSet<String>> {
    const LIST: &str = ": &[&str] =";
    let folder = root().join("src/scenario/check");
    let mut files: Vec<PathBuf> = std::fs::read_dir(folder).unwrap().map(|e| e.unwrap().path()).collect();
    files.push(root().join("src/scenario/check.rs"));
    let texts = files.iter().map(|f| std::fs::read_to_string(f).unwrap());
    let lists = |text: String| -> Vec<BTreeSet<String>> {
        text.split(LIST).skip(1).map(|rest| quoted(rest.split("];").next().unwrap())).collect()
    };
    texts.flat_map(lists).collect()
}

#[test]
fn the_format_has_a_table_for_each_section_with_exactly_its_keys() {
    let written = tables(FORMAT).into_iter().filter(|t| t[0][0] == "key");
    let key = |row: &Vec<&str>| row[0].trim_matches('`').to_owned();
    let mut written: Vec<BTreeSet<String>> = written.map(|t| t.iter().skip(1).map(key).collect()).collect();
    let mut known = known_keys();
    assert!(known.len() >= 16, "the lists of keys were not found");
    known.sort();
    written.sort();
    let missing: Vec<_> = known.iter().filter(|k| !written.contains(k)).collect();
    let invented: Vec<_> = written.iter().filter(|w| !known.contains(w)).collect();
    assert!(missing.is_empty() && invented.is_empty(), "not described: {missing:#?}\nnot known: {invented:#?}");
}

#[test]
fn the_format_lists_the_units_that_are_read() {
    let tables = tables(FORMAT);
    let units = tables.iter().find(|t| t[0][0] == "quantity").unwrap();
    // No key takes an energy.
    for kind in Kind::ALL.into_iter().filter(|k| *k != Kind::Energy) {
        let row = units.iter().find(|row| row[0] == kind.name()).unwrap_or_else(|| panic!("{}", kind.name()));
        assert_eq!(row[1], kind.accepted().replace(" or ", ", "), "{}", kind.name());
    }
    assert_eq!(units.len(), Kind::ALL.len());
}

#[test]
fn the_example_of_the_format_is_legal() {
    for text in blocks(FORMAT, "toml") {
        if let Err(faults) = parse(text, "README.md", Path::new("")) {
            panic!("{}", render(&faults, false));
        }
    }
    assert_eq!(blocks(FORMAT, "toml").len(), 1);
}

#[test]
fn the_results_folder_holds_what_is_described() {
    let dir = tempfile::tempdir().unwrap();
    let out = dir.path().join("results");
    let run = bankwright(&["run", "scenarios/reference/pair.toml", "--quiet", "--out", out.to_str().unwrap()]);
    assert_eq!(run.status.code(), Some(0), "{}", String::from_utf8_lossy(&run.stderr));
    let name = |e: std::io::Result<std::fs::DirEntry>| e.unwrap().file_name().to_str().unwrap().to_owned();
    let found: BTreeSet<String> = std::fs::read_dir(&out).unwrap().map(name).collect();
    let files = &tables(RESULTS)[0];
    let described = files.iter().skip(1).map(|row| row[0].trim_matches('`').to_owned());
    let described: BTreeSet<String> = described.filter(|name| name != "shards/").collect();
    assert_eq!(found, described);
}

/// Every file of a comparison and a proposal, and every column of their tables.
#[test]
fn the_folders_of_studies_hold_what_is_described() {
    let dir = tempfile::tempdir().unwrap();
    let described = tables(RESULTS).into_iter().find(|t| t[0][0] == "file of a comparison").unwrap();
    let described: BTreeSet<String> = described.iter().skip(1).map(|row| row[0].trim_matches('`').to_owned()).collect();
    let proposal = ["manifest.json", "overview.html", "parts.csv", "proposal.csv", "proposal.svg", "results.json"];
    let proposal = proposal.map(str::to_owned).into();
    let inputs = ["inputs.csv", "inputs.svg", "manifest.json", "results.json"].map(str::to_owned).into();
    for (command, files) in [("compare", described), ("propose", proposal), ("compare --inputs", inputs)] {
        let out = dir.path().join(command);
        let rest = ["tests/layouts/tiny.toml", "--trials", "40", "--quiet", "--out", out.to_str().unwrap()];
        let arguments: Vec<&str> = command.split(' ').chain(rest).collect();
        let ran = bankwright(&arguments);
        assert!(matches!(ran.status.code(), Some(0 | 3)), "{}", String::from_utf8_lossy(&ran.stderr));
        let name = |e: std::io::Result<std::fs::DirEntry>| e.unwrap().file_name().to_str().unwrap().to_owned();
        let found: BTreeSet<String> = std::fs::read_dir(&out).unwrap().map(name).collect();
        assert_eq!(found, files, "{command}");
        for table in found.iter().filter(|name| name.ends_with(".csv")) {
            let text = std::fs::read_to_string(out.join(table)).unwrap();
            for column in text.lines().next().unwrap().split(',') {
                assert!(RESULTS.contains(&format!("`{column}`")), "{table}: {column}");
            }
        }
    }
}

#[test]
fn the_two_commands_are_there_once_and_ci_runs_them_from_there() {
    let first = blocks(README, "sh")[0];
    let [run, test] = first.lines().collect::<Vec<_>>()[..] else { panic!("{first}") };
    assert_eq!(run, "cargo run --release -- run scenarios/refuge.toml --force");
    assert!(test.starts_with("cargo test"));
    let commands: Vec<&str> = README.lines().filter(|l| l.starts_with("cargo ")).collect();
    assert_eq!(commands, [run, test]);
    assert!(CI.contains("$(grep -m1 '^cargo test' README.md)"));
    assert!(CI.contains("$(grep -m1 '^cargo run --release -- run' README.md)"));
    assert!(run.starts_with("cargo run --release -- run"));
}

/// `check` and `point` are run as they stand; those that write into a folder each of their own.
#[test]
fn the_other_commands_of_the_readme_work() {
    let dir = tempfile::tempdir().unwrap();
    let all = blocks(README, "sh").join("");
    let commands: Vec<Vec<&str>> =
        all.lines().filter_map(|l| l.strip_prefix("bankwright ")).map(|l| l.split(' ').collect()).collect();
    assert!(commands.len() >= 4);
    for (k, mut arguments) in commands.into_iter().enumerate() {
        let out = dir.path().join(k.to_string());
        if let Some(at) = arguments.iter().position(|a| *a == "--out") {
            arguments[at + 1] = out.to_str().unwrap();
        }
        if let Some(at) = arguments.iter().position(|a| *a == "--trials") {
            arguments[at + 1] = "60";
        }
        let output = bankwright(&arguments);
        let judges = ["run", "compare", "propose"].contains(&arguments[0]);
        let done = matches!(output.status.code(), Some(0)) || (judges && output.status.code() == Some(3));
        assert!(done, "{arguments:?}: {}", String::from_utf8_lossy(&output.stderr));
    }
}

#[test]
fn the_point_in_the_readme_is_what_the_command_prints() {
    let command = README.lines().find_map(|l| l.strip_prefix("bankwright point")).unwrap();
    let arguments: Vec<&str> = std::iter::once("point").chain(command.split_whitespace()).collect();
    let printed = String::from_utf8(bankwright(&arguments).stdout).unwrap();
    let printed: Vec<&str> = printed.lines().map(str::trim_end).collect();
    for line in blocks(README, "text")[0].lines() {
        assert!(printed.contains(&line), "{line:?} is not in\n{}", printed.join("\n"));
    }
}

#[test]
fn links_lead_somewhere() {
    let documents = [
        "README.md",
        "DEVELOPERS.md",
        "CHANGELOG.md",
        "scenarios/README.md",
        "scenarios/data/README.md",
        "output/README.md",
    ];
    let mut links = 0;
    for document in documents {
        let text = std::fs::read_to_string(root().join(document)).unwrap();
        for target in text.split("](").skip(1).map(|rest| rest.split([')', '#']).next().unwrap()) {
            let path = root().join(document).parent().unwrap().join(target);
            assert!(target.starts_with("https://") || path.exists(), "{document}: {target}");
            links += 1;
        }
    }
    assert!(links >= 10);
}

#[test]
fn every_module_is_in_the_layout() {
    let developers = std::fs::read_to_string(root().join("DEVELOPERS.md")).unwrap();
    let layout = tables(&developers).remove(0);
    let described: BTreeSet<String> = layout.iter().skip(1).map(|row| row[0].trim_matches('`').to_owned()).collect();
    let source = std::fs::read_to_string(root().join("src/lib.rs")).unwrap();
    fn declared(line: &str) -> Option<&str> {
        line.trim_start_matches("pub(crate) ").trim_start_matches("pub ").strip_prefix("mod ")
    }
    let modules = source.lines().filter_map(|line| declared(line)?.strip_suffix(';'));
    assert_eq!(described, modules.map(str::to_owned).collect());
}

/// The limits stand in one place of the code, and as a table where users look for them.
#[test]
fn the_table_of_limits_is_what_the_code_holds_to() {
    use bankwright::bounds::{ALL, grouped};
    let (_, section) = FORMAT.split_once("\n## Limits\n").unwrap();
    let rows: Vec<&str> = section.lines().filter(|line| line.starts_with("| ")).skip(2).collect();
    let row = |(what, most, unit): &(&str, u64, &str)| {
        format!("| {what} | {} |", format!("{} {unit}", grouped(*most)).trim_end())
    };
    assert_eq!(rows, ALL.iter().map(row).collect::<Vec<_>>());
}
