//! An independent solution of the network: a dense nodal matrix, nalgebra's LU, Newton for constant
//! power, and bent characteristics by trying every combination of their pieces. Slow and plain.

use bankwright::network::{Branch, Demand, Element, Law, Network, Rail, SelfLimit};
use nalgebra::{DMatrix, DVector};
use rand::{RngExt, SeedableRng};
use rand_chacha::ChaCha8Rng;

#[derive(Debug)]
pub struct Case {
    pub network: Network,
    pub elements: Vec<Element>,
    pub demand: Demand,
}

impl Case {
    /// How many branches have more than one piece.
    pub fn bent(&self) -> usize {
        self.elements.iter().filter(|e| pieces(e).len() > 1).count()
    }
}

#[derive(Debug)]
pub struct Dense {
    pub voltage: f64,
    pub currents: Vec<f64>,
}

/// One to three stacks of one to five modules on one to three lead pairs each, with cross ties
/// between stacks; some modules out, some blocked one way; a current or a power either way.
pub fn random_case(seed: u64) -> Case {
    let mut rng = ChaCha8Rng::seed_from_u64(seed);
    let (mut rails, mut sources, mut wires) = (vec![Rail::Negative, Rail::Positive], Vec::new(), Vec::new());
    for _ in 0..rng.random_range(1..=3) {
        let (first, count) = (rails.len(), rng.random_range(1..=5));
        for k in 0..count {
            rails.extend([Rail::Negative, Rail::Positive]);
            sources.push((first + 2 * k, first + 2 * k + 1));
            if k > 0 {
                wires.extend([(0, 2), (1, 3)].map(|(a, b)| (first + 2 * k - 2 + a, first + 2 * k - 2 + b)));
            }
        }
        for _ in 0..rng.random_range(1..=3) {
            let place = |rng: &mut ChaCha8Rng| first + 2 * rng.random_range(0..count);
            let (p, n) = (place(&mut rng), place(&mut rng));
            wires.extend([(p + 1, 1), (0, n)]);
        }
    }
    if sources.len() > 1 && rng.random_bool(0.3) {
        let (a, b) = (sources[0], sources[sources.len() - 1]);
        wires.push((a.1, b.1));
    }
    let mut elements: Vec<Element> = sources.iter().map(|_| module(&mut rng)).collect();
    elements.extend(wires.iter().map(|_| Element::conductor(rng.random_range(1e-4..2e-3))));
    let modules = sources.len() as f64;
    let demand = match rng.random_range(0..5) {
        0 => Demand::Current(rng.random_range(-60.0..120.0) * modules),
        1 => Demand::Power(rng.random_range(-3000.0..0.0) * modules),
        2 => Demand::Power(rng.random_range(0.0..60_000.0) * modules),
        3 => Demand::NONE,
        _ => Demand::Power(rng.random_range(0.0..5000.0) * modules),
    };
    let branches = sources.into_iter().chain(wires).map(|(from, to)| Branch { from, to });
    let network = Network::new(rails, branches.collect(), 1, 0).unwrap();
    Case { network, elements, demand }
}

fn module(rng: &mut ChaCha8Rng) -> Element {
    let drop = if rng.random_bool(0.5) { 0.0 } else { 0.7 };
    let law = match rng.random_range(0..10) {
        0 | 1 => Law::Open,
        2 | 3 => Law::ForwardOnly { drop },
        4 => Law::ReverseOnly { drop },
        _ => Law::Both,
    };
    let self_limit = if rng.random_bool(0.1) {
        SelfLimit { forward: rng.random_range(20.0..150.0), reverse: rng.random_range(10.0..80.0) }
    } else {
        SelfLimit::NONE
    };
    Element { emf: rng.random_range(50.0..54.0), resistance: rng.random_range(8e-3..20e-3), law, self_limit }
}

/// A piece of a branch's characteristic.
#[derive(Clone, Copy, Debug, PartialEq)]
enum Piece {
    Off,
    Line,
    Held(f64),
}

/// Every piece that a branch could be on.
fn pieces(e: &Element) -> Vec<Piece> {
    let (forward, reverse) = (Piece::Held(e.self_limit.forward), Piece::Held(-e.self_limit.reverse));
    let held = e.self_limit != SelfLimit::NONE;
    match (e.law, held) {
        (Law::Open, _) => vec![Piece::Off],
        (Law::Both, false) => vec![Piece::Line],
        (Law::Both, true) => vec![Piece::Line, forward, reverse],
        (Law::ForwardOnly { .. } | Law::ReverseOnly { .. }, false) => vec![Piece::Off, Piece::Line],
        (Law::ForwardOnly { .. }, true) => vec![Piece::Off, Piece::Line, forward],
        (Law::ReverseOnly { .. }, true) => vec![Piece::Off, Piece::Line, reverse],
    }
}

/// Every combination of pieces.
fn combinations(elements: &[Element]) -> Vec<Vec<Piece>> {
    elements.iter().map(pieces).fold(vec![Vec::new()], |all, choices| {
        let extend =
            |before: &Vec<Piece>| choices.iter().map(|p| [before.as_slice(), &[*p]].concat()).collect::<Vec<_>>();
        all.iter().flat_map(extend).collect()
    })
}

/// `None`: no current of the bank meets the demand. Among several solutions, the highest voltage.
pub fn solve(case: &Case) -> Option<Dense> {
    let tries = combinations(&case.elements)
        .into_iter()
        .filter_map(|on| with_set(case, &on).filter(|(d, v)| consistent(case, &on, d, v)).map(|(d, _)| d));
    tries.max_by(|a, b| a.voltage.total_cmp(&b.voltage))
}

fn consistent(case: &Case, on: &[Piece], dense: &Dense, potential: &[f64]) -> bool {
    on.iter().enumerate().all(|(k, piece)| {
        let (e, b) = (&case.elements[k], case.network.branches()[k]);
        let drive = potential[b.from] - potential[b.to] + e.driving();
        let (least, most) = match e.law {
            Law::Open => return true,
            Law::Both => (-e.self_limit.reverse, e.self_limit.forward),
            Law::ForwardOnly { .. } => (0.0, e.self_limit.forward),
            Law::ReverseOnly { .. } => (-e.self_limit.reverse, 0.0),
        };
        match *piece {
            Piece::Line => (least - 1e-6..=most + 1e-6).contains(&dense.currents[k]),
            Piece::Off if least == 0.0 => drive <= 1e-8,
            Piece::Off => drive >= -1e-8,
            Piece::Held(amps) if amps > 0.0 => drive >= amps * e.resistance - 1e-8,
            Piece::Held(amps) => drive <= amps * e.resistance + 1e-8,
        }
    })
}

/// The circuit with these pieces: linear in the load current, Newton for power.
fn with_set(case: &Case, on: &[Piece]) -> Option<(Dense, Vec<f64>)> {
    let at = |amps: f64| potentials(case, on, amps);
    let joined = on.iter().zip(&case.elements).any(|(on, e)| *on == Piece::Line && e.emf > 0.0);
    let terminal = |v: &[f64]| v[case.network.positive()];
    let amps = match case.demand {
        Demand::Current(amps) => amps,
        Demand::Power(power) => newton(power, |amps| terminal(&at(amps)))?,
    };
    if !joined && amps != 0.0 {
        return None;
    }
    let potential = at(amps);
    let voltage = terminal(&potential);
    if amps > 0.0 && voltage <= 0.0 {
        return None;
    }
    let current = |(k, e): (usize, &Element)| {
        let b = case.network.branches()[k];
        match on[k] {
            Piece::Off => 0.0,
            Piece::Line => (potential[b.from] - potential[b.to] + e.driving()) / e.resistance,
            Piece::Held(amps) => amps,
        }
    };
    let currents = case.elements.iter().enumerate().map(current).collect();
    let voltage = if joined { voltage } else { 0.0 };
    Some((Dense { voltage, currents }, potential))
}

/// I ← I − (V·I − P)/(V + I·dV/dI) from I = 0, V(I) sampled.
fn newton(power: f64, voltage: impl Fn(f64) -> f64) -> Option<f64> {
    let slope = voltage(1.0) - voltage(0.0);
    let mut amps = 0.0;
    for _ in 0..200 {
        let v = voltage(amps);
        let step = (v * amps - power) / (v + amps * slope);
        amps -= step;
        if !amps.is_finite() || amps.abs() > 1e7 {
            return None;
        }
        if step.abs() < 1e-11 * (1.0 + amps.abs()) {
            return (voltage(amps) > 0.5 * voltage(0.0)).then_some(amps);
        }
    }
    None
}

/// Node potentials with the negative terminal at zero. A trace of conductance between the rails
/// keeps floating parts determined, as general circuit simulators do.
fn potentials(case: &Case, on: &[Piece], amps: f64) -> Vec<f64> {
    let nodes = case.network.rails().len();
    let mut g = DMatrix::<f64>::identity(nodes, nodes) * 1e-9;
    let mut injected = DVector::<f64>::zeros(nodes);
    injected[case.network.positive()] -= amps;
    injected[case.network.negative()] += amps;
    for (k, (b, e)) in case.network.branches().iter().zip(&case.elements).enumerate() {
        let (conductance, current) = match on[k] {
            Piece::Off => continue,
            Piece::Line => (1.0 / e.resistance, e.driving() / e.resistance),
            Piece::Held(amps) => (0.0, amps),
        };
        for (i, j) in [(b.from, b.to), (b.to, b.from)] {
            g[(i, i)] += conductance;
            g[(i, j)] -= conductance;
        }
        injected[b.to] += current;
        injected[b.from] -= current;
    }
    let negative = case.network.negative();
    g.row_mut(negative).fill(0.0);
    g[(negative, negative)] = 1.0;
    injected[negative] = 0.0;
    g.lu().solve(&injected).map_or(vec![f64::NAN; nodes], |v| v.iter().copied().collect())
}
