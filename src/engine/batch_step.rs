//! One step of N trials side by side: where it ends, how good it is, and its end made the present. A trial by itself is
//! one lane of width 1.
//!
//! In: the present of each lane, and how wide its step is. Out: the end of the step, and in which lanes nothing happened:
//! no guard, device, limit or clock watched anything leave its range.
//!
//! The step from t to t + h solves the network once, at its end. Each module's charge follows
//! z₁ = z₀ − h/Q·((1−θ)·i₀ + θ·i₁), so that its voltage at the end, E(z₁) − R·i₁, is that of a
//! source E(z₀ − (1−θ)·h·i₀/Q) behind R + θ·h·E′/Q: the implicit part costs nothing. E is the segment of the curve on
//! which the end would lie with i₀; where it lies on another, or asks for another weight, it is solved again (Newton's
//! method, finite on a monotone curve of straight lines but for a cap on the attempts). The weight θ is one for all
//! modules, so that together they give up exactly what the load takes. It is ½, the trapezoidal rule, second order,
//! unless a module is at a steep end of its curve, before the step or after it. With x = h·E′/(Q·R), the step multiplies a
//! departure from balance by (1 − (1−θ)·x)/(1 + θ·x), which stays above zero, so that nothing oscillates, for
//! θ ≥ 1 − 1/x.

mod chord_errors;
pub mod commit;
mod conductor;
mod greatest;
mod judge;
mod module;
mod segments;
mod solve;

use super::model::Model;
use super::range::Range;
use super::step_error::SHORT;
use super::thermal::{AirLanes, Around, Thermal};
use crate::network::lane::{Lane, lanes};
use crate::network::linear::{LaneDemand, LaneTerminals};
use crate::time::Time;
use conductor::ConductorLanes;
use greatest::Greatest;
use module::{ModuleLanes, Sample};
use segments::LaneRange;

/// What became of a step, a mask each.
#[derive(Clone, Copy, Debug)]
pub struct StepOutcome<const N: usize> {
    /// 1 where the step is good enough and nothing happened in it.
    pub quiet: Lane<N>,
    /// 1 where nothing happened by its end, but the step is too long for its error.
    pub fails_error_test: Lane<N>,
}

impl<const N: usize> StepOutcome<N> {
    /// Before any step.
    const NONE: StepOutcome<N> = StepOutcome { quiet: Lane::ZERO, fails_error_test: Lane::ZERO };
}

/// Work and quality of each lane.
#[derive(Clone, Debug)]
pub struct WorkLanes<const N: usize> {
    pub steps: [u64; N],
    pub solves: [u64; N],
    /// Solutions of the network in attempts at the next step. They are counted when a step is taken; a trial that leaves its
    /// lane makes the attempts again.
    pub tried: [u64; N],
    pub kirchhoff: Lane<N>,
    pub power_balance: Lane<N>,
}

impl<const N: usize> WorkLanes<N> {
    /// Before any step.
    pub const NONE: WorkLanes<N> =
        WorkLanes { steps: [0; N], solves: [0; N], tried: [0; N], kirchhoff: Lane::ZERO, power_balance: Lane::ZERO };
}

/// Ranges of the bus voltage [V], the bus current [A] and the room temperature [°C] within which nothing happens.
#[derive(Clone, Debug)]
struct Ranges<const N: usize> {
    bus_voltage: LaneRange<N>,
    bus_current: LaneRange<N>,
    room: LaneRange<N>,
}

/// Who solves the network of a step.
pub trait NetworkSolver<const N: usize> {
    /// Why it could not; `Infallible` of one that leaves what it cannot solve to another.
    type Error;

    /// Solves what `step` has loaded for its load, and leaves there the currents (`end`), the voltages at the modules'
    /// rails, the bus, and in which lanes the solution is sound (`take_voltage`, `take_quality`).
    ///
    /// # Errors
    /// Elements that are not finite.
    fn solve(&mut self, step: &mut BatchStep<N>) -> Result<(), Self::Error>;
}

/// A step of N trials under way.
#[derive(Clone, Debug)]
pub struct BatchStep<const N: usize> {
    simd: pulp::Arch,
    /// Width of each lane's step; up to which a step is taken as it is.
    widths: [Time; N],
    single: Time,
    /// Length of each lane's step [s].
    pub seconds: Lane<N>,
    /// Greatest E′/(Q·R) of the modules that carry current at its start, and at its end [1/s]; the weight of the end.
    pub stiffness: Lane<N>,
    stiffness_ahead: Lane<N>,
    theta: Lane<N>,
    /// Whether that is above ½ in any lane.
    leans: bool,
    /// The greatest stiffness that an attempt at this step's end has met [1/s].
    stiffest: Lane<N>,
    /// 1 where the last network is sound; where all of the step are; where its end is still to be found.
    pub solved: Lane<N>,
    pub sound: Lane<N>,
    open: Lane<N>,
    /// The demand can be met at one end of the step and not at the other (of a trial by itself): until the end currents
    /// were as before.
    pub turned: bool,
    pub outcome: StepOutcome<N>,
    /// 1 where the error of the step is small enough; how far its currents may stray from its chord [A].
    pub good: Lane<N>,
    pub stray: Lane<N>,
    /// 1 where it is longer than the scenario's, and its error is to be tested.
    long: Lane<N>,
    /// Mean square of the current over the square of its mean: 1 without ripple.
    pub ripple_factor: Lane<N>,
    pub modules: Vec<ModuleLanes<N>>,
    pub present: Vec<Sample<N>>,
    pub coming: Vec<Sample<N>>,
    /// Whether a module of any lane is blocked.
    pub any_blocked: bool,
    /// Whether a module limits its current by its own electronics; only where N is 1.
    pub self_limited: Vec<bool>,
    pub conductors: Vec<ConductorLanes<N>>,
    /// Temperatures of the conductors, now and at the end [°C].
    pub celsius: Vec<Lane<N>>,
    pub celsius_ahead: Vec<Lane<N>>,
    thermal: Thermal<N>,
    pub now: AirLanes<N>,
    pub ahead: AirLanes<N>,
    around: Around<N>,
    pub emf: Vec<Lane<N>>,
    pub conductance: Vec<Lane<N>>,
    /// Branch currents at the start, and at the end [A].
    pub start: Vec<Lane<N>>,
    pub end: Vec<Lane<N>>,
    pub bus: LaneTerminals<N>,
    pub bus_ahead: LaneTerminals<N>,
    /// What all conductors turn to heat [W].
    conductor_loss: Lane<N>,
    conductor_loss_ahead: Lane<N>,
    pub demand: LaneDemand<N>,
    /// What the inverter turns to heat [W].
    pub inverter_loss: Lane<N>,
    ranges: Ranges<N>,
    /// The greatest current of every branch so far [A], and the greatest temperature of every conductor with insulation data [°C].
    pub greatest: Vec<Greatest<N>>,
    pub hottest: Vec<Lane<N>>,
    /// How far each protective device is on its way to opening, now and at the end of the step: it opens beyond 1.
    pub spent: Vec<Lane<N>>,
    pub spent_ahead: Vec<Lane<N>>,
    /// Those that change in this step; whether any has spent anything, in any lane.
    acting: Vec<bool>,
    pub any_spent: bool,
    /// Power asked for and not met [W], and the energy so far [J]: of lanes that have long been short.
    pub short: Lane<N>,
    pub unserved: Lane<N>,
    pub work: WorkLanes<N>,
    /// Solutions of the network in this step, not yet counted, and how exact they are.
    solves: Lane<N>,
    pub kirchhoff: Lane<N>,
    pub power_balance: Lane<N>,
}

/// A stage of a step, compiled by itself for the widest vectors that the processor has: all of it must be inlined. Lanes
/// pass from one stage to the next through memory, so that how the compiler cuts them up in one is not felt in another.
pub trait Stage<const N: usize> {
    type Output;

    /// Does it.
    fn with(self, step: &mut BatchStep<N>) -> Self::Output;
}

struct Compiled<'s, S, const N: usize> {
    step: &'s mut BatchStep<N>,
    stage: S,
}

impl<S: Stage<N>, const N: usize> pulp::NullaryFnOnce for Compiled<'_, S, N> {
    type Output = S::Output;

    #[inline(always)]
    fn call(self) -> S::Output {
        self.stage.with(self.step)
    }
}

impl<const N: usize> BatchStep<N> {
    pub fn new(model: &Model) -> BatchStep<N> {
        let (modules, branches) = (model.modules.len(), model.bank.network.branches().len());
        let (conductors, devices) = (branches - modules, model.bank.devices.len());
        let (zeros, ambient) = (|count: usize| vec![Lane::ZERO; count], &model.ambient);
        BatchStep {
            simd: pulp::Arch::new(),
            widths: [Time::NEVER; N],
            single: model.trials.step.max(SHORT),
            seconds: Lane::ZERO,
            stiffness: Lane::ZERO,
            stiffness_ahead: Lane::ZERO,
            theta: Lane::all(0.5),
            leans: false,
            stiffest: Lane::ZERO,
            solved: Lane::ZERO,
            sound: Lane::ZERO,
            open: Lane::ZERO,
            turned: false,
            outcome: StepOutcome::NONE,
            good: Lane::ZERO,
            stray: Lane::ZERO,
            long: Lane::ZERO,
            ripple_factor: Lane::all(model.ripple_factor()),
            modules: vec![ModuleLanes::new(); modules],
            present: vec![Sample::new(); modules],
            coming: vec![Sample::new(); modules],
            any_blocked: false,
            self_limited: vec![false; modules],
            conductors: model.bank.conductors.iter().map(ConductorLanes::new).collect(),
            celsius: zeros(conductors),
            celsius_ahead: zeros(conductors),
            thermal: Thermal::new(&model.couplings, ambient.gradient, ambient.room_heat, model.grid.seconds()),
            now: AirLanes::ZERO,
            ahead: AirLanes::ZERO,
            around: Around::between(&AirLanes::ZERO, &AirLanes::ZERO),
            emf: zeros(modules),
            conductance: zeros(branches),
            start: zeros(branches),
            end: zeros(branches),
            bus: LaneTerminals::NONE,
            bus_ahead: LaneTerminals::NONE,
            conductor_loss: Lane::ZERO,
            conductor_loss_ahead: Lane::ZERO,
            demand: LaneDemand::NONE,
            inverter_loss: Lane::ZERO,
            ranges: Ranges { bus_voltage: LaneRange::any(), bus_current: LaneRange::any(), room: LaneRange::any() },
            greatest: vec![Greatest::NONE; branches],
            hottest: vec![Lane::all(f64::NEG_INFINITY); conductors],
            spent: zeros(devices),
            spent_ahead: zeros(devices),
            acting: vec![false; devices],
            any_spent: false,
            short: Lane::ZERO,
            unserved: Lane::ZERO,
            work: WorkLanes::NONE,
            solves: Lane::ZERO,
            kirchhoff: Lane::ZERO,
            power_balance: Lane::ZERO,
        }
    }

    /// Forgets the trials before.
    pub fn clear(&mut self) {
        self.widths = [Time::NEVER; N];
        self.stiffness = Lane::ZERO;
        self.now = AirLanes::ZERO;
        self.start.fill(Lane::ZERO);
        self.present.fill(Sample::new());
        self.greatest.fill(Greatest::NONE);
        self.spent.fill(Lane::ZERO);
        self.work.steps = [0; N];
    }

    /// Carries out a stage; of one lane there is nothing to be had from wide vectors.
    pub fn stage<S: Stage<N>>(&mut self, stage: S) -> S::Output {
        if N == 1 { stage.with(self) } else { self.simd.dispatch(Compiled { step: self, stage }) }
    }

    /// Sets the width of the next step of a lane, and what follows from that alone.
    pub fn set_width(&mut self, lane: usize, width: Time) {
        if self.widths[lane] == width {
            return;
        }
        let seconds = width.seconds();
        self.widths[lane] = width;
        self.seconds[lane] = seconds;
        self.long[lane] = f64::from(u8::from(width > self.single));
        for module in &mut self.modules {
            module.per_ampere[lane] = seconds / module.capacity[lane];
        }
        self.thermal.set_width(lane, seconds);
    }

    /// Sets within which voltages and currents of the bus, and which warmth of the room, nothing happens in a lane.
    pub fn set_ranges(&mut self, lane: usize, bus_voltage: Range, bus_current: Range, room: Range) {
        self.ranges.bus_voltage.set(lane, bus_voltage);
        self.ranges.bus_current.set(lane, bus_current);
        self.ranges.room.set(lane, room);
    }

    /// Takes over a lane of another: all of its trial that goes on by itself.
    pub fn copy_lane<const M: usize>(&mut self, l: usize, from: &BatchStep<M>, m: usize) {
        let pairs = |a: &mut [Lane<N>], b: &[Lane<M>]| a.iter_mut().zip(b).for_each(|(a, b)| a[l] = b[m]);
        pairs(&mut self.celsius, &from.celsius);
        pairs(&mut self.conductance, &from.conductance);
        pairs(&mut self.start, &from.start);
        pairs(&mut self.hottest, &from.hottest);
        pairs(&mut self.spent, &from.spent);
        self.any_spent |= self.spent.iter().any(|spent| spent[l] != 0.0);
        self.modules.iter_mut().zip(&from.modules).for_each(|(a, b)| a.copy_lane(l, b, m));
        self.present.iter_mut().zip(&from.present).for_each(|(a, b)| a.copy_lane(l, b, m));
        self.conductors.iter_mut().zip(&from.conductors).for_each(|(a, b)| a.copy_lane(l, b, m));
        self.greatest.iter_mut().zip(&from.greatest).for_each(|(a, b)| a.copy_lane(l, b, m));
        (self.now.outdoor[l], self.now.room[l]) = (from.now.outdoor[m], from.now.room[m]);
        (self.now.floor[l], self.now.own[l]) = (from.now.floor[m], from.now.own[m]);
        (self.bus.voltage[l], self.bus.current[l]) = (from.bus.voltage[m], from.bus.current[m]);
        (self.demand.amount[l], self.demand.is_power[l]) = (from.demand.amount[m], from.demand.is_power[m]);
        self.conductor_loss[l] = from.conductor_loss[m];
        self.inverter_loss[l] = from.inverter_loss[m];
        self.ripple_factor[l] = from.ripple_factor[m];
        self.stiffness[l] = from.stiffness[m];
        // Another trial may have come into the lane.
        self.widths[l] = Time::NEVER;
    }
}

impl<const N: usize> BatchStep<N> {
    /// Begins a step: no lane is solved yet, and no solution counted.
    #[inline(always)]
    fn begin(&mut self) {
        (self.solves, self.kirchhoff, self.power_balance) = (Lane::ZERO, Lane::ZERO, Lane::ZERO);
        (self.sound, self.open, self.stiffest) = (Lane::ONE, Lane::ONE, self.stiffness);
        self.turned = false;
    }

    /// Air around the conductors at the end [°C].
    #[inline(always)]
    pub(super) fn air_ahead(&self) -> Lane<N> {
        lanes(|l| self.ahead.room[l] + self.ahead.own[l])
    }

    /// Currents until the end of the step: where the voltage collapses or recovers, it does so at the end.
    #[inline(always)]
    pub fn until_end(&self) -> &[Lane<N>] {
        if self.turned { &self.start } else { &self.end }
    }
}
