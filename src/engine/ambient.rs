//! What surrounds the bank: outdoors, room and floor, by time.
//!
//! In: the scenario's climate, room and floor. Out: temperatures at any moment of a night, before
//! the bank's own heat.
//!
//! Room: C·dT/dt = gain − loss·(T − T_out). Floor: dT/dt = (T_followed + offset − T)/lag. Both are
//! linear and do not depend on what the bank does, so they are worked out once along the whole
//! weather record, exactly for straight lines between its readings, and drawn from by each night
//! with their history. They start settled at the record's first reading.

use crate::math;
use crate::profile::{Cursor, Night, Piece, Series};
use crate::scenario::{Air, Climate, Floor, FloorFollows, Room, Scenario};
use crate::time::Time;

/// Air around the bank where a scenario gives no climate [°C].
pub const DEFAULT_AIR: f64 = 25.0;

/// Spacing of the records made from it [s]: between its points they are drawn as straight lines.
const GRID: i64 = 600;

/// A temperature by time.
#[derive(Clone, Debug)]
enum Course {
    Constant(f64),
    Series(Series),
}

impl Course {
    fn cursor(&self, night: &Night) -> CourseCursor<'_> {
        match self {
            Course::Constant(celsius) => {
                CourseCursor { series: None, last: Piece::constant(*celsius), from: Time::NEVER }
            }
            Course::Series(series) => {
                let cursor = series.cursor(night.air_start);
                CourseCursor { series: Some(cursor), last: Piece::constant(0.0), from: Time::NEVER }
            }
        }
    }

    /// First-order lag behind this course, raised by `offset`: exact for a straight line
    /// u(t) = a + b·t, T(h) = u(h) − b·τ + (T(0) − a + b·τ)·e^(−h/τ).
    fn lagged(&self, lag: f64, offset: f64) -> Course {
        let series = match self {
            Course::Constant(celsius) => return Course::Constant(celsius + offset),
            Course::Series(series) => series,
        };
        let (first, end) = (series.first(), series.end());
        let mut cursor = series.cursor(first);
        let mut followed = |t: i64| cursor.between(Time::from_whole_seconds(t - first)).0 + offset;
        let (mut from, mut a) = (first, followed(first));
        let (mut times, mut values, mut celsius) = (vec![first], vec![a], a);
        while from < end {
            let to = (from + GRID).min(end);
            let (u, h) = (followed(to), (to - from) as f64);
            let ramp = (u - a) / h * lag;
            celsius = u - ramp + (celsius - a + ramp) * math::exp(-h / lag);
            times.push(to);
            values.push(celsius);
            (from, a) = (to, u);
        }
        match Series::from_parts(series.clock(), times, values) {
            Ok(series) => Course::Series(series),
            Err(_) => self.clone(),
        }
    }
}

/// Temperatures around the bank at one moment [°C], before its own heat.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Surroundings {
    pub outdoor: f64,
    /// The room, at floor level; outdoors where there is no room.
    pub room: f64,
    pub floor: f64,
}

impl Surroundings {
    /// The same with a warmer room.
    pub fn warmed(&self, kelvins: f64) -> Surroundings {
        Surroundings { room: self.room + kelvins, ..*self }
    }

    /// Half way between two.
    pub fn mean(a: &Surroundings, b: &Surroundings) -> Surroundings {
        let half = |a, b| 0.5 * (a + b);
        Surroundings { outdoor: half(a.outdoor, b.outdoor), room: half(a.room, b.room), floor: half(a.floor, b.floor) }
    }
}

/// A place in a course.
#[derive(Clone, Copy, Debug)]
struct CourseCursor<'a> {
    /// `None` of a constant.
    series: Option<Cursor<'a>>,
    /// The straight line that holds from `from`, a moment that was asked for, to its end.
    last: Piece,
    from: Time,
}

impl CourseCursor<'_> {
    #[inline]
    fn piece(&mut self, t: Time) -> Piece {
        if let Some(cursor) = &mut self.series
            && !(self.from <= t && t < self.last.until)
        {
            (self.last, self.from) = (cursor.piece(t), t);
        }
        self.last
    }
}

/// A place in each of the courses of one night: outdoors, room and floor, before the bank's own heat.
#[derive(Clone, Copy, Debug)]
pub struct AmbientCursors<'a> {
    courses: [CourseCursor<'a>; 3],
}

impl AmbientCursors<'_> {
    /// Everything shifts by `offset` [K]: outdoors, and what has followed it long enough.
    pub fn at(&mut self, t: Time, offset: f64) -> Surroundings {
        let [outdoor, room, floor] = self.pieces(t).map(|piece| piece.value(t) + offset);
        Surroundings { outdoor, room, floor }
    }

    /// The next bend of the outdoor air.
    pub fn next_reading(&mut self, t: Time) -> Time {
        self.courses[0].piece(t).until
    }

    /// The straight lines that hold at a moment.
    #[inline]
    pub fn pieces(&mut self, t: Time) -> [Piece; 3] {
        self.courses.each_mut().map(|course| course.piece(t))
    }
}

/// The courses of all surroundings.
#[derive(Clone, Debug)]
pub struct Ambient {
    outdoor: Course,
    room: Course,
    floor: Course,
    /// [K/m]
    pub gradient: f64,
    /// Loss [W/K] and heat capacity [J/K] of the room, for the bank's own heat.
    pub room_heat: Option<(f64, f64)>,
}

impl Ambient {
    pub fn new(scenario: &Scenario) -> Ambient {
        let outdoor = outdoor(scenario.climate.as_ref());
        let room = match &scenario.room {
            Some(Room { loss, gain, heat_capacity, .. }) => outdoor.lagged(heat_capacity / loss, gain / loss),
            None => outdoor.clone(),
        };
        let own = scenario.climate.as_ref().and_then(|c| c.floor.clone());
        let floor = match (own, &scenario.floor) {
            (Some(series), _) => Course::Series(series),
            (None, Some(Floor { lag, follows, offset })) => match follows {
                FloorFollows::Outdoors => outdoor.lagged(*lag, *offset),
                FloorFollows::Room => room.lagged(*lag, *offset),
            },
            (None, None) => room.clone(),
        };
        Ambient {
            outdoor,
            room,
            floor,
            gradient: scenario.room.map_or(0.0, |r| r.gradient),
            room_heat: scenario.room.map(|r| (r.loss, r.heat_capacity)),
        }
    }

    /// For the moments of one night, which mostly go forward by small steps.
    pub fn cursors(&self, night: &Night) -> AmbientCursors<'_> {
        AmbientCursors { courses: [&self.outdoor, &self.room, &self.floor].map(|course| course.cursor(night)) }
    }
}

fn outdoor(climate: Option<&Climate>) -> Course {
    match climate.map(|c| &c.air) {
        None => Course::Constant(DEFAULT_AIR),
        Some(Air::Constant(celsius)) => Course::Constant(*celsius),
        Some(Air::Profile(series)) => Course::Series(series.clone()),
    }
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::profile::Clock;

    /// First-order lag of a 24 h sine with τ 5.47 h: amplitude 1/√(1+(ωτ)²) = 0.573, lag
    /// arctan(ωτ)/ω = 3.67 h (by hand).
    #[test]
    fn a_lag_of_a_daily_sine() {
        let omega = std::f64::consts::TAU / 24.0;
        let times: Vec<i64> = (0..24 * 60).map(|k| k * 600).collect();
        let values = times.iter().map(|&t| (omega * t as f64 / 3600.0).sin()).collect();
        let sine = Course::Series(Series::from_parts(Clock::Elapsed, times, values).unwrap());
        let lagged = sine.lagged(5.47 * 3600.0, 0.0);
        let night = Night { air_start: 0, load_start: 0, date: String::new(), year: String::new() };
        let mut cursor = lagged.cursor(&night);
        let mut at = |t: Time| cursor.piece(t).value(t);
        let hours = (7 * 24 * 60..8 * 24 * 60).map(|m| f64::from(m) / 60.0);
        let (mut most, mut when) = (0.0, 0.0);
        for h in hours {
            let value = at(Time::from_seconds(h * 3600.0));
            if value > most {
                (most, when) = (value, h);
            }
        }
        assert!((most - 0.573).abs() < 1e-3, "{most}");
        assert!((when - 7.0 * 24.0 - 6.0 - 3.67).abs() < 0.1, "{when}");
    }
}
