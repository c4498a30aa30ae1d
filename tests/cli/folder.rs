//! The results folder: what is in it, what is never lost, and what stands in the way.

use super::{CONSTANT, Place, Ran, SMALL, WINTER, with};

const RUN: &str = "run bank.toml --json --quiet";

#[test]
fn a_finished_folder_holds_results_and_nothing_that_was_needed_on_the_way() {
    let place = Place::winter();
    place.run(RUN).ends(3);
    let files = place.list("output/bank");
    let wanted = "results.json manifest.json overview.html elements.csv night.csv devices.csv temperatures.csv \
                  overload.svg cascade.svg";
    for name in wanted.split(' ') {
        assert!(files.iter().any(|file| file == name), "no {name} in {files:?}");
    }
    assert!(!files.iter().any(|f| f == "shards" || f.starts_with('.')), "{files:?}");
}

#[test]
fn a_folder_with_results_is_refused_and_untouched() {
    let place = Place::winter();
    place.run(RUN).ends(3);
    let before = place.contents("output/bank");
    let manifest = place.text("output/bank/manifest.json");
    for args in [RUN, "run bank.toml --seed 3", "run bank.toml --trials 10 --out output/bank"] {
        let ran = place.run(args).ends(2).says(&["output/bank", "--resume", "--force", "--out"]);
        assert!(ran.out.is_empty());
    }
    assert_eq!(place.contents("output/bank"), before);
    assert_eq!(place.text("output/bank/manifest.json"), manifest);
}

#[test]
fn force_writes_over_results_also_of_another_run() {
    let place = Place::winter();
    place.run(RUN).ends(3);
    let fresh = place.run(&format!("{RUN} --seed 8 --out fresh")).ends(3);
    let forced = place.run(&format!("{RUN} --seed 8 --force")).ends(3);
    assert_eq!(forced.out, fresh.out);
    assert_eq!(place.contents("output/bank"), place.contents("fresh"));
    place.run(&format!("{RUN} --force --out not/there/yet")).ends(3);
}

#[test]
fn resume_works_on_an_absent_an_empty_and_a_finished_folder() {
    let place = Place::winter();
    let fresh = place.run(RUN).ends(3);
    std::fs::create_dir(place.path("empty")).unwrap();
    for out in ["absent/folder", "empty", "empty", "output/bank"] {
        let ran = place.run(&format!("{RUN} --resume --out {out}")).ends(3);
        assert_eq!(ran.out, fresh.out, "{out}");
        assert_eq!(place.contents(out), place.contents("output/bank"), "{out}");
    }
}

#[test]
fn resume_refuses_another_run_and_says_what_differs() {
    let place = Place::winter();
    place.run(RUN).ends(3);
    let before = place.contents("output/bank");
    let refused = |args: &str, why: &str| {
        let ran = place.run(&format!("{RUN} --resume {args}")).ends(2).says(&["output/bank", why, "--force"]);
        assert!(ran.out.is_empty());
    };
    refused("--seed 8", "seed 7 there, 8 here");
    refused("--trials 299", "number of trials 300 there, 299 here");
    place.write("bank.toml", &with(WINTER, "\"52 A\"", "\"53 A\""));
    refused("", "the scenario, or a file that it names, has changed");
    place.write("bank.toml", WINTER);
    place.write("air.csv", &with(&super::air(), "2021-01-10T03:00,-", "2021-01-10T03:00,-1"));
    refused("", "the scenario, or a file that it names, has changed");
    assert_eq!(place.contents("output/bank"), before);
    place.write("air.csv", &super::air());
    place.run(&format!("{RUN} --resume")).ends(3);
}

#[test]
fn a_folder_that_cannot_be_made_is_named_with_exit_code_1() {
    let place = Place::constant();
    place.write("taken", "mine");
    for out in ["taken", "taken/below", "/proc/nothing/here"] {
        let ran = place.run(&format!("{RUN} --out {out}")).ends(1).says(&[out]);
        assert!(ran.out.is_empty() && ran.err.lines().count() == 1, "{}", ran.err);
    }
    assert_eq!(place.text("taken"), "mine");
}

#[test]
fn an_unwritable_name_in_the_folder_leaves_the_old_results() {
    let place = Place::winter();
    place.run(RUN).ends(3);
    let before = place.contents("output/bank");
    // A file stands where the shards are to be: root may write anywhere else.
    place.write("output/bank/shards", "in the way");
    place.run(&format!("{RUN} --force --seed 8")).ends(2).says(&["output/bank/shards is a file"]);
    std::fs::remove_file(place.path("output/bank/shards")).unwrap();
    assert_eq!(place.contents("output/bank"), before);
}

#[test]
fn odd_names_of_files_and_folders_work() {
    for folder in ["with blanks", "höhle 電池", "it's"] {
        let place = Place::winter();
        for name in ["bank.toml", "load.csv", "air.csv"] {
            place.write(&format!("{folder}/{name}"), &place.text(name));
        }
        let file = format!("{folder}/my bänk.toml");
        std::fs::rename(place.path(folder).join("bank.toml"), place.path(&file)).unwrap();
        let mut command = place.command("run --json --quiet --trials 20");
        Ran::of(command.arg(&file)).ends(3).json();
        assert_eq!(place.list("output"), ["my bänk"]);
        let mut again = place.command("run --trials 20 --force");
        let told = Ran::of(again.arg(&file)).ends(3).out;
        let replay = told.lines().find(|line| line.trim().starts_with("bankwright replay")).unwrap().trim();
        pasted(&place, replay).ends(0);
    }
}

/// What the program prints to be pasted into a shell.
fn pasted(place: &Place, line: &str) -> Ran {
    let line = line.replacen("bankwright", &format!("'{}'", super::PROGRAM), 1);
    let mut shell = assert_cmd::Command::new("sh");
    Ran::of(shell.current_dir(place.dir()).timeout(super::PATIENCE).arg("-c").arg(line))
}

#[cfg(unix)]
#[test]
fn a_name_that_is_no_text_works() {
    use std::os::unix::ffi::OsStrExt;
    let place = Place::constant();
    let name = std::ffi::OsStr::from_bytes(b"b\xffnk.toml");
    std::fs::rename(place.path("bank.toml"), place.dir().join(name)).unwrap();
    let mut command = place.command("run --json --quiet");
    Ran::of(command.arg(name)).ends(0).json();
    assert!(place.dir().join("output").join(std::ffi::OsStr::from_bytes(b"b\xffnk")).join("results.json").is_file());
}

#[test]
fn two_runs_do_not_write_into_one_folder() {
    let place = Place::constant();
    std::fs::create_dir(place.path("shared")).unwrap();
    let folder = std::fs::File::open(place.path("shared")).unwrap();
    folder.lock().unwrap();
    place.run(&format!("{RUN} --out shared")).ends(1).says(&["shared", "another run"]);
    assert!(place.list("shared").is_empty());
    folder.unlock().unwrap();
    place.run(&format!("{RUN} --out shared")).ends(0);
}

/// A file system of its own that is too small: as root, the one way to a full disk.
#[cfg(target_os = "linux")]
struct SmallDisk<'a>(&'a Place);

#[cfg(target_os = "linux")]
impl SmallDisk<'_> {
    /// `None` where mounting is not permitted.
    fn mount<'a>(place: &'a Place, size: &str) -> Option<SmallDisk<'a>> {
        std::fs::create_dir(place.path("disk")).unwrap();
        let mount = std::process::Command::new("mount")
            .args(["-t", "tmpfs", "-o", &format!("size={size}"), "tmpfs"])
            .arg(place.path("disk"))
            .output();
        mount.is_ok_and(|m| m.status.success()).then_some(SmallDisk(place))
    }
}

#[cfg(target_os = "linux")]
impl Drop for SmallDisk<'_> {
    fn drop(&mut self) {
        let _ = std::process::Command::new("umount").arg(self.0.path("disk")).output();
    }
}

#[cfg(target_os = "linux")]
#[test]
fn a_full_disk_leaves_the_old_results_and_says_so() {
    let place = Place::winter();
    let Some(_disk) = SmallDisk::mount(&place, "3m") else {
        eprintln!("not permitted to mount a small disk: not tested here");
        return;
    };
    let run = format!("{RUN} --trials 100 --out disk/out");
    place.run(&run).ends(3);
    let before = place.contents("disk/out");
    let used: usize = before.iter().map(|(_, bytes)| bytes.len()).sum();
    std::fs::write(place.path("disk/ballast"), vec![b'x'; 3 * 1024 * 1024 - used - used / 2]).unwrap();
    // Room for shards, but not for a second set of results beside the first.
    let ran = place.run(&format!("{run} --seed 8 --force")).ends(1).says(&["disk/out", "No space left"]);
    assert!(ran.out.is_empty());
    assert_eq!(place.contents("disk/out"), before);
    std::fs::remove_file(place.path("disk/ballast")).unwrap();
    let resumed = place.run(&format!("{run} --seed 8 --resume")).ends(3);
    assert_eq!(resumed.json()["seed"], 8);
}

#[cfg(target_os = "linux")]
#[test]
fn a_disk_without_room_for_anything_fails_at_once() {
    let place = Place::with(&format!("{SMALL}\n{CONSTANT}"));
    let Some(_disk) = SmallDisk::mount(&place, "16k") else {
        eprintln!("not permitted to mount a small disk: not tested here");
        return;
    };
    place.run(&format!("{RUN} --out disk/out")).ends(1).says(&["disk/out", "No space left"]);
}
