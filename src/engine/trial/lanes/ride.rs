//! Trials abreast, each on a step of its own: the arithmetic of `trial::step`, lane by lane in its order.
//!
//! In: the present of each lane, and how wide its step is. Out: the end of the step, and in which lanes the whole of it
//! was quiet: nothing that a guard, a device, a limit or a clock watches left its range. Those lanes may take the end as
//! it is; those whose step was too long for its error try half of it; the others are left where they were, for the
//! one-trial path.

mod commit;
mod judge;
mod solve;
mod warm;
mod width;

use super::module::{LaneRange, ModuleLanes, Moment};
use super::stopwatch::Stopwatch;
use super::wire::WireLanes;
use crate::engine::heat::Coupling;
use crate::engine::model::Model;
use crate::network::lanes::{LANES, Lane, LaneDemand, LaneSolver, LaneTerminals, ZERO, lanes};
use judge::Judge;
use solve::{LoadPresent, SettlePresent};
use warm::{Around, Foresee};
use width::Widths;

pub use commit::{Commit, CommitPresent};

/// Air of each lane, in and outdoors, and the floor [°C].
#[derive(Clone, Copy, Debug)]
pub struct AirLanes {
    pub outdoor: Lane,
    pub room: Lane,
    pub floor: Lane,
    /// Of the room by the bank itself [K].
    pub own: Lane,
}

impl AirLanes {
    pub fn new() -> AirLanes {
        AirLanes { outdoor: ZERO, room: ZERO, floor: ZERO, own: ZERO }
    }
}

/// What heats, spreads and is heated, the same in every lane.
#[derive(Clone, Debug)]
pub struct Heat {
    pub couplings: Vec<Coupling>,
    /// The modules below and above each, without a branch in the arithmetic.
    pub neighbours: Vec<[Neighbour; 2]>,
    pub gradient: f64,
    /// `Relaxation` of each module over the step of each lane.
    pub decay: Vec<Lane>,
    pub rise: Vec<Lane>,
    /// Loss of the room [W/K], and what is left of its own warmth after the step of each lane.
    pub room: Option<(f64, Lane)>,
}

/// A module above or below.
#[derive(Clone, Copy, Debug)]
pub struct Neighbour {
    /// Its place among the modules by 1; the module's own by 0 where there is none.
    pub module: usize,
    pub there: f64,
    /// Its place among `Ride::changes`: the last, which is zero, where there is none.
    pub change: usize,
}

/// What became of a step, a mask each.
#[derive(Clone, Copy, Debug)]
pub struct Verdict {
    /// Nothing happened.
    pub quiet: Lane,
    /// Nothing happened at its end, and it is too long for its error.
    pub rough: Lane,
}

/// Work and quality of each lane.
#[derive(Clone, Debug)]
pub struct WorkLanes {
    pub steps: [u64; LANES],
    pub solves: [u64; LANES],
    /// Solutions of tries for the next step: they count when it is taken; a trial by itself solves them again.
    pub tried: [u64; LANES],
    pub kirchhoff: Lane,
    pub power_balance: Lane,
}

/// Trials abreast under way.
#[derive(Clone, Debug)]
pub struct Ride {
    simd: pulp::Arch,
    pub solver: LaneSolver,
    widths: Widths,
    /// Length of each lane's step [s].
    pub seconds: Lane,
    /// Greatest E′/(Q·R) of the modules that carry current at its start, and at its end [1/s]; the weight of the end.
    pub stiffness: Lane,
    stiffness_ahead: Lane,
    theta: Lane,
    /// Whether that is above ½ in any lane.
    leans: bool,
    /// The greatest stiffness that an attempt at this step's end has met [1/s].
    stiffest: Lane,
    /// 1 where the last network is sound; where all of the step are; where its end is still to be found.
    solved: Lane,
    sound: Lane,
    open: Lane,
    pub verdict: Verdict,
    /// 1 where it is longer than the scenario's, and to be judged by `stride`.
    long: Lane,
    pub heating: f64,
    pub modules: Vec<ModuleLanes>,
    pub present: Vec<Moment>,
    pub coming: Vec<Moment>,
    pub wires: Vec<WireLanes>,
    /// Temperatures of the wires, now and at the end [°C].
    pub warmth: Vec<Lane>,
    pub warmth_ahead: Vec<Lane>,
    pub heat: Heat,
    /// Temperature of each module at the end, its neighbours staying as they were, and how much more that is than at the
    /// start; at last a change of zero [°C], [K].
    first_pass: Vec<Lane>,
    changes: Vec<Lane>,
    pub now: AirLanes,
    pub ahead: AirLanes,
    around: Around,
    pub emf: Vec<Lane>,
    pub conductance: Vec<Lane>,
    /// Branch currents at the start, and at the end [A].
    pub start: Vec<Lane>,
    pub end: Vec<Lane>,
    pub bus: LaneTerminals,
    pub bus_ahead: LaneTerminals,
    /// What all conductors turn to heat [W].
    pub wire_loss: Lane,
    pub wire_loss_ahead: Lane,
    pub demand: LaneDemand,
    /// What the inverter turns to heat [W].
    pub inverter_loss: Lane,
    pub bus_voltage: LaneRange,
    pub bus_current: LaneRange,
    pub room: LaneRange,
    pub work: WorkLanes,
    /// Networks solved and checked, and of that solved.
    pub networks: Stopwatch,
    pub solutions: Stopwatch,
    /// Of this step's solutions, not yet counted.
    solves: Lane,
    kirchhoff: Lane,
    power_balance: Lane,
}

/// A stage of a step, compiled by itself for the widest vectors that the processor has: all of it must be inlined. Lanes
/// pass from one stage to the next through memory, so that how the compiler cuts them up in one is not felt in another.
pub trait Stage {
    type Output;

    /// Does it.
    fn with(self, ride: &mut Ride) -> Self::Output;
}

struct Compiled<'r, S> {
    ride: &'r mut Ride,
    stage: S,
}

impl<S: Stage> pulp::NullaryFnOnce for Compiled<'_, S> {
    type Output = S::Output;

    #[inline(always)]
    fn call(self) -> S::Output {
        self.stage.with(self.ride)
    }
}

impl Ride {
    pub fn new(model: &Model) -> Ride {
        let (modules, branches) = (model.modules.len(), model.bank.network.branches().len());
        let nothing = LaneTerminals { voltage: ZERO, current: ZERO, kirchhoff: ZERO, sound: [false; LANES] };
        Ride {
            simd: pulp::Arch::new(),
            solver: LaneSolver::new(&model.bank.network, modules),
            widths: Widths::new(model),
            seconds: ZERO,
            stiffness: ZERO,
            stiffness_ahead: ZERO,
            theta: Lane([0.5; LANES]),
            leans: false,
            stiffest: ZERO,
            solved: ZERO,
            sound: ZERO,
            open: ZERO,
            verdict: Verdict { quiet: ZERO, rough: ZERO },
            long: ZERO,
            heating: model.heating(),
            modules: vec![ModuleLanes::new(); modules],
            present: vec![Moment::new(); modules],
            coming: vec![Moment::new(); modules],
            warmth: vec![ZERO; branches - modules],
            warmth_ahead: vec![ZERO; branches - modules],
            wires: model.bank.conductors.iter().map(WireLanes::new).collect(),
            heat: Heat::new(model),
            first_pass: vec![ZERO; modules],
            changes: vec![ZERO; modules + 1],
            now: AirLanes::new(),
            ahead: AirLanes::new(),
            around: Around::new(),
            emf: vec![ZERO; modules],
            conductance: vec![ZERO; branches],
            start: vec![ZERO; branches],
            end: vec![ZERO; branches],
            bus: nothing,
            bus_ahead: nothing,
            wire_loss: ZERO,
            wire_loss_ahead: ZERO,
            demand: LaneDemand { amount: ZERO, is_power: [false; LANES] },
            inverter_loss: ZERO,
            bus_voltage: LaneRange::any(),
            bus_current: LaneRange::any(),
            room: LaneRange::any(),
            work: WorkLanes {
                steps: [0; LANES],
                solves: [0; LANES],
                tried: [0; LANES],
                kirchhoff: ZERO,
                power_balance: ZERO,
            },
            networks: Stopwatch::default(),
            solutions: Stopwatch::default(),
            solves: ZERO,
            kirchhoff: ZERO,
            power_balance: ZERO,
        }
    }

    pub fn time_networks(&mut self, on: bool) {
        self.networks.turn(on);
        self.solutions.turn(on);
    }

    pub fn stage<S: Stage>(&mut self, stage: S) -> S::Output {
        self.simd.dispatch(Compiled { ride: self, stage })
    }

    /// The end of each lane's step, `ahead` holding the surroundings there; what becomes of it into `verdict`.
    pub fn advance(&mut self, model: &Model) {
        self.stage(Foresee);
        self.solve_until_settled(model);
        self.stage(Judge);
    }

    /// The present anew with another load; `verdict.quiet` in the lanes where nothing leaves its range by it.
    pub fn solve_present(&mut self, model: &Model) {
        self.stage(LoadPresent { model });
        self.solve();
        self.stage(SettlePresent { model });
    }
}

#[inline(always)]
fn greater(a: &Lane, b: &Lane) -> Lane {
    let (a, b) = (*a, *b);
    lanes(|l| {
        let (a, b) = (a[l], b[l]);
        if b > a { b } else { a }
    })
}
