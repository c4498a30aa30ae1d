//! From stacks, jumpers, leads and bus bar to a network with named elements.
//!
//! In: the scenario. Out: a `Bank`: the graph, and for each branch which module or conductor it is.
//! Branches of modules come first, so module k is branch k.

use super::{Branch, Network, NetworkError, Rail};
use crate::scenario::tables::copper_resistance;
use crate::scenario::{Bar, ConductorResistance, Scenario, Stack};

/// The network of a scenario, and what its branches are.
#[derive(Clone, Debug)]
pub struct Bank {
    pub network: Network,
    pub modules: Vec<ModuleElement>,
    pub conductors: Vec<ConductorElement>,
}

/// One module: the branch of the same number.
#[derive(Clone, Debug, PartialEq, Eq)]
pub struct ModuleElement {
    /// `A2`: position 2 of stack A.
    pub id: String,
    pub stack: usize,
    /// From the floor, from 0.
    pub position: usize,
}

/// One conductor: a jumper, one lead of a pair, or a stretch of bus bar, joints included.
#[derive(Clone, Debug, PartialEq)]
pub struct ConductorElement {
    /// `A.jumper1-2+`, `A.lead1-`, `bar1-2+`.
    pub id: String,
    pub conductor: ConductorResistance,
    /// Of each of its two joints [Ω]; 0 for a stretch of bar.
    pub contact: f64,
    /// [A]
    pub rating: Option<f64>,
}

impl ConductorElement {
    /// Whether it is one conductor of a lead pair, by its identifier.
    pub fn is_lead(&self) -> bool {
        self.id.contains(".lead")
    }

    /// Resistance at a temperature [°C] with its joints scaled by these factors [Ω].
    pub fn resistance(&self, celsius: f64, joints: [f64; 2]) -> f64 {
        let conductor = match self.conductor {
            ConductorResistance::Fixed(ohm) => ohm,
            ConductorResistance::Copper { at_20 } => copper_resistance(at_20, celsius),
        };
        conductor + self.contact * (joints[0] + joints[1])
    }
}

impl Bank {
    /// # Errors
    /// None for a legal scenario.
    pub fn new(scenario: &Scenario) -> Result<Bank, NetworkError> {
        let mut draft = Draft::with_bus(scenario);
        for (k, stack) in scenario.stacks.iter().enumerate() {
            draft.add_stack(scenario, k, stack);
        }
        draft.finish()
    }

    /// The identifier of a branch, be it a module or a conductor.
    pub fn branch_id(&self, branch: usize) -> &str {
        match branch.checked_sub(self.modules.len()) {
            None => &self.modules[branch].id,
            Some(conductor) => &self.conductors[conductor].id,
        }
    }

    /// Branch of conductor k.
    pub fn conductor_branch(&self, k: usize) -> usize {
        self.modules.len() + k
    }
}

/// A bank as it grows.
struct Draft {
    rails: Vec<Rail>,
    modules: Vec<(ModuleElement, Branch)>,
    conductors: Vec<(ConductorElement, Branch)>,
    /// Taps of the bus bar: distance, positive and negative node.
    taps: Vec<(f64, [usize; 2])>,
    load: [usize; 2],
}

const SIGNS: [char; 2] = ['+', '-'];

impl Draft {
    fn with_bus(scenario: &Scenario) -> Draft {
        let mut draft =
            Draft { rails: Vec::new(), modules: Vec::new(), conductors: Vec::new(), taps: Vec::new(), load: [0, 1] };
        match scenario.bar {
            Bar::Ideal => {
                let nodes = draft.node_pair();
                draft.taps.push((0.0, nodes));
                draft.load = nodes;
            }
            Bar::Tapped { per_metre, load_at, rating } => {
                draft.add_bar(scenario, per_metre, load_at, rating);
            }
        }
        draft
    }

    fn node_pair(&mut self) -> [usize; 2] {
        self.rails.extend([Rail::Positive, Rail::Negative]);
        [self.rails.len() - 2, self.rails.len() - 1]
    }

    /// Taps where leads and inverter meet the bars, in order, and the stretches between them.
    fn add_bar(&mut self, scenario: &Scenario, per_metre: f64, load_at: f64, rating: Option<f64>) {
        let leads = scenario.stacks.iter().flat_map(|s| &s.leads).map(|l| l.at);
        let mut places: Vec<f64> = leads.chain([load_at]).collect();
        places.sort_by(f64::total_cmp);
        places.dedup();
        for (k, &place) in places.iter().enumerate() {
            let nodes = self.node_pair();
            if place == load_at {
                self.load = nodes;
            }
            self.taps.push((place, nodes));
            if k == 0 {
                continue;
            }
            let ohm = per_metre * (place - places[k - 1]);
            for (rail, sign) in SIGNS.iter().enumerate() {
                let element = ConductorElement {
                    id: format!("bar{}-{}{sign}", k, k + 1),
                    conductor: ConductorResistance::Fixed(ohm),
                    contact: 0.0,
                    rating,
                };
                let from = self.taps[k - 1].1[rail];
                self.conductors.push((element, Branch { from, to: nodes[rail] }));
            }
        }
    }

    fn tap(&self, place: f64) -> [usize; 2] {
        let at = self.taps.iter().find(|t| t.0 == place);
        at.map_or(self.load, |t| t.1)
    }

    fn add_stack(&mut self, scenario: &Scenario, number: usize, stack: &Stack) {
        let nodes: Vec<[usize; 2]> = stack.positions.iter().map(|_| self.node_pair()).collect();
        for (k, pair) in nodes.iter().enumerate() {
            let id = format!("{}{}", stack.name, k + 1);
            let branch = Branch { from: pair[1], to: pair[0] };
            self.modules.push((ModuleElement { id, stack: number, position: k }, branch));
        }
        if let Some(jumper) = stack.jumper {
            for k in 1..nodes.len() {
                for (rail, sign) in SIGNS.iter().enumerate() {
                    let id = format!("{}.jumper{}-{}{sign}", stack.name, k, k + 1);
                    let branch = Branch { from: nodes[k - 1][rail], to: nodes[k][rail] };
                    self.add_cable(scenario, jumper, id, branch);
                }
            }
        }
        for (k, lead) in stack.leads.iter().enumerate() {
            let bus = self.tap(lead.at);
            let positive = Branch { from: nodes[lead.positive - 1][0], to: bus[0] };
            let negative = Branch { from: bus[1], to: nodes[lead.negative - 1][1] };
            for (branch, sign) in [positive, negative].into_iter().zip(SIGNS) {
                let id = format!("{}.lead{}{sign}", stack.name, k + 1);
                self.add_cable(scenario, lead.cable, id, branch);
            }
        }
    }

    fn add_cable(&mut self, scenario: &Scenario, cable: usize, id: String, branch: Branch) {
        let cable = &scenario.cables[cable];
        let element = ConductorElement { id, conductor: cable.conductor, contact: cable.contact, rating: cable.rating };
        self.conductors.push((element, branch));
    }

    fn finish(self) -> Result<Bank, NetworkError> {
        let (modules, sources): (Vec<_>, Vec<_>) = self.modules.into_iter().unzip();
        let (conductors, wires): (Vec<_>, Vec<_>) = self.conductors.into_iter().unzip();
        let branches = sources.into_iter().chain(wires).collect();
        let network = Network::new(self.rails, branches, self.load[0], self.load[1])?;
        Ok(Bank { network, modules, conductors })
    }
}
