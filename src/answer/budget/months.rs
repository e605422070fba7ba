//! Month by month: repairs, cost, money needed so far, days off the road.

use super::forecast::{Forecast, Year};
use super::outlook::{Has, of_samples, reserve};
use super::types::{BudgetQuestion, MonthOutlook};

/// Every month of the period.
pub fn months(question: &BudgetQuestion, forecast: &Forecast, has: Has) -> Vec<MonthOutlook> {
    let samples =
        |of: &dyn Fn(&Year) -> f64| -> Vec<f64> { forecast.years.iter().map(of).collect() };
    let money = |x| has.money.major(x);
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
                count: of_samples(counts, |x| x),
                cost: costs.map(|costs| of_samples(costs, money)),
                reserve_so_far: so_far
                    .clone()
                    .map(|costs| reserve(costs, has.confidence, has.money)),
                cost_so_far: so_far.map(|costs| of_samples(costs, money)),
                downtime_days: days.map(|days| of_samples(days, |x| x)),
            })
        })
        .collect()
}
