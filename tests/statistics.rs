//! The statistics against published and independent values; each source stands beside its check.
//! Simulations run under fixed seeds, so a test passes always or never.

use bankwright::draw::faults::timeline;
use bankwright::draw::{Purpose, Source};
use bankwright::scenario::{Distribution, FaultStart, Faults};
use bankwright::summary::bootstrap::by_night;
use bankwright::summary::fixed_sum::FixedSum;
use bankwright::summary::interval::{binomial_at_least, clopper_pearson, clopper_pearson_at};
use bankwright::summary::quantile::{Quantile, bounding_ranks, quantile};
use bankwright::time::Time;
use proptest::prelude::*;
use rand::{Rng, SeedableRng};
use rand_chacha::ChaCha8Rng;
use sha2::{Digest, Sha256};
use statrs::function::beta::inv_beta_reg;
use statrs::function::gamma::ln_gamma;

fn hex(bytes: &[u8]) -> String {
    bytes.iter().map(|byte| format!("{byte:02x}")).collect()
}

fn assert_near(got: f64, want: f64, relative: f64) {
    assert!(
        (got - want).abs() <= relative * want.abs(),
        "got {got:e}, want {want:e}"
    );
}

// ---------------------------------------------------------------- the generator and the draws

/// draft-strombergson-chacha-test-vectors-01, 8 rounds, 256-bit key, TC1 and TC7 (read in a public
/// test suite that reproduces them).
#[test]
fn generator_is_chacha8_with_64_bit_stream() {
    let mut block = [0; 64];
    ChaCha8Rng::from_seed([0; 32]).fill_bytes(&mut block);
    assert_eq!(
        hex(&block),
        "3e00ef2f895f40d67f5bb8e81f09a5a12c840ec3ce9a7f3b181be188ef711a1e\
         984ce172b9216f419f445367456d5619314a42a3da86b001387bfdb80e0cfe42"
    );

    let key: Vec<u8> = (0..16u8)
        .map(|i| i * 0x11)
        .chain((0..16u8).rev().map(|i| i * 0x11))
        .collect();
    let mut rng = ChaCha8Rng::from_seed(key.try_into().unwrap());
    rng.set_stream(u64::from_le_bytes([
        0x0f, 0x1e, 0x2d, 0x3c, 0x4b, 0x5a, 0x69, 0x78,
    ]));
    rng.fill_bytes(&mut block);
    assert_eq!(
        hex(&block),
        "db43ad9d1e842d1272e4530e276b3f568f8859b3f7cf6d9d2c74fa53808cb515\
         7a8ebf46ad3dcc4b6c7dadde131784b0120e0e22f6d5f9ffa7407d4a21b695d9"
    );
    rng.set_word_pos(16);
    rng.fill_bytes(&mut block);
    assert!(
        hex(&block).starts_with("c5dd30bf55612fab9bdd118920c19816470c7f5dcd42325dbbed8c57a56281c1")
    );
}

/// The key computed anew from its description: whoever reads it can write the same draws.
#[test]
fn a_draw_can_be_redone_from_the_description() {
    let mut text = b"bankwright draw".to_vec();
    text.extend([1, 0, 0, 0]); // layout
    text.extend([7, 0, 0, 0, 0, 0, 0, 0]); // seed
    text.extend([3, 0, 0, 0]); // Resistance
    text.extend([2, 0, 0, 0, 0, 0, 0, 0]); // bytes in the name
    text.extend(b"A1");
    let mut expected = ChaCha8Rng::from_seed(Sha256::digest(&text).into());
    expected.set_stream(1234);
    expected.set_word_pos(5 << 36); // number 5, 2³² blocks of 16 words each
    let mut drawn = Source::new(7, Purpose::Resistance, "A1").rng(1234, 5);
    assert_eq!(drawn.next_u64(), expected.next_u64());
}

/// Fails if a new version of a dependency, or an edit, changes any draw: then the layout of draws
/// needs a new number, and this digest changes with it.
#[test]
fn draws_are_those_of_layout_1() {
    let spreads = [
        Distribution::Normal(0.05),
        Distribution::Uniform(0.1),
        Distribution::Triangular(0.1),
    ];
    let mut digest = Sha256::new();
    for (purpose, entity) in [
        (Purpose::Night, ""),
        (Purpose::Capacity, "A1"),
        (Purpose::Joint, "B.lead2−"),
    ] {
        let source = Source::new(1, purpose, entity);
        for trial in (0..300).chain([u64::MAX]) {
            digest.update((source.index(trial, 365) as u64).to_le_bytes());
            for number in [0, 1, u32::MAX] {
                digest.update(source.rng(trial, number).next_u64().to_le_bytes());
                for spread in &spreads {
                    digest.update(source.factor(trial, number, spread).to_bits().to_le_bytes());
                    digest.update(source.offset(trial, number, spread).to_bits().to_le_bytes());
                }
            }
        }
    }
    let busy = Faults {
        mtbf: 7200.0,
        mttr: Some(3600.0),
        start: FaultStart::Stationary,
    };
    for trial in 0..300 {
        let line = timeline(
            &Source::new(1, Purpose::Fault, "A1"),
            trial,
            &busy,
            Time(50_400_000_000),
        );
        digest.update([u8::from(line.down_at_start)]);
        line.changes
            .iter()
            .for_each(|change| digest.update(change.0.to_le_bytes()));
    }
    assert_eq!(
        hex(&digest.finalize()),
        "3276be539b006c034cc8135db2ba9cf9015b94e3e4560e0eadfcdd6a1452ee9e"
    );
}

/// Apart, because `exp` comes from the mathematics library of the platform and its last bit may
/// differ on another.
#[test]
#[cfg(all(target_os = "linux", target_env = "gnu"))]
fn log_normal_draws_are_those_of_layout_1() {
    let source = Source::new(1, Purpose::Resistance, "A1");
    let spread = Distribution::LogNormal(0.3);
    let mut digest = Sha256::new();
    for trial in 0..2000 {
        digest.update(source.factor(trial, 0, &spread).to_bits().to_le_bytes());
        digest.update(source.offset(trial, 1, &spread).to_bits().to_le_bytes());
    }
    assert_eq!(
        hex(&digest.finalize()),
        "a5bbd8505e65a32c3a883b2005f6a8efeb899e1de1ae1218b82ea9ca7a58a50a"
    );
}

/// Mean, variance and reach of each distribution; closed forms. Tolerances are four standard errors.
#[test]
fn distributions_have_their_moments() {
    const DRAWS: u64 = 200_000;
    // Cutting at 4 sd takes 2·4·φ(4)/(2Φ(4) − 1) = 1.0707e-3 from the variance.
    let cases: [(Distribution, f64, f64, f64); 3] = [
        (
            Distribution::Normal(0.5),
            0.25 * (1.0 - 1.0707e-3),
            3.0,
            2.0,
        ),
        (Distribution::Uniform(0.6), 0.36 / 3.0, 1.8, 0.6),
        (Distribution::Triangular(0.6), 0.36 / 6.0, 2.4, 0.6),
    ];
    let source = Source::new(1, Purpose::Temperature, "");
    for (spread, variance, kurtosis, reach) in cases {
        let draws: Vec<f64> = (0..DRAWS)
            .map(|trial| source.offset(trial, 0, &spread))
            .collect();
        let mean = draws.iter().sum::<f64>() / DRAWS as f64;
        let second = draws.iter().map(|x| x * x).sum::<f64>() / DRAWS as f64;
        let four = 4.0 / (DRAWS as f64).sqrt();
        assert!(
            mean.abs() < four * variance.sqrt(),
            "{spread:?}: mean {mean}"
        );
        assert_near(second, variance, four * (kurtosis - 1.0).sqrt());
        let greatest = draws
            .iter()
            .fold(0.0f64, |greatest, x| greatest.max(x.abs()));
        assert!(
            greatest <= reach && greatest > 0.9 * reach,
            "{spread:?} reaches {greatest}"
        );
    }
}

#[test]
fn log_normal_factor_has_median_one_and_its_spread() {
    const DRAWS: u64 = 200_000;
    let source = Source::new(1, Purpose::Joint, "A.lead1+");
    let spread = Distribution::LogNormal(0.4);
    let factors: Vec<f64> = (0..DRAWS)
        .map(|trial| source.factor(trial, 0, &spread))
        .collect();
    let below = factors.iter().filter(|&&factor| factor < 1.0).count() as f64;
    assert!((below / DRAWS as f64 - 0.5).abs() < 4.0 * 0.5 / (DRAWS as f64).sqrt());
    let second = factors
        .iter()
        .map(|factor| factor.ln().powi(2))
        .sum::<f64>()
        / DRAWS as f64;
    assert_near(second, 0.16, 4.0 * (2.0 / DRAWS as f64).sqrt());
}

/// Pearson's χ² with 6 degrees of freedom: above 27.86 with probability 1e-4.
#[test]
fn indices_are_uniform() {
    let source = Source::new(1, Purpose::Night, "");
    let mut counts = [0u64; 7];
    for trial in 0..70_000 {
        counts[source.index(trial, 7)] += 1;
    }
    let chi2: f64 = counts
        .iter()
        .map(|&count| (count as f64 - 1e4).powi(2) / 1e4)
        .sum();
    assert!(chi2 < 27.86, "{counts:?}");
}

#[test]
fn draws_do_not_depend_on_threads() {
    use rayon::prelude::*;
    let source = Source::new(1, Purpose::Capacity, "A1");
    let draw = |trial: u64| {
        source
            .factor(trial, 0, &Distribution::Normal(0.01))
            .to_bits()
    };
    let backwards: Vec<u64> = (0..5000).rev().map(draw).collect();
    let parallel: Vec<u64> = (0..5000u64).into_par_iter().map(draw).collect();
    assert!(parallel.into_iter().eq(backwards.into_iter().rev()));
}

// ---------------------------------------------------------------- failures and repairs

const HOUR: f64 = 3600.0;
const NIGHT: Time = Time(14 * 3_600_000_000);

fn module(mtbf_h: f64, mttr_h: f64, start: FaultStart) -> Faults {
    Faults {
        mtbf: mtbf_h * HOUR,
        mttr: Some(mttr_h * HOUR),
        start,
    }
}

/// Whether `exact` lies in the 99.99 % interval of `hits` in `trials`.
fn agrees(hits: u64, trials: u64, exact: f64) -> bool {
    let e = clopper_pearson_at(hits, trials, 0.9999);
    e.low <= exact && exact <= e.high
}

/// K. S. Trivedi, Probability and Statistics with Reliability…: A(t) of the two-state model, from new.
fn availability(mtbf: f64, mttr: f64, t: f64) -> f64 {
    let (failure, repair) = (1.0 / mtbf, 1.0 / mttr);
    let rate = failure + repair;
    repair / rate + failure / rate * (-rate * t).exp()
}

#[test]
fn availability_has_its_closed_form() {
    assert_near(availability(2000.0, 24.0, 1e9), 0.98814229, 1e-8);
    assert_near(availability(2000.0, 24.0, 14.0), 0.99471315, 1e-8);
}

#[test]
fn simulated_availability_from_new() {
    const TRIALS: u64 = 1_000_000;
    let faults = module(2000.0, 24.0, FaultStart::InService);
    let source = Source::new(1, Purpose::Fault, "A1");
    let horizon = Time(NIGHT.0 + 1);
    let down = (0..TRIALS)
        .filter(|&t| timeline(&source, t, &faults, horizon).down_at(NIGHT))
        .count() as u64;
    assert!(
        agrees(down, TRIALS, 1.0 - availability(2000.0, 24.0, 14.0)),
        "{down}"
    );
    // The check is sharp enough to find a rate that is wrong by a tenth, or a forgotten repair.
    for (mtbf, mttr) in [
        (2200.0, 24.0),
        (1800.0, 24.0),
        (2000.0, 40.0),
        (2000.0, 16.0),
        (2000.0, 1e9),
    ] {
        assert!(
            !agrees(down, TRIALS, 1.0 - availability(mtbf, mttr, 14.0)),
            "{mtbf} {mttr} passes too"
        );
    }
}

#[test]
fn simulated_long_run_availability_holds_at_start_and_end() {
    const TRIALS: u64 = 1_000_000;
    let faults = module(2000.0, 24.0, FaultStart::Stationary);
    let source = Source::new(1, Purpose::Fault, "A1");
    let (mut at_start, mut at_end) = (0, 0);
    for trial in 0..TRIALS {
        let line = timeline(&source, trial, &faults, NIGHT);
        at_start += u64::from(line.down_at_start);
        at_end += u64::from(line.down_at(NIGHT));
    }
    for down in [at_start, at_end] {
        assert!(agrees(down, TRIALS, 1.0 - 0.98814229), "{down}");
        for wrong in [24.0 / 2200.0, 24.0 / 1800.0] {
            assert!(
                !agrees(down, TRIALS, wrong / (1.0 + wrong)),
                "{wrong} passes too"
            );
        }
    }
}

/// Renewal function of the same model: mean failures from new within t,
/// λμt/(λ+μ) + (λ/(λ+μ))²·(1 − e^(−(λ+μ)t)).
fn mean_failures(mtbf: f64, mttr: f64, t: f64) -> f64 {
    let (failure, repair) = (1.0 / mtbf, 1.0 / mttr);
    let rate = failure + repair;
    failure * repair * t / rate + (failure / rate).powi(2) * (1.0 - (-rate * t).exp())
}

#[test]
fn simulated_outages_in_a_night_from_new() {
    const TRIALS: u64 = 1_000_000;
    let exact = mean_failures(2000.0, 24.0, 14.0);
    assert_near(exact, 0.0069796859, 1e-8);

    let faults = module(2000.0, 24.0, FaultStart::InService);
    let source = Source::new(2, Purpose::Fault, "A1");
    let outages: u64 = (0..TRIALS)
        .map(|t| timeline(&source, t, &faults, NIGHT).failures() as u64)
        .sum();
    // A trial seldom has two, so that the count is as good as binomial.
    assert!(agrees(outages, TRIALS, exact), "{outages}");
    assert!(!agrees(outages, TRIALS, exact / 1.1) && !agrees(outages, TRIALS, exact * 1.1));
}

/// With frequent repairs many holding times follow each other: the same formula, other regime.
#[test]
fn simulated_outages_of_a_frail_module() {
    const TRIALS: u64 = 100_000;
    let exact = mean_failures(2.0, 1.0, 14.0);
    let faults = module(2.0, 1.0, FaultStart::InService);
    let source = Source::new(3, Purpose::Fault, "A1");
    let mut sum = FixedSum::default();
    for trial in 0..TRIALS {
        sum.add(timeline(&source, trial, &faults, NIGHT).failures() as f64)
            .unwrap();
    }
    let (mean, error) = (sum.mean().unwrap(), sum.std_error().unwrap());
    assert!((mean - exact).abs() < 3.89 * error, "{mean} for {exact}");
    assert!(error < 0.002 * exact);
}

/// At least 3 of 16 down with q = 0.01: 5.079424e-4, binomial closed form.
#[test]
fn fourteen_of_sixteen() {
    assert_near(binomial_at_least(3, 16, 0.01), 5.079424e-4, 1e-6);

    const TRIALS: u64 = 300_000;
    let faults = module(99.0, 1.0, FaultStart::Stationary);
    let sources: Vec<Source> = (1..=16)
        .map(|i| Source::new(1, Purpose::Fault, &format!("A{i}")))
        .collect();
    let down = |trial| {
        sources
            .iter()
            .filter(|s| timeline(s, trial, &faults, NIGHT).down_at_start)
            .count()
    };
    let at_least_3 = (0..TRIALS).filter(|&trial| down(trial) >= 3).count() as u64;
    assert!(agrees(at_least_3, TRIALS, 5.079424e-4), "{at_least_3}");
    assert!(!agrees(at_least_3, TRIALS, binomial_at_least(3, 16, 0.013)));
    assert!(!agrees(at_least_3, TRIALS, binomial_at_least(3, 16, 0.007)));
}

// ---------------------------------------------------------------- intervals of a probability

#[test]
fn clopper_pearson_against_published_values() {
    // 7 of 50: SciPy manual, `binomtest(...).proportion_ci`.
    let e = clopper_pearson(7, 50);
    assert_eq!(e.estimate, 0.14);
    assert_near(e.low, 0.05819170, 1e-7);
    assert_near(e.high, 0.26739600, 1e-7);
    // R. G. Newcombe, Statistics in Medicine 17 (1998): 81/263, 0/20, 1/29.
    let e = clopper_pearson(81, 263);
    assert_near(e.low, 0.25273675, 4e-8);
    assert_near(e.high, 0.36762192, 4e-8);
    let e = clopper_pearson(0, 20);
    assert_eq!(e.low, 0.0);
    assert_near(e.high, 0.16843347, 4e-8);
    let e = clopper_pearson(1, 29);
    assert_near(e.low, 0.00087265, 6e-6);
    assert_near(e.high, 0.17764430, 4e-8);
}

/// Roots of numerical integrals of the beta density with 40 digits (mpmath 1.3).
#[test]
fn clopper_pearson_against_forty_digit_integration() {
    for (k, n, low, high) in [
        (7, 50, 0.058191700340372085, 0.26739600249700844),
        (3, 1000, 0.00061909993164957126, 0.0087420232384783036),
        (
            3,
            1_000_000_000,
            6.1867212332289581e-10,
            8.7672730444606971e-9,
        ),
        (
            1_000_000,
            1_000_000_000,
            0.00099804196067584596,
            0.0010019609288197938,
        ),
        (
            500_000_000,
            1_000_000_000,
            0.49996900974842228,
            0.50003099025157772,
        ),
    ] {
        let e = clopper_pearson(k, n);
        assert_near(e.low, low, 2e-14);
        assert_near(e.high, high, 2e-14);
    }
}

#[test]
fn clopper_pearson_of_none_and_of_all() {
    for n in [1, 2, 20, 1_000_000, 1_000_000_000u64] {
        let (none, all) = (clopper_pearson(0, n), clopper_pearson(n, n));
        assert_eq!((none.estimate, none.low), (0.0, 0.0));
        assert_eq!((all.estimate, all.high), (1.0, 1.0));
        // (1 − high)ⁿ = 0.025 = lowⁿ
        assert_near((n as f64 * (-none.high).ln_1p()).exp(), 0.025, 1e-12);
        assert_near((n as f64 * all.low.ln()).exp(), 0.025, 1e-6);
    }
}

/// An independent implementation, where it is in its depth.
#[test]
fn clopper_pearson_against_the_inverse_beta_of_statrs() {
    for n in [2u64, 10, 100, 1000] {
        for k in (1..n).step_by((n as usize / 10).max(1)) {
            let e = clopper_pearson_at(k, n, 0.99);
            let (hits, misses) = (k as f64, (n - k) as f64);
            assert_near(e.low, inv_beta_reg(hits, misses + 1.0, 0.005), 1e-10);
            assert_near(e.high, inv_beta_reg(hits + 1.0, misses, 0.995), 1e-10);
        }
    }
}

/// P(low ≤ B ≤ high) term by term from log-gamma: shares nothing with the program's tail.
fn binomial_between(from: u64, to: u64, n: u64, p: f64) -> f64 {
    let ln_choose = |j: u64| {
        ln_gamma(n as f64 + 1.0) - ln_gamma(j as f64 + 1.0) - ln_gamma((n - j) as f64 + 1.0)
    };
    (from..=to)
        .map(|j| (ln_choose(j) + j as f64 * p.ln() + (n - j) as f64 * (-p).ln_1p()).exp())
        .sum()
}

proptest! {
    #[test]
    fn tails_at_the_bounds_are_two_and_a_half_per_cent(n in 2u64..3000, share in 0.0..1.0f64) {
        let k = ((n as f64 * share) as u64).clamp(1, n - 1);
        let e = clopper_pearson(k, n);
        prop_assert!((binomial_between(k, n, n, e.low) - 0.025).abs() < 1e-10);
        prop_assert!((binomial_between(0, k, n, e.high) - 0.025).abs() < 1e-10);
    }

    #[test]
    fn binomial_tail_is_the_sum_of_its_terms(n in 1u64..300, share in 0.0..1.0f64, p in 0.001..0.999f64) {
        let k = (n as f64 * share) as u64;
        let sum = binomial_between(k, n, n, p);
        prop_assert!((binomial_at_least(k, n, p) - sum).abs() < 1e-11);
    }
}

/// Coverage by exact enumeration of all outcomes, n = 30.
#[test]
fn clopper_pearson_covers_at_every_p() {
    let intervals: Vec<_> = (0..=30).map(|k| clopper_pearson(k, 30)).collect();
    let mut least = 1.0f64;
    for p in (1..1000).map(|i| f64::from(i) / 1000.0) {
        let holds = |k: &u64| {
            let e = &intervals[*k as usize];
            e.low <= p && p <= e.high
        };
        let coverage: f64 = (0..=30)
            .filter(holds)
            .map(|k| binomial_between(k, k, 30, p))
            .sum();
        assert!(coverage >= 0.95, "{coverage} at {p}");
        least = least.min(coverage);
    }
    // Neither is it idle: the interval could not be made much shorter.
    assert!(least < 0.96, "{least}");
}

// ---------------------------------------------------------------- quantiles

/// H. A. David, H. N. Nagaraja, Order Statistics: the median of 20 lies between the 6th and the
/// 15th value with 95.86 %.
#[test]
fn median_of_twenty() {
    assert_eq!(bounding_ranks(20, 50, 0.025), (Some(6), Some(15)));
    assert_near(binomial_between(6, 14, 20, 0.5), 0.9586, 1e-4);
    let sorted: Vec<(i64, u64)> = (1..=20).map(|i| (10 * i, 1)).collect();
    let q = quantile(&sorted, 50, [0, 1000]);
    assert_eq!(
        q,
        Some(Quantile {
            value: 100,
            low: 60,
            high: 150
        })
    );
}

/// S. S. Wilks, Annals of Mathematical Statistics 12 (1941): the smallest sample whose greatest
/// value bounds the 95 % quantile with 95 % confidence has 59; for 95 % with 99 % it has 90, for
/// 99 % with 95 % 299 (the last two from memory; each is the least n with pⁿ ≤ 1 − confidence).
#[test]
fn wilks_sample_sizes() {
    let size = |percent, tail| (1..).find(|&n| bounding_ranks(n, percent, tail).1.is_some());
    assert_eq!(size(95, 0.05), Some(59));
    assert_eq!(size(95, 0.01), Some(90));
    assert_eq!(size(99, 0.05), Some(299));
}

#[test]
fn a_small_sample_is_bounded_by_the_support_on_its_open_side() {
    // 0.95ⁿ ≤ 0.025 first at n = 72.
    let sorted = |n: i64| (1..=n).map(|i| (i, 1)).collect::<Vec<_>>();
    let support = [0, 1000];
    let (p5, p95) = (
        quantile(&sorted(71), 5, support),
        quantile(&sorted(71), 95, support),
    );
    assert_eq!((p5.unwrap().low, p95.unwrap().high), (0, 1000));
    let (p5, p95) = (
        quantile(&sorted(72), 5, support),
        quantile(&sorted(72), 95, support),
    );
    assert_eq!((p5.unwrap().low, p95.unwrap().high), (1, 72));
}

/// The interval holds the true quantile at least as often as it says, also with ties: draws from
/// 0…99 each as likely, whose p-quantile is 100·p − 1.
#[test]
fn quantile_intervals_cover() {
    const SAMPLES: u64 = 4000;
    let source = Source::new(1, Purpose::Night, "");
    let mut held = [0u64; 3];
    for sample in 0..SAMPLES {
        let mut counts = [0u64; 100];
        source
            .indices(sample, 100)
            .take(200)
            .for_each(|value| counts[value] += 1);
        let sorted: Vec<(i64, u64)> = (0..).zip(counts).collect();
        for (held, percent) in held.iter_mut().zip([5, 50, 95]) {
            let q = quantile(&sorted, percent, [0, 99]).unwrap();
            assert!(q.low <= q.value && q.value <= q.high);
            let exact = i64::from(percent) - 1;
            *held += u64::from(q.low <= exact && exact <= q.high);
        }
    }
    for held in held {
        assert!(
            clopper_pearson_at(held, SAMPLES, 0.9999).high >= 0.95,
            "{held} of {SAMPLES}"
        );
        // Ties in steps of a percentile widen the interval, but not to everything.
        assert!(held < SAMPLES, "an interval that always holds says nothing");
    }
}

/// A billion values: the bounds lie 1.96·√(n·p·q) from the middle (normal approximation).
#[test]
fn ranks_of_a_billion_values() {
    let (low, high) = bounding_ranks(1_000_000_000, 50, 0.025);
    let half = 1.959964 * 0.5 * 1e9f64.sqrt();
    assert!((low.unwrap() as f64 - (5e8 - half)).abs() < 3.0);
    assert!((high.unwrap() as f64 - (5e8 + half)).abs() < 3.0);
}

// ---------------------------------------------------------------- whole nights

/// Where nights are alike the interval is that of the trials; where each is all or nothing, that of
/// the nights, √(trials a night) wider. Both by p ± 1.96·√(p·q/n).
#[test]
fn bootstrap_knows_what_nights_share() {
    let width = |nights: &[(u64, u64)]| {
        let [low, high] = by_night(nights, 1).unwrap();
        assert!(low < 0.3 && 0.3 < high);
        high - low
    };
    let apart: Vec<(u64, u64)> = (0..400)
        .map(|i| (100, if i % 10 < 3 { 100 } else { 0 }))
        .collect();
    let of_nights = 2.0 * 1.96 * (0.3f64 * 0.7 / 400.0).sqrt();
    assert_near(width(&apart), of_nights, 0.06);

    // Independent trials of one chance, so that a night's hits are binomial.
    let source = Source::new(1, Purpose::Night, "");
    let alike: Vec<(u64, u64)> = (0..400)
        .map(|i| {
            (
                100,
                source.indices(i, 10).take(100).filter(|&x| x < 3).count() as u64,
            )
        })
        .collect();
    let of_trials = 2.0 * 1.96 * (0.3f64 * 0.7 / 40_000.0).sqrt();
    assert_near(width(&alike), of_trials, 0.12);
}

/// Nights of unequal length count by their trials: the middle is the overall proportion.
#[test]
fn bootstrap_weighs_nights_by_their_trials() {
    let nights: Vec<(u64, u64)> = (0..300)
        .map(|i| if i % 2 == 0 { (1000, 100) } else { (10, 9) })
        .collect();
    let [low, high] = by_night(&nights, 1).unwrap();
    let overall = 109.0 / 1010.0;
    assert!(
        low < overall && overall < high && high < 0.12,
        "{low} {high}"
    );
}

#[test]
fn bootstrap_is_that_of_layout_1() {
    let nights: Vec<(u64, u64)> = (0..97).map(|i| (50 + i, i * i % 11)).collect();
    assert_eq!(
        by_night(&nights, 1),
        Some([0.03514956188941484, 0.04742662696724798])
    );
}

// ---------------------------------------------------------------- sums

proptest! {
    #[test]
    fn sums_are_the_same_in_any_order_and_any_parts(
        values in prop::collection::vec(-1e6..1e6f64, 1..60),
        seed in any::<u64>(),
        parts in 1usize..6,
    ) {
        let mut whole = FixedSum::default();
        for &value in &values {
            whole.add(value).unwrap();
        }
        let mut shuffled = values.clone();
        let mut order = Source::new(seed, Purpose::Bootstrap, "order").indices(0, values.len());
        for i in 0..shuffled.len() {
            shuffled.swap(i, order.next().unwrap());
        }
        let mut shards = vec![FixedSum::default(); parts];
        for (i, &value) in shuffled.iter().enumerate() {
            shards[i % parts].add(value).unwrap();
        }
        let mut merged = FixedSum::default();
        shards.iter().rev().for_each(|shard| merged.merge(shard));
        prop_assert_eq!(merged, whole);
    }

    #[test]
    fn mean_and_variance_are_those_of_the_values(values in prop::collection::vec(-1e6..1e6f64, 2..60)) {
        let mut sum = FixedSum::default();
        for &value in &values {
            sum.add(value).unwrap();
        }
        let n = values.len() as f64;
        let mean = values.iter().sum::<f64>() / n;
        let variance = values.iter().map(|x| (x - mean).powi(2)).sum::<f64>() / (n - 1.0);
        // Rounding to 2⁻²⁰ moves each value by at most 4.8e-7.
        prop_assert!((sum.mean().unwrap() - mean).abs() < 1e-6);
        prop_assert!((sum.variance().unwrap() - variance).abs() < 1e-6 * (1.0 + variance.sqrt() * 4.0 + variance * 1e-6));
    }
}
