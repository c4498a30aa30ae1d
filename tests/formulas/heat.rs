//! Heat of modules, room and floor. Results tell no temperature of a module: they tell when its temperature window acts.

use super::*;

/// A module of a constant 52 V and 10 mΩ, all of it fixed, with further keys.
fn plain(keys: &str) -> String {
    module(
        "m",
        &format!(
            "capacity = \"1000 Ah\"\nresistance = \"10 mΩ\"\nfixed_resistance = \"10 mΩ\"\nopen_circuit = \"52 V\"\n{keys}"
        ),
    )
}

fn stack(count: usize) -> String {
    let jumper = if count > 1 { "jumper = \"short\"" } else { "" };
    format!(
        "[[stack]]\nname = \"A\"\nmodule = \"m\"\ncount = {count}\n{jumper}\n\
         leads = [{{ cable = \"short\", positive = 1, negative = {count} }}]\n"
    )
}

fn hot(celsius: f64) -> String {
    format!(
        "discharge_temperature = {{ high = \"{celsius} °C\", high_release = \"{} °C\", delay = \"0 s\" }}",
        celsius - 20.0
    )
}

fn cold(celsius: f64) -> String {
    format!(
        "discharge_temperature = {{ low = \"{celsius} °C\", low_release = \"{} °C\", delay = \"0 s\" }}",
        celsius + 20.0
    )
}

/// An insulated module keeps all of its heat: I²·R·(1 + ripple²) and what its electronics draw warm it by 10 K in
/// C·10 K/P: 100 A through 10 mΩ are 100 W, with a ripple of 50 % 125 W, with 25 W standing 150 W.
#[test]
fn losses_ripple_and_standing_loads_warm_a_module() {
    let inverter = "[inverter]\nrated = \"10 kW\"\nripple = \"50 %\"\n";
    for (more, standing, watts) in [("", 0, 100.0), (inverter, 0, 125.0), ("", 25, 125.0), (inverter, 25, 150.0)] {
        let keys =
            format!("heat_capacity = \"20 kJ/K\"\nheat_to_air = \"0 W/K\"\nstanding = \"{standing} W\"\n{}", hot(35.0));
        let load = "[load]\ncurrent = \"100 A\"\n[trials]\ncount = 1\nhorizon = \"1 h\"\n";
        each_way_as_written(&[&plain(&keys), SHORT, &stack(1), more, load], |r| {
            at_moment(r.served_until, 20e3 * 10.0 / watts, 1e-2);
        });
    }
}

/// Three alike in a stack with the same current are alike whatever passes between them: each warms as one alone,
/// T − Ta = P/G·(1 − e^(−G·t/C)), its neighbours' conductance cancelling out, which takes all of them in the balance and
/// taken on the way.
#[test]
fn neighbours_alike_exchange_nothing() {
    for between in [0.0, 12.0] {
        let keys = format!(
            "heat_capacity = \"20 kJ/K\"\nheat_to_air = \"2 W/K\"\nheat_to_neighbour = \"{between} W/K\"\n{}",
            hot(40.0)
        );
        let load = "[load]\ncurrent = \"300 A\"\n[trials]\ncount = 1\nhorizon = \"4 h\"\nstep = \"60 s\"\n";
        // 100 A each: 100 W, 50 K in the end; 15 K after C/G·ln(50/35).
        let wanted = 1e4 * f64::ln(50.0 / 35.0);
        each_way_as_written(&[&plain(&keys), SHORT, &stack(3), load], |r| {
            at_moment(r.served_until, wanted, 2e-3 * wanted)
        });
    }
}

/// A night begins where nothing changes: what each module's electronics draw warms it by P/G over the air, neighbours
/// alike. Three of 10 W and 2 W/K are at 30 °C in air of 25 °C: a window that ends 0.01 K below takes all out, one that ends
/// 0.01 K above none.
#[test]
fn a_night_begins_in_balance() {
    let out = |ends: f64| {
        let keys = format!(
            "heat_capacity = \"20 kJ/K\"\nheat_to_air = \"2 W/K\"\nheat_to_neighbour = \"6 W/K\"\nstanding = \"10 W\"\n{}",
            hot(ends)
        );
        campaign(&[
            &plain(&keys),
            SHORT,
            &stack(3),
            "[load]\ncurrent = \"1 A\"\n[trials]\ncount = 1\nhorizon = \"10 min\"\n",
        ])
    };
    for (ends, most) in [(29.99, 3), (30.01, 0)] {
        let c = out(ends);
        each_way(&c, &c.realization(0), |r| assert_eq!(r.dropout.most, most));
    }
}

/// The floor is under position 1 alone: (Ga·Ta + Gf·Tf)/(Ga + Gf) there, the air above. 2 and 6 W/K, air of 10 °C, a floor
/// 8 K colder: 4 °C and 10 °C.
#[test]
fn the_floor_cools_the_lowest_alone() {
    for (low, most) in [(3.99, 0), (4.01, 1), (9.99, 1), (10.01, 2)] {
        let keys =
            format!("heat_capacity = \"20 kJ/K\"\nheat_to_air = \"2 W/K\"\nheat_to_floor = \"6 W/K\"\n{}", cold(low));
        let around = "[climate]\nair = \"10 °C\"\n[floor]\nlag = \"1 h\"\noffset = \"-8 K\"\n\
                      [load]\ncurrent = \"0 A\"\n[trials]\ncount = 1\nhorizon = \"10 min\"\n";
        each_way_as_written(&[&plain(&keys), SHORT, &stack(2), around], |r| assert_eq!(r.dropout.most, most, "{low}"));
    }
}

/// Air warmer upwards by 4 K/m: the middles of modules of 0.5 m are 0.25, 0.75 and 1.25 m above the floor, 1, 3 and 5 K
/// warmer than there.
#[test]
fn air_is_warmer_upwards() {
    for (low, most) in [(0.99, 0), (1.01, 1), (2.99, 1), (3.01, 2), (4.99, 2), (5.01, 3)] {
        let keys = format!("pitch = \"0.5 m\"\n{}", cold(low));
        let around = "[climate]\nair = \"0 °C\"\n[room]\nloss = \"10 W/K\"\nheat_capacity = \"1 MJ/K\"\ngradient = \"4 K/m\"\n\
                      [load]\ncurrent = \"0 A\"\n[trials]\ncount = 1\nhorizon = \"10 min\"\n";
        each_way_as_written(&[&plain(&keys), SHORT, &stack(3), around], |r| assert_eq!(r.dropout.most, most, "{low}"));
    }
}

/// All that source and load do not share is heat in the room: E·I less what the load gets, be it lost in module, leads or
/// inverter; with a ripple of 50 %, what resistances lose is 1.25 times that. It warms by q/G·(1 − e^(−G·t/C)), and with it a
/// module that has no heat of its own.
#[test]
fn modules_leads_and_inverter_warm_the_room() {
    let cable = "[cable.lead]\nresistance = \"4 mΩ\"\n";
    let stack = stack(1).replace("short", "lead");
    let inverter = "[inverter]\nrated = \"10 kW\"\nefficiency = \"90 %\"\nstanding = \"40 W\"\n";
    let room = "[climate]\nair = \"10 °C\"\n[room]\nloss = \"50 W/K\"\nheat_capacity = \"500 kJ/K\"\n";
    let (e, ohm, load) = (52.0_f64, 10e-3 + 2.0 * 4e-3, 3000.0);
    let rippled = format!("{inverter}ripple = \"50 %\"\n");
    let bus = load / 0.9 + 40.0;
    for (inverter, bus, ripple_factor) in [("", load, 1.0), (inverter, bus, 1.0), (&rippled, bus, 1.25)] {
        let amps = (e - (e * e - 4.0 * ohm * bus).sqrt()) / (2.0 * ohm);
        let settled = (amps * amps * ohm * ripple_factor + bus - load) / 50.0;
        let rise = 0.6 * settled;
        let wanted = -1e4 * f64::ln(1.0 - rise / settled);
        let more = format!("[load]\npower = \"{load} W\"\n[trials]\ncount = 1\nhorizon = \"6 h\"\n");
        each_way_as_written(&[&plain(&hot(10.0 + rise)), cable, &stack, inverter, room, &more], |r| {
            at_moment(r.served_until, wanted, 1e-3 * wanted);
        });
    }
}

/// Constant power from a module whose voltage falls: its loss I²·R rises, and an insulated module is as warm as the sum of it
/// over time. The same equations (z′ = −I/Q, I by the quadratic of P = (E − R·I)·I, heat′ = I²·R) are solved here by the
/// midpoint rule in steps of 5 ms; the program takes steps of 20 s.
#[test]
fn a_loss_that_rises_warms_by_its_mean() {
    let (q, ohm, power, heat) = (18e3_f64, 20e-3_f64, 2000.0_f64, 12e3_f64);
    let amps = |soc: f64| {
        let e = 16.0 * (1.5 + 1.9 * soc);
        (e - (e * e - 4.0 * ohm * power).sqrt()) / (2.0 * ohm)
    };
    let (mut soc, mut warm, mut t, dt) = (1.0, 0.0, 0.0, 5e-3);
    while warm < heat {
        let middle = amps(soc - 0.5 * dt * amps(soc) / q);
        (soc, warm, t) = (soc - dt * middle / q, warm + dt * ohm * middle * middle, t + dt);
    }
    assert!(soc > 0.1 && amps(soc) > 1.5 * amps(1.0));
    let m = module(
        "m",
        &format!(
            "capacity = \"5 Ah\"\nresistance = \"20 mΩ\"\nfixed_resistance = \"20 mΩ\"\n\
             open_circuit = [[\"0 %\", \"1.5 V\"], [\"100 %\", \"3.4 V\"]]\nheat_capacity = \"1.2 kJ/K\"\n\
             heat_to_air = \"0 W/K\"\n{}",
            hot(35.0)
        ),
    );
    let more =
        "[load]\npower = \"2 kW\"\n[trials]\ncount = 1\nhorizon = \"10 min\"\nstep = \"20 s\"\nsoc = \"100 %\"\n";
    each_way_as_written(&[&m, SHORT, &stack(1), more], |r| at_moment(r.served_until, t, 2e-3 * t));
}

/// The same of a load that comes after 100 s: until then nothing warms the room.
#[test]
fn the_inverter_warms_the_room_once_it_is_loaded() {
    let inverter = "[inverter]\nrated = \"10 kW\"\nefficiency = \"80 %\"\n";
    let room = "[climate]\nair = \"10 °C\"\n[room]\nloss = \"50 W/K\"\nheat_capacity = \"500 kJ/K\"\n";
    let (e, ohm, load) = (52.0_f64, 10e-3_f64, 2000.0);
    let bus = load / 0.8;
    let amps = (e - (e * e - 4.0 * ohm * bus).sqrt()) / (2.0 * ohm);
    let settled = (amps * amps * ohm + bus - load) / 50.0;
    let wanted = 100.0 - 1e4 * f64::ln(1.0 - 0.3);
    let more = "[load]\npower = \"0 W\"\n[[surge]]\nname = \"s\"\npower = \"2 kW\"\nlasts = \"1 h\"\nat = [\"100 s\"]\n\
                [[surge]]\nname = \"t\"\npower = \"2 kW\"\nlasts = \"1 h\"\nat = [\"3700 s\"]\n\
                [trials]\ncount = 1\nhorizon = \"2 h\"\n";
    each_way_as_written(&[&plain(&hot(10.0 + 0.3 * settled)), SHORT, &stack(1), inverter, room, more], |r| {
        at_moment(r.served_until, wanted, 1e-3 * wanted);
    });
}

/// A night 5 K warmer than the record, and a sensor that reads 2 K too much: 100 W and 2 W/K bring a module to 50 K over its air, and
/// it is cut off where its sensor reads 60 °C: 28 K over air of 30 °C, after C/G·ln(50/(50 − 28)).
#[test]
fn a_warmer_night_and_a_sensor_that_reads_too_much() {
    let keys = format!("heat_capacity = \"20 kJ/K\"\nheat_to_air = \"2 W/K\"\n{}", hot(60.0));
    let more = "[climate]\nair = \"25 °C\"\n[load]\ncurrent = \"100 A\"\n[trials]\ncount = 1\nhorizon = \"6 h\"\n";
    let c = campaign(&[&plain(&keys), SHORT, &stack(1), more]);
    let mut realization = c.realization(0);
    (realization.temperature, realization.modules[0].sensor) = (5.0, 2.0);
    each_way(&c, &realization, |r| at_moment(r.served_until, 1e4 * f64::ln(50.0 / 22.0), 1e-2));
}
