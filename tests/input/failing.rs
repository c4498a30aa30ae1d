//! What fails by chance, motor starts, and what a scenario leaves out.

use super::{SMALL, WHOLE, and, faults, good, line_of, refused, with};
use bankwright::diagnostic::render;
use bankwright::scenario::{
    Chain, ChainThrough, FaultStart, Faults, Hazards, JointHazard, Surge, SurgeSize, SurgeWhen,
};
use bankwright::time::Time;

const HOUR: f64 = 3600.0;

fn failing(more: &str) -> String {
    and(SMALL, &format!("[faults]\n{more}"))
}

fn stationary(mtbf: f64, mttr: f64) -> Faults {
    Faults { mtbf: mtbf * HOUR, mttr: Some(mttr * HOUR), start: FaultStart::Stationary }
}

fn unrepaired(mtbf: f64) -> Faults {
    Faults { mtbf: mtbf * HOUR, mttr: None, start: FaultStart::InService }
}

#[test]
fn every_kind_of_failure() {
    let s = good(WHOLE).scenario;
    assert_eq!(s.faults, Some(stationary(150_000.0, 72.0)));
    let hazards = Hazards {
        stack: Some(stationary(1e6, 24.0)),
        nuisance: Some(stationary(30_000.0, 2.0)),
        chain: Some(Chain { faults: stationary(200_000.0, 12.0), through: ChainThrough::Bank }),
        joint: Some(JointHazard { faults: unrepaired(400_000.0), factor: 30.0 }),
        lead: Some(stationary(1e6, 48.0)),
    };
    assert_eq!(s.hazards, hazards);
}

#[test]
fn one_kind_alone_with_its_defaults() {
    let s = good(&failing("chain_mtbf = \"1e5 h\"")).scenario;
    let chain = Some(Chain { faults: unrepaired(1e5), through: ChainThrough::Stacks });
    assert_eq!((s.faults, s.hazards), (None, Hazards { chain, ..Hazards::default() }));
    let text = with(&failing("joint_mtbf = \"1e5 h\""), "rating", "contact = \"0.1 mΩ\"\nrating");
    let s = good(&text).scenario;
    assert_eq!(s.hazards.joint, Some(JointHazard { faults: unrepaired(1e5), factor: 20.0 }));
    assert_eq!(good(SMALL).scenario.hazards, Hazards::default());
}

#[test]
fn a_written_start_is_for_all_that_is_repaired() {
    let both = "module_mtbf = \"1e5 h\"\nmodule_mttr = \"72 h\"\nlead_mtbf = \"1e5 h\"";
    for (start, expected) in [("stationary", FaultStart::Stationary), ("in service", FaultStart::InService)] {
        let s = good(&failing(&format!("{both}\nstart = \"{start}\""))).scenario;
        assert_eq!(s.faults.unwrap().start, expected);
        // What is never repaired has no long-run state.
        assert_eq!(s.hazards.lead.unwrap().start, FaultStart::InService);
    }
}

#[test]
fn failures_that_could_not_be() {
    let cases = [
        ("", "[faults]", "in [faults] nothing fails"),
        ("start = \"in service\"", "[faults]", "a mean time between failures is required"),
        ("module_mtbf = \"1e5 h\"\nstart = \"stationary\"", "start", "nothing is repaired"),
        ("module_mtbf = \"1e5 h\"\nstart = \"stationery\"", "start", "did you mean \"stationary\"?"),
        ("module_mtbf = \"1e5 h\"\nstack_mttr = \"1 h\"", "stack_mttr", "needs `stack_mtbf`"),
        ("module_mtbf = \"1e5 h\"\nlead_mttr = \"1 h\"", "lead_mttr", "needs `lead_mtbf`"),
        ("nuisance_mtbf = \"1e5 h\"", "[faults]", "has no `nuisance_mttr`"),
        ("module_mtbf = \"1e5 h\"\nchain = \"bank\"", "chain", "needs `chain_mtbf`"),
        ("chain_mtbf = \"1e5 h\"\nchain = \"rows\"", "chain = ", "must be \"stacks\" or \"bank\""),
        ("module_mtbf = \"1e5 h\"\njoint_factor = 3", "joint_factor", "needs `joint_mtbf`"),
        ("joint_mtbf = \"1e5 h\"\njoint_factor = 1", "joint_factor", "must be more than 1"),
        ("stack_mtbf = \"0 h\"", "stack_mtbf", "at least 1 s"),
        ("stack_mtbf = \"1e5 h\"\nstack_mttr = 5", "stack_mttr", "the bare number 5"),
    ];
    for (more, at, fragment) in cases {
        refused(&failing(more), at, &[fragment]);
    }
}

#[test]
fn unusual_failures_are_warned_of() {
    let cases = [
        (failing("lead_mtbf = \"500 h\""), "lead_mtbf", "more than once in 1000 h"),
        (failing("joint_mtbf = \"1e5 h\""), "joint_mtbf", "no cable type has a `contact`"),
    ];
    for (text, at, fragment) in cases {
        let warnings = good(&text).warnings;
        let shown = render(&warnings, false);
        assert!(shown.contains(fragment) && shown.ends_with("1 warning\n"), "{fragment}:\n{shown}");
        assert_eq!(warnings[0].place().0, line_of(&text, at), "{shown}");
    }
}

#[test]
fn surges_at_random_and_at_their_times() {
    let s = good(WHOLE).scenario;
    let pump = Surge {
        name: "pump".to_owned(),
        size: SurgeSize::Power(3000.0),
        lasts: Time::from_whole_seconds(2),
        when: SurgeWhen::Every(2400.0),
    };
    let times = vec![Time::from_whole_seconds(3600), Time::from_whole_seconds(5400)];
    let saw = Surge {
        name: "saw".to_owned(),
        size: SurgeSize::Power(5000.0),
        lasts: Time::from_seconds(0.5),
        when: SurgeWhen::At(times),
    };
    assert_eq!(s.surges, [pump, saw]);
    let text = surge("[load]\ncurrent = \"50 A\"", "current = \"80 A\"\nlasts = \"2 s\"\nevery = \"1 h\"");
    assert_eq!(good(&text).scenario.surges[0].size, SurgeSize::Current(80.0));
}

fn surge(load: &str, more: &str) -> String {
    and(SMALL, &format!("{load}\n[[surge]]\nname = \"pump\"\n{more}"))
}

#[test]
fn surges_that_could_not_be() {
    let power = |more: &str| surge("[load]\npower = \"2 kW\"", &format!("power = \"1 kW\"\n{more}"));
    let cases = [
        (power("every = \"1 h\""), "[[surge]]", "has no `lasts`"),
        (power("lasts = \"2 s\""), "[[surge]]", "neither `every` nor `at`"),
        (power("lasts = \"2 s\"\nevery = \"1 h\"\nat = [\"1 h\"]"), "at = [", "more than one of `every` or `at`"),
        (power("lasts = \"2 h\"\nevery = \"1 h\""), "lasts", "at most 3600 s"),
        (power("lasts = \"2 s\"\nevery = \"0.5 s\""), "every", "at least 1 s"),
        (power("lasts = \"2 s\"\nat = []"), "at = [", "at least one time"),
        (power("lasts = \"2 s\"\nat = [\"-1 s\"]"), "at = [", "at least 0 s"),
        (power("lasts = \"2 s\"\nat = [\"1 h\", \"3602 s\"]"), "at = [", "more than `lasts`, 2 s, after"),
        (power("lasts = \"2 s\"\nat = [\"2 h\", \"1 h\"]"), "at = [", "time 2 of `at` is 3600 s"),
        (power("lasts = \"2 s\"\nevery = \"1 h\"\ncurrent = \"1 A\""), "current", "more than one of `power` or"),
        (surge("[load]\npower = \"1 W\"", "lasts = \"2 s\"\nevery = \"1 h\""), "[[surge]]", "neither `power` nor"),
        (
            surge("[load]\npower = \"1 W\"", "current = \"1 A\"\nlasts = \"2 s\"\nevery = \"1 h\""),
            "current",
            "[load] is a power",
        ),
        (
            surge("[load]\ncurrent = \"1 A\"", "power = \"1 W\"\nlasts = \"2 s\"\nevery = \"1 h\""),
            "power",
            "[load] is a current",
        ),
        (surge("", "power = \"1 W\"\nlasts = \"2 s\"\nevery = \"1 h\""), "[[surge]]", "no [load]"),
    ];
    for (text, at, fragment) in cases {
        refused(&text, at, &[fragment]);
    }
    let good_one = power("lasts = \"2 s\"\nevery = \"1 h\"");
    let again = "[[surge]]\nname = \"pump\" # again\npower = \"1 W\"\nlasts = \"2 s\"\nevery = \"1 h\"";
    refused(&and(&good_one, again), "again", &["two surges are named \"pump\""]);
    refused(&with(&good_one, "\"pump\"", "\" \""), "name = \" \"", &["`name` is blank"]);
}

#[test]
fn a_surge_on_a_faulty_load_is_not_a_second_fault() {
    let text = surge("[load]\npower = 2", "power = \"1 kW\"\nlasts = \"2 s\"\nevery = \"1 h\"");
    assert_eq!(faults(&text).len(), 1);
}

#[test]
fn ripple_is_a_share_of_the_current() {
    assert_eq!(good(WHOLE).scenario.inverter.unwrap().ripple, 0.3);
    let plain = and(SMALL, "[inverter]\nrated = \"8 kW\"");
    assert_eq!(good(&plain).scenario.inverter.unwrap().ripple, 0.0);
    refused(&and(&plain, "ripple = \"101 %\""), "ripple", &["at most 100 %"]);
}

#[test]
fn what_is_left_out_is_said_in_one_line_each() {
    let said = |text: &str| good(text).scenario.left_out();
    let has = |text: &str, start: &str| said(text).iter().filter(|line| line.starts_with(start)).count();
    let starts = ["faults: nothing fails", "protective devices:", "insulation of some", "surges:"];
    for start in starts {
        assert_eq!((has(SMALL, start), has(WHOLE, start)), (1, 0), "{start}");
    }
    assert_eq!(has(&and(SMALL, "[inverter]\nrated = \"8 kW\""), "ripple:"), 1);
    assert_eq!((has(SMALL, "ripple:"), has(WHOLE, "ripple:"), has(WHOLE, "faults")), (0, 0, 0));
    let controller = "[controller]\n";
    let link = "faults of the link between";
    assert_eq!((has(SMALL, link), has(&and(SMALL, controller), link)), (0, 1));
    assert_eq!(has(&and(SMALL, &format!("{controller}link_mtbf = \"1e4 h\"")), link), 0);
    let some = said(&failing("module_mtbf = \"1e5 h\"\nlead_mtbf = \"1e5 h\""));
    let line = some.iter().find(|line| line.starts_with("faults of")).unwrap();
    assert!(line.contains("whole stacks") && line.ends_with("or joints"), "{line}");
    assert!(!line.contains("leads") && !line.contains("single modules"), "{line}");
    assert!(said(WHOLE).contains(&"hysteresis and polarisation of the cells".to_owned()));
}
