//! One conductor in every lane: how warm it is, and what it conducts.
//!
//! A conductor with insulation data warms by its own loss (`Ampacity::temperature_after`) with the mean
//! square of its current, and its resistance follows its temperature; any other is at the temperature of
//! the air. An inverter's ripple heats by 1 + ripple² beyond the mean current.

use crate::network::bank::ConductorElement;
use crate::network::lane::{Lane, lanes, mask, select};
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
    /// A conductor with insulation data, which has a temperature of its own.
    Insulated(Warming),
}

/// One conductor in every lane.
#[derive(Clone, Debug)]
pub struct ConductorLanes<const N: usize> {
    kind: Kind,
    conductor: ConductorResistance,
    device: f64,
    /// What its insulation withstands [°C].
    rated_temperature: f64,
    /// Both joints, with the spread of the trial and what has gone bad [Ω].
    pub joints: Lane<N>,
    /// 1 where it conducts, 0 where it is open.
    pub live: Lane<N>,
    /// Greatest current that is not over its limit and spends nothing of its device [A].
    pub most: Lane<N>,
    /// [Ω]
    pub resistance: Lane<N>,
    /// `Foreseen::per_square` of the step [K/A²].
    per_square: Lane<N>,
}

impl<const N: usize> ConductorLanes<N> {
    pub fn new(element: &ConductorElement) -> ConductorLanes<N> {
        let kind = match (element.ampacity, element.conductor) {
            (Some(ampacity), _) => Kind::Insulated(ampacity.warming()),
            (None, ConductorResistance::Fixed(_)) => Kind::Fixed,
            (None, ConductorResistance::Copper { .. }) => Kind::InAir,
        };
        ConductorLanes {
            kind,
            conductor: element.conductor,
            device: element.device,
            rated_temperature: element.ampacity.map_or(f64::INFINITY, |a| a.temperature_rating()),
            joints: Lane::ZERO,
            live: Lane::ONE,
            most: Lane::ZERO,
            resistance: Lane::ONE,
            per_square: Lane::ZERO,
        }
    }

    pub fn is_insulated(&self) -> bool {
        matches!(self.kind, Kind::Insulated(_))
    }

    /// Its temperature at the end of the step if the current stays as it is at the start [°C]; the resistance at the end is
    /// taken at this temperature.
    #[inline(always)]
    pub fn foresee(
        &mut self,
        from: &Lane<N>,
        (seconds, ripple_factor): (&Lane<N>, &Lane<N>),
        start: &Lane<N>,
        air: &Lane<N>,
    ) -> Lane<N> {
        let Kind::Insulated(warming) = self.kind else { return *from };
        let (mut celsius, mut per_square) = (Lane::<N>::ZERO, Lane::<N>::ZERO);
        for l in 0..N {
            let foreseen = warming.foresee(from[l], seconds[l], ripple_factor[l] * (start[l] * start[l]), air[l]);
            (celsius[l], per_square[l]) = (foreseen.celsius, foreseen.per_square);
        }
        self.per_square = per_square;
        celsius
    }

    /// Its temperature at the end of a step that was foreseen, with these currents at both ends.
    #[inline(always)]
    pub fn warm(&self, foreseen: &Lane<N>, start: &Lane<N>, end: &Lane<N>, ripple_factor: &Lane<N>) -> Lane<N> {
        let per_square = &self.per_square;
        lanes(|l| {
            Foreseen { celsius: foreseen[l], per_square: per_square[l] }.after(start[l], end[l], ripple_factor[l])
        })
    }

    /// Resistance at the end, in this air, into `resistance`, and what it conducts.
    #[inline(always)]
    pub fn conductance(&mut self, celsius: &Lane<N>, air: &Lane<N>) -> Lane<N> {
        let (joints, device) = (self.joints, self.device);
        let metal: Lane<N> = match (self.conductor, &self.kind) {
            (ConductorResistance::Fixed(ohm), _) => Lane::all(ohm),
            (ConductorResistance::Copper { at_20 }, Kind::Insulated(_)) => {
                lanes(|l| copper_resistance(at_20, celsius[l]))
            }
            (ConductorResistance::Copper { at_20 }, _) => lanes(|l| copper_resistance(at_20, air[l])),
        };
        let resistance: Lane<N> = lanes(|l| metal[l] + joints[l] + device);
        self.resistance = resistance;
        select(&self.live, lanes(|l| 1.0 / resistance[l]), Lane::ZERO)
    }

    /// Whether its conductance is the same in every step.
    pub fn is_fixed(&self) -> bool {
        matches!(self.conductor, ConductorResistance::Fixed(_))
    }

    /// How far its currents at both ends are from the greatest that it carries unwatched [A].
    #[inline(always)]
    pub fn spare(&self, (start, end): (&Lane<N>, &Lane<N>)) -> Lane<N> {
        let (most, start, end) = (&self.most, *start, *end);
        lanes(|l| {
            let (start, end) = (start[l].abs(), end[l].abs());
            most[l] - if start > end { start } else { end }
        })
    }

    /// 1 where it is not above its temperature rating.
    #[inline(always)]
    pub fn is_cool(&self, celsius: &Lane<N>) -> Lane<N> {
        let (most, celsius) = (self.rated_temperature, *celsius);
        mask(|l| celsius[l] <= most)
    }

    /// Takes over a lane of another: what its trial is.
    pub fn copy_lane<const M: usize>(&mut self, l: usize, from: &ConductorLanes<M>, m: usize) {
        self.joints[l] = from.joints[m];
        self.live[l] = from.live[m];
        self.resistance[l] = from.resistance[m];
    }
}
