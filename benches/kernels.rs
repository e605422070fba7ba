//! The inner loops of answers, each at sizes where its way of computing changes: one interval, one curve, one fit.

use std::hint::black_box;

use boretally::stats::lifetime::{Family, Observed, fit};
use boretally::stats::poisson_rate::garwood;
use boretally::stats::proportion::clopper_pearson;
use boretally::stats::survival::{KaplanMeier, Life, RiskTable};
use criterion::{BenchmarkId, Criterion, criterion_group, criterion_main};

fn intervals(c: &mut Criterion) {
    let mut group = c.benchmark_group("interval");
    for count in [0, 1, 10, 1_000, 1_000_000] {
        group.bench_with_input(BenchmarkId::new("garwood", count), &count, |b, count| {
            b.iter(|| garwood(black_box(*count), 1e6, 0.95));
        });
        let id = BenchmarkId::new("clopper_pearson", count);
        group.bench_with_input(id, &count, |b, count| {
            b.iter(|| clopper_pearson(black_box(*count), 10_000_000, 0.95));
        });
    }
    group.finish();
}

/// Lives with late entry, one in ten failed, at whole kilometres.
fn lives(count: u64) -> RiskTable {
    let life = |i: u64| {
        let entry = i * 7919 % 200_000;
        Life {
            entry: entry as f64,
            exit: (entry + 1 + i * 104_729 % 150_000) as f64,
            failed: i.is_multiple_of(10),
        }
    };
    let lives: Vec<Life> = (0..count).map(life).collect();
    RiskTable::from_lives(&lives)
        .expect("lives of finite distances")
        .table
}

fn curves(c: &mut Criterion) {
    let mut group = c.benchmark_group("life");
    for count in [100, 10_000, 1_000_000] {
        let table = lives(count);
        group.bench_with_input(BenchmarkId::new("kaplan_meier", count), &table, |b, t| {
            b.iter(|| KaplanMeier::new(black_box(t)));
        });
        let observed = Observed::from_table(&table);
        group.bench_with_input(BenchmarkId::new("weibull", count), &observed, |b, o| {
            b.iter(|| fit(Family::Weibull, black_box(o)));
        });
    }
    group.finish();
}

criterion_group!(benches, intervals, curves);
criterion_main!(benches);
