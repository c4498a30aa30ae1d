//! One module in every lane.
//!
//! In: what the step before left, the surroundings, the currents that the network gives. Out: the branch that the
//! network solves with, and the module at the step's end. Each line is the arithmetic of `trial::step` and
//! `trial::load_elements`, lane by lane and in their order.

use crate::curve::{Curve, Segment};
use crate::engine::module::{Bounds, ModuleModel, Range};
use crate::engine::stride::{CHARGE, Stray, TEMPERATURE, Way, stiffness};
use crate::engine::trial::step::{COARSE, SAME_VOLTAGE};
use crate::network::lanes::{LANES, Lane, ZERO, any_of, choose, lanes};

/// The segment of a curve that each lane is on.
#[derive(Clone, Debug)]
pub struct Segments {
    above: Lane,
    to: Lane,
    at_0: Lane,
    slope: Lane,
}

impl Segments {
    pub fn new() -> Segments {
        // Holds nothing: the first look finds the segment.
        Segments { above: Lane([f64::INFINITY; LANES]), to: ZERO, at_0: ZERO, slope: ZERO }
    }

    #[inline(always)]
    fn holds_of(&self, l: usize, x: f64) -> bool {
        (self.above[l] < x) & (x <= self.to[l])
    }

    #[inline(always)]
    fn holds(&self, x: &Lane) -> bool {
        !any_of(|l| !self.holds_of(l, x[l]))
    }

    /// Goes to the segments that hold these.
    #[inline(always)]
    fn seek(&mut self, x: &Lane, curve: &Curve) {
        if !self.holds(x) {
            self.seek_each(x, curve);
        }
    }

    #[cold]
    #[inline(never)]
    fn seek_each(&mut self, x: &Lane, curve: &Curve) {
        for l in 0..LANES {
            if self.holds_of(l, x[l]) {
                continue;
            }
            let Segment { above, to, line } = curve.segment(x[l]);
            (self.above[l], self.to[l]) = (above, to);
            (self.at_0[l], self.slope[l]) = (line.at_0, line.slope);
        }
    }

    #[inline(always)]
    fn value(&self, x: &Lane) -> Lane {
        lanes(|l| self.at_0[l] + self.slope[l] * x[l])
    }
}

/// As `clamp`, of numbers: comparisons become one instruction each.
#[inline(always)]
pub fn within(x: f64, low: f64, high: f64) -> f64 {
    let x = if x < low { low } else { x };
    if x > high { high } else { x }
}

/// Ranges in every lane.
#[derive(Clone, Debug)]
pub struct LaneRange {
    pub low: Lane,
    pub high: Lane,
}

impl LaneRange {
    pub fn any() -> LaneRange {
        LaneRange { low: Lane([f64::NEG_INFINITY; LANES]), high: Lane([f64::INFINITY; LANES]) }
    }

    pub fn set(&mut self, l: usize, range: Range) {
        (self.low[l], self.high[l]) = (range.low, range.high);
    }

    #[inline(always)]
    pub fn holds(&self, l: usize, x: f64) -> bool {
        (self.low[l] <= x) & (x <= self.high[l])
    }
}

/// What does not change while a lane rides.
#[derive(Clone, Debug)]
pub struct ModuleConstants {
    /// Capacity [C], and one by it [1/C].
    pub capacity: Lane,
    pub per_coulomb: Lane,
    /// Charge by ampere over the lane's step [1/A].
    pub per_ampere: Lane,
    /// [W]
    pub standing: Lane,
    /// Factor on its resistance.
    pub luck: Lane,
    /// Added to what its sensor reads [K].
    pub sensor: Lane,
    /// Taken by a switch that blocks the other way; negative in reverse [V].
    pub drop: Lane,
    /// 1 where it conducts, 0 where it is open.
    pub live: Lane,
    pub charge: LaneRange,
    pub temperature: LaneRange,
    /// Of all cells together [V].
    pub cells: LaneRange,
    pub current: LaneRange,
}

/// A module at one moment, in every lane.
#[derive(Clone, Debug)]
pub struct Moment {
    /// 0…1
    pub charge: Lane,
    /// [°C]
    pub celsius: Lane,
    /// Open-circuit voltage at `charge` [V].
    pub emf: Lane,
    /// What it turns to heat [W].
    pub loss: Lane,
    /// At its rails, and of its cells together [V].
    pub terminals: Lane,
    pub cells: Lane,
    /// Slope of its curve when that was solved [V].
    pub slope: Lane,
}

impl Moment {
    pub fn new() -> Moment {
        Moment {
            charge: ZERO,
            celsius: ZERO,
            emf: Lane([1.0; LANES]),
            loss: ZERO,
            terminals: ZERO,
            cells: ZERO,
            slope: ZERO,
        }
    }

    /// Keeps what it was before in the lanes that do not take the step.
    #[inline(always)]
    pub fn keep(&mut self, before: &Moment, takes: &Lane) {
        self.charge = choose(takes, self.charge, before.charge);
        self.celsius = choose(takes, self.celsius, before.celsius);
        self.emf = choose(takes, self.emf, before.emf);
        self.loss = choose(takes, self.loss, before.loss);
        self.terminals = choose(takes, self.terminals, before.terminals);
        self.cells = choose(takes, self.cells, before.cells);
        self.slope = choose(takes, self.slope, before.slope);
    }

    /// A trace beyond the end is kept: it is what tells a guard that the end has been reached.
    #[inline(always)]
    pub fn hold_charge(&mut self) {
        let charge = self.charge;
        self.charge = lanes(|l| within(charge[l], -1e-9, 1.0 + 1e-9));
    }

    /// Takes what was solved anew for the present in the lanes of `takes`; charge and temperature stay.
    #[inline(always)]
    pub fn take_solution(&mut self, other: &Moment, takes: &Lane) {
        self.loss = choose(takes, other.loss, self.loss);
        self.terminals = choose(takes, other.terminals, self.terminals);
        self.cells = choose(takes, other.cells, self.cells);
        self.slope = choose(takes, other.slope, self.slope);
    }
}

/// `Stray` in every lane.
#[derive(Clone, Copy, Debug)]
pub struct StrayLanes {
    sum: Lane,
    high: Lane,
    low: Lane,
    conductance: Lane,
}

impl StrayLanes {
    pub const NONE: StrayLanes = StrayLanes { sum: ZERO, high: ZERO, low: ZERO, conductance: ZERO };

    #[inline(always)]
    fn of(&self, l: usize) -> Stray {
        Stray { sum: self.sum[l], high: self.high[l], low: self.low[l], conductance: self.conductance[l] }
    }

    #[inline(always)]
    pub fn greatest(&self, volts: &Lane, amps: &Lane) -> Lane {
        lanes(|l| self.of(l).greatest(volts[l], amps[l]))
    }
}

/// What a module is, and what is worked out of it on the way from one moment to the next.
#[derive(Clone, Debug)]
pub struct ModuleLanes {
    pub constants: ModuleConstants,
    /// Of its tangent, whose slope the moment ahead keeps [V].
    tangent_at_0: Lane,
    /// Of its cells, and all its own without its device [Ω]; one by that [S].
    cell_resistance: Lane,
    resistance: Lane,
    conductance: Lane,
    /// Of the branch: with what is implicit and its device [Ω], and its EMF without a switch's drop [V].
    pub branch_resistance: Lane,
    branch_emf: Lane,
    open_circuit: Segments,
    factor: Segments,
}

impl ModuleLanes {
    pub fn new() -> ModuleLanes {
        let constants = ModuleConstants {
            capacity: Lane([1.0; LANES]),
            per_coulomb: Lane([1.0; LANES]),
            per_ampere: ZERO,
            standing: ZERO,
            luck: ZERO,
            sensor: ZERO,
            drop: ZERO,
            live: ZERO,
            charge: LaneRange::any(),
            temperature: LaneRange::any(),
            cells: LaneRange::any(),
            current: LaneRange::any(),
        };
        ModuleLanes {
            constants,
            tangent_at_0: ZERO,
            cell_resistance: ZERO,
            resistance: ZERO,
            conductance: ZERO,
            branch_resistance: ZERO,
            branch_emf: ZERO,
            open_circuit: Segments::new(),
            factor: Segments::new(),
        }
    }

    /// Sets the ranges of lane l: what guards watch, and what currents are not over.
    pub fn set_bounds(&mut self, l: usize, bounds: &Bounds, cells: f64) {
        // Cell voltages are watched one by one: a hair inside, so that rounding cannot differ.
        let volts = bounds.cell_voltage;
        let inside = Range { low: volts.low * cells * (1.0 + 1e-13), high: volts.high * cells * (1.0 - 1e-13) };
        self.constants.charge.set(l, bounds.charge);
        self.constants.temperature.set(l, bounds.temperature);
        self.constants.cells.set(l, inside);
        self.constants.current.set(l, bounds.current);
    }

    /// Takes what the start's current takes, `theta` being the weight of the end.
    #[inline(always)]
    pub fn leave(&self, now: &Moment, ahead: &mut Moment, start: &Lane, theta: &Lane) {
        let (c, charge, emf) = (&self.constants, now.charge, now.emf);
        let gone = lanes(|l| (1.0 - theta[l]) * start[l] + c.standing[l] / emf[l]);
        ahead.charge = lanes(|l| charge[l] - c.per_ampere[l] * gone[l]);
    }

    /// Nothing passes: the present itself.
    #[inline(always)]
    pub fn stay(&mut self, now: &Moment, ahead: &mut Moment, model: &ModuleModel) {
        (ahead.charge, ahead.celsius, ahead.emf) = (now.charge, now.celsius, now.emf);
        self.lay_tangent(ahead, model, &now.charge);
    }

    /// Lays the tangent at a charge.
    #[inline(always)]
    pub fn lay_tangent(&mut self, ahead: &mut Moment, model: &ModuleModel, charge: &Lane) {
        let held = lanes(|l| within(charge[l], 0.0, 1.0));
        self.open_circuit.seek(&held, &model.open_circuit);
        (self.tangent_at_0, ahead.slope) = (self.open_circuit.at_0, self.open_circuit.slope);
    }

    /// Charge that an ampere at the end of the step takes [1/A], by the weight of the end: mostly ½.
    #[inline(always)]
    pub fn implicit(&self, theta: &Lane, seconds: &Lane, leans: bool) -> Lane {
        let (capacity, per_ampere) = (&self.constants.capacity, &self.constants.per_ampere);
        if leans { lanes(|l| theta[l] * seconds[l] / capacity[l]) } else { lanes(|l| 0.5 * per_ampere[l]) }
    }

    /// The branch of the step's end, whose charge is foreseen, `implicit` being the end's part of a step's charge by
    /// ampere, 0 for the present: the EMF and conductance that the network solves with.
    #[inline(always)]
    pub fn load(
        &mut self,
        ahead: &mut Moment,
        foreseen: &Lane,
        implicit: &Lane,
        model: &ModuleModel,
        device: f64,
    ) -> (Lane, Lane) {
        let (charge, slope, celsius) = (ahead.charge, ahead.slope, ahead.celsius);
        self.factor.seek(foreseen, &model.kind.resistance.charge_factor);
        let (factor, luck) = (self.factor.value(foreseen), self.constants.luck);
        let (mut cell, mut whole) = (ZERO, ZERO);
        for l in 0..LANES {
            let (within, all) = model.resistance_by(factor[l], celsius[l]);
            (cell[l], whole[l]) = (within * luck[l], all * luck[l]);
        }
        (self.cell_resistance, self.resistance) = (cell, whole);
        let (at_0, drop) = (self.tangent_at_0, self.constants.drop);
        let branch_emf = lanes(|l| at_0[l] + slope[l] * charge[l]);
        let ohm = lanes(|l| whole[l] + implicit[l] * slope[l] + device);
        (self.branch_emf, self.branch_resistance) = (branch_emf, ohm);
        let conductance = choose(&self.constants.live, lanes(|l| 1.0 / ohm[l]), ZERO);
        (lanes(|l| branch_emf[l] - drop[l]), conductance)
    }

    /// Heat and voltages with the currents that the network gave.
    #[inline(always)]
    pub fn settle(&self, ahead: &mut Moment, end: &Lane, terminals: Lane, heating: f64, device: f64) {
        let (standing, end) = (self.constants.standing, *end);
        let (emf, ohm, within_cells, own) =
            (self.branch_emf, self.branch_resistance, self.cell_resistance, self.resistance);
        ahead.terminals = terminals;
        let implicit = lanes(|l| ohm[l] - own[l] - device);
        ahead.cells = lanes(|l| emf[l] - (implicit[l] + within_cells[l]) * end[l]);
        ahead.loss = lanes(|l| {
            let within = emf[l] - (implicit[l] + device) * end[l] - terminals[l];
            within * end[l] * heating + standing[l]
        });
    }

    /// Takes what the end's current takes; lays new tangents where the end lies on another segment, and says in
    /// which lanes (1, else 0). `fresh`: the tangents are those that were laid last.
    #[inline(always)]
    pub fn arrive(&mut self, ahead: &mut Moment, end: &Lane, theta: &Lane, model: &ModuleModel, fresh: bool) -> Lane {
        let (per_ampere, before) = (self.constants.per_ampere, ahead.charge);
        let charge = lanes(|l| before[l] - per_ampere[l] * (theta[l] * end[l]));
        ahead.charge = charge;
        let held = lanes(|l| within(charge[l], 0.0, 1.0));
        if fresh && self.open_circuit.holds(&held) {
            ahead.emf = self.open_circuit.value(&held);
            return ZERO;
        }
        self.relay_tangent(ahead, &held, model)
    }

    #[inline(always)]
    fn relay_tangent(&mut self, ahead: &mut Moment, held: &Lane, model: &ModuleModel) -> Lane {
        let (charge, old) = (ahead.charge, (self.tangent_at_0, ahead.slope));
        self.lay_tangent(ahead, model, held);
        let new = (self.tangent_at_0, ahead.slope);
        let other = lanes(|l| {
            let apart = (new.0[l] + new.1[l] * charge[l]) - (old.0[l] + old.1[l] * charge[l]);
            if apart.abs() > SAME_VOLTAGE { 1.0 } else { 0.0 }
        });
        // The curve at the charge itself is what the next step begins with.
        ahead.emf = self.open_circuit.value(held);
        self.tangent_at_0 = choose(&other, new.0, old.0);
        ahead.slope = choose(&other, new.1, old.1);
        other
    }

    /// Adds how far it may stray between the ends of a step to all before; how far its own current may [A].
    #[inline(always)]
    pub fn stray(&self, now: &Moment, ahead: &Moment, (start, end): (&Lane, &Lane), all: &mut StrayLanes) -> Lane {
        let (c, before) = (&self.constants, *all);
        let mut own = ZERO;
        for l in 0..LANES {
            let way = Way {
                slopes: (now.slope[l], ahead.slope[l]),
                charge: ahead.charge[l] - now.charge[l],
                current: end[l] - start[l],
                half_per_ampere: 0.5 * c.per_ampere[l],
                conductance: self.conductance[l],
            };
            let mut sum = before.of(l);
            let stray = sum.add(&way);
            let live = c.live[l] > 0.0;
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
    pub fn settles(&self, apart: &Lane, stray: &Lane) -> Lane {
        let per_ampere = self.constants.per_ampere;
        lanes(|l| {
            let charge = stray[l] * per_ampere[l] <= CHARGE;
            let temperature = apart[l] <= TEMPERATURE;
            if charge & temperature { 1.0 } else { 0.0 }
        })
    }

    /// E′/(Q·R) on the tangent [1/s].
    #[inline(always)]
    pub fn stiffness(&mut self, ahead: &Moment) -> Lane {
        let (per_coulomb, slope, resistance) = (self.constants.per_coulomb, ahead.slope, self.resistance);
        let conductance = lanes(|l| 1.0 / resistance[l]);
        self.conductance = conductance;
        lanes(|l| stiffness(slope[l], per_coulomb[l], conductance[l]))
    }

    /// 1 where a step does not lean on its end by more than `COARSE`: `lean` is its time times how far the weight of the
    /// end is above ½.
    #[inline(always)]
    pub fn is_fine(&self, lean: &Lane, (start, end): (&Lane, &Lane)) -> Lane {
        let capacity = self.constants.capacity;
        lanes(|l| if lean[l] * (end[l] - start[l]).abs() > COARSE * capacity[l] { 0.0 } else { 1.0 })
    }

    /// 1 where charge, temperature and voltage are within what is watched.
    #[inline(always)]
    pub fn is_calm(&self, ahead: &Moment) -> Lane {
        let (c, charge, celsius, cells) = (&self.constants, ahead.charge, ahead.celsius, ahead.cells);
        lanes(|l| {
            let read = celsius[l] + c.sensor[l];
            let calm = c.charge.holds(l, charge[l]) & c.temperature.holds(l, read) & c.cells.holds(l, cells[l]);
            if calm { 1.0 } else { 0.0 }
        })
    }

    /// How far its currents at both ends are from the ends of what is watched [A].
    #[inline(always)]
    pub fn spare(&self, (start, end): (&Lane, &Lane)) -> Lane {
        let (current, start, end) = (&self.constants.current, *start, *end);
        lanes(|l| {
            let (start, end) = (start[l], end[l]);
            let above = current.high[l] - if start > end { start } else { end };
            let below = if start < end { start } else { end } - current.low[l];
            if above < below { above } else { below }
        })
    }
}
