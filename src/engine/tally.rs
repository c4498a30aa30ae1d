//! What is added up along a trial: overload, shortfall, dropouts, greatest currents.
//!
//! In: both ends of each step, and the states that held in it. Out: a `TrialResult`.

use super::batch_step::BatchStep;
use super::cascade::{LossLog, Lost};
use super::conductors::Conductors;
use super::event::Event;
use super::model::Model;
use super::module::{ModuleState, Reason};
use super::result::{ChainResult, Defect, DropoutResult, ElementResult, Ending, Rejoined, TrialResult, Work};
use super::watch::{HoldClock, OVER_BY, Passage, Stretch};
use crate::time::Time;

/// A conductor is too hot beyond this much more than it stands [K]: one that comes to its limit in the
/// steady state is at it.
const HOTTER_BY: f64 = 1e-6;

/// One step as it was taken.
pub struct Taken<'a> {
    pub from: Time,
    pub to: Time,
    /// The step, before its end becomes the present.
    pub lane: &'a BatchStep<1>,
    /// Whether an announced limit holds the bank current.
    pub limited: bool,
    /// Power asked for and not met, 0 if it was met [W].
    pub short: f64,
    /// Charge offered and not taken [W].
    pub curtailed: f64,
    /// Temperature of the air around the conductors, at both ends of the step [°C].
    pub air: (f64, f64),
}

/// Sums of a trial so far.
#[derive(Clone, Debug)]
pub struct Tally {
    hold_time: Time,
    elements: Vec<ElementResult>,
    clocks: Vec<HoldClock>,
    /// Modules out and defects of conductors when each clock began.
    beginnings: Vec<ChainResult>,
    /// Clocks of conductors that are over their temperature rating.
    hot: Vec<HoldClock>,
    opened: Vec<Option<Time>>,
    shortfall: HoldClock,
    /// Energy that was not served in the running shortfall [J].
    pending: f64,
    /// How the bank was when it began, and when service ended.
    shortfall_by: Ending,
    served_until: Option<Time>,
    ending: Option<Ending>,
    unserved: f64,
    brief: f64,
    curtailed: f64,
    dropout: DropoutResult,
    chains: Vec<ChainResult>,
    /// Modules that do not deliver, and conductors that are not whole.
    out: Vec<(usize, Reason)>,
    amiss: Vec<(usize, Defect)>,
    losses: LossLog,
    rejoined: Option<Rejoined>,
}

impl Tally {
    pub fn new(model: &Model) -> Tally {
        let count = model.bank.network.branches().len();
        Tally {
            hold_time: model.trials.hold_time,
            elements: vec![ElementResult::default(); count],
            clocks: vec![HoldClock::default(); count],
            beginnings: vec![ChainResult::default(); count],
            hot: vec![HoldClock::default(); model.bank.conductors.len()],
            opened: vec![None; model.bank.devices.len()],
            shortfall: HoldClock::default(),
            pending: 0.0,
            shortfall_by: Ending::Charge,
            served_until: None,
            ending: None,
            unserved: 0.0,
            brief: 0.0,
            curtailed: 0.0,
            dropout: DropoutResult::default(),
            chains: Vec::new(),
            out: Vec::new(),
            amiss: Vec::new(),
            losses: LossLog::new(model.trials.cascade_window),
            rejoined: None,
        }
    }

    /// Whether no clock runs, but for that of a shortfall that has lasted for its hold time where the load is `short`.
    pub fn is_calm(&self, short: bool) -> bool {
        let idle = |clock: &HoldClock| clock.since().is_none();
        self.clocks.iter().chain(&self.hot).all(idle) && idle(&self.shortfall) != short && self.pending == 0.0
    }

    /// Demand not met in shortfalls that have lasted for their hold time [J].
    pub fn unserved(&mut self) -> &mut f64 {
        &mut self.unserved
    }

    /// Takes note of a loss of service, and whether an earlier one triggered it.
    pub fn note_loss(&mut self, at: Time, what: Lost, reason: Reason, triggered: bool) {
        self.losses.lose(at, what, reason, triggered);
    }

    /// What was lost within the window of cascades and may have triggered something.
    pub fn recent_losses(&self, now: Time) -> impl Iterator<Item = Lost> {
        self.losses.recent(now)
    }

    /// Takes note that a protective device has opened.
    pub fn note_opened(&mut self, device: usize, at: Time) {
        self.opened[device] = Some(at);
    }

    /// Takes note that nothing delivers.
    pub fn note_blackout(&mut self, at: Time) {
        self.losses.black_out(at);
    }

    /// Takes note of the current with which a module has come back.
    pub fn note_rejoined(&mut self, module: usize, current: f64, at: Time) {
        if self.rejoined.is_none_or(|r| current.abs() > r.current.abs()) {
            self.rejoined = Some(Rejoined { module, current, at });
        }
    }

    /// Notes which modules are out and which conductors have defects from now on.
    pub fn note_states(&mut self, modules: &[ModuleState], conductors: &Conductors) {
        self.amiss.clear();
        self.amiss.extend(conductors.defects());
        self.out.clear();
        let out = modules.iter().enumerate().filter_map(|(k, m)| Some((k, m.out()?)));
        self.out.extend(out);
        let dropped = self.out.iter().filter(|(_, reason)| !reason.is_exhaustion());
        let mut most = 0;
        for (_, reason) in dropped {
            most += 1;
            match reason {
                reason if reason.is_fault() => self.dropout.fault = true,
                Reason::Cold => self.dropout.cold = true,
                // Its cause was told when it went out.
                Reason::Rejoining => {}
                _ => self.dropout.other = true,
            }
        }
        self.dropout.most = self.dropout.most.max(most);
    }

    /// Adds a step.
    pub fn add(&mut self, model: &Model, step: &Taken<'_>, tell: &mut impl FnMut(Time, Event)) {
        for element in 0..self.elements.len() {
            let currents = (step.lane.start[element][0], step.lane.until_end()[element][0]);
            let excess =
                (excess(model, element, currents.0, step.air.0), excess(model, element, currents.1, step.air.1));
            let passage = Passage::of(step.from, step.to, excess);
            self.run_clock(element, step, passage, tell);
        }
        self.add_heat(model, step, tell);
        self.add_shortfall(step);
        self.curtailed += step.curtailed * (step.to - step.from).seconds();
    }

    fn run_clock(&mut self, element: usize, step: &Taken<'_>, passage: Passage, tell: &mut impl FnMut(Time, Event)) {
        let passed = self.clocks[element].pass(passage, step.from, step.to, self.hold_time);
        if let Some(at) = passed.began {
            let Tally { out, amiss, .. } = &*self;
            self.beginnings[element] = ChainResult { out: out.clone(), amiss: amiss.clone(), over: element };
            tell(at, Event::OverBegan { element });
        }
        if let Some(stretch) = passed.ended {
            self.elements[element].time_over += stretch.to - stretch.from;
        }
        if let Some(since) = passed.lasting_since {
            self.elements[element].first_over.get_or_insert(since);
            let beginning = &self.beginnings[element];
            if !self.chains.contains(beginning) {
                self.chains.push(beginning.clone());
            }
        }
    }

    /// Adds up the time for which conductors with insulation data are over their temperature rating.
    fn add_heat(&mut self, model: &Model, step: &Taken<'_>, tell: &mut impl FnMut(Time, Event)) {
        for (k, conductor) in model.bank.conductors.iter().enumerate() {
            let Some(ampacity) = &conductor.ampacity else { continue };
            let celsius = (step.lane.celsius[k][0], step.lane.celsius_ahead[k][0]);
            let seen = &mut self.elements[model.bank.conductor_branch(k)];
            let excess = |celsius: f64| celsius - ampacity.temperature_rating() - HOTTER_BY;
            let passage = Passage::of(step.from, step.to, (excess(celsius.0), excess(celsius.1)));
            let passed = self.hot[k].pass(passage, step.from, step.to, self.hold_time);
            if let Some(at) = passed.began {
                tell(at, Event::HotBegan { conductor: k });
            }
            if let Some(stretch) = passed.ended {
                seen.time_hot += stretch.to - stretch.from;
            }
            seen.first_hot = seen.first_hot.or(passed.lasting_since);
        }
    }

    fn add_shortfall(&mut self, step: &Taken<'_>) {
        if step.short <= 0.0 {
            self.end_shortfall(step.from);
            return;
        }
        if self.shortfall.since().is_none() {
            self.shortfall_by = self.ending(step.limited);
        }
        self.shortfall.start(step.from);
        self.pending += step.short * (step.to - step.from).seconds();
        if self.shortfall.has_lasted(step.to, self.hold_time) {
            self.served_until = self.served_until.or(self.shortfall.since());
            self.ending = self.ending.or(Some(self.shortfall_by));
            self.unserved += std::mem::take(&mut self.pending);
        }
    }

    /// How the bank is, by what is out now.
    fn ending(&self, limited: bool) -> Ending {
        let modules = self.elements.len() - self.hot.len();
        let dropped = || self.out.iter().filter(|(_, reason)| !reason.is_exhaustion());
        let cold = dropped().filter(|(_, reason)| *reason == Reason::Cold).count();
        match dropped().count() {
            dropped if 2 * dropped >= modules && 2 * cold >= dropped => Ending::Cold,
            dropped if 2 * dropped >= modules => Ending::Dropped,
            _ if limited => Ending::Limited,
            _ => Ending::Charge,
        }
    }

    fn end_shortfall(&mut self, at: Time) {
        self.shortfall.stop(at, self.hold_time);
        self.brief += std::mem::take(&mut self.pending);
    }

    /// The result of a trial and its night that ends, with what its lane has added up.
    pub fn finish(
        mut self,
        (trial, night): (u64, usize),
        end: Time,
        model: &Model,
        lane: &BatchStep<1>,
        work: Work,
    ) -> TrialResult {
        let lasting = |stretch: Option<Stretch>| stretch.map_or(Time::ZERO, |s| s.to - s.from);
        for (k, element) in self.elements.iter_mut().enumerate() {
            element.time_over += lasting(self.clocks[k].stop(end, self.hold_time));
            (element.greatest, element.greatest_at) = lane.greatest[k].of(0);
            if let Some(conductor) = model.bank.conductor_of(k) {
                element.time_hot += lasting(self.hot[conductor].stop(end, self.hold_time));
                let insulated = model.bank.conductors[conductor].ampacity.is_some();
                element.hottest = insulated.then_some(lane.hottest[conductor][0]);
            }
        }
        self.brief += self.pending;
        self.chains.sort();
        TrialResult {
            trial,
            night,
            served_until: self.served_until,
            ending: self.ending,
            unserved: self.unserved,
            brief: self.brief,
            curtailed: self.curtailed,
            elements: self.elements,
            opened: self.opened,
            dropout: self.dropout,
            chains: self.chains,
            cascade: self.losses.cascade(),
            blackout: self.losses.blackout(),
            rejoined: self.rejoined,
            work,
        }
    }
}

/// How far a current is over the element's limit, relative to it; negative: under it.
fn excess(model: &Model, element: usize, amps: f64, air: f64) -> f64 {
    let limit = match model.bank.conductor(element) {
        Some(conductor) => conductor.limit(air),
        None if amps >= 0.0 => model.limits[element].discharge,
        None => model.limits[element].charge,
    };
    limit.map_or(-1.0, |limit| amps.abs() / limit - 1.0 - OVER_BY)
}
