//! `bankwright point`: numbers against a closed answer, and every way of asking.

use super::{Place, number};
use serde_json::Value;

/// Of `small.toml`: two modules of 10 mΩ, each behind one jumper of 0.25 mΩ, on two leads of 1 mΩ;
/// and one on two leads of its own.
const STACK_A: f64 = 0.010_25 / 2.0 + 0.002;
const STACK_B: f64 = 0.010 + 0.002;
const OPEN: f64 = 52.0;

fn bank() -> f64 {
    1.0 / (1.0 / STACK_A + 1.0 / STACK_B)
}

fn point(args: &str) -> Value {
    Place::small().run(&format!("point bank.toml --json {args}")).ends(0).json()
}

fn of<'a>(document: &'a Value, kind: &str, id: &str) -> &'a Value {
    let all = document[kind].as_array().unwrap();
    all.iter().find(|e| e["id"] == id).unwrap_or_else(|| panic!("no {id} in {document}"))
}

fn near(got: &Value, wanted: f64) {
    assert!((number(got) - wanted).abs() < 1e-9 * wanted.abs().max(1.0), "{got} instead of {wanted}");
}

#[test]
fn the_document_has_the_keys_that_others_rely_on() {
    let document = point("--current 120");
    for key in ["voltage_v", "current_a"] {
        assert!(document["bus"][key].is_f64(), "{key}");
    }
    let ids = |kind: &str| -> Vec<String> {
        document[kind].as_array().unwrap().iter().map(|e| e["id"].as_str().unwrap().to_string()).collect()
    };
    assert_eq!(ids("modules"), ["A1", "A2", "B1"]);
    let conductors = ["A.jumper1-2+", "A.jumper1-2-", "A.lead1+", "A.lead1-", "B.lead1+", "B.lead1-"];
    assert_eq!(ids("conductors"), conductors);
    for module in document["modules"].as_array().unwrap() {
        assert!(module["current_a"].is_f64() && module["voltage_v"].is_f64() && module["state"].is_string());
    }
    for conductor in document["conductors"].as_array().unwrap() {
        assert!(conductor["current_a"].is_f64() && conductor["over"].is_boolean());
    }
}

#[test]
fn currents_and_voltages_are_those_of_the_closed_answer() {
    let document = point("--current 120");
    let bus = OPEN - 120.0 * bank();
    near(&document["bus"]["voltage_v"], bus);
    near(&document["bus"]["current_a"], 120.0);
    let (a, b) = ((OPEN - bus) / STACK_A, (OPEN - bus) / STACK_B);
    near(&of(&document, "modules", "A1")["current_a"], a / 2.0);
    near(&of(&document, "modules", "B1")["current_a"], b);
    near(&of(&document, "modules", "B1")["voltage_v"], OPEN - 0.010 * b);
    // The jumper of the positive rail carries A1 upwards, that of the negative rail A2 downwards.
    near(&of(&document, "conductors", "A.jumper1-2+")["current_a"], a / 2.0);
    near(&of(&document, "conductors", "A.jumper1-2-")["current_a"], a / 2.0);
    near(&of(&document, "conductors", "A.lead1+")["current_a"], a);
    near(&of(&document, "conductors", "A.lead1-")["current_a"], a);
}

#[test]
fn numbers_are_not_rounded() {
    let document = point("--current 100");
    let long = |x: &Value| x.to_string().trim_start_matches("0.").len() >= 15;
    assert!(long(&document["bus"]["voltage_v"]) && long(&of(&document, "modules", "B1")["current_a"]), "{document}");
}

#[test]
fn an_unrated_conductor_has_a_null_rating_and_is_never_over() {
    let document = point("--current 900");
    let lead = of(&document, "conductors", "A.lead1+");
    assert!(lead["rating_a"].is_null() && lead["over"] == false, "{lead}");
    let jumper = of(&document, "conductors", "A.jumper1-2+");
    assert!(jumper["rating_a"] == 140.0 && jumper["over"] == true, "{jumper}");
}

#[test]
fn a_power_is_met_at_the_bus() {
    let document = point("--power 6000");
    let (volts, amps) = (number(&document["bus"]["voltage_v"]), number(&document["bus"]["current_a"]));
    assert!((volts * amps - 6000.0).abs() < 1e-6);
    near(&document["bus"]["voltage_v"], OPEN - amps * bank());
}

#[test]
fn a_negative_current_or_power_charges() {
    for args in ["--current -60", "--power -3200", "--current=-60", "--current -6e1"] {
        let document = point(args);
        assert!(number(&document["bus"]["voltage_v"]) > OPEN, "{args}");
        for module in document["modules"].as_array().unwrap() {
            assert!(number(&module["current_a"]) < 0.0 && module["limit_a"] == 40.0, "{args}: {module}");
        }
        assert!(number(&of(&document, "conductors", "B.lead1-")["current_a"]) < 0.0);
    }
}

#[test]
fn a_module_out_of_service_is_listed_with_no_current() {
    for list in ["A1,B1", "B1,A1", "A1 --without B1", "A1,,B1", "A1,B1,A1"] {
        let document = point(&format!("--current 50 --without {list}"));
        near(&of(&document, "modules", "A2")["current_a"], 50.0);
        for id in ["A1", "B1"] {
            let module = of(&document, "modules", id);
            assert!(module["current_a"] == 0.0 && module["state"] == "open", "{list}: {module}");
        }
        near(&of(&document, "conductors", "B.lead1+")["current_a"], 0.0);
    }
}

#[test]
fn an_unknown_module_is_refused_with_the_nearest() {
    let place = Place::small();
    for (id, nearest) in [("A3", "`A"), ("a2", "`A2`"), ("C1", "1`"), ("A.lead1+", "`A")] {
        let ran = place.run(&format!("point bank.toml --json --current 1 --without {id}")).ends(2);
        assert!(ran.out.is_empty());
        ran.says(&[&format!("`{id}`"), "did you mean", nearest]);
    }
}

#[test]
fn a_load_that_cannot_be_carried_is_a_result() {
    // Beyond the greatest power, E²/4R.
    let most = OPEN * OPEN / 4.0 / bank();
    assert_eq!(point(&format!("--power {}", most * 0.999))["bus"]["carried"], true);
    let document = point(&format!("--power {}", most * 1.001));
    assert_eq!(document["bus"]["carried"], false);
    assert_eq!(document["bus"]["current_a"], 0.0);
    near(&document["bus"]["voltage_v"], OPEN);
    let table = Place::small().run("point bank.toml --power 1e6").ends(0).out;
    assert!(table.contains("cannot carry"), "{table}");
}

#[test]
fn without_any_module_nothing_is_carried_and_there_is_no_voltage() {
    let document = point("--current 10 --without A1,A2,B1");
    assert!(document["bus"]["carried"] == false && document["bus"]["voltage_v"].is_null(), "{document}");
    let idle = point("--current 0 --without A1,A2,B1");
    assert!(idle["bus"]["carried"] == true && idle["bus"]["voltage_v"].is_null(), "{idle}");
    assert!(!Place::small().run("point bank.toml --json --current 0 --without A1,A2,B1").out.contains("-0.0"));
    let table = Place::small().run("point bank.toml --current 10 --without A1,A2,B1").ends(0).out;
    assert!(table.contains("no voltage"), "{table}");
    // What nothing holds at a voltage may have any: no figure says that it is dead.
    assert!(document["modules"].as_array().unwrap().iter().all(|m| m["voltage_v"].is_null()), "{document}");
    assert!(!table.contains("0.000 V") && !table.contains("Nothing is over"), "{table}");
}

#[test]
fn an_empty_module_carries_nothing() {
    let text = super::with(super::SMALL, "charge_limit = \"40 A\"", "charge_limit = \"40 A\"\nempty = \"10 %\"");
    let place = Place::with(&text);
    let carried = |args: &str| {
        let document = place.run(&format!("point bank.toml --json {args}")).ends(0).json();
        document["bus"]["carried"].as_bool().unwrap()
    };
    assert!(carried("--current 10 --soc 0.11") && !carried("--current 10 --soc 0.09"));
    assert!(carried("--current -10 --soc 0.09"), "it can be charged");
}

#[test]
fn the_table_says_what_the_document_says() {
    let table = Place::small().run("point bank.toml --current 900").ends(0).out;
    for piece in ["two invented stacks", "900 A at the bus", "A.jumper1-2+", "OVER", "Over its limit: A1, A2, B1"] {
        assert!(table.contains(piece), "no {piece} in\n{table}");
    }
}

#[test]
fn the_air_is_asked_for_and_is_25_degrees_unless_said() {
    let text = super::with(super::SMALL, "resistance = \"1 mΩ\"", "size = \"10 mm2\"\nlength = \"2 m\"");
    let place = Place::with(&text);
    let volts = |air: &str| {
        let document = place.run(&format!("point bank.toml --json --current 100 {air}")).ends(0).json();
        number(&document["bus"]["voltage_v"])
    };
    assert_eq!(volts(""), volts("--air 25"));
    assert!(volts("--air -20") > volts("") && volts("") > volts("--air 60"), "copper is warmer and drops more");
}

/// The four words are the same in the document, in the table, in `limit` and in a replayed night.
#[test]
fn the_four_states_have_one_word_each_everywhere() {
    let cold = "charge_limit = \"40 A\"\nempty = \"10 %\"\n\
        charge_temperature = { low = \"5 °C\" }\ndischarge_temperature = { low = \"-10 °C\" }";
    let text = super::with(super::SMALL, "charge_limit = \"40 A\"", cold);
    let place = Place::with(&format!("{text}\n{}", super::CONSTANT));
    for (at, word) in [
        ("--air 20", "in service"),
        ("--air 0", "discharge only"),
        ("--air 20 --soc 0.05", "charge only"),
        ("--air -20", "open"),
    ] {
        let document = place.run(&format!("point bank.toml --json --current 0 {at}")).ends(0).json();
        assert!(document["modules"].as_array().unwrap().iter().all(|m| m["state"] == word), "{at}: {document}");
        let table = place.run(&format!("point bank.toml --current 0 {at}")).ends(0).out;
        assert_eq!(table.matches(word).count(), 3, "{at}: one a module in\n{table}");
        let limits = place.run(&format!("limit bank.toml --json {at}")).ends(0).json();
        let kept = limits["kept_out"].as_array().unwrap();
        assert_eq!(kept.len(), if word == "in service" { 0 } else { 3 }, "{at}: {limits}");
        assert!(kept.iter().all(|k| k["state"] == word), "{at}: {limits}");
    }
    let cold = Place::with(&format!("{text}\n{}\n[climate]\nair = \"0 °C\"\n", super::CONSTANT));
    let night = cold.run("replay bank.toml --trial 0").ends(0).out;
    assert!(night.contains(",discharge only,") && !night.contains("blocked"), "{night}");
    let record = cold.run("replay bank.toml --trial 0 --json").ends(0).json();
    assert!(record.to_string().contains("\"discharge only\""), "{record}");
}
