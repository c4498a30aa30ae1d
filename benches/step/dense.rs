//! The yardstick: a dense matrix by LU, and Newton for the power.

use bankwright::network::{Element, Network};
use nalgebra::{DMatrix, DVector};

/// Where Newton begins [V].
const START: f64 = 52.8;

/// Where Newton ends: a change of the terminals' voltage below this [V].
const CLOSE_ENOUGH: f64 = 1e-9;

/// Voltage at the terminals of one trial, for a power [W].
///
/// Nodal equations with the negative terminal at zero; the load's P/V by Newton in the whole system, a
/// factorisation an iteration, from 52.8 V until the voltage moves by less than 1 nV: four iterations
/// here. The matrix is allocated once a solution, filled anew, and copied for each iteration, as a
/// program does that calls a library for it; nothing is kept from one solution to the next.
pub fn solve(network: &Network, elements: &[Element], watts: f64) -> f64 {
    let (positive, negative) = (network.positive(), network.negative());
    let nodes = network.rails().len();
    let row = |node: usize| if node < negative { node } else { node - 1 };
    let mut conductance = DMatrix::<f64>::zeros(nodes - 1, nodes - 1);
    let mut injected = DVector::<f64>::zeros(nodes - 1);
    for (branch, element) in network.branches().iter().zip(elements) {
        let g = 1.0 / element.resistance;
        for (here, there, sign) in [(branch.from, branch.to, -1.0), (branch.to, branch.from, 1.0)] {
            if here == negative {
                continue;
            }
            conductance[(row(here), row(here))] += g;
            injected[row(here)] += sign * g * element.emf;
            if there != negative {
                conductance[(row(here), row(there))] -= g;
            }
        }
    }
    let bus = row(positive);
    let mut voltage = START;
    for _ in 0..50 {
        // I(V) = P/V ≈ P/V₀ − P/V₀²·(V − V₀)
        let mut jacobian = conductance.clone();
        let mut right = injected.clone();
        jacobian[(bus, bus)] -= watts / (voltage * voltage);
        right[bus] -= 2.0 * watts / voltage;
        let next = jacobian.lu().solve(&right).expect("a solution")[bus];
        let change = (next - voltage).abs();
        voltage = next;
        if change < CLOSE_ENOUGH {
            break;
        }
    }
    voltage
}
