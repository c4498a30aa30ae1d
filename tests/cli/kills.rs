//! Fifty runs that are killed at random moments, from the first to the last, while they write too. The clock scatters the
//! moments and decides nothing: runs are killed until enough were caught at each.

use super::{PROGRAM, Place};
use std::collections::BTreeMap;
use std::os::unix::process::ExitStatusExt;
use std::process::{Child, Command, Stdio};
use std::time::{Duration, Instant};

const SEED: u64 = 20_240_117;
const KILLS: usize = 50;
/// So many of them are to come while files take their places.
const WHILE_WRITING: usize = 15;
const RUN: &str = "run bank.toml --json --quiet --trials 64 --out out";

type Files = BTreeMap<String, Vec<u8>>;

struct Kills {
    place: Place,
    state: u64,
    /// A finished set of another seed, and of this one.
    old: Files,
    new: Files,
    whole: String,
    /// What a run takes from start to end, and from its first file in writing to its end.
    length: Duration,
    writing: Duration,
    kills: usize,
    while_writing: usize,
    /// Of these, when the first had taken its place.
    while_placing: usize,
}

impl Kills {
    fn new() -> Kills {
        let place = Place::winter();
        place.run(&format!("{RUN} --seed 8 --force")).ends(3);
        let old = files(&place);
        std::fs::remove_dir_all(place.path("out")).unwrap();
        let began = Instant::now();
        let whole = place.run(RUN).ends(3).out;
        let (length, new) = (began.elapsed(), files(&place));
        std::fs::remove_dir_all(place.path("out")).unwrap();
        let state = SEED;
        let writing = Duration::ZERO;
        let mut kills =
            Kills { place, state, old, new, whole, length, writing, kills: 0, while_writing: 0, while_placing: 0 };
        let mut child = kills.spawn("");
        kills.await_writing(&mut child);
        let began = Instant::now();
        child.wait().unwrap();
        kills.writing = began.elapsed();
        kills
    }

    /// From 0 to below 1 (an ordinary linear congruence).
    fn draw(&mut self) -> f64 {
        self.state = self.state.wrapping_mul(6_364_136_223_846_793_005).wrapping_add(1_442_695_040_888_963_407);
        (self.state >> 11) as f64 / (1u64 << 53) as f64
    }

    fn spawn(&self, flag: &str) -> Child {
        let mut command = Command::new(PROGRAM);
        command.current_dir(self.place.dir()).args(RUN.split(' ')).args(flag.split_whitespace());
        command.stdin(Stdio::null()).stdout(Stdio::null()).stderr(Stdio::null()).spawn().unwrap()
    }

    fn names(&self) -> Vec<String> {
        if self.place.path("out").exists() { self.place.list("out") } else { Vec::new() }
    }

    fn await_writing(&self, child: &mut Child) {
        let unfinished = |name: &String| name.starts_with(".bankwright-");
        // Before there are shards, it is their folder that is unfinished.
        let begun = || self.place.path("out/shards/run.json").exists() && self.names().iter().any(unfinished);
        while child.try_wait().unwrap().is_none() && !begun() {
            std::thread::sleep(Duration::from_micros(100));
        }
    }

    /// Waits, kills, and counts; whether the run was not finished by then.
    fn kill(&mut self, mut child: Child, wait: Duration) -> bool {
        std::thread::sleep(wait);
        child.kill().unwrap();
        let killed = child.wait().unwrap().signal().is_some();
        if killed {
            self.kills += 1;
            self.while_writing += usize::from(self.is_half_written());
            self.while_placing += usize::from(self.is_half_placed());
            self.nothing_is_half();
        }
        killed
    }

    /// The last kill came after the first file of the set was begun, and before all was tidy.
    fn is_half_written(&self) -> bool {
        let names = self.names();
        let shards = names.iter().any(|name| name == "shards");
        names.iter().any(|name| name.starts_with(".bankwright-")) && shards || self.is_half_placed()
    }

    fn is_half_placed(&self) -> bool {
        let list = std::fs::read_to_string(self.place.path("out/manifest.json")).unwrap_or_default();
        list.contains("\"complete\": false") || self.place.path("out/shards").exists() && list.contains("\"seed\": 7")
    }

    /// Every file of the set is the old or the new, and what is the user's is his.
    fn nothing_is_half(&self) {
        for (name, bytes) in files(&self.place) {
            if name.starts_with(".bankwright-") {
                continue;
            }
            assert!(self.old.get(&name) == Some(&bytes) || self.new.get(&name) == Some(&bytes), "{name}");
        }
        assert_eq!(self.place.text("out/.writing-mine"), "mine");
    }

    /// A folder with something of the user's in it, at times with earlier results too; the flag of the first run.
    fn begin(&mut self) -> &'static str {
        let _ = std::fs::remove_dir_all(self.place.path("out"));
        let over = self.draw() < 0.5;
        if over {
            self.place.run(&format!("{RUN} --seed 8")).ends(3);
        }
        self.place.write("out/.writing-mine", "mine");
        if over { "--force" } else { "" }
    }

    /// Goes on where the last kill left, as often as the run is killed again, to the same bytes.
    fn round(&mut self, writing: bool) {
        let mut flag = self.begin();
        loop {
            let mut child = self.spawn(flag);
            let wait = if writing {
                self.await_writing(&mut child);
                self.writing.mul_f64(self.draw())
            } else {
                self.length.mul_f64(self.draw())
            };
            if !self.kill(child, wait) || self.draw() < 0.3 {
                break;
            }
            flag = self.after_a_kill(flag);
        }
        let flag = self.after_a_kill(flag);
        let resumed = self.place.run(&format!("{RUN} {flag}")).ends(3);
        assert_eq!(resumed.out, self.whole, "after {} kills", self.kills);
        assert!(files(&self.place) == self.new, "after {} kills", self.kills);
        let names: Vec<String> = self.names();
        let left: Vec<_> = names.iter().filter(|name| name.starts_with('.') || *name == "shards").collect();
        assert_eq!(left, [".writing-mine"]);
    }

    /// A run that was killed before it had begun its shards left the earlier results alone: it is begun again.
    fn after_a_kill(&self, flag: &'static str) -> &'static str {
        let begun = self.place.path("out/shards").exists();
        let list = std::fs::read_to_string(self.place.path("out/manifest.json")).unwrap_or_default();
        if flag == "--force" && !begun && list.contains("\"seed\": 8") { "--force" } else { "--resume" }
    }
}

/// Every file but the list and what is the user's.
fn files(place: &Place) -> Files {
    let others = |(name, _): &(String, Vec<u8>)| name != ".writing-mine";
    let plain = place.list("out").into_iter().filter(|name| place.path("out").join(name).is_file());
    let read = |name: String| (name.clone(), std::fs::read(place.path("out").join(name)).unwrap());
    plain.filter(|name| name != "manifest.json").map(read).filter(others).collect()
}

#[test]
fn fifty_kills_at_random_moments_lose_nothing_and_change_no_byte() {
    let mut kills = Kills::new();
    while kills.kills < KILLS - WHILE_WRITING {
        kills.round(false);
    }
    let mut rounds = 0;
    while kills.kills < KILLS || kills.while_writing < WHILE_WRITING {
        kills.round(true);
        rounds += 1;
        assert!(rounds < 200, "{} of {} kills came while files were written", kills.while_writing, kills.kills);
    }
    let Kills { kills, while_writing, while_placing, .. } = kills;
    println!(
        "{kills} kills, {while_writing} while files were written, {while_placing} of these when some had their places"
    );
}
