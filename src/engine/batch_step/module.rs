//! One module in every lane.
//!
//! In: what the step before left, the surroundings, the currents that the network gives. Out: the branch that the
//! network solves with, and the module at the step's end.

use super::segments::{LaneRange, Segments, within};
use crate::engine::module::{Bounds, ModuleModel};
use crate::engine::range::Range;
use crate::engine::step_error::{self, ChordError, StepEnds, stiffness};
use crate::network::lane::{Lane, lanes, mask, select};

/// A tangent holds at a charge where it is this near to the curve [V].
const SAME_VOLTAGE: f64 = 1e-6;

/// A module is blocked for sure by this much [V].
const BLOCKING: f64 = 1e-9;

/// A trace of charge beyond empty and full is kept: it is what tells a guard that the end has been reached.
const TRACE: f64 = 1e-9;

/// A module at one moment, in every lane.
#[derive(Clone, Debug)]
pub struct Sample<const N: usize> {
    /// 0…1
    pub soc: Lane<N>,
    /// [°C]
    pub celsius: Lane<N>,
    /// Open-circuit voltage at `soc` [V].
    pub emf: Lane<N>,
    /// What it turns to heat [W].
    pub loss: Lane<N>,
    /// At its rails, and of its cells together [V].
    pub terminals: Lane<N>,
    pub cells: Lane<N>,
    /// Slope of its curve when that was solved [V].
    pub slope: Lane<N>,
}

impl<const N: usize> Sample<N> {
    pub fn new() -> Sample<N> {
        Sample {
            soc: Lane::ZERO,
            celsius: Lane::ZERO,
            emf: Lane::ONE,
            loss: Lane::ZERO,
            terminals: Lane::ZERO,
            cells: Lane::ZERO,
            slope: Lane::ZERO,
        }
    }

    /// Keeps what it was before in the lanes that do not take the step.
    #[inline(always)]
    pub fn keep(&mut self, before: &Sample<N>, takes: &Lane<N>) {
        self.soc = select(takes, self.soc, before.soc);
        self.celsius = select(takes, self.celsius, before.celsius);
        self.emf = select(takes, self.emf, before.emf);
        self.loss = select(takes, self.loss, before.loss);
        self.terminals = select(takes, self.terminals, before.terminals);
        self.cells = select(takes, self.cells, before.cells);
        self.slope = select(takes, self.slope, before.slope);
    }

    /// Brings the charge back to a trace beyond its ends.
    #[inline(always)]
    pub fn clamp_soc(&mut self) {
        let soc = self.soc;
        self.soc = lanes(|l| within(soc[l], -TRACE, 1.0 + TRACE));
    }

    /// Takes what was solved anew for the present in the lanes of `takes`; charge and temperature stay.
    #[inline(always)]
    pub fn take_solution(&mut self, other: &Sample<N>, takes: &Lane<N>) {
        self.loss = select(takes, other.loss, self.loss);
        self.terminals = select(takes, other.terminals, self.terminals);
        self.cells = select(takes, other.cells, self.cells);
        self.slope = select(takes, other.slope, self.slope);
    }
}

/// `ChordError` in every lane.
#[derive(Clone, Copy, Debug)]
pub struct ChordErrors<const N: usize> {
    sum: Lane<N>,
    high: Lane<N>,
    low: Lane<N>,
    conductance: Lane<N>,
}

impl<const N: usize> ChordErrors<N> {
    pub const NONE: ChordErrors<N> =
        ChordErrors { sum: Lane::ZERO, high: Lane::ZERO, low: Lane::ZERO, conductance: Lane::ZERO };

    #[inline(always)]
    fn of(&self, l: usize) -> ChordError {
        ChordError { sum: self.sum[l], high: self.high[l], low: self.low[l], conductance: self.conductance[l] }
    }

    /// `ChordError::greatest` at these voltages and currents of the bus.
    #[inline(always)]
    pub fn greatest(&self, volts: &Lane<N>, amps: &Lane<N>) -> Lane<N> {
        lanes(|l| self.of(l).greatest(volts[l], amps[l]))
    }
}

/// What a module is in each lane's trial, and what is worked out of it on the way from one moment to the next.
#[derive(Clone, Debug)]
pub struct ModuleLanes<const N: usize> {
    /// Capacity [C], and one by it [1/C].
    pub capacity: Lane<N>,
    pub per_coulomb: Lane<N>,
    /// Charge by ampere over the lane's step [1/A].
    pub per_ampere: Lane<N>,
    /// What its own electronics and heater draw from its cells [W].
    pub standing: Lane<N>,
    /// Factor on its resistance.
    pub resistance_factor: Lane<N>,
    /// Added to what its sensor reads [K].
    pub sensor: Lane<N>,
    /// Voltage that a switch that blocks the other way takes [V]; negative where it only lets charge through.
    pub drop: Lane<N>,
    /// 1 where it is not open; 1 where it conducts now, which its voltage may prevent where it may pass current one way only.
    pub live: Lane<N>,
    pub conducts: Lane<N>,
    /// 1 where it may only be charged and its voltage keeps it from it, −1 where it may only discharge and its voltage keeps it
    /// from it, else 0.
    pub blocked: Lane<N>,
    /// The ranges within which nothing about it changes: state of charge, temperature [°C], voltage of all its cells [V] and
    /// current [A].
    soc_range: LaneRange<N>,
    temperature_range: LaneRange<N>,
    cells_range: LaneRange<N>,
    current_range: LaneRange<N>,
    /// Value at a state of charge of 0 of the tangent to its curve [V]; its slope is in the sample ahead.
    tangent_at_0: Lane<N>,
    /// Resistance of its cells, and of the whole module without its device [Ω]; the reciprocal of the latter [S].
    pub cell_resistance: Lane<N>,
    pub resistance: Lane<N>,
    conductance: Lane<N>,
    /// The branch that the network is solved with: its resistance with the implicit part and the device [Ω], and its EMF
    /// without the drop of a switch [V].
    pub branch_resistance: Lane<N>,
    pub branch_emf: Lane<N>,
    open_circuit: Segments<N>,
    by_soc: Segments<N>,
}

impl<const N: usize> ModuleLanes<N> {
    pub fn new() -> ModuleLanes<N> {
        ModuleLanes {
            capacity: Lane::ONE,
            per_coulomb: Lane::ONE,
            per_ampere: Lane::ZERO,
            standing: Lane::ZERO,
            resistance_factor: Lane::ZERO,
            sensor: Lane::ZERO,
            drop: Lane::ZERO,
            live: Lane::ZERO,
            conducts: Lane::ZERO,
            blocked: Lane::ZERO,
            soc_range: LaneRange::any(),
            temperature_range: LaneRange::any(),
            cells_range: LaneRange::any(),
            current_range: LaneRange::any(),
            tangent_at_0: Lane::ZERO,
            cell_resistance: Lane::ONE,
            resistance: Lane::ONE,
            conductance: Lane::ZERO,
            branch_resistance: Lane::ZERO,
            branch_emf: Lane::ZERO,
            open_circuit: Segments::new(),
            by_soc: Segments::new(),
        }
    }

    /// Sets the ranges of lane l: what guards watch, and what currents are not over.
    pub fn set_bounds(&mut self, l: usize, bounds: &Bounds, cells: f64) {
        // Cell voltages are watched one by one: a hair inside, so that rounding cannot differ.
        let volts = bounds.cell_voltage;
        let inside = Range { low: volts.low * cells * (1.0 + 1e-13), high: volts.high * cells * (1.0 - 1e-13) };
        self.soc_range.set(l, bounds.soc);
        self.temperature_range.set(l, bounds.temperature);
        self.cells_range.set(l, inside);
        self.current_range.set(l, bounds.current);
    }

    /// Takes what the start's current takes, `theta` being the weight of the end.
    #[inline(always)]
    pub fn leave(&self, now: &Sample<N>, ahead: &mut Sample<N>, start: &Lane<N>, theta: &Lane<N>) {
        let gone: Lane<N> = lanes(|l| (1.0 - theta[l]) * start[l] + self.standing[l] / now.emf[l]);
        ahead.soc = lanes(|l| now.soc[l] - self.per_ampere[l] * gone[l]);
    }

    /// No time passes: the sample ahead is the present.
    #[inline(always)]
    pub fn stay(&mut self, now: &Sample<N>, ahead: &mut Sample<N>, model: &ModuleModel) {
        (ahead.soc, ahead.celsius, ahead.emf) = (now.soc, now.celsius, now.emf);
        self.lay_tangent(ahead, model, &now.soc);
    }

    /// Lays the tangent at a charge.
    #[inline(always)]
    pub fn lay_tangent(&mut self, ahead: &mut Sample<N>, model: &ModuleModel, soc: &Lane<N>) {
        let clamped: Lane<N> = lanes(|l| within(soc[l], 0.0, 1.0));
        self.open_circuit.seek(&clamped, &model.open_circuit);
        (self.tangent_at_0, ahead.slope) = (self.open_circuit.at_0, self.open_circuit.slope);
    }

    /// Charge that an ampere at the end of the step takes [1/A], by the weight of the end: mostly ½.
    #[inline(always)]
    pub fn implicit(&self, theta: &Lane<N>, seconds: &Lane<N>, leans: bool) -> Lane<N> {
        if leans { lanes(|l| theta[l] * seconds[l] / self.capacity[l]) } else { lanes(|l| 0.5 * self.per_ampere[l]) }
    }

    /// The branch of the step's end, whose charge is foreseen, `implicit` being the end's part of a step's charge by
    /// ampere, 0 for the present: the EMF and conductance that the network solves with.
    #[inline(always)]
    pub fn load(
        &mut self,
        ahead: &Sample<N>,
        foreseen: &Lane<N>,
        implicit: &Lane<N>,
        model: &ModuleModel,
        device: f64,
    ) -> (Lane<N>, Lane<N>) {
        let (soc, slope, celsius) = (ahead.soc, ahead.slope, ahead.celsius);
        self.by_soc.seek(foreseen, &model.kind.resistance.charge_factor);
        let (factor, spread) = (self.by_soc.value(foreseen), self.resistance_factor);
        let (mut cell, mut whole) = (Lane::<N>::ZERO, Lane::<N>::ZERO);
        for l in 0..N {
            let (within, all) = model.resistance_by(factor[l], celsius[l]);
            (cell[l], whole[l]) = (within * spread[l], all * spread[l]);
        }
        (self.cell_resistance, self.resistance) = (cell, whole);
        let (at_0, drop) = (self.tangent_at_0, self.drop);
        let branch_emf: Lane<N> = lanes(|l| at_0[l] + slope[l] * soc[l]);
        let ohm: Lane<N> = lanes(|l| whole[l] + implicit[l] * slope[l] + device);
        (self.branch_emf, self.branch_resistance) = (branch_emf, ohm);
        let conductance = select(&self.conducts, lanes(|l| 1.0 / ohm[l]), Lane::ZERO);
        (lanes(|l| branch_emf[l] - drop[l]), conductance)
    }

    /// Voltages and heat with the current that the network gave: `ahead.terminals` stands already.
    #[inline(always)]
    pub fn take_current(&self, ahead: &mut Sample<N>, end: &Lane<N>, ripple_factor: &Lane<N>, device: f64) {
        let (standing, end, terminals) = (self.standing, *end, ahead.terminals);
        let (emf, ohm, within_cells, own) =
            (self.branch_emf, self.branch_resistance, self.cell_resistance, self.resistance);
        let implicit: Lane<N> = lanes(|l| ohm[l] - own[l] - device);
        ahead.cells = lanes(|l| emf[l] - (implicit[l] + within_cells[l]) * end[l]);
        ahead.loss = lanes(|l| {
            let within = emf[l] - (implicit[l] + device) * end[l] - terminals[l];
            within * end[l] * ripple_factor[l] + standing[l]
        });
    }

    /// Takes what the end's current takes; lays new tangents where the end lies on another segment, and says in
    /// which lanes (1, else 0). `fresh`: the tangents are those that were laid last.
    #[inline(always)]
    pub fn arrive(
        &mut self,
        ahead: &mut Sample<N>,
        end: &Lane<N>,
        theta: &Lane<N>,
        model: &ModuleModel,
        fresh: bool,
    ) -> Lane<N> {
        self.take_charge(ahead, end, theta);
        let soc = ahead.soc;
        let clamped: Lane<N> = lanes(|l| within(soc[l], 0.0, 1.0));
        if fresh && self.open_circuit.contains(&clamped) {
            ahead.emf = self.open_circuit.value(&clamped);
            return Lane::ZERO;
        }
        self.relay_tangent(ahead, &clamped, model)
    }

    #[inline(always)]
    fn take_charge(&self, ahead: &mut Sample<N>, amps: &Lane<N>, theta: &Lane<N>) {
        let (per_ampere, before) = (self.per_ampere, ahead.soc);
        ahead.soc = lanes(|l| before[l] - per_ampere[l] * (theta[l] * amps[l]));
    }

    /// The same where the currents stay as they were until the end: the tangent that was laid is kept.
    #[inline(always)]
    pub fn arrive_unchanged(&mut self, ahead: &mut Sample<N>, start: &Lane<N>, theta: &Lane<N>, model: &ModuleModel) {
        self.take_charge(ahead, start, theta);
        let soc = ahead.soc;
        let clamped: Lane<N> = lanes(|l| within(soc[l], 0.0, 1.0));
        self.open_circuit.seek(&clamped, &model.open_circuit);
        ahead.emf = self.open_circuit.value(&clamped);
    }

    #[inline(always)]
    fn relay_tangent(&mut self, ahead: &mut Sample<N>, clamped: &Lane<N>, model: &ModuleModel) -> Lane<N> {
        let (soc, old) = (ahead.soc, (self.tangent_at_0, ahead.slope));
        self.lay_tangent(ahead, model, clamped);
        let new = (self.tangent_at_0, ahead.slope);
        let other: Lane<N> = mask(|l| {
            let apart = (new.0[l] + new.1[l] * soc[l]) - (old.0[l] + old.1[l] * soc[l]);
            apart.abs() > SAME_VOLTAGE
        });
        // The curve at the charge itself is what the next step begins with.
        ahead.emf = self.open_circuit.value(clamped);
        self.tangent_at_0 = select(&other, new.0, old.0);
        ahead.slope = select(&other, new.1, old.1);
        other
    }

    /// Open-circuit voltage on the tangent at the end [V].
    #[inline(always)]
    pub fn tangent_value(&self, ahead: &Sample<N>) -> Lane<N> {
        lanes(|l| self.tangent_at_0[l] + ahead.slope[l] * ahead.soc[l])
    }

    /// Adds how far it may stray between the ends of a step to all before; how far its own current may stray [A].
    #[inline(always)]
    pub fn chord_error(
        &self,
        now: &Sample<N>,
        ahead: &Sample<N>,
        (start, end): (&Lane<N>, &Lane<N>),
        all: &mut ChordErrors<N>,
    ) -> Lane<N> {
        let before = *all;
        let mut own = Lane::<N>::ZERO;
        for l in 0..N {
            let ends = StepEnds {
                slopes: (now.slope[l], ahead.slope[l]),
                soc: ahead.soc[l] - now.soc[l],
                current: end[l] - start[l],
                half_per_ampere: 0.5 * self.per_ampere[l],
                conductance: self.conductance[l],
            };
            let mut sum = before.of(l);
            let stray = sum.add(&ends);
            let live = self.live[l] > 0.0;
            own[l] = if live { stray } else { 0.0 };
            all.sum[l] = if live { sum.sum } else { before.sum[l] };
            all.high[l] = if live { sum.high } else { before.high[l] };
            all.low[l] = if live { sum.low } else { before.low[l] };
            all.conductance[l] = if live { sum.conductance } else { before.conductance[l] };
        }
        own
    }

    /// 1 where charge and temperature are known well enough at the end of a long step, whose neighbours made it so much
    /// warmer or colder [K].
    #[inline(always)]
    pub fn passes_error_test(&self, apart: &Lane<N>, stray: &Lane<N>) -> Lane<N> {
        mask(|l| step_error::passes(stray[l] * self.per_ampere[l], apart[l]))
    }

    /// E′/(Q·R) on the tangent [1/s].
    #[inline(always)]
    pub fn stiffness(&mut self, ahead: &Sample<N>) -> Lane<N> {
        let (per_coulomb, slope, resistance) = (self.per_coulomb, ahead.slope, self.resistance);
        let conductance: Lane<N> = lanes(|l| 1.0 / resistance[l]);
        self.conductance = conductance;
        lanes(|l| stiffness(slope[l], per_coulomb[l], conductance[l]))
    }

    /// 1 where a step does not lean on its end too much: `lean` is its time times how far the weight of the
    /// end is above ½.
    #[inline(always)]
    pub fn is_second_order(&self, lean: &Lane<N>, (start, end): (&Lane<N>, &Lane<N>)) -> Lane<N> {
        mask(|l| !step_error::leans(lean[l] * (end[l] - start[l]).abs(), self.capacity[l]))
    }

    /// 1 where charge, temperature and voltage are within what is watched.
    #[inline(always)]
    pub fn is_calm(&self, ahead: &Sample<N>) -> Lane<N> {
        let (soc, celsius, cells) = (ahead.soc, ahead.celsius, ahead.cells);
        mask(|l| {
            self.soc_range.contains(l, soc[l])
                & self.temperature_range.contains(l, celsius[l] + self.sensor[l])
                & self.cells_range.contains(l, cells[l])
        })
    }

    /// 1 where a module that is blocked stays so: what would drive current its one way does not.
    #[inline(always)]
    pub fn stays_blocked(&self, ahead: &Sample<N>) -> Lane<N> {
        let (emf, drop, terminals, blocked) = (self.branch_emf, self.drop, ahead.terminals, self.blocked);
        mask(|l| ((emf[l] - drop[l]) - terminals[l]) * blocked[l] >= BLOCKING * blocked[l].abs())
    }

    /// How far its currents at both ends are from the ends of what is watched [A].
    #[inline(always)]
    pub fn spare(&self, (start, end): (&Lane<N>, &Lane<N>)) -> Lane<N> {
        let (current, start, end) = (&self.current_range, *start, *end);
        lanes(|l| {
            let (start, end) = (start[l], end[l]);
            let above = current.high[l] - if start > end { start } else { end };
            let below = if start < end { start } else { end } - current.low[l];
            if above < below { above } else { below }
        })
    }

    /// Takes over a lane of another: what its trial is.
    pub fn copy_lane<const M: usize>(&mut self, l: usize, from: &ModuleLanes<M>, m: usize) {
        self.capacity[l] = from.capacity[m];
        self.per_coulomb[l] = from.per_coulomb[m];
        self.standing[l] = from.standing[m];
        self.resistance_factor[l] = from.resistance_factor[m];
        self.sensor[l] = from.sensor[m];
        self.drop[l] = from.drop[m];
        self.live[l] = from.live[m];
        (self.conducts[l], self.blocked[l]) = (from.live[m], 0.0);
    }
}

impl<const N: usize> Sample<N> {
    /// Takes over a lane of another.
    pub fn copy_lane<const M: usize>(&mut self, l: usize, from: &Sample<M>, m: usize) {
        self.soc[l] = from.soc[m];
        self.celsius[l] = from.celsius[m];
        self.emf[l] = from.emf[m];
        self.loss[l] = from.loss[m];
        self.terminals[l] = from.terminals[m];
        self.cells[l] = from.cells[m];
        self.slope[l] = from.slope[m];
    }
}
