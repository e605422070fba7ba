//! Cumulative incidence against R 4.2 (`survival` 3.5, `cmprsk`, `etm`) and the definitions (numpy), and current status.

use std::collections::{BTreeMap, BTreeSet};

use boretally::stats::competing_risks::{
    CauseSample, CompetingLife, CompetingTable, Incidence, VarianceFormula, gray_test,
    infinitesimal_jackknife,
};
use boretally::stats::current_status::current_status;
use boretally::stats::lifetime::Inspection;
use boretally::stats::survival::KaplanMeier;

use crate::assert_relative;
use crate::data::{Row, number, rows};
use crate::expected::{expected, figure, figures};

fn shock_absorbers() -> Vec<CompetingLife> {
    let lives = rows("shock_absorber.csv")
        .into_iter()
        .map(|row| CompetingLife {
            entry: 0.0,
            exit: number(&row, "distance_km"),
            cause: (number(&row, "mode") as usize).checked_sub(1),
        });
    lives.collect()
}

#[test]
fn cr_01_incidence_of_two_modes_with_three_variances() {
    let file = expected("survival.json");
    let (r, definitions) = (&file["R"]["CR-01"], &file["definitions"]["CR-01"]);
    let lives = shock_absorbers();
    let (table, never) = CompetingTable::from_lives(2, &lives).unwrap();
    assert!(never.is_empty());
    let incidence = Incidence::new(&table).unwrap();
    let times = figures(&definitions["time"]);
    assert_eq!(incidence.steps().len(), times.len());
    for cause in 0..2 {
        let column = |name: &str| figures(&definitions[format!("{name}{}", cause + 1)]);
        let greenwood = incidence
            .variance(cause, VarianceFormula::Greenwood)
            .unwrap();
        let aalen = incidence.variance(cause, VarianceFormula::Aalen).unwrap();
        for (i, step) in incidence.steps().iter().enumerate() {
            let label = format!("cause {cause} at {}", step.distance);
            assert_eq!(step.distance, times[i]);
            assert_relative(&label, step.incidence[cause], column("cif")[i], 1e-10);
            assert_relative(
                &label,
                step.incidence[cause],
                figure(&r["pstate"][i][cause + 1]),
                1e-10,
            );
            assert_relative(&label, step.survival, figure(&r["pstate"][i][0]), 1e-10);
            assert_relative(&label, greenwood[i], column("var_greenwood")[i], 1e-8);
            assert_relative(&label, aalen[i], column("var_aalen_pintilie")[i], 1e-8);
            let jackknife =
                infinitesimal_jackknife(&lives, &incidence, cause, step.distance).unwrap();
            assert_relative(
                &label,
                jackknife,
                figure(&r["se_infinitesimal_jackknife"][i][cause]),
                1e-8,
            );
        }
    }
    let alone = KaplanMeier::new(&table.cause(0).unwrap()).unwrap();
    let wrong = 1.0 - alone.survival(27490.0).unwrap();
    assert_relative(
        "1 - KM",
        wrong,
        figure(&r["one_minus_km_mode1_at_27490"]),
        1e-10,
    );
    assert!(wrong > 0.1 + incidence.incidence(0, 27490.0).unwrap());
}

#[test]
fn cr_01_variances_of_cmprsk_and_etm() {
    let file = expected("survival.json");
    let r = &file["R"]["CR-01"];
    let (table, _) = CompetingTable::from_lives(2, &shock_absorbers()).unwrap();
    let incidence = Incidence::new(&table).unwrap();
    for (key, times, formula) in [
        ("cmprsk_var", "cmprsk_time", VarianceFormula::Aalen),
        ("etm_var", "etm_time", VarianceFormula::Greenwood),
    ] {
        for cause in 0..2 {
            let variance = incidence.variance(cause, formula).unwrap();
            let column = if key == "cmprsk_var" {
                figures(&r[key][cause])
            } else {
                figures(&r[format!("{key}{}", cause + 1)])
            };
            let mut checked = 0;
            for (distance, wanted) in figures(&r[times]).into_iter().zip(column) {
                if wanted == 0.0 || wanted.is_nan() {
                    continue;
                }
                let at = incidence.position_at(distance).unwrap().unwrap();
                assert_relative(
                    &format!("{key} {cause} at {distance}"),
                    variance[at],
                    wanted,
                    1e-8,
                );
                checked += 1;
            }
            assert!(checked >= 10, "{key} {checked}");
        }
    }
}

/// Patients from diagnosis on, in whole months: 1384 of them, so that both events often fall in one month.
fn mgus(row: &Row) -> CompetingLife {
    CompetingLife {
        entry: 0.0,
        exit: number(row, "months"),
        cause: (number(row, "event") as usize).checked_sub(1),
    }
}

#[test]
fn ties_of_causes_tell_the_variances_apart() {
    let file = expected("competing_risks.json");
    let wanted = &file["mgus2 since diagnosis"];
    let lives: Vec<CompetingLife> = rows("mgus2.csv").iter().map(mgus).collect();
    let (table, _) = CompetingTable::from_lives(2, &lives).unwrap();
    let incidence = Incidence::new(&table).unwrap();
    for cause in 0..2 {
        let greenwood = incidence
            .variance(cause, VarianceFormula::Greenwood)
            .unwrap();
        let aalen = incidence.variance(cause, VarianceFormula::Aalen).unwrap();
        let column = |name: &str| figures(&wanted[name][cause]);
        for (i, month) in figures(&wanted["months"]).into_iter().enumerate() {
            let label = format!("cause {cause} at {month}");
            let at = incidence.position_at(month).unwrap().unwrap();
            let share = incidence.steps()[at].incidence[cause];
            assert_relative(&label, share, column("incidence")[i], 1e-10);
            // R survival's infinitesimal jackknife is the Greenwood type, ties or not, while nobody enters late.
            let error = column("survfit_std_err")[i];
            assert_relative(&label, greenwood[at].sqrt(), error, 1e-10);
            let jackknife = infinitesimal_jackknife(&lives, &incidence, cause, month).unwrap();
            assert_relative(&label, jackknife, error, 1e-10);
            // cmprsk adds the causes' jumps as if they never fell together.
            let apart = causes_apart(&incidence, cause, at);
            assert_relative(&label, apart, column("cmprsk_var")[i], 1e-10);
            let gap = aalen[at] / apart - 1.0;
            assert!(gap > 1e-5 && gap < 5e-3, "{label}: {gap}");
        }
    }
}

/// Aalen's variance with every cause's failures a process of its own: the sum over causes of the squared weight of a failure by it,
/// times d (n - d) / (n^2 (n - 1)), without the covariance of causes that fail at one distance.
fn causes_apart(incidence: &Incidence, cause: usize, last: usize) -> f64 {
    let steps = &incidence.steps()[..=last];
    let end = steps[last].incidence[cause];
    let terms = steps.iter().map(|step| {
        let n = step.at_risk as f64;
        let lost = (end - step.incidence[cause]) / step.survival;
        let by_cause = step.failed.iter().enumerate().map(|(c, &failed)| {
            let (d, own) = (failed as f64, if c == cause { 1.0 } else { 0.0 });
            (own - lost).powi(2) * d * (n - d) / (n * n * (n - 1.0))
        });
        step.survival_before.powi(2) * by_cause.sum::<f64>()
    });
    terms.sum()
}

#[test]
fn jackknife_with_late_entry_and_ties_is_that_of_r() {
    let file = expected("competing_risks.json");
    let wanted = &file["mgus2 by age from 600 months on"];
    let lives: Vec<CompetingLife> = rows("mgus2.csv")
        .iter()
        .map(|row| {
            let life = mgus(row);
            let born = 12.0 * number(row, "age");
            CompetingLife {
                entry: f64::max(600.0, born + life.entry),
                exit: born + life.exit,
                ..life
            }
        })
        .collect();
    let (table, _) = CompetingTable::from_lives(2, &lives).unwrap();
    let incidence = Incidence::new(&table).unwrap();
    for cause in 0..2 {
        let greenwood = incidence
            .variance(cause, VarianceFormula::Greenwood)
            .unwrap();
        for (i, month) in figures(&wanted["months"]).into_iter().enumerate() {
            let label = format!("cause {cause} at {month}");
            let share = incidence.incidence(cause, month).unwrap();
            let error = figures(&wanted["survfit_std_err"][cause])[i];
            assert_relative(
                &label,
                share,
                figures(&wanted["incidence"][cause])[i],
                1e-10,
            );
            let jackknife = infinitesimal_jackknife(&lives, &incidence, cause, month).unwrap();
            assert_relative(&label, jackknife, error, 1e-10);
            // With late entry the Greenwood type is another estimate of the same thing: 6.74 % away at most, measured here.
            let at = incidence.position_at(month).unwrap().unwrap();
            assert_relative(&label, greenwood[at].sqrt(), error, 0.07);
        }
    }
}

/// Gray's test of both causes in the rows of a file.
fn gray(
    file: &str,
    life: impl Fn(&Row) -> CompetingLife,
    group: &str,
    stratum: impl Fn(&Row) -> u8,
) -> [(f64, f64, usize); 2] {
    let rows = rows(file);
    let groups: BTreeSet<&String> = rows.iter().map(|row| &row[group]).collect();
    let mut cells: BTreeMap<(u8, &String), Vec<CompetingLife>> = BTreeMap::new();
    for row in &rows {
        let cell = cells.entry((stratum(row), &row[group])).or_default();
        cell.push(life(row));
    }
    let tables: Vec<CompetingTable> = cells
        .values()
        .map(|lives| CompetingTable::from_lives(2, lives).unwrap().0)
        .collect();
    [0, 1].map(|cause| {
        let failed: Vec<_> = tables.iter().map(|t| t.failures_by(cause)).collect();
        let samples: Vec<CauseSample<'_>> = tables
            .iter()
            .zip(&failed)
            .map(|(table, failed)| CauseSample {
                lives: table.all(),
                failed,
            })
            .collect();
        let strata: Vec<_> = samples.chunks(groups.len()).map(<[_]>::to_vec).collect();
        let test = gray_test(&strata).unwrap();
        let observed: f64 = test.observed.iter().sum();
        assert_relative("sum", test.expected.iter().sum(), observed, 1e-10);
        (
            test.chi_square,
            test.p_value.unwrap(),
            test.degrees_of_freedom,
        )
    })
}

#[test]
fn gray_test_is_that_of_cmprsk() {
    let melanoma = |row: &Row| CompetingLife {
        entry: 0.0,
        exit: number(row, "days"),
        cause: (number(row, "event") as usize).checked_sub(1),
    };
    let column = |name: &'static str| move |row: &Row| row[name].as_bytes()[0];
    let one = |_: &Row| 0;
    let old = |row: &Row| u8::from(number(row, "age") >= 70.0);
    let file = expected("competing_risks.json");
    for (name, got) in [
        ("mgus2 by sex", gray("mgus2.csv", mgus, "sex", one)),
        ("mgus2 by era", gray("mgus2.csv", mgus, "era", one)),
        (
            "mgus2 by sex within age",
            gray("mgus2.csv", mgus, "sex", old),
        ),
        (
            "mgus2 by era within sex",
            gray("mgus2.csv", mgus, "era", column("sex")),
        ),
        (
            "melanoma by ulcer",
            gray("melanoma.csv", melanoma, "ulcer", one),
        ),
        (
            "melanoma by sex within ulcer",
            gray("melanoma.csv", melanoma, "sex", column("ulcer")),
        ),
    ] {
        let wanted = &file["gray"][name];
        for (cause, (statistic, p, df)) in got.into_iter().enumerate() {
            let label = format!("{name}, cause {cause}");
            assert_relative(
                &label,
                statistic,
                figures(&wanted["statistic"])[cause],
                1e-10,
            );
            assert_relative(&label, p, figures(&wanted["p"])[cause], 1e-10);
            assert_eq!(df as u64, wanted["df"].as_u64().unwrap(), "{label}");
        }
    }
}

#[test]
fn jackknife_is_the_derivative_by_weight_with_late_entry() {
    // Twin: weights as repeated lives, derivative by differences of counts (1000 lives for each, one more or less).
    let life = |entry, exit, cause| CompetingLife { entry, exit, cause };
    let lives = [
        life(0.0, 3.0, Some(0)),
        life(1.0, 3.0, None),
        life(0.0, 5.0, Some(1)),
        life(2.0, 6.0, Some(0)),
        life(4.0, 8.0, None),
        life(0.0, 7.0, Some(1)),
        life(3.0, 9.0, Some(0)),
    ];
    let share = |extra: usize, copies: usize| {
        let weighted: Vec<CompetingLife> = lives
            .iter()
            .enumerate()
            .flat_map(|(i, life)| {
                std::iter::repeat_n(*life, if i == extra { copies } else { 1000 })
            })
            .collect();
        let (table, _) = CompetingTable::from_lives(2, &weighted).unwrap();
        Incidence::new(&table).unwrap().incidence(0, 6.5).unwrap()
    };
    let slopes = (0..lives.len()).map(|i| (share(i, 1001) - share(i, 999)) / 0.002);
    let wanted = slopes.map(|slope| slope * slope).sum::<f64>().sqrt();
    let (table, _) = CompetingTable::from_lives(2, &lives).unwrap();
    let got = infinitesimal_jackknife(&lives, &Incidence::new(&table).unwrap(), 0, 6.5).unwrap();
    assert_relative("jackknife", got, wanted, 1e-5);
}

#[test]
fn int_01_looks_once_each() {
    let file = expected("survival.json");
    let wanted = &file["definitions"]["INT-01"];
    let looks: Vec<Inspection> = rows("turbine_wheels.csv")
        .iter()
        .map(|row| Inspection {
            distance: number(row, "t_100h"),
            failed: number(row, "cracked") as u64,
            sound: (number(row, "inspected") - number(row, "cracked")) as u64,
        })
        .collect();
    let estimates = current_status(&looks).unwrap();
    let (failed, raw) = (figures(&wanted["F_npmle"]), figures(&wanted["raw"]));
    assert_eq!(estimates.len(), failed.len());
    for (i, estimate) in estimates.iter().enumerate() {
        assert_relative("F", estimate.failed, failed[i], 1e-14);
        assert_relative("raw", estimate.raw, raw[i], 1e-14);
    }
}
