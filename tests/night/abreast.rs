//! Trials abreast give what each gives alone, to the last bit.

use super::*;
use bankwright::engine::batch::Lanes;
use bankwright::engine::trial::Nobody;
use bankwright::network::lane::LANES;
use bankwright::scenario::check::load;
use std::sync::atomic::AtomicBool;

/// Runs trials both ways and compares all of each result.
pub fn compare(campaign: &Campaign, name: &str, trials: std::ops::Range<u64>) {
    let numbers: Vec<u64> = trials.collect();
    let mut lanes = Lanes::new(&campaign.model);
    for abreast in numbers.chunks(LANES) {
        let realizations: Vec<Realization> = abreast.iter().map(|&n| campaign.realization(n)).collect();
        let together = lanes.run(&realizations, &AtomicBool::new(false)).unwrap();
        for (realization, got) in realizations.iter().zip(together) {
            let alone = trial::run(&campaign.model, realization, &mut Nobody);
            // Debug prints the shortest decimal that reads back as the same number: equal text, equal bits.
            let (got, alone) = (format!("{got:#?}"), format!("{alone:#?}"));
            let apart: Vec<_> =
                got.lines().zip(alone.lines()).enumerate().filter(|(_, (a, b))| a != b).take(12).collect();
            assert!(got == alone, "{name}, trial {}: {apart:?}", realization.trial);
        }
    }
}

#[test]
fn shipped_scenarios_ride_as_they_walk() {
    let root = Path::new(env!("CARGO_MANIFEST_DIR")).join("scenarios");
    for (file, trials) in [
        ("refuge.toml", 96),
        ("polder.toml", 160),
        ("polder_cured.toml", 64),
        ("boat_house.toml", 20),
        ("boat_house_held.toml", 5),
        ("reference/cold_night.toml", 64),
        ("reference/pair.toml", 3),
    ] {
        let scenario = load(&root.join(file)).unwrap_or_else(|faults| panic!("{}", shown(&faults))).scenario;
        let (Some(load), Some(trials_of)) = (&scenario.load, &scenario.trials) else { continue };
        compare(&Campaign::new(&scenario, load, trials_of).unwrap(), file, 0..trials);
    }
}
