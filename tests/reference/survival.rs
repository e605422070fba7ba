//! Survival curves against R 4.2 `survival` 3.5 and an independent computation from the definitions (numpy), both in
//! `data/survival.json`; the key says the check, "R" and "definitions" the program.

use boretally::stats::interval::normal_deviate;
use boretally::stats::survival::{
    KaplanMeier, Life, NelsonAalen, RiskTable, Transformation, Weight, log_rank, quantile,
    restricted_mean,
};
use serde_json::Value;

use crate::assert_relative;
use crate::data::{number, rows};
use crate::expected::{expected, figure, figures};

fn table(lives: &[Life]) -> RiskTable {
    let tabulated = RiskTable::from_lives(lives).unwrap();
    assert_eq!(tabulated.never_at_risk.len(), 0);
    tabulated.table
}

fn leukaemia(group: &str) -> RiskTable {
    let rows = rows("freireich_6mp.csv")
        .into_iter()
        .filter(|row| row["group"] == group);
    let lives: Vec<Life> = rows
        .map(|row| Life {
            entry: 0.0,
            exit: number(&row, "weeks"),
            failed: row["relapse"] == "1",
        })
        .collect();
    table(&lives)
}

fn shock_absorbers() -> RiskTable {
    let lives: Vec<Life> = rows("shock_absorber.csv")
        .iter()
        .map(|row| Life {
            entry: 0.0,
            exit: number(row, "distance_km"),
            failed: row["mode"] != "0",
        })
        .collect();
    table(&lives)
}

fn residents(sex: &str) -> Vec<Life> {
    let rows = rows("channing_house.csv")
        .into_iter()
        .filter(|row| row["sex"] == sex);
    rows.map(|row| Life {
        entry: number(&row, "entry_months"),
        exit: number(&row, "exit_months"),
        failed: row["death"] == "1",
    })
    .collect()
}

/// Every figure of a curve against the expected columns.
fn check_curve(label: &str, table: &RiskTable, expected: &Value, tolerance: f64) {
    let curve = KaplanMeier::new(table).unwrap();
    let hazard = NelsonAalen::new(table);
    let columns = |key: &str| figures(&expected[key]);
    let (times, survival, error) = (columns("time"), columns("surv"), columns("se_greenwood"));
    assert_eq!(curve.steps().len(), times.len(), "{label}");
    for (i, (step, hazard)) in curve.steps().iter().zip(&hazard.steps).enumerate() {
        let label = format!("{label} at {}", step.distance);
        assert_eq!(step.distance, times[i], "{label}");
        assert_eq!(step.at_risk as f64, columns("n_risk")[i], "{label}");
        assert_eq!(step.failed as f64, columns("n_event")[i], "{label}");
        assert_relative(&label, step.survival, survival[i], tolerance);
        match step.standard_error() {
            Some(se) => assert_relative(&label, se, error[i], tolerance),
            None => assert!(error[i].is_nan(), "{label}"),
        }
        assert_relative(
            &label,
            hazard.cumulative_hazard,
            columns("cumhaz_na")[i],
            tolerance,
        );
        assert_relative(
            &label,
            hazard.variance.sqrt(),
            columns("se_na")[i],
            tolerance,
        );
        if let Some(list) = expected.get("surv_fleming_harrington") {
            assert_relative(&label, hazard.survival(), figure(&list[i]), tolerance);
        }
    }
}

/// Limits against uncut ones of the definitions and, where R cuts at 1 or gives none, cut alike.
fn check_limits(
    label: &str,
    table: &RiskTable,
    expected: &Value,
    key: &str,
    scale: Transformation,
) {
    let deviate = normal_deviate(0.95).unwrap();
    let curve = KaplanMeier::new(table).unwrap();
    let list = expected[key].as_array().unwrap();
    assert_eq!(list.len(), curve.steps().len());
    for (step, pair) in curve.steps().iter().zip(list) {
        let pair = figures(pair);
        let label = format!("{label} {key} at {}", step.distance);
        match step.limits(scale, deviate) {
            Ok(limits) => {
                let cut = |value: f64| {
                    if pair[1] == 1.0 {
                        value.min(1.0)
                    } else {
                        value
                    }
                };
                let lower = if pair[0] == 0.0 {
                    limits.lower.max(0.0)
                } else {
                    limits.lower
                };
                assert_relative(&label, lower, pair[0], 1e-10);
                assert_relative(&label, cut(limits.upper), pair[1], 1e-10);
            }
            Err(_) => assert!(pair[0].is_nan() || step.survival == 0.0, "{label}"),
        }
    }
}

#[test]
fn km_01_curves_limits_and_medians() {
    let file = expected("survival.json");
    let scales = [
        ("plain", "ci_plain", Transformation::Plain),
        ("log", "ci_log", Transformation::Log),
        ("log-log", "ci_loglog", Transformation::LogLog),
        ("arcsin", "", Transformation::Arcsine),
        ("logit", "", Transformation::Logit),
    ];
    for group in ["6-MP", "placebo"] {
        let table = leukaemia(group);
        let (r, definitions) = (
            &file["R"]["KM-01"][group],
            &file["definitions"]["KM-01"][group],
        );
        check_curve(group, &table, r, 1e-10);
        check_curve(group, &table, definitions, 1e-10);
        let curve = KaplanMeier::new(&table).unwrap();
        for (name, key, scale) in scales {
            check_limits(group, &table, r, &format!("ci_{name}"), scale);
            if !key.is_empty() {
                check_limits(group, &table, definitions, key, scale);
            }
            let median = quantile(&curve, 0.5, scale, 0.95).unwrap();
            let wanted = figures(&r[format!("median_{name}")]);
            assert_eq!(median.distance.unwrap(), wanted[0], "{group} {name}");
            assert_eq!(median.flat_until, None);
            assert_eq!(median.lower.unwrap(), wanted[1], "{group} {name}");
            assert_eq!(
                median.upper.unwrap_or(-1.0),
                if wanted[2].is_nan() { -1.0 } else { wanted[2] },
                "{group} {name}"
            );
        }
    }
}

#[test]
fn km_01_restricted_means() {
    let file = expected("survival.json");
    for limit in [20.0, 23.0, 35.0] {
        for group in ["6-MP", "placebo"] {
            let curve = KaplanMeier::new(&leukaemia(group)).unwrap();
            let mean = restricted_mean(&curve, limit).unwrap();
            let wanted = figures(&file["R"]["KM-01"][format!("rmean_tau{limit}")][group]);
            assert_relative(group, mean.mean, wanted[0], 1e-10);
            assert_relative(group, mean.standard_error, wanted[1], 1e-10);
        }
    }
    let curve = KaplanMeier::new(&leukaemia("6-MP")).unwrap();
    assert!(restricted_mean(&curve, 35.5).is_err());
}

#[test]
fn km_02_heavy_censoring() {
    let file = expected("survival.json");
    let table = shock_absorbers();
    let r = &file["R"]["KM-02"];
    check_curve("shock absorbers", &table, r, 1e-10);
    for (name, scale) in ["plain", "log", "log-log", "arcsin", "logit"].iter().zip([
        Transformation::Plain,
        Transformation::Log,
        Transformation::LogLog,
        Transformation::Arcsine,
        Transformation::Logit,
    ]) {
        check_limits("shock absorbers", &table, r, &format!("ci_{name}"), scale);
        let curve = KaplanMeier::new(&table).unwrap();
        let median = quantile(&curve, 0.5, scale, 0.95).unwrap();
        let wanted = figures(&r[format!("median_{name}")]);
        assert_eq!(
            (median.distance.unwrap(), median.lower.unwrap()),
            (wanted[0], wanted[1])
        );
        assert_eq!(median.upper, None);
    }
}

#[test]
fn ltr_01_late_entry_from_three_starts() {
    let file = expected("survival.json");
    let males = residents("male");
    let tabulated = RiskTable::from_lives(&males).unwrap();
    let all = males.len() + residents("female").len();
    assert_eq!(all as f64, figure(&file["R"]["LTR-01"]["n"]));
    for start in [0.0, 816.0, 960.0] {
        let table = tabulated.table.conditional_on(start);
        let key = format!("male_from_{start}");
        let r = &file["R"]["LTR-01"][&key];
        assert_eq!(table.lives() as f64, figure(&r["n"]), "{key}");
        assert_eq!(table.failures() as f64, figure(&r["deaths"]), "{key}");
        check_curve(&key, &table, r, 1e-9);
        let definitions = &file["definitions"]["LTR-01"][&key];
        check_curve(&key, &table, definitions, 1e-9);
        check_limits(
            &key,
            &table,
            definitions,
            "ci_loglog",
            Transformation::LogLog,
        );
        check_limits(&key, &table, definitions, "ci_plain", Transformation::Plain);
    }
    let curve = KaplanMeier::new(&tabulated.table).unwrap();
    assert!(
        curve.survival(900.0).is_err(),
        "the unconditional curve must not be shown as knowledge"
    );
    assert_eq!(tabulated.table.adequate_from(10), Some(781.0));
    let from = |start| KaplanMeier::new(&tabulated.table.conditional_on(start)).unwrap();
    assert!(from(781.0).survival(900.0).is_ok());
}

#[test]
fn ltr_01_entry_ignored_is_another_curve() {
    let file = expected("survival.json");
    let usable = residents("male")
        .into_iter()
        .filter(|life| life.entry < life.exit);
    let lives: Vec<Life> = usable.map(|life| Life { entry: 0.0, ..life }).collect();
    check_curve(
        "ignored",
        &table(&lives),
        &file["definitions"]["LTR-01"]["male_ignoring_entry"],
        1e-9,
    );
}

#[test]
fn ltr_01_log_rank_with_late_entry() {
    let file = expected("survival.json");
    let males = RiskTable::from_lives(&residents("male")).unwrap();
    let females = RiskTable::from_lives(&residents("female")).unwrap();
    let dropped = males.never_at_risk.len() + females.never_at_risk.len();
    assert_eq!(
        dropped as f64,
        figure(&file["R"]["LTR-01"]["n_entry_ge_exit"])
    );
    let test = log_rank(&[vec![&males.table, &females.table]], Weight::LogRank).unwrap();
    let r = &file["R"]["LTR-01"]["logrank"];
    assert_relative("observed", test.observed[0], figure(&r["obs_male"]), 1e-12);
    assert_relative("expected", test.expected[0], figure(&r["exp_male"]), 1e-9);
    assert_relative("variance", test.covariance[0][0], figure(&r["var"]), 1e-9);
    assert_relative("chi-square", test.chi_square, figure(&r["chisq"]), 1e-9);
    assert_relative("p", test.p_value.unwrap(), figure(&r["p"]), 1e-9);
}

#[test]
fn lrt_01_log_rank_and_peto_peto() {
    let file = expected("survival.json");
    let (treated, placebo) = (leukaemia("6-MP"), leukaemia("placebo"));
    for (key, weight) in [
        ("logrank", Weight::LogRank),
        ("peto_peto", Weight::PetoPeto),
    ] {
        let test = log_rank(&[vec![&treated, &placebo]], weight).unwrap();
        let r = &file["R"]["LRT-01"][key];
        for group in 0..2 {
            assert_relative(key, test.observed[group], figure(&r["obs"][group]), 1e-9);
            assert_relative(key, test.expected[group], figure(&r["exp"][group]), 1e-9);
        }
        assert_relative(key, test.covariance[0][0], figure(&r["var"]), 1e-9);
        assert_relative(key, test.chi_square, figure(&r["chisq"]), 1e-9);
        assert_relative(key, test.p_value.unwrap(), figure(&r["p"]), 1e-9);
        assert_eq!(test.degrees_of_freedom, 1);
    }
}
