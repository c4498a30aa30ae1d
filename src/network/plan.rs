//! The order of elimination, once per topology.
//!
//! In: a network. Out: a list of pivots, each with its neighbours and the pairs of neighbours that
//! its elimination joins. Least degree first; the positive terminal is last and the negative one is
//! the reference, so that what remains between them is the Thevenin pair.

use super::Network;
use std::collections::BTreeMap;

/// One node to eliminate.
#[derive(Clone, Debug)]
pub struct Pivot {
    pub node: usize,
    /// (neighbour, slot of the conductance to it).
    pub neighbours: Vec<(usize, usize)>,
    /// (index of one neighbour, index of another, slot of the conductance between them).
    pub joins: Vec<(usize, usize, usize)>,
}

/// The elimination of a network, branch by branch and pivot by pivot.
#[derive(Clone, Debug)]
pub struct Plan {
    /// Slot of the conductance that each branch adds to.
    pub branch_slots: Vec<usize>,
    /// All nodes but the reference, the positive terminal last.
    pub pivots: Vec<Pivot>,
    pub slot_count: usize,
}

/// Slots by pair of nodes (lesser, greater).
type Slots = BTreeMap<(usize, usize), usize>;

fn slot(slots: &mut Slots, a: usize, b: usize) -> usize {
    let next = slots.len();
    *slots.entry((a.min(b), a.max(b))).or_insert(next)
}

impl Plan {
    pub fn new(network: &Network) -> Plan {
        let mut slots = Slots::new();
        let branch_slots = network.branches().iter().map(|b| slot(&mut slots, b.from, b.to)).collect();
        // Between the terminals, once all else is eliminated.
        slot(&mut slots, network.positive(), network.negative());
        let mut adjacent = adjacency(network);
        let mut waiting: Vec<usize> =
            (0..network.rails().len()).filter(|&n| n != network.positive() && n != network.negative()).collect();
        let mut pivots = Vec::with_capacity(waiting.len() + 1);
        while let Some(at) = least_degree(&waiting, &adjacent) {
            let node = waiting.swap_remove(at);
            pivots.push(eliminate(node, &mut adjacent, &mut slots));
        }
        pivots.push(eliminate(network.positive(), &mut adjacent, &mut slots));
        Plan { branch_slots, pivots, slot_count: slots.len() }
    }
}

fn adjacency(network: &Network) -> Vec<Vec<usize>> {
    let mut adjacent = vec![Vec::new(); network.rails().len()];
    let terminals = (network.positive(), network.negative());
    let ends = network.branches().iter().map(|b| (b.from, b.to)).chain([terminals]);
    for (a, b) in ends {
        if !adjacent[a].contains(&b) {
            adjacent[a].push(b);
            adjacent[b].push(a);
        }
    }
    adjacent
}

/// Position in `waiting` of the node with the fewest neighbours, the lowest number among equals.
fn least_degree(waiting: &[usize], adjacent: &[Vec<usize>]) -> Option<usize> {
    (0..waiting.len()).min_by_key(|&k| (adjacent[waiting[k]].len(), waiting[k]))
}

fn eliminate(node: usize, adjacent: &mut [Vec<usize>], slots: &mut Slots) -> Pivot {
    let nodes = std::mem::take(&mut adjacent[node]);
    for &n in &nodes {
        adjacent[n].retain(|&m| m != node);
    }
    let mut joins = Vec::new();
    for (i, &a) in nodes.iter().enumerate() {
        for (j, &b) in nodes.iter().enumerate().skip(i + 1) {
            if !adjacent[a].contains(&b) {
                adjacent[a].push(b);
                adjacent[b].push(a);
            }
            joins.push((i, j, slot(slots, a, b)));
        }
    }
    let neighbours = nodes.iter().map(|&n| (n, slot(slots, node, n))).collect();
    Pivot { node, neighbours, joins }
}
