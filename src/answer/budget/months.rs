//! Month by month: repairs, cost, money needed so far, days off the road.

use super::forecast::{Forecast, Year};
use super::outlook::{Has, expected_cost, of_samples, reserve};
use super::types::{BudgetQuestion, Expected, MonthOutlook};

/// Every month of the period.
pub fn months(question: &BudgetQuestion, forecast: &Forecast, has: Has) -> Vec<MonthOutlook> {
    let samples =
        |of: &dyn Fn(&Year) -> f64| -> Vec<f64> { forecast.years.iter().map(of).collect() };
    let money = |x| has.money.major(x);
    // Simulated years share out over the months what is expected of the whole, so that months add up to it.
    let of_years = |of: &dyn Fn(&Year) -> f64| {
        let simulated = samples(of);
        simulated.iter().sum::<f64>() / (simulated.len() as f64).max(1.0)
    };
    let per = |whole: f64, simulated: f64| match simulated > 0.0 {
        true => whole / simulated,
        false => 1.0,
    };
    let per_count = per(
        forecast.total.mean(),
        of_years(&|y| y.month_counts.iter().map(|n| *n as f64).sum()),
    );
    let per_cost = per(
        expected_cost(forecast, None),
        of_years(&|y| y.month_costs.iter().sum()),
    );
    let shared_out = |samples: Vec<f64>, per: f64, show: &dyn Fn(f64) -> f64| {
        let expected = show(per * samples.iter().sum::<f64>() / (samples.len() as f64).max(1.0));
        Expected {
            expected,
            ..of_samples(samples, show)
        }
    };
    (0..question.months)
        .filter_map(|month| {
            let place = month as usize;
            let at = |list: &[f64]| list.get(place).copied().unwrap_or(0.0);
            let counts = samples(&|y| y.month_counts.get(place).copied().unwrap_or(0) as f64);
            let costs = has.costs.then(|| samples(&|y| at(&y.month_costs)));
            let so_far = has
                .costs
                .then(|| samples(&|y| y.month_costs.iter().take(place + 1).sum()));
            let days = has.days.then(|| samples(&|y| at(&y.month_days)));
            Some(MonthOutlook {
                month: month + 1,
                from: question.from.plus_months(month)?,
                count: shared_out(counts, per_count, &|x| x),
                cost: costs.map(|costs| shared_out(costs, per_cost, &money)),
                reserve_so_far: so_far
                    .clone()
                    .map(|costs| reserve(costs, has.confidence, has.money)),
                cost_so_far: so_far.map(|costs| shared_out(costs, per_cost, &money)),
                downtime_days: days.map(|days| of_samples(days, |x| x)),
            })
        })
        .collect()
}
