//! The same bytes on whatever machine, in whatever country.

use super::{PATIENCE, PROGRAM, Ran};
use assert_cmd::Command;
use std::path::Path;
use tempfile::TempDir;

/// A C library without fused multiplication, as on an older processor (glibc; what it calls this has changed once, and
/// names that it does not know it passes over), another language, another clock.
const ELSEWHERE: [(&str, &str); 3] = [
    ("GLIBC_TUNABLES", "glibc.cpu.hwcaps=-FMA,-FMA4,-FMA_Usable,-FMA4_Usable"),
    ("LC_ALL", "de_DE.UTF-8"),
    ("TZ", "Asia/Tokyo"),
];

/// Results and messages of a command that is started at the root of the repository.
fn ran(args: &str, elsewhere: bool) -> Ran {
    let mut command = Command::new(PROGRAM);
    command.current_dir(env!("CARGO_MANIFEST_DIR")).timeout(PATIENCE).args(args.split_whitespace());
    command.envs(ELSEWHERE.into_iter().filter(|_| elsewhere));
    Ran::of(&mut command)
}

/// Name and bytes of all files but the manifest, which tells times.
fn files(folder: &Path) -> Vec<(String, Vec<u8>)> {
    let paths = std::fs::read_dir(folder).unwrap().map(|entry| entry.unwrap().path());
    let name = |path: &Path| path.file_name().unwrap().to_str().unwrap().to_owned();
    let mut files: Vec<_> = paths
        .filter(|path| path.is_file() && !path.ends_with("manifest.json"))
        .map(|path| (name(&path), std::fs::read(&path).unwrap()))
        .collect();
    files.sort();
    files
}

#[test]
fn a_run_writes_the_same_bytes_on_another_machine_in_another_country() {
    for scenario in ["scenarios/reference/cold_night.toml", "scenarios/refuge.toml"] {
        let [here, there] = [false, true].map(|elsewhere| {
            let out = TempDir::new().unwrap();
            let ran =
                ran(&format!("run {scenario} --trials 24 --seed 1 --force --out {}", out.path().display()), elsewhere);
            assert!(matches!(ran.code, Some(0 | 3)), "{}", ran.err);
            files(out.path())
        });
        assert!(here.len() > 10 && here.len() == there.len());
        let differing: Vec<_> = here.iter().zip(&there).filter(|(a, b)| a != b).map(|(a, _)| &a.0).collect();
        assert!(differing.is_empty(), "{scenario}: {differing:?}");
    }
}

#[test]
fn answers_are_the_same_on_another_machine_in_another_country() {
    for args in [
        "limit scenarios/reference/cold_night.toml --json",
        "limit scenarios/refuge.toml",
        "readings scenarios/boat_house.toml scenarios/boat_house_readings.csv --json",
        "verify --json",
    ] {
        let [here, there] = [false, true].map(|elsewhere| ran(args, elsewhere));
        assert!(!here.out.is_empty(), "{args}: {}", here.err);
        assert_eq!(here.out, there.out, "{args}");
    }
}

/// Runs for the test below, in a process of its own.
#[test]
#[ignore = "tells what the platform computes"]
fn exponentials_of_the_platform() {
    let sum = (0..10_000).fold(0u64, |sum, k| {
        let x: f64 = std::hint::black_box(f64::from(k) * 1e-3);
        sum.rotate_left(1) ^ x.exp().to_bits()
    });
    println!("<{sum:x}>");
}

/// That the two tests above compare what differs: the C library's own functions do.
#[test]
#[cfg(all(target_arch = "x86_64", target_env = "gnu"))]
fn the_platform_elsewhere_computes_otherwise() {
    if !std::is_x86_feature_detected!("fma") {
        return;
    }
    let [here, there] = [false, true].map(|elsewhere| {
        let mut command = Command::new(std::env::current_exe().unwrap());
        command.args(["--exact", "cli::platform::exponentials_of_the_platform", "--ignored", "--nocapture"]);
        command.envs(ELSEWHERE.into_iter().filter(|_| elsewhere));
        let ran = Ran::of(&mut command);
        ran.out[ran.out.find('<').unwrap()..=ran.out.find('>').unwrap()].to_owned()
    });
    assert_ne!(here, there);
}
