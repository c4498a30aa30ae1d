//! The network against circuits with an answer, closed forms, and an independent dense solution; more circuits and the
//! worked examples of stacks in `study/verify/networks.rs`.

mod dense;

use bankwright::network::response::Response;
use bankwright::network::solve::Solver;
use bankwright::network::{Branch, Demand, Element, Law, Network, Outcome, Rail, Terminals};

/// Every circuit here has node 0 as the negative terminal.
fn solver(nodes: usize, positive: usize, branches: &[(usize, usize)]) -> Solver {
    let rails = (0..nodes).map(|n| if n == 0 { Rail::Negative } else { Rail::Positive });
    let branches = branches.iter().map(|&(from, to)| Branch { from, to }).collect();
    Solver::new(Network::new(rails.collect(), branches, positive, 0).unwrap())
}

fn carried(outcome: Outcome) -> Terminals {
    match outcome {
        Outcome::Carried(terminals) => terminals,
        Outcome::NotCarried { .. } => panic!("not carried"),
    }
}

fn solve(s: &mut Solver, elements: &[Element], demand: Demand) -> Terminals {
    let t = carried(s.solve(elements, demand).unwrap());
    assert!(s.kirchhoff() < 1e-9, "Kirchhoff's law is off by {} A", s.kirchhoff());
    t
}

#[track_caller]
fn close(got: f64, wanted: f64) {
    let error = (got - wanted).abs();
    assert!(error <= 1e-9 * wanted.abs().max(1e-3), "{got} is not {wanted}");
}

fn source(emf: f64, ohm: f64) -> Element {
    Element::source(emf, ohm)
}

// ---- circuits with an answer: each to 1e-9 of the exact fraction ----

/// By hand: 60 V/0.5 Ω and 30 V/0.6 Ω on 10 Ω; the second is charged. V = (120 + 50)/(2 + 5/3 + 1/10) = 5100/113.
#[test]
fn a_source_that_is_charged() {
    let mut s = solver(2, 1, &[(0, 1), (0, 1), (1, 0)]);
    let t = solve(&mut s, &[source(60.0, 0.5), source(30.0, 0.6), Element::conductor(10.0)], Demand::NONE);
    close(t.voltage, 5100.0 / 113.0);
    close(s.currents()[0], 3360.0 / 113.0);
    close(s.currents()[1], (30.0 - 5100.0 / 113.0) / 0.6);
    assert!((t.voltage - 45.133).abs() < 5e-4 && (s.currents()[1] + 25.221).abs() < 5e-4);
}

/// By hand: 20 V/40 Ω ∥ 30 V/60 Ω, open: (20/40 + 30/60)/(1/40 + 1/60) = 24 V behind 24 Ω, 10 V/100 Ω = 0.1 A circulating.
#[test]
fn circulating_current_at_open_circuit() {
    let mut s = solver(2, 1, &[(0, 1), (0, 1)]);
    let elements = [source(20.0, 40.0), source(30.0, 60.0)];
    let open = solve(&mut s, &elements, Demand::NONE);
    close(open.voltage, 24.0);
    close(s.currents()[0], -0.1);
    close(s.currents()[1], 0.1);
    let loaded = solve(&mut s, &elements, Demand::Current(0.5));
    close(loaded.voltage, 12.0);
}

/// n sections of 1 Ω series and 1 Ω shunt: input resistances 2, 5/3, 13/8, 34/21 (by hand: the next is
/// 1 + R/(1 + R)).
#[test]
fn golden_ladder() {
    for (sections, wanted) in [(1, 2.0), (2, 5.0 / 3.0), (3, 13.0 / 8.0), (4, 34.0 / 21.0)] {
        let mut branches = vec![(0, 1)];
        let mut elements = vec![source(1.0, 1e-3)];
        for k in 0..sections {
            branches.extend([(k + 1, k + 2), (k + 2, 0)]);
            elements.extend([Element::conductor(1.0); 2]);
        }
        let mut s = solver(sections + 2, 1, &branches);
        solve(&mut s, &elements, Demand::NONE);
        close(1.0 / s.currents()[0] - 1e-3, wanted);
    }
}

// ---- stacks of equal modules against the closed forms ----

/// A stack as nodes 0/1 (bus −/+), then a pair a module; leads of a nanoohm.
fn stack(count: usize, leads: &[(usize, usize)]) -> Solver {
    let rail = |n: usize| {
        if n.is_multiple_of(2) { Rail::Negative } else { Rail::Positive }
    };
    let rails = (0..2 * count + 2).map(rail).collect();
    let mut branches: Vec<(usize, usize)> = (1..=count).map(|k| (2 * k, 2 * k + 1)).collect();
    branches.extend((1..count).flat_map(|k| [(2 * k, 2 * k + 2), (2 * k + 1, 2 * k + 3)]));
    branches.extend(leads.iter().flat_map(|&(p, n)| [(2 * p + 1, 1), (0, 2 * n)]));
    let branches = branches.into_iter().map(|(from, to)| Branch { from, to }).collect();
    Solver::new(Network::new(rails, branches, 1, 0).unwrap())
}

fn stack_elements(s: &Solver, count: usize, emf: f64, r: f64, j: f64) -> Vec<Element> {
    let conductors = s.network().branches().len() - count;
    let mut elements = vec![source(emf, r); count];
    elements.extend(vec![Element::conductor(j); 2 * (count - 1)]);
    elements.extend(vec![Element::conductor(1e-9); conductors - 2 * (count - 1)]);
    elements
}

/// Shares of current in a stack of equal modules, nodal solution and closed form, N 2–8 and four
/// ratios; "diagonal" is positive at one end and negative at the other, "middle" both leads at one
/// module. By hand, both columns worked out outside the program: the shares of `closed_forms_of_the_stack`, and the
/// nodal equations.
#[test]
fn every_share_of_the_table() {
    let mut rows = 0;
    for row in csv::Reader::from_path("tests/data/ladder_shares.csv").unwrap().records() {
        let row = row.unwrap();
        let number = |k: usize| row[k].parse::<f64>().unwrap();
        let (count, ratio, k) = (number(1) as usize, number(2), number(3) as usize);
        let j = 0.010 / ratio;
        let (leads, ohms) = match &row[0] {
            "same_end" => (vec![(1, 1)], vec![1e-9; 2]),
            "diagonal" => (vec![(count, 1)], vec![1e-9; 2]),
            "two_pairs_equal_leads" => (vec![(1, 1), (count, count)], vec![5.0 * j; 4]),
            "two_pairs_leads_5j_10j" => (vec![(1, 1), (count, count)], vec![5.0 * j, 5.0 * j, 10.0 * j, 10.0 * j]),
            middle => {
                let at = middle.strip_prefix("middle_m").unwrap().parse().unwrap();
                (vec![(at, at)], vec![1e-9; 2])
            }
        };
        let mut s = stack(count, &leads);
        let mut elements = stack_elements(&s, count, 51.2, 0.010, j);
        let first = elements.len() - ohms.len();
        (0..ohms.len()).for_each(|k| elements[first + k].resistance = ohms[k]);
        solve(&mut s, &elements, Demand::Current(100.0));
        for column in [4, 5] {
            let got = s.currents()[k - 1] / 100.0;
            assert!((got - number(column)).abs() < 1e-10, "{row:?}: {got}");
        }
        rows += 1;
    }
    assert_eq!(rows, 700);
}

/// By hand: the differences of neighbours' currents obey s_(k−1) − 2·s_k + s_(k+1) = 2·(j/r)·s_k, so shares go as
/// cosh and sinh of γ with cosh γ = 1 + j/r; stack resistance r·s₁, greatest jumper current I·(1 − s₁).
#[test]
fn closed_forms_of_the_stack() {
    for n in 2..=8usize {
        for (r, j) in [(0.010, 0.5e-3), (0.015, 0.3e-3), (0.001, 0.001), (0.014, 0.2e-3)] {
            let (nf, g) = (n as f64, (1.0_f64 + j / r).acosh());
            let one_end = |k: usize| 2.0 * (g / 2.0).sinh() * ((nf - k as f64 + 0.5) * g).cosh() / (nf * g).sinh();
            let opposite =
                |k: usize| (g / 2.0).sinh() * ((k as f64 - (nf + 1.0) / 2.0) * g).cosh() / (nf * g / 2.0).sinh();
            let (amps, emf) = (200.0, 51.2);
            let drop = 2e-9 * amps;

            let mut s = stack(n, &[(1, 1)]);
            let elements = stack_elements(&s, n, emf, r, j);
            let t = solve(&mut s, &elements, Demand::Current(amps));
            (1..=n).for_each(|k| close(s.currents()[k - 1], amps * one_end(k)));
            close(t.voltage + drop, emf - r * one_end(1) * amps);
            close(s.currents()[n].abs(), amps * (1.0 - one_end(1)));

            let mut s = stack(n, &[(n, 1)]);
            let t = solve(&mut s, &elements, Demand::Current(amps));
            (1..=n).for_each(|k| close(s.currents()[k - 1], amps * opposite(k)));
            close(t.voltage + drop, emf - (r * opposite(1) + j * (nf - 1.0) / 2.0) * amps);
            let greatest = s.currents()[n..3 * n - 2].iter().fold(0.0, |m: f64, i| m.max(i.abs()));
            close(greatest, amps * (1.0 - opposite(1)));
        }
    }
}

/// Open-circuit voltage of a stack with unequal EMFs is Σ s_k·E_k (by hand: superposition, and
/// reciprocity of the shares).
#[test]
fn unequal_emfs_at_open_circuit() {
    let (n, r, j) = (4, 0.010, 0.5e-3);
    let mut s = stack(n, &[(1, 1)]);
    let mut elements = stack_elements(&s, n, 51.2, r, j);
    solve(&mut s, &elements, Demand::Current(1.0));
    let shares: Vec<f64> = s.currents()[..n].to_vec();
    let emfs = [51.2, 50.9, 51.5, 52.0];
    (0..n).for_each(|k| elements[k].emf = emfs[k]);
    let t = solve(&mut s, &elements, Demand::NONE);
    close(t.voltage, shares.iter().zip(emfs).map(|(s, e)| s * e).sum());
}

/// r/j = 50, N 8: greatest share by the mean, N·s₁ of `closed_forms_of_the_stack`: one end 1.585399, opposite ends
/// 1.132117 (by hand).
#[test]
fn eight_modules_max_over_mean() {
    for (leads, wanted) in [([(1, 1)], 1.585399), ([(8, 1)], 1.132117)] {
        let mut s = stack(8, &leads);
        let elements = stack_elements(&s, 8, 51.2, 0.015, 0.3e-3);
        solve(&mut s, &elements, Demand::Current(800.0));
        let most = s.currents()[..8].iter().fold(0.0, |m: f64, &i| m.max(i));
        assert!((most / 100.0 - wanted).abs() < 1e-6, "{most}");
    }
}

/// Rejoining, N equal modules on an ideal bus, one lower by ΔE: ΔE/(r(1 + 1/(N−1))) (by hand).
#[test]
fn current_into_a_module_that_rejoins() {
    for n in 2..6usize {
        let mut s = solver(2, 1, &vec![(0, 1); n]);
        let mut elements = vec![source(52.0, 0.012); n];
        elements[n - 1].emf -= 0.6;
        solve(&mut s, &elements, Demand::NONE);
        close(-s.currents()[n - 1], 0.6 / (0.012 * (1.0 + 1.0 / (n as f64 - 1.0))));
    }
}

// ---- blocked, open, islands, loads that cannot be carried ----

#[test]
fn a_blocked_direction_carries_nothing_and_drops_a_stated_voltage() {
    let mut s = solver(2, 1, &[(0, 1), (0, 1)]);
    let forward = Element { law: Law::ForwardOnly { drop: 0.7 }, ..source(51.0, 0.01) };
    let elements = [source(52.0, 0.01), forward];
    let t = solve(&mut s, &elements, Demand::NONE);
    close(t.voltage, 52.0);
    assert_eq!(s.currents()[1], 0.0, "charge is blocked");
    // Both conduct: 200 A = (52 − V)/0.01 + (50.3 − V)/0.01.
    let t = solve(&mut s, &elements, Demand::Current(200.0));
    close(t.voltage, 50.15);
    close(s.currents()[1], 15.0);
}

#[test]
fn all_out_is_an_outcome() {
    let mut s = solver(2, 1, &[(0, 1), (0, 1)]);
    let out = Element { law: Law::Open, ..source(52.0, 0.01) };
    let dead = Outcome::NotCarried { open_circuit: None };
    assert_eq!(s.solve(&[out, out], Demand::Power(10.0)).unwrap(), dead);
    assert_eq!(s.solve(&[out, out], Demand::Current(10.0)).unwrap(), dead);
    assert!(s.currents().iter().all(|&i| i == 0.0));
}

#[test]
fn charge_with_all_blocked_is_not_carried_and_discharge_is() {
    let mut s = solver(2, 1, &[(0, 1), (0, 1)]);
    let forward = Element { law: Law::ForwardOnly { drop: 0.0 }, ..source(52.0, 0.01) };
    let charge = s.solve(&[forward, forward], Demand::Power(-500.0)).unwrap();
    assert_eq!(charge, Outcome::NotCarried { open_circuit: Some(52.0) });
    let t = solve(&mut s, &[forward, forward], Demand::Current(100.0));
    close(t.voltage, 51.5);
}

#[test]
fn the_greatest_power_is_a_quarter_of_e_squared_over_r() {
    let mut s = solver(2, 1, &[(0, 1)]);
    let elements = [source(52.0, 0.5)];
    let most = 52.0 * 52.0 / 4.0 / 0.5;
    let t = solve(&mut s, &elements, Demand::Power(most * (1.0 - 1e-9)));
    assert!(t.voltage > 26.0, "the root of higher voltage");
    let beyond = s.solve(&elements, Demand::Power(most * 1.001)).unwrap();
    assert_eq!(beyond, Outcome::NotCarried { open_circuit: Some(52.0) });
}

/// A weak module that may discharge and a strong one that may not be charged: the first root lies
/// on the first line or a later one, whichever the power asks for.
#[test]
fn the_first_root_is_found_across_a_change() {
    let mut s = solver(2, 1, &[(0, 1), (0, 1)]);
    let late = Element { law: Law::ForwardOnly { drop: 0.0 }, ..source(20.0, 0.01) };
    let elements = [source(50.0, 1.0), late];
    // On the first line V·I peaks at 625 W at 25 V, before the second conducts at 20 V.
    let t = solve(&mut s, &elements, Demand::Power(600.0));
    close(t.voltage, 30.0);
    assert_eq!(s.currents()[1], 0.0);
    let t = solve(&mut s, &elements, Demand::Power(1000.0));
    close(t.voltage * t.current, 1000.0);
    assert!(s.currents()[1] > 0.0 && t.voltage < 20.0 && t.voltage > 19.0);
}

/// Jumpers of ten picoohms beside modules of ten milliohms: Kirchhoff's law still holds to 1e-9 A.
#[test]
fn very_small_resistances_keep_their_accuracy() {
    let mut s = stack(4, &[(1, 1)]);
    let elements = stack_elements(&s, 4, 51.2, 0.010, 1e-11);
    solve(&mut s, &elements, Demand::Current(200.0));
    s.currents()[..4].iter().for_each(|&i| assert!((i - 50.0).abs() < 1e-6, "{i}"));
    assert!((s.currents()[4].abs() - 150.0).abs() < 1e-6);
}

// ---- the independent dense solution ----

#[test]
fn two_thousand_random_networks_agree_with_a_dense_solution() {
    let (mut solved, mut refused, mut bent) = (0, 0, 0);
    for seed in 0..2000 {
        let case = dense::random_case(seed);
        let mut s = Solver::new(case.network.clone());
        let got = s.solve(&case.elements, case.demand);
        let got = got.unwrap_or_else(|e| panic!("case {seed}: {e}: {case:?}"));
        bent += case.bent();
        match (dense::solve(&case), got) {
            (Some(wanted), Outcome::Carried(t)) => {
                solved += 1;
                // Where nothing flows the terminals may float, and no voltage is the right one.
                let flows = wanted.currents.iter().any(|i| i.abs() > 1e-6);
                let off = (t.voltage - wanted.voltage).abs();
                assert!(!flows || off < 1e-7, "case {seed}: {t:?} {wanted:?}");
                for (k, (a, b)) in s.currents().iter().zip(&wanted.currents).enumerate() {
                    let off = (a - b).abs();
                    assert!(off < 1e-6 * (1.0 + b.abs()), "case {seed}, branch {k}: {a} {b}");
                }
                assert!(s.kirchhoff() < 1e-9, "case {seed}");
            }
            (None, Outcome::NotCarried { .. }) => refused += 1,
            (wanted, got) => panic!("case {seed}: {got:?}, dense {wanted:?}, {case:?}"),
        }
    }
    assert!(solved > 1500 && refused > 20 && bent > 1000, "{solved} {refused} {bent}");
}

/// One elimination for every load against the dense solution of each.
#[test]
fn the_response_to_any_load_agrees_with_a_dense_solution() {
    let (mut carried, mut refused, mut dead) = (0, 0, 0);
    for seed in 0..2000 {
        let mut case = dense::random_case(seed);
        let whole = case.demand;
        let mut s = Solver::new(case.network.clone());
        let affine = match Response::of(&mut s, &case.elements).unwrap() {
            Response::Affine(affine) => affine,
            Response::Dead => {
                dead += 1;
                continue;
            }
            Response::Bent => continue,
        };
        let mut currents = vec![0.0; case.elements.len()];
        for share in [0.0, 0.3, 1.0, -0.7] {
            let demand = match whole {
                Demand::Current(amps) => Demand::Current(share * amps),
                Demand::Power(watts) => Demand::Power(share * watts),
            };
            case.demand = demand;
            match (dense::solve(&case), affine.bank_current(demand)) {
                (Some(wanted), Some(bank)) => {
                    carried += 1;
                    affine.currents(bank, &mut currents);
                    for (k, (a, b)) in currents.iter().zip(&wanted.currents).enumerate() {
                        assert!((a - b).abs() < 1e-6 * (1.0 + b.abs()), "case {seed}, branch {k}: {a} {b}");
                    }
                }
                (None, None) => refused += 1,
                (wanted, got) => panic!("case {seed}: {got:?}, dense {wanted:?}, {case:?}"),
            }
        }
    }
    assert!(carried > 500 && refused > 5, "{carried} {refused} {dead}");
}
