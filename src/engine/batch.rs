//! Trials side by side: quiet steps together, everything else each by itself.
//!
//! In: a `Model` and the realizations of trials. Out: their results, as `trial::run` gives them one by one.
//!
//! Each trial is a `Trial`. While nothing happens to it, its continuous state is in a lane of a `BatchStep`: all lanes go
//! a step at once, each from its own moment and as far as it may. A step is taken where nothing that is watched left its
//! range, and halved where it is too long for its error. Otherwise the lane is put back into its `Trial`, which goes on
//! by itself, and comes back once it is calm. A lane whose trial has ended takes the next.

mod air;
mod slot;
mod stopwatch;

use super::batch_step::commit::{Commit, CommitPresent};
use super::batch_step::{BatchStep, NetworkSolver, Stage, StepOutcome};
use super::model::Model;
use super::realization::Realization;
use super::result::{TrialError, TrialResult};
use super::trial::{Nobody, Trial, Until, Workspace};
use crate::network::lane::{LANES, Lane, any, lanes, opaque_range};
use crate::network::linear::{LinearSolver, highest};
use crate::time::Time;
use slot::{Due, Slots};
use std::convert::Infallible;
use std::sync::atomic::{AtomicBool, Ordering};
use stopwatch::Stopwatch;

pub use stopwatch::Spent;

/// A mask or a number of each lane here.
type Mask = Lane<LANES>;

/// Runs trials to their horizon; `None` if `stop` was raised before.
pub fn run(
    model: &Model,
    realizations: &[Realization],
    stop: &AtomicBool,
) -> Option<Vec<Result<TrialResult, TrialError>>> {
    Lanes::new(model).run(realizations, stop)
}

/// Lanes for the trials of a model, one batch after another.
pub struct Lanes<'m> {
    model: &'m Model,
    slots: Slots<'m>,
    step: BatchStep<LANES>,
    network: Abreast,
    /// Working memory of trials that have ended, for the next ones.
    spaces: Vec<Workspace>,
    steps: Stopwatch,
}

/// The network of many trials, as long as it is linear.
#[derive(Clone, Debug)]
struct Abreast {
    solver: LinearSolver<LANES>,
    /// Networks solved and checked, and of that solved.
    networks: Stopwatch,
    solutions: Stopwatch,
}

/// The solution for the modules and conductors that are loaded.
struct Solve<'a>(&'a mut LinearSolver<LANES>);

impl Stage<LANES> for Solve<'_> {
    type Output = ();

    #[inline(always)]
    fn with(self, step: &mut BatchStep<LANES>) {
        step.load_conductors(false);
        let level = highest(&step.emf, step.modules.iter().map(|module| &module.live));
        step.bus_ahead = self.0.solve_at(level, &step.emf, &step.conductance, &step.demand);
    }
}

/// Its currents, in which lanes it is sound, and how exact it is.
struct Check<'a>(&'a mut LinearSolver<LANES>);

impl Stage<LANES> for Check<'_> {
    type Output = ();

    #[inline(always)]
    fn with(self, step: &mut BatchStep<LANES>) {
        self.0.give_currents(&mut step.end);
        // A closure handed on would not be compiled for the vectors of this one.
        for k in opaque_range::<LANES>(step.modules.len()) {
            step.take_voltage(k, self.0.along(k));
        }
        step.take_quality();
    }
}

impl NetworkSolver<LANES> for Abreast {
    type Error = Infallible;

    fn solve(&mut self, step: &mut BatchStep<LANES>) -> Result<(), Infallible> {
        self.networks.start();
        self.solutions.start();
        step.stage(Solve(&mut self.solver));
        self.solutions.stop();
        step.stage(Check(&mut self.solver));
        self.networks.stop();
        Ok(())
    }
}

impl<'m> Lanes<'m> {
    /// Lanes without trials, for the network of this model.
    pub fn new(model: &'m Model) -> Lanes<'m> {
        let network = Abreast {
            solver: LinearSolver::new(&model.bank.network, model.modules.len()),
            networks: Stopwatch::default(),
            solutions: Stopwatch::default(),
        };
        Lanes {
            model,
            slots: Slots::new(model),
            step: BatchStep::new(model),
            network,
            spaces: Vec::new(),
            steps: Stopwatch::default(),
        }
    }

    /// Lanes that tell what they spend.
    pub fn timed(model: &'m Model) -> Lanes<'m> {
        let mut lanes = Lanes::new(model);
        lanes.steps.turn(true);
        lanes
    }

    /// What steps taken together have taken so far, if they are timed.
    pub fn spent(&self) -> Spent {
        let Abreast { networks, solutions, .. } = &self.network;
        Spent { steps: self.steps.spent(), networks: networks.spent(), solutions: solutions.spent() }
    }

    fn time_networks(&mut self, on: bool) {
        self.network.networks.turn(on);
        self.network.solutions.turn(on);
    }

    /// Runs trials as [`run`] does.
    pub fn run(
        &mut self,
        realizations: &[Realization],
        stop: &AtomicBool,
    ) -> Option<Vec<Result<TrialResult, TrialError>>> {
        let mut batch = Batch::start(self, realizations, stop);
        while batch.is_under_way() {
            if stop.load(Ordering::Relaxed) {
                return None;
            }
            batch.pass();
        }
        batch.finish()
    }

    /// The end of each lane's step.
    fn advance(&mut self, to: &[Time; LANES]) -> StepOutcome<LANES> {
        let air = self.slots.airs.at(to);
        [self.step.ahead.outdoor, self.step.ahead.room, self.step.ahead.floor] = air;
        self.steps.start();
        // Networks of loads that change within a step's moment are not a step's.
        self.time_networks(self.steps.is_on());
        let Ok(()) = self.step.advance(self.model, &mut self.network);
        self.time_networks(false);
        self.step.wear_devices(self.model);
        self.steps.stop();
        // Within the range of its current no device opens.
        self.step.outcome
    }
}

/// Trials side by side under way. Between passes every trial in a slot is in its lane.
struct Batch<'a, 'm, 'l> {
    lanes: &'a mut Lanes<'m>,
    realizations: &'l [Realization],
    stop: &'a AtomicBool,
    /// Number of the next trial to begin.
    next: usize,
    /// Whether `stop` ended a trial.
    given_up: bool,
    slots: [Option<Slot<'l>>; LANES],
    ended: Vec<(usize, Result<TrialResult, TrialError>)>,
}

/// A trial in its lane.
struct Slot<'l> {
    number: usize,
    trial: Trial<'l>,
    /// Width of its next step where a wider one failed its error test.
    narrower: Option<Time>,
}

impl<'a, 'm: 'l, 'l> Batch<'a, 'm, 'l> {
    fn start(lanes: &'a mut Lanes<'m>, realizations: &'l [Realization], stop: &'a AtomicBool) -> Batch<'a, 'm, 'l> {
        // What the batch before left in the lanes is written over, but for what is added up.
        lanes.slots.clear();
        (lanes.step.any_spent, lanes.step.any_blocked) = (false, false);
        let (slots, ended) = ([const { None }; LANES], Vec::with_capacity(realizations.len()));
        let mut batch = Batch { lanes, realizations, stop, next: 0, given_up: false, slots, ended };
        for lane in 0..LANES {
            batch.go_on(lane);
        }
        batch
    }

    fn is_under_way(&self) -> bool {
        self.slots.iter().any(Option::is_some)
    }

    /// A step of every lane, as far as each may go; in which lanes it was taken.
    fn pass(&mut self) -> Mask {
        let (occupied, to) = self.look_ahead();
        let StepOutcome { quiet, fails_error_test } = self.lanes.advance(&to);
        let (takes, tries): (Mask, Mask) =
            (lanes(|l| occupied[l] * quiet[l]), lanes(|l| occupied[l] * fails_error_test[l]));
        let alone = lanes(|l| occupied[l] - takes[l] - tries[l]);
        // What does not take the step leaves with what it had before.
        for lane in lanes_of(&alone) {
            self.store_lane(lane);
        }
        let Lanes { step, steps, .. } = &mut *self.lanes;
        steps.start();
        step.stage(Commit { takes: &takes, tries: &tries, to: &to });
        steps.stop();
        self.arrive(&takes, &tries, &to);
        for lane in lanes_of(&alone) {
            self.go_alone(lane);
        }
        takes
    }

    /// A mask of the lanes that hold a trial, and the time at which the next step of each ends.
    fn look_ahead(&mut self) -> (Mask, [Time; LANES]) {
        let (mut occupied, mut to) = (Mask::ZERO, [Time::ZERO; LANES]);
        let Lanes { step, slots, .. } = &mut *self.lanes;
        for (lane, slot) in self.slots.iter_mut().enumerate() {
            let Some(Slot { trial, narrower, .. }) = slot else { continue };
            let width = narrower.unwrap_or_else(|| trial.step_size.first(slots.boundary(lane, trial.now) - trial.now));
            let end = trial.now + width;
            step.set_width(lane, width);
            slots.airs.seek(lane, end);
            (occupied[lane], to[lane]) = (1.0, end);
        }
        (occupied, to)
    }

    /// What follows from a step that was taken, or is to be tried again.
    fn arrive(&mut self, takes: &Mask, tries: &Mask, to: &[Time; LANES]) {
        let mut changed = Mask::ZERO;
        for lane in 0..LANES {
            let Some(slot) = &mut self.slots[lane] else { continue };
            let Lanes { step, slots, .. } = &mut *self.lanes;
            if takes[lane] + tries[lane] == 0.0 {
                continue;
            }
            slots.note_used(lane);
            slot.narrower = None;
            if tries[lane] > 0.0 {
                slot.narrower = slot.trial.step_size.narrow();
                continue;
            }
            slot.trial.now = to[lane];
            slot.trial.step_size.take(slot.trial.is_on_grid());
            let due = match slots.due(&slot.trial, lane) {
                Due::Load => slots.next_load(&mut slot.trial, step, lane),
                due => due,
            };
            match due {
                Due::Nothing => {}
                Due::Load => changed[lane] = 1.0,
                Due::Other => self.take_by_itself(lane),
            }
        }
        self.change_loads(&changed);
        let horizon = self.lanes.model.trials.horizon;
        for lane in lanes_of(takes) {
            if self.slots[lane].as_ref().is_some_and(|slot| slot.trial.now >= horizon) {
                self.store_lane(lane);
                self.go_on(lane);
            }
        }
    }

    /// Solves the present again in the lanes where the load has changed and nothing else has happened.
    fn change_loads(&mut self, changed: &Mask) {
        if !any(changed) {
            return;
        }
        let Lanes { step, network, model, .. } = &mut *self.lanes;
        let Ok(()) = step.solve_present(model, network);
        let takes = lanes(|l| changed[l] * step.outcome.quiet[l]);
        step.stage(CommitPresent { takes: &takes });
        for lane in lanes_of(changed) {
            let Some(slot) = &mut self.slots[lane] else { continue };
            let Lanes { step, slots, .. } = &mut *self.lanes;
            if takes[lane] > 0.0 {
                slots.take_load(&mut slot.trial, step, lane);
            } else {
                // Something acts on the new load: the trial takes it by itself, from before the change.
                self.take_by_itself(lane);
            }
        }
    }

    /// The trial of a lane takes by itself what is due now.
    fn take_by_itself(&mut self, lane: usize) {
        self.store_lane(lane);
        self.attempt(lane, |trial, observer| trial.arrive(observer));
        self.go_on(lane);
    }

    /// The trial of a lane takes by itself the step that it could not take with the others.
    fn go_alone(&mut self, lane: usize) {
        let (grid, horizon) = (self.lanes.model.grid, self.lanes.model.trials.horizon);
        self.attempt(lane, |trial, observer| {
            let end = trial.now.next_multiple(grid).min(horizon);
            trial.go_on(end, observer)
        });
        self.go_on(lane);
    }

    /// Goes on by itself, and with the next trial where one has ended, until one is in the lane or none is left.
    fn go_on(&mut self, lane: usize) {
        let horizon = self.lanes.model.trials.horizon;
        loop {
            let Some(slot) = &mut self.slots[lane] else {
                if self.begin_next(lane) {
                    continue;
                }
                return;
            };
            let Lanes { step, slots, .. } = &mut *self.lanes;
            if slot.trial.now >= horizon {
                if let Some(slot) = self.slots[lane].take() {
                    let (result, space) = slot.trial.finish();
                    self.ended.push((slot.number, Ok(result)));
                    self.lanes.spaces.push(space);
                }
            } else if slots.load_lane(&mut slot.trial, step, lane) {
                return;
            } else {
                self.attempt(lane, |trial, observer| trial.go_a_step(observer));
            }
        }
    }

    /// Seats the next trial; false if none is left.
    fn begin_next(&mut self, lane: usize) -> bool {
        let number = self.next;
        let Some(realization) = self.realizations.get(number) else { return false };
        self.next += 1;
        let model = self.lanes.model;
        let space = self.lanes.spaces.pop().unwrap_or_else(|| Workspace::new(model));
        match Trial::begin(model, realization, space, &mut Nobody) {
            Ok(trial) => {
                self.lanes.slots.begin(&trial, lane);
                self.slots[lane] = Some(Slot { number, trial, narrower: None });
            }
            Err(error) => self.ended.push((number, Err(error))),
        }
        true
    }

    /// Does something with the trial of a lane, and ends it where that fails.
    fn attempt(&mut self, lane: usize, what: impl FnOnce(&mut Trial<'l>, &mut Until<'a>) -> Result<(), TrialError>) {
        let Some(slot) = &mut self.slots[lane] else { return };
        if let Err(error) = what(&mut slot.trial, &mut Until(self.stop)) {
            self.given_up |= matches!(error, TrialError::GivenUp { .. });
            self.ended.push((slot.number, Err(error)));
            self.slots[lane] = None;
        }
    }

    fn store_lane(&mut self, lane: usize) {
        if let Some(slot) = &mut self.slots[lane] {
            slot.narrower = None;
            self.lanes.slots.store_lane(&mut slot.trial, &mut self.lanes.step, lane);
        }
    }

    /// The results in the order of the trials; `None` if any was given up.
    fn finish(mut self) -> Option<Vec<Result<TrialResult, TrialError>>> {
        self.ended.sort_by_key(|(number, _)| *number);
        let results = self.ended.into_iter().map(|(_, result)| result);
        (!self.given_up).then(|| results.collect())
    }
}

/// The lanes of a mask.
fn lanes_of(mask: &Mask) -> impl Iterator<Item = usize> + use<> {
    let mask = *mask;
    (0..LANES).filter(move |l| mask[*l] > 0.0)
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::scenario::check::load;
    use crate::trials::Campaign;
    use std::path::Path;

    /// Going side by side is what makes it fast and changes nothing else, so that nothing but a count can tell that it is
    /// done.
    #[test]
    fn most_steps_of_a_winter_night_are_taken_together() {
        let path = Path::new(env!("CARGO_MANIFEST_DIR")).join("scenarios/refuge.toml");
        let scenario = load(&path).unwrap().scenario;
        let (load, trials) = (scenario.load.clone().unwrap(), scenario.trials.clone().unwrap());
        let campaign = Campaign::new(&scenario, &load, &trials).unwrap();
        let realizations: Vec<Realization> = (0..LANES as u64).map(|trial| campaign.realization(trial)).collect();
        let model = &campaign.model;
        let (mut lanes, stop) = (Lanes::new(model), AtomicBool::new(false));
        let mut batch = Batch::start(&mut lanes, &realizations, &stop);
        let mut together = 0;
        while batch.is_under_way() {
            together += lanes_of(&batch.pass()).count() as u64;
        }
        let steps: u64 = batch.finish().unwrap().iter().map(|result| result.as_ref().unwrap().work.steps).sum();
        assert!(together * 10 > steps * 9, "{together} of {steps}");
    }
}
