//! A run that is stopped, by a person or by the machine, and goes on as if it had not been.
#![cfg(unix)]

use super::{CONSTANT, PROGRAM, Place, Ran, SMALL, WINTER, with};
use std::io::{BufRead, BufReader};
use std::process::{Child, Command, Stdio};
use std::time::{Duration, Instant};

/// So many trials that a run can be caught in the middle of them.
const TRIALS: &str = "2000";

fn spawn(place: &Place, args: &str) -> Child {
    let mut command = Command::new(PROGRAM);
    command.current_dir(place.dir()).args(args.split_whitespace());
    command.stdin(Stdio::null()).stdout(Stdio::piped()).stderr(Stdio::piped()).spawn().unwrap()
}

fn signal(child: &Child, name: &str) {
    let kill = Command::new("sh").arg("-c").arg(format!("kill -{name} {}", child.id())).status().unwrap();
    assert!(kill.success());
}

fn wait(child: Child) -> Ran {
    Ran::from(child.wait_with_output().unwrap())
}

/// Until it is so, however long the machine takes for it.
fn wait_until(so: impl Fn() -> bool) {
    let began = Instant::now();
    while !so() {
        assert!(began.elapsed() < super::PATIENCE, "it never came to that");
        std::thread::sleep(Duration::from_millis(2));
    }
}

/// Until the program is in the midst of its work: it has used half a second of a processor, twenty times what it takes
/// to read a scenario. Linux counts hundredths.
pub fn wait_until_at_work(child: &Child) {
    let used = || {
        let stat = std::fs::read_to_string(format!("/proc/{}/stat", child.id())).unwrap();
        let fields: Vec<&str> = stat.rsplit(')').next().unwrap().split_whitespace().collect();
        fields[11].parse::<u64>().unwrap() + fields[12].parse::<u64>().unwrap()
    };
    wait_until(|| used() >= 50);
}

/// Until so many shards are there.
fn await_shards(place: &Place, out: &str, many: usize) {
    wait_until(|| shards(place, out) >= many);
}

fn shards(place: &Place, out: &str) -> usize {
    let entries = std::fs::read_dir(place.path(out).join("shards"));
    entries.map_or(0, |all| all.flatten().filter(|e| e.path().extension().is_some_and(|x| x == "json")).count())
}

fn run(out: &str) -> String {
    format!("run bank.toml --json --quiet --trials {TRIALS} --out {out}")
}

/// Starts a run, sends a signal when some shards are there, and says how it ended.
fn stopped(place: &Place, args: &str, out: &str, many: usize, name: &str) -> Ran {
    let child = spawn(place, args);
    await_shards(place, out, many);
    signal(&child, name);
    wait(child)
}

/// A run that is killed when so many shards are there.
pub fn stopped_after(place: &Place, args: &str, out: &str, many: usize) {
    assert_eq!(stopped(place, args, out, many, "KILL").code, None);
}

#[test]
fn a_run_that_was_stopped_goes_on_to_the_same_bytes() {
    let place = Place::winter();
    let whole = place.run(&run("whole")).ends(3);
    for (k, (name, code)) in [("KILL", None), ("INT", Some(130)), ("TERM", Some(130))].into_iter().enumerate() {
        let out = format!("out{k}");
        let ran = stopped(&place, &run(&out), &out, 5, name);
        assert_eq!(ran.code, code, "{name}: {}", ran.err);
        assert!(ran.out.is_empty() && !place.path(&out).join("results.json").exists(), "{name}");
        let kept = shards(&place, &out);
        assert!(kept >= 5, "{name}: {kept}");
        // Again and again, with another number of threads each time.
        let again = stopped(&place, &format!("{} --resume --threads 3", run(&out)), &out, kept + 5, name);
        assert_eq!(again.code, code, "{name}: {}", again.err);
        let resumed = place.run(&format!("{} --resume --threads 1", run(&out))).ends(3);
        assert_eq!(resumed.out, whole.out, "{name}");
        assert_eq!(place.contents(&out), place.contents("whole"), "{name}");
    }
}

#[test]
fn an_interrupted_run_says_how_to_go_on_and_that_command_works() {
    let place = Place::winter();
    std::fs::rename(place.path("bank.toml"), place.path("my bank.toml")).unwrap();
    let mut command = Command::new(PROGRAM);
    command.current_dir(place.dir()).args(["run", "my bank.toml", "--trials", TRIALS, "--seed", "5", "--json"]);
    let child = command.stdout(Stdio::piped()).stderr(Stdio::piped()).spawn().unwrap();
    await_shards(&place, "output/my bank", 3);
    signal(&child, "INT");
    let ran = wait(child).ends(130).says(&["interrupted", "output/my bank", "--resume"]);
    let line = ran.err.lines().find_map(|line| line.trim().strip_prefix("bankwright ")).unwrap();
    let shell = Command::new("sh").current_dir(place.dir()).arg("-c").arg(format!("'{PROGRAM}' {line}")).output();
    let document = Ran::from(shell.unwrap()).ends(3).json();
    assert_eq!((document["seed"].as_u64(), document["trials"].as_u64()), (Some(5), Some(2000)));
}

/// Blocks of sixteen trials with as many steps as a trial may have, seconds each, and minutes of them.
fn endless() -> Place {
    let text = "[load]\ncurrent = \"0.001 A\"\n[trials]\ncount = 4000\nhorizon = \"1000000 s\"\nstep = \"1 s\"\n";
    Place::with(&format!("{SMALL}\n{text}"))
}

/// A block that had been finished would have left its shard.
#[test]
fn an_interrupt_does_not_wait_for_the_end_of_a_long_trial() {
    let place = endless();
    let child = spawn(&place, "run bank.toml --out out");
    wait_until(|| place.path("out/shards/run.json").exists());
    signal(&child, "INT");
    wait(child).ends(130).says(&["--resume"]);
    assert_eq!(shards(&place, "out"), 1, "run.json alone");
    assert!(!place.path("out/results.json").exists());
}

#[test]
fn two_interrupts_end_it_too() {
    let place = endless();
    let child = spawn(&place, "run bank.toml --out out");
    wait_until(|| place.path("out/shards/run.json").exists());
    signal(&child, "INT");
    let _ = Command::new("sh").arg("-c").arg(format!("kill -INT {} 2>/dev/null", child.id())).status();
    wait(child).ends(130);
}

#[test]
fn a_run_under_nohup_outlives_its_terminal() {
    let place = Place::winter();
    let mut shell = Command::new("sh");
    shell.current_dir(place.dir()).args(["-c", &format!("trap '' HUP; exec '{PROGRAM}' {}", run("out"))]);
    let child = shell.stdout(Stdio::piped()).stderr(Stdio::piped()).spawn().unwrap();
    await_shards(&place, "out", 3);
    signal(&child, "HUP");
    await_shards(&place, "out", shards(&place, "out") + 20);
    signal(&child, "INT");
    wait(child).ends(130).says(&["--resume"]);
}

#[test]
fn an_unfinished_folder_is_refused_without_a_flag_and_another_run_with_resume() {
    let place = Place::winter();
    stopped(&place, &run("out"), "out", 3, "INT").ends(130);
    let kept = shards(&place, "out");
    place.run(&run("out")).ends(2).says(&["--resume"]);
    place.run(&format!("{} --resume --seed 9", run("out"))).ends(2).says(&["seed 7 there, 9 here"]);
    let fewer = "run bank.toml --json --quiet --trials 60 --out out --resume";
    place.run(fewer).ends(2).says(&["number of trials 2000 there, 60 here"]);
    place.write("bank.toml", &with(WINTER, "\"52 A\"", "\"53 A\""));
    place.run(&format!("{} --resume", run("out"))).ends(2).says(&["has changed"]);
    assert_eq!(shards(&place, "out"), kept);
    place.run("run bank.toml --json --quiet --trials 60 --out out --force").ends(3);
    assert!(!place.path("out/shards").exists());
}

#[test]
fn a_damaged_shard_is_run_again() {
    let place = Place::winter();
    let whole = place.run(&run("whole")).ends(3);
    stopped(&place, &run("out"), "out", 12, "KILL");
    let dir = place.path("out/shards");
    let mut files: Vec<_> = std::fs::read_dir(&dir).unwrap().map(|e| e.unwrap().path()).collect();
    files.retain(|path| path.file_name().is_some_and(|name| name != "run.json"));
    files.sort();
    let text = |k: usize| std::fs::read_to_string(&files[k]).unwrap();
    let write = |k: usize, text: &str| std::fs::write(&files[k], text).unwrap();
    write(0, "");
    write(1, &text(1)[..text(1).len() / 2]);
    write(2, "{\"identity\": 3}");
    // A digit that changed, in a file that still reads well.
    let counts = text(3);
    write(3, &with_changed_number(&counts, "\"served\": "));
    // One in the place of another: it would be counted twice.
    write(4, &text(5));
    std::fs::write(place.path("out/shards/run.json"), "damaged").unwrap();
    let resumed = place.run(&format!("{} --resume", run("out"))).ends(3);
    assert_eq!(resumed.out, whole.out);
    assert_eq!(place.contents("out"), place.contents("whole"));
}

fn with_changed_number(text: &str, before: &str) -> String {
    assert!(text.contains(before), "{text}");
    text.replacen(before, &format!("{before}1"), 1)
}

#[test]
fn a_forced_run_that_is_stopped_leaves_the_old_results_until_the_new_are_whole() {
    let place = Place::winter();
    place.run("run bank.toml --json --quiet --out out").ends(3);
    let old = place.contents("out");
    let again = format!("{} --seed 9", run("out"));
    stopped(&place, &format!("{again} --force"), "out", 3, "INT").ends(130);
    let names: Vec<String> = old.iter().map(|(name, _)| name.clone()).collect();
    for (name, bytes) in &old {
        assert_eq!(&std::fs::read(place.path("out").join(name)).unwrap(), bytes, "{name}");
    }
    assert_eq!(names.len() + 2, place.list("out").len(), "the manifest and the shards besides");
    // What is under way is the new run: neither the old one nor a third goes on here.
    place.run("run bank.toml --json --quiet --out out --resume").ends(2).says(&["there"]);
    let resumed = place.run(&format!("{again} --resume")).ends(3);
    let fresh = place.run(&format!("{} --seed 9", run("fresh"))).ends(3);
    assert_eq!(resumed.out, fresh.out);
    assert_eq!(place.contents("out"), place.contents("fresh"));
}

/// Forty-one modules, whose limits with six of them out are 4.5 million sets; and a layout.
fn many_sets() -> Place {
    let bank = with(SMALL, "count = 2", "count = 40");
    let targets = "[targets]\nlimit = \"100 A\"\nlimit_outages = 200\n";
    let layout = "[[layout]]\nname = \"two\"\n[layout.cable.lead]\nrating = \"150 A\"\n";
    let bank = with(&with(&bank, "positive = 2", "positive = 40"), "[cable.lead]", "[cable.lead]\nprice = 1");
    Place::with(&format!("{bank}\n{CONSTANT}\n{targets}{layout}[prices]\ncurrency = \"EUR\"\n"))
}

/// What an interrupt ended, `interrupted after 1,200 of 4,500,000 sets of modules`: what is done, and of how much.
fn done_of_all(line: &str) -> [u64; 2] {
    let numbers = line.split(' ').filter_map(|word| word.replace(',', "").parse().ok());
    numbers.collect::<Vec<u64>>().try_into().unwrap_or_else(|_| panic!("{line}"))
}

#[cfg(target_os = "linux")]
#[test]
fn an_interrupt_does_not_wait_for_the_end_of_exact_limits() {
    let place = many_sets();
    for (args, quiet) in [
        ("limit bank.toml --outages 200", false),
        ("limit bank.toml --outages 4 --sensitivity --quiet --json", true),
        ("compare bank.toml --json", false),
        ("propose bank.toml --quiet", true),
    ] {
        let child = spawn(&place, &format!("{args} --out out"));
        wait_until_at_work(&child);
        signal(&child, "INT");
        let ran = wait(child).ends(130).says(&["interrupted after ", " sets of modules; nothing was written"]);
        let [done, all] = done_of_all(ran.err.lines().last().unwrap());
        assert!(0 < done && done < all, "{args}: {}", ran.err);
        assert!(ran.out.is_empty() && !place.path("out").exists(), "{args}: {}", ran.out);
        assert!(!quiet || ran.err.lines().count() == 1, "{args}: {}", ran.err);
    }
}

/// A line every ten seconds, since standard error is no terminal here.
#[test]
fn exact_limits_say_how_far_they_are() {
    let place = many_sets();
    let mut child = spawn(&place, "limit bank.toml --outages 200 --json");
    let mut lines = BufReader::new(child.stderr.take().unwrap()).lines().map(Result::unwrap);
    let line = lines.find(|line| line.ends_with(" sets of modules")).expect("it says how far it is before it ends");
    signal(&child, "INT");
    wait(child).ends(130);
    let [done, all] = done_of_all(&line);
    assert!(0 < done && done < all, "{line}");
}
