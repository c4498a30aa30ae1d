//! The greatest safe current, and what is reckoned beside it.

use super::*;
use bankwright::progress::Progress;
use bankwright::study::limit::{Question, solve};

/// What a controller would announce with so many modules out is the least sum over all sets: of 50, 80 and 100 A it is
/// 230 A with none out, 130 A without the 100 A, 50 A without both of the greater, 0 A (by hand); whatever the order
/// of the file.
#[test]
fn the_announced_sum_loses_the_greatest_first() {
    let kind = |amps: u32| {
        module(
            &format!("m{amps}"),
            &format!(
                "capacity = \"100 Ah\"\nresistance = \"10 mΩ\"\nopen_circuit = \"52 V\"\n\
                 discharge_limit = \"{amps} A\"\ncharge_limit = \"{} A\"",
                amps / 2
            ),
        )
    };
    let kinds = [kind(50), kind(80), kind(100)].concat();
    for order in [[50, 80, 100], [50, 100, 80], [80, 50, 100], [80, 100, 50], [100, 50, 80], [100, 80, 50]] {
        let stacks: String = order.iter().map(|amps| single(&format!("S{amps}-"), &format!("m{amps}"), "")).collect();
        let s = scenario(&[&kinds, SHORT, &stacks]);
        let question = Question { outages: 3, soc: Some(0.5), air: 25.0, also_air: vec![], most_sets: 1000 };
        let found = solve(&s, &question, &Progress::none()).unwrap();
        let announced = |k: usize| (found.limits[k].discharge.announced_a, found.limits[k].charge.announced_a);
        for (k, sum) in [230.0, 130.0, 50.0, 0.0].into_iter().enumerate() {
            assert_eq!(announced(k), (Some(sum), Some(0.5 * sum)), "{order:?}, {k} out");
        }
    }
}

/// Two modules of 10 and 30 mΩ that differ by 0.16 V circulate 4 A at rest. Charged by I they carry 4 − 0.75·I and −4 − 0.25·I
/// (current division): the first comes to its 50 A at 72 A. In discharge 4 + 0.75·I comes to its 50 A at 61.33 A.
#[test]
fn what_circulates_takes_room_one_way_and_gives_it_the_other() {
    let kind = |name: &str, milliohm: u32, volts: f64| {
        module(
            name,
            &format!(
                "capacity = \"100 Ah\"\nresistance = \"{milliohm} mΩ\"\nopen_circuit = \"{volts} V\"\n\
                 discharge_limit = \"50 A\"\ncharge_limit = \"50 A\""
            ),
        )
    };
    let s =
        scenario(&[&kind("a", 10, 52.16), &kind("b", 30, 52.0), SHORT, &single("A", "a", ""), &single("B", "b", "")]);
    let question = Question { outages: 0, soc: Some(0.5), air: 25.0, also_air: vec![], most_sets: 1000 };
    let found = solve(&s, &question, &Progress::none()).unwrap();
    near(found.limits[0].charge.current_a.unwrap(), 72.0, 1e-4);
    near(found.limits[0].discharge.current_a.unwrap(), 46.0 / 0.75, 1e-4);
    assert_eq!(found.limits[0].charge.binding.as_deref(), Some("A1"));
}
