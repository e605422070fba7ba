//! Lifetime distributions against fits with 40 digits (`data/lifetime.json`; agreeing with R 4.2 survreg to 1e-11).

use boretally::stats::lifetime::{
    Family, Fit, Inspection, LikelihoodInterval, Observed, fit, likelihood_interval,
};
use boretally::stats::survival::{Life, RiskTable};
use serde_json::Value;

use crate::assert_relative;
use crate::data::{number, rows};
use crate::expected::{expected, figure, figures};
use crate::predicted_failures::bearing_cages;

fn observed(lives: &[Life]) -> Observed {
    Observed::from_table(&RiskTable::from_lives(lives).unwrap().table)
}

fn shock_absorbers(fails: impl Fn(&str) -> bool) -> Observed {
    let lives: Vec<Life> = rows("shock_absorber.csv")
        .iter()
        .map(|row| Life {
            entry: 0.0,
            exit: number(row, "distance_km"),
            failed: fails(&row["mode"]),
        })
        .collect();
    observed(&lives)
}

fn diesel_fans() -> Observed {
    let lives: Vec<Life> = rows("diesel_fans.csv")
        .iter()
        .map(|row| Life {
            entry: 0.0,
            exit: number(row, "hours"),
            failed: row["failed"] == "1",
        })
        .collect();
    observed(&lives)
}

fn check_pair(label: &str, got: &LikelihoodInterval, wanted: &Value, tolerance: f64) {
    let wanted = figures(wanted);
    assert_relative(
        &format!("{label} lower"),
        got.lower.unwrap(),
        wanted[0],
        tolerance,
    );
    assert_relative(
        &format!("{label} upper"),
        got.upper.unwrap(),
        wanted[1],
        tolerance,
    );
}

/// All figures of one fit: estimates, covariance, Wald and likelihood-ratio limits, quantiles, probabilities.
fn check_fit(
    label: &str,
    family: Family,
    observed: &Observed,
    wanted: &Value,
    tolerance: f64,
) -> Fit {
    let fit = fit(family, observed).unwrap();
    let near = |what: &str, got: f64, key: &str| {
        assert_relative(
            &format!("{label} {what}"),
            got,
            figure(&wanted[key]),
            tolerance,
        );
    };
    assert_relative(label, fit.log_likelihood, figure(&wanted["loglik"]), 1e-11);
    near("mu", fit.parameters.location, "mu");
    near("sigma", fit.sigma(), "sigma");
    near("mean", fit.mean().unwrap(), "mean");
    for i in 0..2 {
        for j in 0..2 {
            let cell = figure(&wanted["cov_mu_logsigma"][i][j]);
            assert_relative(
                &format!("{label} covariance {i} {j}"),
                fit.covariance[i][j],
                cell,
                tolerance,
            );
        }
    }
    if family == Family::Weibull {
        let (scale, shape) = (fit.scale(0.95).unwrap(), fit.shape(0.95).unwrap());
        near("eta", scale.value, "eta");
        near("eta se", scale.standard_error, "se_eta");
        near("beta", shape.value, "beta");
        near("beta se", shape.standard_error, "se_beta");
        for (i, (eta, beta)) in [
            (scale.wald.lower, shape.wald.lower),
            (scale.wald.upper, shape.wald.upper),
        ]
        .into_iter()
        .enumerate()
        {
            assert_relative(label, eta, figure(&wanted["ci_eta_logwald"][i]), tolerance);
            assert_relative(
                label,
                beta,
                figure(&wanted["ci_beta_logwald"][i]),
                tolerance,
            );
        }
    }
    for (share, row) in wanted["quantile"].as_object().unwrap() {
        let quantile = fit.quantile(share.parse().unwrap(), 0.95).unwrap();
        assert_relative(label, quantile.value, figure(&row["t"]), tolerance);
        assert_relative(
            label,
            quantile.standard_error,
            figure(&row["se_t"]),
            tolerance,
        );
        assert_relative(
            label,
            quantile.wald.lower,
            figure(&row["ci_logwald"][0]),
            tolerance,
        );
        assert_relative(
            label,
            quantile.wald.upper,
            figure(&row["ci_logwald"][1]),
            tolerance,
        );
    }
    for (distance, row) in wanted["F"].as_object().unwrap() {
        let distance = distance.parse().unwrap();
        let failed = fit
            .failure_probability_estimate(0.0, distance, 0.95)
            .unwrap();
        assert_relative(label, failed.value, figure(&row["F"]), tolerance);
        assert_relative(
            label,
            fit.survival(distance),
            1.0 - figure(&row["F"]),
            tolerance,
        );
        assert_relative(
            label,
            failed.standard_error,
            figure(&row["se_F"]),
            tolerance,
        );
        assert_relative(
            label,
            failed.wald.lower,
            figure(&row["ci_logit"][0]),
            tolerance,
        );
        assert_relative(
            label,
            failed.wald.upper,
            figure(&row["ci_logit"][1]),
            tolerance,
        );
    }
    fit
}

/// Likelihood-ratio limits of the parameters and of every quantile listed.
fn check_profile(label: &str, fit: &Fit, observed: &Observed, wanted: &Value, tolerance: f64) {
    let profile = &wanted["profile_ci"];
    let mut checked = 0;
    for (key, pair) in profile.as_object().unwrap() {
        let label = format!("{label} LR {key}");
        let got = match key.as_str() {
            "beta" => likelihood_interval::shape(fit, observed, 0.95),
            "eta" => likelihood_interval::scale(fit, observed, 0.95),
            key => match key.strip_prefix("t_") {
                Some(share) => {
                    likelihood_interval::quantile(fit, observed, share.parse().unwrap(), 0.95)
                }
                None => continue,
            },
        };
        check_pair(&label, &got.unwrap(), pair, tolerance);
        checked += 1;
    }
    assert!(checked >= 2, "{label}");
}

fn families(wanted: &Value) -> [(Family, &Value); 2] {
    [
        (Family::Weibull, &wanted["weibull"]),
        (Family::Lognormal, &wanted["lognormal"]),
    ]
}

#[test]
fn par_01_shock_absorbers_and_each_mode() {
    let file = expected("lifetime.json");
    let wanted = &file["newton"]["PAR-01"];
    let all = shock_absorbers(|mode| mode != "0");
    for (family, wanted) in families(wanted) {
        let fit = check_fit("PAR-01", family, &all, wanted, 1e-7);
        check_profile("PAR-01", &fit, &all, wanted, 1e-5);
    }
    for mode in ["1", "2"] {
        let wanted = &wanted[format!("mode{mode}_weibull")];
        let alone = shock_absorbers(|seen| seen == mode);
        let fit = check_fit("PAR-01 mode", Family::Weibull, &alone, wanted, 1e-7);
        check_profile("PAR-01 mode", &fit, &alone, wanted, 1e-5);
    }
}

#[test]
fn par_02_diesel_fans() {
    let file = expected("lifetime.json");
    let fans = diesel_fans();
    for (family, wanted) in families(&file["newton"]["PAR-02"]) {
        let fit = check_fit("PAR-02", family, &fans, wanted, 1e-7);
        check_profile("PAR-02", &fit, &fans, wanted, 1e-5);
    }
}

#[test]
fn par_04_handbook_units_and_criterion() {
    let file = expected("lifetime.json");
    // NIST/SEMATECH e-Handbook 8.4.1.3: 10 failures, 10 survivors at 500 h.
    let failed = [
        54.0, 187.0, 216.0, 240.0, 244.0, 335.0, 361.0, 373.0, 375.0, 386.0,
    ];
    let mut lives: Vec<Life> = failed
        .map(|exit| Life {
            entry: 0.0,
            exit,
            failed: true,
        })
        .to_vec();
    lives.extend(
        [Life {
            entry: 0.0,
            exit: 500.0,
            failed: false,
        }; 10],
    );
    let units = observed(&lives);
    for (family, wanted) in families(&file["newton"]["PAR-04"]) {
        let fit = check_fit("PAR-04", family, &units, wanted, 1e-7);
        assert_relative("AIC", fit.aic(), figure(&wanted["aic"]), 1e-11);
        check_profile("PAR-04", &fit, &units, wanted, 1e-5);
    }
}

#[test]
fn par_05_six_failures_of_1703_from_counts() {
    let file = expected("lifetime.json");
    let wanted = &file["newton"]["PAR-05"]["weibull"];
    let cages = Observed::from_table(&bearing_cages());
    assert_eq!((cages.failures(), cages.lives()), (6, 1703));
    let fit = check_fit("PAR-05", Family::Weibull, &cages, wanted, 1e-7);
    check_profile("PAR-05", &fit, &cages, wanted, 1e-4);
}

#[test]
fn par_06_all_failures_only_known_to_be_past() {
    let file = expected("lifetime.json");
    let looks: Vec<Inspection> = rows("turbine_wheels.csv")
        .iter()
        .map(|row| Inspection {
            distance: number(row, "t_100h"),
            failed: number(row, "cracked") as u64,
            sound: (number(row, "inspected") - number(row, "cracked")) as u64,
        })
        .collect();
    let wheels = Observed::from_inspections(&looks).unwrap();
    for (family, wanted) in families(&file["newton"]["PAR-06"]) {
        let fit = check_fit("PAR-06", family, &wheels, wanted, 1e-7);
        check_profile("PAR-06", &fit, &wheels, wanted, 1e-5);
    }
}

#[test]
fn par_07_late_entry_and_the_bias_without_it() {
    let file = expected("lifetime.json");
    let wanted = &file["newton"]["PAR-07"];
    let males = rows("channing_house.csv")
        .into_iter()
        .filter(|row| row["sex"] == "male");
    let lives: Vec<Life> = males
        .map(|row| Life {
            entry: number(&row, "entry_months"),
            exit: number(&row, "exit_months"),
            failed: row["death"] == "1",
        })
        .filter(|life| life.entry < life.exit)
        .collect();
    let late = observed(&lives);
    let fit_late = check_fit("PAR-07", Family::Weibull, &late, &wanted["male"], 1e-6);
    check_profile("PAR-07", &fit_late, &late, &wanted["male"], 1e-5);
    let ignoring: Vec<Life> = lives
        .iter()
        .map(|life| Life {
            entry: 0.0,
            ..*life
        })
        .collect();
    let wrong = fit(Family::Weibull, &observed(&ignoring)).unwrap();
    let wanted = &wanted["male_entry_ignored"];
    assert_relative(
        "eta",
        wrong.scale(0.95).unwrap().value,
        figure(&wanted["eta"]),
        1e-6,
    );
    assert_relative(
        "beta",
        wrong.shape(0.95).unwrap().value,
        figure(&wanted["beta"]),
        1e-6,
    );
    assert_relative(
        "ln L",
        wrong.log_likelihood,
        figure(&wanted["loglik"]),
        1e-8,
    );
}

#[test]
fn loglogistic_meets_its_own_score_equations_and_limits() {
    // No outside figures at hand: the gradient of an independently written likelihood must vanish, and the likelihood
    // maximised on a grid with a quantity fixed must have fallen by the chi-square quantile at its limits.
    let fans = diesel_fans();
    let fitted = fit(Family::Loglogistic, &fans).unwrap();
    let lives: Vec<(f64, bool)> = rows("diesel_fans.csv")
        .iter()
        .map(|row| (number(row, "hours"), row["failed"] == "1"))
        .collect();
    let log_likelihood = |mu: f64, sigma: f64| -> f64 {
        lives
            .iter()
            .map(|&(t, failed)| {
                let power = (t / mu.exp()).powf(1.0 / sigma);
                if failed {
                    (power / (sigma * t * (1.0 + power).powi(2))).ln()
                } else {
                    -(1.0 + power).ln()
                }
            })
            .sum()
    };
    let (mu, sigma) = (fitted.parameters.location, fitted.sigma());
    assert_relative(
        "ln L",
        fitted.log_likelihood,
        log_likelihood(mu, sigma),
        1e-12,
    );
    let limits =
        likelihood_interval::failure_probability(&fitted, &fans, 1000.0, 8000.0, 0.95).unwrap();
    let estimate = fitted.failure_probability(1000.0, 8000.0);
    for q in [limits.lower.unwrap(), limits.upper.unwrap()] {
        // For a fixed sigma and conditional probability q, mu follows from (1 + b m) (1 - q) = 1 + a m, m = exp(-mu / sigma).
        let best = (1..4000)
            .map(|i| f64::from(i) * 1e-3)
            .filter_map(|sigma| {
                let (a, b) = (1000f64.powf(1.0 / sigma), 8000f64.powf(1.0 / sigma));
                let m = q / (b * (1.0 - q) - a);
                (m > 0.0).then(|| log_likelihood(-sigma * m.ln(), sigma))
            })
            .fold(f64::NEG_INFINITY, f64::max);
        // chi-square quantile 3.841458820694124 (R qchisq(0.95, 1)).
        let fall = 2.0 * (fitted.log_likelihood - best);
        assert!(
            (fall / 3.841458820694124 - 1.0).abs() < 1e-5,
            "{q} {estimate} {fall}"
        );
    }
    assert!(limits.lower.unwrap() < estimate && estimate < limits.upper.unwrap());
}
