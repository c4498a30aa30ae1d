//! The parts list of a layout: what has to be bought, how much of it, and what it costs.
//!
//! In: a scenario. Out: a line for each type of part, in a fixed order, and the sum of the prices that are known. Jumpers and
//! leads are counted by conductor, two for each pair; each conductor has two joints. A bus bar with a resistance counts as
//! two parts, one for each pole, from the first tap to the last; an ideal bus bar is a point and not a part. Labour is not
//! included.

use crate::scenario::{Bar, CableType, DeviceKind, Fitted, Per, Scenario, Wire};
use crate::units::plain;
use serde::Serialize;
use std::collections::BTreeSet;

/// What a part is. Its words are the same on screen, in JSON and in CSV; the items are in the order of the alphabet.
#[derive(Clone, Copy, Debug, PartialEq, Eq, PartialOrd, Ord, Serialize)]
#[serde(rename_all = "lowercase")]
pub enum Item {
    /// A bus bar of one pole.
    Bar,
    /// A circuit breaker.
    Breaker,
    /// A communication cable.
    Communication,
    /// An earthing conductor.
    Earthing,
    /// A fuse-link.
    Fuse,
    /// One end of a conductor.
    Joint,
    /// One conductor of a pair between neighbours.
    Jumper,
    /// One conductor of a lead pair.
    Lead,
    /// A battery module.
    Module,
}

display_as_serialised!(Item);

/// One kind of part.
#[derive(Clone, Debug, PartialEq, Serialize)]
pub struct Part {
    /// What it is.
    pub item: Item,
    /// Name of the type; empty where the scenario has no types of it.
    pub kind: String,
    /// Section of a conductor, rated current of a device; empty: not stated.
    pub size: String,
    /// Length of one piece [m]; null where it is not stated.
    pub length_m: Option<f64>,
    /// Number of pieces.
    pub count: u64,
    /// Price of one piece; null where it is not stated.
    pub unit_price: Option<f64>,
}

impl Part {
    /// Price of all pieces; `None` where that of one is not stated.
    pub fn price(&self) -> Option<f64> {
        self.unit_price.map(|price| price * self.count as f64)
    }
}

/// All parts of a layout.
#[derive(Clone, Debug, PartialEq, Serialize)]
pub struct Parts {
    /// A line for each type of part.
    pub parts: Vec<Part>,
    /// Sum of the parts that have a price; null where none has one.
    pub price: Option<f64>,
    /// Items without a price, that the sum leaves out.
    pub unpriced: Vec<Item>,
}

/// The parts list of a scenario.
pub fn list(scenario: &Scenario) -> Parts {
    let of_each: [fn(&Scenario) -> Vec<Part>; 6] = [modules, conductors, bars, devices, joints, wires];
    let parts = of_each.map(|list| list(scenario)).concat();
    let prices: Vec<f64> = parts.iter().filter_map(Part::price).collect();
    let mut unpriced: Vec<Item> = parts.iter().filter(|p| p.unit_price.is_none()).map(|p| p.item).collect();
    unpriced.dedup();
    Parts { parts, price: (!prices.is_empty()).then(|| prices.iter().sum()), unpriced }
}

/// Items that some of the lists has and that have no price, each once.
pub fn unpriced<'a>(lists: impl Iterator<Item = &'a [Item]>) -> Vec<Item> {
    BTreeSet::from_iter(lists.flatten().copied()).into_iter().collect()
}

/// An item that has a price for some of its types and none for others, with the first of the lists that lacks one:
/// sums with and without it cannot be held against each other. An item that has a price nowhere is left out of all.
pub fn half_priced<'a>(lists: &[&'a Parts]) -> Option<(usize, &'a Part)> {
    let priced = |item: Item| lists.iter().flat_map(|l| &l.parts).any(|p| p.item == item && p.unit_price.is_some());
    let lacking = |list: &&'a Parts| list.parts.iter().find(|p| p.unit_price.is_none() && priced(p.item));
    lists.iter().enumerate().find_map(|(k, list)| Some((k, lacking(list)?)))
}

fn modules(scenario: &Scenario) -> Vec<Part> {
    let positions = || scenario.stacks.iter().flat_map(|s| &s.positions);
    let count = |k: usize| positions().filter(|p| p.module == k).count() as u64;
    let line = |(k, module): (usize, &crate::scenario::ModuleType)| Part {
        item: Item::Module,
        kind: module.name.clone(),
        size: String::new(),
        length_m: None,
        count: count(k),
        unit_price: module.price,
    };
    present(scenario.modules.iter().enumerate().map(line))
}

/// How many conductors of a cable type are jumpers, and how many are leads.
fn used(scenario: &Scenario, cable: usize) -> [u64; 2] {
    let jumpers = scenario.stacks.iter().filter(|s| s.jumper == Some(cable)).map(|s| s.positions.len() - 1);
    let pairs = scenario.stacks.iter().flat_map(|s| &s.leads).filter(|lead| lead.cable == cable).count();
    [2 * jumpers.sum::<usize>() as u64, 2 * pairs as u64]
}

fn conductors(scenario: &Scenario) -> Vec<Part> {
    let of = |(which, item): (usize, Item)| {
        let line = move |(k, cable): (usize, &CableType)| Part {
            item,
            kind: cable.name.clone(),
            size: cable.size.clone().unwrap_or_default(),
            length_m: cable.length,
            count: used(scenario, k)[which],
            unit_price: cable.price,
        };
        present(scenario.cables.iter().enumerate().map(line))
    };
    [(0, Item::Jumper), (1, Item::Lead)].into_iter().flat_map(of).collect()
}

/// A scenario knows no section of its bars, and no price.
fn bars(scenario: &Scenario) -> Vec<Part> {
    let Bar::Tapped { load_at, .. } = scenario.bar else { return Vec::new() };
    let taps = || scenario.stacks.iter().flat_map(|s| &s.leads).map(|lead| lead.at).chain([load_at]);
    let (first, last) = (taps().fold(f64::INFINITY, f64::min), taps().fold(f64::NEG_INFINITY, f64::max));
    let bar = Part {
        item: Item::Bar,
        kind: String::new(),
        size: String::new(),
        length_m: Some(last - first),
        count: if last > first { 2 } else { 0 },
        unit_price: None,
    };
    present(std::iter::once(bar))
}

fn devices(scenario: &Scenario) -> Vec<Part> {
    let poles =
        |fitted: Option<Fitted>, times: usize| fitted.map(|f| (f.device, u64::from(f.poles.count()) * times as u64));
    let of_stacks = scenario.stacks.iter().flat_map(|stack| {
        let leads = stack.leads.iter().map(|lead| poles(lead.device, 1));
        leads.chain([poles(stack.module_device, stack.positions.len())])
    });
    let fitted: Vec<(usize, u64)> = of_stacks.chain([poles(scenario.main, 1)]).flatten().collect();
    let line = |(k, device): (usize, &crate::scenario::DeviceType)| Part {
        item: if device.kind == DeviceKind::Fuse { Item::Fuse } else { Item::Breaker },
        kind: device.name.clone(),
        size: format!("{} A", plain(device.rated)),
        length_m: None,
        count: fitted.iter().filter(|f| f.0 == k).map(|f| f.1).sum(),
        unit_price: device.price,
    };
    present(scenario.devices.iter().enumerate().map(line))
}

fn joints(scenario: &Scenario) -> Vec<Part> {
    let line = |(k, cable): (usize, &CableType)| Part {
        item: Item::Joint,
        kind: cable.name.clone(),
        size: cable.size.clone().unwrap_or_default(),
        length_m: None,
        count: 2 * used(scenario, k).iter().sum::<u64>(),
        unit_price: scenario.prices.joint,
    };
    present(scenario.cables.iter().enumerate().map(line))
}

/// A communication cable leads to each module, as its link in `faults` does.
fn wires(scenario: &Scenario) -> Vec<Part> {
    let wires = [(Item::Communication, &scenario.communication), (Item::Earthing, &scenario.earthing)];
    let line = |(item, wire): (Item, &Option<Wire>)| {
        let wire = wire.as_ref()?;
        let count = match wire.per {
            Per::Module => scenario.module_count(),
            Per::Stack => scenario.stacks.len(),
        };
        Some(Part {
            item,
            kind: String::new(),
            size: wire.size.clone().unwrap_or_default(),
            length_m: Some(wire.length),
            count: count as u64,
            unit_price: wire.price,
        })
    };
    present(wires.into_iter().filter_map(line))
}

fn present(parts: impl Iterator<Item = Part>) -> Vec<Part> {
    parts.filter(|part| part.count > 0).collect()
}
