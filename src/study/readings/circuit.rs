//! What a meter would read at a bank, and the derivatives of that reading by every unknown.
//!
//! In: the resistance of every branch and the voltage at rest of every module. Out: what a meter reads at a given bank
//! current, and the derivatives of that.
//!
//! Every branch current is linear in the bank's current I: branch j carries i_j = a_j + b_j·I, so one elimination serves
//! all cases. Let T be the transfer conductances: T_kj = ∂i_k/∂e_j, where e_j is a voltage inserted in branch j while I is
//! kept. T is symmetric (reciprocity). A reading y then changes by G_yj·∂e_j. G_yj is T_kj for the current of branch k,
//! ±(R_k·T_kj − δ_kj) for its drop, and b_j for the bus voltage. A change of resistance ∂R_j acts like an inserted voltage
//! of −i_j·∂R_j, and a change of a module's voltage at rest acts like an inserted voltage of the same size.

use crate::math;
use crate::network::Element;
use crate::network::response::{Affine, Response};
use crate::network::solve::Solver;
use nalgebra::{DMatrix, DVector};

/// The quantity that a meter reads; branches by number.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum What {
    Current(usize),
    /// The terminal voltage of a module, or the voltage drop along a conductor.
    Drop(usize),
    BusCurrent,
    BusVoltage,
}

/// A bank whose resistances and voltages at rest are given numbers.
pub struct Circuit {
    modules: usize,
    /// The branches as the solver takes them: the device of a module is in its resistance.
    elements: Vec<Element>,
    /// Resistance of each branch between the points where its drop is read [Ω]: without a module's device.
    ohm: Vec<f64>,
    response: Affine,
}

impl Circuit {
    /// `shared` holds the logarithm of every resistance [ln Ω], then the voltage at rest of every module [V]; `devices` is
    /// the resistance in series with each module [Ω]. `None` where a value is not finite or the bank carries no current.
    pub fn of(solver: &mut Solver, devices: &[f64], shared: &DVector<f64>) -> Option<Circuit> {
        let modules = devices.len();
        let branches = shared.len() - modules;
        let ohm: Vec<f64> = shared.rows(0, branches).iter().map(|ln| math::exp(*ln)).collect();
        let mut elements: Vec<Element> = ohm.iter().map(|ohm| Element::conductor(*ohm)).collect();
        for (k, device) in devices.iter().enumerate() {
            elements[k] = Element::source(shared[branches + k], ohm[k] + device);
        }
        let sound = |e: &Element| e.emf.is_finite() && e.resistance.is_finite() && e.resistance > 0.0;
        if !elements.iter().all(sound) {
            return None;
        }
        match Response::of(solver, &elements).ok()? {
            Response::Affine(response) => Some(Circuit { modules, elements, ohm, response }),
            Response::Dead | Response::Bent => None,
        }
    }

    fn current(&self, branch: usize, amps: f64) -> f64 {
        self.response.rest()[branch] + self.response.slope()[branch] * amps
    }

    /// What a meter reads while the bank carries `amps`.
    pub fn read(&self, what: What, amps: f64) -> f64 {
        match what {
            What::Current(k) => self.current(k, amps),
            What::Drop(k) if k < self.modules => self.elements[k].emf - self.ohm[k] * self.current(k, amps),
            What::Drop(k) => self.ohm[k] * self.current(k, amps),
            What::BusCurrent => amps,
            What::BusVoltage => self.bus_voltage(amps),
        }
    }

    pub fn bus_voltage(&self, amps: f64) -> f64 {
        let line = self.response.line();
        line.emf - line.resistance * amps
    }

    /// Derivative of a reading by the bank's current.
    pub fn by_bank_current(&self, what: What) -> f64 {
        let slope = self.response.slope();
        match what {
            What::Current(k) => slope[k],
            What::Drop(k) if k < self.modules => -self.ohm[k] * slope[k],
            What::Drop(k) => self.ohm[k] * slope[k],
            What::BusCurrent => 1.0,
            What::BusVoltage => -self.response.line().resistance,
        }
    }

    /// The matrix G: a column for each reading, a row for each branch. `solver` must be as `of` left it.
    pub fn by_voltage(&self, solver: &mut Solver, whats: &[What]) -> DMatrix<f64> {
        let mut gains = DMatrix::zeros(self.ohm.len(), whats.len());
        for (&what, mut column) in whats.iter().zip(gains.column_iter_mut()) {
            let to = column.as_mut_slice();
            match what {
                What::Current(k) => solver.transfer(&self.elements, k, to),
                What::Drop(k) => {
                    solver.transfer(&self.elements, k, to);
                    let sign = if k < self.modules { -1.0 } else { 1.0 };
                    to.iter_mut().for_each(|g| *g *= sign * self.ohm[k]);
                    to[k] -= sign;
                }
                What::BusCurrent => {}
                What::BusVoltage => to.copy_from_slice(self.response.slope()),
            }
        }
        gains
    }

    /// For each unknown, in the order of `shared`, the inserted voltage that one unit more of it acts like.
    pub fn unknowns(&self) -> Vec<Acting> {
        let (rest, slope) = (self.response.rest(), self.response.slope());
        let of_resistance =
            |k: usize| Acting { branch: k, constant: -self.ohm[k] * rest[k], by_ampere: -self.ohm[k] * slope[k] };
        let of_voltage = |k: usize| Acting { branch: k, constant: 1.0, by_ampere: 0.0 };
        (0..self.ohm.len()).map(of_resistance).chain((0..self.modules).map(of_voltage)).collect()
    }
}

/// One unit more of an unknown acts like a voltage of `constant + by_ampere·I` inserted in `branch`.
#[derive(Clone, Copy, Debug)]
pub struct Acting {
    pub branch: usize,
    pub constant: f64,
    pub by_ampere: f64,
}

impl Acting {
    pub fn at(&self, amps: f64) -> f64 {
        self.constant + self.by_ampere * amps
    }
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::network::bank::Bank;
    use crate::scenario::check::parse;
    use std::path::Path;

    /// The derivatives of every reading by every unknown and by the bank's current equal central differences, also where
    /// modules have devices.
    #[test]
    fn derivatives_are_those_of_what_is_read() {
        let text = "format = 1\ntitle = \"bank\"\n[module.m]\ncells = 16\ncapacity = \"100 Ah\"\nresistance = \"15 mΩ\"\n\
                    open_circuit = \"52.8 V\"\n[cable.c]\nresistance = \"1 mΩ\"\n[[stack]]\nname = \"A\"\nmodule = \"m\"\n\
                    count = 3\njumper = \"c\"\nleads = [{ cable = \"c\", positive = 3, negative = 1 }]\n[[stack]]\n\
                    name = \"B\"\nmodule = \"m\"\ncount = 1\nleads = [{ cable = \"c\", positive = 1, negative = 1 }]\n";
        let scenario = parse(text, "bank.toml", Path::new(".")).unwrap().scenario;
        let network = Bank::new(&scenario).unwrap().network;
        let (modules, branches) = (4, network.branches().len());
        let mut solver = Solver::new(network);
        let devices = vec![0.5e-3; modules];
        let ohm = |k: usize| if k < modules { 15e-3 + 1e-3 * k as f64 } else { 1e-3 + 1e-4 * k as f64 };
        let volts = (0..modules).map(|k| 52.7 + 0.05 * k as f64);
        let x = DVector::from_vec((0..branches).map(|k| math::ln(ohm(k))).chain(volts).collect());
        let both = (0..branches).flat_map(|k| [What::Current(k), What::Drop(k)]);
        let whats: Vec<What> = both.chain([What::BusCurrent, What::BusVoltage]).collect();
        let amps = 137.0;
        let circuit = Circuit::of(&mut solver, &devices, &x).unwrap();
        let gains = circuit.by_voltage(&mut solver, &whats);
        for (p, unknown) in circuit.unknowns().into_iter().enumerate() {
            const STEP: f64 = 1e-4;
            let mut at = |step: f64| {
                let mut there = x.clone();
                there[p] += step;
                Circuit::of(&mut solver, &devices, &there).unwrap()
            };
            let (less, more) = (at(-STEP), at(STEP));
            for (n, &what) in whats.iter().enumerate() {
                let slope = (more.read(what, amps) - less.read(what, amps)) / (2.0 * STEP);
                let got = gains[(unknown.branch, n)] * unknown.at(amps);
                assert!((got - slope).abs() < 1e-6 * (1.0 + slope.abs()), "{what:?} by {p}: {got} is not {slope}");
            }
        }
        for &what in &whats {
            let slope = circuit.read(what, amps + 0.5) - circuit.read(what, amps - 0.5);
            assert!((circuit.by_bank_current(what) - slope).abs() < 1e-9, "{what:?}");
        }
    }
}
