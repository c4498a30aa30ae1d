//! The resistances and voltages of a bank that agree best with what was measured and what was expected.
//!
//! In: a network, what was measured at it and how exactly, what was expected and how surely. Out: the most probable
//! values, their covariance, and how probable the readings are.
//!
//! The unknowns x are the logarithm of each resistance and the electromotive force of each module, which all cases
//! share, and the current of each case; each is expected at x₀ with a standard deviation s. Readings y have errors σ, the
//! network gives f(x). The most probable x has the least Σ((f(x) − y)/σ)² + Σ((x − x₀)/s)², found by the method of
//! Levenberg (1944) and Marquardt (1963); its covariance is A⁻¹ with A = JᵀJ + S⁻², J the derivative of f/σ there. The
//! probability of the readings is that of a normal distribution of this height and width (Laplace's method; A. Gelman et
//! al., Bayesian Data Analysis, 3rd ed., 4.1, from memory).
//!
//! The current of a case influences only the readings of that case. So A has the shape of an arrow: a block for the shared
//! unknowns, and for each case one column and one number on the diagonal (`Normal`). The cases are eliminated one by one
//! (Schur complement). The system that remains is as large as the bank, whatever the number of cases.

use super::circuit::{Acting, Circuit, What};
use super::error::ReadingsError;
use crate::math;
use crate::network::solve::Solver;
use crate::progress::Progress;
use nalgebra::{Cholesky, DMatrix, DVector, Dyn};
use std::ops::Range;

/// One reading of a meter.
#[derive(Clone, Copy, Debug)]
pub struct Reading {
    pub case: usize,
    pub what: What,
    pub value: f64,
    /// Standard deviation of its error, in the unit of `value`; infinite: the reading is left out.
    pub deviation: f64,
}

/// A bank, its readings and the expected values of the unknowns: all that a fit needs but the spread.
pub struct Bench {
    pub solver: Solver,
    /// Resistance of each module's own device [Ω].
    pub devices: Vec<f64>,
    pub readings: Vec<Reading>,
    /// x₀.
    pub expected: Point,
    /// The different quantities that were read; for each reading the number of its quantity; the readings of each case.
    whats: Vec<What>,
    number: Vec<usize>,
    by_case: Vec<Vec<usize>>,
}

/// A value for each unknown.
#[derive(Clone, Debug, PartialEq)]
pub struct Point {
    /// Logarithms of all resistances [ln Ω], then the voltages at rest [V].
    pub shared: DVector<f64>,
    /// Current of the bank in each case [A].
    pub currents: DVector<f64>,
}

/// Standard deviation of each unknown before anything is measured, in the order of `Point`.
#[derive(Clone, Debug)]
pub struct Spread {
    pub shared: DVector<f64>,
    /// Standard deviation of the current in each case [A].
    pub current: f64,
}

/// The most probable values of the unknowns, and how well they explain the readings.
#[derive(Clone, Debug)]
pub struct Fit {
    pub x: Point,
    /// Σ((f(x) − y)/σ)² + Σ((x − x₀)/s)².
    pub cost: f64,
    /// Logarithm of the probability of the readings, less a constant that all fits of a bench share.
    pub evidence: f64,
    /// (f(x) − y)/σ.
    pub misfit: DVector<f64>,
    pub spread: Spread,
    normal: Normal,
    factor: Cholesky<f64, Dyn>,
}

impl Fit {
    /// Covariance of the shared unknowns.
    pub fn covariance(&self) -> DMatrix<f64> {
        self.factor.inverse()
    }
}

/// A reading compared with all others.
#[derive(Clone, Copy, Debug)]
pub struct Checked {
    /// Share of its error that shows in its residual: 0 where only this reading tells of its quantity, 1 where the fit would
    /// be the same without it.
    pub redundancy: f64,
    /// Difference from what the other readings say that it should be, in standard deviations; `None` where they say nothing.
    pub off: Option<f64>,
}

/// A reading with less redundancy than this cannot be checked.
const LEAST_REDUNDANCY: f64 = 1e-6;
const MOST_STEPS: usize = 60;
const FIRST_DAMPING: f64 = 1e-4;

/// The parts of the matrix A, and the gradient of half the cost.
#[derive(Clone, Debug)]
struct Normal {
    shared: DMatrix<f64>,
    /// One column for each case.
    links: DMatrix<f64>,
    cases: DVector<f64>,
    gradient: DVector<f64>,
    gradient_of_cases: DVector<f64>,
}

impl Normal {
    /// The block of the shared unknowns once the cases are eliminated (Schur complement), with `damping` added to A's
    /// diagonal in proportion.
    fn complement(&self, damping: f64) -> DMatrix<f64> {
        let more = 1.0 + damping;
        let weights = self.cases.map(|d| 1.0 / (d * more));
        let mut left = &self.shared - squares(&self.links, weights.as_slice());
        (0..left.nrows()).for_each(|k| left[(k, k)] += damping * self.shared[(k, k)]);
        left
    }

    /// The step to where the gradient would vanish; `None` where the damped matrix is not positive definite.
    fn step(&self, damping: f64) -> Option<Point> {
        let cases = self.cases.map(|d| d * (1.0 + damping));
        let right = &self.links * self.gradient_of_cases.component_div(&cases) - &self.gradient;
        let shared = self.complement(damping).cholesky()?.solve(&right);
        let currents = -(&self.gradient_of_cases + self.links.tr_mul(&shared)).component_div(&cases);
        Some(Point { shared, currents })
    }
}

impl Bench {
    pub fn new(solver: Solver, devices: Vec<f64>, readings: Vec<Reading>, expected: Point) -> Bench {
        let branches = expected.shared.len() - devices.len();
        let place = |what: What| match what {
            What::Current(k) => k,
            What::Drop(k) => branches + k,
            What::BusCurrent => 2 * branches,
            What::BusVoltage => 2 * branches + 1,
        };
        let (mut whats, mut known) = (Vec::new(), vec![None; 2 * branches + 2]);
        let mut by_case = vec![Vec::new(); expected.currents.len()];
        let mut number = Vec::with_capacity(readings.len());
        for (k, reading) in readings.iter().enumerate() {
            by_case[reading.case].push(k);
            number.push(*known[place(reading.what)].get_or_insert_with(|| {
                whats.push(reading.what);
                whats.len() - 1
            }));
        }
        Bench { solver, devices, readings, expected, whats, number, by_case }
    }

    pub fn branches(&self) -> usize {
        self.expected.shared.len() - self.devices.len()
    }

    pub fn circuit(&mut self, x: &Point) -> Option<Circuit> {
        Circuit::of(&mut self.solver, &self.devices, &x.shared)
    }

    /// (f(x) − y)/σ.
    fn misfit(&self, circuit: &Circuit, x: &Point) -> DVector<f64> {
        let of = |r: &Reading| (circuit.read(r.what, x.currents[r.case]) - r.value) / r.deviation;
        DVector::from_iterator(self.readings.len(), self.readings.iter().map(of))
    }

    fn cost(&self, misfit: &DVector<f64>, x: &Point, spread: &Spread) -> f64 {
        let shared = (&x.shared - &self.expected.shared).component_div(&spread.shared);
        let currents = (&x.currents - &self.expected.currents) / spread.current;
        misfit.norm_squared() + shared.norm_squared() + currents.norm_squared()
    }

    /// The most probable values where the unknowns have these standard deviations; the search begins at `start`.
    ///
    /// # Errors
    /// `Unexplained` where nothing is found, or an interruption.
    pub fn fit(&mut self, start: &Point, spread: &Spread, progress: &Progress) -> Result<Fit, ReadingsError> {
        let mut x = start.clone();
        let mut circuit = self.circuit(&x).ok_or(ReadingsError::Unexplained)?;
        let mut misfit = self.misfit(&circuit, &x);
        let (mut here, mut damping) = (self.cost(&misfit, &x, spread), FIRST_DAMPING);
        for _ in 0..MOST_STEPS {
            progress.check()?;
            let normal = self.normal(&circuit, &misfit, &x, spread);
            let mut gained = 0.0;
            while damping < 1e12 {
                let tried = normal.step(damping).and_then(|step| self.try_step(&x, &step, spread));
                if let Some((next, circuit_there, misfit_there, less)) = tried
                    && less <= here
                {
                    (gained, here, x, circuit, misfit) = (here - less, less, next, circuit_there, misfit_there);
                    damping = (damping * 0.1).max(1e-12);
                    break;
                }
                damping *= 10.0;
            }
            if gained <= 1e-10 * (1.0 + here) {
                break;
            }
        }
        let at = self.circuit(&x).ok_or(ReadingsError::Unexplained)?;
        let normal = self.normal(&at, &misfit, &x, spread);
        let factor = normal.complement(0.0).cholesky().ok_or(ReadingsError::Unexplained)?;
        let half_log_determinant =
            factor.l_dirty().diagonal().map(math::ln).sum() + 0.5 * normal.cases.map(math::ln).sum();
        let evidence = -0.5 * here - half_log_determinant - spread.shared.map(math::ln).sum();
        progress.advance(1);
        Ok(Fit { x, cost: here, evidence, misfit, spread: spread.clone(), normal, factor })
    }

    fn try_step(&mut self, x: &Point, step: &Point, spread: &Spread) -> Option<(Point, Circuit, DVector<f64>, f64)> {
        // No resistance changes by more than a factor of e in one step: farther off, the derivative is no guide.
        let share = 1.0 / step.shared.rows(0, self.branches()).amax().max(1.0);
        let next = Point { shared: &x.shared + &step.shared * share, currents: &x.currents + &step.currents * share };
        let circuit = self.circuit(&next)?;
        let misfit = self.misfit(&circuit, &next);
        let cost = self.cost(&misfit, &next, spread);
        cost.is_finite().then_some((next, circuit, misfit, cost))
    }

    /// A and the gradient at `x`. `circuit` must be the one that the solver solved last. Readings of one quantity in several
    /// cases differ only by the bank's current, so the shared block needs only their sums weighted by its powers.
    fn normal(&mut self, circuit: &Circuit, misfit: &DVector<f64>, x: &Point, spread: &Spread) -> Normal {
        let gains = circuit.by_voltage(&mut self.solver, &self.whats);
        let unknowns = circuit.unknowns();
        let by_bank: Vec<f64> = self.whats.iter().map(|what| circuit.by_bank_current(*what)).collect();
        let (kinds, cases) = (self.whats.len(), self.by_case.len());
        let mut weights = [(); 3].map(|()| DVector::<f64>::zeros(kinds));
        let mut pulls = [(); 2].map(|()| DVector::<f64>::zeros(kinds));
        let mut links = DMatrix::zeros(unknowns.len(), cases);
        let prior = weight_of(spread.current);
        let mut of_cases = DVector::from_element(cases, prior);
        let mut gradient_of_cases = (&x.currents - &self.expected.currents) * prior;
        let mut link = DVector::zeros(gains.nrows());
        for (case, readings) in self.by_case.iter().enumerate() {
            let amps = x.currents[case];
            link.fill(0.0);
            for &k in readings {
                let (what, deviation) = (self.number[k], self.readings[k].deviation);
                let (weight, pull) = (weight_of(deviation), misfit[k] / deviation);
                let slope = by_bank[what];
                weights.iter_mut().zip([1.0, amps, amps * amps]).for_each(|(sum, power)| sum[what] += weight * power);
                pulls.iter_mut().zip([1.0, amps]).for_each(|(sum, power)| sum[what] += pull * power);
                of_cases[case] += weight * slope * slope;
                gradient_of_cases[case] += pull * slope;
                link.axpy(weight * slope, &gains.column(what), 1.0);
            }
            let column = links.column_mut(case);
            column.into_iter().zip(&unknowns).for_each(|(to, u)| *to = u.at(amps) * link[u.branch]);
        }
        let pulled = pulls.map(|pull| &gains * pull);
        let mut gradient = (&x.shared - &self.expected.shared).component_div(&spread.shared.map(|s| s * s));
        for (to, u) in gradient.iter_mut().zip(&unknowns) {
            *to += u.constant * pulled[0][u.branch] + u.by_ampere * pulled[1][u.branch];
        }
        let shared = shared_block(&gains, &unknowns, &weights, spread);
        Normal { shared, links, cases: of_cases, gradient, gradient_of_cases }
    }

    /// Standard deviations of the shared unknowns with the priors of `spread`, chosen so wide that the readings alone decide;
    /// infinite where the readings do not determine them.
    pub fn by_readings_alone(&mut self, fit: &Fit, spread: &Spread) -> DVector<f64> {
        let nothing = DVector::from_element(fit.x.shared.len(), f64::INFINITY);
        let Some(circuit) = self.circuit(&fit.x) else { return nothing };
        let normal = self.normal(&circuit, &fit.misfit, &fit.x, spread);
        let factor = normal.complement(0.0).cholesky();
        factor.map_or(nothing, |factor| factor.inverse().diagonal().map(f64::sqrt))
    }

    /// Each reading compared with all others: its residual divided by the standard deviation that the residual has where the
    /// error is as stated (W. Baarda, A Testing Procedure for Use in Geodetic Networks, 1968, from memory).
    pub fn checked(&mut self, fit: &Fit) -> Vec<Checked> {
        let mut all = vec![Checked { redundancy: 0.0, off: None }; self.readings.len()];
        for (k, share) in self.told_by_others(fit).into_iter().enumerate() {
            if self.readings[k].deviation.is_infinite() {
                continue;
            }
            let off = (share > LEAST_REDUNDANCY).then(|| fit.misfit[k] / share.sqrt());
            all[k] = Checked { redundancy: share, off };
        }
        all
    }

    /// Redundancy of each reading: the diagonal of 1 − JA⁻¹Jᵀ.
    fn told_by_others(&mut self, fit: &Fit) -> Vec<f64> {
        let mut left = vec![0.0; self.readings.len()];
        for (case, variances) in self.variances(fit, 0..self.by_case.len()).into_iter().enumerate() {
            for (&k, variance) in self.by_case[case].iter().zip(variances) {
                left[k] = (1.0 - variance * weight_of(self.readings[k].deviation)).clamp(0.0, 1.0);
            }
        }
        left
    }

    /// Variance of the fitted value of every reading, for each of these cases.
    fn variances(&mut self, fit: &Fit, cases: Range<usize>) -> Vec<Vec<f64>> {
        let Some(circuit) = self.circuit(&fit.x) else { return Vec::new() };
        let gains = circuit.by_voltage(&mut self.solver, &self.whats);
        let unknowns = circuit.unknowns();
        let root = fit.factor.l();
        let of_case = |case: usize| {
            let (readings, amps) = (&self.by_case[case], fit.x.currents[case]);
            let (link, own) = (fit.normal.links.column(case), fit.normal.cases[case]);
            let slope = |k: usize| circuit.by_bank_current(self.whats[self.number[k]]);
            let mut rows = DMatrix::zeros(unknowns.len(), readings.len());
            for (&k, mut row) in readings.iter().zip(rows.column_iter_mut()) {
                let gain = gains.column(self.number[k]);
                row.iter_mut().zip(&unknowns).for_each(|(to, u)| *to = u.at(amps) * gain[u.branch]);
                row.axpy(-slope(k) / own, &link, 1.0);
            }
            // With A = LLᵀ, the variance of a fitted value is |L⁻¹·j|², j its derivative by the unknowns.
            let rows = root.solve_lower_triangular(&rows).unwrap_or(rows);
            let variance = |(n, &k): (usize, &usize)| rows.column(n).norm_squared() + slope(k) * slope(k) / own;
            readings.iter().enumerate().map(variance).collect()
        };
        cases.map(of_case).collect()
    }

    /// The value of a reading by a fit, and the standard deviation of that value.
    pub fn foretold(&mut self, fit: &Fit, reading: usize) -> Option<(f64, f64)> {
        let Reading { case, what, .. } = self.readings[reading];
        let place = self.by_case[case].iter().position(|k| *k == reading)?;
        let variance = *self.variances(fit, case..case + 1).first()?.get(place)?;
        Some((self.circuit(&fit.x)?.read(what, fit.x.currents[case]), variance.max(0.0).sqrt()))
    }
}

/// The block of A for the unknowns that all cases share.
fn shared_block(
    gains: &DMatrix<f64>,
    unknowns: &[Acting],
    weights: &[DVector<f64>; 3],
    spread: &Spread,
) -> DMatrix<f64> {
    let [still, once, twice] = weights.each_ref().map(|weight| squares(gains, weight.as_slice()));
    DMatrix::from_fn(unknowns.len(), unknowns.len(), |p, q| {
        let (a, b) = (unknowns[p], unknowns[q]);
        let at = (a.branch, b.branch);
        let sum = a.constant * b.constant * still[at]
            + (a.constant * b.by_ampere + a.by_ampere * b.constant) * once[at]
            + a.by_ampere * b.by_ampere * twice[at];
        if p == q { sum + weight_of(spread.shared[p]) } else { sum }
    })
}

fn weight_of(deviation: f64) -> f64 {
    1.0 / (deviation * deviation)
}

/// Σ w·ccᵀ over the columns c with weights w. Four columns at a time, and one triangle that is then mirrored: this takes a
/// third of the time of a product of matrices.
fn squares(columns: &DMatrix<f64>, weights: &[f64]) -> DMatrix<f64> {
    let n = columns.nrows();
    let weighed: Vec<(&[f64], f64)> = columns.as_slice().chunks_exact(n.max(1)).zip(weights.iter().copied()).collect();
    let mut sum = DMatrix::zeros(n, n);
    for j in 0..n {
        let to = &mut sum.as_mut_slice()[j * n + j..(j + 1) * n];
        let mut fours = weighed.chunks_exact(4);
        for four in fours.by_ref() {
            let [a, b, c, d] = [0, 1, 2, 3].map(|k| &four[k].0[j..]);
            let [wa, wb, wc, wd] = [0, 1, 2, 3].map(|k| four[k].1 * four[k].0[j]);
            for ((((to, a), b), c), d) in to.iter_mut().zip(a).zip(b).zip(c).zip(d) {
                *to += (wa * a + wb * b) + (wc * c + wd * d);
            }
        }
        for (column, weight) in fours.remainder() {
            let scale = weight * column[j];
            to.iter_mut().zip(&column[j..]).for_each(|(to, x)| *to += scale * x);
        }
    }
    sum.fill_upper_triangle_with_lower_triangle();
    sum
}
