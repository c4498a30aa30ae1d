//! How wide the step of each lane is, and what follows from that alone.
//!
//! In: a width. Out: its seconds, the charge by ampere, and what is left of a difference of temperatures.

use super::{Heat, Neighbour, Ride};
use crate::engine::heat::{Heating, Relaxation};
use crate::engine::model::Model;
use crate::engine::trial::rough::SHORT;
use crate::math;
use crate::network::lanes::{LANES, Lane, ZERO};
use crate::time::Time;

/// The widths of all lanes, and the decays of the grid's, which nearly all have.
#[derive(Clone, Debug)]
pub struct Widths {
    now: [Time; LANES],
    grid: Time,
    /// Steps of the scenario or shorter are taken as they are.
    single: Time,
    heating: Heating,
    room: Option<(f64, f64)>,
    of_grid: Decays,
}

/// What a step does to each module, and what it leaves of the room's own warmth.
#[derive(Clone, Debug)]
struct Decays {
    modules: Vec<Relaxation>,
    room: f64,
}

impl Widths {
    pub fn new(model: &Model) -> Widths {
        let mut heating = Heating::new(model.couplings.clone(), model.ambient.gradient);
        let (grid, room) = (model.grid, model.ambient.room_heat);
        let of_grid = Decays::over(grid, &mut heating, room);
        let (now, single) = ([Time::NEVER; LANES], model.trials.step.max(SHORT));
        Widths { now, grid, single, heating, room, of_grid }
    }
}

impl Decays {
    fn over(width: Time, heating: &mut Heating, room: Option<(f64, f64)>) -> Decays {
        let seconds = width.seconds();
        let room = room.map_or(1.0, |(loss, capacity)| math::exp(-loss * seconds / capacity));
        Decays { modules: heating.over(seconds).to_vec(), room }
    }
}

impl Heat {
    pub fn new(model: &Model) -> Heat {
        let (decay, rise) = (vec![Lane([1.0; LANES]); model.couplings.len()], vec![ZERO; model.couplings.len()]);
        let none = |k: usize| Neighbour { module: k, there: 0.0, change: model.couplings.len() };
        let some = |n: usize| Neighbour { module: n, there: 1.0, change: n };
        let neighbour = |k: usize, n: Option<usize>| n.map_or_else(|| none(k), some);
        let both = model.couplings.iter().enumerate().map(|(k, c)| [neighbour(k, c.below), neighbour(k, c.above)]);
        Heat {
            neighbours: both.collect(),
            decay,
            rise,
            couplings: model.couplings.clone(),
            gradient: model.ambient.gradient,
            room: model.ambient.room_heat.map(|(loss, _)| (loss, ZERO)),
        }
    }
}

impl Ride {
    /// Sets the width of the next step of a lane.
    pub fn set_width(&mut self, lane: usize, width: Time) {
        if self.widths.now[lane] == width {
            return;
        }
        let (seconds, widths) = (width.seconds(), &mut self.widths);
        widths.now[lane] = width;
        self.seconds[lane] = seconds;
        self.long[lane] = f64::from(u8::from(width > widths.single));
        for module in &mut self.modules {
            module.constants.per_ampere[lane] = seconds / module.constants.capacity[lane];
        }
        let others = (width != widths.grid).then(|| Decays::over(width, &mut widths.heating, widths.room));
        let decays = others.as_ref().unwrap_or(&widths.of_grid);
        let of_lanes = self.heat.decay.iter_mut().zip(&mut self.heat.rise);
        for ((decay, rise), over) in of_lanes.zip(&decays.modules) {
            (decay[lane], rise[lane]) = (over.decay, over.rise);
        }
        if let Some((_, left)) = &mut self.heat.room {
            left[lane] = decays.room;
        }
    }

    /// Another trial may have come to sit in the lane.
    pub fn forget_width(&mut self, lane: usize) {
        self.widths.now[lane] = Time::NEVER;
    }
}
