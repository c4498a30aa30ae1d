//! What a legal scenario says, number by number.

use super::{SMALL, WHOLE, and, good, refused, with};
use bankwright::diagnostic::render;
use bankwright::scenario::{
    Air, Bar, ConductorResistance, Distribution, FaultStart, FloorFollows, Guard, Load, Switches, Window,
};
use bankwright::time::Time;

#[test]
fn the_least_scenario_has_every_default() {
    let s = good(SMALL).scenario;
    let module = &s.modules[0];
    assert_eq!((module.cells, module.capacity), (16, 92.0 * 3600.0));
    assert_eq!((module.resistance.fixed, module.resistance.cell), (0.0, 0.013));
    assert_eq!((module.resistance.activation, module.empty), (0.0, 0.0));
    assert!(module.resistance.charge_factor.is_constant() && module.heat.is_none());
    assert_eq!((module.discharge_limit, module.charge_limit), (None, None));
    assert_eq!((module.standing, module.switch_drop, module.pitch), (0.0, 0.0, 0.2));
    assert_eq!(module.switches, Switches::Separate);
    assert_eq!(module.charge_temperature, Window::default());
    assert_eq!(module.open_circuit.points().last(), Some(&(1.0, 16.0 * 3.5981)));
    assert_eq!(s.cables[0].conductor, ConductorResistance::Fixed(0.25 / 1e3));
    assert_eq!((s.cables[0].contact, s.cables[0].rating), (0.0, Some(140.0)));
    assert_eq!((s.stacks[0].jumper, s.stacks[0].positions.len()), (Some(0), 2));
    assert_eq!((s.stacks[0].leads[0].positive, s.stacks[0].leads[0].negative), (2, 1));
    assert!(matches!(s.bar, Bar::Ideal));
    assert!(s.inverter.is_none() && s.load.is_none() && s.climate.is_none());
    assert!(s.room.is_none() && s.floor.is_none() && s.faults.is_none());
    assert!(s.trials.is_none() && s.targets.ride_through.is_none());
    assert_eq!(s.spread.capacity, Distribution::None);
}

#[test]
fn a_module_with_everything() {
    let s = good(WHOLE).scenario;
    let m = &s.modules[0];
    assert_eq!((m.name.as_str(), s.modules[1].name.as_str()), ("cellar", "attic"));
    let module_volt: Vec<f64> = m.open_circuit.points().iter().map(|p| p.1).collect();
    assert_eq!(module_volt, [2.9 * 16.0, 3.28 * 16.0, 3.38 * 16.0]);
    assert_eq!(s.modules[1].open_circuit.value(0.3), 49.5);
    assert_eq!((m.discharge_limit, m.charge_limit, m.empty), (Some(85.0), Some(40.0), 0.05));
    assert_eq!((m.resistance.fixed, m.resistance.cell), (0.003, 0.013 - 0.003));
    assert_eq!(m.resistance.activation, 20e3);
    assert_eq!(m.resistance.charge_factor.points(), [(0.0, 1.6), (0.2, 1.0)]);
    assert_eq!((m.standing, m.switch_drop, m.pitch), (3.0, 0.7, 0.15));
    assert_eq!(m.switches, Switches::Contactor);
    let heat = m.heat.unwrap();
    assert_eq!((heat.capacity, heat.to_air), (45e3, 2.3));
    assert_eq!((heat.to_floor, heat.to_neighbour), (1.0, 4.0));
}

#[test]
fn windows_release_inside_and_by_default_so_far() {
    let s = good(WHOLE).scenario;
    let m = &s.modules[0];
    let guard = |g: Option<Guard>| g.map(|g| (g.trip, g.release, g.delay.seconds()));
    assert_eq!(guard(m.charge_temperature.low), Some((0.0, 5.0, 1.0)));
    assert_eq!(guard(m.charge_temperature.high), Some((45.0, 40.0, 1.0)));
    assert_eq!(guard(m.discharge_temperature.low), Some((-20.0, -8.0, 5.0)));
    assert_eq!(guard(m.discharge_temperature.high), Some((60.0, 50.0, 5.0)));
    assert_eq!(guard(m.cell_voltage.low), Some((2.5, 2.9, 1.0)));
    assert_eq!(guard(m.cell_voltage.high), Some((3.65, 3.5, 1.0)));
}

#[test]
fn cables_by_resistance_section_class_and_gauge() {
    let s = good(WHOLE).scenario;
    let at_20 = |name: &str| match s.cables.iter().find(|c| c.name == name).unwrap().conductor {
        ConductorResistance::Copper { at_20 } => at_20,
        ConductorResistance::Fixed(_) => panic!("{name} is not copper"),
    };
    // IEC 60228: 35 mm² class 5, 70 mm² class 2; NFPA 70 ch. 9 Table 8: 1/0 AWG at 75 °C.
    assert!((at_20("lead") - 2.0 * 0.554e-3).abs() < 1e-15);
    assert!((at_20("stiff") - 1.9812 * 0.268e-3).abs() < 1e-15);
    let gauge = 2.0 * 0.122 / 304.8 / (1.0 + 0.00393 * 55.0);
    assert!((at_20("foreign") - gauge).abs() < 1e-15);
    let lead = &s.cables[1];
    assert_eq!((lead.contact, lead.rating), (0.05 / 1e3, Some(160.0)));
    assert_eq!((lead.length, lead.size.as_deref()), (Some(2.0), Some("35 mm²")));
    assert_eq!((s.cables[0].contact, s.cables[0].rating), (20.0 / 1e6, None));
}

#[test]
fn stacks_bar_and_inverter() {
    let s = good(WHOLE).scenario;
    let top = &s.stacks[0].positions[1];
    assert_eq!((top.soc, top.resistance), (Some(0.85), Some(0.014)));
    assert_eq!(top.open_circuit, Some(52.7));
    assert_eq!((s.stacks[0].leads[0].at, s.stacks[0].leads[1].at), (0.0, 0.4));
    assert_eq!((s.stacks[1].jumper, s.stacks[1].positions[0].module), (None, 1));
    let Bar::Tapped { per_metre, load_at, rating } = s.bar else { panic!("no bar") };
    assert_eq!((per_metre, load_at, rating), (0.115 / 1e3, 0.2, Some(380.0)));
    let inverter = s.inverter.as_ref().unwrap();
    assert_eq!((inverter.rated, inverter.standing), (8000.0, 20.0));
    let efficiency = inverter.efficiency.as_ref().unwrap();
    assert_eq!(efficiency.points(), [(0.1, 0.9), (0.5, 0.94)]);
    let cut_out = inverter.cut_out.unwrap();
    assert_eq!((cut_out.trip, cut_out.reconnect), (44.0, 50.0));
    assert_eq!((cut_out.delay.seconds(), cut_out.reconnect_delay.seconds()), (2.0, 60.0));
}

#[test]
fn load_and_surroundings() {
    let s = good(WHOLE).scenario;
    assert!(matches!(s.load, Some(Load::Power(p)) if p == 2000.0));
    assert!(matches!(s.climate.as_ref().unwrap().air, Air::Constant(t) if t == -12.0));
    let room = s.room.unwrap();
    assert_eq!((room.loss, room.gain), (60.0, 300.0));
    assert_eq!((room.heat_capacity, room.gradient), (5e6, 1.5));
    let floor = s.floor.unwrap();
    assert_eq!((floor.lag, floor.offset), (28_800.0, 2.0));
    assert_eq!(floor.follows, FloorFollows::Room);
}

#[test]
fn faults_spread_trials_and_targets() {
    let s = good(WHOLE).scenario;
    let faults = s.faults.unwrap();
    assert_eq!((faults.mtbf, faults.mttr), (5.4e8, Some(259_200.0)));
    assert_eq!(faults.start, FaultStart::Stationary);
    assert_eq!(s.spread.capacity, Distribution::Normal(0.01));
    assert_eq!(s.spread.resistance, Distribution::Normal(0.04));
    assert_eq!(s.spread.joint, Distribution::LogNormal(0.2));
    assert_eq!(s.spread.start_charge, Distribution::Triangular(0.05));
    assert_eq!(s.spread.load, Distribution::Uniform(0.05));
    assert_eq!(s.spread.temperature, Distribution::Normal(1.5));
    assert_eq!(s.spread.sensor, Distribution::Uniform(1.0));
    let trials = s.trials.as_ref().unwrap();
    assert_eq!((trials.count, trials.seed, trials.soc), (10_000, 7, 0.95));
    assert_eq!((trials.horizon, trials.step), (Time(57_600_000_000), Time(30_000_000)));
    assert_eq!((trials.hold_time, trials.start), (Time(5_000_000), None));
    assert_eq!(trials.nights.len(), 1);
    let target = s.targets.ride_through.unwrap();
    assert_eq!((target.length.hours(), target.probability), (12.0, 0.99));
    assert_eq!(s.targets.overload_probability, Some(1e-3));
}

#[test]
fn trials_and_targets_have_defaults() {
    let text = and(SMALL, "[trials]\ncount = 5\nhorizon = \"1 h\"\n[targets]\nride_through = \"1 h\"");
    let s = good(&text).scenario;
    let trials = s.trials.as_ref().unwrap();
    assert_eq!((trials.seed, trials.soc), (1, 0.9));
    assert_eq!((trials.step, trials.hold_time), (Time(60_000_000), Time(10_000_000)));
    assert_eq!(s.targets.ride_through.unwrap().probability, 0.95);
}

#[test]
fn without_repair_all_are_in_service_at_the_start() {
    let text = with(WHOLE, "module_mttr = \"72 h\"\n", "");
    let faults = good(&text).scenario.faults.unwrap();
    assert_eq!((faults.mttr, faults.start), (None, FaultStart::InService));
    let text = with(WHOLE, "\"72 h\"\n", "\"72 h\"\nstart = \"in service\"\n");
    assert_eq!(good(&text).scenario.faults.unwrap().start, FaultStart::InService);
}

#[test]
fn a_floor_without_a_room_follows_the_outdoors() {
    let text = and(SMALL, "[climate]\nair = \"14 °F\"\n[floor]\nlag = \"1 d\"");
    let s = good(&text).scenario;
    assert_eq!(s.floor.unwrap().follows, FloorFollows::Outdoors);
    assert!(matches!(s.climate.unwrap().air, Air::Constant(t) if t == -10.0));
}

#[test]
fn marks_and_line_ends_of_other_systems_change_nothing() {
    let other = format!("\u{feff}{}", SMALL.replace('\n', "\r\n"));
    assert_eq!(good(&other).digest, good(SMALL).digest);
    let broken = with(&other, "\"92 Ah\"", "\"92 A\"");
    refused(&broken, "92 A\"", &["bank.toml:6:12"]);
}

#[test]
fn the_digest_follows_the_text() {
    assert_eq!(good(SMALL).digest.len(), 64);
    assert_ne!(good(SMALL).digest, good(&with(SMALL, "92 Ah", "93 Ah")).digest);
}

#[test]
fn tables_may_be_written_in_the_other_ways_of_toml() {
    let dotted = with(SMALL, "[cable.link]\nresistance", "[cable]\nlink.resistance");
    let dotted = with(&dotted, "\nrating", "\nlink.rating");
    assert_eq!(good(&dotted).scenario.cables[0].rating, Some(140.0));
    let leads = "leads = [{ cable = \"link\", positive = 2, negative = 1 }]";
    let lead = "[[stack.leads]]\ncable = \"link\"\npositive = 2\nnegative = 1";
    assert_eq!(good(&with(SMALL, leads, lead)).scenario.stacks[0].leads.len(), 1);
}

#[test]
fn unusual_values_are_warned_of_and_pass() {
    let cases = [
        ("\"92 Ah\"", "\"5 Ah\"", "10 to 1000 Ah"),
        ("\"13 mΩ\"", "\"0.5 mΩ\"", "1 to 100 mΩ"),
        ("cells = 16", "cells = 8", "15 or 16 cells"),
        ("\"lfp\"", "\"24 V\"", "1.5 V a cell"),
        ("\"lfp\"", "[[\"10 %\", \"3 V\"], [\"90 %\", \"3.3 V\"]]", "from 0 % to 100 %"),
        ("resistance = \"0.25 mΩ\"", "size = \"35 mm2\"\nlength = \"30 m\"", "longer than 20 m"),
        ("resistance = \"0.25 mΩ\"", "size = \"10 mm2\"\nlength = \"1 m\"", "10 A/mm²"),
    ];
    for (piece, other, why) in cases {
        let checked = good(&with(SMALL, piece, other));
        let shown = render(&checked.warnings, false);
        assert!(shown.contains(why) && shown.ends_with("1 warning\n"), "{why}:\n{shown}");
    }
    assert!(good(SMALL).warnings.is_empty() && good(WHOLE).warnings.is_empty());
}
