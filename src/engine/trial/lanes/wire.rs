//! One conductor in every lane, as in `engine::wiring`: how warm it is, and what it conducts.

use crate::network::bank::ConductorElement;
use crate::network::lanes::{LANES, Lane, ZERO, choose, lanes};
use crate::scenario::ConductorResistance;
use crate::scenario::ampacity::{Foreseen, Warming};
use crate::scenario::tables::copper_resistance;

/// How the resistance of a conductor comes about.
#[derive(Clone, Copy, Debug)]
enum Kind {
    /// The same at every temperature.
    Fixed,
    /// Copper at the temperature of the air.
    InAir,
    /// With insulation data: at its own temperature.
    Warm(Warming),
}

/// One conductor in every lane.
#[derive(Clone, Debug)]
pub struct WireLanes {
    kind: Kind,
    conductor: ConductorResistance,
    device: f64,
    /// Both joints, with the luck of the trial and what has gone bad [Ω].
    pub joints: Lane,
    /// 1 where it conducts, 0 where it is open.
    pub live: Lane,
    /// Greatest current that is not over its limit and spends nothing of its device [A].
    pub most: Lane,
    /// What it stands [°C].
    pub stands: f64,
    /// [Ω]
    pub resistance: Lane,
    /// `Foreseen::per_square` of the step [K/A²].
    per_square: Lane,
}

impl WireLanes {
    pub fn new(element: &ConductorElement) -> WireLanes {
        let kind = match (element.ampacity, element.conductor) {
            (Some(ampacity), _) => Kind::Warm(ampacity.warming()),
            (None, ConductorResistance::Fixed(_)) => Kind::Fixed,
            (None, ConductorResistance::Copper { .. }) => Kind::InAir,
        };
        WireLanes {
            kind,
            conductor: element.conductor,
            device: element.device,
            joints: ZERO,
            live: ZERO,
            most: ZERO,
            stands: element.ampacity.map_or(f64::INFINITY, |a| a.stands()),
            resistance: Lane([1.0; LANES]),
            per_square: ZERO,
        }
    }

    pub fn is_warm(&self) -> bool {
        matches!(self.kind, Kind::Warm(_))
    }

    /// Where its temperature is going with the current of the start, `heating` by ripple: what the resistance of the end
    /// is taken at.
    #[inline(always)]
    pub fn foresee(&mut self, from: &Lane, (seconds, heating): (&Lane, f64), start: &Lane, air: &Lane) -> Lane {
        let Kind::Warm(warming) = self.kind else { return *from };
        let (mut celsius, mut per_square) = (ZERO, ZERO);
        for l in 0..LANES {
            let foreseen = warming.foresee(from[l], seconds[l], heating * (start[l] * start[l]), air[l]);
            (celsius[l], per_square[l]) = (foreseen.celsius, foreseen.per_square);
        }
        self.per_square = per_square;
        celsius
    }

    /// Its temperature at the end of a step that was foreseen, with these currents at both ends.
    #[inline(always)]
    pub fn warm(&self, foreseen: &Lane, start: &Lane, end: &Lane, heating: f64) -> Lane {
        let per_square = &self.per_square;
        lanes(|l| Foreseen { celsius: foreseen[l], per_square: per_square[l] }.after(start[l], end[l], heating))
    }

    /// Resistance at the end, in this air, into `resistance`, and what it conducts.
    #[inline(always)]
    pub fn conductance(&mut self, celsius: &Lane, air: &Lane) -> Lane {
        let (joints, device) = (self.joints, self.device);
        let metal = match (self.conductor, &self.kind) {
            (ConductorResistance::Fixed(ohm), _) => Lane([ohm; LANES]),
            (ConductorResistance::Copper { at_20 }, Kind::Warm(_)) => lanes(|l| copper_resistance(at_20, celsius[l])),
            (ConductorResistance::Copper { at_20 }, _) => lanes(|l| copper_resistance(at_20, air[l])),
        };
        self.resistance = lanes(|l| metal[l] + joints[l] + device);
        let resistance = self.resistance;
        choose(&self.live, lanes(|l| 1.0 / resistance[l]), ZERO)
    }

    /// The same of one lane of a conductor that is fixed.
    pub fn conductance_of(&mut self, lane: usize) -> f64 {
        self.conductance(&ZERO, &ZERO)[lane]
    }

    /// Whether its conductance is the same in every step.
    pub fn is_fixed(&self) -> bool {
        matches!(self.kind, Kind::Fixed) || (self.is_warm() && matches!(self.conductor, ConductorResistance::Fixed(_)))
    }

    /// How far its currents at both ends are from the greatest that it carries unwatched [A].
    #[inline(always)]
    pub fn spare(&self, (start, end): (&Lane, &Lane)) -> Lane {
        let (most, start, end) = (&self.most, *start, *end);
        lanes(|l| {
            let (start, end) = (start[l].abs(), end[l].abs());
            most[l] - if start > end { start } else { end }
        })
    }

    /// 1 where it is not hotter than it stands.
    #[inline(always)]
    pub fn stands(&self, celsius: &Lane) -> Lane {
        let (most, celsius) = (self.stands, *celsius);
        lanes(|l| if celsius[l] <= most { 1.0 } else { 0.0 })
    }
}
