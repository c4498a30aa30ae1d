//! From stacks, jumpers, leads and bus bar to a network with named elements.
//!
//! In: the scenario. Out: a `Bank`: the graph, and for each branch which module or conductor it is.
//! Branches of modules come first, so module k is branch k.

use super::{Branch, Network, NetworkError, Rail};
use crate::scenario::tables::copper_resistance;
use crate::scenario::{Ampacity, Bar, CableType, ConductorResistance, Fitted, Scenario, Stack};

/// The network of a scenario, and what its branches are.
#[derive(Clone, Debug)]
pub struct Bank {
    /// Nodes, branches and terminals.
    pub network: Network,
    /// The modules, in the order of their branches, which come first.
    pub modules: Vec<ModuleElement>,
    /// The conductors, in the order of their branches, which follow those of the modules.
    pub conductors: Vec<ConductorElement>,
    /// The protective devices, in the order of their branches.
    pub devices: Vec<DeviceElement>,
}

/// One module: the branch of the same number.
#[derive(Clone, Debug, PartialEq)]
pub struct ModuleElement {
    /// `A2`: position 2 of stack A.
    pub id: String,
    /// Number of its stack, from 0.
    pub stack: usize,
    /// Position in the stack, counted from 0 at the floor.
    pub position: usize,
    /// Resistance of the protective devices between it and its rails [Ω].
    pub device: f64,
}

/// One conductor: a jumper, one lead of a pair, or a stretch of bus bar, joints included.
#[derive(Clone, Debug, PartialEq)]
pub struct ConductorElement {
    /// `A.jumper1-2+`, `A.lead1-`, `bar1-2+`.
    pub id: String,
    /// What it is in the bank.
    pub role: ConductorRole,
    /// The side of the bank that it is on.
    pub rail: Rail,
    /// Its resistance, without joints and device.
    pub conductor: ConductorResistance,
    /// Resistance of each of its two joints [Ω]; 0 for a stretch of bar.
    pub contact: f64,
    /// Rated current [A]; `None`: unrated.
    pub rating: Option<f64>,
    /// What its insulation allows; `None`: not known.
    pub ampacity: Option<Ampacity>,
    /// Section of its copper [mm²], where known.
    pub section: Option<f64>,
    /// Resistance of the protective device in it [Ω]; 0 without one.
    pub device: f64,
}

/// What a conductor is in the bank.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum ConductorRole {
    /// Between two neighbours of a stack.
    Jumper,
    /// One conductor of a lead pair.
    Lead,
    /// A stretch of bus bar.
    Bar,
    /// The main device, between the bar and the load.
    Main,
}

/// A protective device, in the branch that it opens.
#[derive(Clone, Debug, PartialEq, Eq)]
pub struct DeviceElement {
    /// `A.lead1+.fuse`, `A2.breaker`.
    pub id: String,
    /// Index into `Scenario::devices`.
    pub device: usize,
    /// Number of the branch that it opens.
    pub branch: usize,
}

impl ConductorElement {
    /// A resistance that nothing else is known of.
    fn plain(id: String, role: ConductorRole, rail: Rail, ohm: f64) -> ConductorElement {
        ConductorElement {
            id,
            role,
            rail,
            conductor: ConductorResistance::Fixed(ohm),
            contact: 0.0,
            rating: None,
            ampacity: None,
            section: None,
            device: 0.0,
        }
    }

    /// The same made of this cable.
    fn of_cable(self, cable: &CableType) -> ConductorElement {
        let CableType { conductor, contact, rating, ampacity, section, .. } = *cable;
        ConductorElement { conductor, contact, rating, ampacity, section, ..self }
    }

    /// What it may carry in this air [°C]: the lesser of its rating and what its insulation allows there.
    pub fn limit(&self, air: f64) -> Option<f64> {
        let ampacity = self.ampacity.map(|a| a.limit(air));
        self.rating.into_iter().chain(ampacity).reduce(f64::min)
    }

    /// The same in the air that its insulation's figure is for.
    pub fn nominal_limit(&self) -> Option<f64> {
        self.limit(self.ampacity.map_or(0.0, |a| a.base))
    }

    /// Resistance at a temperature [°C] with its joints scaled by these factors [Ω].
    pub fn resistance(&self, celsius: f64, joints: [f64; 2]) -> f64 {
        let conductor = match self.conductor {
            ConductorResistance::Fixed(ohm) => ohm,
            ConductorResistance::Copper { at_20 } => copper_resistance(at_20, celsius),
        };
        conductor + self.contact * (joints[0] + joints[1]) + self.device
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
        draft.add_main(scenario);
        draft.finish(scenario)
    }

    /// The identifier of a branch, be it a module or a conductor.
    pub fn branch_id(&self, branch: usize) -> &str {
        self.conductor(branch).map_or_else(|| &self.modules[branch].id, |conductor| &conductor.id)
    }

    /// The conductor that a branch is; `None` for a module.
    pub fn conductor(&self, branch: usize) -> Option<&ConductorElement> {
        self.conductors.get(self.conductor_of(branch)?)
    }

    /// The number of that conductor; `None` for a module.
    pub fn conductor_of(&self, branch: usize) -> Option<usize> {
        branch.checked_sub(self.modules.len())
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
    /// Device types by the identifier of what they stand in.
    devices: Vec<(String, usize)>,
    /// Taps of the bus bar: distance, positive and negative node.
    taps: Vec<(f64, [usize; 2])>,
    load: [usize; 2],
}

const SIDES: [(Rail, char); 2] = [(Rail::Positive, '+'), (Rail::Negative, '-')];

impl Draft {
    fn with_bus(scenario: &Scenario) -> Draft {
        let mut draft = Draft {
            rails: Vec::new(),
            modules: Vec::new(),
            conductors: Vec::new(),
            devices: Vec::new(),
            taps: Vec::new(),
            load: [0, 1],
        };
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
            for ((rail, sign), (from, to)) in SIDES.into_iter().zip(self.taps[k - 1].1.into_iter().zip(nodes)) {
                let id = format!("bar{}-{}{sign}", k, k + 1);
                let element = ConductorElement::plain(id, ConductorRole::Bar, rail, ohm);
                self.conductors.push((ConductorElement { rating, ..element }, Branch { from, to }));
            }
        }
    }

    fn tap(&self, place: f64) -> [usize; 2] {
        let at = self.taps.iter().find(|t| t.0 == place);
        at.map_or(self.load, |t| t.1)
    }

    fn add_stack(&mut self, scenario: &Scenario, number: usize, stack: &Stack) {
        let nodes: Vec<[usize; 2]> = stack.positions.iter().map(|_| self.node_pair()).collect();
        let device = stack.module_device.map_or(0.0, |f| {
            let each = scenario.devices[f.device].resistance;
            each * f64::from(f.poles.count())
        });
        for (k, pair) in nodes.iter().enumerate() {
            let id = format!("{}{}", stack.name, k + 1);
            self.fit(stack.module_device, &id);
            let branch = Branch { from: pair[1], to: pair[0] };
            self.modules.push((ModuleElement { id, stack: number, position: k, device }, branch));
        }
        if let Some(jumper) = stack.jumper {
            for k in 1..nodes.len() {
                for ((rail, sign), (from, to)) in SIDES.into_iter().zip(nodes[k - 1].into_iter().zip(nodes[k])) {
                    let id = format!("{}.jumper{}-{}{sign}", stack.name, k, k + 1);
                    let element = ConductorElement::plain(id, ConductorRole::Jumper, rail, 0.0);
                    self.conductors.push((element.of_cable(&scenario.cables[jumper]), Branch { from, to }));
                }
            }
        }
        for (k, lead) in stack.leads.iter().enumerate() {
            let bus = self.tap(lead.at);
            let positive = Branch { from: nodes[lead.positive - 1][0], to: bus[0] };
            let negative = Branch { from: bus[1], to: nodes[lead.negative - 1][1] };
            for (branch, (rail, sign)) in [positive, negative].into_iter().zip(SIDES) {
                let id = format!("{}.lead{}{sign}", stack.name, k + 1);
                let fitted = lead.device.filter(|f| f.poles.has(rail == Rail::Positive));
                self.fit(fitted, &id);
                let device = fitted.map_or(0.0, |f| scenario.devices[f.device].resistance);
                let element = ConductorElement::plain(id, ConductorRole::Lead, rail, 0.0);
                let element = element.of_cable(&scenario.cables[lead.cable]);
                self.conductors.push((ConductorElement { device, ..element }, branch));
            }
        }
    }

    /// The main devices, between the bar and the load: what the load meets moves behind them.
    fn add_main(&mut self, scenario: &Scenario) {
        let Some(main) = scenario.main else { return };
        for (k, (rail, sign)) in SIDES.into_iter().enumerate() {
            let positive = rail == Rail::Positive;
            if !main.poles.has(positive) {
                continue;
            }
            let id = format!("main{sign}");
            self.fit(Some(main), &id);
            let ohm = scenario.devices[main.device].resistance;
            let (bar, behind) = (self.load[k], self.rails.len());
            self.rails.push(rail);
            let branch = if positive { Branch { from: bar, to: behind } } else { Branch { from: behind, to: bar } };
            self.conductors.push((ConductorElement::plain(id, ConductorRole::Main, rail, ohm), branch));
            self.load[k] = behind;
        }
    }

    fn fit(&mut self, fitted: Option<Fitted>, element: &str) {
        self.devices.extend(fitted.map(|f| (element.to_owned(), f.device)));
    }

    fn finish(self, scenario: &Scenario) -> Result<Bank, NetworkError> {
        let (modules, sources): (Vec<ModuleElement>, Vec<_>) = self.modules.into_iter().unzip();
        let (conductors, wires): (Vec<ConductorElement>, Vec<_>) = self.conductors.into_iter().unzip();
        let branches = sources.into_iter().chain(wires).collect();
        let network = Network::new(self.rails, branches, self.load[0], self.load[1])?;
        let ids = modules.iter().map(|m| &m.id).chain(conductors.iter().map(|c| &c.id));
        let fitted = ids.enumerate().filter_map(|(branch, id)| {
            let (_, device) = *self.devices.iter().find(|(element, _)| element == id)?;
            let kind = scenario.devices[device].kind;
            Some(DeviceElement { id: format!("{id}.{}", kind.word()), device, branch })
        });
        let devices = fitted.collect();
        Ok(Bank { network, modules, conductors, devices })
    }
}
