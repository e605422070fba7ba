//! Cumulative incidence against R 4.2 (`survival` 3.5, `cmprsk`, `etm`) and the definitions (numpy), and current status.

use boretally::stats::competing_risks::{
    CompetingLife, CompetingTable, Incidence, VarianceFormula, infinitesimal_jackknife,
};
use boretally::stats::current_status::current_status;
use boretally::stats::lifetime::Inspection;
use boretally::stats::survival::KaplanMeier;

use crate::assert_relative;
use crate::data::{number, rows};
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
