//! From counts to what is said of the chance behind them.

use super::*;
use bankwright::summary::difference::nights_to_decide;
use bankwright::summary::fixed_sum::FixedSum;
use bankwright::summary::inference::Inference;
use bankwright::summary::quantile::quantile;

/// The p-quantile of n values is that of rank ⌈p·n⌉: of 30 values, 5 % is the second and 95 % the 29th (H. A. David, H. N.
/// Nagaraja, Order Statistics).
#[test]
fn a_quantile_is_the_value_of_its_rank() {
    let values: Vec<(i64, u64)> = (1..=30).map(|k| (k, 1)).collect();
    for (percent, wanted) in [(5, 2), (50, 15), (95, 29), (99, 30), (1, 1)] {
        assert_eq!(quantile(&values, percent, [0, 100]).unwrap().value, wanted, "{percent} %");
    }
}

/// n = (z·√ψ + z₀.₈·√(ψ − δ²))²/δ² (R. J. Connor, Biometrics 43:207, 1987), z = 2.2414 of 1.25 % and z₀.₈ = 0.8416: of 9 nights against
/// 1 in 100, δ = 0.08 and ψ = 0.1: (0.70880 + 0.25748)²/0.0064 = 145.89 (by hand).
#[test]
fn so_many_nights_decide() {
    assert_eq!(nights_to_decide([9, 1], 100), Some(146));
    assert_eq!(nights_to_decide([1, 9], 100), Some(146));
    assert_eq!(nights_to_decide([5, 5], 100), None);
}

/// Of 100 nights all alike another one has a chance of at most 1 − 0.025^(1/100) = 3.62 % (Clopper and Pearson), and may lie anywhere
/// within 16 h.
#[test]
fn nights_all_alike_leave_room_for_another() {
    let mut sum = FixedSum::default();
    (0..100).for_each(|_| sum.add(2.0).unwrap());
    let another = 1.0 - 0.025_f64.powf(0.01);
    let mean = Inference::new(true).mean_within(&sum, false, 16.0);
    near(mean.low, 2.0 * (1.0 - another) - 16.0 * another, 1e-9);
    near(mean.high, 2.0 * (1.0 - another) + 16.0 * another, 1e-9);
}
