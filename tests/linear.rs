//! Linear networks side by side against the solver of one, against a circuit simulator, and for every kind of vector.

use bankwright::network::lane::{LANES, Lane};
use bankwright::network::linear::{LaneDemand, LaneTerminals, LinearSolver};
use bankwright::network::solve::Solver;
use bankwright::network::{Branch, Demand, Element, Law, Network, Outcome, Rail};
use rand::{RngExt, SeedableRng};
use rand_chacha::ChaCha8Rng;

/// Nodes 0 and 1 are the terminals, negative and positive.
struct Sketch {
    rails: Vec<Rail>,
    sources: Vec<(usize, usize)>,
    wires: Vec<(usize, usize)>,
}

impl Sketch {
    fn new() -> Sketch {
        Sketch { rails: vec![Rail::Negative, Rail::Positive], sources: Vec::new(), wires: Vec::new() }
    }

    /// A module on two nodes of its own, negative and positive.
    fn module(&mut self) -> [usize; 2] {
        let nodes = [self.rails.len(), self.rails.len() + 1];
        self.rails.extend([Rail::Negative, Rail::Positive]);
        self.sources.push((nodes[0], nodes[1]));
        nodes
    }

    fn tie(&mut self, a: [usize; 2], b: [usize; 2]) {
        self.wires.extend([(a[0], b[0]), (b[1], a[1])]);
    }

    fn stack(&mut self, rng: &mut ChaCha8Rng) {
        let modules: Vec<_> = (0..rng.random_range(1..=5)).map(|_| self.module()).collect();
        modules.windows(2).for_each(|pair| self.tie(pair[0], pair[1]));
        for _ in 0..rng.random_range(1..=3) {
            let mut place = || modules[rng.random_range(0..modules.len())];
            let (p, n) = (place(), place());
            self.wires.extend([(p[1], 1), (0, n[0])]);
        }
    }

    /// Modules in a ring, or in a grid of so many columns.
    fn mesh(&mut self, rng: &mut ChaCha8Rng, columns: Option<usize>) {
        let modules: Vec<_> = (0..rng.random_range(3..=12)).map(|_| self.module()).collect();
        let count = modules.len();
        match columns {
            None => (0..count).for_each(|k| self.tie(modules[k], modules[(k + 1) % count])),
            Some(columns) => {
                for k in 0..count {
                    if (k + 1) % columns != 0 && k + 1 < count {
                        self.tie(modules[k], modules[k + 1]);
                    }
                    if k + columns < count {
                        self.tie(modules[k], modules[k + columns]);
                    }
                }
            }
        }
        self.tie([0, 1], modules[0]);
        self.tie(modules[rng.random_range(0..count)], [0, 1]);
    }

    /// Stacks, a ring or a grid; at times a cross tie, a wire beside another, or a conductor between
    /// the rails.
    fn random(rng: &mut ChaCha8Rng) -> Sketch {
        let mut sketch = Sketch::new();
        match rng.random_range(0..5) {
            0 => sketch.mesh(rng, None),
            1 => sketch.mesh(rng, Some(3)),
            _ => (0..rng.random_range(1..=3)).for_each(|_| sketch.stack(rng)),
        }
        if rng.random_bool(0.3) {
            let (a, b) = (sketch.sources[0], sketch.sources[sketch.sources.len() - 1]);
            if a != b {
                sketch.wires.push((a.1, b.1));
            }
        }
        if rng.random_bool(0.3) {
            sketch.wires.push(sketch.wires[0]);
        }
        if rng.random_bool(0.2) {
            sketch.wires.push(sketch.sources[0]);
        }
        sketch
    }

    fn network(&self) -> Network {
        let branches = self.sources.iter().chain(&self.wires).map(|&(from, to)| Branch { from, to });
        Network::new(self.rails.clone(), branches.collect(), 1, 0).unwrap()
    }

    /// Elements of one moment: all in, a few modules out, any branches open, or the whole bank out.
    fn elements(&self, rng: &mut ChaCha8Rng) -> Vec<Element> {
        let kind = rng.random_range(0..8);
        let chance = [0.0, 0.0, 0.2, 0.2, 0.1, 0.3, 0.5, 1.0][kind];
        let count = self.sources.len();
        // At times so little that Kirchhoff's law needs a refinement.
        let wire = if rng.random_bool(0.2) { 1e-8 } else { 1e-3 };
        let mut element = |k: usize| {
            let passive = if self.sources.contains(&self.wires[k.saturating_sub(count)]) { 20.0 } else { wire };
            let element = match k < count {
                true => Element::source(rng.random_range(47.0..55.0), rng.random_range(8e-3..20e-3)),
                false => Element::conductor(passive * rng.random_range(0.2..2.0)),
            };
            let open = rng.random_bool(chance) && (k < count || (4..7).contains(&kind));
            Element { law: if open { Law::Open } else { Law::Both }, ..element }
        };
        (0..count + self.wires.len()).map(&mut element).collect()
    }

    fn demand(&self, rng: &mut ChaCha8Rng) -> Demand {
        let modules = self.sources.len() as f64;
        match rng.random_range(0..8) {
            0 => Demand::Current(rng.random_range(-60.0..120.0) * modules),
            1 => Demand::Power(rng.random_range(-3000.0..0.0) * modules),
            2 => Demand::Power(rng.random_range(0.0..60_000.0) * modules),
            3 => Demand::Power(0.0),
            4 => Demand::Power(-0.0),
            5 => Demand::NONE,
            _ => Demand::Power(rng.random_range(0.0..5000.0) * modules),
        }
    }
}

/// One moment of every lane.
struct Moment {
    elements: Vec<Vec<Element>>,
    demands: [Demand; LANES],
    emf: Vec<Lane<LANES>>,
    conductance: Vec<Lane<LANES>>,
}

impl Moment {
    fn random(sketch: &Sketch, rng: &mut ChaCha8Rng) -> Moment {
        let elements: Vec<_> = (0..LANES).map(|_| sketch.elements(rng)).collect();
        let lane = |number: &dyn Fn(&Element) -> f64, k: usize| {
            let mut lane = Lane::default();
            (0..LANES).for_each(|l| lane[l] = number(&elements[l][k]));
            lane
        };
        let conductance = |e: &Element| if e.law == Law::Open { 0.0 } else { 1.0 / e.resistance };
        let emf = (0..sketch.sources.len()).map(|k| lane(&|e| e.emf, k)).collect();
        let conductance = (0..elements[0].len()).map(|k| lane(&conductance, k)).collect();
        let demands = std::array::from_fn(|_| sketch.demand(rng));
        Moment { elements, demands, emf, conductance }
    }

    fn solve(&self, solver: &mut LinearSolver<LANES>) -> LaneTerminals<LANES> {
        solver.solve(&self.emf, &self.conductance, &LaneDemand::new(&self.demands))
    }
}

/// Whether some node hangs on no terminal.
fn has_island(network: &Network, elements: &[Element]) -> bool {
    let mut reached: Vec<bool> = (0..network.rails().len()).map(|n| n < 2).collect();
    for _ in 0..reached.len() {
        for (b, e) in network.branches().iter().zip(elements).filter(|(_, e)| e.law != Law::Open) {
            let either = e.law == Law::Both && (reached[b.from] || reached[b.to]);
            reached[b.from] |= either;
            reached[b.to] |= either;
        }
    }
    !reached.iter().all(|r| *r)
}

#[derive(Debug, Default)]
struct Counts {
    sound: usize,
    islands: usize,
    not_carried: usize,
    dead: usize,
}

/// Compares one lane with the solver of one trial.
fn compare(
    at: &str,
    solver: &mut Solver,
    moment: &Moment,
    got: (&LinearSolver<LANES>, &LaneTerminals<LANES>, usize),
    n: &mut Counts,
) {
    let (lanes, terminals, l) = got;
    let elements = &moment.elements[l];
    let outcome = solver.solve(elements, moment.demands[l]).unwrap();
    let Outcome::Carried(wanted) = outcome else {
        assert!(!terminals.sound[l], "{at}: sound, but {outcome:?}");
        n.not_carried += 1;
        return;
    };
    if !terminals.sound[l] {
        // Nothing joins the terminals, and nothing is asked.
        let dead = wanted.voltage == 0.0 && wanted.current == 0.0;
        assert!(dead, "{at}: carried, but not sound: {wanted:?}");
        n.dead += 1;
        return;
    }
    let same = |what: &str, a: f64, b: f64| assert_eq!(a.to_bits(), b.to_bits(), "{at}: {what} {a} is not {b}");
    same("voltage", terminals.voltage[l], wanted.voltage);
    same("current", terminals.current[l], wanted.current);
    same("residual", terminals.kirchhoff[l], solver.kirchhoff());
    for (k, current) in solver.currents().iter().enumerate() {
        same(&format!("branch {k}"), lanes.currents()[k][l], *current);
        same(&format!("along {k}"), lanes.along(k)[l], solver.voltage_along(k));
    }
    n.sound += 1;
    n.islands += usize::from(has_island(solver.network(), elements));
}

#[test]
fn a_sound_lane_has_the_bits_of_the_solver_of_one_trial() {
    let mut n = Counts::default();
    for seed in 0..1500 {
        let mut rng = ChaCha8Rng::seed_from_u64(seed);
        let sketch = Sketch::random(&mut rng);
        let network = sketch.network();
        let mut lanes = LinearSolver::new(&network, sketch.sources.len());
        let mut solver = Solver::new(network);
        // Twice, so that nothing is left over from the moment before.
        for _ in 0..2 {
            let moment = Moment::random(&sketch, &mut rng);
            let terminals = moment.solve(&mut lanes);
            for l in 0..LANES {
                compare(&format!("network {seed}, lane {l}"), &mut solver, &moment, (&lanes, &terminals, l), &mut n);
            }
        }
    }
    let all = 1500 * 2 * LANES;
    assert!(n.sound > all / 2 && n.islands > all / 50 && n.not_carried > all / 50, "{n:?} of {all}");
}

#[test]
fn a_lane_with_what_is_not_a_number_is_not_sound_and_harms_no_other() {
    let mut rng = ChaCha8Rng::seed_from_u64(7);
    for _ in 0..200 {
        let sketch = Sketch::random(&mut rng);
        let mut lanes = LinearSolver::new(&sketch.network(), sketch.sources.len());
        let mut moment = Moment::random(&sketch, &mut rng);
        let before = moment.solve(&mut lanes);
        let (bad, k) = (rng.random_range(0..LANES), rng.random_range(0..sketch.sources.len()));
        moment.conductance[k][bad] = 100.0;
        moment.emf[k][bad] = [f64::NAN, f64::INFINITY][rng.random_range(0..2)];
        let after = moment.solve(&mut lanes);
        assert!(!after.sound[bad]);
        for l in (0..LANES).filter(|&l| l != bad) {
            assert_eq!(after.sound[l], before.sound[l]);
            assert!(!after.sound[l] || after.voltage[l].to_bits() == before.voltage[l].to_bits());
        }
    }
}

/// Compiled for whatever vectors the processor has, and for each lesser kind: the same bits.
#[test]
fn every_kind_of_vector_gives_the_same_bits() {
    struct Solve<'a>(&'a Moment, &'a mut LinearSolver<LANES>);
    impl pulp::NullaryFnOnce for Solve<'_> {
        type Output = (LaneTerminals<LANES>, Vec<Lane<LANES>>);

        #[inline(always)]
        fn call(self) -> Self::Output {
            let demand = LaneDemand::new(&self.0.demands);
            let terminals = self.1.solve(&self.0.emf, &self.0.conductance, &demand);
            (terminals, self.1.currents().to_vec())
        }
    }
    let bits = |(terminals, currents): (LaneTerminals<LANES>, Vec<Lane<LANES>>)| -> (Vec<u64>, [bool; LANES]) {
        let lanes = [terminals.voltage, terminals.current, terminals.kirchhoff].into_iter().chain(currents);
        let numbers = lanes.flat_map(|lane| (0..LANES).map(move |l| lane[l]).filter(|x| !x.is_nan()));
        (numbers.map(f64::to_bits).collect(), terminals.sound)
    };
    let mut rng = ChaCha8Rng::seed_from_u64(11);
    for _ in 0..300 {
        let sketch = Sketch::random(&mut rng);
        let mut lanes = LinearSolver::new(&sketch.network(), sketch.sources.len());
        let moment = Moment::random(&sketch, &mut rng);
        let plain = bits(pulp::NullaryFnOnce::call(Solve(&moment, &mut lanes)));
        assert_eq!(plain, bits(pulp::Arch::new().dispatch(Solve(&moment, &mut lanes))));
        #[cfg(target_arch = "x86_64")]
        if let Some(v3) = pulp::x86::V3::try_new() {
            assert_eq!(plain, bits(v3.vectorize(Solve(&moment, &mut lanes))));
        }
    }
}

/// Every branch current and the voltage of a bank of six at ten loads, by a general circuit simulator
/// (ngspice 39): within 1 µA and 1 µV, over lanes and one at a time.
#[test]
fn agrees_with_a_circuit_simulator() {
    let mut reader =
        csv::ReaderBuilder::new().comment(Some(b'#')).from_path("tests/data/simulator_currents.csv").unwrap();
    let number = |text: &str| text.parse::<f64>().unwrap();
    let loads: Vec<f64> = reader.headers().unwrap().iter().skip(4).map(number).collect();
    let mut rows: Vec<csv::StringRecord> = reader.records().map(Result::unwrap).collect();
    let voltages = rows.pop().unwrap();
    let node = |text: &str| text.parse::<usize>().unwrap();
    let branches: Vec<Branch> = rows.iter().map(|row| Branch { from: node(&row[0]), to: node(&row[1]) }).collect();
    let elements: Vec<Element> = rows.iter().map(|row| Element::source(number(&row[2]), number(&row[3]))).collect();
    let nodes = branches.iter().map(|b| b.from.max(b.to)).max().unwrap() + 1;
    let rails = (0..nodes).map(|n| if n % 2 == 0 { Rail::Negative } else { Rail::Positive }).collect();
    let network = Network::new(rails, branches, 1, 0).unwrap();
    assert!(loads.len() == 10 && elements.len() == 22 && loads.len() <= LANES);

    let demands = std::array::from_fn(|l| Demand::Current(loads[l % loads.len()]));
    let sources = elements.iter().take_while(|e| e.emf > 0.0);
    let emf: Vec<Lane<LANES>> = sources.map(|e| Lane([e.emf; LANES])).collect();
    let conductance: Vec<Lane<LANES>> = elements.iter().map(|e| Lane([1.0 / e.resistance; LANES])).collect();
    let mut lanes = LinearSolver::new(&network, emf.len());
    let terminals = lanes.solve(&emf, &conductance, &LaneDemand::new(&demands));
    let mut solver = Solver::new(network);
    for l in 0..loads.len() {
        let Outcome::Carried(one) = solver.solve(&elements, demands[l]).unwrap() else { panic!("{} A", loads[l]) };
        let voltage = number(&voltages[4 + l]);
        assert!(terminals.sound[l] && (terminals.voltage[l] - voltage).abs() < 1e-6);
        assert!((one.voltage - voltage).abs() < 1e-6);
        for (k, row) in rows.iter().enumerate() {
            let wanted = number(&row[4 + l]);
            for got in [lanes.currents()[k][l], solver.currents()[k]] {
                assert!((got - wanted).abs() < 1e-6, "{} A, branch {k}: {got} is not {wanted}", loads[l]);
            }
        }
    }
}
