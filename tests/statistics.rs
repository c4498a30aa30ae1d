//! The statistics against published and independent values; each source stands beside its check.
//! Simulations run under fixed seeds, so that each passes always or never.

mod by_night;
mod draws;
mod faults;
mod intervals;
pub mod paired;
mod quantiles;
mod sums;

use statrs::function::gamma::ln_gamma;

fn assert_near(got: f64, want: f64, relative: f64) {
    assert!((got - want).abs() <= relative * want.abs(), "got {got:e}, want {want:e}");
}

/// P(low ≤ B ≤ high) term by term from log-gamma: shares nothing with the program's tail.
fn binomial_between(from: u64, to: u64, n: u64, p: f64) -> f64 {
    let ln_choose = |j: u64| ln_gamma(n as f64 + 1.0) - ln_gamma(j as f64 + 1.0) - ln_gamma((n - j) as f64 + 1.0);
    (from..=to).map(|j| (ln_choose(j) + j as f64 * p.ln() + (n - j) as f64 * (-p).ln_1p()).exp()).sum()
}
