//! Readings that contradict each other: refused, with the one that is most likely wrong; and honest ones, which are not.

use super::*;
use bankwright::profile::SiteCell;
use bankwright::study::readings::{Mistaken, Slip};

#[track_caller]
fn contradiction(scenario: &Scenario, rows: &[SiteReading]) -> Vec<Mistaken> {
    match explain(scenario, rows, 25.0) {
        Err(ReadingsError::Contradictory(all)) => all,
        other => panic!("no contradiction: {other:?}"),
    }
}

fn find<'a>(rows: &'a mut [SiteReading], id: &str, case: &str) -> (usize, &'a mut SiteReading) {
    rows.iter_mut().enumerate().find(|(_, r)| r.element == id && r.case == case).unwrap()
}

/// A clamp turned round, a misplaced point, millivolts for volts: the very reading is named, with what it should be and what
/// would mend it.
#[test]
fn a_slip_is_named_with_what_undoes_it() {
    let given = bank(SOUND, "");
    let slips = [(-1.0, Slip::Sign), (10.0, Slip::Factor(0.1)), (0.1, Slip::Factor(10.0)), (1000.0, Slip::Milli)];
    for (seed, (factor, slip)) in slips.into_iter().enumerate() {
        for (id, cell) in [("A.lead1+", SiteCell::Current), ("A2", SiteCell::Current), ("A.lead2-", SiteCell::Drop)] {
            let mut rows = read(&given, &[60.0, 200.0], seed as u64);
            let (row, reading) = find(&mut rows, id, "1");
            let measured = if cell == SiteCell::Current { &mut reading.current } else { &mut reading.drop };
            let right = measured.unwrap().value;
            measured.as_mut().unwrap().value *= factor;
            let all = contradiction(&given, &rows);
            assert_eq!(
                (all.len(), all[0].row, all[0].cell, all[0].slip),
                (1, row, cell, Some(slip)),
                "{id} {factor} {all:?}"
            );
            if (slip, cell) == (Slip::Milli, SiteCell::Drop) {
                // More than there is between the poles: told by sense alone.
                assert!(all[0].expected.is_none(), "{all:?}");
                continue;
            }
            let (expected, off) = (all[0].expected.unwrap(), all[0].off.unwrap());
            near(expected.value, right, 0.03 * right.abs());
            assert!(expected.error.unwrap() < 0.02 * right.abs() && off > 5.0 && all[0].instead.is_empty(), "{all:?}");
        }
    }
}

/// Kirchhoff's current law broken by 20 A, of clamps of 1 %: 20 A/√(1² + 0.6² + 0.6²) A is 15 standard deviations. Any of the
/// three may be the wrong one, and all are told. By 2 A it is noise.
#[test]
fn a_bus_bar_whose_currents_do_not_add_up_is_refused() {
    let given = pair("");
    let rows = |bus: f64| {
        let row = |id, amps| reading(id, "", Some((amps, 0.01 * amps)), None);
        [row("bus", bus), row("A.lead1+", 60.0), row("B.lead1+", 60.0)]
    };
    let all = contradiction(&given, &rows(100.0));
    assert_eq!(all.len(), 1, "{all:?}");
    let mut named: Vec<usize> = all[0].instead.iter().map(|(row, _)| *row).chain([all[0].row]).collect();
    named.sort_unstable();
    assert_eq!(named, [0, 1, 2], "{all:?}");
    assert!(explain(&given, &rows(118.0), 25.0).is_ok());
}

/// A clamp turned round is told from the others that may be wrong by what turns it back.
#[test]
fn of_readings_that_may_be_wrong_the_one_with_a_common_slip_comes_first() {
    let row = |id, amps: f64| reading(id, "", Some((amps, 0.01 * amps.abs())), None);
    let rows = [row("bus", 100.0), row("A.lead1+", 50.5), row("B.lead1+", -49.7)];
    let all = contradiction(&pair(""), &rows);
    assert_eq!((all[0].row, all[0].slip), (2, Some(Slip::Sign)), "{all:?}");
}

#[test]
fn exchanged_readings_are_told_as_such() {
    let given = bank(SOUND, "");
    let mut rows = read(&given, &[60.0, 200.0], 4);
    let (bus, lead) = (find(&mut rows, "bus", "1").0, find(&mut rows, "A.lead1+", "1").0);
    (rows[bus].current, rows[lead].current) = (rows[lead].current, rows[bus].current);
    let all = contradiction(&given, &rows);
    let mut named: Vec<(usize, Option<Slip>)> = all.iter().map(|m| (m.row, m.slip)).collect();
    named.sort_by_key(|n| n.0);
    assert_eq!(named, [(bus, Some(Slip::Exchanged(lead))), (lead, Some(Slip::Exchanged(bus)))], "{all:?}");
}

/// 0.3 V is no voltage of a module of 52.8 V, and 52 V no drop along a cable: told without any sum.
#[test]
fn a_drop_is_no_voltage_of_a_module() {
    let given = bank(SOUND, "");
    let volts = |id, volts| reading(id, "", None, Some((volts, 0.01)));
    let amps = reading("bus", "", Some((100.0, 1.0)), None);
    for (row, slip) in [
        (volts("A2", 0.3), Slip::NoVoltageOfAModule),
        (volts("bus", 0.02), Slip::NoVoltageOfAModule),
        (volts("A2", -52.1), Slip::Sign),
        (volts("A2", 5.23), Slip::Factor(10.0)),
        (volts("A.lead1+", 52.3), Slip::NoDropOfAConductor),
    ] {
        let all = contradiction(&given, &[amps.clone(), row]);
        assert_eq!((all.len(), all[0].row, all[0].cell, all[0].slip), (1, 1, SiteCell::Drop, Some(slip)), "{all:?}");
    }
    let all = contradiction(&given, &[volts("A2", 0.06), volts("A.lead1+", 52.3)]);
    assert_eq!((all[0].slip, all[1].slip), (Some(Slip::Exchanged(1)), Some(Slip::Exchanged(0))));
}

/// A mistaken reading at a bank that is not sound either: the reading is named, and not the joint.
#[test]
fn a_mistaken_reading_is_told_from_a_bad_joint() {
    let bad =
        "leads = [{ cable = \"bad\", positive = 4, negative = 1 }, { cable = \"lead\", positive = 1, negative = 4 }]";
    let given = bank(SOUND, "");
    for seed in 0..5 {
        let mut rows = read(&bank(bad, ""), &[60.0, 200.0], seed);
        assert!(explain(&given, &rows, 25.0).unwrap().suspects[0].id.starts_with("A.lead1"));
        let (row, reading) = find(&mut rows, "A3", "0");
        reading.current.as_mut().unwrap().value *= -1.0;
        let all = contradiction(&given, &rows);
        assert_eq!((all.len(), all[0].row, all[0].slip), (1, row, Some(Slip::Sign)), "{all:?}");
    }
}

/// An open lead carries nothing and has volts along it: a finding, not a mistake.
#[test]
fn an_open_lead_is_a_suspect_and_no_contradiction() {
    let open = SOUND.replacen("\"lead\", positive", "\"open\", positive", 1);
    let truth = bank(&open, "[cable.open]\nresistance = \"500 Ω\"\n");
    let findings = explain(&bank(SOUND, ""), &read(&truth, &[60.0, 200.0], 1), 25.0).unwrap();
    assert!(suspected(&findings, "A.lead1+").max(suspected(&findings, "A.lead1-")) > 0.95, "{:?}", findings.suspects);
}

/// One honest set in 10,000 is refused, at most, and one in 100 draws a warning. That it is so is held where it can be counted: a
/// chance of a tenth befalls a tenth of the sets at most, and not much fewer; and χ² is on average as great as its degrees of
/// freedom.
#[test]
fn honest_readings_are_refused_as_seldom_as_is_stated() {
    const SETS: u32 = 400;
    let given = pair("");
    let (mut tenth, mut warned, mut chi_square, mut freedom) = (0, 0, 0.0, 0.0);
    for seed in 0..u64::from(SETS) {
        let rows = read(&given, &[60.0, 120.0, 200.0], 1000 + seed);
        let findings = explain(&given, &rows, 25.0).unwrap_or_else(|error| panic!("{seed}: {error:?}"));
        tenth += u32::from(findings.agreement.chance < 0.1);
        warned += u32::from(!findings.warnings.is_empty());
        chi_square += findings.agreement.chi_square;
        freedom += findings.agreement.degrees_of_freedom;
    }
    // 40 and 4 at most; three standard deviations of the count besides.
    assert!((8..=58).contains(&tenth) && warned <= 10, "{tenth} and {warned} of {SETS}");
    // χ² of ν has a variance of 2ν.
    near(chi_square / freedom, 1.0, 4.0 * (2.0 / freedom).sqrt());
}

/// Four modules on one lead pair, read by clamps alone, whose sum is 20 A off: what is out of line with its likes is named, and
/// not a sound reading which a misplaced point would bring near to what the others hardly tell.
#[test]
fn a_slip_is_believed_only_where_the_others_tell_what_should_be_read() {
    let given = bank("leads = [{ cable = \"lead\", positive = 4, negative = 1 }]", "");
    let named = |bus: f64, modules: [f64; 4]| {
        let row = |id: &str, amps: f64| reading(id, "", Some((amps, 0.01 * amps)), None);
        let all = ["A1", "A2", "A3", "A4"].into_iter().zip(modules).map(|(id, amps)| row(id, amps));
        let rows: Vec<SiteReading> = std::iter::once(row("bus", bus)).chain(all).collect();
        let all = contradiction(&given, &rows);
        (all[0].row, all[0].slip)
    };
    assert_eq!(named(100.0, [25.0, 25.0, 25.0, 45.0]), (4, None));
    assert_eq!(named(80.0, [25.5, 24.5, 24.5, 25.5]), (0, None));
}
