//! Conductors that warm, fuses and breakers that open, and what chance does to leads, joints and stacks.

use super::*;
use bankwright::draw::faults::Timeline;
use bankwright::engine::cascade::Lost;
use bankwright::engine::module::Reason;
use bankwright::engine::realization::RandomEvent;
use bankwright::engine::result::{ChainResult, Defect};

/// A course that turns at these moments [s].
fn course(changes: &[f64]) -> Timeline {
    Timeline { down_at_start: false, changes: changes.iter().map(|&t| Time::from_seconds(t)).collect() }
}

/// When a device opened [s].
fn opened(night: &Night, device: usize) -> Option<f64> {
    night.result.opened[device].map(Time::seconds)
}

/// One module on one lead pair with these keys, constant current.
fn on_one_pair(cable: &str, pair: &str, amps: f64, more: &str) -> Campaign {
    let m = module("m", 10.0, "\"52.8 V\"", "");
    let stack = format!(
        "[cable.lead]\n{cable}\n[[stack]]\nname = \"A\"\nmodule = \"m\"\ncount = 1\n\
         leads = [{{ cable = \"lead\", positive = 1, negative = 1, {pair} }}]\n"
    );
    let load = format!("[load]\ncurrent = \"{amps} A\"\n");
    campaign(&[&m, &stack, &load, more])
}

/// With a module that does not run empty in any of these tests.
fn large(mut campaign: Campaign) -> Campaign {
    campaign.model.modules[0].kind.capacity *= 1000.0;
    campaign
}

const FUSE: &str =
    "[device.link]\nkind = \"fuse\"\nrated = \"100 A\"\nbreaking_capacity = \"20 kA\"\nvoltage = \"80 V\"\n";

/// t = 2400/(M⁴ − 4) s: at twice its rating a fuse-link opens after 200 s, inside the gates of IEC 60269-1,
/// whatever the step; then the bank is cut off.
#[test]
fn a_fuse_opens_at_its_time() {
    for step in ["60 s", "7 s"] {
        let trials = trials("10 min", &format!("step = \"{step}\""));
        let c = on_one_pair("resistance = \"1 mΩ\"", "device = \"link\"", 200.0, &format!("{FUSE}{trials}"));
        let n = run(&c);
        at_moment(opened(&n, 0), 200.0);
        at_moment(n.served_until(), 200.0);
        assert_eq!(n.when_event(Event::DeviceOpened { device: 0 }).len(), 1);
        assert_eq!(n.at(600.0).bus.current, 0.0);
        near(n.at(600.0).currents[0], 0.0, 1e-12);
    }
}

/// At 1.25 times its rating it never opens (conventional non-fusing current); an inverter's ripple of 60 %
/// heats as 1.166 times the mean, 1.46 In, and it opens at 2400/(1.4577⁴ − 4) s.
#[test]
fn ripple_counts_for_a_fuse() {
    let run = |more: &str| {
        let more = format!("{FUSE}{more}{}", trials("3 h", "soc = \"100 %\""));
        run(&large(on_one_pair("resistance = \"1 mΩ\"", "device = \"link\"", 125.0, &more)))
    };
    assert_eq!(opened(&run(""), 0), None);
    let rippled = run("[inverter]\nrated = \"10 kW\"\nripple = \"60 %\"\n");
    let m: f64 = 1.25 * 1.36_f64.sqrt();
    near(opened(&rippled, 0).unwrap(), 2400.0 / (m.powi(4) - 4.0), 1e-2);
}

/// Inverse-time breakers of IEC 60255-151 at twice their setting: very inverse 13.5 s, extremely inverse
/// 26.667 s; thermal memory of IEC 60255-149, τ 600 s, from cold: 172.6 s.
#[test]
fn breakers_open_by_their_curves() {
    for (curve, wanted, within) in [
        ("curve = \"very inverse\"", 13.5, 1e-3),
        ("curve = \"extremely inverse\"", 80.0 / 3.0, 1e-3),
        ("curve = \"thermal\"\ntime_constant = \"600 s\"", 172.6, 0.05),
    ] {
        let device = format!("[device.b]\nkind = \"breaker\"\nrated = \"100 A\"\n{curve}\n");
        let more = format!("{device}{}", trials("10 min", ""));
        let n = run(&on_one_pair("resistance = \"1 mΩ\"", "device = \"b\", poles = \"negative\"", 200.0, &more));
        near(opened(&n, 0).unwrap(), wanted, within);
        assert_eq!(n.result.elements.len(), 3);
    }
}

/// Rated 90 °C in air of 30 °C at 100 A: at that current it comes to 90 °C, with R(T) of copper, and no
/// further; at 1.25 times to 137.46 °C (by hand: T − 30 = 60·1.25²·R(T)/R(90), R(T) ∝ 1 + 0.00393·(T − 20)). The first steps follow the time constant.
#[test]
fn a_conductor_warms_to_its_steady_temperature() {
    let keys = "size = \"35 mm2\"\nlength = \"2 m\"\ninsulation = \"90 °C\"\nampacity = \"100 A\"\n\
                time_constant = \"10 min\"";
    let air = "[climate]\nair = \"30 °C\"\n";
    let run = |amps: f64| {
        let c = on_one_pair(keys, "", amps, &format!("{air}{}", trials("6 h", "soc = \"100 %\"")));
        run(&large(c))
    };
    let lead = |n: &Night| n.result.elements[1];
    let at_rating = lead(&run(100.0));
    near(at_rating.hottest.unwrap(), 90.0, 1e-6);
    assert_eq!(at_rating.first_hot, None, "what comes to its limit is at it");
    let beyond = lead(&run(125.0));
    near(beyond.hottest.unwrap(), 137.46, 0.02);
    // T′ = (H·(1 + a·(T − 90)) − (T − 30))/τ with H = 60·1.25², a = α/(1 + 70·α): when it passes 90 °C.
    let (alpha, h): (f64, f64) = (0.00393, 60.0 * 1.5625);
    let a = alpha / (1.0 + 70.0 * alpha);
    let (rate, settled) = ((1.0 - a * h) / 600.0, (30.0 + h * (1.0 - 90.0 * a)) / (1.0 - a * h));
    let passes = ((settled - 30.0) / (settled - 90.0)).ln() / rate;
    near(beyond.first_hot.unwrap().seconds(), passes, 1.0);
    assert!(beyond.time_hot.seconds() > 6.0 * 3600.0 - passes - 2.0);
    // It is over its limit as well, and that from the start.
    assert_eq!(beyond.first_over, Some(Time::ZERO));
}

/// The resistance of a warm lead is that of copper at its own temperature: 90 °C.
#[test]
fn a_warm_lead_has_more_resistance() {
    let keys = "size = \"35 mm2\"\nlength = \"2 m\"\ninsulation = \"90 °C\"\nampacity = \"100 A\"\n\
                time_constant = \"1 min\"";
    let air = "[climate]\nair = \"30 °C\"\n";
    let n = run(&on_one_pair(keys, "", 100.0, &format!("{air}{}", trials("50 min", "soc = \"100 %\""))));
    let last = n.seen.last().unwrap();
    let drop = 52.8 - 100.0 * 10e-3 - last.bus.voltage;
    // IEC 60228, class 5: 0.554 Ω/km at 20 °C.
    near(drop, 2.0 * 2.0 * 0.554e-3 * (1.0 + 0.00393 * 70.0) * 100.0, 1e-4);
}

/// In air of 50 °C the limit of a conductor of 90 °C is √(40/60) of that in 30 °C; in the cold it is not
/// above it, and a rating of the assembly holds everywhere.
#[test]
fn the_limit_follows_the_air() {
    let over = |air: f64, amps: f64, keys: &str| {
        let keys = format!(
            "resistance = \"1 mΩ\"\ninsulation = \"90 °C\"\nampacity = \"100 A\"\ntime_constant = \"10 min\"\n{keys}"
        );
        let air = format!("[climate]\nair = \"{air} °C\"\n");
        let n = run(&on_one_pair(&keys, "", amps, &format!("{air}{}", trials("5 min", ""))));
        n.result.elements[1].first_over.is_some()
    };
    let at_50 = 100.0 * (40.0_f64 / 60.0).sqrt();
    assert!(!over(50.0, at_50 - 0.01, "") && over(50.0, at_50 + 0.01, ""));
    assert!(!over(-20.0, 99.9, "") && over(-20.0, 100.1, ""));
    assert!(!over(-20.0, 130.0, "above_base = true") && over(-20.0, 130.0, "above_base = true\nrating = \"120 A\""));
}

/// Two single-module stacks with a fuse each, 300 A: one fails at 100 s, the other's fuse carries three times
/// its rating and opens 31.2 s later (2400/(3⁴ − 4)): a cascade, and the bank is dark.
#[test]
fn a_dropout_blows_the_other_fuse() {
    let m = module("m", 10.0, "\"52.8 V\"", "");
    let stacks = ["A", "B"].map(|name| {
        format!(
            "[[stack]]\nname = \"{name}\"\nmodule = \"m\"\ncount = 1\n\
             leads = [{{ cable = \"short\", positive = 1, negative = 1, device = \"link\" }}]\n"
        )
    });
    let fuse = FUSE.replace("100 A", "150 A");
    let load = "[load]\ncurrent = \"300 A\"\n";
    let c = campaign(&[&m, SHORT, &fuse, &stacks.concat(), load, &trials("10 min", "")]);
    let mut realization = c.realization(0);
    realization.random_events.add(RandomEvent::Module(0), &course(&[100.0]));
    let n = run_with(&c, &realization);
    // 300 A on a fuse of 150 A is twice its rating: 200 s.
    at_moment(opened(&n, 1), 300.0);
    assert_eq!(opened(&n, 0), None);
    assert_eq!(n.result.cascade, None, "200 s are beyond the window of 60 s");
    let fuse = FUSE;
    let c = campaign(&[&m, SHORT, fuse, &stacks.concat(), load, &trials("10 min", "")]);
    let mut realization = c.realization(0);
    realization.random_events.add(RandomEvent::Module(0), &course(&[100.0]));
    let n = run_with(&c, &realization);
    // Before: 1.5 times, 2400/(1.5⁴ − 4) = 2258 s; 100 s of them are spent, 0.0443 of its life.
    let spent = 100.0 / (2400.0 / (1.5_f64.powi(4) - 4.0));
    at_moment(opened(&n, 1), 100.0 + (1.0 - spent) * 2400.0 / 77.0);
    let cascade = n.result.cascade.clone().expect("a cascade");
    assert_eq!(cascade.sequence, vec![(Lost::Module(0), Reason::Fault), (Lost::Device(1), Reason::Device)]);
    at_moment(n.served_until(), opened(&n, 1).unwrap());
}

/// A module's own fuse takes the module out; a main one the whole bank. Its resistance is in the circuit.
#[test]
fn devices_of_modules_and_of_the_bar() {
    let m = module("m", 10.0, "\"52.8 V\"", "");
    let stack = "[[stack]]\nname = \"A\"\nmodule = \"m\"\ncount = 1\nmodule_device = \"link\"\nmodule_poles = \"both\"\n\
                 leads = [{ cable = \"short\", positive = 1, negative = 1 }]\n";
    let fuse = format!("{FUSE}resistance = \"0.5 mΩ\"\n");
    let load = "[load]\ncurrent = \"200 A\"\n";
    let n = night(&[&m, SHORT, &fuse, stack, load, &trials("10 min", "soc = \"100 %\"")]);
    near(n.at(0.0).bus.voltage, 52.8 - 200.0 * (10e-3 + 2.0 * 0.5e-3), 1e-6);
    at_moment(opened(&n, 0), 200.0);
    at_moment(n.when(0, State::Open).first().copied(), 200.0);
    assert_eq!(n.result.elements.len(), 3);
    let plain = single("A", "m", "");
    let bar = "[bar]\ndevice = \"link\"\npoles = \"positive\"\n";
    let n = night(&[&m, SHORT, &fuse, &plain, bar, load, &trials("10 min", "soc = \"100 %\"")]);
    near(n.at(0.0).bus.voltage, 52.8 - 200.0 * 10.5e-3, 1e-6);
    at_moment(opened(&n, 0), 200.0);
    at_moment(n.served_until(), 200.0);
}

/// A lead that opens leaves the other pair with the whole; a bad joint multiplies one contact of one lead. An overload
/// tells both.
#[test]
fn leads_and_joints_by_chance() {
    let m = module("m", 10.0, "\"52.8 V\"", "");
    let stack = "[cable.lead]\nresistance = \"1 mΩ\"\ncontact = \"0.1 mΩ\"\nrating = \"70 A\"\n[[stack]]\nname = \"A\"\nmodule = \"m\"\ncount = 1\n\
                 leads = [{ cable = \"lead\", positive = 1, negative = 1 }, { cable = \"lead\", positive = 1, negative = 1 }]\n";
    let faults = "[faults]\njoint_mtbf = \"1e6 h\"\njoint_factor = 10\nlead_mtbf = \"1e6 h\"\n";
    let c = campaign(&[&m, stack, faults, "[load]\ncurrent = \"100 A\"\n", &trials("10 min", "")]);
    let mut realization = c.realization(0);
    realization.random_events.add(RandomEvent::Joint(0), &course(&[100.0]));
    realization.random_events.add(RandomEvent::Conductor(1), &course(&[200.0, 300.0]));
    let n = run_with(&c, &realization);
    near(n.at(0.0).currents[1], 50.0, 1e-9);
    // 1.2 mΩ and 1.2 + 0.9 mΩ in parallel.
    near(n.at(100.0).currents[1], 100.0 * 1.2 / 3.3, 1e-9);
    let cut = n.at(200.0);
    near(cut.currents[2], 0.0, 1e-12);
    near(cut.currents[4], 100.0, 1e-9);
    near(n.at(300.0).currents[4], 50.0, 1e-9);
    let chain = |amiss| ChainResult { out: vec![], amiss, over: 4 };
    assert_eq!(n.result.chains, [chain(vec![(0, Defect::BadJoint), (1, Defect::Open)])]);
    let mut realization = c.realization(0);
    realization.random_events.add(RandomEvent::Conductor(1), &Timeline { down_at_start: true, changes: vec![] });
    assert_eq!(run_with(&c, &realization).result.chains, [chain(vec![(1, Defect::Open)])]);
}

/// A fault of a stack takes all of it; a chain link what is behind it; a nuisance trip one, and it comes back.
#[test]
fn stacks_chains_and_nuisance_trips() {
    let m = module("m", 10.0, "\"52.8 V\"", "");
    let stack = |name: &str| {
        format!(
            "[[stack]]\nname = \"{name}\"\nmodule = \"m\"\ncount = 3\njumper = \"short\"\n\
             leads = [{{ cable = \"short\", positive = 3, negative = 1 }}]\n"
        )
    };
    let faults = |chain: &str| format!("[faults]\nchain_mtbf = \"1e6 h\"\nchain = \"{chain}\"\n");
    let out = |chain: &str, random_event: RandomEvent| {
        let stacks = [stack("A"), stack("B")].concat();
        let c = campaign(&[&m, SHORT, &stacks, &faults(chain), "[load]\ncurrent = \"100 A\"\n", &trials("10 min", "")]);
        let mut realization = c.realization(0);
        realization.random_events.add(random_event, &course(&[100.0, 400.0]));
        let n = run_with(&c, &realization);
        assert!(n.at(400.0).states.iter().all(|s| s.delivers()), "all are back");
        assert!(n.result.dropout.fault);
        let states = &n.at(100.0).states;
        (0..6).filter(|k| !states[*k].delivers()).collect::<Vec<_>>()
    };
    assert_eq!(out("stacks", RandomEvent::Stack(1)), [3, 4, 5]);
    assert_eq!(out("stacks", RandomEvent::ChainLink(1)), [1, 2]);
    assert_eq!(out("bank", RandomEvent::ChainLink(1)), [1, 2, 3, 4, 5]);
    assert_eq!(out("stacks", RandomEvent::Nuisance(4)), [4]);
}

/// A motor start adds to the load from its moment to its end, inside a step, and what a bank cannot carry
/// for less than the hold is brief and no shortfall.
#[test]
fn motor_starts_are_events() {
    let m = module("m", 10.0, "\"52.8 V\"", "");
    let surge = "[[surge]]\nname = \"pump\"\ncurrent = \"150 A\"\nlasts = \"2 s\"\nat = [\"90 s\", \"200.5 s\"]\n";
    let controller = "[controller]\nperiod = \"1 ms\"\n";
    let limited = module("m", 10.0, "\"52.8 V\"", "discharge_limit = \"120 A\"");
    let run = |m: &str, more: &str| {
        night(&[m, SHORT, &single("A", "m", ""), "[load]\ncurrent = \"50 A\"\n", surge, more, &trials("10 min", "")])
    };
    let n = run(&m, "");
    for (at, amps) in [(60.0, 50.0), (90.0, 200.0), (92.0, 50.0), (200.5, 200.0), (202.5, 50.0)] {
        near(n.at(at).bus.current, amps, 1e-9);
    }
    assert_eq!(n.when_event(Event::Surge { surge: 0, begins: true }), [90.0, 200.5]);
    near(n.result.elements[0].greatest, 200.0, 1e-9);
    let n = run(&limited, controller);
    near(n.at(90.0).bus.current, 120.0, 1e-9);
    assert_eq!(n.served_until(), None);
    assert_eq!(n.result.unserved, 0.0);
    // 80 A for twice 2 s at the voltage that the load had last been served at.
    near(n.result.brief, 80.0 * 4.0 * (52.8 - 50.0 * 10e-3), 0.5);
}
