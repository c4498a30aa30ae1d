//! What a results folder holds that this program did not write: it is never touched, whatever it is called.

use super::{CONSTANT, Place, SMALL, WINTER};
use std::os::unix::fs::{FileTypeExt, symlink};
use std::path::Path;
use std::process::Command;

/// Every command that writes.
const COMMANDS: [&str; 6] = [
    "run bank.toml",
    "compare bank.toml",
    "compare bank.toml --inputs",
    "propose bank.toml",
    "limit bank.toml --air 5,25 --chance --current 90 --sensitivity --outages 1",
    "replay bank.toml --trial 3",
];
const CHOICE: &str = "[targets]\nlimit = \"10 A\"\n[[layout]]\nname = \"two\"\n[layout.cable.lead]\nrating = \"150 A\"\n\
                      price = 2\n[prices]\ncurrency = \"EUR\"\n[faults]\nmodule_mtbf = \"2000 h\"\nmodule_mttr = \"1 h\"\n";
const FLAGS: [&str; 3] = ["", "--force", "--resume"];

/// A scenario that every command takes.
fn place() -> Place {
    let bank = SMALL.replace("charge_limit = \"40 A\"", "charge_limit = \"40 A\"\nprice = 0");
    let bank = bank.replace("rating = \"140 A\"", "rating = \"140 A\"\nprice = 0");
    let bank = bank.replace("resistance = \"1 mΩ\"", "resistance = \"1 mΩ\"\nprice = 1");
    Place::with(&format!("{bank}\n{CONSTANT}{CHOICE}"))
}

/// Flags that a command knows.
fn flags(command: &str) -> impl Iterator<Item = &'static str> {
    let run = command.starts_with("run");
    FLAGS.into_iter().filter(move |flag| run || *flag != "--resume")
}

fn pipe(path: &Path) {
    assert!(Command::new("mkfifo").arg(path).status().unwrap().success());
}

fn is_pipe(path: &Path) -> bool {
    std::fs::symlink_metadata(path).unwrap().file_type().is_fifo()
}

fn is_link(path: &Path) -> bool {
    path.is_symlink()
}

/// Each way to be in the way: how it is made, whether it still is so, what it is called.
type Obstacle = (fn(&Path), fn(&Path) -> bool, &'static str);
const OBSTACLES: [Obstacle; 5] = [
    (|path| std::fs::write(path, "mine").unwrap(), |path| std::fs::read(path).unwrap() == b"mine", "is there already"),
    (|path| std::fs::create_dir(path).unwrap(), |path| path.is_dir() && !path.is_symlink(), "is a folder"),
    (|path| symlink("../bank.toml", path).unwrap(), is_link, "is a symbolic link"),
    (|path| symlink("nothing", path).unwrap(), is_link, "is a symbolic link"),
    (pipe, is_pipe, "is a pipe"),
];

#[test]
fn no_command_writes_where_something_of_others_is_and_none_begins_its_work() {
    let place = place();
    let bank = place.text("bank.toml");
    for command in COMMANDS {
        place.run(&format!("{command} --quiet --out whole")).ends(0);
        let names = place.list("whole");
        for (k, name) in names.iter().enumerate() {
            let (make, is_there, words) = OBSTACLES[k % OBSTACLES.len()];
            let words = if name == "manifest.json" && k % OBSTACLES.len() == 0 { "is not a list" } else { words };
            std::fs::create_dir(place.path("mine")).unwrap();
            make(&place.path("mine").join(name));
            for flag in flags(command) {
                let ran = place.run(&format!("{command} --out mine {flag}")).ends(2);
                let ran = ran.says(&[&format!("mine/{name} {words}"), "--out", "not even by --force"]);
                assert!(ran.out.is_empty() && ran.err.lines().count() == 1, "{}", ran.err);
                assert!(place.list("mine") == [name.clone()] && is_there(&place.path("mine").join(name)), "{name}");
            }
            std::fs::remove_dir_all(place.path("mine")).unwrap();
        }
        std::fs::remove_dir_all(place.path("whole")).unwrap();
    }
    assert_eq!(place.text("bank.toml"), bank);
}

/// In a folder of ours, too: the set is made or refused as a whole.
#[test]
fn a_name_that_became_something_else_refuses_the_whole_set() {
    let place = place();
    for command in COMMANDS {
        place.run(&format!("{command} --quiet --out whole")).ends(0);
        let before = place.contents("whole");
        for (k, (name, bytes)) in before.iter().enumerate() {
            let (make, is_there, words) = OBSTACLES[1 + k % (OBSTACLES.len() - 1)];
            let path = place.path("whole").join(name);
            std::fs::remove_file(&path).unwrap();
            make(&path);
            place.run(&format!("{command} --force --out whole")).ends(2).says(&[&format!("whole/{name} {words}")]);
            assert!(is_there(&path));
            if path.is_dir() {
                std::fs::remove_dir(&path).unwrap()
            } else {
                std::fs::remove_file(&path).unwrap()
            }
            std::fs::write(&path, bytes).unwrap();
        }
        assert!(place.contents("whole") == before, "{command}");
        place.run(&format!("{command} --force --out whole")).ends(0);
        assert!(place.contents("whole") == before, "{command}");
        std::fs::remove_dir_all(place.path("whole")).unwrap();
    }
}

/// Names that begin as unfinished files of this or an earlier version, that differ in case, and anything else.
#[test]
fn whatever_else_is_in_the_folder_stays() {
    let place = place();
    for command in COMMANDS {
        let files = [".writing-abc", ".bankwright-0123456789abcdef-0123456789abcdef", "Results.JSON", "notes.txt"];
        files.iter().for_each(|name| place.write(&format!("out/{name}"), "mine"));
        for name in [".writing-x/mine", ".bankwright-/mine", "figures/overload.svg", "SHARDS/000000.json"] {
            place.write(&format!("out/{name}"), "mine");
        }
        symlink("nowhere", place.path("out/.writing-link")).unwrap();
        pipe(&place.path("out/.writing-pipe"));
        let before = place.list("out");
        for flag in flags(command) {
            place.run(&format!("{command} --out out {flag}")).ends(0);
            assert!(before.iter().all(|name| place.list("out").contains(name)), "{command} {flag}");
            assert!(files.iter().all(|name| place.text(&format!("out/{name}")) == "mine"));
            for name in [".writing-x/mine", ".bankwright-/mine", "figures/overload.svg", "SHARDS/000000.json"] {
                assert_eq!(place.text(&format!("out/{name}")), "mine");
            }
            assert!(is_link(&place.path("out/.writing-link")) && is_pipe(&place.path("out/.writing-pipe")));
        }
        std::fs::remove_dir_all(place.path("out")).unwrap();
    }
}

#[test]
fn a_folder_called_shards_that_no_run_wrote_is_refused_and_untouched() {
    let place = place();
    std::fs::create_dir(place.path("elsewhere")).unwrap();
    place.write("elsewhere/000000.json", "mine");
    type Shape = (fn(&Path), &'static str);
    let shapes: [Shape; 5] = [
        (|path| std::fs::create_dir(path).unwrap(), "a folder"),
        (|path| std::fs::write(path, "mine").unwrap(), "a file"),
        (|path| symlink("../elsewhere", path).unwrap(), "a symbolic link"),
        (|path| symlink("nowhere", path).unwrap(), "a symbolic link"),
        (|path| pipe(path), "a pipe"),
    ];
    for (make, kind) in shapes {
        std::fs::create_dir(place.path("out")).unwrap();
        make(&place.path("out/shards"));
        refused(&place, kind);
        // What has no shards is not in its way, nor it in theirs.
        place.run("limit bank.toml --quiet --out out").ends(0);
        place.run("limit bank.toml --quiet --out out --force").ends(0);
        refused(&place, kind);
        std::fs::remove_dir_all(place.path("out")).unwrap();
    }
    for name in ["notes.txt", "run.json", "000000.json"] {
        place.write(&format!("out/shards/{name}"), "{\"mine\": 1}");
        refused(&place, "a folder");
        assert_eq!(place.text(&format!("out/shards/{name}")), "{\"mine\": 1}");
        std::fs::remove_dir_all(place.path("out")).unwrap();
    }
    assert_eq!(
        (place.list("elsewhere"), place.text("elsewhere/000000.json")),
        (vec!["000000.json".into()], "mine".into())
    );
}

fn refused(place: &Place, kind: &str) {
    let before = place.list("out");
    for flag in flags("run") {
        if before.len() > 1 && flag != "--force" {
            continue; // Refused for other results first.
        }
        let told = format!("out/shards is {kind}, not the folder of an unfinished run");
        place.run(&format!("run bank.toml --out out {flag}")).ends(2).says(&[&told, "not even by --force"]);
        assert_eq!(place.list("out"), before);
    }
}

/// Beside the blocks of a run that was stopped: a note, a folder, a block's name.
#[test]
fn files_of_others_among_the_shards_of_a_run_stay_and_so_does_the_folder() {
    let place = Place::winter();
    let whole = place.run("run bank.toml --json --quiet --out whole").ends(3).out;
    for flag in ["--resume", "--force"] {
        super::interrupt::stopped_after(
            &place,
            "run bank.toml --json --quiet --trials 300 --out out --threads 1",
            "out",
            3,
        );
        let last = "out/shards/000018.json";
        assert!(!place.path(last).exists(), "not stopped in time");
        place.write(last, "mine");
        place.write("out/shards/notes.txt", "mine");
        place.write("out/shards/deep/000001.json", "mine");
        let ran = place.run(&format!("run bank.toml --json --out out {flag}")).ends(3);
        let ran = ran.says(&["out/shards is kept", "000018.json, deep, notes.txt"]);
        assert_eq!(ran.out, whole);
        assert!(place.contents("out") == place.contents("whole"));
        assert_eq!(place.list("out/shards"), ["000018.json", "deep", "notes.txt", "run.json"]);
        let texts = || [last, "out/shards/notes.txt", "out/shards/deep/000001.json"].map(|name| place.text(name));
        assert_eq!(texts(), ["mine", "mine", "mine"]);
        // Finished all the same, and a run that is forced goes through it again.
        assert_eq!(place.run("run bank.toml --json --quiet --out out --resume").ends(3).out, whole);
        place.run("run bank.toml --json --quiet --out out --force").ends(3);
        assert_eq!((texts(), place.list("out/shards").len()), (["mine", "mine", "mine"].map(String::from), 4));
        assert!(place.contents("out") == place.contents("whole"));
        std::fs::remove_dir_all(place.path("out")).unwrap();
    }
}

/// A hard link to a result is a name of the user's for what was written then.
#[test]
fn another_name_for_a_result_keeps_what_it_had() {
    let place = Place::winter();
    place.run("run bank.toml --quiet --out out").ends(3);
    let before = place.text("out/results.json");
    std::fs::hard_link(place.path("out/results.json"), place.path("out/first.json")).unwrap();
    place.run("run bank.toml --quiet --out out --seed 9 --force").ends(3);
    assert_eq!(place.text("out/first.json"), before);
    assert_ne!(place.text("out/results.json"), before);
}

#[test]
fn a_link_to_a_folder_is_that_folder() {
    let place = Place::winter();
    std::fs::create_dir(place.path("real")).unwrap();
    symlink("real", place.path("out")).unwrap();
    for flag in ["", "--resume", "--force"] {
        place.run(&format!("run bank.toml --quiet --out out {flag}")).ends(3);
    }
    place.run("run bank.toml --quiet --out real").ends(2).says(&["real holds results already"]);
    assert!(is_link(&place.path("out")) && place.list("real").contains(&"results.json".to_owned()));
}

/// What cannot be a folder is told before the work: that would take minutes here.
#[test]
fn a_folder_that_cannot_be_is_told_before_the_work() {
    let place =
        Place::with(&format!("{}\n[[layout]]\nname = \"two\"\n", WINTER.replace("count = 300", "count = 10000000")));
    place.write("load.csv", &super::load());
    place.write("air.csv", &super::air());
    place.write("taken", "mine");
    symlink("nowhere", place.path("dangling")).unwrap();
    let before = place.list(".");
    for command in ["run bank.toml", "compare bank.toml", "compare bank.toml --inputs", "replay bank.toml --trial 1"] {
        for out in ["taken", "taken/below", "dangling", "/proc/nothing/here"] {
            assert!(place.run(&format!("{command} --force --out {out}")).ends(1).says(&[out]).out.is_empty());
        }
    }
    assert_eq!((place.list("."), place.text("taken")), (before, "mine".into()));
}
