//! A constant failure rate and its exact limits, against closed forms (`data/lifetime.json`).

use boretally::stats::lifetime::exponential;
use boretally::stats::survival::{Life, RiskTable};

use crate::assert_relative;
use crate::data::{number, rows};
use crate::expected::{expected, figure, figures};

#[test]
fn par_02_constant_rate_and_its_exact_limits() {
    let file = expected("lifetime.json");
    let wanted = &file["newton"]["PAR-02"]["exponential"];
    let lives: Vec<Life> = rows("diesel_fans.csv")
        .iter()
        .map(|row| Life {
            entry: 0.0,
            exit: number(row, "hours"),
            failed: row["failed"] == "1",
        })
        .collect();
    let table = RiskTable::from_lives(&lives).unwrap().table;
    let constant = exponential(table.failures(), table.exposure(), 0.95).unwrap();
    assert_relative(
        "exposure",
        constant.exposure,
        figure(&wanted["total_time"]),
        1e-14,
    );
    assert_relative(
        "rate",
        constant.rate,
        figure(&wanted["rate_per_hour"]),
        1e-14,
    );
    assert_relative(
        "ln L",
        constant.log_likelihood,
        figure(&wanted["loglik"]),
        1e-12,
    );
    let exact = figures(&wanted["ci_theta_chisq_time_censored"]);
    assert_relative("exact", 1.0 / constant.limits.upper, exact[0], 1e-9);
    assert_relative("exact", 1.0 / constant.limits.lower, exact[1], 1e-9);
    let wald = figures(&wanted["ci_theta_logwald"]);
    let got = constant.wald_mean(0.95).unwrap().unwrap();
    assert_relative("Wald", got.lower, wald[0], 1e-9);
    assert_relative("Wald", got.upper, wald[1], 1e-9);
}
