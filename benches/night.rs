//! Whole nights of the reference scenario in which every mechanism acts.

use bankwright::engine::observe::Nobody;
use bankwright::scenario::check::load;
use bankwright::trials::Campaign;
use criterion::{BenchmarkId, Criterion, criterion_group, criterion_main};
use std::convert::Infallible;
use std::path::Path;
use std::sync::atomic::AtomicBool;
use std::time::Duration;

const TRIALS: u64 = 200;
/// Blocks of trials, so that two threads share them evenly.
const BLOCK: u64 = 10;

fn campaign() -> Campaign {
    let path = Path::new(env!("CARGO_MANIFEST_DIR")).join("scenarios/reference/cold_night.toml");
    let scenario = load(&path).expect("the reference scenario is legal").scenario;
    let (load, trials) = (scenario.load.clone().expect("a load"), scenario.trials.clone().expect("trials"));
    Campaign::new(&scenario, &load, &trials).expect("a network")
}

fn night(c: &mut Criterion) {
    let campaign = campaign();
    let mut group = c.benchmark_group("night");
    let mut trial = 0;
    group.bench_function("one trial", |b| {
        b.iter(|| {
            trial = (trial + 1) % TRIALS;
            campaign.run_one(trial, &mut Nobody).expect("a night")
        })
    });
    let blocks: Vec<_> = (0..TRIALS / BLOCK).map(|k| (k as usize, k * BLOCK..(k + 1) * BLOCK)).collect();
    group.sample_size(10);
    for threads in [1, 2] {
        let pool = rayon::ThreadPoolBuilder::new().num_threads(threads).build().expect("threads");
        group.bench_function(BenchmarkId::new("200 trials, threads", threads), |b| {
            b.iter(|| {
                let run = || campaign.run(&blocks, &AtomicBool::new(false), &|_| (), &|_, _| Ok::<(), Infallible>(()));
                pool.install(run).expect("no sink that fails");
            })
        });
    }
    group.finish();
}

criterion_group! {
    name = benches;
    config = Criterion::default()
        .warm_up_time(Duration::from_millis(500))
        .measurement_time(Duration::from_secs(5));
    targets = night
}
criterion_main!(benches);
