//! The surroundings of each lane's night, as `engine::ambient` gives them.

use crate::engine::ambient::AmbientCursors;
use crate::network::lane::{LANES, Lane, lanes};
use crate::profile::{Piece, line_value};
use crate::time::Time;

/// A straight line in each lane: value + rise·(t − origin)/length, and an offset.
#[derive(Clone, Debug)]
struct Line {
    /// [µs]
    origin: Lane<LANES>,
    /// [s]
    length: Lane<LANES>,
    value: Lane<LANES>,
    rise: Lane<LANES>,
    offset: Lane<LANES>,
}

impl Line {
    fn new() -> Line {
        Line { origin: Lane::ZERO, length: Lane::ONE, value: Lane::ZERO, rise: Lane::ZERO, offset: Lane::ZERO }
    }

    fn set(&mut self, lane: usize, piece: &Piece, offset: f64) {
        (self.origin[lane], self.length[lane]) = (piece.origin.0 as f64, piece.length);
        (self.value[lane], self.rise[lane], self.offset[lane]) = (piece.value, piece.rise, offset);
    }

    fn at(&self, t: &Lane<LANES>) -> Lane<LANES> {
        lanes(|l| line_value((self.value[l], self.rise[l]), t[l] - self.origin[l], self.length[l]) + self.offset[l])
    }
}

/// The air and the floor of all lanes.
pub struct Airs<'m> {
    nights: Vec<Option<(AmbientCursors<'m>, f64)>>,
    lines: [Line; 3],
    /// The lines of each lane hold from this moment until the first of them ends.
    from: [Time; LANES],
    until: [Time; LANES],
    /// When the outdoor air of each lane bends.
    pub bends: [Time; LANES],
}

impl<'m> Airs<'m> {
    pub fn new() -> Airs<'m> {
        Airs {
            nights: vec![None; LANES],
            lines: [Line::new(), Line::new(), Line::new()],
            from: [Time::ZERO; LANES],
            until: [Time::NEVER; LANES],
            bends: [Time::NEVER; LANES],
        }
    }

    /// A lane's night, and what is added to all of it [K].
    pub fn set(&mut self, lane: usize, cursors: AmbientCursors<'m>, offset: f64) {
        self.nights[lane] = Some((cursors, offset));
        // Is on none: the first look finds the lines.
        self.until[lane] = Time::ZERO;
    }

    /// Goes to the lines that hold at a moment.
    #[inline]
    pub fn seek(&mut self, lane: usize, t: Time) {
        if self.from[lane] <= t && t < self.until[lane] {
            return;
        }
        let Some((cursors, offset)) = &mut self.nights[lane] else { return };
        let pieces = cursors.pieces(t);
        for (line, piece) in self.lines.iter_mut().zip(&pieces) {
            line.set(lane, piece, *offset);
        }
        self.from[lane] = t;
        self.bends[lane] = pieces[0].until;
        self.until[lane] = pieces.iter().map(|piece| piece.until).min().unwrap_or(Time::NEVER);
    }

    /// Outdoors, room and floor of each lane at a moment of its own, which it was sent to.
    pub fn at(&self, moments: &[Time; LANES]) -> [Lane<LANES>; 3] {
        let t = lanes(|l| moments[l].0 as f64);
        self.lines.each_ref().map(|line| line.at(&t))
    }
}
