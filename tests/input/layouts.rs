//! Layouts beside the scenario as written, prices, and the parts list.

use super::{SMALL, WHOLE, and, faults, good, refused, with};
use bankwright::diagnostic::render;
use bankwright::scenario::{Bar, LimitTarget, TakeOff};
use bankwright::study::parts::{Item, Part, list};

const LAYOUT: &str = "[[layout]]\nname = \"other\"\n";

#[test]
fn a_layout_says_only_what_differs() {
    let checked = good(WHOLE);
    let layout = &checked.layouts[0];
    let s = layout.of(&checked.scenario);
    assert_eq!(layout.name, "thicker, and a module more");
    assert_eq!((s.stacks[0].positions.len(), checked.scenario.stacks[0].positions.len()), (3, 2));
    assert_eq!(s.stacks[1].positions.len(), 1);
    assert_eq!((s.modules[0].discharge_limit, s.modules[0].charge_limit), (Some(80.0), Some(40.0)));
    assert_eq!((s.cables[1].section, s.cables[1].rating), (Some(70.0), Some(160.0)));
    assert_eq!((s.devices[0].rated, s.devices[0].breaking_capacity), (160.0, Some(20e3)));
    assert_eq!(s.trials.map(|t| t.seed), Some(7));
    let limit = checked.scenario.targets.limit;
    assert_eq!(limit, Some(LimitTarget { current: 90.0, outages: 1 }));
}

#[test]
fn a_layout_may_add_a_bar_and_a_controller() {
    let more = "[layout.bar]\nresistance = \"0.1 mΩ/m\"\n[layout.controller]\nrule = \"least\"";
    let checked = good(&and(SMALL, &format!("{LAYOUT}{more}")));
    let s = checked.layouts[0].of(&checked.scenario);
    assert!(matches!(s.bar, Bar::Tapped { .. }) && matches!(checked.scenario.bar, Bar::Ideal));
    assert!(s.controller.is_some() && checked.scenario.controller.is_none());
}

#[test]
fn a_grid_is_every_combination() {
    let checked = good(WHOLE);
    let names: Vec<&str> = checked.layouts[1..].iter().map(|l| l.name.as_str()).collect();
    let pairs = ["1 pair, one end", "2 pairs, one end", "1 pair, opposite ends", "2 pairs, opposite ends"];
    let expected: Vec<String> = ["lead", "stiff"].iter().flat_map(|c| pairs.map(|p| format!("{p}, {c}"))).collect();
    assert_eq!(names, expected);
    let last = checked.layouts.last().unwrap().of(&checked.scenario);
    let leads: Vec<_> = last.stacks[0].leads.iter().map(|l| (l.positive, l.negative, l.at, l.cable)).collect();
    assert_eq!(leads, [(2, 1, 0.4, 2), (2, 1, 0.4, 2)]);
    assert_eq!(TakeOff::of_bank(&last.stacks[..1]), Some(TakeOff::OppositeEnds));
}

#[test]
fn a_grid_without_leads_keeps_those_of_each_stack_and_leaves_out_what_there_is_not() {
    let grid = "[layouts]\nmodules = [2, 4]\nlead_pairs = [1, 2]\n\
                take_off = [\"both ends\", \"spread\", \"every module\"]";
    let checked = good(&and(SMALL, grid));
    let names: Vec<&str> = checked.layouts.iter().map(|l| l.name.as_str()).collect();
    assert_eq!(
        names,
        [
            "2 modules, 2 pairs, both ends",
            "2 modules, 1 pair, spread",
            "2 modules, a pair at every module",
            "4 modules, 2 pairs, both ends",
            "4 modules, 1 pair, spread",
            "4 modules, 2 pairs, spread",
            "4 modules, a pair at every module",
        ]
    );
    let s = checked.layouts[6].of(&checked.scenario);
    assert_eq!((s.stacks[0].positions.len(), s.stacks[0].leads.len()), (4, 4));
    assert_eq!(s.stacks[0].leads[3].cable, 0);
}

/// Two stacks on a bar of a resistance: `a` and `b` are where their lead pairs meet it.
fn on_a_bar(a: &[&str], b: &[&str], grid: &str) -> String {
    let stack = |name: &str, at: &[&str]| {
        let pair = |at: &&str| format!("{{ cable = \"link\", positive = 2, negative = 2{at} }}");
        let pairs = at.iter().map(pair).collect::<Vec<_>>().join(", ");
        format!("[[stack]]\nname = \"{name}\"\nmodule = \"cellar\"\ncount = 2\njumper = \"link\"\nleads = [{pairs}]\n")
    };
    let types = SMALL.split("[[stack]]").next().unwrap();
    let stacks = stack("A", a) + &stack("B", b);
    format!("{types}\n{stacks}[bar]\nresistance = \"0.1 mΩ/m\"\n[layouts]\ntake_off = [\"one end\"]\n{grid}")
}

/// Where each pair of each stack of the last layout meets the bar [m].
fn places(text: &str) -> Vec<Vec<f64>> {
    let checked = good(text);
    let last = checked.layouts.last().unwrap().of(&checked.scenario);
    last.stacks.iter().map(|s| s.leads.iter().map(|l| l.at).collect()).collect()
}

const AT: [&str; 3] = ["", ", at = \"0.3 m\"", ", at = \"30 cm\""];

#[test]
fn a_grid_keeps_the_place_of_each_lead_pair_on_the_bar() {
    let thick = "leads = [{ cable = \"link\" }]\n";
    for leads in ["", thick] {
        let grid = |pairs: u32| format!("lead_pairs = [{pairs}]\n{leads}");
        assert_eq!(places(&on_a_bar(&[AT[0]], &[AT[1]], &grid(2))), [[0.0, 0.0], [0.3, 0.3]]);
        assert_eq!(places(&on_a_bar(&[AT[1], AT[0]], &[AT[1], AT[2]], &grid(1))), [[0.3], [0.3]]);
        assert_eq!(places(&on_a_bar(&[AT[1], AT[0]], &[AT[1], AT[2]], &grid(2))), [[0.3, 0.0], [0.3, 0.3]]);
    }
    let own = "lead_pairs = [3]\nleads = [{ cable = \"link\", at = \"1 m\" }]";
    assert_eq!(places(&on_a_bar(&[AT[1], AT[0]], &[AT[1]], own)), [[1.0; 3], [1.0; 3]]);
}

#[test]
fn a_grid_refuses_lead_pairs_without_a_place_on_the_bar() {
    let text = on_a_bar(&[AT[1], AT[0]], &[AT[1], AT[2]], "lead_pairs = [1, 2, 3]\n");
    refused(&text, "3]", &["stack \"A\" more lead pairs than the 2", "give `at` to the leads of the grid", "1 error"]);
}

#[test]
fn a_fault_of_an_override_is_told_where_it_stands() {
    let cases = [
        ("[layout.module.cellar]\ncapacity = \"0 Ah\"", "capacity = \"0", "in layout \"other\": `capacity` is 0"),
        ("[layout.module.celar]\ncells = 15", "celar", "did you mean \"cellar\"?"),
        ("[layout.stack.B]\ncount = 3", "layout.stack.B", "no [[stack]] is called \"B\""),
        ("[layout.stack.A]\nname = \"Z\"", "\"Z\"", "renames a stack"),
        ("[layout.stack.A]\nnegativ = 1", "negativ =", "unknown key `negativ`"),
        ("[layout.stack.A]\ncount = 1", "leads = [", "position 2, outside the stack"),
        ("[layout.cable]\nlink = \"thick\"", "thick", "not a table"),
        ("[layout.cable.link]\nsize = \"35 mm2\"", "35 mm2", "one of the two"),
    ];
    for (more, at, fragment) in cases {
        refused(&and(SMALL, &format!("{LAYOUT}{more}")), at, &[fragment]);
    }
}

#[test]
fn a_fault_of_the_scenario_is_not_told_again_for_each_layout() {
    let text = with(WHOLE, "capacity = \"92 Ah\"", "capacity = \"92\"");
    refused(&text, "capacity = \"92\"", &["1 error"]);
}

#[test]
fn faults_of_a_grid() {
    let cases = [
        (
            "lead_pairs = [1]\ntake_off = [\"one end\"]\nleads = [{ cable = \"wire\" }]",
            "leads = [{ cable = \"wire",
            "no [cable.wire]",
        ),
        ("lead_pairs = [1]\ntake_off = [\"one edn\"]", "edn", "did you mean \"one end\"?"),
        ("lead_pairs = [1]\ntake_off = [\"both ends\"]", "[layouts]", "no layout"),
        ("lead_pairs = []\ntake_off = [\"one end\"]", "lead_pairs = []", "is empty"),
        ("lead_pairs = [65]\ntake_off = [\"one end\"]", "65", "from 1 to 64"),
        ("lead_pairs = [2, 1, 1]\ntake_off = [\"one end\"]", "1]", "`lead_pairs` holds 1 twice"),
        ("lead_pairs = [1]\ntake_off = [\"one end\", \"one end\"]", "\"one end\"]", "holds \"one end\" twice"),
        (
            "lead_pairs = [1]\ntake_off = [\"one end\"]\nleads = [{ cable = \"link\" }, { cable = \"link\" }]",
            "{ cable = \"link\" }]",
            "`leads` holds \"link\" twice",
        ),
        ("take_off = [\"one end\"]", "[layouts]", "no `lead_pairs`"),
    ];
    for (more, at, fragment) in cases {
        refused(&and(SMALL, &format!("[layouts]\n{more}")), at, &[fragment]);
    }
    let all = (1..65).map(|n| n.to_string()).collect::<Vec<_>>().join(", ");
    let many = format!("modules = [{all}]\nlead_pairs = [{all}]\ntake_off = [\"one end\", \"opposite ends\"]");
    refused(&and(SMALL, &format!("[layouts]\n{many}")), "[layouts]", &["too many layouts"]);
}

#[test]
fn names_of_layouts() {
    refused(&and(SMALL, "[[layout]]\n[layout.stack.A]\ncount = 3"), "[[layout]]", &["has no `name`"]);
    refused(&and(SMALL, "[[layout]]\nname = \"as written\""), "as written", &["the scenario itself"]);
    refused(&and(SMALL, &format!("{LAYOUT}{}", LAYOUT.replace("name =", "name  ="))), "name  =", &["a second time"]);
}

/// Leads of one cable are named by whatever else tells them apart.
#[test]
fn leads_of_one_cable_have_names_of_their_own() {
    let leads = "leads = [{ cable = \"link\", device = \"melt\" }, { cable = \"link\", device = \"melt\", poles = \
                 \"both\" }, { cable = \"link\" }]";
    let grid = format!("[layouts]\nlead_pairs = [1]\ntake_off = [\"one end\"]\n{leads}");
    let link = "[device.melt]\nkind = \"fuse\"\nrated = \"100 A\"";
    let checked = good(&and(&and(SMALL, link), &grid));
    let names: Vec<&str> = checked.layouts.iter().map(|l| l.name.as_str()).collect();
    let expected =
        ["1 pair, one end, link with melt", "1 pair, one end, link with melt, both fused", "1 pair, one end, link"];
    assert_eq!(names, expected);
}

#[test]
fn a_price_in_an_override_needs_a_currency_too() {
    let text = and(SMALL, &format!("{LAYOUT}[layout.module.cellar]\nprice = 900"));
    refused(&text, "price = 900", &["in layout \"other\": a price without [prices]"]);
    good(&and(&text, "[prices]\ncurrency = \"EUR\""));
}

#[test]
fn prices_need_a_currency() {
    let text = with(SMALL, "cells = 16", "cells = 16\nprice = 900");
    refused(&text, "price = 900", &["in which currency?"]);
    good(&and(&text, "[prices]\ncurrency = \"EUR\""));
    refused(&and(SMALL, "[prices]\njoint = 2"), "[prices]", &["no `currency`"]);
    refused(&and(&text, "[prices]\ncurrency = \"EUR\"\njoint = -2"), "joint", &["at least 0"]);
    let by_length = with(SMALL, "rating = \"140 A\"", "rating = \"140 A\"\nprice_per_metre = 3");
    refused(&and(&by_length, "[prices]\ncurrency = \"EUR\""), "price_per_metre", &["`length`"]);
    let shown = render(&faults(&and(SMALL, "[communication]\nlength = \"2 m\"\nprice = 1")), false);
    assert!(shown.contains("a price without [prices]"), "{shown}");
}

/// Counted by hand from `whole.toml`: stack A of two modules with two pairs, stack B of one with one pair.
#[test]
fn the_parts_of_a_bank_counted_by_hand() {
    let parts = list(&good(WHOLE).scenario);
    let line = |p: &Part| format!("{} {} {} {:?} {} {:?}", p.item, p.kind, p.size, p.length_m, p.count, p.unit_price);
    let lines: Vec<String> = parts.parts.iter().map(line).collect();
    assert_eq!(
        lines,
        [
            "module cellar  None 2 Some(1480.0)",
            "module attic  None 1 None",
            "jumper jumper  None 2 None",
            "lead lead 35 mm² Some(2.0) 2 Some(22.5)",
            "lead stiff 70 mm² Some(1.9812) 2 None",
            "lead foreign 1/0 AWG Some(2.0) 2 None",
            // Leads at 0 m and at 0.4 m, the inverter between them.
            "bar   Some(0.4) 2 None",
            "fuse link 125 A None 1 Some(31.0)",
            "breaker small 110 A None 2 None",
            "breaker main 250 A None 2 None",
            "breaker relay 100 A None 2 None",
            "joint jumper  None 4 Some(6.5)",
            "joint lead 35 mm² None 4 Some(6.5)",
            "joint stiff 70 mm² None 4 Some(6.5)",
            "joint foreign 1/0 AWG None 4 Some(6.5)",
            "communication   Some(0.4) 3 Some(9.0)",
            "earthing  16 mm² Some(1.5) 3 Some(12.0)",
        ]
    );
    assert_eq!(parts.price, Some(2.0 * 1480.0 + 2.0 * 22.5 + 31.0 + 16.0 * 6.5 + 3.0 * 9.0 + 3.0 * 12.0));
    assert_eq!(parts.unpriced, [Item::Module, Item::Jumper, Item::Lead, Item::Bar, Item::Breaker]);
}
