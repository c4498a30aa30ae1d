//! The inputs that move a limit: properties of types, and counts.
//!
//! In: a scenario. Out: each input that it has, and the scenario with one of them changed.

use crate::scenario::{Bar, ConductorResistance, Scenario, Stack};
use serde::Serialize;

/// The property that changes by a tenth, or the piece that is added.
#[derive(Clone, Copy, Debug, PartialEq, Eq, Serialize)]
#[serde(rename_all = "snake_case")]
pub enum Kind {
    /// Resistance of a module type.
    ModuleResistance,
    /// Discharge limit of a module type.
    DischargeLimit,
    /// Charge limit of a module type.
    ChargeLimit,
    /// Resistance of a cable type.
    CableResistance,
    /// Resistance of the joints of a cable type.
    CableContact,
    /// Rated current of a cable type.
    CableRating,
    /// What the insulation of a cable type allows.
    CableAmpacity,
    /// Resistance of a device type.
    DeviceResistance,
    /// Resistance of the bus bar.
    BarResistance,
    /// Rated current of the bus bar.
    BarRating,
    /// One more lead pair, beside the last one of the stack.
    LeadPair,
    /// One more module on top of the stack.
    Module,
    /// One more lead pair on every stack.
    LeadPairEach,
    /// One more module on every stack.
    ModuleEach,
}

impl Kind {
    /// Whether there is one more of it, and not a tenth.
    pub fn is_count(self) -> bool {
        matches!(self, Kind::LeadPair | Kind::Module | Kind::LeadPairEach | Kind::ModuleEach)
    }
}

display_as_serialised!(Kind);

/// One input: its kind, and the number of its type or stack.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub struct Input {
    kind: Kind,
    at: usize,
}

/// All inputs that a scenario has.
pub fn inputs(scenario: &Scenario) -> Vec<Input> {
    let mut all = Vec::new();
    let mut add = |is: bool, kind: Kind, at: usize| {
        if is {
            all.push(Input { kind, at });
        }
    };
    for (at, kind) in scenario.modules.iter().enumerate() {
        let used = scenario.stacks.iter().flat_map(|s| &s.positions).any(|p| p.module == at);
        add(used, Kind::ModuleResistance, at);
        add(used && kind.discharge_limit.is_some(), Kind::DischargeLimit, at);
        add(used && kind.charge_limit.is_some(), Kind::ChargeLimit, at);
    }
    for (at, cable) in scenario.cables.iter().enumerate() {
        let leads = scenario.stacks.iter().flat_map(|s| &s.leads).any(|l| l.cable == at);
        let used = leads || scenario.stacks.iter().any(|s| s.jumper == Some(at) && s.positions.len() > 1);
        add(used, Kind::CableResistance, at);
        add(used && cable.contact > 0.0, Kind::CableContact, at);
        add(used && cable.rating.is_some(), Kind::CableRating, at);
        add(used && cable.ampacity.is_some(), Kind::CableAmpacity, at);
    }
    for (at, device) in scenario.devices.iter().enumerate() {
        add(device.resistance > 0.0, Kind::DeviceResistance, at);
    }
    if let Bar::Tapped { per_metre, rating, .. } = scenario.bar {
        add(per_metre > 0.0, Kind::BarResistance, 0);
        add(rating.is_some(), Kind::BarRating, 0);
    }
    for (at, stack) in scenario.stacks.iter().enumerate() {
        add(!stack.leads.is_empty(), Kind::LeadPair, at);
        add(stack.jumper.is_some() && !stack.positions.is_empty(), Kind::Module, at);
    }
    let several = scenario.stacks.len() > 1;
    add(several, Kind::LeadPairEach, 0);
    add(several && scenario.stacks.iter().all(|s| s.jumper.is_some()), Kind::ModuleEach, 0);
    all
}

impl Input {
    pub fn kind(self) -> Kind {
        self.kind
    }

    /// Number of pieces that it adds to the bank.
    pub fn pieces(self, scenario: &Scenario) -> usize {
        match self.kind {
            Kind::LeadPair | Kind::Module => 1,
            Kind::LeadPairEach | Kind::ModuleEach => scenario.stacks.len(),
            _ => 0,
        }
    }

    /// The name of its type or stack.
    pub fn of(self, scenario: &Scenario) -> String {
        let name = match self.kind {
            Kind::ModuleResistance | Kind::DischargeLimit | Kind::ChargeLimit => {
                scenario.modules.get(self.at).map(|m| &m.name)
            }
            Kind::CableResistance | Kind::CableContact | Kind::CableRating | Kind::CableAmpacity => {
                scenario.cables.get(self.at).map(|c| &c.name)
            }
            Kind::DeviceResistance => scenario.devices.get(self.at).map(|d| &d.name),
            Kind::LeadPair | Kind::Module => scenario.stacks.get(self.at).map(|s| &s.name),
            Kind::BarResistance | Kind::BarRating => return "bar".to_string(),
            Kind::LeadPairEach | Kind::ModuleEach => return "every stack".to_string(),
        };
        name.cloned().unwrap_or_default()
    }

    /// The scenario with this input multiplied by `factor`; a number of pieces instead becomes one greater.
    pub fn changed(self, scenario: &Scenario, factor: f64) -> Scenario {
        let mut changed = scenario.clone();
        let s = &mut changed;
        let scale = |amps: &mut Option<f64>| *amps = amps.map(|a| a * factor);
        match self.kind {
            Kind::ModuleResistance => {
                let resistance = &mut s.modules[self.at].resistance;
                (resistance.fixed, resistance.cell) = (resistance.fixed * factor, resistance.cell * factor);
                let positions = s.stacks.iter_mut().flat_map(|stack| &mut stack.positions);
                positions.filter(|p| p.module == self.at).for_each(|p| scale(&mut p.resistance));
            }
            Kind::DischargeLimit => scale(&mut s.modules[self.at].discharge_limit),
            Kind::ChargeLimit => scale(&mut s.modules[self.at].charge_limit),
            Kind::CableResistance => match &mut s.cables[self.at].conductor {
                ConductorResistance::Fixed(ohm) | ConductorResistance::Copper { at_20: ohm } => *ohm *= factor,
            },
            Kind::CableContact => s.cables[self.at].contact *= factor,
            Kind::CableRating => scale(&mut s.cables[self.at].rating),
            Kind::CableAmpacity => {
                if let Some(ampacity) = &mut s.cables[self.at].ampacity {
                    ampacity.current *= factor;
                    if let Some(terminal) = &mut ampacity.terminal {
                        terminal.current *= factor;
                    }
                }
            }
            Kind::DeviceResistance => s.devices[self.at].resistance *= factor,
            Kind::BarResistance => {
                if let Bar::Tapped { per_metre, .. } = &mut s.bar {
                    *per_metre *= factor;
                }
            }
            Kind::BarRating => {
                if let Bar::Tapped { rating, .. } = &mut s.bar {
                    scale(rating);
                }
            }
            Kind::LeadPair => one_more_pair(&mut s.stacks[self.at]),
            Kind::Module => one_more_module(&mut s.stacks[self.at]),
            Kind::LeadPairEach => s.stacks.iter_mut().for_each(one_more_pair),
            Kind::ModuleEach => s.stacks.iter_mut().for_each(one_more_module),
        }
        changed
    }
}

fn one_more_pair(stack: &mut Stack) {
    stack.leads.extend(stack.leads.last().copied());
}

fn one_more_module(stack: &mut Stack) {
    stack.positions.extend(stack.positions.last().cloned());
}
