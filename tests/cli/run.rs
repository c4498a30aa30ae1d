//! `bankwright run`: the document, its exit code, and that nothing but the question changes the answer.

use super::{CONSTANT, Place, Ran, SMALL, WINTER, number, with};
use serde_json::Value;

fn is_probability(value: &Value) {
    let [low, estimate, high] = ["low", "estimate", "high"].map(|key| number(&value[key]));
    assert!(0.0 <= low && low <= estimate && estimate <= high && high <= 1.0, "{value}");
}

#[test]
fn the_document_has_the_keys_that_others_rely_on() {
    let document = Place::winter().run("run bank.toml --json --quiet").ends(3).json();
    assert_eq!(document["scenario"], "invented hut in winter");
    assert_eq!((document["seed"].as_u64(), document["trials"].as_u64()), (Some(7), Some(300)));
    let quantiles = ["p5", "p50", "p95"].map(|key| number(&document["ride_through_h"][key]));
    assert!(quantiles.is_sorted() && quantiles[2] <= 14.0 && number(&document["ride_through_h"]["mean"]) <= 14.0);
    is_probability(&document["ride_through_met"]);
    for of in ["overload", "dropout"] {
        is_probability(&document[of]["any"]);
    }
    let ids = |value: &Value| -> Vec<String> {
        let all = value.as_array().unwrap().iter();
        all.map(|e| {
            is_probability(e);
            e["id"].as_str().unwrap().to_string()
        })
        .collect()
    };
    assert_eq!(ids(&document["overload"]["modules"]), ["A1", "A2", "B1", "B2"]);
    assert!(ids(&document["overload"]["conductors"]).contains(&"A.lead1+".to_string()));
    let at_least = document["dropout"]["at_least"].as_array().unwrap();
    assert_eq!(at_least.iter().map(|e| e["modules"].as_u64().unwrap()).collect::<Vec<_>>(), [1, 2, 3, 4]);
    assert_eq!(at_least[0]["estimate"], document["dropout"]["any"]["estimate"]);
    assert!(number(&document["unserved_wh"]["mean"]) >= 0.0);
}

/// The scenario must do what the tests of sameness are about, or they would hold for no reason.
#[test]
fn the_winter_scenario_has_overload_cold_faults_and_several_nights() {
    let document = Place::winter().run("run bank.toml --json --quiet").ends(3).json();
    for (what, value) in [
        ("overload", &document["overload"]["any"]),
        ("cold", &document["dropout"]["cold"]),
        ("fault", &document["dropout"]["fault"]),
    ] {
        let estimate = number(&value["estimate"]);
        assert!(estimate > 0.02 && estimate < 0.9, "{what}: {estimate}");
    }
    assert!(document["nights"]["distinct"].as_u64() > Some(3));
    assert!(number(&document["unserved_wh"]["mean"]) > 0.0);
}

#[test]
fn neither_threads_nor_environment_nor_place_change_a_byte() {
    let place = Place::winter();
    let first = place.run("run bank.toml --json --quiet --threads 1 --out one").ends(3);
    for (k, threads) in ["2", "7", "64"].iter().enumerate() {
        let out = format!("out{k}");
        let other = place.run(&format!("run bank.toml --json --quiet --threads {threads} --out {out}")).ends(3);
        assert_eq!(first.out, other.out, "{threads} threads");
        assert_eq!(place.contents("one"), place.contents(&out), "{threads} threads");
    }
    let environment = [("LC_ALL", "de_DE.UTF-8"), ("LANG", "fr_FR"), ("TZ", "Asia/Kolkata"), ("HOME", "/nowhere")];
    let mut command = place.command("run bank.toml --json --quiet --out abroad");
    let abroad = Ran::of(command.envs(environment)).ends(3);
    assert_eq!(first.out, abroad.out);
    assert_eq!(place.contents("one"), place.contents("abroad"));
}

#[test]
fn standard_output_and_results_file_are_the_same_document() {
    let place = Place::winter();
    let ran = place.run("run bank.toml --json").ends(3);
    assert_eq!(ran.json(), serde_json::from_str::<Value>(&place.text("output/bank/results.json")).unwrap());
    assert_eq!(ran.out.trim_end(), place.text("output/bank/results.json").trim_end());
}

#[test]
fn seed_and_trials_of_the_command_line_win_over_the_scenario() {
    let place = Place::winter();
    let document = |args: &str| place.run(&format!("run bank.toml --json --quiet --force {args}")).ends(3).json();
    let plain = document("--trials 50");
    assert_eq!((plain["seed"].as_u64(), plain["trials"].as_u64()), (Some(7), Some(50)));
    let other = document("--trials 50 --seed 8");
    assert_eq!(other["seed"].as_u64(), Some(8));
    assert_ne!(plain["ride_through_h"]["mean"], other["ride_through_h"]["mean"]);
    assert_eq!(document("--trials 50 --sampling plain"), plain, "plain is the default");
    let largest = document(&format!("--trials 2 --seed {}", u64::MAX));
    assert_eq!(largest["seed"].as_u64(), Some(u64::MAX));
}

#[test]
fn targets_decide_the_exit_code() {
    let run =
        |targets: &str| Place::with(&format!("{SMALL}\n{CONSTANT}\n{targets}")).run("run bank.toml --json --quiet");
    let verdicts = |ran: &Ran| -> Vec<String> {
        let document = ran.json();
        document["targets"].as_array().unwrap().iter().map(|t| t["verdict"].as_str().unwrap().to_string()).collect()
    };
    // 30 A of 100 Ah modules are served for two hours, with nothing over.
    assert!(verdicts(&run("").ends(0)).is_empty());
    let met = "[targets]\nride_through = \"1 h\"\nride_through_probability = 0.2\noverload_probability = 0.9\n";
    assert_eq!(verdicts(&run(met).ends(0)), ["met", "met"]);
    // Three trials cannot prove one in a thousand, where anything is random.
    let chance = "[spread]\nload = \"1 %\"\n[targets]\n";
    assert_eq!(verdicts(&run("[targets]\noverload_probability = 1e-3\n").ends(0)), ["met"]);
    assert_eq!(verdicts(&run(&format!("{chance}overload_probability = 1e-3\n")).ends(3)), ["not_decided"]);
    let half = "ride_through = \"1 h\"\nride_through_probability = 0.2\noverload_probability = 0.1\n";
    let half = &format!("{chance}{half}");
    assert_eq!(verdicts(&run(half).ends(3)), ["met", "not_decided"]);
}

/// No night decides the limit: it is that of `limit`, and judged as `compare` judges it.
#[test]
fn the_limit_is_judged_too_and_alone_decides_the_exit_code() {
    let layout = "[[layout]]\nname = \"twin\"\n[layout.module.box]\nprice = 1\n[prices]\ncurrency = \"EUR\"\n";
    for (limit, outages, code, verdict) in [("100 A", 1, 0, "met"), ("140 A", 1, 3, "missed"), ("50 A", 9, 3, "missed")]
    {
        let targets = format!("[targets]\nlimit = \"{limit}\"\nlimit_outages = {outages}\n");
        let place = Place::with(&format!("{SMALL}\n{CONSTANT}\n{targets}{layout}"));
        let document = place.run("run bank.toml --json --quiet").ends(code).json();
        let judged = &document["limit_target"];
        assert_eq!((judged["verdict"].as_str(), judged["exact"].as_bool()), (Some(verdict), Some(true)), "{judged}");
        let limits = place.run("limit bank.toml --json --quiet --outages 9").ends(0).json();
        let row = &limits["limits"][outages.min(3)];
        assert_eq!((&judged["got_a"], &judged["out"]), (&row["current_a"], &row["out"]));
        let compared = place.run("compare bank.toml --json --quiet").ends(code).json();
        assert_eq!(&compared["layouts"][0]["limit_target"], judged);
        let told = place.run("run bank.toml --quiet --resume").ends(code).out;
        assert!(told.contains(&format!("{verdict}       ").chars().take(8).collect::<String>()), "{told}");
        assert!(
            told.contains("safe up to ") && place.text("output/bank/overview.html").contains("safe up to "),
            "{told}"
        );
    }
    let document = Place::constant().run("run bank.toml --json --quiet").ends(0).json();
    assert!(document["limit_target"].is_null());
}

#[test]
fn a_missed_target_is_told_apart_from_one_not_decided() {
    let text = format!("{SMALL}\n{}\n", with(CONSTANT, "30 A", "200 A"));
    let place = Place::with(&(text + "[targets]\noverload_probability = 0.1\nride_through = \"2 h\"\n"));
    let ran = place.run("run bank.toml --trials 100 --json --quiet").ends(3);
    for target in ran.json()["targets"].as_array().unwrap() {
        assert_eq!(target["verdict"], "missed", "{target}");
    }
    let told = place.run("run bank.toml --trials 100 --quiet --resume").ends(3);
    assert!(told.out.contains("✖ missed"), "{}", told.out);
}

/// 200 A for 100 Ah modules: the closed answer of `point`, and the time until the first is empty.
#[test]
fn a_constant_load_is_an_exact_calculation() {
    let text = with(&with(CONSTANT, "30 A", "150 A"), "horizon = \"2 h\"", "horizon = \"2 h\"\nsoc = \"90 %\"");
    let place = Place::with(&format!("{SMALL}\n{text}"));
    let document = place.run("run bank.toml --json --quiet").ends(0).json();
    let (a, b) = (0.010_25 / 2.0 + 0.002, 0.012);
    let per_a_module = 150.0 * b / (a + b) / 2.0;
    // Both of A are empty at this time; B alone then carries all of it, for its own remaining charge.
    let in_b = 90.0 - 90.0 / per_a_module * (150.0 - 2.0 * per_a_module);
    let hours = 90.0 / per_a_module + in_b / 150.0;
    let got = number(&document["ride_through_h"]["p50"]);
    assert!((got - hours).abs() < 1e-6, "{got} h instead of {hours} h");
}

#[test]
fn a_stack_of_four_with_profiles_by_hours_or_dates_runs() {
    let place = Place::with(&stack_of_four());
    place.write("load.csv", "hours,power\n0,1200\n6,2400\n10,900\n16,1000\n");
    place.write("air.csv", "hours,air\n0,5\n8,-8\n16,-3\n");
    let point = place.run("point bank.toml --current 240 --soc 0.9 --air 20 --without A2 --json").ends(0).json();
    assert_eq!(point["modules"].as_array().unwrap().len(), 4);
    let ran = place.run("run bank.toml --trials 400 --json").ends(3);
    assert_eq!(ran.json()["trials"], 400);
    // By `hours` there is no clock: said, and every trial starts at hour 0.
    ran.says(&["`start` draws no night", "1 warning"]);
    place.write("load.csv", &super::load());
    place.write("air.csv", &super::air());
    let dated = place.run("run bank.toml --trials 400 --json --force").ends(3);
    assert!(dated.json()["nights"]["distinct"].as_u64() > Some(1) && !dated.err.contains("warning"), "{}", dated.err);
}

fn stack_of_four() -> String {
    let stack = SMALL.split("[[stack]]").nth(1).unwrap();
    let types = SMALL.split("[[stack]]").next().unwrap();
    let four = stack.replace("count = 2", "count = 4").replace("positive = 2", "positive = 4");
    let run = WINTER.split_once("[load]").unwrap().1;
    format!("{types}[[stack]]{four}\n[load]{run}")
}

#[test]
fn a_run_tells_a_person_what_to_do_next() {
    let place = Place::winter();
    let out = place.run("run bank.toml").ends(3).out;
    for piece in ["invented hut in winter", "missed", "A.lead1+", "Ride-through", "output/bank/overview.html"] {
        assert!(out.contains(piece), "no {piece:?} in\n{out}");
    }
    let replay = out.lines().find_map(|line| line.trim().strip_prefix("bankwright replay ")).unwrap();
    place.run(&format!("replay {replay}")).ends(0);
    assert!(place.path("output/bank/overview.html").is_file());
}
