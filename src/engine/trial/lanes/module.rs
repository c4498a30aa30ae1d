//! One module in every lane.
//!
//! In: what the step before left, the surroundings, the currents that the network gives. Out: the branch that the
//! network solves with, and the module at the step's end. Each line is the arithmetic of `trial::step` and
//! `trial::load_elements`, lane by lane and in their order, for a step whose weight of the end is ½.

use crate::curve::{Curve, Segment};
use crate::engine::module::{Bounds, ModuleModel, Range};
use crate::network::lanes::{LANES, Lane, any, choose, lanes};

const ZERO: Lane = Lane([0.0; LANES]);

/// The segment of a curve that each lane is on.
#[derive(Clone, Debug)]
pub struct Segments {
    above: Lane,
    to: Lane,
    origin: Lane,
    y: Lane,
    slope: Lane,
}

impl Segments {
    pub fn new() -> Segments {
        // Holds nothing: the first look finds the segment.
        Segments { above: Lane([f64::INFINITY; LANES]), to: ZERO, origin: ZERO, y: ZERO, slope: ZERO }
    }

    /// Goes to the segments that hold these.
    #[inline(always)]
    fn seek(&mut self, x: &Lane, curve: &Curve) {
        let outside = lanes(|l| if (self.above[l] < x[l]) & (x[l] <= self.to[l]) { 0.0 } else { 1.0 });
        if any(&outside) {
            self.seek_each(x, curve);
        }
    }

    #[cold]
    #[inline(never)]
    fn seek_each(&mut self, x: &Lane, curve: &Curve) {
        for l in 0..LANES {
            let Segment { above, to, origin, y, slope } = curve.segment(x[l]);
            (self.above[l], self.to[l], self.origin[l]) = (above, to, origin);
            (self.y[l], self.slope[l]) = (y, slope);
        }
    }

    #[inline(always)]
    fn value(&self, x: &Lane) -> Lane {
        lanes(|l| self.y[l] + self.slope[l] * (x[l] - self.origin[l]))
    }
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

    /// 1 where a number is inside, else 0.
    #[inline(always)]
    pub fn holds(&self, x: &Lane) -> Lane {
        lanes(|l| if (self.low[l] <= x[l]) & (x[l] <= self.high[l]) { 1.0 } else { 0.0 })
    }
}

/// What does not change while a lane rides.
#[derive(Clone, Debug)]
pub struct ModuleConstants {
    /// Charge by ampere over a whole step, and over half of one [1/A].
    pub per_ampere: Lane,
    pub half_per_ampere: Lane,
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

/// One module, eight times.
#[derive(Clone, Debug)]
pub struct ModuleLanes {
    pub constants: ModuleConstants,
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
    /// Slope of its curve [V] and its resistance [Ω] when that was solved.
    pub slope: Lane,
    pub resistance: Lane,
    pub ahead: Ahead,
    open_circuit: Segments,
    factor: Segments,
}

/// The end of the step.
#[derive(Clone, Debug)]
pub struct Ahead {
    /// With what the start's current takes; then with the end's as well.
    pub charge: Lane,
    pub celsius: Lane,
    pub first_pass: Lane,
    pub mean_loss: Lane,
    tangent_charge: Lane,
    tangent_emf: Lane,
    slope: Lane,
    emf_now: Lane,
    cell_resistance: Lane,
    resistance: Lane,
    /// Of the branch: with what is implicit and its device [Ω], and its EMF without a switch's drop [V].
    pub branch_resistance: Lane,
    pub branch_emf: Lane,
    pub loss: Lane,
    pub terminals: Lane,
    pub cells: Lane,
}

impl ModuleLanes {
    pub fn new() -> ModuleLanes {
        let constants = ModuleConstants {
            per_ampere: ZERO,
            half_per_ampere: ZERO,
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
        let ahead = Ahead {
            charge: ZERO,
            celsius: ZERO,
            first_pass: ZERO,
            mean_loss: ZERO,
            tangent_charge: ZERO,
            tangent_emf: ZERO,
            slope: ZERO,
            emf_now: ZERO,
            cell_resistance: ZERO,
            resistance: ZERO,
            branch_resistance: ZERO,
            branch_emf: ZERO,
            loss: ZERO,
            terminals: ZERO,
            cells: ZERO,
        };
        ModuleLanes {
            constants,
            charge: ZERO,
            celsius: ZERO,
            emf: Lane([1.0; LANES]),
            loss: ZERO,
            terminals: ZERO,
            cells: ZERO,
            slope: ZERO,
            resistance: ZERO,
            ahead,
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

    /// Takes what the start's current takes.
    #[inline(always)]
    pub fn leave(&mut self, start: &Lane) {
        let c = &self.constants;
        let gone = lanes(|l| 0.5 * start[l] + c.standing[l] / self.emf[l]);
        self.ahead.charge = lanes(|l| self.charge[l] - c.per_ampere[l] * gone[l]);
    }

    /// Lays the tangent where the start's current leaves it.
    #[inline(always)]
    pub fn aim(&mut self, model: &ModuleModel) {
        let at = self.ahead.charge;
        self.lay_tangent(&at, model);
    }

    /// Nothing passes: the present itself.
    #[inline(always)]
    pub fn stay(&mut self, model: &ModuleModel) {
        self.ahead.charge = self.charge;
        self.ahead.celsius = self.celsius;
        let at = self.charge;
        self.lay_tangent(&at, model);
    }

    #[inline(always)]
    fn lay_tangent(&mut self, charge: &Lane, model: &ModuleModel) {
        let held = lanes(|l| charge[l].clamp(0.0, 1.0));
        self.ahead.tangent_charge = held;
        match model.fixed_emf {
            Some(volts) => (self.ahead.tangent_emf, self.ahead.slope) = (Lane([volts; LANES]), ZERO),
            None => {
                self.open_circuit.seek(&held, &model.kind.open_circuit);
                self.ahead.tangent_emf = self.open_circuit.value(&held);
                self.ahead.slope = self.open_circuit.slope;
            }
        }
    }

    /// The branch of the step's end, `implicit` being the half of a step's charge by ampere, 0 for the present.
    #[inline(always)]
    pub fn load(&mut self, start: &Lane, implicit: &Lane, model: &ModuleModel, device: f64) {
        let (luck, ahead) = (self.constants.luck, &mut self.ahead);
        let foreseen = lanes(|l| ahead.charge[l] - implicit[l] * start[l]);
        self.factor.seek(&foreseen, &model.kind.resistance.charge_factor);
        let factor = self.factor.value(&foreseen);
        let (mut cell, mut whole) = (ZERO, ZERO);
        for l in 0..LANES {
            let (within, all) = model.resistance_by(factor[l], ahead.celsius[l]);
            (cell[l], whole[l]) = (within * luck[l], all * luck[l]);
        }
        (ahead.cell_resistance, ahead.resistance) = (cell, whole);
        ahead.branch_emf =
            lanes(|l| ahead.tangent_emf[l] + ahead.slope[l] * (ahead.charge[l] - ahead.tangent_charge[l]));
        ahead.branch_resistance = lanes(|l| whole[l] + implicit[l] * ahead.slope[l] + device);
    }

    /// What the network solves with: EMF and conductance.
    #[inline(always)]
    pub fn branch(&self) -> (Lane, Lane) {
        let (c, ahead) = (&self.constants, &self.ahead);
        let conducts = lanes(|l| 1.0 / ahead.branch_resistance[l]);
        let conductance = choose(&c.live, conducts, ZERO);
        (lanes(|l| ahead.branch_emf[l] - c.drop[l]), conductance)
    }

    /// Heat and voltages with the currents that the network gave.
    #[inline(always)]
    pub fn settle(&mut self, end: &Lane, terminals: Lane, heating: f64, device: f64) {
        let (standing, ahead) = (self.constants.standing, &mut self.ahead);
        ahead.terminals = terminals;
        let implicit = lanes(|l| ahead.branch_resistance[l] - ahead.resistance[l] - device);
        ahead.cells = lanes(|l| ahead.branch_emf[l] - (implicit[l] + ahead.cell_resistance[l]) * end[l]);
        ahead.loss = lanes(|l| {
            let within = ahead.branch_emf[l] - (implicit[l] + device) * end[l] - ahead.terminals[l];
            within * end[l] * heating + standing[l]
        });
    }

    /// Takes what the end's current takes; lays new tangents where the end lies on another segment, and says in
    /// which lanes (1, else 0).
    #[inline(always)]
    pub fn arrive(&mut self, end: &Lane, model: &ModuleModel, same: f64) -> Lane {
        let per_ampere = self.constants.per_ampere;
        self.ahead.charge = lanes(|l| self.ahead.charge[l] - per_ampere[l] * (0.5 * end[l]));
        let (charge, before) = (self.ahead.charge, (self.ahead.tangent_charge, self.ahead.tangent_emf, self.ahead.slope));
        self.lay_tangent(&charge, model);
        let ahead = &mut self.ahead;
        let value = |at: &Lane, emf: &Lane, slope: &Lane| lanes(|l| emf[l] + slope[l] * (charge[l] - at[l]));
        let right = value(&ahead.tangent_charge, &ahead.tangent_emf, &ahead.slope);
        let was = value(&before.0, &before.1, &before.2);
        let other = lanes(|l| if (right[l] - was[l]).abs() > same { 1.0 } else { 0.0 });
        // The curve at the charge itself is what the next step begins with.
        ahead.emf_now = ahead.tangent_emf;
        ahead.tangent_charge = choose(&other, ahead.tangent_charge, before.0);
        ahead.tangent_emf = choose(&other, ahead.tangent_emf, before.1);
        ahead.slope = choose(&other, ahead.slope, before.2);
        other
    }

    /// 1 where a step of so many seconds keeps its weight of ½: E′/(Q·R)·h is at most 2. A hair inside.
    #[inline(always)]
    pub fn is_soft(&self) -> Lane {
        let (c, ahead) = (&self.constants, &self.ahead);
        lanes(|l| if c.half_per_ampere[l] * ahead.slope[l] <= 0.999_999 * ahead.resistance[l] { 1.0 } else { 0.0 })
    }

    /// 1 where all that is watched is within its range at the end.
    #[inline(always)]
    pub fn is_quiet(&self, end: &Lane) -> Lane {
        let (c, ahead) = (&self.constants, &self.ahead);
        let read = lanes(|l| ahead.celsius[l] + c.sensor[l]);
        let charge = c.charge.holds(&ahead.charge);
        let (temperature, cells, current) =
            (c.temperature.holds(&read), c.cells.holds(&ahead.cells), c.current.holds(end));
        lanes(|l| charge[l] * temperature[l] * cells[l] * current[l])
    }

    /// Makes the end the present in the lanes of `takes`.
    #[inline(always)]
    pub fn commit(&mut self, takes: &Lane) {
        let charge = self.ahead.charge;
        self.charge = choose(takes, lanes(|l| charge[l].clamp(-1e-9, 1.0 + 1e-9)), self.charge);
        self.celsius = choose(takes, self.ahead.celsius, self.celsius);
        self.emf = choose(takes, self.ahead.emf_now, self.emf);
        self.settle_present(takes);
    }

    /// Takes currents' consequences alone: the present was solved anew.
    #[inline(always)]
    pub fn settle_present(&mut self, takes: &Lane) {
        self.loss = choose(takes, self.ahead.loss, self.loss);
        self.terminals = choose(takes, self.ahead.terminals, self.terminals);
        self.cells = choose(takes, self.ahead.cells, self.cells);
        self.slope = choose(takes, self.ahead.slope, self.slope);
        self.resistance = choose(takes, self.ahead.resistance, self.resistance);
    }
}
