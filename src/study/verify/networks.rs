//! Currents and limits of circuits and stacks.

use super::case::{Answer, Part, point, scenario};
use crate::network::solve::Solver;
use crate::network::{Branch, Demand, Element, Network, Outcome, Rail};
use crate::progress::Progress;
use crate::scenario::Scenario;
use crate::study::limit::{self, MOST_SETS};

const LADDER: &str = "by hand, with cosh γ = 1 + j/r: shares s_k = 2·sinh(γ/2)·cosh((N−k+½)γ)/sinh(Nγ), leads at module 1; \
                      sinh(γ/2)·cosh((k−(N+1)/2)γ)/sinh(Nγ/2), leads at opposite ends; bus E − r·s₁·I, less \
                      j·(N−1)/2·I at opposite ends; jumper I·(1 − s₁)";

pub fn part() -> Part {
    let mut part = Part::new("networks");
    circuits(&mut part);
    simulated(&mut part);
    shares(&mut part);
    limits(&mut part);
    part
}

/// Voltage at node 1 and currents of a circuit, node 0 being the negative terminal.
fn circuit(nodes: usize, branches: &[(usize, usize, Element)], demand: Demand) -> Option<(f64, Vec<f64>)> {
    let rails = (0..nodes).map(|node| if node == 0 { Rail::Negative } else { Rail::Positive }).collect();
    let ends = branches.iter().map(|&(from, to, _)| Branch { from, to }).collect();
    let elements: Vec<Element> = branches.iter().map(|(_, _, element)| *element).collect();
    let mut solver = Solver::new(Network::new(rails, ends, 1, 0).ok()?);
    match solver.solve(&elements, demand).ok()? {
        Outcome::Carried(terminals) => Some((terminals.voltage, solver.currents().to_vec())),
        Outcome::NotCarried { .. } => None,
    }
}

fn circuits(part: &mut Part) {
    let (source, conductor) = (Element::source, Element::conductor);
    let millman =
        circuit(2, &[(0, 1, source(28.0, 4.0)), (0, 1, source(7.0, 1.0)), (1, 0, conductor(2.0))], Demand::NONE);
    let what = "28 V behind 4 Ω and 7 V behind 1 Ω on 2 Ω";
    let source_of_both = "by hand, Millman's theorem: (28/4 + 7/1)/(1/4 + 1/2 + 1/1) = 8 V, (7 − 8)/1 = −1 A";
    part.check(format!("{what}: voltage"), source_of_both, Answer(8.0, 1e-9, "V"), millman.as_ref().map(|c| c.0));
    let charged = millman.map(|c| c.1[1]);
    part.check(format!("{what}: current of the second, charged"), source_of_both, Answer(-1.0, 1e-9, "A"), charged);
    let generators =
        circuit(2, &[(0, 1, source(100.0, 5.0)), (0, 1, source(95.0, 3.0)), (1, 0, conductor(80.0))], Demand::NONE);
    let what = "100 V behind 5 Ω and 95 V behind 3 Ω on 80 Ω: current of the second";
    let by_hand = "by hand: V = (100/5 + 95/3)/(1/5 + 1/3 + 1/80) = 12400/131 V, (95 − V)/3 = 15/131 A";
    part.check(what, by_hand, Answer(15.0 / 131.0, 1e-9, "A"), generators.map(|c| c.1[1]));
    let rungs = [
        (0, 1, source(240.0, 5.0)),
        (1, 0, conductor(6.0)),
        (1, 2, conductor(4.0)),
        (2, 0, conductor(6.0)),
        (2, 0, conductor(3.0)),
    ];
    let ladder = circuit(3, &rungs, Demand::NONE);
    let what = "240 V into a ladder of two rungs and an end";
    let by_hand = "by hand: 3 Ω ∥ 6 Ω = 2 Ω, (4 + 2) Ω ∥ 6 Ω = 3 Ω, 240 V/(5 + 3) Ω = 30 A, of it 1/2·2/3 at the end";
    part.check(format!("{what}: current in"), by_hand, Answer(30.0, 1e-9, "A"), ladder.as_ref().map(|c| c.1[0]));
    part.check(format!("{what}: current of the end"), by_hand, Answer(10.0, 1e-9, "A"), ladder.map(|c| c.1[4]));
}

/// Three modules, their jumpers on one rail, and leads of the first and the last, with a load of 200 A.
fn simulated(part: &mut Part) {
    let (source, conductor) = (Element::source, Element::conductor);
    let branches = [
        (0, 2, source(52.0, 0.010)),
        (0, 3, source(51.9, 0.010)),
        (0, 4, source(52.1, 0.012)),
        (2, 3, conductor(0.5e-3)),
        (3, 4, conductor(0.5e-3)),
        (2, 1, conductor(1.0e-3)),
        (4, 1, conductor(1.1e-3)),
    ];
    let found = circuit(5, &branches, Demand::Current(200.0));
    let what = "52.0, 51.9 and 52.1 V behind 10, 10 and 12 mΩ, jumpers of 0.5 mΩ, 200 A";
    const SIMULATOR: &str = "ngspice 39, an open circuit simulator: operating point of this circuit, reltol 1e-9";
    for (k, amps) in [71.7989358089, 60.1969885656, 68.0040756255].into_iter().enumerate() {
        let got = found.as_ref().map(|f| f.1[k]);
        part.check(format!("{what}: module {}", k + 1), SIMULATOR, Answer(amps, 1e-9, "A"), got);
    }
    part.check(format!("{what}: bus"), SIMULATOR, Answer(51.1781727612361, 1e-11, "V"), found.map(|f| f.0));
}

/// A stack of equal modules of so many mΩ and jumpers of so many, its leads of 1 nΩ at these positions.
struct Stack {
    count: usize,
    module: f64,
    jumper: f64,
    positive: usize,
    /// Further keys of the module type, the jumper type and the stack.
    keys: &'static str,
    jumper_keys: &'static str,
    stack_keys: &'static str,
}

impl Stack {
    fn of(count: usize, module: f64, jumper: f64, positive: usize) -> Stack {
        let keys = "open_circuit = \"51.2 V\"";
        Stack { count, module, jumper, positive, keys, jumper_keys: "", stack_keys: "" }
    }

    fn scenario(&self) -> Option<Scenario> {
        let Stack { count, module, jumper, positive, keys, jumper_keys, stack_keys } = self;
        scenario(&format!(
            "[module.m]\ncells = 16\ncapacity = \"100 Ah\"\nresistance = \"{module} mΩ\"\n{keys}\n\
             [cable.jumper]\nresistance = \"{jumper} mΩ\"\n{jumper_keys}\n[cable.lead]\nresistance = \"1e-06 mΩ\"\n\
             [[stack]]\nname = \"A\"\nmodule = \"m\"\ncount = {count}\njumper = \"jumper\"\n\
             leads = [{{ cable = \"lead\", positive = {positive}, negative = 1 }}]\n{stack_keys}\n"
        ))
    }

    /// Bus voltage, and currents of the modules.
    fn at(&self, amps: f64) -> Option<(f64, Vec<f64>)> {
        let found = point(&self.scenario()?, amps, 25.0, None)?;
        Some((found.bus.voltage_v?, found.modules.iter().map(|m| m.current_a).collect()))
    }

    /// The greatest current at which nothing is over its limit.
    fn limit(&self) -> Option<f64> {
        let question = limit::Question { outages: 0, soc: None, air: 25.0, also_air: Vec::new(), most_sets: MOST_SETS };
        limit::solve(&self.scenario()?, &question, &Progress::none()).ok()?.limits.first()?.discharge.current_a
    }
}

fn shares(part: &mut Part) {
    for (positive, leads, first, volts) in [
        (1, "one end", [65.244, 51.768, 43.470, 39.518], 50.54756),
        (4, "opposite ends", [52.381, 47.619, 47.619, 52.381], 50.52619),
    ] {
        let found = Stack::of(4, 10.0, 0.5, positive).at(200.0);
        let what = format!("four modules of 10 mΩ, jumpers of 0.5 mΩ, 200 A, leads at {leads}");
        for (k, amps) in first.into_iter().enumerate() {
            let got = found.as_ref().map(|f| f.1[k]);
            part.check(format!("{what}: module {}", k + 1), LADDER, Answer(amps, 6e-4, "A"), got);
        }
        part.check(format!("{what}: bus"), LADDER, Answer(volts, 6e-6, "V"), found.map(|f| f.0));
    }
    for jumper in [1.0, 0.1] {
        part.check(
            format!("four batteries of 1 mΩ, links of {jumper} mΩ, 100 A, opposite ends: the first"),
            "by hand: I/4·(1 + 2j/r)/(1 + j/r)",
            Answer(25.0 * (1.0 + 2.0 * jumper) / (1.0 + jumper), 1e-9, "A"),
            Stack::of(4, 1.0, jumper, 4).at(100.0).map(|f| f.1[0]),
        );
    }
    let uneven = Stack { stack_keys: "open_circuit = [\"52.8 V\", \"52.2 V\"]", ..Stack::of(2, 15.0, 0.3, 1) };
    part.check(
        "two modules of 15 mΩ joined 0.6 V apart, jumpers of 0.3 mΩ: current of the lower",
        "by hand: ΔE/(2r + 2j)",
        Answer(-0.6 / 0.0306, 1e-6, "A"),
        uneven.at(0.0).map(|f| f.1[1]),
    );
}

fn limits(part: &mut Part) {
    const KEYS: &str = "open_circuit = \"52.8 V\"\ndischarge_limit = \"100 A\"\ncharge_limit = \"100 A\"";
    for (positive, jumper_keys, leads, amps) in [
        (1, "", "one end", 504.6),
        (8, "", "opposite ends", 706.6),
        (1, "rating = \"120 A\"", "one end, jumpers of 120 A", 149.7),
        (8, "rating = \"120 A\"", "opposite ends, jumpers of 120 A", 139.8),
    ] {
        let stack = Stack { keys: KEYS, jumper_keys, ..Stack::of(8, 15.0, 0.3, positive) };
        part.check(
            format!("eight modules of 15 mΩ and 100 A, jumpers of 0.3 mΩ, leads at {leads}: safe limit"),
            LADDER,
            Answer(amps, 0.05, "A"),
            stack.limit(),
        );
    }
}
