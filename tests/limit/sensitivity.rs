//! What moves the limit: derivatives against closed forms and central differences, changes against closed forms.

use super::*;
use bankwright::progress::Progress;
use bankwright::scenario::ConductorResistance;
use bankwright::study::sensitivity::{self, Change, Kind, Sensitivity};

fn sensitivities(bank: &Scenario, outages: usize, air: f64) -> [Sensitivity; 2] {
    sensitivity::solve(
        bank,
        &sensitivity::Question { outages, soc: None, air, most_sets: MOST_SETS },
        &Progress::none(),
    )
    .unwrap()
}

fn change(of: &Sensitivity, what: Kind) -> &Change {
    of.inputs.iter().find(|c| c.what == what).unwrap_or_else(|| panic!("no {what:?} in {:?}", of.inputs))
}

/// Two modules of 10 and 20 mΩ and 100 A side by side: I = 100 A·(1 + R₁/R₂), so dI/dR₁ = 100 A/R₂ and
/// dI/dR₂ = −100 A·R₁/R₂² (Ohm's law); an ampere more of the limit of the first is 1 + R₁/R₂ of the bank.
#[test]
fn derivatives_of_two_modules_are_ohms_law() {
    let stack = |name: &str, ohm: &str| {
        format!(
            "[[stack]]\nname = \"{name}\"\nmodule = \"m\"\ncount = 1\nresistance = [\"{ohm}\"]\n\
             leads = [{{ cable = \"lead\", positive = 1, negative = 1 }}]\n"
        )
    };
    let bank = scenario(&format!(
        "format = 1\ntitle = \"two\"\n[module.m]\ncells = 16\ncapacity = \"100 Ah\"\nresistance = \"15 mΩ\"\n\
         open_circuit = \"52.8 V\"\ndischarge_limit = \"100 A\"\ncharge_limit = \"50 A\"\n\
         [cable.lead]\nresistance = \"1e-06 mΩ\"\n{}{}",
        stack("A", "10 mΩ"),
        stack("B", "20 mΩ")
    ));
    for (of, limit) in sensitivities(&bank, 0, 25.0).iter().zip([100.0, 50.0]) {
        assert_eq!(of.binding.as_deref(), Some("A1"));
        close(of.limit_a, limit * 1.5, 1e-4);
        let by = |id: &str| of.elements.iter().find(|e| e.id == id).unwrap();
        close(Some(by("A1").by_resistance), limit / 0.02, 1e-3);
        close(Some(by("B1").by_resistance), -limit * 0.01 / 0.0004, 1e-3);
        close(Some(by("A1").by_limit), 1.5, 1e-6);
        assert_eq!(by("B1").by_limit, 0.0);
    }
}

/// One module of 300 A on one pair of 120 A: a tenth of the rating is 12 A, one more pair 120 A, nothing else counts.
#[test]
fn changes_of_one_lead_pair() {
    let mut bank = ladder(1, "", "[{ cable = \"lead\", positive = 1, negative = 1 }]");
    bank.cables[1].rating = Some(120.0);
    bank.modules[0].discharge_limit = Some(300.0);
    let [of, _] = &sensitivities(&bank, 0, 25.0);
    assert_eq!(of.inputs[0].what, Kind::LeadPair);
    close(of.inputs[0].more_a, 120.0, 1e-5);
    let rating = change(of, Kind::CableRating);
    close(rating.more_a, 12.0, 1e-6);
    close(rating.less_a, -12.0, 1e-6);
    for what in [Kind::DischargeLimit, Kind::ModuleResistance, Kind::CableResistance] {
        close(change(of, what).more_a, 0.0, 1e-6);
    }
    assert_eq!(change(of, Kind::LeadPair).less_a, None);
}

/// Changes by a tenth of a property of a type are what the limit study says of the bank with that property.
#[test]
fn changes_are_limits_of_the_changed_bank() {
    let bank = ladder(6, "rating = \"150 A\"", ONE_END);
    let [discharge, charge] = &sensitivities(&bank, 2, 25.0);
    let mut other = bank.clone();
    other.cables[0].rating = Some(150.0 * 1.1);
    let (from, to) = (limits(&bank, 2), limits(&other, 2));
    for (of, side) in [(discharge, Direction::Discharge), (charge, Direction::Charge)] {
        let at = |found: &Limits| found.limits[2].side(side).current_a.unwrap();
        close(change(of, Kind::CableRating).more_a, at(&to) - at(&from), 1e-9);
    }
    assert!(change(discharge, Kind::CableRating).more_a > Some(1.0));
}

/// A type's property times 1 ± 1e-5 moves the limit as the sum of its elements' derivatives says, in random banks of
/// equal and of unequal voltages, blocked modules among them, as long as the same element binds in the same set.
#[test]
fn derivatives_agree_with_central_differences() {
    const STEP: f64 = 1e-5;
    let (mut compared, mut moved, mut blocked) = (0, 0, 0);
    for seed in 5000..5120 {
        let (bank, air) = random_bank(seed);
        let outages = (seed % 2) as usize;
        let nominal = limits_at(&bank, outages, air);
        let Some(row) = nominal.limits.get(outages) else { continue };
        let all = sensitivities(&bank, outages, air);
        for (of, side) in all.iter().zip(Direction::BOTH) {
            for cable in 0..bank.cables.len() {
                let at = |factor: f64| {
                    let mut other = bank.clone();
                    let ConductorResistance::Fixed(ohm) = &mut other.cables[cable].conductor else { panic!() };
                    *ohm *= factor;
                    let found = limits_at(&other, outages, air);
                    let bound = found.limits[outages].side(side).clone();
                    (bound.binding == row.side(side).binding && bound.out == row.side(side).out).then_some(bound)
                };
                let (Some(less), Some(more)) = (at(1.0 - STEP), at(1.0 + STEP)) else { continue };
                let (Some(low), Some(high)) = (less.current_a, more.current_a) else { continue };
                if less.why != Why::Rating || of.elements.is_empty() {
                    continue;
                }
                let named = if bank.cables[cable].name == "lead" { ".lead" } else { ".jumper" };
                let mine = of.elements.iter().filter(|e| e.id.contains(named));
                let exact: f64 = mine.map(|e| e.by_resistance * e.resistance_ohm).sum();
                let difference = (high - low) / (2.0 * STEP);
                let scale = of.limit_a.unwrap();
                assert!(
                    (exact - difference).abs() < 1e-5 * scale + 1e-3,
                    "{seed} {named} {side:?}: {exact} {difference}"
                );
                compared += 1;
                moved += usize::from(difference.abs() > 1e-3 * scale);
                blocked += usize::from(!nominal.kept_out.is_empty());
            }
        }
    }
    assert!(compared > 150 && moved > 60 && blocked > 20, "{compared} {moved} {blocked}");
}

#[test]
fn too_many_sets_are_refused_and_nothing_rated_moves_nothing() {
    let bank = ladder(20, "", ONE_END);
    let question = sensitivity::Question { outages: 10, soc: None, air: 25.0, most_sets: 1000 };
    let error = sensitivity::solve(&bank, &question, &Progress::none()).unwrap_err().to_string();
    assert!(error.contains("10 modules out") && error.contains("--outages"), "{error}");
    let mut unrated = ladder(2, "", ONE_END);
    (unrated.modules[0].discharge_limit, unrated.modules[0].charge_limit) = (None, None);
    let [of, _] = &sensitivities(&unrated, 0, 25.0);
    assert!(of.limit_a.is_none() && of.elements.is_empty() && of.inputs.iter().all(|c| c.more_a.is_none()));
}
