//! Trials abreast, each on a step of its own: the arithmetic of `trial::step`, lane by lane in its order.
//!
//! In: the present of each lane, and how wide its step is. Out: the end of the step, and in which lanes the whole of it
//! was quiet: nothing that a guard, a device, a limit or a clock watches left its range. Those lanes may take the end as
//! it is; those whose step was too long for its error try half of it; the others are left where they were, for the
//! one-trial path.

mod commit;
mod solve;
mod warm;
mod width;

use super::module::{LaneRange, ModuleLanes, Moment, StrayLanes};
use super::stopwatch::Stopwatch;
use super::wire::WireLanes;
use crate::engine::heat::Coupling;
use crate::engine::model::Model;
use crate::network::lanes::{
    LANES, Lane, LaneDemand, LaneSolver, LaneTerminals, ZERO, any, choose, lanes, one_by_one, whole,
};
use width::Widths;

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
    /// The modules below and above each, by 1, or itself by 0 where there is none: no branch in the arithmetic.
    pub neighbours: Vec<[(usize, f64); 2]>,
    pub gradient: f64,
    /// `Relaxation` of each module over the step of each lane.
    pub decay: Vec<Lane>,
    pub rise: Vec<Lane>,
    /// Loss of the room [W/K], and what is left of its own warmth after the step of each lane.
    pub room: Option<(f64, Lane)>,
}

/// How good a step is.
struct Judgement {
    /// 1 where it is short enough for its error.
    good: Lane,
    /// 1 where charges, temperatures and voltages of modules are within what is watched at its end.
    calm: Lane,
    /// How far currents may stray in it [A].
    stray: Lane,
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
    pub now: AirLanes,
    pub ahead: AirLanes,
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

impl Ride {
    pub fn new(model: &Model) -> Ride {
        let (modules, branches) = (model.modules.len(), model.bank.network.branches().len());
        let nothing = LaneTerminals { voltage: ZERO, current: ZERO, kirchhoff: ZERO, sound: [false; LANES] };
        Ride {
            solver: LaneSolver::new(&model.bank.network, modules),
            widths: Widths::new(model),
            seconds: ZERO,
            stiffness: ZERO,
            stiffness_ahead: ZERO,
            theta: Lane([0.5; LANES]),
            leans: false,
            long: ZERO,
            heating: model.heating(),
            modules: vec![ModuleLanes::new(); modules],
            present: vec![Moment::new(); modules],
            coming: vec![Moment::new(); modules],
            warmth: vec![ZERO; branches - modules],
            warmth_ahead: vec![ZERO; branches - modules],
            wires: model.bank.conductors.iter().map(WireLanes::new).collect(),
            heat: Heat::new(model),
            now: AirLanes::new(),
            ahead: AirLanes::new(),
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

    /// The end of each lane's step, `ahead` holding the surroundings there.
    #[inline(always)]
    pub fn advance(&mut self, model: &Model) -> Verdict {
        self.begin_counting();
        self.warm_room();
        let around = self.around();
        self.foresee_wires(&around);
        let sound = self.solve_until_settled(model, &around);
        self.correct_wires();
        let Judgement { good, calm, stray } = self.judge();
        let sound = choose(&calm, sound, ZERO);
        let quiet = self.watch(choose(&good, sound, ZERO), Some(&stray));
        let bad = choose(&good, ZERO, sound);
        let rough = if any(&bad) { self.watch(bad, None) } else { ZERO };
        Verdict { quiet, rough }
    }

    /// The present anew with another load; 1 in the lanes where nothing leaves its range by it.
    #[inline(always)]
    pub fn solve_present(&mut self, model: &Model) -> Lane {
        self.begin_counting();
        (self.ahead.room, self.ahead.own) = (self.now.room, self.now.own);
        self.warmth_ahead.copy_from_slice(&self.warmth);
        for k in one_by_one(self.modules.len()) {
            let (module, ahead) = (&mut self.modules[k], &mut self.coming[k]);
            module.stay(&self.present[k], ahead, &model.modules[k]);
            let device = model.bank.modules[k].device;
            (self.emf[k], self.conductance[k]) =
                module.load(ahead, &self.present[k].charge, &ZERO, &model.modules[k], device);
        }
        let mut calm = self.solve_as_it_is(model);
        for k in one_by_one(self.modules.len()) {
            calm = choose(&self.modules[k].is_calm(&self.coming[k]), calm, ZERO);
        }
        self.watch(calm, None)
    }

    /// Settles the modules' temperatures, and judges the step by its ends (`Trial::is_coarse`, `Trial::is_rough`).
    #[inline(always)]
    fn judge(&mut self) -> Judgement {
        let one = Lane([1.0; LANES]);
        let (mut good, mut fine, mut calm, mut all) = (one, one, one, StrayLanes::NONE);
        let lean = lanes(|l| (self.theta[l] - 0.5) * self.seconds[l]);
        for k in one_by_one(self.modules.len()) {
            self.settle_module(k);
            let (module, now, ahead) = (&self.modules[k], &self.present[k], &self.coming[k]);
            let stray = module.stray(now, ahead, (&self.start[k], &self.end[k]), &mut all);
            good = choose(&module.settles(ahead, &stray), good, ZERO);
            calm = choose(&module.is_calm(ahead), calm, ZERO);
            if self.leans {
                fine = choose(&module.is_fine(&lean, (&self.start[k], &self.end[k])), fine, ZERO);
            }
        }
        let (good, fine, calm) = (whole(good), whole(fine), whole(calm));
        let stray = all.greatest(&self.bus_ahead.voltage, &self.bus_ahead.current);
        Judgement { good: choose(&self.long, choose(&good, fine, ZERO), fine), calm, stray }
    }

    /// The least and the greatest current of a branch in the step, or at its end alone.
    #[inline(always)]
    fn reach(&self, branch: usize, stray: Option<&Lane>) -> (Lane, Lane) {
        let end = self.end[branch];
        let Some(stray) = stray else { return (end, end) };
        let (start, stray) = (self.start[branch], *stray);
        let low = lanes(|l| if start[l] < end[l] { start[l] - stray[l] } else { end[l] - stray[l] });
        let high = lanes(|l| if start[l] > end[l] { start[l] + stray[l] } else { end[l] + stray[l] });
        (low, high)
    }

    /// The greatest current of a branch either way in the step, or at its end alone.
    #[inline(always)]
    fn greatest(&self, branch: usize, stray: Option<&Lane>) -> Lane {
        let end = self.end[branch];
        let Some(stray) = stray else { return lanes(|l| end[l].abs()) };
        let (start, stray) = (self.start[branch], *stray);
        lanes(|l| {
            let (start, end) = (start[l].abs(), end[l].abs());
            (if start > end { start } else { end }) + stray[l]
        })
    }

    /// Narrows a mask of lanes whose modules are calm to those in which no current, nor the bus or a conductor, has left
    /// its range, or may have on the way.
    #[inline(always)]
    fn watch(&self, sound: Lane, stray: Option<&Lane>) -> Lane {
        let mut quiet = sound;
        for k in one_by_one(self.modules.len()) {
            quiet = choose(&self.modules[k].carries(&self.reach(k, stray)), quiet, ZERO);
        }
        let modules = self.modules.len();
        for k in one_by_one(self.wires.len()) {
            let calm = self.wires[k].is_quiet(&self.warmth_ahead[k], &self.greatest(modules + k, stray));
            quiet = choose(&calm, quiet, ZERO);
        }
        let quiet = whole(quiet);
        let (bus, room, own) = (&self.bus_ahead, self.ahead.room, self.ahead.own);
        lanes(|l| {
            let within = self.bus_voltage.holds(l, bus.voltage[l])
                & self.bus_current.holds(l, bus.current[l])
                & self.room.holds(l, room[l] + own[l]);
            if within { quiet[l] } else { 0.0 }
        })
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
