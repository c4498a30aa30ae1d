//! A plan as flat lists: of what each number of an elimination is the sum.
//!
//! In: a network. Out: a `Schedule`, whose lists are read from front to back, once a solution.
//!
//! Nodes are numbered as they are eliminated, the positive terminal and then the negative one last.
//! Slots are numbered as they are used up, so that those of a pivot stand side by side. Numbers are
//! gathered from what they are the sum of, so that each is written once.

use super::plan::Plan;
use super::{Branch, Network, Rail};

/// One branch.
#[derive(Clone, Copy, Debug)]
pub(super) struct Wire {
    pub from: u32,
    pub to: u32,
    /// How often the level of the positive rail it rises: 1, 0 or −1.
    pub rise: f64,
}

#[derive(Clone, Debug)]
pub(super) struct Schedule {
    pub wires: Vec<Wire>,
    /// Branches that have an electromotive force: the first so many.
    pub sources: usize,
    /// How many neighbours each node has when it is eliminated; the positive terminal one.
    pub degrees: Vec<u32>,
    /// Neighbours of the pivots before the positive terminal, one pivot after another.
    pub neighbours: Vec<u32>,
    pub slots: usize,
    /// What an elimination reads, from front to back. Pivot by pivot: for each of its slots the branch in it (or no
    /// branch's number), how many lie beside that and how many joins it has, then those, a join being the slot whose
    /// conductance and the slot whose share multiply to it; and how many branches inject into the node, how many out of
    /// it, by their places in `injecting`, and how many shares it receives, then those, each as in `receipts`.
    pub program: Vec<u32>,
    /// How many shares each node receives of earlier ones.
    pub received: Vec<u32>,
    /// Slot of the share, and the earlier node that shares, node by node.
    pub receipts: Vec<(u32, u32)>,
    /// Branches that inject: sources, then conductors between the rails.
    pub injecting: Vec<u32>,
    /// How many branches arrive at each node, and how many leave it.
    pub meeting: Vec<(u32, u32)>,
    /// Those branches, node by node.
    pub incidence: Vec<u32>,
    /// How often the level the positive terminal lies above the negative one.
    pub terminal_rise: f64,
}

impl Schedule {
    pub fn new(network: &Network, sources: usize) -> Schedule {
        let plan = Plan::new(network);
        let number = Numbers::new(network, &plan);
        let branches = network.branches();
        let sources = sources.min(branches.len());
        let wire = |b: &Branch| Wire {
            from: number.node[b.from],
            to: number.node[b.to],
            rise: height(network, b.to) - height(network, b.from),
        };
        let wires: Vec<Wire> = branches.iter().map(wire).collect();
        let eliminated = &plan.pivots[..plan.pivots.len() - 1];
        let neighbours = eliminated.iter().flat_map(|p| &p.neighbours);
        let mut schedule = Schedule {
            injecting: (0..wires.len()).filter(|&k| k < sources || wires[k].rise != 0.0).map(|k| k as u32).collect(),
            wires,
            sources,
            degrees: plan.pivots.iter().map(|p| p.neighbours.len() as u32).collect(),
            neighbours: neighbours.map(|n| number.node[n.0]).collect(),
            slots: plan.slot_count,
            program: Vec::new(),
            received: Vec::new(),
            receipts: Vec::new(),
            meeting: Vec::new(),
            incidence: Vec::new(),
            terminal_rise: height(network, network.positive()) - height(network, network.negative()),
        };
        schedule.write_program(&plan, &number);
        schedule.meet();
        schedule
    }

    fn write_program(&mut self, plan: &Plan, number: &Numbers) {
        let (slots, nodes) = (slot_words(plan, number), self.node_words(plan, number));
        let mut used = 0;
        // Nothing is asked of the negative terminal.
        for (&degree, node) in self.degrees.iter().zip(nodes) {
            self.program.extend(slots[used..used + degree as usize].iter().flatten());
            self.program.extend(node);
            used += degree as usize;
        }
    }

    /// What the injected current of each node is the sum of, encoded as in `program`; it also lists the shares received.
    fn node_words(&mut self, plan: &Plan, number: &Numbers) -> Vec<Vec<u32>> {
        let mut injections = vec![(Vec::new(), Vec::new()); number.node.len()];
        for (k, &branch) in self.injecting.iter().enumerate() {
            let wire = self.wires[branch as usize];
            injections[wire.to as usize].0.push(k as u32);
            injections[wire.from as usize].1.push(k as u32);
        }
        let mut receipts = vec![Vec::new(); number.node.len()];
        for (k, pivot) in plan.pivots.iter().enumerate() {
            for &(node, slot) in &pivot.neighbours {
                receipts[number.node[node] as usize].push((number.slot[slot], k as u32));
            }
        }
        let mut words = Vec::new();
        for ((arriving, leaving), receipts) in injections.into_iter().zip(receipts).take(plan.pivots.len()) {
            let counts = [arriving.len(), leaving.len(), receipts.len()].map(|count| count as u32);
            let received = receipts.iter().flat_map(|&(share, earlier)| [share, earlier]);
            words.push(counts.into_iter().chain(arriving).chain(leaving).chain(received).collect());
            self.received.push(receipts.len() as u32);
            self.receipts.extend(receipts);
        }
        words
    }

    fn meet(&mut self) {
        let mut meeting = vec![(Vec::new(), Vec::new()); self.degrees.len() + 1];
        for (k, wire) in self.wires.iter().enumerate() {
            meeting[wire.to as usize].0.push(k as u32);
            meeting[wire.from as usize].1.push(k as u32);
        }
        self.meeting = meeting.iter().map(|(arrive, leave)| (arrive.len() as u32, leave.len() as u32)).collect();
        self.incidence = meeting.into_iter().flat_map(|(arrive, leave)| [arrive, leave].concat()).collect();
    }

    pub fn positive(&self) -> usize {
        self.degrees.len() - 1
    }

    pub fn negative(&self) -> usize {
        self.degrees.len()
    }
}

/// The numbers of nodes and slots here, by their numbers in the network and in the plan.
struct Numbers {
    node: Vec<u32>,
    slot: Vec<u32>,
}

impl Numbers {
    fn new(network: &Network, plan: &Plan) -> Numbers {
        let (mut node, mut slot) = (vec![0; network.rails().len()], vec![0; plan.slot_count]);
        let order = plan.pivots.iter().map(|p| p.node).chain([network.negative()]);
        order.enumerate().for_each(|(k, n)| node[n] = k as u32);
        // Every slot is between a pivot and one of its neighbours, once.
        let used_up = plan.pivots.iter().flat_map(|p| &p.neighbours);
        used_up.enumerate().for_each(|(k, neighbour)| slot[neighbour.1] = k as u32);
        Numbers { node, slot }
    }
}

/// What the conductance of each slot is the sum of, encoded as in `Schedule::program`.
fn slot_words(plan: &Plan, number: &Numbers) -> Vec<Vec<u32>> {
    let mut branches = vec![Vec::new(); plan.slot_count];
    for (k, &slot) in plan.branch_slots.iter().enumerate() {
        branches[number.slot[slot] as usize].push(k as u32);
    }
    let mut joins = vec![Vec::new(); plan.slot_count];
    for pivot in &plan.pivots {
        let at = |i: usize| number.slot[pivot.neighbours[i].1];
        for &(i, j, slot) in &pivot.joins {
            joins[number.slot[slot] as usize].push([at(i), at(j)]);
        }
    }
    let words = |(branches, joins): (Vec<u32>, Vec<[u32; 2]>)| {
        let branch = branches.first().copied().unwrap_or(u32::MAX);
        let parallel = branches.get(1..).unwrap_or_default();
        let head = [branch, parallel.len() as u32, joins.len() as u32];
        head.into_iter().chain(parallel.iter().copied()).chain(joins.into_iter().flatten()).collect()
    };
    branches.into_iter().zip(joins).map(words).collect()
}

/// How often the level of the positive rail a node's potential is counted from.
fn height(network: &Network, node: usize) -> f64 {
    match network.rails()[node] {
        Rail::Negative => 0.0,
        Rail::Positive => 1.0,
    }
}
