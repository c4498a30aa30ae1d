//! The current that a short circuit drives through each protective device.
//!
//! In: a bank, and its elements at one moment. Out: the prospective fault current of each device [A].
//!
//! Every module is a voltage behind its resistance and every conductor a resistance; the load drives
//! nothing. A bolted short lies right beside the device, which is itself replaced by a conductor of no
//! impedance (IEC 60050-441, 441-17-01). No inductance slows the current, no arc limits it and no
//! electronics cut it off: this is the upper figure against which a breaking capacity is held.

use super::bank::Bank;
use super::solve::{Solver, Unsolvable};
use super::{Branch, Element, Law, Network};

/// What the worst bolted short beside a device drives through it.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Prospective {
    /// Index into `Bank::devices`.
    pub device: usize,
    /// [A], of either direction.
    pub amps: f64,
}

/// The greatest current through each device, in the order of `Bank::devices`, of these bolted shorts:
///
/// - In a lead, taken to be at its module end: between the rails right behind the device, with what the
///   stack's side drives once the lead is off there; and right before it, with what comes back through
///   the lead from the rest of the bank.
/// - Of a module: between its rails, with what it drives alone; and within it, with what all others drive.
/// - Main: between the poles right behind it, with what the whole bank drives.
///
/// `elements` has one element a branch, devices included in its resistance, all in service. What holds or
/// blocks its own current is taken to let it through; `Law::Open` stays open.
///
/// # Errors
/// `Unsolvable` for elements that are not finite, or not above zero in their resistance.
pub fn prospective(bank: &Bank, elements: &[Element]) -> Result<Vec<Prospective>, Unsolvable> {
    let sound =
        |e: &Element| e.law == Law::Open || (e.emf.is_finite() && e.resistance.is_finite() && e.resistance > 0.0);
    if elements.len() != bank.network.branches().len() || !elements.iter().all(sound) {
        return Err(Unsolvable);
    }
    let passive = |e: &Element| if e.law == Law::Open { *e } else { Element::source(e.emf, e.resistance) };
    let elements: Vec<Element> = elements.iter().map(passive).collect();
    let each = bank.devices.iter().enumerate();
    each.map(|(device, fitted)| Ok(Prospective { device, amps: greatest(bank, &elements, fitted.branch)? })).collect()
}

/// For the device in this branch.
fn greatest(bank: &Bank, elements: &[Element], branch: usize) -> Result<f64, Unsolvable> {
    let network = &bank.network;
    let opened = with(elements, branch, |e| Element { law: Law::Open, ..e });
    let bare = with(elements, branch, |e| Element { resistance: without_device(bank, branch, e), ..e });
    if bank.conductor_of(branch).is_none() {
        let Element { emf, resistance, law, .. } = bare[branch];
        let alone = if law == Law::Open { 0.0 } else { emf / resistance };
        let others = Short::across(network, &opened, network.branches()[branch])?;
        return Ok(alone.abs().max(others.amps.abs()));
    }
    let Some(rails) = rails_at(bank, branch) else {
        return Ok(Short::across(network, elements, before_main(network, branch))?.amps.abs());
    };
    let stack = Short::across(network, &opened, rails)?;
    let rest = Short::across(network, &bare, rails)?;
    Ok(stack.amps.abs().max(rest.currents[branch].abs()))
}

/// The elements with one of them changed.
fn with(elements: &[Element], branch: usize, change: impl Fn(Element) -> Element) -> Vec<Element> {
    let mut elements = elements.to_vec();
    elements[branch] = change(elements[branch]);
    elements
}

/// Resistance of a module or lead without the devices in it [Ω].
fn without_device(bank: &Bank, branch: usize, element: Element) -> f64 {
    let device = bank.conductor(branch).map_or_else(|| bank.modules[branch].device, |conductor| conductor.device);
    let bare = element.resistance - device;
    if bare > 0.0 { bare } else { element.resistance }
}

/// Both rails of a stack where a lead takes off: of the module whose terminal it is on, as that module's
/// branch runs. `None` for what is on no module.
fn rails_at(bank: &Bank, branch: usize) -> Option<Branch> {
    let lead = bank.network.branches()[branch];
    let ends = [lead.from, lead.to];
    let (modules, _) = bank.network.branches().split_at(bank.modules.len());
    modules.iter().find(|m| ends.contains(&m.from) || ends.contains(&m.to)).copied()
}

/// The poles between which the load lies, on the bar's side of the main device in this branch: so that its
/// resistance is not in the path.
fn before_main(network: &Network, branch: usize) -> Branch {
    let main = network.branches()[branch];
    let behind = |terminal: usize| match terminal {
        t if t == main.from => main.to,
        t if t == main.to => main.from,
        t => t,
    };
    Branch { from: behind(network.negative()), to: behind(network.positive()) }
}

/// A bolted short between two nodes.
struct Short {
    /// Through the short [A].
    amps: f64,
    /// Through every branch [A].
    currents: Vec<f64>,
}

impl Short {
    /// Exactly, without a small resistance for the short: where the line V = emf − resistance·I of the two
    /// nodes comes to zero. `across` runs from the negative node to the positive one.
    fn across(network: &Network, elements: &[Element], across: Branch) -> Result<Short, Unsolvable> {
        let (rails, branches) = (network.rails().to_vec(), network.branches().to_vec());
        // Two nodes of a network are always terminals of it.
        let network = Network::new(rails, branches, across.to, across.from).map_err(|_| Unsolvable)?;
        let mut solver = Solver::new(network);
        let Some(segment) = solver.segment(elements, 0.0, 1.0)? else {
            return Ok(Short { amps: 0.0, currents: vec![0.0; elements.len()] });
        };
        let amps = segment.line.emf / segment.line.resistance;
        let currents = solver.along(elements, &segment, amps).to_vec();
        Ok(Short { amps, currents })
    }
}
