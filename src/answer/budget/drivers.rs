//! What the width of the range comes from: chance, few failures, few recorded costs, family by family.

use super::forecast::Expectation;
use super::types::Driver;
use crate::stats::aggregate::Moments;

/// Splits the variance of the total cost (or of the count, without costs) by the law of total variance: within a draw it is chance;
/// between draws it is what few records leave open, the part with the cost at its mean being the lives', the rest the costs'.
/// What families share (they borrow from each other) is a row of its own. Largest share first.
pub fn drivers(expectations: &[Vec<Expectation>], families: &[String], costs: bool) -> Vec<Driver> {
    let n = (expectations.len() as f64).max(1.0);
    let of = |i: usize| -> Vec<Expectation> {
        let draws = expectations.iter();
        draws.filter_map(|d| d.get(i).copied()).collect()
    };
    let one = Moments {
        mean: 1.0,
        ..Moments::default()
    };
    let cost = |e: &Expectation| if costs { e.cost } else { one };
    let mut rows = Vec::new();
    let mut sums = vec![0.0; expectations.len()];
    let (mut chance_sum, mut between_sum) = (0.0, 0.0);
    for (i, family) in families.iter().enumerate() {
        let draws = of(i);
        let mean_cost = draws.iter().map(|e| cost(e).mean).sum::<f64>() / n;
        let within = draws
            .iter()
            .map(|e| Moments::of_total(e.count, cost(e)).variance);
        let chance = within.sum::<f64>() / n;
        let totals: Vec<f64> = draws.iter().map(|e| e.count.mean * cost(e).mean).collect();
        let counts: Vec<f64> = draws.iter().map(|e| e.count.mean * mean_cost).collect();
        let between = variance(&totals);
        let life = variance(&counts).min(between);
        for (sum, total) in sums.iter_mut().zip(&totals) {
            *sum += total;
        }
        chance_sum += chance;
        between_sum += between;
        rows.push((family.clone(), chance, life, between - life));
    }
    let all = chance_sum + variance(&sums);
    // Families borrow from each other, so their errors lean the same way.
    let shared = (variance(&sums) - between_sum).max(0.0);
    rows.push(("all".to_string(), 0.0, shared, 0.0));
    let total = all.max(chance_sum + between_sum).max(f64::MIN_POSITIVE);
    let mut rows: Vec<Driver> = rows
        .into_iter()
        .map(|(family, chance, life, costs)| Driver {
            family,
            share: (chance + life + costs) / total,
            chance: chance / total,
            few_failures: life / total,
            few_costs: costs / total,
        })
        .filter(|row| row.share > 0.0)
        .collect();
    rows.sort_by(|a, b| b.share.total_cmp(&a.share).then(a.family.cmp(&b.family)));
    rows
}

fn variance(values: &[f64]) -> f64 {
    let n = (values.len() as f64).max(1.0);
    let mean = values.iter().sum::<f64>() / n;
    values.iter().map(|v| (v - mean).powi(2)).sum::<f64>() / n
}

#[cfg(test)]
mod tests {
    use super::*;

    fn expectation(count: f64, cost: f64, spread: f64) -> Expectation {
        Expectation {
            count: Moments {
                mean: count,
                variance: count,
                third: count,
            },
            cost: Moments {
                mean: cost,
                variance: spread,
                third: 0.0,
            },
        }
    }

    /// One family, two draws: chance 5 (1 + 9) and 7 (1 + 9) on average, lives (15 - 21)^2 / 4.
    #[test]
    fn shares_by_hand() {
        let draws = [
            vec![expectation(5.0, 3.0, 1.0)],
            vec![expectation(7.0, 3.0, 1.0)],
        ];
        let rows = drivers(&draws, &["f".to_string()], true);
        let total = 60.0 + 9.0;
        assert_eq!(rows.len(), 1);
        assert!((rows[0].chance - 60.0 / total).abs() < 1e-12);
        assert!((rows[0].few_failures - 9.0 / total).abs() < 1e-12);
        assert_eq!(rows[0].few_costs, 0.0);
    }
}
