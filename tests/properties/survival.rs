//! Laws of the life estimates, tried on random lives: units, splitting, order and the edges must not matter, or be said.

use boretally::stats::competing_risks::{
    CompetingLife, CompetingTable, Incidence, VarianceFormula,
};
use boretally::stats::lifetime::{
    Family, Observed, Unfitted, exponential, fit, likelihood_interval, piecewise_exponential,
};
use boretally::stats::recurrence::{
    History, MeanCumulativeFunction, RecurrenceTable, RobustVariance,
};
use boretally::stats::survival::{
    KaplanMeier, Life, NelsonAalen, RiskTable, Transformation, quantile,
};
use proptest::prelude::*;

/// Lives on a coarse grid, so that ties are everywhere; some enter late.
fn lives() -> impl Strategy<Value = Vec<Life>> {
    let life = (0u32..6, 1u32..12, any::<bool>()).prop_map(|(entry, length, failed)| Life {
        entry: f64::from(entry),
        exit: f64::from(entry + length),
        failed,
    });
    prop::collection::vec(life, 1..40)
}

fn table(lives: &[Life]) -> RiskTable {
    RiskTable::from_lives(lives).unwrap().table
}

fn near(a: f64, b: f64, tolerance: f64) -> bool {
    a == b || (a - b).abs() <= tolerance * a.abs().max(b.abs())
}

proptest! {
    #![proptest_config(ProptestConfig { cases: 200, failure_persistence: None, ..ProptestConfig::default() })]

    #[test]
    fn order_of_lives_and_cutting_a_life_in_two_change_nothing(lives in lives()) {
        let whole = table(&lives);
        let backwards: Vec<Life> = lives.iter().rev().copied().collect();
        prop_assert_eq!(&table(&backwards), &whole);
        // A life cut at a distance: the first part leaves there, the second enters there.
        let cut: Vec<Life> = lives
            .iter()
            .flat_map(|life| {
                let middle = 0.5 * (life.entry + life.exit);
                [Life { exit: middle, failed: false, ..*life }, Life { entry: middle, ..*life }]
            })
            .collect();
        let (a, b) = (KaplanMeier::new(&whole).unwrap(), KaplanMeier::new(&table(&cut)).unwrap());
        prop_assert_eq!(a.steps(), b.steps());
        prop_assert!(near(whole.exposure(), table(&cut).exposure(), 1e-12));
    }

    #[test]
    fn risk_sets_are_those_counted_one_by_one(lives in lives(), at in 0u32..18) {
        let at = f64::from(at);
        let counted = lives.iter().filter(|life| life.entry < at && at <= life.exit).count();
        prop_assert_eq!(table(&lives).at_risk(at), counted as u64);
    }

    #[test]
    fn survival_falls_and_hazard_rises_within_their_limits(lives in lives()) {
        let table = table(&lives);
        let curve = KaplanMeier::new(&table).unwrap();
        let (mut before, mut hazard) = (1.0, 0.0);
        for (step, other) in curve.steps().iter().zip(NelsonAalen::new(&table).steps) {
            prop_assert!(step.survival <= before && step.survival >= 0.0);
            prop_assert!(other.cumulative_hazard > hazard);
            // 1 - x <= e^-x.
            prop_assert!(step.survival <= other.survival() + 1e-15);
            if let Ok(limits) = step.limits(Transformation::LogLog, 1.96) {
                prop_assert!(limits.lower >= 0.0 && limits.contains(step.survival) && limits.upper <= 1.0);
            }
            (before, hazard) = (step.survival, other.cumulative_hazard);
        }
    }

    #[test]
    fn without_censoring_and_late_entry_survival_is_the_share_left(exits in prop::collection::vec(1u32..20, 1..50)) {
        let lives: Vec<Life> = exits.iter().map(|&exit| Life { entry: 0.0, exit: f64::from(exit), failed: true }).collect();
        let curve = KaplanMeier::new(&table(&lives)).unwrap();
        for step in curve.steps() {
            let left = exits.iter().filter(|&&exit| f64::from(exit) > step.distance).count() as f64;
            let share = left / exits.len() as f64;
            prop_assert!((step.survival - share).abs() < 1e-13);
            if let Some(error) = step.standard_error() {
                prop_assert!(near(error, (share * (1.0 - share) / exits.len() as f64).sqrt(), 1e-10));
            }
        }
        let median = quantile(&curve, 0.5, Transformation::LogLog, 0.95).unwrap();
        let half = median.distance.unwrap();
        prop_assert!(curve.survival(half).unwrap() <= 0.5 + 1e-9);
    }

    #[test]
    fn incidences_and_survival_share_out_all_lives(lives in lives(), causes in prop::collection::vec(0usize..3, 40)) {
        let lives: Vec<CompetingLife> = lives
            .iter()
            .zip(&causes)
            .map(|(life, &cause)| CompetingLife { entry: life.entry, exit: life.exit, cause: life.failed.then_some(cause) })
            .collect();
        let (table, _) = CompetingTable::from_lives(3, &lives).unwrap();
        let incidence = Incidence::new(&table).unwrap();
        for step in incidence.steps() {
            prop_assert!((step.incidence.iter().sum::<f64>() + step.survival - 1.0).abs() < 1e-12);
        }
        for cause in 0..3 {
            for formula in [VarianceFormula::Greenwood, VarianceFormula::Aalen] {
                for variance in incidence.variance(cause, formula).unwrap() {
                    prop_assert!(variance >= -1e-12 && variance.is_finite(), "{formula:?} {variance}");
                }
            }
        }
    }

    #[test]
    fn one_cause_alone_is_one_minus_kaplan_meier_with_greenwoods_variance(lives in lives()) {
        let single: Vec<CompetingLife> = lives
            .iter()
            .map(|life| CompetingLife { entry: life.entry, exit: life.exit, cause: life.failed.then_some(0) })
            .collect();
        let incidence = Incidence::new(&CompetingTable::from_lives(1, &single).unwrap().0).unwrap();
        let curve = KaplanMeier::new(&table(&lives)).unwrap();
        let variance = incidence.variance(0, VarianceFormula::Greenwood).unwrap();
        for ((step, other), variance) in incidence.steps().iter().zip(curve.steps()).zip(variance) {
            prop_assert!((step.incidence[0] - (1.0 - other.survival)).abs() < 1e-12);
            if let Some(error) = other.standard_error() {
                prop_assert!((variance - error * error).abs() < 1e-11, "{variance} {error}");
            }
        }
    }

    #[test]
    fn fits_do_not_depend_on_the_unit_of_distance(lives in lives(), factor in 0.001f64..5000.0) {
        let scaled: Vec<Life> = lives.iter().map(|life| Life { entry: life.entry * factor, exit: life.exit * factor, ..*life }).collect();
        for family in Family::ALL {
            let (a, b) = (Observed::from_table(&table(&lives)), Observed::from_table(&table(&scaled)));
            match (fit(family, &a), fit(family, &b)) {
                (Ok(a), Ok(b)) => {
                    prop_assert!((a.parameters.location + factor.ln() - b.parameters.location).abs() < 1e-5 * (1.0 + a.sigma()));
                    prop_assert!((a.parameters.log_scale - b.parameters.log_scale).abs() < 1e-5);
                }
                (Err(_), Err(_)) => {}
                (a, b) => prop_assert!(false, "{family:?}: {a:?} against {b:?}"),
            }
        }
    }

    #[test]
    fn single_events_make_the_mean_cumulative_function_the_cumulative_hazard(lives in lives()) {
        let histories: Vec<History> = lives
            .iter()
            .map(|life| History::new(vec![(life.entry, life.exit)], life.failed.then_some((life.exit, 1.0)).into_iter().collect()).unwrap())
            .collect();
        let events = RecurrenceTable::from_histories(&histories).unwrap();
        let mean = MeanCumulativeFunction::new(&events);
        let hazard = NelsonAalen::new(&table(&lives));
        prop_assert_eq!(mean.steps.len(), hazard.steps.len());
        for (a, b) in mean.steps.iter().zip(&hazard.steps) {
            prop_assert!(near(a.mean, b.cumulative_hazard, 1e-13) && near(a.poisson_variance, b.variance, 1e-13));
        }
        // Twice the same vehicles: the same mean, half the robust variance.
        let at: Vec<f64> = mean.steps.iter().map(|step| step.distance).collect();
        let twice: Vec<History> = histories.iter().chain(&histories).cloned().collect();
        let double = MeanCumulativeFunction::new(&RecurrenceTable::from_histories(&twice).unwrap());
        let (mut single, mut pair) = (RobustVariance::new(&mean, at.clone()), RobustVariance::new(&double, at));
        histories.iter().for_each(|history| single.add(history));
        twice.iter().for_each(|history| pair.add(history));
        for ((_, one), (_, two)) in single.variances().zip(pair.variances()) {
            prop_assert!((one - 2.0 * two).abs() <= 1e-12 * (1.0 + one));
        }
    }

    #[test]
    fn one_band_is_the_constant_rate(lives in lives()) {
        let table = table(&lives);
        let bands = piecewise_exponential(&table, &[0.0], 0.95).unwrap();
        let constant = exponential(table.failures(), table.exposure(), 0.95).unwrap();
        prop_assert!(near(bands.bands[0].rate.unwrap().rate, constant.rate, 1e-12));
    }
}

fn observed(lives: &[(f64, f64, bool)]) -> Observed {
    let lives: Vec<Life> = lives
        .iter()
        .map(|&(entry, exit, failed)| Life {
            entry,
            exit,
            failed,
        })
        .collect();
    Observed::from_table(&table(&lives))
}

#[test]
fn too_few_failures_are_said_and_never_an_infinite_estimate() {
    let cases: [&[(f64, f64, bool)]; 4] = [
        &[(0.0, 5.0, false), (0.0, 9.0, false)],
        &[(0.0, 5.0, true), (0.0, 9.0, false)],
        &[(0.0, 5.0, true), (0.0, 5.0, true), (0.0, 5.0, true)],
        &[(0.0, 5.0, true), (0.0, 5.0, true), (0.0, 9.0, false)],
    ];
    for family in Family::ALL {
        for lives in cases {
            let outcome = fit(family, &observed(lives));
            assert!(
                matches!(outcome, Err(Unfitted::TooFewFailures { .. })),
                "{family:?} {lives:?} {outcome:?}"
            );
        }
    }
}

#[test]
fn heavy_censoring_still_fits_and_says_when_a_limit_is_missing() {
    let mut lives = vec![(0.0, 900.0, true), (0.0, 1000.0, true)];
    lives.extend((0..50_000).map(|i| (0.0, 100.0 + f64::from(i % 1000), false)));
    let observed = observed(&lives);
    for family in Family::ALL {
        let fitted = fit(family, &observed).unwrap();
        let limits = likelihood_interval::quantile(&fitted, &observed, 0.5, 0.95).unwrap();
        let estimate = fitted.quantile(0.5, 0.95).unwrap().value;
        assert!(
            limits
                .lower
                .is_none_or(|lower| lower > 0.0 && lower < estimate),
            "{family:?}"
        );
        assert!(
            limits
                .upper
                .is_none_or(|upper| upper.is_finite() && upper > estimate),
            "{family:?}"
        );
        assert!(limits.lower.is_some(), "{family:?}");
    }
}

#[test]
fn likelihood_limits_put_back_have_fallen_by_the_chi_square_quantile() {
    // A limit of eta put back: the Weibull of every other shape at this scale is at most as likely, and the best of them has
    // fallen by 3.841458820694124 / 2 (R qchisq(0.95, 1)). Likelihood written out here, maximised on a fine grid.
    let lives: Vec<(f64, f64, bool)> = (0..40)
        .map(|i| {
            let entry = f64::from(i % 5) * 10.0;
            (entry, entry + 15.0 + f64::from(i * i % 83), i % 3 != 0)
        })
        .collect();
    let observed = observed(&lives);
    let fitted = fit(Family::Weibull, &observed).unwrap();
    let log_likelihood = |eta: f64, beta: f64| -> f64 {
        lives
            .iter()
            .map(|&(entry, exit, failed)| {
                let hazard = (exit / eta).powf(beta) - (entry / eta).powf(beta);
                let density = if failed {
                    (beta / exit).ln() + beta * (exit / eta).ln()
                } else {
                    0.0
                };
                density - hazard
            })
            .sum()
    };
    let limits = likelihood_interval::scale(&fitted, &observed, 0.95).unwrap();
    for eta in [limits.lower.unwrap(), limits.upper.unwrap()] {
        let best = (100..80_000)
            .map(|i| log_likelihood(eta, f64::from(i) * 1e-4))
            .fold(f64::NEG_INFINITY, f64::max);
        let fall = 2.0 * (fitted.log_likelihood - best);
        assert!(
            (fall / 3.841458820694124 - 1.0).abs() < 1e-6,
            "{eta} {fall}"
        );
    }
}
