//! How wide the step of each lane is, and what follows from that alone.
//!
//! In: a width. Out: its seconds, the charge by ampere, and what is left of a difference of temperatures.

use super::BatchStep;
use crate::engine::model::Model;
use crate::engine::step_error::SHORT;
use crate::time::Time;

/// The widths of all lanes.
#[derive(Clone, Debug)]
pub struct Widths<const N: usize> {
    now: [Time; N],
    /// Steps of the scenario or shorter are taken as they are.
    single: Time,
}

impl<const N: usize> Widths<N> {
    pub fn new(model: &Model) -> Widths<N> {
        Widths { now: [Time::NEVER; N], single: model.trials.step.max(SHORT) }
    }

    /// What follows from the width of a lane is to be worked out anew.
    pub fn forget(&mut self, lane: usize) {
        self.now[lane] = Time::NEVER;
    }
}

impl<const N: usize> BatchStep<N> {
    /// Sets the width of the next step of a lane.
    pub fn set_width(&mut self, lane: usize, width: Time) {
        if self.widths.now[lane] == width {
            return;
        }
        let seconds = width.seconds();
        self.widths.now[lane] = width;
        self.seconds[lane] = seconds;
        self.long[lane] = f64::from(u8::from(width > self.widths.single));
        for module in &mut self.modules {
            module.per_ampere[lane] = seconds / module.capacity[lane];
        }
        self.thermal.set_width(lane, seconds);
    }
}
