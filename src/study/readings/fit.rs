//! The resistances and voltages of a bank that agree best with what was measured and what was expected.
//!
//! In: a network, what was measured at it and how exactly, what was expected and how surely. Out: the most probable
//! values, their covariance, and how probable the readings are.
//!
//! The unknowns x are the logarithm of each resistance, the electromotive force of each module, and the current of each
//! case; each is expected at x₀ with a standard deviation s. Readings y have errors σ, the network gives f(x). The most
//! probable x has the least Σ((f(x) − y)/σ)² + Σ((x − x₀)/s)², found by the method of Levenberg (1944) and Marquardt
//! (1963); its covariance is A⁻¹ with A = JᵀJ + S⁻², J the derivative of f/σ there. The probability of the readings is
//! that of a normal distribution of this height and width (Laplace's method; A. Gelman et al., Bayesian Data Analysis,
//! 3rd ed., 4.1, from memory).

use crate::math;
use crate::network::solve::Solver;
use crate::network::{Demand, Element, Outcome};
use nalgebra::{DMatrix, DVector};

/// What a reading is of.
#[derive(Clone, Copy, Debug)]
pub enum What {
    Current(usize),
    /// Terminal voltage of a module, drop of a conductor, by branch.
    Drop(usize),
    BusCurrent,
    BusVoltage,
}

#[derive(Clone, Copy, Debug)]
pub struct Reading {
    pub case: usize,
    pub what: What,
    pub value: f64,
    pub deviation: f64,
}

/// A bank that was measured.
pub struct Bench {
    pub solver: Solver,
    /// Resistance of each module's own device [Ω].
    pub devices: Vec<f64>,
    pub cases: usize,
    pub readings: Vec<Reading>,
    /// x₀.
    pub expected: DVector<f64>,
}

/// The most probable values.
#[derive(Clone, Debug)]
pub struct Fit {
    pub x: DVector<f64>,
    /// Standard deviation of each.
    pub deviations: DVector<f64>,
    /// Logarithm of the probability of the readings, but for what all fits of a bench share.
    pub evidence: f64,
    /// (f(x) − y)/σ, and its derivative.
    misfit: DVector<f64>,
    slope: DMatrix<f64>,
}

impl Fit {
    /// The reading that is farthest from what was found, and by how many of its standard deviations.
    pub fn worst(&self) -> Option<(usize, f64)> {
        let off = self.misfit.iter().map(|misfit| misfit.abs()).enumerate();
        off.max_by(|a, b| a.1.total_cmp(&b.1))
    }
}

const MOST_STEPS: usize = 60;

impl Bench {
    fn branches(&self) -> usize {
        self.solver.network().branches().len()
    }

    /// (f(x) − y)/σ; `None` where a case cannot be carried.
    fn misfit(&mut self, x: &DVector<f64>) -> Option<DVector<f64>> {
        let (branches, modules) = (self.branches(), self.devices.len());
        let mut elements: Vec<Element> = (0..branches).map(|k| Element::conductor(math::exp(x[k]))).collect();
        for (k, device) in self.devices.iter().enumerate() {
            elements[k] = Element::source(x[branches + k], math::exp(x[k]) + device);
        }
        let mut misfit = DVector::zeros(self.readings.len());
        for case in 0..self.cases {
            let amps = x[branches + modules + case];
            let Outcome::Carried(bus) = self.solver.solve(&elements, Demand::Current(amps)).ok()? else { return None };
            let currents = self.solver.currents();
            for (k, reading) in self.readings.iter().enumerate().filter(|(_, r)| r.case == case) {
                let found = match reading.what {
                    What::Current(branch) => currents[branch],
                    What::Drop(branch) if branch < modules => {
                        x[branches + branch] - math::exp(x[branch]) * currents[branch]
                    }
                    What::Drop(branch) => math::exp(x[branch]) * currents[branch],
                    What::BusCurrent => amps,
                    What::BusVoltage => bus.voltage,
                };
                misfit[k] = (found - reading.value) / reading.deviation;
            }
        }
        Some(misfit)
    }

    fn slope(&mut self, x: &DVector<f64>) -> Option<DMatrix<f64>> {
        const STEP: f64 = 1e-5;
        let mut slope = DMatrix::zeros(self.readings.len(), x.len());
        for k in 0..x.len() {
            let (mut less, mut more) = (x.clone(), x.clone());
            (less[k], more[k]) = (x[k] - STEP, x[k] + STEP);
            let change = self.misfit(&more)? - self.misfit(&less)?;
            slope.set_column(k, &(change / (2.0 * STEP)));
        }
        Some(slope)
    }

    /// The most probable values, where each is expected with these standard deviations, looked for from `start`.
    pub fn fit(&mut self, start: &DVector<f64>, deviations: &DVector<f64>) -> Option<Fit> {
        let cost = |misfit: &DVector<f64>, x: &DVector<f64>, expected: &DVector<f64>| {
            misfit.norm_squared() + (x - expected).component_div(deviations).norm_squared()
        };
        let mut x = start.clone();
        let mut misfit = self.misfit(&x)?;
        let (mut here, mut damping) = (cost(&misfit, &x, &self.expected), 1e-3);
        for _ in 0..MOST_STEPS {
            let slope = self.slope(&x)?;
            let (normal, gradient) = self.normal(&misfit, &slope, &x, deviations);
            let mut gained = 0.0;
            while damping < 1e12 {
                let damped = &normal + DMatrix::from_diagonal(&(normal.diagonal() * damping));
                let Some(step) = damped.cholesky().map(|c| c.solve(&-&gradient)) else {
                    damping *= 10.0;
                    continue;
                };
                // No further than a factor of e at once: beyond, the slope says nothing.
                let longest = step.rows(0, self.branches()).amax().max(1.0);
                let next = &x + step / longest;
                let tried = self.misfit(&next).map(|misfit| (cost(&misfit, &next, &self.expected), misfit));
                match tried {
                    Some((less, misfit_there)) if less <= here => {
                        (gained, here, x, misfit) = (here - less, less, next, misfit_there);
                        damping = (damping * 0.1).max(1e-12);
                        break;
                    }
                    _ => damping *= 10.0,
                }
            }
            if gained <= 1e-10 * (1.0 + here) {
                break;
            }
        }
        let slope = self.slope(&x)?;
        let (normal, _) = self.normal(&misfit, &slope, &x, deviations);
        let cholesky = normal.cholesky()?;
        let evidence = -0.5 * here - half_log_determinant(&cholesky) - deviations.map(math::ln).sum();
        let variances = cholesky.inverse().diagonal();
        Some(Fit { x, deviations: variances.map(f64::sqrt), evidence, misfit, slope })
    }

    /// A and the gradient of half the cost.
    fn normal(
        &self,
        misfit: &DVector<f64>,
        slope: &DMatrix<f64>,
        x: &DVector<f64>,
        deviations: &DVector<f64>,
    ) -> (DMatrix<f64>, DVector<f64>) {
        let weights = deviations.map(|s| 1.0 / (s * s));
        let normal = slope.tr_mul(slope) + DMatrix::from_diagonal(&weights);
        let gradient = slope.tr_mul(misfit) + (x - &self.expected).component_mul(&weights);
        (normal, gradient)
    }

    /// The evidence with other standard deviations, by the slope of a fit alone: what `fit` would find if the network
    /// were straight.
    pub fn straight_evidence(&self, fit: &Fit, deviations: &DVector<f64>) -> Option<f64> {
        let (normal, gradient) = self.normal(&fit.misfit, &fit.slope, &fit.x, deviations);
        let cholesky = normal.cholesky()?;
        let step = cholesky.solve(&-gradient);
        let misfit = &fit.misfit + &fit.slope * &step;
        let apart = (&fit.x + step - &self.expected).component_div(deviations);
        let cost = misfit.norm_squared() + apart.norm_squared();
        Some(-0.5 * cost - half_log_determinant(&cholesky) - deviations.map(math::ln).sum())
    }
}

fn half_log_determinant(cholesky: &nalgebra::Cholesky<f64, nalgebra::Dyn>) -> f64 {
    cholesky.l_dirty().diagonal().map(math::ln).sum()
}
