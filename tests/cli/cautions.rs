//! Where people act, the last line is a caution, and every document has a list of them; each defers to local codes.

use super::{CONSTANT, Place, SMALL, with};
use serde_json::Value;

/// A second layout, prices and a target, so that every command has something to say.
const STUDY: &str = "[prices]\ncurrency = \"EUR\"\n[targets]\nlimit = \"20 A\"\n\
    [[layout]]\nname = \"thick\"\n[layout.cable.jumper]\nrating = \"200 A\"\nprice = 9\n";

fn place() -> Place {
    let priced = with(SMALL, "charge_limit = \"40 A\"", "charge_limit = \"40 A\"\nprice = 500");
    let priced = with(&priced, "rating = \"140 A\"", "rating = \"140 A\"\nprice = 4");
    let priced = with(&priced, "resistance = \"1 mΩ\"", "resistance = \"1 mΩ\"\nprice = 8");
    let place = Place::with(&format!("{priced}\n{CONSTANT}\n{STUDY}"));
    // 30 A through 7.125 mΩ beside 12 mΩ: 18.824 A in A, 51.866 V at the bus.
    place.write("readings.csv", "element,current_a,drop_v\nbus,30,51.866\nA.lead1+,18.824,0.018824\n");
    place
}

/// Every command with a document: its arguments, and the folder's documents that it writes.
const COMMANDS: [(&str, &[&str]); 10] = [
    ("check bank.toml", &[]),
    ("point bank.toml --current 30", &[]),
    ("limit bank.toml --outages 1 --chance --sensitivity --out limit", &["limit/limit.json"]),
    ("run bank.toml --out run", &["run/results.json"]),
    ("compare bank.toml --out compare", &["compare/results.json"]),
    ("compare bank.toml --inputs --out inputs", &["inputs/results.json"]),
    ("propose bank.toml --out propose", &["propose/results.json"]),
    ("replay bank.toml --trial 0", &[]),
    ("readings bank.toml readings.csv", &[]),
    ("verify", &[]),
];

/// A target that is missed is an answer too.
fn done(code: Option<i32>) -> bool {
    matches!(code, Some(0 | 3))
}

fn judged(document: &Value, of: &str) {
    let cautions = document["cautions"].as_array().unwrap_or_else(|| panic!("{of}: no list of cautions"));
    assert!(!cautions.is_empty(), "{of}");
    for caution in cautions {
        let text = caution.as_str().unwrap_or_else(|| panic!("{of}: {caution}"));
        assert!(text.contains("local codes"), "{of}: {text}");
    }
}

#[test]
fn every_document_has_cautions_that_defer_to_local_codes() {
    let place = place();
    for (args, files) in COMMANDS {
        let ran = place.run(&format!("{args} --json"));
        assert!(done(ran.code), "{args}: {}", ran.err);
        let printed = ran.json();
        judged(&printed, args);
        for file in files {
            let written: Value = serde_json::from_str(&place.text(file)).unwrap();
            assert_eq!(written, printed, "{file}");
        }
    }
}

/// But `replay`, which prints a table for machines.
#[test]
fn the_last_line_of_every_text_defers_to_local_codes() {
    let place = place();
    for (args, _) in COMMANDS.into_iter().filter(|(args, _)| !args.starts_with("replay")) {
        let ran = place.run(args);
        assert!(done(ran.code), "{args}: {}", ran.err);
        let last = ran.out.lines().last().unwrap_or_else(|| panic!("{args} prints nothing"));
        assert!(last.contains("local codes"), "{args}: {last}");
    }
}

/// It stands alone as a file, where no page is around it.
#[test]
fn every_figure_defers_to_local_codes() {
    let place = place();
    for (args, _) in COMMANDS.into_iter().filter(|(args, _)| args.contains("--out")) {
        place.run(args);
    }
    place.run("replay bank.toml --trial 0 --out night").ends(0);
    let folders = ["limit", "run", "compare", "inputs", "propose", "night"];
    let figures = folders.iter().flat_map(|folder| {
        let of = place.list(folder).into_iter().filter(|name| name.ends_with(".svg"));
        of.map(move |name| format!("{folder}/{name}"))
    });
    let figures: Vec<String> = figures.collect();
    assert!(figures.len() >= 13, "{figures:?}");
    for figure in figures {
        assert!(place.text(&figure).contains("local codes"), "{figure}");
    }
}

/// What a scenario takes from rows recalled from memory is told with what rests on it, and only then.
#[test]
fn rows_from_memory_are_told_where_they_are_used() {
    let by_size = |size: &str, more: &str| {
        let lead = format!("size = \"{size}\"\nlength = \"2 m\"\n{more}");
        Place::with(&with(SMALL, "resistance = \"1 mΩ\"", &lead))
    };
    let pair = "insulation = \"90 °C\"\nampacity = \"table\"\nloaded = 2";
    let bundle = "insulation = \"90 °C\"\nampacity = \"200 A\"\nbundled = 24";
    let few = "insulation = \"90 °C\"\nampacity = \"table\"\nbundled = 12";
    for (size, more, wanted) in [
        ("185 mm2", "", Some("resistance of 185 mm², class 2 or 5 (IEC 60228)")),
        ("35 mm2", pair, Some("ampacity of 35 mm² with two loaded conductors (IEC 60364-5-52)")),
        ("35 mm2", bundle, Some("bundling factor 0.45 (NFPA 70, 310.15(C)(1))")),
        ("35 mm2", few, None),
        ("1/0 AWG", "", None),
    ] {
        let place = by_size(size, more);
        for command in ["check bank.toml", "point bank.toml --current 30", "limit bank.toml"] {
            let text = place.run(command).ends(0).out;
            let told: Vec<&str> = text.lines().filter(|l| l.starts_with("From memory")).collect();
            assert_eq!(told.len(), usize::from(wanted.is_some()), "{size}, {command}: {told:?}");
            assert!(wanted.is_none_or(|wanted| told[0].contains(wanted)), "{size}, {command}: {told:?}");
            let document = place.run(&format!("{command} --json")).ends(0).json();
            assert_eq!(document["cautions"].as_array().unwrap().len(), 2 + told.len(), "{size}, {command}");
        }
    }
}
