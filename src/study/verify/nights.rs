//! Whole nights: charge, drift, heat.

use super::case::{Answer, Part, SHORT, one_module, scenario};
use crate::engine::record::Record;
use crate::engine::result::TrialResult;
use crate::math;
use crate::trials::Campaign;
use crate::trials::replay::replay;
use std::sync::atomic::AtomicBool;

pub fn part() -> Part {
    let mut part = Part::new("nights");
    endurance(&mut part);
    drift(&mut part);
    heat(&mut part);
    part
}

/// The first night of a scenario.
fn night(sections: &str) -> Option<(Record, TrialResult)> {
    let scenario = scenario(sections)?;
    let campaign = Campaign::new(&scenario, scenario.load.as_ref()?, scenario.trials.as_ref()?).ok()?;
    replay(&campaign, 0, &AtomicBool::new(false)).ok()
}

/// One module of 52 V in a night of so long, with further sections.
fn of_one(keys: &str, horizon: &str, sections: &str) -> Option<(Record, TrialResult)> {
    let bank = one_module(&format!("open_circuit = \"52 V\"\n{keys}"), SHORT);
    night(&format!("{bank}{sections}\n[trials]\ncount = 1\nhorizon = \"{horizon}\"\nsoc = \"90 %\"\n"))
}

fn endurance(part: &mut Part) {
    let served = |load: &str| Some(of_one("", "24 h", load)?.1.served_until?.hours());
    part.check(
        "100 Ah from 90 % at 10 A: hours to empty",
        "by hand: 90 Ah/10 A",
        Answer(9.0, 1e-6, "h"),
        served("[load]\ncurrent = \"10 A\""),
    );
    let amps = (52.0 - f64::sqrt(52.0 * 52.0 - 4.0 * 0.015 * 2000.0)) / (2.0 * 0.015);
    part.check(
        "the same at 2 kW, 52 V behind 15 mΩ: hours to empty",
        "by hand: 90 Ah over I of P = (E − R·I)·I; the leads' 2 nΩ do not show",
        Answer(90.0 / amps, 1e-6, "h"),
        served("[load]\npower = \"2 kW\""),
    );
}

/// Two modules whose voltage is straight in charge, 1.6 V from empty to full, on leads of 1 nΩ.
fn drift(part: &mut Part) {
    let module = |name: &str, milliohm: u32, hours: u32| {
        format!(
            "[module.{name}]\ncells = 16\ncapacity = \"{hours} Ah\"\nresistance = \"{milliohm} mΩ\"\n\
             open_circuit = [[\"0 %\", \"3.2 V\"], [\"100 %\", \"3.3 V\"]]\n\
             [[stack]]\nname = \"{name}\"\nmodule = \"{name}\"\ncount = 1\n\
             leads = [{{ cable = \"lead\", positive = 1, negative = 1 }}]\n"
        )
    };
    let found = night(&format!(
        "[cable.lead]\n{SHORT}\n{}{}[load]\ncurrent = \"100 A\"\n\
         [trials]\ncount = 1\nhorizon = \"1 h\"\nstep = \"10 s\"\nsoc = \"90 %\"\n",
        module("a", 15, 100),
        module("b", 20, 90)
    ));
    let last = found.as_ref().and_then(|f| f.0.moments.last());
    let source = "by hand: Δz = I·(R₁Q₁−R₂Q₂)/(a·(Q₁+Q₂))·(1 − e^(−t/τ)), τ = (R₁+R₂)/(a·(1/Q₁+1/Q₂)) = 3730.26 s, \
                  i₁ = (R₂·I + a·Δz)/(R₁+R₂)";
    part.check(
        "15 mΩ, 100 Ah beside 20 mΩ, 90 Ah, 100 A: current of the first after an hour",
        source,
        Answer(54.350164, 3e-6, "A"),
        last.map(|m| m.module_currents[0]),
    );
    part.check(
        "the same: charge of the first less that of the second",
        source,
        Answer(-0.06109017, 3e-8, ""),
        last.map(|m| m.module_charges[0] - m.module_charges[1]),
    );
}

/// 100 A through 15 mΩ, which is 150 W, for an hour in air of 10 °C.
fn heat(part: &mut Part) {
    let after_an_hour = |to_air: &str| {
        let keys = format!("heat_capacity = \"45 kJ/K\"\nheat_to_air = \"{to_air}\"");
        let bank = one_module(&format!("open_circuit = \"52 V\"\n{keys}"), SHORT).replace("100 Ah", "200 Ah");
        let rest = "[load]\ncurrent = \"100 A\"\n[climate]\nair = \"10 °C\"\n[trials]\ncount = 1\nhorizon = \"1 h\"\n";
        night(&format!("{bank}{rest}"))?.0.moments.last().map(|m| m.module_temperatures[0])
    };
    part.check(
        "150 W into 45 kJ/K for an hour, from 10 °C, with nowhere to go",
        "by hand: Q = C·ΔT",
        Answer(22.0, 1e-8, "°C"),
        after_an_hour("0 W/K"),
    );
    let cooled = 10.0 + 150.0 / 5.7 * (1.0 - math::exp(-5.7 * 3600.0 / 45e3));
    part.check(
        "the same with 5.7 W/K to the air",
        "by hand: ΔT = q/G·(1 − e^(−G·t/C))",
        Answer(cooled, 1e-8, "°C"),
        after_an_hour("5.7 W/K"),
    );
}
