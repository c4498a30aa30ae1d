//! The surroundings of each lane's night, as `engine::ambient` gives them.

use crate::engine::ambient::AmbientCursors;
use crate::network::lanes::{LANES, Lane, ZERO, lanes};
use crate::profile::Piece;
use crate::time::Time;

/// A straight line in each lane: value + rise·(t − origin)/length, and an offset.
#[derive(Clone, Debug)]
struct Line {
    /// [µs]
    origin: Lane,
    /// [s]
    length: Lane,
    value: Lane,
    rise: Lane,
    offset: Lane,
}

impl Line {
    fn new() -> Line {
        Line { origin: ZERO, length: Lane([1.0; LANES]), value: ZERO, rise: ZERO, offset: ZERO }
    }

    fn set(&mut self, lane: usize, piece: &Piece, offset: f64) {
        (self.origin[lane], self.length[lane]) = (piece.origin.0 as f64, piece.length);
        (self.value[lane], self.rise[lane], self.offset[lane]) = (piece.value, piece.rise, offset);
    }

    fn at(&self, t: Time) -> Lane {
        let t = t.0 as f64;
        lanes(|l| {
            let passed = (t - self.origin[l]) * 1e-6;
            self.value[l] + self.rise[l] * (passed / self.length[l]) + self.offset[l]
        })
    }
}

/// The air and the floor of all lanes.
pub struct Airs<'m> {
    nights: Vec<Option<(AmbientCursors<'m>, f64)>>,
    lines: [Line; 3],
    /// When the first line of each lane ends.
    ends: [Time; LANES],
    soonest: Time,
    /// When the outdoor air of each lane bends.
    pub bends: [Time; LANES],
}

impl<'m> Airs<'m> {
    pub fn new() -> Airs<'m> {
        Airs {
            nights: vec![None; LANES],
            lines: [Line::new(), Line::new(), Line::new()],
            ends: [Time::NEVER; LANES],
            soonest: Time::NEVER,
            bends: [Time::NEVER; LANES],
        }
    }

    /// A lane's night, and what is added to all of it [K].
    pub fn set(&mut self, lane: usize, cursors: AmbientCursors<'m>, offset: f64, now: Time) {
        self.nights[lane] = Some((cursors, offset));
        self.seek(lane, now);
        self.soonest = self.ends.iter().copied().min().unwrap_or(Time::NEVER);
    }

    fn seek(&mut self, lane: usize, t: Time) {
        let Some((cursors, offset)) = &mut self.nights[lane] else { return };
        let pieces = cursors.pieces(t);
        for (line, piece) in self.lines.iter_mut().zip(&pieces) {
            line.set(lane, piece, *offset);
        }
        self.bends[lane] = pieces[0].until;
        self.ends[lane] = pieces.iter().map(|piece| piece.until).min().unwrap_or(Time::NEVER);
    }

    /// Outdoors, room and floor at a moment, which never goes back.
    pub fn at(&mut self, t: Time) -> [Lane; 3] {
        if t >= self.soonest {
            for lane in 0..LANES {
                if t >= self.ends[lane] {
                    self.seek(lane, t);
                }
            }
            self.soonest = self.ends.iter().copied().min().unwrap_or(Time::NEVER);
        }
        self.lines.each_ref().map(|line| line.at(t))
    }
}
