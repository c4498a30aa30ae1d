//! Invented banks, and one moment of as many trials as there are lanes.

use bankwright::network::bank::Bank;
use bankwright::network::lane::{LANES, Lane};
use bankwright::network::linear::{LaneDemand, LaneTerminals, LinearSolver};
use bankwright::network::solve::Solver;
use bankwright::network::{Branch, Demand, Element, Network, Outcome, Rail};
use bankwright::scenario::check::parse;
use std::path::Path;

const WATTS_PER_MODULE: f64 = 1200.0;

pub struct Case {
    pub name: String,
    pub network: Network,
    pub modules: usize,
    /// Of each trial.
    pub elements: Vec<Vec<Element>>,
    pub watts: f64,
    emf: Vec<Lane<LANES>>,
    conductance: Vec<Lane<LANES>>,
    demand: LaneDemand<LANES>,
}

impl Case {
    pub fn all() -> Vec<Case> {
        let stacks = [(2, 2), (2, 3), (4, 4), (16, 4)];
        let stacks = stacks.map(|(stacks, each)| Case::stacks(stacks, each));
        stacks.into_iter().chain([Case::mesh("ring of 12", 12, 1), Case::mesh("grid of 16", 4, 4)]).collect()
    }

    /// Stacks with two lead pairs each, at opposite ends and in the middle.
    pub fn stacks(stacks: usize, each: usize) -> Case {
        let sections: String = (0..stacks)
            .map(|k| {
                format!(
                    "[[stack]]\nname = \"S{k}-\"\nmodule = \"m\"\ncount = {each}\njumper = \"c\"\nleads = [\
                     {{ cable = \"c\", positive = {each}, negative = 1 }}, {{ cable = \"c\", positive = {}, negative = {} }}]\n",
                    each / 2,
                    each / 2 + 1
                )
            })
            .collect();
        let text = format!(
            "format = 1\ntitle = \"invented\"\n[module.m]\ncells = 16\ncapacity = \"100 Ah\"\nresistance = \"12 mΩ\"\n\
             open_circuit = \"52.8 V\"\n[cable.c]\nresistance = \"0.5 mΩ\"\n{sections}"
        );
        let checked = parse(&text, "bench", Path::new("")).expect("a legal scenario");
        let bank = Bank::new(&checked.scenario).expect("a network");
        Case::new(format!("{stacks} stacks of {each}"), bank.network, stacks * each)
    }

    /// Rows and columns of modules, each row a ring, each column a line; the load at the first module
    /// and the one in the middle.
    fn mesh(name: &str, columns: usize, rows: usize) -> Case {
        let modules = columns * rows;
        let rails = (0..2 * modules + 2).map(|n| if n % 2 == 0 { Rail::Negative } else { Rail::Positive });
        let join = |from: usize, to: usize| Branch { from, to };
        let mut branches: Vec<Branch> = (0..modules).map(|k| join(2 * k, 2 * k + 1)).collect();
        for k in 0..modules {
            let (row, column) = (k / columns, k % columns);
            let beside = row * columns + (column + 1) % columns;
            let below = (row + 1 < rows).then_some(k + columns);
            for other in [Some(beside), below].into_iter().flatten() {
                branches.extend([join(2 * k, 2 * other), join(2 * k + 1, 2 * other + 1)]);
            }
        }
        for at in [0, modules / 2] {
            branches.extend([join(2 * modules, 2 * at), join(2 * at + 1, 2 * modules + 1)]);
        }
        let network = Network::new(rails.collect(), branches, 2 * modules + 1, 2 * modules).expect("a network");
        Case::new(name.to_owned(), network, modules)
    }

    fn new(name: String, network: Network, modules: usize) -> Case {
        // No two alike, so that nothing cancels.
        let element = |l: usize, k: usize| match k < modules {
            true => Element::source(52.8 + 0.01 * ((k + 3 * l) % 7) as f64, 0.012 + 1e-5 * ((k + 5 * l) % 11) as f64),
            false => Element::conductor(0.5e-3 + 1e-6 * ((k + 2 * l) % 13) as f64),
        };
        let branches = network.branches().len();
        let elements: Vec<Vec<Element>> = (0..LANES).map(|l| (0..branches).map(|k| element(l, k)).collect()).collect();
        let lane = |number: &dyn Fn(&Element) -> f64, k: usize| Lane(std::array::from_fn(|l| number(&elements[l][k])));
        let watts = WATTS_PER_MODULE * modules as f64;
        Case {
            emf: (0..modules).map(|k| lane(&|e| e.emf, k)).collect(),
            conductance: (0..branches).map(|k| lane(&|e| 1.0 / e.resistance, k)).collect(),
            demand: LaneDemand::new(&[Demand::Power(watts); LANES]),
            name,
            network,
            modules,
            elements,
            watts,
        }
    }

    /// The same with the elements of the first trial in every lane.
    pub fn alike(&self) -> Case {
        let first = |lanes: &Vec<Lane<LANES>>| lanes.iter().map(|lane| Lane([lane[0]; LANES])).collect();
        Case {
            name: self.name.clone(),
            network: self.network.clone(),
            modules: self.modules,
            elements: vec![self.elements[0].clone(); LANES],
            watts: self.watts,
            emf: first(&self.emf),
            conductance: first(&self.conductance),
            demand: self.demand,
        }
    }

    /// One trial by the list of eliminations; the voltage at the terminals.
    pub fn one(&self, solver: &mut Solver, trial: usize) -> f64 {
        match solver.solve(&self.elements[trial], Demand::Power(self.watts)) {
            Ok(Outcome::Carried(terminals)) => terminals.voltage,
            other => panic!("{other:?}"),
        }
    }

    /// All trials by the same list over lanes.
    pub fn lanes(&self, solver: &mut LinearSolver<LANES>) -> LaneTerminals<LANES> {
        self.lanes_for(solver, &self.demand)
    }

    pub fn lanes_for(&self, solver: &mut LinearSolver<LANES>, demand: &LaneDemand<LANES>) -> LaneTerminals<LANES> {
        struct Solve<'a>(&'a Case, &'a mut LinearSolver<LANES>, &'a LaneDemand<LANES>);
        impl pulp::NullaryFnOnce for Solve<'_> {
            type Output = LaneTerminals<LANES>;

            #[inline(always)]
            fn call(self) -> LaneTerminals<LANES> {
                self.1.solve(&self.0.emf, &self.0.conductance, self.2)
            }
        }
        pulp::Arch::new().dispatch(Solve(self, solver, demand))
    }
}
