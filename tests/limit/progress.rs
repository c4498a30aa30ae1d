//! Long questions tell how far they are, and end when they are told to.

use super::{ONE_END, ladder};
use bankwright::network::Demand;
use bankwright::progress::Progress;
use bankwright::study::limit::{MOST_SETS, Question, rows, sets_in_rows, sets_to_solve, solve};
use bankwright::study::sensitivity;
use bankwright::study::static_risk::{self, LoadAt};
use std::sync::atomic::{AtomicBool, AtomicU64, Ordering};

/// What is told of a question, and its answer.
fn told<T>(ask: impl FnOnce(&Progress<'_>) -> T) -> (u64, T) {
    let (stop, sum) = (AtomicBool::new(false), AtomicU64::new(0));
    let done = |sets| {
        sum.fetch_add(sets, Ordering::Relaxed);
    };
    let answer = ask(&Progress { stop: &stop, listener: &done });
    (sum.load(Ordering::Relaxed), answer)
}

/// The answer where the first sets that are done raise the flag.
fn stopped<T>(ask: impl FnOnce(&Progress<'_>) -> T) -> (u64, T) {
    let (stop, sum) = (AtomicBool::new(false), AtomicU64::new(0));
    let done = |sets| {
        sum.fetch_add(sets, Ordering::Relaxed);
        stop.store(true, Ordering::Relaxed);
    };
    let answer = ask(&Progress { stop: &stop, listener: &done });
    (sum.load(Ordering::Relaxed), answer)
}

fn question(outages: usize, also_air: &[f64], most_sets: u64) -> Question {
    Question { outages, soc: None, air: 25.0, also_air: also_air.to_vec(), most_sets }
}

/// Nine modules: 1 + 9 + 36 + 84 sets with three out, at each temperature; with each of two conductors open
/// 1 + 9 + 36. Beyond 60 sets with two out bounds take one module more than each of two sets of two.
#[test]
fn what_is_told_adds_up_to_what_was_announced() {
    let bank = ladder(9, "rating = \"250 A\"", ONE_END);
    let bounded = 46 + 2 * (9 - 2);
    for (ask, rows, all) in [
        (question(3, &[], MOST_SETS), 130, 130 + 2 * 46),
        (question(3, &[0.0, 40.0], MOST_SETS), 3 * 130, 3 * 130 + 2 * 46),
        (question(3, &[], 60), bounded, bounded + 2 * 10),
        (question(20, &[], MOST_SETS), 512, 512 + 2 * 46),
    ] {
        assert_eq!((sets_in_rows(&bank, &ask).unwrap(), sets_to_solve(&bank, &ask).unwrap()), (rows, all), "{ask:?}");
        let (done, limits) = told(|progress| solve(&bank, &ask, progress).unwrap());
        assert_eq!((done, limits.sets), (all, all), "{ask:?}");
    }
    let (done, rows) = told(|progress| rows(&bank, &question(3, &[], 60), progress).unwrap());
    assert_eq!((done, rows.len()), (bounded, 4));
}

#[test]
fn a_raised_flag_ends_each_question_before_its_end() {
    let bank = ladder(14, "", ONE_END);
    let all = sets_to_solve(&bank, &question(14, &[], MOST_SETS)).unwrap();
    let (done, answer) = stopped(|progress| solve(&bank, &question(14, &[], MOST_SETS), progress));
    assert!(answer.unwrap_err().is_interruption() && done < all / 2, "{done} of {all}");
    let (done, answer) = stopped(|progress| rows(&bank, &question(14, &[], 1), progress));
    assert!(answer.unwrap_err().is_interruption() && done < 30, "{done}");
    let ask = sensitivity::Question { outages: 7, soc: None, air: 25.0, most_sets: MOST_SETS };
    let (done, answer) = stopped(|progress| sensitivity::solve(&bank, &ask, progress));
    assert!(answer.unwrap_err().is_interruption());
    assert!(done < sensitivity::sets_to_solve(&bank, &ask).unwrap() / 2, "{done}");
}

#[test]
fn chances_of_a_moment_are_followed_and_stopped_alike() {
    let mut bank = ladder(14, "rating = \"250 A\"", ONE_END);
    bank.faults =
        bankwright::scenario::check::parse(FAULTS, "bank.toml", std::path::Path::new("")).unwrap().scenario.faults;
    let loads = vec![LoadAt { share: None, demand: Demand::Current(100.0) }];
    let ask = static_risk::Question { soc: None, air: 25.0, loads, most_sets: MOST_SETS };
    let (done, chances) = told(|progress| static_risk::solve(&bank, &ask, progress).unwrap());
    assert_eq!((done, chances.sets), (1 << 14, 1 << 14));
    let (done, answer) = stopped(|progress| static_risk::solve(&bank, &ask, progress));
    assert!(answer.unwrap_err().is_interruption() && done < 1 << 13, "{done}");
}

/// For its faults alone.
const FAULTS: &str = "format = 1\ntitle = \"one\"\n[faults]\nmodule_mtbf = \"2000 h\"\nmodule_mttr = \"24 h\"\n\
    [module.m]\ncells = 16\ncapacity = \"100 Ah\"\nresistance = \"15 mΩ\"\nopen_circuit = \"52.8 V\"\n\
    [cable.lead]\nresistance = \"1 mΩ\"\n[[stack]]\nname = \"A\"\nmodule = \"m\"\ncount = 1\n\
    leads = [{ cable = \"lead\", positive = 1, negative = 1 }]\n";
