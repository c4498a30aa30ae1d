//! Eight trials on one step of the clock's grid: the arithmetic of `trial::step`, lane by lane in its order.
//!
//! In: the present of each lane. Out: the end of the step, and in which lanes the whole of it was quiet: nothing that a
//! guard, a device, a limit or a clock watches left its range. Those lanes may take the end as it is; the others are
//! left where they were, for the one-trial path.

use super::module::{LaneRange, ModuleLanes};
use super::wire::WireLanes;
use crate::engine::heat::Coupling;
use crate::engine::model::Model;
use crate::network::lanes::{LANES, Lane, LaneDemand, LaneSolver, LaneTerminals, any, choose, lanes};

pub const ZERO: Lane = Lane([0.0; LANES]);

/// As in `trial::step`.
const MOST_ATTEMPTS: u32 = 12;
const SAME_VOLTAGE: f64 = 1e-6;

/// Air of each lane, in and outdoors, and the floor [°C].
#[derive(Clone, Debug)]
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
    pub gradient: f64,
    /// 1/ΣG of each module [K/W], and what is left of a difference after a step.
    pub rise: Vec<f64>,
    pub decay: Vec<f64>,
    /// Loss of the room [W/K], and what is left of its own warmth after a step.
    pub room: Option<(f64, f64)>,
}

/// Work and quality of each lane.
#[derive(Clone, Debug)]
pub struct WorkLanes {
    pub steps: [u64; LANES],
    pub solves: [u64; LANES],
    pub kirchhoff: Lane,
    pub power_balance: Lane,
}

/// Eight trials under way.
#[derive(Clone, Debug)]
pub struct Ride {
    pub solver: LaneSolver,
    pub seconds: f64,
    pub heating: f64,
    pub modules: Vec<ModuleLanes>,
    pub wires: Vec<WireLanes>,
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
    /// Of this step's solutions, not yet counted.
    solves: Lane,
    kirchhoff: Lane,
    power_balance: Lane,
    zero: Vec<Lane>,
}

impl Ride {
    pub fn new(model: &Model, seconds: f64, heat: Heat) -> Ride {
        let (modules, branches) = (model.modules.len(), model.bank.network.branches().len());
        let nothing = LaneTerminals { voltage: ZERO, current: ZERO, kirchhoff: ZERO, sound: [false; LANES] };
        Ride {
            solver: LaneSolver::new(&model.bank.network, modules),
            seconds,
            heating: model.heating(),
            modules: vec![ModuleLanes::new(); modules],
            wires: model.bank.conductors.iter().map(WireLanes::new).collect(),
            heat,
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
                kirchhoff: ZERO,
                power_balance: ZERO,
            },
            solves: ZERO,
            kirchhoff: ZERO,
            power_balance: ZERO,
            zero: vec![ZERO; modules],
        }
    }

    /// The end of a whole step, `ahead` holding the surroundings there; 1 in the lanes that were quiet throughout.
    #[inline(always)]
    pub fn advance(&mut self, model: &Model) -> Lane {
        self.begin_counting();
        self.warm_room();
        self.heat_modules(false);
        self.warm_wires(false);
        for (module, start) in self.modules.iter_mut().zip(&self.start) {
            module.leave(start);
        }
        for (module, kind) in self.modules.iter_mut().zip(&model.modules) {
            module.aim(kind);
        }
        let mut quiet = self.solve_until_settled(model);
        self.heat_modules(true);
        self.warm_wires(true);
        for (k, module) in self.modules.iter().enumerate() {
            let (soft, calm) = (module.is_soft(), module.is_quiet(&self.end[k]));
            quiet = lanes(|l| quiet[l] * soft[l] * calm[l]);
        }
        let modules = self.modules.len();
        for (k, wire) in self.wires.iter().enumerate() {
            let calm = wire.is_quiet(&self.end[modules + k]);
            quiet = lanes(|l| quiet[l] * calm[l]);
        }
        self.watch_bus(quiet)
    }

    /// The present anew with another load; 1 in the lanes where nothing leaves its range by it.
    #[inline(always)]
    pub fn solve_present(&mut self, model: &Model) -> Lane {
        self.begin_counting();
        self.ahead.room = self.now.room;
        self.ahead.own = self.now.own;
        for wire in &mut self.wires {
            wire.stay();
        }
        for (module, kind) in self.modules.iter_mut().zip(&model.modules) {
            module.stay(kind);
        }
        let mut quiet = self.solve(model, false);
        for (k, module) in self.modules.iter().enumerate() {
            let (soft, calm) = (module.is_soft(), module.is_quiet(&self.end[k]));
            quiet = lanes(|l| quiet[l] * soft[l] * calm[l]);
        }
        let modules = self.modules.len();
        for (k, wire) in self.wires.iter().enumerate() {
            let calm = wire.is_quiet(&self.end[modules + k]);
            quiet = lanes(|l| quiet[l] * calm[l]);
        }
        self.watch_bus(quiet)
    }

    fn begin_counting(&mut self) {
        (self.solves, self.kirchhoff, self.power_balance) = (ZERO, ZERO, ZERO);
    }

    #[inline(always)]
    fn watch_bus(&self, quiet: Lane) -> Lane {
        let (voltage, current) =
            (self.bus_voltage.holds(&self.bus_ahead.voltage), self.bus_current.holds(&self.bus_ahead.current));
        let air = lanes(|l| self.ahead.room[l] + self.ahead.own[l]);
        let room = self.room.holds(&air);
        lanes(|l| quiet[l] * voltage[l] * current[l] * room[l])
    }

    /// The room by the bank's own heat, with the losses of the start.
    #[inline(always)]
    fn warm_room(&mut self) {
        let Some((loss, left)) = self.heat.room else {
            self.ahead.own = ZERO;
            return;
        };
        let room = lanes(|l| self.now.room[l] + self.now.own[l]);
        let mut sum = ZERO;
        for (module, coupling) in self.modules.iter().zip(&self.heat.couplings) {
            let rise = self.heat.gradient * coupling.height;
            let given = match coupling.heat {
                Some(heat) => lanes(|l| heat.to_air * (module.celsius[l] - (room[l] + rise))),
                None => module.loss,
            };
            sum = lanes(|l| sum[l] + given[l]);
        }
        let (wires, inverter, own) = (self.wire_loss, self.inverter_loss, self.now.own);
        self.ahead.own = lanes(|l| {
            let settled = (sum[l] + wires[l] + inverter[l]) / loss;
            settled + (own[l] - settled) * left
        });
    }

    /// Temperatures of modules: with the losses of the start, or with the mean of both ends.
    #[inline(always)]
    fn heat_modules(&mut self, with_end: bool) {
        let room_before = lanes(|l| self.now.room[l] + self.now.own[l]);
        let room_after = lanes(|l| self.ahead.room[l] + self.ahead.own[l]);
        let room = lanes(|l| 0.5 * (room_before[l] + room_after[l]));
        let floor = lanes(|l| 0.5 * (self.now.floor[l] + self.ahead.floor[l]));
        for k in 0..self.modules.len() {
            let module = &self.modules[k];
            let (start, end) = (module.loss, module.ahead.loss);
            let loss = if with_end { lanes(|l| 0.5 * (start[l] + end[l])) } else { start };
            let first = match self.heat.couplings[k].heat {
                Some(_) => self.relax(k, &loss, (&room, &floor), |n| self.modules[n].celsius),
                None => {
                    let rise = self.heat.gradient * self.heat.couplings[k].height;
                    lanes(|l| room_after[l] + rise)
                }
            };
            let ahead = &mut self.modules[k].ahead;
            (ahead.mean_loss, ahead.first_pass) = (loss, first);
        }
        for k in 0..self.modules.len() {
            let between = |n: usize| {
                let (from, first) = (self.modules[n].celsius, self.modules[n].ahead.first_pass);
                lanes(|l| 0.5 * (from[l] + first[l]))
            };
            let loss = self.modules[k].ahead.mean_loss;
            self.modules[k].ahead.celsius = match self.heat.couplings[k].heat {
                Some(_) => self.relax(k, &loss, (&room, &floor), between),
                None => self.modules[k].ahead.first_pass,
            };
        }
    }

    #[inline(always)]
    fn relax(&self, k: usize, loss: &Lane, (room, floor): (&Lane, &Lane), neighbour: impl Fn(usize) -> Lane) -> Lane {
        let coupling = &self.heat.couplings[k];
        let Some(heat) = coupling.heat else { return ZERO };
        let (air_rise, to_floor) = (self.heat.gradient * coupling.height, coupling.floor_conductance(&heat));
        let mut near = ZERO;
        for n in coupling.neighbours() {
            let celsius = neighbour(n);
            near = lanes(|l| near[l] + celsius[l]);
        }
        let (rise, decay, from) = (self.heat.rise[k], self.heat.decay[k], self.modules[k].celsius);
        lanes(|l| {
            let inflow =
                loss[l] + heat.to_air * (room[l] + air_rise) + to_floor * floor[l] + heat.to_neighbour * near[l];
            let settled = inflow * rise;
            settled + (from[l] - settled) * decay
        })
    }

    #[inline(always)]
    fn warm_wires(&mut self, with_end: bool) {
        let modules = self.modules.len();
        let air = lanes(|l| {
            let at_end = self.ahead.room[l] + self.ahead.own[l];
            0.5 * (self.now.room[l] + self.now.own[l] + at_end)
        });
        for (k, wire) in self.wires.iter_mut().enumerate() {
            let start = &self.start[modules + k];
            let end = if with_end { &self.end[modules + k] } else { start };
            wire.warm(start, end, (self.seconds, self.heating), &air);
        }
    }

    #[inline(always)]
    fn solve_until_settled(&mut self, model: &Model) -> Lane {
        let (mut sound, mut open) = (Lane([1.0; LANES]), Lane([1.0; LANES]));
        for attempt in 0..MOST_ATTEMPTS {
            if attempt > 0 {
                for (module, start) in self.modules.iter_mut().zip(&self.start) {
                    module.leave(start);
                }
            }
            let before = self.solves;
            let here = self.solve(model, true);
            // A lane that had settled is solved again to the same, and not counted.
            self.solves = choose(&open, self.solves, before);
            sound = lanes(|l| sound[l] * here[l]);
            let mut other = ZERO;
            for ((module, kind), end) in self.modules.iter_mut().zip(&model.modules).zip(&self.end) {
                let moved = module.arrive(end, kind, SAME_VOLTAGE);
                other = lanes(|l| other[l] + moved[l]);
            }
            open = choose(&other, sound, ZERO);
            if !any(&open) {
                break;
            }
        }
        choose(&open, ZERO, sound)
    }

    /// Solves the network for the end ahead; 1 in the lanes that are sound.
    #[inline(always)]
    fn solve(&mut self, model: &Model, whole_step: bool) -> Lane {
        let modules = self.modules.len();
        for (k, module) in self.modules.iter_mut().enumerate() {
            let implicit = if whole_step { module.constants.half_per_ampere } else { self.zero[k] };
            module.load(&self.start[k], &implicit, &model.modules[k], model.bank.modules[k].device);
            (self.emf[k], self.conductance[k]) = module.branch();
        }
        let air = lanes(|l| self.ahead.room[l] + self.ahead.own[l]);
        for (wire, conductance) in self.wires.iter_mut().zip(&mut self.conductance[modules..]) {
            if !wire.is_fixed() {
                *conductance = wire.conductance(&air);
            }
        }
        self.bus_ahead = self.solver.solve(&self.emf, &self.conductance, &self.demand);
        // What is not a number in a lane that is not sound must not spread: the curves would be searched for it.
        let sound = Lane(self.bus_ahead.sound.map(|sound| f64::from(u8::from(sound))));
        let kept = |x: &Lane| choose(&sound, *x, ZERO);
        for (end, amps) in self.end.iter_mut().zip(self.solver.currents()) {
            *end = kept(amps);
        }
        for (k, module) in self.modules.iter_mut().enumerate() {
            let along = kept(&self.solver.along(k));
            module.settle(&self.end[k], lanes(|l| -along[l]), self.heating, model.bank.modules[k].device);
        }
        let mut loss = ZERO;
        for (wire, amps) in self.wires.iter().zip(&self.end[modules..]) {
            loss = lanes(|l| loss[l] + wire.resistance[l] * amps[l] * amps[l]);
        }
        self.wire_loss_ahead = lanes(|l| loss[l] * self.heating);
        self.count_solution();
        sound
    }

    /// How exactly it was solved: `Instant::imbalance`.
    #[inline(always)]
    fn count_solution(&mut self) {
        let bus = &self.bus_ahead;
        let mut net = lanes(|l| -bus.voltage[l] * bus.current[l]);
        let mut turned_over = Lane([1.0; LANES]);
        for (k, module) in self.modules.iter().enumerate() {
            let (emf, ohm, amps) = (self.emf[k], module.ahead.branch_resistance, self.end[k]);
            net = lanes(|l| net[l] + (emf[l] - ohm[l] * amps[l]) * amps[l]);
            turned_over = lanes(|l| turned_over[l] + (emf[l] * amps[l]).abs());
        }
        for (wire, amps) in self.wires.iter().zip(&self.end[self.modules.len()..]) {
            net = lanes(|l| net[l] + (0.0 - wire.resistance[l] * amps[l]) * amps[l]);
        }
        let balance = lanes(|l| net[l].abs() / turned_over[l]);
        self.solves = lanes(|l| self.solves[l] + 1.0);
        self.kirchhoff = greater(&self.kirchhoff, &bus.kirchhoff);
        self.power_balance = greater(&self.power_balance, &balance);
    }

    /// Makes the end the present in the lanes of `takes`.
    #[inline(always)]
    pub fn commit(&mut self, takes: &Lane) {
        for module in &mut self.modules {
            module.commit(takes);
        }
        for wire in &mut self.wires {
            wire.commit(takes);
        }
        let take = |new: &Lane, old: &Lane| choose(takes, *new, *old);
        self.now.outdoor = take(&self.ahead.outdoor, &self.now.outdoor);
        self.now.room = take(&self.ahead.room, &self.now.room);
        self.now.floor = take(&self.ahead.floor, &self.now.floor);
        self.now.own = take(&self.ahead.own, &self.now.own);
        self.take_solution(takes);
        for l in 0..LANES {
            self.work.steps[l] += u64::from(takes[l] > 0.0);
        }
    }

    /// The same where the present alone was solved anew.
    #[inline(always)]
    pub fn commit_present(&mut self, takes: &Lane) {
        for module in &mut self.modules {
            module.settle_present(takes);
        }
        self.take_solution(takes);
    }

    #[inline(always)]
    fn take_solution(&mut self, takes: &Lane) {
        let take = |new: &Lane, old: &Lane| choose(takes, *new, *old);
        for (start, end) in self.start.iter_mut().zip(&self.end) {
            *start = take(end, start);
        }
        self.bus.voltage = take(&self.bus_ahead.voltage, &self.bus.voltage);
        self.bus.current = take(&self.bus_ahead.current, &self.bus.current);
        self.wire_loss = take(&self.wire_loss_ahead, &self.wire_loss);
        let counted = take(&self.kirchhoff, &ZERO);
        self.work.kirchhoff = greater(&self.work.kirchhoff, &counted);
        let counted = take(&self.power_balance, &ZERO);
        self.work.power_balance = greater(&self.work.power_balance, &counted);
        for l in 0..LANES {
            self.work.solves[l] += if takes[l] > 0.0 { self.solves[l] as u64 } else { 0 };
        }
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
