//! The shape of the source: imports one way, short files and functions, one place that writes
//! files, one that prints.
//!
//! The source is read as text, without comments, string contents and unit tests. A name in a
//! macro's output would not be seen.

mod source;

use source::{File, files};

/// Each stage imports only from those before it.
const ORDER: [&str; 21] = [
    "bounds",
    "progress",
    "intake",
    "time",
    "math",
    "curve",
    "escape",
    "diagnostic",
    "units",
    "profile",
    "scenario",
    "draw",
    "network",
    "engine",
    "summary",
    "trials",
    "study",
    "simulate",
    "output",
    "cli",
    "main",
];

/// Lines of a file without its unit tests.
const LONGEST_FILE: usize = 450;
/// Lines from `fn` to the closing brace.
const LONGEST_FUNCTION: usize = 60;

fn rank(stage: &str) -> Option<usize> {
    ORDER.iter().position(|m| *m == stage)
}

/// The top module, but of a study, which is a folder with all that is its own: how it is told is of the stage `output`, and
/// its command of `cli`.
fn stage(file: &str) -> &str {
    let parts: Vec<&str> = file.trim_end_matches(".rs").split('/').collect();
    match parts[..] {
        ["study", _, "output", ..] => "output",
        ["study", _, "command", ..] => "cli",
        [top, ..] => top,
        [] => "",
    }
}

#[test]
fn every_module_has_its_place_in_the_order() {
    let missing: Vec<_> = files().into_iter().map(|f| f.module).filter(|m| m != "lib" && rank(m).is_none()).collect();
    assert!(missing.is_empty(), "not in ORDER: {missing:?}");
}

#[test]
fn imports_go_one_way() {
    let all = files();
    let against = |file: &File| -> Vec<String> {
        let here = rank(stage(&file.name));
        let unknown = file.crate_paths().into_iter().filter(|(_, to)| rank(to).is_none());
        let unknown = unknown.map(|(line, to)| format!("src/{}:{line}: {to} is in no order", file.name));
        let later = file.uses(&all).into_iter().filter(|to| rank(stage(to)) > here);
        unknown.chain(later.map(|to| format!("src/{} imports src/{to}", file.name))).collect()
    };
    let wrong: Vec<String> = all.iter().filter(|f| f.module != "lib").flat_map(against).collect();
    assert!(wrong.is_empty(), "{}", wrong.join("\n"));
}

/// A file may be read after those that it uses, and without those that use it.
#[test]
fn no_files_use_each_other_in_a_ring() {
    let files = files();
    let uses: Vec<Vec<String>> = files.iter().map(|f| f.uses(&files)).collect();
    let number = |name: &String| files.iter().position(|f| f.name == *name).unwrap();
    let uses: Vec<Vec<usize>> = uses.iter().map(|all| all.iter().map(number).collect()).collect();
    let reached = |from: usize| {
        let (mut seen, mut next) = (vec![false; files.len()], uses[from].clone());
        while let Some(file) = next.pop() {
            if !std::mem::replace(&mut seen[file], true) {
                next.extend(&uses[file]);
            }
        }
        seen
    };
    let reached: Vec<Vec<bool>> = (0..files.len()).map(reached).collect();
    let ring = |k: usize| -> Vec<&str> {
        let members = (0..files.len()).filter(|&j| reached[k][j] && reached[j][k]);
        members.map(|j| files[j].name.as_str()).collect()
    };
    let mut rings: Vec<Vec<&str>> = (0..files.len()).map(ring).filter(|ring| !ring.is_empty()).collect();
    rings.sort();
    rings.dedup();
    let told: Vec<String> = rings.iter().map(|ring| ring.join(", ")).collect();
    assert!(told.is_empty(), "these files use each other in a ring:\n{}", told.join("\n"));
}

#[test]
fn files_are_short() {
    for file in files() {
        let lines = file.code.lines().count();
        assert!(lines <= LONGEST_FILE, "src/{} has {lines} lines", file.name);
    }
}

#[test]
fn functions_are_short() {
    let long = |file: &File| -> Vec<String> {
        let long = file.functions().into_iter().filter(|f| f.lines > LONGEST_FUNCTION);
        long.map(|f| format!("src/{}:{}: fn {} has {} lines", file.name, f.line, f.name, f.lines)).collect()
    };
    let wrong: Vec<String> = files().iter().flat_map(long).collect();
    assert!(wrong.is_empty(), "{}", wrong.join("\n"));
}

/// What the standard library leaves to the platform, to the last bit or beyond ("unspecified precision" in its
/// documentation), and the sum that is rounded once, which few processors do fast.
const OF_THE_PLATFORM: [&str; 32] = [
    "acos", "acosh", "asin", "asinh", "atan", "atan2", "atanh", "cbrt", "cos", "cosh", "erf", "erfc", "exp", "exp2",
    "exp_m1", "gamma", "hypot", "ln", "ln_1p", "ln_gamma", "log", "log10", "log2", "mul_add", "powf", "powi", "sin",
    "sin_cos", "sinh", "tan", "tanh", "to_polar",
];

#[test]
fn mathematics_comes_from_one_place_whatever_the_platform() {
    let calls = |f: &File| -> Vec<String> {
        let calls = f.float_calls(&OF_THE_PLATFORM).into_iter();
        calls.map(|(line, call)| format!("src/{}:{line}: {call} is the platform's; math has one", f.name)).collect()
    };
    let wrong: Vec<String> = files().iter().flat_map(calls).collect();
    assert!(wrong.is_empty(), "{}", wrong.join("\n"));
    nowhere_but(&["math"], &["libm"]);
    // They pass such calls on to the platform.
    nowhere_but(&[], &["num_traits", "rand_distr", "statrs", "simba", "RealField", "ComplexField"]);
}

#[test]
fn nothing_is_unsafe() {
    nowhere_but(&[], &["unsafe"]);
}

#[test]
fn one_file_writes_files() {
    let writes = [
        "fs::write",
        "fs::remove_file",
        "fs::remove_dir",
        "fs::remove_dir_all",
        "fs::hard_link",
        "set_permissions",
        "fs::copy",
        "fs::rename",
        "fs::create_dir",
        "fs::create_dir_all",
        "File::create",
        "OpenOptions",
        "NamedTempFile",
        "tempfile",
    ];
    nowhere_but(&["output/kit/folder/disk.rs"], &writes);
}

/// Two places print: the screen, which escapes, and what tells of a fault of the program itself.
#[test]
fn one_file_prints() {
    let prints = ["println!", "print!", "eprintln!", "eprint!", "dbg!", "stdout", "stderr"];
    nowhere_but(&["cli/screen.rs", "main.rs"], &prints);
    nowhere_but(&["cli/screen.rs"], &["to_string_pretty"]);
}

/// A path, a page, a picture and a table reach people through what escapes them, and nothing else judges characters.
#[test]
fn one_file_escapes() {
    nowhere_but(&["escape.rs"], &["display", "is_control", "escape_default", "escape_debug", "escape_unicode"]);
    nowhere_but(&["output/kit/table.rs"], &["WriterBuilder", "write_record", "csv::Writer"]);
    nowhere_but(&["output/kit/chart/canvas.rs"], &["SVGBackend", "with_string"]);
    nowhere_but(&["output/kit/design.rs"], &["PreEscaped", "into_string"]);
}

/// Fails where one of `words` stands in a file that is neither one of `places` nor in a folder of
/// that name.
fn nowhere_but(places: &[&str], words: &[&str]) {
    let files = files();
    let outside = files.iter().filter(|f| !places.iter().any(|p| f.name == *p || f.module == *p));
    let wrong: Vec<String> = outside
        .flat_map(|f| f.lines_with(words).into_iter().map(move |(line, word)| format!("src/{}:{line}: {word}", f.name)))
        .collect();
    assert!(wrong.is_empty(), "{}", wrong.join("\n"));
}
