//! Trials abreast, each on a step of its own: the arithmetic of `trial::step`, lane by lane in its order.
//!
//! In: the present of each lane, and how wide its step is. Out: the end of the step, and in which lanes the whole of it
//! was quiet: nothing that a guard, a device, a limit or a clock watches left its range. Those lanes may take the end as
//! it is; those whose step was too long for its error try half of it; the others are left where they were, for the
//! one-trial path.

mod warm;
mod width;

use super::module::{LaneRange, ModuleLanes, Moment, within};
use super::wire::WireLanes;
use crate::engine::heat::Coupling;
use crate::engine::model::Model;
use crate::engine::trial::step::{MOST_ATTEMPTS, theta};
use crate::network::lanes::{LANES, Lane, LaneDemand, LaneSolver, LaneTerminals, ZERO, any, choose, lanes, one_by_one};
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
    pub gradient: f64,
    /// 1/ΣG of each module [K/W].
    pub rise: Vec<f64>,
    /// What is left of a difference after the step of each lane.
    pub decay: Vec<Lane>,
    /// Loss of the room [W/K], and what is left of its own warmth after the step of each lane.
    pub room: Option<(f64, Lane)>,
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
    /// Greatest E′/(Q·R) of the modules that carry current at its start [1/s], and the weight of its end.
    pub stiffness: Lane,
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
            solves: ZERO,
            kirchhoff: ZERO,
            power_balance: ZERO,
        }
    }

    /// The end of each lane's step, `ahead` holding the surroundings there.
    #[inline(always)]
    pub fn advance(&mut self, model: &Model) -> Verdict {
        self.begin_counting();
        self.warm_room();
        self.heat_modules(false);
        self.warm_wires(false);
        let sound = self.solve_until_settled(model);
        self.heat_modules(true);
        self.warm_wires(true);
        let (good, stray) = self.judge();
        let quiet = self.watch(lanes(|l| sound[l] * good[l]), Some(&stray));
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
            (self.emf[k], self.conductance[k]) = module.load(ahead, &self.start[k], &ZERO, &model.modules[k], device);
        }
        let sound = self.solve();
        let mut turnover = Turnover::of(&self.bus_ahead);
        for k in one_by_one(self.modules.len()) {
            self.settle(model, k, &sound, &mut turnover);
        }
        self.count_solution(turnover);
        self.watch(sound, None)
    }

    /// 1 in the lanes in which the step is short enough for its error (`Trial::is_coarse`, `Trial::is_rough`), and how far
    /// currents may stray in it.
    #[inline(always)]
    fn judge(&self) -> (Lane, Lane) {
        let (mut good, mut fine, mut all) = (Lane([1.0; LANES]), Lane([1.0; LANES]), ZERO);
        let lean = lanes(|l| (self.theta[l] - 0.5) * self.seconds[l]);
        for k in one_by_one(self.modules.len()) {
            let (module, now, ahead) = (&self.modules[k], &self.present[k], &self.coming[k]);
            let (before, sum) = (good, all);
            let stray = module.stray(now, ahead, (&self.start[k], &self.end[k]));
            all = lanes(|l| sum[l] + stray[l]);
            let settled = module.settles(ahead, &stray);
            good = lanes(|l| before[l] * settled[l]);
            if self.leans {
                let (before, here) = (fine, module.is_fine(&lean, (&self.start[k], &self.end[k])));
                fine = lanes(|l| before[l] * here[l]);
            }
        }
        (choose(&self.long, lanes(|l| good[l] * fine[l]), fine), all)
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

    /// Narrows a mask to the lanes in which nothing that is watched has left its range, or may have on the way.
    #[inline(always)]
    fn watch(&self, sound: Lane, stray: Option<&Lane>) -> Lane {
        let mut quiet = sound;
        for k in one_by_one(self.modules.len()) {
            let (before, calm) = (quiet, self.modules[k].is_quiet(&self.coming[k], &self.reach(k, stray)));
            quiet = lanes(|l| before[l] * calm[l]);
        }
        let modules = self.modules.len();
        for k in one_by_one(self.wires.len()) {
            let wire = &self.wires[k];
            let (before, calm) = (quiet, wire.is_quiet(&self.warmth_ahead[k], &self.reach(modules + k, stray)));
            quiet = lanes(|l| before[l] * calm[l]);
        }
        let (bus, room, own) = (&self.bus_ahead, self.ahead.room, self.ahead.own);
        lanes(|l| {
            let within = self.bus_voltage.holds(l, bus.voltage[l])
                & self.bus_current.holds(l, bus.current[l])
                & self.room.holds(l, room[l] + own[l]);
            if within { quiet[l] } else { 0.0 }
        })
    }

    fn begin_counting(&mut self) {
        (self.solves, self.kirchhoff, self.power_balance) = (ZERO, ZERO, ZERO);
    }

    #[inline(always)]
    fn solve_until_settled(&mut self, model: &Model) -> Lane {
        let (mut sound, mut open) = (Lane([1.0; LANES]), Lane([1.0; LANES]));
        let mut stiffness = self.stiffness;
        for attempt in 0..MOST_ATTEMPTS {
            self.leave(model, &stiffness, attempt == 0);
            let before = self.solves;
            let here = self.solve();
            sound = lanes(|l| sound[l] * here[l]);
            let other = self.arrive(model, &here, &mut stiffness, attempt == 0);
            // A lane that had settled is solved again to the same, and not counted.
            self.solves = choose(&open, self.solves, before);
            open = choose(&other, sound, ZERO);
            if !any(&open) {
                break;
            }
        }
        choose(&open, ZERO, sound)
    }

    /// Takes what the currents of the start take, by the weight of the end that this stiffness asks for, and lays the
    /// first tangents.
    #[inline(always)]
    fn leave(&mut self, model: &Model, stiffness: &Lane, first: bool) {
        let (seconds, stiffness) = (self.seconds, *stiffness);
        self.theta = lanes(|l| theta(seconds[l] * stiffness[l]));
        self.leans = any(&lanes(|l| self.theta[l] - 0.5));
        for k in one_by_one(self.modules.len()) {
            let (module, ahead, start) = (&mut self.modules[k], &mut self.coming[k], &self.start[k]);
            module.leave(&self.present[k], ahead, start, &self.theta);
            let implicit = module.implicit(&self.theta, &seconds, self.leans);
            if first {
                let charge = ahead.charge;
                let foreseen = lanes(|l| charge[l] - implicit[l] * start[l]);
                module.lay_tangent(ahead, &model.modules[k], &foreseen);
            }
            let device = model.bank.modules[k].device;
            (self.emf[k], self.conductance[k]) = module.load(ahead, start, &implicit, &model.modules[k], device);
        }
    }

    /// Takes what the currents of the end take; 1 in the lanes in which a module has come to another segment of its
    /// curve, whose stiffness counts from now on.
    #[inline(always)]
    fn arrive(&mut self, model: &Model, sound: &Lane, stiffness: &mut Lane, fresh: bool) -> Lane {
        let (mut other, mut turnover) = (ZERO, Turnover::of(&self.bus_ahead));
        for k in one_by_one(self.modules.len()) {
            self.settle(model, k, sound, &mut turnover);
            let (module, ahead) = (&mut self.modules[k], &mut self.coming[k]);
            let moved = module.arrive(ahead, &self.end[k], &self.theta, &model.modules[k], fresh);
            let before = other;
            other = lanes(|l| before[l] + moved[l]);
            if any(&moved) {
                *stiffness = choose(&moved, greater(stiffness, &module.stiffness(ahead)), *stiffness);
            }
        }
        self.count_solution(turnover);
        other
    }

    /// Solves the network for the modules that are loaded; 1 in the lanes that are sound.
    #[inline(always)]
    fn solve(&mut self) -> Lane {
        let modules = self.modules.len();
        let air = lanes(|l| self.ahead.room[l] + self.ahead.own[l]);
        for k in one_by_one(self.wires.len()) {
            if !self.wires[k].is_fixed() {
                self.conductance[modules + k] = self.wires[k].conductance(&self.warmth_ahead[k], &air);
            }
        }
        self.bus_ahead = self.solver.solve(&self.emf, &self.conductance, &self.demand);
        self.solver.give_currents(&mut self.end);
        let sound = Lane(self.bus_ahead.sound.map(|sound| f64::from(u8::from(sound))));
        if self.bus_ahead.sound != [true; LANES] {
            self.clear_unsound(&sound);
        }
        sound
    }

    /// Heat and voltages of a module with the current that the network gave.
    #[inline(always)]
    fn settle(&mut self, model: &Model, k: usize, sound: &Lane, turnover: &mut Turnover) {
        let (along, device) = (self.solver.along(k), model.bank.modules[k].device);
        let (module, end) = (&mut self.modules[k], &self.end[k]);
        let terminals = choose(sound, lanes(|l| -along[l]), ZERO);
        module.settle(&mut self.coming[k], end, terminals, self.heating, device);
        turnover.add_source(&self.emf[k], &module.branch_resistance, end);
    }

    /// What is not a number in a lane that is not sound must not spread: the curves would be searched for it.
    #[cold]
    #[inline(never)]
    fn clear_unsound(&mut self, sound: &Lane) {
        for end in &mut self.end {
            *end = choose(sound, *end, ZERO);
        }
    }

    /// What conductors turn to heat, and how exactly it was solved.
    #[inline(always)]
    fn count_solution(&mut self, turnover: Turnover) {
        let (mut net, mut loss) = (turnover.net, ZERO);
        for k in one_by_one(self.wires.len()) {
            let (ohm, amps) = (self.wires[k].resistance, self.end[self.modules.len() + k]);
            let (before, sum) = (net, loss);
            let turned = lanes(|l| ohm[l] * amps[l] * amps[l]);
            net = lanes(|l| before[l] - turned[l]);
            loss = lanes(|l| sum[l] + turned[l]);
        }
        self.wire_loss_ahead = lanes(|l| loss[l] * self.heating);
        let balance = lanes(|l| net[l].abs() / turnover.all[l]);
        self.solves = lanes(|l| self.solves[l] + 1.0);
        self.kirchhoff = greater(&self.kirchhoff, &self.bus_ahead.kirchhoff);
        self.power_balance = greater(&self.power_balance, &balance);
    }

    /// Makes the end the present in the lanes of `takes`; `tries` are to try again from where they are, and what was
    /// solved for them counts as well.
    #[inline(always)]
    pub fn commit(&mut self, takes: &Lane, tries: &Lane) {
        for k in one_by_one(self.coming.len()) {
            let ahead = &mut self.coming[k];
            let charge = ahead.charge;
            ahead.charge = lanes(|l| within(charge[l], -1e-9, 1.0 + 1e-9));
        }
        if any(tries) {
            self.keep_others(takes);
        }
        std::mem::swap(&mut self.present, &mut self.coming);
        std::mem::swap(&mut self.warmth, &mut self.warmth_ahead);
        std::mem::swap(&mut self.start, &mut self.end);
        self.note_stiffness(takes);
        (self.now, self.bus, self.wire_loss) = (self.ahead, self.bus_ahead, self.wire_loss_ahead);
        self.count(takes, tries);
        for l in 0..LANES {
            self.work.steps[l] += u64::from(takes[l] > 0.0);
        }
    }

    /// Lets the lanes that do not take the step end where they begin.
    #[inline(always)]
    fn keep_others(&mut self, takes: &Lane) {
        for k in one_by_one(self.coming.len()) {
            self.coming[k].keep(&self.present[k], takes);
        }
        for k in one_by_one(self.warmth.len()) {
            self.warmth_ahead[k] = choose(takes, self.warmth_ahead[k], self.warmth[k]);
        }
        for k in one_by_one(self.start.len()) {
            self.end[k] = choose(takes, self.end[k], self.start[k]);
        }
        let (now, ahead) = (&self.now, &mut self.ahead);
        ahead.outdoor = choose(takes, ahead.outdoor, now.outdoor);
        ahead.room = choose(takes, ahead.room, now.room);
        ahead.floor = choose(takes, ahead.floor, now.floor);
        ahead.own = choose(takes, ahead.own, now.own);
        self.bus_ahead.voltage = choose(takes, self.bus_ahead.voltage, self.bus.voltage);
        self.bus_ahead.current = choose(takes, self.bus_ahead.current, self.bus.current);
        self.wire_loss_ahead = choose(takes, self.wire_loss_ahead, self.wire_loss);
    }

    /// The present was solved anew: taken in the lanes of `takes`, as it was in the others.
    #[inline(always)]
    pub fn commit_present(&mut self, takes: &Lane) {
        for k in one_by_one(self.present.len()) {
            self.present[k].take_solution(&self.coming[k], takes);
        }
        for k in one_by_one(self.start.len()) {
            self.start[k] = choose(takes, self.end[k], self.start[k]);
        }
        self.bus.voltage = choose(takes, self.bus_ahead.voltage, self.bus.voltage);
        self.bus.current = choose(takes, self.bus_ahead.current, self.bus.current);
        self.wire_loss = choose(takes, self.wire_loss_ahead, self.wire_loss);
        self.note_stiffness(takes);
        self.count(takes, &ZERO);
    }

    #[inline(always)]
    fn note_stiffness(&mut self, takes: &Lane) {
        let mut greatest = ZERO;
        for k in one_by_one(self.present.len()) {
            let here = self.modules[k].stiffness(&self.present[k]);
            greatest = choose(&flows(&self.start[k]), greater(&greatest, &here), greatest);
        }
        self.stiffness = choose(takes, greatest, self.stiffness);
    }

    #[inline(always)]
    fn count(&mut self, takes: &Lane, tries: &Lane) {
        let (work, solved) = (&mut self.work, lanes(|l| takes[l] + tries[l]));
        work.kirchhoff = greater(&work.kirchhoff, &choose(&solved, self.kirchhoff, ZERO));
        work.power_balance = greater(&work.power_balance, &choose(&solved, self.power_balance, ZERO));
        for l in 0..LANES {
            work.tried[l] += if solved[l] > 0.0 { self.solves[l] as u64 } else { 0 };
            if takes[l] > 0.0 {
                work.solves[l] += std::mem::take(&mut work.tried[l]);
            }
        }
    }
}

/// Power of a solution: `Instant::imbalance`.
struct Turnover {
    /// Of sources, less what resistances and the load take [W].
    net: Lane,
    /// Of sources, and 1 W [W].
    all: Lane,
}

impl Turnover {
    #[inline(always)]
    fn of(bus: &LaneTerminals) -> Turnover {
        Turnover { net: lanes(|l| -bus.voltage[l] * bus.current[l]), all: Lane([1.0; LANES]) }
    }

    #[inline(always)]
    fn add_source(&mut self, emf: &Lane, ohm: &Lane, amps: &Lane) {
        let (net, all) = (self.net, self.all);
        self.net = lanes(|l| net[l] + (emf[l] - ohm[l] * amps[l]) * amps[l]);
        self.all = lanes(|l| all[l] + (emf[l] * amps[l]).abs());
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

/// 1 where a current is not nothing.
#[inline(always)]
fn flows(amps: &Lane) -> Lane {
    let amps = *amps;
    lanes(|l| if amps[l] != 0.0 { 1.0 } else { 0.0 })
}
