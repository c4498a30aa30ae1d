//! Inputs without bounds, from outside: little memory, an answer in time, and words.
//!
//! Memory is bounded by the shell's `ulimit -v`, which Linux holds programs to.

use super::{CONSTANT, PATIENCE, PROGRAM, Place, Ran, SMALL};
use flate2::Compression;
use flate2::write::GzEncoder;
use std::io::Write;
use std::time::Duration;

/// Address space, of which memory is a part [KiB].
const GIGABYTE: u64 = 1 << 20;

/// Runs within so much memory.
fn within(place: &Place, kib: u64, args: &str) -> Ran {
    let mut command = assert_cmd::Command::new("sh");
    let line = format!("ulimit -v {kib} && exec '{PROGRAM}' {args}");
    Ran::of(command.current_dir(place.dir()).timeout(PATIENCE).args(["-c", &line]))
}

fn layouts(count: usize) -> String {
    let layout = |k| format!("[[layout]]\nname = \"l{k}\"\n[layout.module.box]\ncapacity = \"{} Ah\"\n", 50 + k);
    format!("{SMALL}\n{CONSTANT}{}", (0..count).map(layout).collect::<String>())
}

/// Four stacks of 64 modules, each with a pair of leads, on a bar: the largest bank that there may be.
fn largest(per_stack: &str, more: &str) -> String {
    let types = "format = 1\ntitle = \"invented: as large as may be\"\n[bar]\nresistance = \"0.1 mΩ/m\"\n[module.box]\n\
                 cells = 16\ncapacity = \"100 Ah\"\nresistance = \"13 mΩ\"\nopen_circuit = \"lfp\"\n[cable.link]\n\
                 resistance = \"0.3 mΩ\"\ncontact = \"0.05 mΩ\"\nrating = \"140 A\"\n";
    let pair = |k: usize| format!("{{ cable = \"link\", positive = {k}, negative = {k}, at = \"{k} m\" }}, ");
    let pairs: String = (1..=64).map(pair).collect();
    let stack = |name| {
        format!(
            "[[stack]]\nname = \"{name}\"\nmodule = \"box\"\ncount = 64\njumper = \"link\"\nleads = [{pairs}]\n{per_stack}"
        )
    };
    format!("{types}{}{more}", ["A", "B", "C", "D"].map(stack).concat())
}

#[cfg(target_os = "linux")]
#[test]
fn too_many_layouts_are_counted_before_any_is_made() {
    let place = Place::with(&layouts(1000));
    within(&place, GIGABYTE / 4, "check bank.toml").ends(2).says(&["bank.toml", "1 000", "at most 256", "1 error"]);
    let many: Vec<String> = (1..=64).map(|k| k.to_string()).collect();
    let many = many.join(", ");
    let grid = format!(
        "{SMALL}\n[layouts]\nmodules = [{many}]\nlead_pairs = [{many}]\ntake_off = [\"one end\", \"opposite ends\"]\n"
    );
    within(&Place::with(&grid), GIGABYTE / 4, "check bank.toml").ends(2).says(&["at most 256", "1 error"]);
}

#[cfg(target_os = "linux")]
#[test]
fn as_many_layouts_as_there_may_be_fit() {
    within(&Place::with(&layouts(256)), GIGABYTE / 4, "check bank.toml").ends(0);
    let names =
        (0..65).map(|k| format!("[[layout]]\nname = \"l{k}\"\n[layout.cable.link]\nrating = \"{} A\"\n", 100 + k));
    let names: Vec<String> = names.collect();
    within(&Place::with(&largest("", &names[..64].concat())), GIGABYTE / 2, "check bank.toml").ends(0);
    let ran = within(&Place::with(&largest("", &names.concat())), GIGABYTE / 2, "check bank.toml").ends(2);
    ran.says(&["more than 16 384 modules together", "leave out layouts", "1 error"]);
}

fn with_load(name: &str) -> Place {
    Place::with(&format!("{SMALL}\n[load]\nprofile = \"{name}\"\n"))
}

fn bomb(place: &Place, name: &str, piece: &[u8], mebibytes: usize) {
    let mut packer = GzEncoder::new(std::fs::File::create(place.path(name)).unwrap(), Compression::fast());
    packer.write_all(b"hours,power\n").unwrap();
    let block = piece.repeat((1 << 20) / piece.len());
    (0..mebibytes).for_each(|_| packer.write_all(&block).unwrap());
    packer.finish().unwrap();
}

#[cfg(target_os = "linux")]
#[test]
fn a_packed_file_is_unpacked_no_further_than_a_profile_may_be() {
    let place = with_load("load.gz");
    bomb(&place, "load.gz", b"0,1\n", 300);
    within(&place, GIGABYTE, "check bank.toml").ends(2).says(&["load.gz", "128 MiB", "longer steps", "1 error"]);
    bomb(&place, "load.gz", b",", 100);
    within(&place, GIGABYTE, "check bank.toml").ends(2).says(&["load.gz:2", "more than 1 000 cells", "1 error"]);
    bomb(&place, "load.gz", b"\n", 100);
    within(&place, GIGABYTE, "check bank.toml").ends(2).says(&["a header and no rows", "1 error"]);
}

#[cfg(target_os = "linux")]
#[test]
fn a_file_by_the_minute_over_years_fits() {
    let place = with_load("load.csv");
    let mut text = String::from("hours,power\n");
    (0..4_000_000).for_each(|k| text.push_str(&format!("{}.{:02},1\n", k / 60, k % 60)));
    place.write("load.csv", &text);
    within(&place, GIGABYTE, "check bank.toml").ends(0);
}

#[test]
fn a_file_is_named_once_and_a_list_is_not_endless() {
    let climate = |list: &str| Place::with(&format!("{SMALL}\n[climate]\nprofile = [{list}]\n"));
    let place = climate(&"\"air.csv\", ".repeat(1000));
    place.run("check bank.toml").ends(2).says(&["names 1000 files", "from 1 to 100", "1 error"]);
    let place = climate("\"air.csv\", \"./air.csv\"");
    place.write("air.csv", "hours,air\n0,1\n24,2\n");
    place.run("check bank.toml").ends(2).says(&["named twice", "the same file as file 1", "1 error"]);
}

#[cfg(unix)]
fn pipe(place: &Place, name: &str) {
    let made = std::process::Command::new("mkfifo").arg(place.path(name)).status().unwrap();
    assert!(made.success());
}

#[cfg(unix)]
#[test]
fn a_pipe_that_nobody_writes_is_refused_in_words() {
    let place = Place::with(&format!("{SMALL}\n[climate]\nprofile = [\"air.csv\", \"pipe\"]\n"));
    place.write("air.csv", "hours,air\n0,1\n24,2\n");
    pipe(&place, "pipe");
    let words = ["nothing came through this pipe for 5 s", "1 error"];
    place.run("check pipe").ends(2).says(&words);
    let faults = place.run("check bank.toml").ends(2).says(&words).err;
    let line = SMALL.trim_end().lines().count() + 3;
    // The second of the list.
    assert!(faults.contains(&format!("bank.toml:{line}:23")), "{faults}");
    place.run("readings bank.toml pipe").ends(2);
}

#[cfg(unix)]
#[test]
fn a_pipe_that_is_slow_but_alive_is_read_to_its_end() {
    let place = Place::small();
    pipe(&place, "pipe");
    let path = place.path("pipe");
    let writing = std::thread::spawn(move || {
        let mut pipe = std::fs::OpenOptions::new().write(true).open(path).unwrap();
        let pieces: Vec<&[u8]> = SMALL.as_bytes().chunks(SMALL.len() / 3).collect();
        for piece in pieces {
            // Together longer than a silence may be: the one wait by the clock here, for it is the clock that is tried.
            std::thread::sleep(Duration::from_secs(2));
            pipe.write_all(piece).unwrap();
        }
    });
    place.run("check pipe").ends(0);
    writing.join().unwrap();
}

#[cfg(target_os = "linux")]
#[test]
fn what_is_no_file_is_told_in_words() {
    let place = with_load("thing");
    let thing = place.path("thing");
    std::fs::create_dir(&thing).unwrap();
    place.run("check bank.toml").ends(2).says(&["it is a folder", "1 error"]);
    std::fs::remove_dir(&thing).unwrap();
    std::os::unix::fs::symlink("thing", &thing).unwrap();
    place.run("check bank.toml").ends(2).says(&["cannot read `thing`", "1 error"]);
    std::fs::remove_file(&thing).unwrap();
    let _socket = std::os::unix::net::UnixListener::bind(&thing).unwrap();
    place.run("check bank.toml").ends(2).says(&["cannot read `thing`", "1 error"]);
    std::fs::remove_file(&thing).unwrap();
    std::os::unix::fs::symlink("/dev/zero", &thing).unwrap();
    within(&place, GIGABYTE / 4, "check bank.toml").ends(2).says(&["`thing` is not a text file", "1 error"]);
    within(&place, GIGABYTE / 4, "check /dev/zero").ends(2).says(&["not a text but binary", "1 error"]);
    std::fs::remove_file(&thing).unwrap();
    std::os::unix::fs::symlink("/dev/null", &thing).unwrap();
    place.run("check bank.toml").ends(2).says(&["`thing` is empty", "1 error"]);
}

#[cfg(target_os = "linux")]
#[test]
fn a_scenario_full_of_slips_is_told_in_part_and_soon() {
    let keys: String = (0..60_000).map(|k| format!("key{k} = 1\n")).collect();
    let ran = within(&Place::with(&(keys + SMALL)), GIGABYTE / 2, "check bank.toml").ends(2);
    ran.says(&["unknown key `key0`", "1001 errors"]);
    let rows = "[\"1 %\", 1], ".repeat(20_000);
    let text = super::with(SMALL, "cells = 16", &format!("cells = 16\ncharge_factor = [{rows}]"));
    let ran = within(&Place::with(&text), GIGABYTE / 4, "check bank.toml").ends(2);
    ran.says(&["is a list of 20 000", "at most 101", "1 error"]);
    for deep in ["x = ".to_owned() + &"[".repeat(300_000), "a.".repeat(100_000) + "a = 1", "{a=".repeat(100_000)] {
        within(&Place::with(&format!("{SMALL}\n{deep}\n")), GIGABYTE / 4, "check bank.toml")
            .ends(2)
            .says(&["not TOML"]);
    }
}

#[cfg(target_os = "linux")]
#[test]
fn a_night_of_the_largest_bank_is_replayed_within_a_gigabyte() {
    let more = "[load]\npower = \"100 kW\"\n[trials]\ncount = 1\nhorizon = \"2 h\"\nstep = \"1 s\"\nhold = \"0 s\"\n\
                [[surge]]\nname = \"pump\"\npower = \"2 kW\"\nlasts = \"1 s\"\nevery = \"3 s\"\n";
    let place = Place::with(&largest("", more));
    within(&place, GIGABYTE, "replay bank.toml --trial 0 --out night").ends(0);
    within(&place, GIGABYTE, "replay bank.toml --trial 0 --json --quiet").ends(0);
}

#[test]
fn questions_and_numbers_of_the_command_line_have_limits() {
    let place = Place::constant();
    let airs = ["-100..150"; 5].join(",");
    place.run(&format!("limit bank.toml --air {airs}")).ends(2).says(&["--air", "1255", "at most 1000"]);
    let loads = ["1"; 101].join(",");
    place.run(&format!("limit bank.toml --chance --current {loads}")).ends(2).says(&["101", "at most 100"]);
    for args in ["run bank.toml --trials 10000001", "run bank.toml --threads 65", "compare bank.toml --trials 10000001"]
    {
        place.run(args).ends(2).says(&["is not in"]);
    }
    assert_eq!(place.list(""), ["bank.toml"]);
}
