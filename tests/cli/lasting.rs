//! A finished folder that somebody has been in since: what is mended, what is said, what stays; and a folder that more
//! than one command has written into.

use super::{CONSTANT, Place, SMALL, WINTER};

const RUN: &str = "run bank.toml --json --quiet";

/// A finished folder, its results as they were printed, and its files.
fn finished() -> (Place, String, Vec<(String, Vec<u8>)>) {
    let place = Place::winter();
    let printed = place.run(RUN).ends(3).out;
    let files = place.contents("output/bank");
    (place, printed, files)
}

#[test]
fn resume_mends_what_is_missing_to_the_byte_and_says_what() {
    let (place, printed, files) = finished();
    let manifest = place.text("output/bank/manifest.json");
    let remove = |name: &str| std::fs::remove_file(place.path("output/bank").join(name)).unwrap();
    for name in files.iter().map(|(name, _)| name).filter(|name| *name != "results.json") {
        remove(name);
    }
    // From elsewhere, so that the scenario's path is another than the page tells.
    let mut elsewhere = assert_cmd::Command::new(super::PROGRAM);
    std::fs::create_dir(place.path("elsewhere")).unwrap();
    elsewhere.current_dir(place.path("elsewhere")).timeout(super::PATIENCE);
    elsewhere.args("run ../bank.toml --json --resume --out ../output/bank".split(' '));
    let ran = super::Ran::of(&mut elsewhere).ends(3).says(&["missing and made again to the byte: elements.csv, "]);
    assert_eq!(ran.out, printed);
    assert!(place.contents("output/bank") == files && place.text("output/bank/manifest.json") == manifest);
    // Nothing is missing now, and nothing is said.
    assert_eq!(place.run("run bank.toml --json --resume").ends(3).err, "");
    // The document itself comes from the nights, run again.
    remove("results.json");
    assert_eq!(place.run(&format!("{RUN} --resume")).ends(3).out, printed);
    assert!(place.contents("output/bank") == files);
}

#[test]
fn resume_names_what_was_changed_and_leaves_it_alone() {
    let (place, printed, files) = finished();
    place.write("output/bank/elements.csv", "mine");
    std::fs::remove_file(place.path("output/bank/night.svg")).unwrap();
    std::fs::create_dir(place.path("output/bank/night.svg")).unwrap();
    // Also where only results and errors are asked for.
    let told = ["output/bank", "changed since written, and left alone: elements.csv, night.svg", "--force"];
    let ran = place.run(&format!("{RUN} --resume")).ends(3).says(&told);
    assert_eq!((ran.out.as_str(), place.text("output/bank/elements.csv")), (printed.as_str(), "mine".into()));
    assert!(place.list("output/bank/night.svg").is_empty());
    // A folder is not written over, so nothing is.
    place.run(&format!("{RUN} --force")).ends(2).says(&["night.svg is a folder", "--out"]);
    assert_eq!(place.text("output/bank/elements.csv"), "mine");
    std::fs::remove_dir(place.path("output/bank/night.svg")).unwrap();
    let told = "elements.csv was changed since it was written; --force writes over it";
    let forced = place.run("run bank.toml --json --force").ends(3).says(&[told]);
    assert!(forced.err.lines().count() == 1, "the missing one is no change: {}", forced.err);
    assert!(place.contents("output/bank") == files);
}

#[test]
fn changed_results_are_not_told_as_results() {
    for damage in ["", "{", "{}", "null", "\u{0}\u{1}"] {
        let (place, printed, files) = finished();
        place.write("output/bank/results.json", damage);
        let refused = place.run(&format!("{RUN} --resume")).ends(2).says(&["results.json", "changed", "--force"]);
        assert_eq!((refused.out.as_str(), place.text("output/bank/results.json")), ("", damage.into()));
        // As the message says: out of the way, or anew.
        match damage.len() {
            1 => {
                std::fs::remove_file(place.path("output/bank/results.json")).unwrap();
                assert_eq!(place.run(&format!("{RUN} --resume")).ends(3).out, printed);
            }
            _ => assert_eq!(place.run(&format!("{RUN} --force")).ends(3).out, printed),
        }
        assert!(place.contents("output/bank") == files);
    }
}

/// The list of an older version, one that was changed, and anything else of that name prove nothing.
#[test]
fn without_its_list_a_folder_is_not_known_as_ours() {
    let (place, _, files) = finished();
    let list = place.text("output/bank/manifest.json");
    let older = "{\n  \"identity\": {\n    \"version\": \"0.1.0\",\n    \"draw_layout\": 5,\n    \"digest\": \"ab\",\n    \
                 \"seed\": 7,\n    \"trials\": 300\n  },\n  \"scenario_file\": \"bank.toml\",\n  \"files\": [],\n  \
                 \"threads\": 2,\n  \"system\": \"linux x86_64\",\n  \"started_unix_s\": 1,\n  \"finished_unix_s\": 2\n}";
    let changed = [list.replacen("\"run\"", "\"limit\"", 1), list.replace("  ", " "), format!("{list}\n")];
    for text in [older, "{}", "", "mine", "[1]", &changed[0], &changed[1], &changed[2]] {
        place.write("output/bank/manifest.json", text);
        for flag in ["", "--resume", "--force"] {
            let told = ["manifest.json is not a list", "older version", "not even by --force", "--out"];
            assert!(place.run(&format!("{RUN} {flag}")).ends(2).says(&told).out.is_empty());
        }
        assert!(place.contents("output/bank") == files && place.text("output/bank/manifest.json") == text);
    }
    std::fs::remove_file(place.path("output/bank/manifest.json")).unwrap();
    for flag in ["", "--resume", "--force"] {
        let refused = place.run(&format!("{RUN} {flag}")).ends(2);
        let refused = refused.says(&["elements.csv", "no list (manifest.json) beside it", "--out"]);
        assert!(!refused.err.contains("damaged"), "{}", refused.err);
    }
    assert!(place.contents("output/bank") == files && !place.path("output/bank/manifest.json").exists());
}

#[test]
fn a_set_of_another_command_goes_as_a_whole_and_only_by_force() {
    let place = Place::with(&format!("{SMALL}\n{CONSTANT}"));
    place.run("run bank.toml --quiet --out both").ends(0);
    let run = place.list("both");
    let limit = "limit bank.toml --quiet --out both";
    place.run(limit).ends(2).says(&["both holds results already", "--force"]);
    assert_eq!(place.list("both"), run);
    place.write("both/night.csv", "mine");
    place.write("both/notes.txt", "mine");
    let told = "both/night.csv is of earlier results and was changed since it was written, so it is kept";
    place.run("limit bank.toml --out both --force").ends(0).says(&[told]);
    let names = ["limit.csv", "limit.json", "limit.svg", "manifest.json", "night.csv", "notes.txt"];
    assert_eq!(place.list("both"), names);
    assert_eq!((place.text("both/night.csv"), place.text("both/notes.txt")), ("mine".into(), "mine".into()));
    place.run("run bank.toml --quiet --out both --resume").ends(2).says(&["results of `limit`", "--force"]);
    // What was kept is the user's now.
    place.run("run bank.toml --quiet --out both --force").ends(2).says(&["both/night.csv", "manifest.json"]);
    assert_eq!(place.list("both"), names);
}

#[test]
fn nights_are_added_to_a_folder_and_each_is_written_over_only_by_force() {
    let place = Place::winter();
    place.run("replay bank.toml --trial 3 --out nights").ends(0);
    place.run("replay bank.toml --trial 4 --out nights").ends(0);
    let all = ["manifest.json", "night-3.csv", "night-3.svg", "night-4.csv", "night-4.svg"];
    assert_eq!(place.list("nights"), all);
    let before = place.contents("nights");
    let again = "replay bank.toml --trial 3 --seed 9 --out nights";
    assert!(place.run(again).ends(2).says(&["night-3.csv is there already", "--force", "--out"]).out.is_empty());
    assert!(place.contents("nights") == before);
    place.write("nights/night-3.svg", "mine");
    place.run(&format!("{again} --force")).ends(0).says(&["night-3.svg was changed"]);
    assert_eq!(place.list("nights"), all);
    assert!(place.contents("nights") != before && place.text("nights/night-3.svg") != "mine");
    place.run("replay bank.toml --trial 3 --force").ends(2).says(&["--out"]);
    // A run takes such a folder, keeps the nights, and resumes beside them.
    place.run(&format!("{RUN} --out nights")).ends(3);
    place.run("replay bank.toml --trial 5 --out nights").ends(0);
    std::fs::remove_file(place.path("nights/night-4.svg")).unwrap();
    assert_eq!(place.run("run bank.toml --json --out nights --resume").ends(3).err, "");
    place.run(&format!("{RUN} --out nights --seed 9 --force")).ends(3);
    let nights = place.list("nights").into_iter().filter(|name| name.starts_with("night-"));
    assert_eq!(nights.collect::<Vec<_>>(), ["night-3.csv", "night-3.svg", "night-4.csv", "night-5.csv", "night-5.svg"]);
}

/// The scenario's own folder: a profile that is called like a result.
#[test]
fn an_input_that_is_called_like_a_result_is_not_written_over() {
    let place = Place::with(&WINTER.replace("load.csv", "night.csv"));
    place.write("night.csv", &super::load());
    place.write("air.csv", &super::air());
    for flag in ["", "--resume", "--force"] {
        let told = ["night.csv is there already", "no list (manifest.json) beside it", "--out"];
        place.run(&format!("{RUN} --out . {flag}")).ends(2).says(&told);
    }
    assert_eq!(place.list("."), ["air.csv", "bank.toml", "night.csv"]);
    assert_eq!(place.text("night.csv"), super::load());
    // Beside inputs of other names it may be.
    let place = Place::constant();
    for flag in ["", "--resume", "--force"] {
        place.run(&format!("{RUN} --out . {flag}")).ends(0);
    }
    assert_eq!(place.text("bank.toml"), format!("{SMALL}\n{CONSTANT}"));
}

/// A file that cannot be renamed over, since something is mounted there: the set is stopped in the middle.
#[cfg(target_os = "linux")]
struct Stuck(std::path::PathBuf);

#[cfg(target_os = "linux")]
impl Stuck {
    /// `None` where mounting is not permitted.
    fn at(path: std::path::PathBuf) -> Option<Stuck> {
        let mount = std::process::Command::new("mount").arg("--bind").arg(&path).arg(&path).output();
        mount.is_ok_and(|m| m.status.success()).then_some(Stuck(path))
    }
}

#[cfg(target_os = "linux")]
impl Drop for Stuck {
    fn drop(&mut self) {
        let _ = std::process::Command::new("umount").arg(&self.0).output();
    }
}

#[cfg(target_os = "linux")]
#[test]
fn a_set_that_was_stopped_between_two_files_is_known_and_goes_on() {
    let place = Place::winter();
    place.run(&format!("{RUN} --out new --seed 9")).ends(3);
    for again in ["--resume", "--force"] {
        place.run(&format!("{RUN} --out old --force")).ends(3);
        let (old, new) = (place.contents("old"), place.contents("new"));
        let Some(stuck) = Stuck::at(place.path("old/night.csv")) else {
            eprintln!("not permitted to mount: not tested here");
            return;
        };
        place.run(&format!("{RUN} --out old --seed 9 --force")).ends(1).says(&["old/night.csv"]);
        drop(stuck);
        let half = place.contents("old");
        let of = |set: &[(String, Vec<u8>)]| half.iter().filter(|file| set.contains(file)).count();
        assert!(half.len() == old.len() && of(&old) > 0 && of(&new) > 0, "{} old, {} new", of(&old), of(&new));
        // It holds something, but not what was there before.
        place.run(&format!("{RUN} --out old --seed 9")).ends(2).says(&["--resume", "--force"]);
        place.run(&format!("{RUN} --out old --resume")).ends(2).says(&["seed 9 there, 7 here"]);
        // Nothing of it is taken for somebody's change.
        assert_eq!(place.run(&format!("run bank.toml --json --out old --seed 9 {again}")).ends(3).err, "");
        assert!(place.contents("old") == new && place.list("old").len() == new.len() + 1);
    }
}

/// What `--force` was told to write over it writes over when the interrupted run goes on.
#[cfg(unix)]
#[test]
fn an_interrupted_run_goes_on_over_what_it_was_forced_to_write_over_and_no_more() {
    let (place, _, _) = finished();
    let run = "run bank.toml --json --quiet --trials 300 --seed 9 --threads 1 --out output/bank";
    place.run(&with_out(run, "fresh")).ends(3);
    place.write("output/bank/elements.csv", "mine");
    super::interrupt::stopped_after(&place, &format!("{run} --force"), "output/bank", 3);
    place.write("output/bank/chains.csv", "mine, later");
    place.run(&format!("{run} --resume")).ends(2).says(&["changed since written: chains.csv. --resume"]);
    assert_eq!(place.text("output/bank/chains.csv"), "mine, later");
    std::fs::remove_file(place.path("output/bank/chains.csv")).unwrap();
    place.run(&format!("{run} --resume")).ends(3);
    assert!(place.contents("output/bank") == place.contents("fresh"));
}

fn with_out(run: &str, out: &str) -> String {
    run.replace("output/bank", out)
}
