//! What becomes of a step that was worked out: the present in the lanes that take it, and what it adds up.
//!
//! In: the end, and a mask of the lanes that take it. Out: the next present.

use super::module::Sample;
use super::{BatchStep, Stage};
use crate::network::lane::{Lane, any, greater, lanes, opaque_range, select};
use crate::time::Time;

/// Makes the end the present in the lanes of `takes`, at its moment `to`; `tries` are to try again from where they are,
/// and what was solved for them counts as well.
pub struct Commit<'a, const N: usize> {
    pub takes: &'a Lane<N>,
    pub tries: &'a Lane<N>,
    pub to: &'a [Time; N],
}

impl<const N: usize> Stage<N> for Commit<'_, N> {
    type Output = ();

    #[inline(always)]
    fn with(self, step: &mut BatchStep<N>) {
        let Commit { takes, tries, to } = self;
        step.note(takes, to);
        if any(tries) {
            step.keep_others(takes);
        }
        if N == 1 {
            step.coming.iter_mut().for_each(Sample::clamp_soc);
        }
        std::mem::swap(&mut step.present, &mut step.coming);
        std::mem::swap(&mut step.celsius, &mut step.celsius_ahead);
        std::mem::swap(&mut step.start, &mut step.end);
        step.stiffness = select(takes, step.stiffness_ahead, step.stiffness);
        (step.now, step.bus, step.conductor_loss) = (step.ahead, step.bus_ahead, step.conductor_loss_ahead);
        if N > 1 {
            step.count(takes, tries);
            let (before, short, seconds) = (step.unserved, step.short, step.seconds);
            step.unserved = select(takes, lanes(|l| before[l] + short[l] * seconds[l]), before);
        }
        for l in 0..N {
            step.work.steps[l] += u64::from(takes[l] > 0.0);
        }
    }
}

/// The present was solved anew: taken in the lanes of `takes`, as it was in the others.
pub struct CommitPresent<'a, const N: usize> {
    pub takes: &'a Lane<N>,
}

impl<const N: usize> Stage<N> for CommitPresent<'_, N> {
    type Output = ();

    #[inline(always)]
    fn with(self, step: &mut BatchStep<N>) {
        let takes = self.takes;
        for k in opaque_range::<N>(step.present.len()) {
            step.present[k].take_solution(&step.coming[k], takes);
        }
        for k in opaque_range::<N>(step.start.len()) {
            step.start[k] = select(takes, step.end[k], step.start[k]);
        }
        step.bus.voltage = select(takes, step.bus_ahead.voltage, step.bus.voltage);
        step.bus.current = select(takes, step.bus_ahead.current, step.bus.current);
        step.conductor_loss = select(takes, step.conductor_loss_ahead, step.conductor_loss);
        step.stiffness = select(takes, step.stiffness_ahead, step.stiffness);
        if N > 1 {
            step.count(takes, &Lane::ZERO);
        }
    }
}

impl BatchStep<1> {
    /// Makes the end the present of a trial by itself whose demand ceased to be met, or came to be met: its currents stay
    /// as they were and are to be solved anew.
    pub fn commit_turned(&mut self) {
        for (now, ahead) in self.present.iter_mut().zip(&mut self.coming) {
            ahead.clamp_soc();
            (now.soc, now.celsius, now.emf) = (ahead.soc, ahead.celsius, ahead.emf);
        }
        for (hottest, celsius) in self.hottest.iter_mut().zip(&self.celsius_ahead) {
            *hottest = greater(hottest, celsius);
        }
        self.celsius.copy_from_slice(&self.celsius_ahead);
        self.spent.copy_from_slice(&self.spent_ahead);
        self.now = self.ahead;
        self.work.steps[0] += 1;
    }
}

impl<const N: usize> BatchStep<N> {
    /// What the step adds up, before its end becomes the present.
    #[inline(always)]
    fn note(&mut self, takes: &Lane<N>, to: &[Time; N]) {
        let to: Lane<N> = lanes(|l| to[l].0 as f64);
        for k in opaque_range::<N>(self.end.len()) {
            self.greatest[k].take(&self.end[k], takes, &to);
        }
        for k in opaque_range::<N>(self.conductors.len()).filter(|k| self.conductors[*k].is_insulated()) {
            let before = self.hottest[k];
            self.hottest[k] = select(takes, greater(&before, &self.celsius_ahead[k]), before);
        }
        for k in (0..self.spent.len()).filter(|k| self.acting[*k]) {
            self.spent[k] = select(takes, self.spent_ahead[k], self.spent[k]);
        }
    }

    /// Lets the lanes that do not take the step end where they begin.
    #[inline(always)]
    fn keep_others(&mut self, takes: &Lane<N>) {
        for k in opaque_range::<N>(self.coming.len()) {
            self.coming[k].keep(&self.present[k], takes);
        }
        for k in opaque_range::<N>(self.celsius.len()) {
            self.celsius_ahead[k] = select(takes, self.celsius_ahead[k], self.celsius[k]);
        }
        for k in opaque_range::<N>(self.start.len()) {
            self.end[k] = select(takes, self.end[k], self.start[k]);
        }
        let (now, ahead) = (&self.now, &mut self.ahead);
        ahead.outdoor = select(takes, ahead.outdoor, now.outdoor);
        ahead.room = select(takes, ahead.room, now.room);
        ahead.floor = select(takes, ahead.floor, now.floor);
        ahead.own = select(takes, ahead.own, now.own);
        self.bus_ahead.voltage = select(takes, self.bus_ahead.voltage, self.bus.voltage);
        self.bus_ahead.current = select(takes, self.bus_ahead.current, self.bus.current);
        self.conductor_loss_ahead = select(takes, self.conductor_loss_ahead, self.conductor_loss);
    }

    /// Counts what was solved; a trial by itself counts it as it goes.
    #[inline(always)]
    fn count(&mut self, takes: &Lane<N>, tries: &Lane<N>) {
        let (work, solved) = (&mut self.work, lanes(|l| takes[l] + tries[l]));
        work.kirchhoff = greater(&work.kirchhoff, &select(&solved, self.kirchhoff, Lane::ZERO));
        work.power_balance = greater(&work.power_balance, &select(&solved, self.power_balance, Lane::ZERO));
        for l in 0..N {
            work.tried[l] += if solved[l] > 0.0 { self.solves[l] as u64 } else { 0 };
            if takes[l] > 0.0 {
                work.solves[l] += std::mem::take(&mut work.tried[l]);
            }
        }
    }
}
