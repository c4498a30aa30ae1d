//! The layouts of a scenario, ready to be compared.
//!
//! In: a scenario and the layouts that it proposes. Out: each with its parts, and one campaign for those that
//! cannot differ in any night, such as two that differ in price alone.

use crate::diagnostic::{Diagnostic, Fault};
use crate::network::Network;
use crate::network::bank::{ConductorElement, ModuleElement};
use crate::scenario::check::Checked;
use crate::scenario::check::layouts::AS_WRITTEN;
use crate::scenario::{Controller, DeviceType, Layout, ModuleType, Scenario};
use crate::study::parts::{self, Parts};
use crate::summary::counts::Counts;
use crate::summary::{Results, assemble};
use crate::trials::{Campaign, Options, RunError};

/// One layout, its parts list, and the campaign that simulates its nights.
#[derive(Clone, Debug)]
pub struct Candidate {
    /// Name of the layout.
    pub name: String,
    /// The scenario with this layout.
    pub scenario: Scenario,
    /// What has to be bought for it.
    pub parts: Parts,
    /// Index of its campaign in `campaigns`; layouts with the same nights share one.
    pub campaign: usize,
}

/// The layouts, ready to run.
#[derive(Debug)]
pub struct Candidates {
    /// The scenario as written first.
    pub list: Vec<Candidate>,
    /// One campaign for each group of layouts with the same nights.
    pub campaigns: Vec<Campaign>,
    /// Number of nights, seed and number of threads.
    pub options: Options,
}

impl Candidates {
    /// The layouts of a scenario as it was read.
    ///
    /// # Errors
    /// A scenario that lacks its load, its trials or any layout beside itself.
    pub fn new(checked: &Checked, options: Options) -> Result<Candidates, RunError> {
        let base = options.apply(checked)?;
        if checked.layouts.is_empty() {
            let message = "the scenario proposes no layout beside itself".to_owned();
            let label = "the file ends here, without [[layout]] or [layouts]".to_owned();
            let help = "add [[layout]] with a `name` and what differs, or [layouts] with `lead_pairs` and `take_off`";
            let fault = Diagnostic::at_end(&checked.text, Fault::Missing, message, label, help.to_owned());
            return Err(RunError::Input(vec![fault]));
        }
        Candidates::of(base, &checked.layouts, options)
    }

    /// These layouts of a scenario that has its load and its trials.
    ///
    /// # Errors
    /// A scenario that lacks its load or its trials.
    pub fn of(base: Scenario, layouts: &[Layout], options: Options) -> Result<Candidates, RunError> {
        let proposed: Vec<_> = layouts.iter().map(|layout| (layout.name.clone(), layout.of(&base))).collect();
        let mut candidates = Candidates { list: Vec::new(), campaigns: Vec::new(), options };
        let mut seen: Vec<Seen> = Vec::new();
        for (name, scenario) in std::iter::once((AS_WRITTEN.to_owned(), base)).chain(proposed) {
            let campaign = Campaign::of(&scenario)?;
            let sees = Seen::of(&scenario, &campaign);
            let number = seen.iter().position(|known| *known == sees).unwrap_or(seen.len());
            if number == seen.len() {
                seen.push(sees);
                candidates.campaigns.push(campaign);
            }
            let parts = parts::list(&scenario);
            candidates.list.push(Candidate { name, scenario, parts, campaign: number });
        }
        Ok(candidates)
    }

    /// The first layout of each campaign, in the order of the campaigns.
    pub fn distinct(&self) -> impl Iterator<Item = &Candidate> {
        (0..self.campaigns.len()).filter_map(|campaign| self.list.iter().find(|c| c.campaign == campaign))
    }

    /// Index of the first layout with the same nights.
    pub fn stands_for(&self, candidate: usize) -> usize {
        let campaign = self.list[candidate].campaign;
        self.list.iter().position(|c| c.campaign == campaign).unwrap_or(candidate)
    }

    /// Whether anything is random in any layout.
    pub fn is_random(&self) -> bool {
        self.campaigns.iter().any(|campaign| campaign.model.random)
    }

    /// Nights that each layout goes through at most.
    pub fn trials(&self) -> u64 {
        self.campaigns[0].model.trials.count
    }

    /// The document of `run` for one layout.
    pub fn results(&self, candidate: &Candidate, counts: &Counts) -> Results {
        assemble::results(&candidate.scenario, &self.campaigns[candidate.campaign].model, counts, None, Vec::new())
    }
}

/// Everything in a layout that can change a night: not names of types, nor prices.
#[derive(PartialEq)]
struct Seen {
    network: Network,
    modules: Vec<(ModuleElement, ModuleType, Start)>,
    conductors: Vec<ConductorElement>,
    /// Identifier, branch and type.
    devices: Vec<(String, usize, DeviceType)>,
    heat_to_floor: Vec<Option<f64>>,
    controller: Option<Controller>,
}

/// Charge, and factors of resistance and open-circuit voltage, where a position has its own.
type Start = [Option<f64>; 3];

impl Seen {
    fn of(scenario: &Scenario, campaign: &Campaign) -> Seen {
        let bank = &campaign.model.bank;
        let modules = bank.modules.iter().map(|module| {
            let position = &scenario.stacks[module.stack].positions[module.position];
            let kind = &scenario.modules[position.module];
            let kind = ModuleType { name: String::new(), price: None, ..kind.clone() };
            (module.clone(), kind, [position.soc, position.resistance, position.open_circuit])
        });
        let devices = bank.devices.iter().map(|fitted| {
            let kind = &scenario.devices[fitted.device];
            (fitted.id.clone(), fitted.branch, DeviceType { name: String::new(), price: None, ..kind.clone() })
        });
        Seen {
            network: bank.network.clone(),
            modules: modules.collect(),
            conductors: bank.conductors.clone(),
            devices: devices.collect(),
            heat_to_floor: scenario.stacks.iter().map(|s| s.heat_to_floor).collect(),
            controller: scenario.controller.clone(),
        }
    }
}
