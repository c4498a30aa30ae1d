//! Trials abreast: quiet steps of the grid together, everything else each on its own.
//!
//! In: a `Model` and the lucks of trials. Out: their results, the same bits as `trial::run` gives one by one.
//!
//! Each trial is a `Trial`. While nothing happens to it, its continuous state rides in a lane of a `Ride`, with the
//! arithmetic of `trial::step`: all lanes go a step at once, each from its own moment and as far as it may. A step is
//! taken where nothing that is watched left its range, and halved where it is too long for its error (`ride`). Otherwise
//! the lane is put back into its `Trial`, which goes on by itself, and boards again once it is calm. A lane whose trial
//! has ended takes the next.

mod air;
mod board;
mod module;
mod ride;
mod stopwatch;
mod wire;

use super::Trial;
use crate::engine::luck::Luck;
use crate::engine::model::Model;
use crate::engine::observe::{Nobody, Until};
use crate::engine::result::{TrialError, TrialResult};
use crate::network::lanes::{LANES, Lane, ZERO, any, lanes};
use crate::time::Time;
use board::{Boarding, Due};
use ride::{Commit, CommitPresent, Ride, Stage, Verdict};
use std::sync::atomic::{AtomicBool, Ordering};
use stopwatch::Stopwatch;

pub use stopwatch::Spent;

/// Runs trials to their horizon; `None` if `stop` was raised before.
pub fn run(model: &Model, lucks: &[Luck], stop: &AtomicBool) -> Option<Vec<Result<TrialResult, TrialError>>> {
    Lanes::new(model).run(lucks, stop)
}

/// Lanes for the trials of a model, one convoy after another.
pub struct Lanes<'m> {
    model: &'m Model,
    boarding: Boarding<'m>,
    ride: Ride,
    steps: Stopwatch,
}

impl<'m> Lanes<'m> {
    pub fn new(model: &'m Model) -> Lanes<'m> {
        let (boarding, ride, steps) = (Boarding::new(model), Ride::new(model), Stopwatch::default());
        Lanes { model, boarding, ride, steps }
    }

    /// Lanes that tell what they spend.
    pub fn timed(model: &'m Model) -> Lanes<'m> {
        let mut lanes = Lanes::new(model);
        lanes.steps.turn(true);
        lanes
    }

    /// What ridden steps have taken so far, if they are timed.
    pub fn spent(&self) -> Spent {
        let Ride { networks, solutions, .. } = &self.ride;
        Spent { steps: self.steps.spent(), networks: networks.spent(), solutions: solutions.spent() }
    }

    /// As [`run`].
    pub fn run(&mut self, lucks: &[Luck], stop: &AtomicBool) -> Option<Vec<Result<TrialResult, TrialError>>> {
        let mut convoy = Convoy::start(self, lucks, stop);
        while convoy.is_under_way() {
            if stop.load(Ordering::Relaxed) {
                return None;
            }
            convoy.pass();
        }
        convoy.finish()
    }
}

/// Trials abreast under way. Between passes every trial in a lane rides.
struct Convoy<'a, 'm, 'l> {
    lanes: &'a mut Lanes<'m>,
    lucks: &'l [Luck],
    stop: &'a AtomicBool,
    /// Number of the next trial to begin.
    next: usize,
    /// Whether `stop` ended a trial.
    given_up: bool,
    seats: [Option<Seat<'l>>; LANES],
    ended: Vec<(usize, Result<TrialResult, TrialError>)>,
}

/// A trial in its lane.
struct Seat<'l> {
    number: usize,
    trial: Trial<'l>,
    /// Width of its next step where a wider one was too rough.
    narrower: Option<Time>,
}

impl<'a, 'm: 'l, 'l> Convoy<'a, 'm, 'l> {
    fn start(lanes: &'a mut Lanes<'m>, lucks: &'l [Luck], stop: &'a AtomicBool) -> Convoy<'a, 'm, 'l> {
        // What the convoy before left in the lanes is boarded over, but for what is added up.
        lanes.boarding.clear();
        let (seats, ended) = ([const { None }; LANES], Vec::with_capacity(lucks.len()));
        let mut convoy = Convoy { lanes, lucks, stop, next: 0, given_up: false, seats, ended };
        for lane in 0..LANES {
            convoy.go_on(lane);
        }
        convoy
    }

    fn is_under_way(&self) -> bool {
        self.seats.iter().any(Option::is_some)
    }

    /// A step of every lane, as far as each may go; in which lanes it was taken.
    fn pass(&mut self) -> Lane {
        let (rides, to) = self.look_ahead();
        let Lanes { ride, boarding, model, steps } = &mut *self.lanes;
        [ride.ahead.outdoor, ride.ahead.room, ride.ahead.floor] = boarding.airs.at(&to);
        steps.start();
        // Networks of loads that change within a step's moment are not a step's.
        ride.time_networks(steps.is_on());
        ride.advance(model);
        ride.time_networks(false);
        steps.stop();
        let Verdict { quiet, rough } = &ride.verdict;
        let (takes, tries) = (lanes(|l| rides[l] * quiet[l]), lanes(|l| rides[l] * rough[l]));
        let alone = lanes(|l| rides[l] - takes[l] - tries[l]);
        // What does not take the step leaves with what it had before.
        for lane in lanes_of(&alone) {
            self.alight(lane);
        }
        let Lanes { ride, boarding, steps, .. } = &mut *self.lanes;
        steps.start();
        ride.stage(Note { boarding, takes: &takes, to: &to });
        ride.stage(Commit { takes: &takes, tries: &tries });
        steps.stop();
        self.arrive(&takes, &tries, &to);
        for lane in lanes_of(&alone) {
            self.go_alone(lane);
        }
        takes
    }

    /// In which lanes a trial rides, and where its next step ends.
    fn look_ahead(&mut self) -> (Lane, [Time; LANES]) {
        let (mut rides, mut to) = (ZERO, [Time::ZERO; LANES]);
        let Lanes { ride, boarding, .. } = &mut *self.lanes;
        for (lane, seat) in self.seats.iter_mut().enumerate() {
            let Some(Seat { trial, narrower, .. }) = seat else { continue };
            let width = narrower.unwrap_or_else(|| trial.pace.first(boarding.boundary(lane, trial.now) - trial.now));
            let end = trial.now + width;
            ride.set_width(lane, width);
            boarding.airs.seek(lane, end);
            (rides[lane], to[lane]) = (1.0, end);
        }
        (rides, to)
    }

    /// What follows from a step that was taken, or is to be tried again.
    fn arrive(&mut self, takes: &Lane, tries: &Lane, to: &[Time; LANES]) {
        let mut changed = ZERO;
        for lane in 0..LANES {
            let Some(seat) = &mut self.seats[lane] else { continue };
            let Lanes { ride, boarding, .. } = &mut *self.lanes;
            if takes[lane] + tries[lane] == 0.0 {
                continue;
            }
            boarding.rides(lane);
            seat.narrower = None;
            if tries[lane] > 0.0 {
                seat.narrower = seat.trial.pace.narrow();
                continue;
            }
            seat.trial.now = to[lane];
            seat.trial.pace.take(seat.trial.is_on_grid());
            match boarding.due(&seat.trial, lane) {
                Due::Nothing => {}
                Due::Load => changed[lane] = f64::from(u8::from(boarding.next_load(&mut seat.trial, ride, lane))),
                Due::Other => self.take_by_itself(lane),
            }
        }
        self.change_loads(&changed);
        let horizon = self.lanes.model.trials.horizon;
        for lane in lanes_of(takes) {
            if self.seats[lane].as_ref().is_some_and(|seat| seat.trial.now >= horizon) {
                self.alight(lane);
                self.go_on(lane);
            }
        }
    }

    /// Where the load changes at the end of a ridden step and nothing else happens, the present is solved anew.
    fn change_loads(&mut self, changed: &Lane) {
        if !any(changed) {
            return;
        }
        let Lanes { ride, model, .. } = &mut *self.lanes;
        ride.solve_present(model);
        let takes = lanes(|l| changed[l] * ride.verdict.quiet[l]);
        ride.stage(CommitPresent { takes: &takes });
        for lane in lanes_of(changed) {
            let Some(seat) = &mut self.seats[lane] else { continue };
            let Lanes { ride, boarding, .. } = &mut *self.lanes;
            if takes[lane] > 0.0 {
                boarding.take_load(&mut seat.trial, ride, lane);
            } else {
                // Something acts on the new load: the trial takes it by itself, from before the change.
                self.take_by_itself(lane);
            }
        }
    }

    /// The trial of a lane takes by itself what is due now.
    fn take_by_itself(&mut self, lane: usize) {
        self.alight(lane);
        self.attempt(lane, |trial, observer| trial.arrive(observer));
        self.go_on(lane);
    }

    /// The trial of a lane takes by itself the step that it could not ride.
    fn go_alone(&mut self, lane: usize) {
        let (grid, horizon) = (self.lanes.model.grid, self.lanes.model.trials.horizon);
        self.attempt(lane, |trial, observer| {
            let end = trial.now.next_multiple(grid).min(horizon);
            trial.go_on(end, observer)
        });
        self.go_on(lane);
    }

    /// Goes on by itself, and with the next trial where one has ended, until one rides or none is left.
    fn go_on(&mut self, lane: usize) {
        let horizon = self.lanes.model.trials.horizon;
        loop {
            let Some(seat) = &mut self.seats[lane] else {
                if self.begin_next(lane) {
                    continue;
                }
                return;
            };
            let Lanes { ride, boarding, .. } = &mut *self.lanes;
            if seat.trial.now >= horizon {
                if let Some(seat) = self.seats[lane].take() {
                    self.ended.push((seat.number, Ok(seat.trial.finish())));
                }
            } else if boarding.board(&mut seat.trial, ride, lane) {
                return;
            } else {
                self.attempt(lane, |trial, observer| trial.go_a_step(observer));
            }
        }
    }

    /// Seats the next trial; false if none is left.
    fn begin_next(&mut self, lane: usize) -> bool {
        let number = self.next;
        let Some(luck) = self.lucks.get(number) else { return false };
        self.next += 1;
        match begin(self.lanes.model, luck) {
            Ok(trial) => {
                self.lanes.boarding.begin(&trial, lane);
                self.seats[lane] = Some(Seat { number, trial, narrower: None });
            }
            Err(error) => self.ended.push((number, Err(error))),
        }
        true
    }

    /// Does something with the trial of a lane, and ends it where that fails.
    fn attempt(&mut self, lane: usize, what: impl FnOnce(&mut Trial<'l>, &mut Until<'a>) -> Result<(), TrialError>) {
        let Some(seat) = &mut self.seats[lane] else { return };
        if let Err(error) = what(&mut seat.trial, &mut Until(self.stop)) {
            self.given_up |= matches!(error, TrialError::GivenUp { .. });
            self.ended.push((seat.number, Err(error)));
            self.seats[lane] = None;
        }
    }

    fn alight(&mut self, lane: usize) {
        if let Some(seat) = &mut self.seats[lane] {
            seat.narrower = None;
            self.lanes.boarding.alight(&mut seat.trial, &mut self.lanes.ride, lane);
        }
    }

    /// The results in the order of the trials; `None` if any was given up.
    fn finish(mut self) -> Option<Vec<Result<TrialResult, TrialError>>> {
        self.ended.sort_by_key(|(number, _)| *number);
        let results = self.ended.into_iter().map(|(_, result)| result);
        (!self.given_up).then(|| results.collect())
    }
}

/// `Boarding::note`, of a step that is taken.
struct Note<'a, 'm> {
    boarding: &'a mut Boarding<'m>,
    takes: &'a Lane,
    to: &'a [Time; LANES],
}

impl Stage for Note<'_, '_> {
    type Output = ();

    #[inline(always)]
    fn with(self, ride: &mut Ride) {
        self.boarding.note(ride, self.takes, self.to);
    }
}

/// The lanes of a mask.
fn lanes_of(mask: &Lane) -> impl Iterator<Item = usize> + use<> {
    let mask = *mask;
    (0..LANES).filter(move |l| mask[*l] > 0.0)
}

fn begin<'m>(model: &'m Model, luck: &'m Luck) -> Result<Trial<'m>, TrialError> {
    let mut trial = Trial::start(model, luck)?;
    trial.settle(&mut Nobody)?;
    trial.run_controller(&mut Nobody)?;
    Ok(trial)
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
        let (mut lanes, stop) = (Lanes::new(model), AtomicBool::new(false));
        let mut convoy = Convoy::start(&mut lanes, &lucks, &stop);
        let mut ridden = 0;
        while convoy.is_under_way() {
            ridden += lanes_of(&convoy.pass()).count() as u64;
        }
        let steps: u64 = convoy.finish().unwrap().iter().map(|result| result.as_ref().unwrap().work.steps).sum();
        assert!(ridden * 10 > steps * 9, "{ridden} of {steps}");
    }
}
