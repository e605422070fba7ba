//! Outside figures: every expected number here comes from another program, a publication or a closed form, named beside it.

mod aggregate;
mod clusters;
mod competing_risks;
mod constant_rate;
mod data;
mod diagnostic_accuracy;
mod empirical_bayes;
mod expected;
mod learnt_odds;
mod lifetime;
mod multinomial;
mod multiple_comparisons;
mod poisson_rates;
mod predicted_failures;
mod proportions;
mod rate_ratio;
mod readings;
mod recurrence;
mod special_functions;
mod survival;
mod table;
mod test_order;
mod trouble_codes;
mod units;
mod vin;

/// Panics unless `got` is within the relative tolerance of `expected` (absolute where `expected` is 0).
#[track_caller]
pub fn assert_relative(label: &str, got: f64, expected: f64, tolerance: f64) {
    let error = if expected == 0.0 {
        got.abs()
    } else {
        (got / expected - 1.0).abs()
    };
    assert!(
        error <= tolerance,
        "{label}: {got:e} against {expected:e}, relative error {error:.2e}"
    );
}
