//! How the search for the best order of tests grows with their number, 6 to 14 tests of 20 causes at two severities.

use boretally::answer::test_order::learning::Learnt;
use boretally::answer::test_order::model::{Bay, Model};
use boretally::domain::catalog::Catalog;
use boretally::stats::test_order::{Effort, Solution};
use boretally::tally::test_order::TestOrderTally;
use criterion::{BenchmarkId, Criterion, criterion_group, criterion_main};

fn growth(c: &mut Criterion) {
    let Ok(catalog) = Catalog::embedded() else {
        return;
    };
    let mut group = c.benchmark_group("test_order");
    group.sample_size(10);
    let all: Vec<String> = catalog.matrix_tests().map(|t| t.id.clone()).collect();
    let tally = TestOrderTally::default();
    let Ok(learnt) = Learnt::new(&catalog, &tally) else {
        return;
    };
    let Ok(known) = learnt.of(None) else {
        return;
    };
    for tests in (6..=14).step_by(2) {
        let bay = Bay {
            without: all.iter().skip(tests).cloned().collect(),
            ..Bay::default()
        };
        let Ok(model) = Model::new(&known, &bay) else {
            return;
        };
        group.bench_with_input(BenchmarkId::from_parameter(tests), &model, |b, model| {
            b.iter(|| Solution::find(&model.problem, &model.course, Effort::default()).minutes);
        });
    }
    group.finish();
}

criterion_group!(benches, growth);
criterion_main!(benches);
