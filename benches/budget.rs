//! How long a budget takes as the fleet and the number of draws grow: the counts and costs of 100 000 units under 1000 draws are a
//! matter of seconds, because units become cells and counts go through power sums.

use boretally::answer::budget::fleet::{Unit, cells};
use boretally::answer::budget::forecast::{Amounts, Repeats, Setting, forecast};
use boretally::stats::borrowed_amounts::BorrowedAmounts;
use boretally::stats::pooled_weibull::{Draw, Life};
use criterion::{BenchmarkId, Criterion, criterion_group, criterion_main};
use rand::SeedableRng;
use rand_chacha::ChaCha8Rng;

const FAMILIES: usize = 9;

fn units(count: i64) -> Vec<Unit> {
    (0..count)
        .map(|i| Unit {
            label: i.to_string(),
            line: 0,
            family: (i % FAMILIES as i64) as usize,
            start_m: (i * 7919) % 400_000 * 1000,
            planned_m: (5_000 + (i * 104_729) % 40_000) * 1000,
            is_planned: true,
            repaired: i % 9 == 0,
        })
        .collect()
}

fn draws(count: usize) -> Vec<Draw> {
    let life = |i: usize| Life {
        level: 0.2 + 0.001 * (i % 100) as f64,
        shape: 1.5 + 0.01 * (i % 70) as f64,
        log_reference: 2e8f64.ln(),
    };
    (0..count)
        .map(|i| Draw {
            lives: (0..FAMILIES).map(|f| life(i * 7 + f * 13)).collect(),
        })
        .collect()
}

fn costs() -> Amounts {
    let group_of: Vec<Option<usize>> = (0..400).map(|i| Some(i % FAMILIES)).collect();
    Amounts {
        borrowed: BorrowedAmounts::new(&group_of, FAMILIES).unwrap(),
        costs: (0..400)
            .map(|i| 200_000.0 + 1000.0 * f64::from(i))
            .collect(),
    }
}

fn budgets(c: &mut Criterion) {
    let mut group = c.benchmark_group("forecast");
    group.sample_size(10);
    let costs = costs();
    for (size, count) in [
        (1_000, 100),
        (10_000, 100),
        (100_000, 100),
        (100_000, 1_000),
    ] {
        let units = units(size);
        let draws = draws(count);
        let name = BenchmarkId::from_parameter(format!("{size} units, {count} draws"));
        group.bench_function(name, |b| {
            b.iter(|| {
                let (cells, _) = cells(&units);
                let setting = Setting {
                    cells: &cells,
                    families: FAMILIES,
                    draws: &draws,
                    repeats: Repeats::new(10, 9.0),
                    months: 12,
                    costs: Some(&costs),
                    days: None,
                    a_draw: 1,
                };
                forecast(&setting, &mut ChaCha8Rng::seed_from_u64(1))
            });
        });
    }
    group.finish();
}

criterion_group!(benches, budgets);
criterion_main!(benches);
