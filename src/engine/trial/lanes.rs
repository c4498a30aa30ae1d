//! Trials abreast: quiet steps of the grid together, everything else each on its own.
//!
//! In: a `Model` and the lucks of trials. Out: their results, the same bits as `trial::run` gives one by one.
//!
//! Each trial is a `Trial`. While nothing happens to it, its continuous state rides in a lane of a `Ride`: a whole step
//! of the grid at a time, with the arithmetic of `trial::step`. A step may be ridden where no timer, mishap or reading
//! falls inside it, and taken where nothing that is watched left its range (`ride`). Otherwise the lane is put back
//! into its `Trial`, which goes on by itself to the end of that step, and boards again once it is calm.

mod air;
mod board;
mod module;
mod ride;
mod wire;

use super::Trial;
use crate::engine::luck::Luck;
use crate::engine::model::Model;
use crate::engine::observe::Nobody;
use crate::engine::result::{TrialError, TrialResult};
use crate::network::lanes::{LANES, Lane, ZERO, lanes};
use crate::time::Time;
use board::Boarding;
use ride::{Heat, Ride};
use std::sync::atomic::{AtomicBool, Ordering};

/// Runs trials, at most as many as there are lanes, to their horizon; `None` if `stop` was raised before.
pub fn run(model: &Model, lucks: &[Luck], stop: &AtomicBool) -> Option<Vec<Result<TrialResult, TrialError>>> {
    Lanes::new(model).run(lucks, stop)
}

/// Lanes for the trials of a model, one convoy after another.
pub struct Lanes<'m> {
    model: &'m Model,
    boarding: Boarding<'m>,
    ride: Ride,
    simd: pulp::Arch,
}

impl<'m> Lanes<'m> {
    pub fn new(model: &'m Model) -> Lanes<'m> {
        let seconds = model.grid.seconds();
        let mut heating = crate::engine::heat::Heating::new(model.couplings.clone(), model.ambient.gradient);
        let (couplings, gradient, rise, decay) = heating.parts(seconds);
        let room = model.ambient.room_heat;
        let heat = Heat {
            couplings: couplings.to_vec(),
            gradient,
            rise: rise.to_vec(),
            decay: decay.to_vec(),
            room: room.map(|(loss, capacity)| (loss, (-loss * seconds / capacity).exp())),
        };
        Lanes { model, boarding: Boarding::new(model), ride: Ride::new(model, seconds, heat), simd: pulp::Arch::new() }
    }

    /// As [`run`].
    pub fn run(&mut self, lucks: &[Luck], stop: &AtomicBool) -> Option<Vec<Result<TrialResult, TrialError>>> {
        let (step, horizon) = (self.model.grid, self.model.trials.horizon);
        let mut convoy = Convoy::start(self, lucks);
        let mut from = Time::ZERO;
        while from < horizon {
            if stop.load(Ordering::Relaxed) {
                return None;
            }
            let to = (from + step).min(horizon);
            convoy.pass(from, to);
            from = to;
        }
        Some(convoy.finish())
    }
}

/// Trials abreast under way.
struct Convoy<'a, 'm, 'l> {
    lanes: &'a mut Lanes<'m>,
    trials: Vec<Result<Trial<'l>, TrialError>>,
    /// Of the trials that ride.
    riding: [bool; LANES],
}

impl<'a, 'm: 'l, 'l> Convoy<'a, 'm, 'l> {
    fn start(lanes: &'a mut Lanes<'m>, lucks: &'l [Luck]) -> Convoy<'a, 'm, 'l> {
        let model = lanes.model;
        // What the convoy before left in the lanes is boarded over, but for what is added up.
        lanes.boarding.clear();
        let trials = lucks.iter().take(LANES).map(|luck| begin(model, luck)).collect();
        let mut convoy = Convoy { lanes, trials, riding: [false; LANES] };
        for lane in 0..convoy.trials.len() {
            if let Ok(trial) = &convoy.trials[lane] {
                convoy.lanes.boarding.begin(trial, lane);
            }
            convoy.board(lane);
        }
        convoy
    }

    /// One step of the grid, all trials.
    fn pass(&mut self, from: Time, to: Time) {
        let mut takes = ZERO;
        let whole = to - from == self.lanes.model.grid;
        for lane in 0..self.trials.len() {
            let rides = self.riding[lane] && whole && self.lanes.boarding.may_ride(lane, to);
            takes[lane] = f64::from(u8::from(rides));
        }
        [self.lanes.ride.ahead.outdoor, self.lanes.ride.ahead.room, self.lanes.ride.ahead.floor] =
            self.lanes.boarding.airs.at(to);
        if takes.iter().any(|t| *t > 0.0) {
            let quiet = self.lanes.simd.dispatch(Advance { ride: &mut self.lanes.ride, model: self.lanes.model });
            let rides = takes;
            takes = lanes(|l| rides[l] * quiet[l]);
            // What does not take the step leaves with what it had before.
            for lane in 0..self.trials.len() {
                if self.riding[lane] && takes[lane] == 0.0 {
                    self.alight(lane, from);
                }
            }
            let Lanes { ride, boarding, simd, .. } = &mut *self.lanes;
            simd.dispatch(Commit { ride, boarding, takes: &takes, to });
        }
        self.change_loads(&takes, to);
        for lane in 0..self.trials.len() {
            if takes[lane] == 0.0 {
                self.go_alone(lane, from, to);
            } else if self.lanes.boarding.until[lane] == to {
                self.alight(lane, to);
                self.arrive(lane);
                self.board(lane);
            }
        }
    }

    /// Where the load changes at the end of a ridden step and nothing else happens, the present is solved anew.
    fn change_loads(&mut self, takes: &Lane, to: Time) {
        let mut changed = ZERO;
        for lane in 0..self.trials.len() {
            let rode = takes[lane] > 0.0 && self.lanes.boarding.until[lane] > to;
            if let (true, Ok(trial)) = (rode, &mut self.trials[lane])
                && self.lanes.boarding.load_until[lane] <= to
            {
                trial.now = to;
                changed[lane] = f64::from(u8::from(self.lanes.boarding.next_load(trial, &mut self.lanes.ride, lane)));
            }
        }
        if changed.iter().all(|c| *c == 0.0) {
            return;
        }
        let quiet = self.lanes.simd.dispatch(Again { ride: &mut self.lanes.ride, model: self.lanes.model });
        let takes = lanes(|l| changed[l] * quiet[l]);
        self.lanes.simd.dispatch(CommitAgain { ride: &mut self.lanes.ride, takes: &takes });
        for lane in 0..self.trials.len() {
            if let (true, Ok(trial)) = (takes[lane] > 0.0, &mut self.trials[lane]) {
                self.lanes.boarding.take_load(trial, &mut self.lanes.ride, lane);
            } else if changed[lane] > 0.0 {
                // Something acts on the new load: the trial takes it by itself, from before the change.
                self.alight(lane, to);
                self.arrive(lane);
                self.board(lane);
            }
        }
    }

    /// A trial goes on by itself to a moment.
    fn go_alone(&mut self, lane: usize, from: Time, to: Time) {
        if self.riding[lane] {
            self.alight(lane, from);
        }
        let Ok(trial) = &mut self.trials[lane] else { return };
        if let Err(error) = trial.go_on(to, &mut Nobody) {
            self.trials[lane] = Err(error);
        }
        self.board(lane);
    }

    /// What is due at this moment, after a ridden step.
    fn arrive(&mut self, lane: usize) {
        let Ok(trial) = &mut self.trials[lane] else { return };
        if let Err(error) = trial.arrive(&mut Nobody) {
            self.trials[lane] = Err(error);
        }
    }

    fn board(&mut self, lane: usize) {
        if let Ok(trial) = &mut self.trials[lane] {
            self.riding[lane] = self.lanes.boarding.board(trial, &mut self.lanes.ride, lane);
        }
    }

    fn alight(&mut self, lane: usize, now: Time) {
        if let Ok(trial) = &mut self.trials[lane] {
            trial.now = now;
            self.lanes.boarding.alight(trial, &mut self.lanes.ride, lane);
        }
        self.riding[lane] = false;
    }

    fn finish(mut self) -> Vec<Result<TrialResult, TrialError>> {
        for lane in 0..self.trials.len() {
            if self.riding[lane] {
                self.alight(lane, self.lanes.model.trials.horizon);
            }
        }
        self.trials.into_iter().map(|trial| trial.map(Trial::finish)).collect()
    }
}

fn begin<'m>(model: &'m Model, luck: &'m Luck) -> Result<Trial<'m>, TrialError> {
    let mut trial = Trial::start(model, luck)?;
    trial.settle(&mut Nobody)?;
    trial.run_controller(&mut Nobody)?;
    Ok(trial)
}

/// What is compiled for the widest vectors that the processor has.
struct Advance<'a> {
    ride: &'a mut Ride,
    model: &'a Model,
}

impl pulp::NullaryFnOnce for Advance<'_> {
    type Output = Lane;

    #[inline(always)]
    fn call(self) -> Lane {
        self.ride.advance(self.model)
    }
}

struct Commit<'a, 'm> {
    ride: &'a mut Ride,
    boarding: &'a mut Boarding<'m>,
    takes: &'a Lane,
    to: Time,
}

impl pulp::NullaryFnOnce for Commit<'_, '_> {
    type Output = ();

    #[inline(always)]
    fn call(self) {
        self.boarding.note(self.ride, self.takes, self.to);
        self.ride.commit(self.takes);
    }
}

struct Again<'a> {
    ride: &'a mut Ride,
    model: &'a Model,
}

impl pulp::NullaryFnOnce for Again<'_> {
    type Output = Lane;

    #[inline(always)]
    fn call(self) -> Lane {
        self.ride.solve_present(self.model)
    }
}

struct CommitAgain<'a> {
    ride: &'a mut Ride,
    takes: &'a Lane,
}

impl pulp::NullaryFnOnce for CommitAgain<'_> {
    type Output = ();

    #[inline(always)]
    fn call(self) {
        self.ride.commit_present(self.takes);
    }
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::scenario::check::load;
    use crate::trials::Campaign;
    use std::path::Path;

    /// Riding is what makes it fast and changes nothing else, so that nothing but a count can tell that it is done.
    #[test]
    fn most_steps_of_a_winter_night_are_ridden() {
        let path = Path::new(env!("CARGO_MANIFEST_DIR")).join("scenarios/refuge.toml");
        let scenario = load(&path).unwrap().scenario;
        let (load, trials) = (scenario.load.clone().unwrap(), scenario.trials.clone().unwrap());
        let campaign = Campaign::new(&scenario, &load, &trials).unwrap();
        let lucks: Vec<Luck> = (0..LANES as u64).map(|trial| campaign.luck(trial)).collect();
        let model = &campaign.model;
        let mut lanes = Lanes::new(model);
        let mut convoy = Convoy::start(&mut lanes, &lucks);
        let (mut at, mut all, mut ridden) = (Time::ZERO, 0, 0);
        while at < model.trials.horizon {
            let to = at + model.grid;
            let before: Vec<u64> = convoy.lanes.ride.work.steps.to_vec();
            let riding = convoy.riding;
            convoy.pass(at, to);
            all += LANES;
            // What alights hands its steps over, and counts again from none.
            ridden += (0..LANES).filter(|&l| riding[l] && convoy.lanes.ride.work.steps[l] > before[l]).count();
            at = to;
        }
        assert!(ridden * 10 > all * 9, "{ridden} of {all}");
    }
}
