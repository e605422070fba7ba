//! What odds are learnt with, against SciPy 1.17.1 and R 4.2.2 on the same small tables.

use boretally::stats::dirichlet_multinomial::{Group, concentration, ln_likelihood, posterior};
use boretally::stats::forecast_score::slope;
use boretally::stats::latent_class::{Item, Pattern, TwoClasses, fit};

use crate::assert_relative;

fn groups() -> Vec<Group> {
    let group = |counts: [u64; 3], means: [f64; 3], weight| Group {
        counts: counts.to_vec(),
        means: means.to_vec(),
        weight,
    };
    vec![
        group([12, 3, 1], [0.5, 0.3, 0.2], 1.0),
        group([4, 9, 0], [0.5, 0.3, 0.2], 2.0),
        group([30, 11, 14], [0.6, 0.2, 0.2], 1.0),
        group([0, 2, 5], [0.4, 0.3, 0.3], 0.5),
    ]
}

/// `scipy.stats.dirichlet_multinomial.logpmf`, summed; its maximum by `scipy.optimize.minimize_scalar`.
#[test]
fn concentration_is_that_of_scipy() {
    let groups = groups();
    let at = |k| ln_likelihood(&groups, k);
    assert_relative(
        "7 against 40",
        at(7.0) - at(40.0),
        1.0571709862632659,
        1e-12,
    );
    assert_relative(
        "0.3 against 7",
        at(0.3) - at(7.0),
        -7.179912062960021,
        1e-12,
    );
    // SciPy's own search ends where the curve is flat to its rounding.
    let best = concentration(&groups, 0.1, 1e4).unwrap();
    assert_relative("maximum", best, 5.878995961155525, 1e-6);
}

/// Expectations over a log-uniform concentration by `scipy.integrate.quad`; here over the points of a grid.
#[test]
fn weight_over_all_concentrations_is_that_of_scipy() {
    let all = posterior(&groups(), 0.1, 1e4).unwrap();
    assert_relative("5 cases", all.weight(5), 11.02859083908863, 1e-4);
    assert_relative("50 cases", all.weight(50), 26.51604339282072, 1e-4);
}

/// The best of 40 starts of `scipy.optimize.minimize` (Nelder-Mead) on the same penalised likelihood.
#[test]
fn chances_in_two_classes_are_those_of_scipy() {
    let item = |mean, weight| Item { mean, weight };
    let items = [item(0.8, 4.0), item(0.4, 10.0), item(0.6, 3.0)];
    let pattern = |results: &[(usize, bool)], count| Pattern {
        results: results.to_vec(),
        count,
    };
    let patterns = [
        pattern(&[(0, true)], 120.0),
        pattern(&[(0, false), (1, true)], 18.0),
        pattern(&[(0, false), (1, false), (2, true)], 14.0),
        pattern(&[(0, false), (1, false), (2, false)], 9.0),
        pattern(&[(1, true), (2, false)], 25.0),
        pattern(&[(0, true), (2, true)], 31.0),
    ];
    let fitted = fit(TwoClasses::new(0.7, 0.6).unwrap(), &items, &patterns).unwrap();
    assert_relative("height", fitted.log_posterior, -210.66550562385558, 1e-10);
    let wanted = [0.771495250013037, 0.7602965248393431, 0.5638135632148829];
    for (i, wanted) in wanted.into_iter().enumerate() {
        assert_relative(&format!("item {i}"), fitted.chances[i], wanted, 1e-5);
    }
}

/// `glm(y ~ 0 + qlogis(p), binomial)` of R 4.2.2.
#[test]
fn slope_of_two_classes_is_that_of_r() {
    let said = [
        0.8, 0.7, 0.6, 0.9, 0.55, 0.3, 0.2, 0.65, 0.85, 0.4, 0.75, 0.5,
    ];
    let happened = [1, 1, 0, 1, 1, 0, 1, 0, 1, 0, 1, 0];
    let forecasts: Vec<Vec<f64>> = said.iter().map(|p| vec![1.0 - p, *p]).collect();
    let found = slope(&forecasts, &happened).unwrap().unwrap();
    assert_relative("slope", found.slope, 1.01793170095315, 1e-10);
    assert_relative("error", found.standard_error, 0.689820055450382, 1e-8);
}

/// The most probable power by `scipy.optimize.minimize_scalar`.
#[test]
fn slope_of_three_classes_is_that_of_scipy() {
    let forecasts = [
        [0.7, 0.2, 0.1],
        [0.5, 0.3, 0.2],
        [0.2, 0.2, 0.6],
        [0.1, 0.8, 0.1],
        [0.4, 0.35, 0.25],
        [0.9, 0.05, 0.05],
        [0.3, 0.3, 0.4],
        [0.25, 0.6, 0.15],
    ];
    let forecasts: Vec<Vec<f64>> = forecasts.iter().map(|f| f.to_vec()).collect();
    let found = slope(&forecasts, &[0, 1, 2, 1, 0, 0, 0, 1])
        .unwrap()
        .unwrap();
    assert_relative("slope", found.slope, 2.451612569669408, 1e-6);
}
