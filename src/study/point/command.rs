//! `bankwright point`: one operating point as a table or as JSON.

use crate::cli::prelude::*;
use crate::engine::ambient::DEFAULT_AIR;
use crate::network::Demand;
use crate::study::point::output as point_table;
use crate::study::point::{Question, solve};

const CAUTION: Caution = Caution::of_bank(
    "Computed, not measured. Modules are live at their terminals: measure and work as local codes and manuals require.",
);

#[derive(Debug, Args)]
#[command(group = clap::ArgGroup::new("demand").required(true))]
pub struct Arguments {
    #[command(flatten)]
    common: Common,
    /// Current at the bus, positive in discharge [A]
    #[arg(long, group = "demand", allow_negative_numbers = true, value_parser = finite)]
    current: Option<f64>,
    /// Power at the bus, positive in discharge [W]
    #[arg(long, group = "demand", allow_negative_numbers = true, value_parser = finite)]
    power: Option<f64>,
    /// Charge of every module, 0 to 1 [default: the scenario's]
    #[arg(long, value_parser = share)]
    soc: Option<f64>,
    /// Temperature of everything [°C]
    #[arg(long, default_value_t = DEFAULT_AIR, allow_negative_numbers = true, value_parser = celsius)]
    air: f64,
    /// Modules out of service, separated by commas
    #[arg(long, value_delimiter = ',')]
    without: Vec<String>,
}

pub fn run(args: &Arguments) -> Result<u8, Failure> {
    let checked = args.common.read()?;
    let demand = match (args.current, args.power) {
        (Some(amps), _) => Demand::Current(amps),
        (None, power) => Demand::Power(power.unwrap_or(0.0)),
    };
    let without = args.without.iter().map(|id| id.trim().to_string());
    let question =
        Question { demand, soc: args.soc, air: args.air, without: without.filter(|id| !id.is_empty()).collect() };
    let point = solve(&checked.scenario, &question)?;
    let cautions = Cautions::new(CAUTION, checked.scenario.from_memory());
    let text = || point_table::table(&checked.scenario.title, &question, &point);
    screen::answer(args.common.json, &point, &cautions, text)?;
    Ok(DONE)
}
