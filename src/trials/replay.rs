//! One trial again, from its number, with every current.
//!
//! In: a campaign and a trial. Out: its `Record` and its result.

use super::Campaign;
use crate::engine::controller::Limits;
use crate::engine::event::Event;
use crate::engine::model::Model;
use crate::engine::module::State;
use crate::engine::record::{Moment, Record};
use crate::engine::result::{TrialError, TrialResult};
use crate::engine::trial::Observer;
use crate::engine::trial::Trial;
use crate::time::Time;
use std::sync::atomic::{AtomicBool, Ordering};

/// More moments than this, or than make so many numbers, are thinned out: a record stays within a hundred megabytes, and
/// what is written of it within a few hundred. Events are all kept, but for limits that creep.
const MOST_MOMENTS: usize = 200_000;
const MOST_NUMBERS: usize = 8_000_000;

/// Relative change of a limit from which on it is told again: a limit that follows the cells' voltage changes a little with
/// every message.
const TOLD_AGAIN: f64 = 0.1;

/// Runs a trial again and records every moment, until `stop` is raised. Any trial number may be asked for, also beyond those
/// of a run: a trial does not depend on how many there are.
///
/// # Errors
/// Those of the trial; `GivenUp` when stopped.
pub fn replay(campaign: &Campaign, trial: u64, stop: &AtomicBool) -> Result<(Record, TrialResult), TrialError> {
    let record = empty_record(campaign, trial);
    let (most, model, limits, starting) = (most(&record), &campaign.model, None, Vec::new());
    let mut recorder = Recorder { most, record, model, stop, every: 1, passed: 0, limits, live: true, starting };
    let result = campaign.run_one(trial, &mut recorder)?;
    recorder.tell_thinning();
    Ok((recorder.record, result))
}

/// Moments of a record within the limits: each has seven numbers, four a module and two a conductor.
fn most(record: &Record) -> usize {
    let numbers = 7 + 4 * record.modules.len() + 2 * record.conductors.len();
    MOST_MOMENTS.min(MOST_NUMBERS / numbers)
}

fn empty_record(campaign: &Campaign, trial: u64) -> Record {
    let model = &campaign.model;
    let night = &model.trials.nights[campaign.realization(trial).night];
    let start = match model.trials.start {
        Some(s) if !night.date.is_empty() => {
            format!("{} {:02}:{:02}", night.date, s / 3600, s / 60 % 60)
        }
        _ => night.date.clone(),
    };
    Record {
        trial,
        start,
        modules: model.bank.modules.iter().map(|m| m.id.clone()).collect(),
        conductors: model.bank.conductors.iter().map(|c| c.id.clone()).collect(),
        module_limits: model.limits.iter().map(|l| l.discharge).collect(),
        conductor_ratings: model.bank.conductors.iter().map(|c| c.nominal_limit()).collect(),
        ..Record::default()
    }
}

struct Recorder<'a> {
    record: Record,
    model: &'a Model,
    stop: &'a AtomicBool,
    /// Moments that are kept.
    most: usize,
    /// One moment of so many is kept.
    every: u64,
    /// Moments that have been seen.
    passed: u64,
    /// The limits that were last told.
    limits: Option<Limits>,
    /// Whether the bank delivered what it was asked for, or some of it, when it was last looked at.
    live: bool,
    /// Surges under way that had power when they began.
    starting: Vec<usize>,
}

impl Observer for Recorder<'_> {
    fn moment(&mut self, trial: &Trial<'_>) {
        let point = trial.operating_point();
        let cut_off = trial.states.iter().all(|state| *state == State::Open);
        self.live = point.carried && !point.dead && !cut_off && trial.inverter.runs();
        if !self.keeps_this() {
            return;
        }
        let mut module_currents = trial.currents();
        let conductor_currents = module_currents.split_off(trial.modules.len());
        let (around, modules) = (trial.around(), 0..trial.modules.len());
        self.record.moments.push(Moment {
            time: trial.now,
            bus_voltage: point.bus.voltage,
            bus_current: point.bus.current,
            demand_w: point.power_of(trial.asked),
            served: trial.served(),
            outdoor: around.outdoor,
            floor: around.floor,
            module_currents,
            module_charges: modules.clone().map(|k| trial.soc(k)).collect(),
            module_temperatures: modules.map(|k| trial.temperature(k)).collect(),
            module_states: trial.states.clone(),
            conductor_currents,
            conductor_temperatures: self.temperatures(trial),
        });
    }

    fn event(&mut self, at: Time, event: Event) {
        if let Event::Limits(limits) = event {
            if self.limits.is_some_and(|told| !moved(told, limits)) {
                return;
            }
            self.limits = Some(limits);
        }
        let told = self.tell(event);
        self.record.events.extend(told.map(|text| (at, text)));
    }

    fn gives_up(&self) -> bool {
        self.stop.load(Ordering::Relaxed)
    }
}

/// Whether a limit is another than was told, by more than it creeps.
fn moved(told: Limits, now: Limits) -> bool {
    let moved = |a: f64, b: f64| a != b && (a - b).abs() >= TOLD_AGAIN * a.min(b);
    moved(told.discharge, now.discharge) || moved(told.charge, now.charge)
}

impl Recorder<'_> {
    /// Counts a moment and says whether it is kept; a full record loses every second one first.
    fn keeps_this(&mut self) -> bool {
        if self.record.moments.len() >= self.most {
            let mut number = 0_u64..;
            self.record.moments.retain(|_| number.next().is_some_and(|n| n.is_multiple_of(2)));
            self.every *= 2;
        }
        let number = self.passed;
        self.passed += 1;
        number.is_multiple_of(self.every)
    }

    fn tell_thinning(&mut self) {
        if self.every > 1 {
            let told = format!("so long a night is thinned out: one moment of {} is shown", self.every);
            self.record.events.insert(0, (Time::ZERO, told));
        }
    }

    /// Temperatures of the conductors [°C]; `None` for those without insulation data.
    fn temperatures(&self, trial: &Trial<'_>) -> Vec<Option<f64>> {
        let conductors = self.model.bank.conductors.iter().enumerate();
        conductors.map(|(k, c)| c.ampacity.map(|_| trial.conductor_temperature(k))).collect()
    }

    /// The event in words; `None` for events that are not told.
    fn tell(&mut self, event: Event) -> Option<String> {
        let model = self.model;
        let conductor = |k: usize| &model.bank.conductors[k].id;
        Some(match event {
            Event::HotBegan { conductor: k } => {
                let stands = self.model.bank.conductors[k].ampacity.map_or(0.0, |a| a.temperature_rating());
                format!("{} hotter than {stands} °C", conductor(k))
            }
            Event::DeviceOpened { device } => format!("{} opened", self.model.bank.devices[device].id),
            Event::Conductor { conductor: k, open: true } => format!("{} broken", conductor(k)),
            Event::Conductor { conductor: k, open: false } => format!("{} mended", conductor(k)),
            Event::Joint { conductor: k, bad: true } => format!("{}: a joint goes bad", conductor(k)),
            Event::Joint { conductor: k, bad: false } => format!("{}: joint mended", conductor(k)),
            Event::Surge { surge, begins } => return self.tell_surge(surge, begins),
            Event::Module { module, state, reason } => {
                let id = &self.model.bank.modules[module].id;
                let why = reason.map_or(String::new(), |r| format!(" ({})", r.word()));
                format!("{id} {}{why}", state.word())
            }
            Event::OverBegan { element } => self.tell_over(element),
            Event::InverterOff => "inverter off (low voltage)".to_string(),
            Event::Limits(limits) => {
                let told = |amps: f64| match amps {
                    // Rounded before it is written: no hair below zero becomes "-0.0".
                    amps if amps.is_finite() => format!("{:.1} A", (amps * 10.0).round() / 10.0 + 0.0),
                    _ => "no limit".to_string(),
                };
                format!("inverter obeys {} in discharge, {} in charge", told(limits.discharge), told(limits.charge))
            }
            Event::InverterOn => "inverter on".to_string(),
            Event::Short => "load not served".to_string(),
            Event::Served => "load served again".to_string(),
        })
    }

    /// The end of a surge is told only where it had power from its beginning on.
    fn tell_surge(&mut self, surge: usize, begins: bool) -> Option<String> {
        let name = &self.model.surges[surge].name;
        if begins {
            self.starting.extend(self.live.then_some(surge));
            return Some(format!("{name} {}", if self.live { "starts" } else { "gets no power" }));
        }
        let began = self.starting.iter().position(|s| *s == surge)?;
        self.starting.swap_remove(began);
        self.live.then(|| format!("{name}: surge over"))
    }

    fn tell_over(&self, element: usize) -> String {
        let model = self.model;
        let limit = match model.bank.conductor(element) {
            Some(conductor) => conductor.nominal_limit(),
            None => model.limits[element].discharge,
        };
        let limit = limit.map_or(String::new(), |amps| format!(" {amps} A"));
        format!("{} over its limit{limit}", model.bank.branch_id(element))
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn a_limit_that_creeps_is_told_in_tenths() {
        let limits = |discharge| Limits { discharge, charge: f64::INFINITY };
        for (told, now, again) in [
            (100.0, 95.0, false),
            (100.0, 90.0, true),
            (100.0, 0.0, true),
            (0.0, 1.0, true),
            (f64::INFINITY, 9.0, true),
        ] {
            assert_eq!(moved(limits(told), limits(now)), again, "{told} and {now}");
        }
        assert!(!moved(limits(f64::INFINITY), limits(f64::INFINITY)));
    }
}
