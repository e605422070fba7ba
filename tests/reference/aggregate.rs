//! Counts and totals of independent events against exact fractions, other programs and SciPy (`data/aggregate.json`).

use boretally::stats::aggregate::{Amounts, Distribution, Moments, Part, Recurring, count, total};
use boretally::stats::lifetime::{Family, Observed, fit};
use serde_json::Value;

use crate::assert_relative;
use crate::expected::{expected, figure, figures};
use crate::predicted_failures::bearing_cages;

fn assert_close(label: &str, got: f64, wanted: f64, tolerance: f64) {
    let off = (got - wanted).abs();
    assert!(
        off <= tolerance,
        "{label}: {got:e} against {wanted:e}, off by {off:.1e}"
    );
}

fn once(probability: f64) -> Part<'static> {
    Part::Once {
        units: 1,
        probability,
    }
}

fn assert_quantiles(got: &Distribution, wanted: &Value) {
    for (p, value) in wanted.as_object().unwrap() {
        let quantile = got.quantile(p.parse().unwrap());
        assert_eq!(quantile as f64, figure(value), "quantile {p}");
    }
}

#[test]
fn pbn_01_poisson_binomial() {
    for (name, case) in expected("aggregate.json")["poisson_binomial"]
        .as_object()
        .unwrap()
    {
        let parts: Vec<Part> = figures(&case["p"]).into_iter().map(once).collect();
        let got = count(&parts);
        for (k, wanted) in figures(&case["pmf"]).into_iter().enumerate() {
            assert_close(
                &format!("{name} P({k})"),
                got.probability(k as u64),
                wanted,
                1e-14,
            );
        }
        assert_relative("mean", got.mean(), figure(&case["mean"]), 1e-13);
        assert_relative("variance", got.variance(), figure(&case["var"]), 1e-13);
        assert_quantiles(&got, &case["quantiles"]);
    }
}

/// Every subset of the units that fail, written out.
#[test]
fn small_fleets_equal_the_list_of_all_outcomes() {
    for seed in 1u32..6 {
        let chances: Vec<f64> = (0..12u32)
            .map(|i| f64::from((i * i * 31 + seed * 97) % 101) / 101.0)
            .collect();
        let mut listed = [0.0; 13];
        for outcome in 0u32..1 << 12 {
            let p = (0..12).fold(1.0, |p, i| {
                let fails = outcome >> i & 1 == 1;
                p * if fails { chances[i] } else { 1.0 - chances[i] }
            });
            listed[outcome.count_ones() as usize] += p;
        }
        let parts: Vec<Part> = chances.iter().copied().map(once).collect();
        let got = count(&parts);
        // Units that cannot fail again are the same thing, said by their hazard.
        let mut units = Recurring::new(0.0);
        chances.iter().for_each(|p| units.add(1.0, -(-p).ln_1p()));
        let by_hazard = count(&[Part::Recurring(&units)]);
        for (k, wanted) in listed.into_iter().enumerate() {
            assert_close(&format!("P({k})"), got.probability(k as u64), wanted, 1e-14);
            assert_close(
                &format!("P({k})"),
                by_hazard.probability(k as u64),
                wanted,
                1e-14,
            );
        }
    }
}

#[test]
fn large_fleet_equals_scipy() {
    let file = expected("aggregate.json");
    let wanted = &file["large_fleet"];
    let parts: Vec<Part> = (0..1500u32)
        .map(|i| once(0.002 + 0.3 * (f64::from(37 * i % 1500) / 1500.0).powi(3)))
        .collect();
    let got = count(&parts);
    assert_relative("mean", got.mean(), figure(&wanted["mean"]), 1e-12);
    assert_relative(
        "variance",
        got.variance(),
        figure(&wanted["variance"]),
        1e-11,
    );
    for (k, p) in wanted["pmf"].as_object().unwrap() {
        assert_close(k, got.probability(k.parse().unwrap()), figure(p), 1e-13);
    }
    assert_quantiles(&got, &wanted["quantiles"]);
}

#[test]
fn pre_01_prb_01_failures_within_the_next_300_hours() {
    let file = expected("aggregate.json");
    let (wanted, twin) = (&file["next_300_h"], &file["next_300_h_twin"]);
    let table = bearing_cages();
    let fit = fit(Family::Weibull, &Observed::from_table(&table)).unwrap();
    let running = table.rows().iter().filter(|row| row.left > 0);
    let parts: Vec<Part> = running
        .map(|row| Part::Once {
            units: row.left,
            probability: fit.failure_probability(row.distance, row.distance + 300.0),
        })
        .collect();
    let next = count(&parts);
    assert_relative("expected", next.mean(), figure(&wanted["expected"]), 1e-8);
    assert_relative("expected", next.mean(), figure(&twin["expected"]), 1e-8);
    assert_relative(
        "variance",
        next.variance(),
        figure(&wanted["var_binomial"]),
        1e-8,
    );
    for (k, p) in figures(&wanted["pmf_0_to_20"]).into_iter().enumerate() {
        assert_relative(&format!("P({k})"), next.probability(k as u64), p, 1e-8);
    }
    let mut below = 0.0;
    let listed = figures(&twin["poisson_binomial_cdf_0_to_15"]);
    for (k, p) in listed.into_iter().enumerate() {
        below += next.probability(k as u64);
        assert_relative(&format!("up to {k}"), below, p, 1e-8);
    }
    assert_quantiles(&next, &wanted["plug_in_quantiles"]);
}

#[test]
fn bud_01_compound_poisson_total() {
    let file = expected("aggregate.json");
    let wanted = &file["compound_poisson"];
    let amounts = Amounts::new(vec![0.0, 0.4, 0.3, 0.2, 0.0, 0.1]);
    let events = Part::Poisson { mean: 2.0 };
    let got = total(&[(events, &amounts)]);
    let mut below = 0.0;
    let listed = figures(&wanted["pmf_0_to_15"]);
    for (k, (p, up_to)) in listed
        .iter()
        .zip(figures(&wanted["cdf_0_to_15"]))
        .enumerate()
    {
        assert_close(&format!("P({k})"), got.probability(k as u64), *p, 1e-15);
        below += got.probability(k as u64);
        assert_close(&format!("up to {k}"), below, up_to, 1e-15);
    }
    for (p, name) in [(0.9, "q90"), (0.95, "q95"), (0.99, "q99")] {
        assert_eq!(got.quantile(p) as f64, figure(&wanted[name]), "{name}");
    }
    let excess = figure(&wanted["stop_loss_at_8"]);
    assert_relative("excess over 8", got.excess(8), excess, 1e-12);
    let moments = Moments::of_total(events.moments(), amounts.moments());
    assert_relative("mean", moments.mean, figure(&wanted["mean"]), 1e-14);
    assert_relative(
        "variance",
        moments.variance,
        figure(&wanted["variance"]),
        1e-14,
    );
    assert_relative(
        "skewness",
        moments.skewness(),
        figure(&wanted["skewness"]),
        1e-14,
    );
    let z = boretally::stats::special::norm_quantile(0.95);
    let power = figure(&wanted["normal_power_q95"]);
    assert_relative("normal power", moments.normal_power(z), power, 1e-12);
    let normal = Moments {
        third: 0.0,
        ..moments
    }
    .normal_power(z);
    assert_relative(
        "normal",
        normal,
        figure(&wanted["normal_approx_q95"]),
        1e-12,
    );
}

#[test]
fn bud_02_gamma_poisson_predictive_count() {
    let file = expected("aggregate.json");
    let wanted = &file["gamma_poisson"];
    let shape = figure(&wanted["posterior_shape"]);
    let mean = shape / figure(&wanted["posterior_rate"]) * figure(&wanted["horizon"]);
    let part = Part::GammaPoisson { shape, mean };
    let got = count(&[part]);
    for (k, p) in figures(&wanted["pmf_0_to_10"]).into_iter().enumerate() {
        assert_relative(&format!("P({k})"), got.probability(k as u64), p, 1e-12);
    }
    assert_relative("mean", got.mean(), figure(&wanted["mean"]), 1e-12);
    assert_relative(
        "variance",
        got.variance(),
        figure(&wanted["variance"]),
        1e-12,
    );
    assert_relative(
        "variance",
        part.moments().variance,
        figure(&wanted["variance"]),
        1e-12,
    );
    assert_eq!(got.quantile(0.95) as f64, figure(&wanted["q95"]));
}

/// Each vehicle needs at most one repair and has its own list of costs.
#[test]
fn flb_01_total_cost_of_six_vehicles() {
    let file = expected("aggregate.json");
    let wanted = &file["six_vehicles"];
    let vehicles: Vec<(Part, Amounts)> = wanted["vehicles"]
        .as_array()
        .unwrap()
        .iter()
        .map(|vehicle| {
            let costs = vehicle["cost"].as_object().unwrap();
            let costs = costs
                .iter()
                .map(|(cost, p)| (cost.parse().unwrap(), figure(p)));
            (once(figure(&vehicle["q"])), Amounts::on_lattice(costs, 1.0))
        })
        .collect();
    let parts: Vec<(Part, &Amounts)> = vehicles
        .iter()
        .map(|(part, costs)| (*part, costs))
        .collect();
    let got = total(&parts);
    for (cost, p) in wanted["pmf"].as_object().unwrap() {
        let value = got.probability(cost.parse().unwrap());
        assert_close(cost, value, figure(p), 1e-15);
    }
    assert_relative("mean", got.mean(), figure(&wanted["mean"]), 1e-12);
    assert_relative("variance", got.variance(), figure(&wanted["var"]), 1e-12);
    let excess = figure(&wanted["expected_excess_over_20"]);
    assert_relative("excess over 20", got.excess(20), excess, 1e-12);
    assert_quantiles(&got, &wanted["quantile"]);
}
