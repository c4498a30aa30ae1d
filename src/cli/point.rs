//! `bankwright point`: one operating point as a table or as JSON.

use super::{Common, DONE, Failure, print, print_json, read};
use crate::engine::ambient::DEFAULT_AIR;
use crate::network::Demand;
use crate::output::kit::cautions::{Answer, Cautions};
use crate::output::point as point_table;
use crate::study::point::{PointError, Question, solve};
use clap::Args;

#[derive(Debug, Args)]
#[command(group = clap::ArgGroup::new("demand").required(true))]
pub struct PointArgs {
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

pub fn point(args: &PointArgs) -> Result<u8, Failure> {
    let checked = read(&args.common)?;
    let demand = match (args.current, args.power) {
        (Some(amps), _) => Demand::Current(amps),
        (None, power) => Demand::Power(power.unwrap_or(0.0)),
    };
    let without = args.without.iter().map(|id| id.trim().to_string());
    let question =
        Question { demand, soc: args.soc, air: args.air, without: without.filter(|id| !id.is_empty()).collect() };
    let point = solve(&checked.scenario, &question).map_err(|error| match error {
        PointError::NoSuchModule(..) => Failure::Usage(error.to_string()),
        _ => Failure::Machine(error.to_string()),
    })?;
    let cautions = Cautions::new(Answer::Point, checked.scenario.from_memory());
    if args.common.json {
        print_json(&point, &cautions)?;
    } else {
        print(&(point_table::table(&checked.scenario.title, &question, &point) + &cautions.text()))?;
    }
    Ok(DONE)
}

pub(super) fn finite(text: &str) -> Result<f64, String> {
    match text.parse::<f64>() {
        Ok(x) if x.is_finite() && x.abs() < 1e9 => Ok(x),
        _ => Err("a number between -1e9 and 1e9 is wanted, without a unit".to_string()),
    }
}

pub(super) fn share(text: &str) -> Result<f64, String> {
    match text.parse::<f64>() {
        Ok(x) if (0.0..=1.0).contains(&x) => Ok(x),
        _ => Err("a number from 0 to 1 is wanted, as 0.9 for 90 %".to_string()),
    }
}

pub(super) fn celsius(text: &str) -> Result<f64, String> {
    match text.parse::<f64>() {
        Ok(x) if (-100.0..=150.0).contains(&x) => Ok(x),
        _ => Err("a temperature from -100 to 150 °C is wanted, without a unit".to_string()),
    }
}
