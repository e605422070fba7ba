//! Cluster-robust rates and shares against R's survey package and independent Python.

use std::collections::BTreeMap;

use approx::assert_relative_eq;
use boretally::stats::cluster::{proportion_ratio_estimator, rao_scott, rate_ratio_estimator};
use boretally::stats::interval::Interval;

use crate::data::{number, rows, whole};

/// Litters of Weil 1970: survivors among pups, by group.
fn litters(group: &str) -> Vec<(u64, u64)> {
    rows("rats_weil.csv")
        .iter()
        .filter(|row| row["group"] == group)
        .map(|row| (whole(row, "y"), whole(row, "n")))
        .collect()
}

fn assert_interval(got: Option<Interval>, [lower, upper]: [f64; 2], tolerance: f64) {
    let got = got.expect("an interval");
    assert_relative_eq!(got.lower, lower, max_relative = tolerance);
    assert_relative_eq!(got.upper, upper, max_relative = tolerance);
}

/// Computed with R 4.2 survey (`svyratio`, `svyciprop`) and, to 1e-9 or better the same, Python from the formulas.
#[test]
fn litters_as_clusters() {
    let treated = proportion_ratio_estimator(&litters("TREAT")).unwrap();
    assert_eq!(
        (treated.clusters, treated.trials, treated.successes),
        (16, 145, 112)
    );
    let close = |got: f64, want: f64| assert_relative_eq!(got, want, max_relative = 1e-9);
    close(treated.share, 0.7724137931034483);
    close(treated.variance.unwrap(), 0.004792249907274006);
    close(treated.variance_binomial, 0.0012123498298413221);
    close(treated.design_effect.unwrap(), 3.9528606259640737);
    close(treated.effective_trials().unwrap(), 36.68229510739088);
    close(
        treated.intracluster_correlation.unwrap(),
        0.37213481381439656,
    );
    close(treated.heterogeneity.chi_square, 61.62409988099923);
    close(treated.heterogeneity.phi.unwrap(), 4.108273325399948);
    close(treated.heterogeneity.p.unwrap(), 1.3231796156957666e-07);
    assert_interval(
        treated.interval_plain_t(0.95).unwrap(),
        [0.624861900116644, 0.9199656860902525],
        1e-9,
    );
    assert_interval(
        treated.interval_logit_t(0.95).unwrap(),
        [0.5945073255327239, 0.8870896982936943],
        1e-9,
    );
    assert_interval(
        treated.interval_arcsine_t(0.95).unwrap(),
        [0.6111930497853441, 0.9002430451580914],
        1e-9,
    );
    assert_interval(
        treated.interval_korn_graubard(0.95).unwrap(),
        [0.5889446496225985, 0.9019160949700048],
        1e-9,
    );
    assert_interval(
        treated.interval_wilson_effective(0.95).unwrap(),
        [0.6149430908692454, 0.8782374356771332],
        1e-9,
    );

    let control = proportion_ratio_estimator(&litters("CTRL")).unwrap();
    close(control.share, 0.8987341772151899);
    close(control.variance.unwrap(), 0.0007099411851458448);
    close(control.design_effect.unwrap(), 1.2324953943067687);
    close(
        control.intracluster_correlation.unwrap(),
        0.029091385439862383,
    );
    close(control.heterogeneity.p.unwrap(), 0.21322389519384108);
    assert_interval(
        control.interval_plain_t(0.95).unwrap(),
        [0.84194229762912, 0.9555260568012598],
        1e-9,
    );
}

/// Computed with Python from Rao & Scott 1992; R aod 1.3.3 `raoscott` gives the same design effects and statistics.
#[test]
fn rao_scott_by_group_and_pooled() {
    let (control, treated) = (litters("CTRL"), litters("TREAT"));
    let groups = [control.as_slice(), treated.as_slice()];
    let close = |got: f64, want: f64| assert_relative_eq!(got, want, max_relative = 1e-9);
    let own = rao_scott(&groups, false).unwrap().unwrap();
    close(own.design_effects[0], 1.2324953943067687);
    close(own.design_effects[1], 3.9528606259640737);
    close(own.chi_square, 4.040610501136383);
    close(own.p, 0.04441775053789935);
    close(own.share, 0.8706301508986911);
    let pooled = rao_scott(&groups, true).unwrap().unwrap();
    close(pooled.design_effects[0], 3.0688353665421544);
    close(pooled.chi_square, 2.9000881965224803);
    close(pooled.p, 0.08857470614188);
    close(pooled.share, 0.8382838283828383);
}

/// Replacements and days under watch of each locomotive in a batch: the end of its history is the row without replacement.
fn braking_grids(batch: &str) -> Vec<(u64, f64)> {
    let mut units: BTreeMap<String, (u64, f64)> = BTreeMap::new();
    for row in rows("braking_grids.csv")
        .iter()
        .filter(|row| row["batch"] == batch)
    {
        let unit = units.entry(row["unit"].clone()).or_default();
        unit.0 += whole(row, "replaced");
        if whole(row, "replaced") == 0 {
            unit.1 = unit.1.max(number(row, "days"));
        }
    }
    units.into_values().collect()
}

/// Rate, cluster variance, phi, quasi-Poisson error computed with R 4.2 (`svyratio`, quasi-Poisson `glm`) and Python, which
/// agree to 1e-9; intervals with Python.
struct Grid {
    batch: &'static str,
    units: u64,
    events: u64,
    rate: f64,
    variance: f64,
    phi: f64,
    chi_square: f64,
    design_effect: f64,
    quasi: f64,
    log_t: [f64; 2],
    log_z: [f64; 2],
    quasi_log_z: [f64; 2],
}

const GRIDS: &[Grid] = &[
    Grid {
        batch: "1",
        units: 15,
        events: 24,
        rate: 0.0022535211267605635,
        variance: 1.270475049118815e-07,
        phi: 0.5937886861862315,
        chi_square: 8.313041606607241,
        design_effect: 0.600418567744495,
        quasi: 0.0003544638680080089,
        log_t: [0.0016052108520169832, 0.0031636700327406396],
        log_z: [0.0016528289692906487, 0.003072524479611281],
        quasi_log_z: [0.001655668167574678, 0.0030672556060525593],
    },
    Grid {
        batch: "2",
        units: 18,
        events: 26,
        rate: 0.0032043381809218636,
        variance: 2.2431516102817045e-07,
        phi: 0.5488396832424035,
        chi_square: 9.33027460968086,
        design_effect: 0.5680090907442698,
        quasi: 0.0004655586744634526,
        log_t: [0.00234588553636807, 0.0043769327269097495],
        log_z: [0.0023984240283970795, 0.004281054165628848],
        quasi_log_z: [0.0024102781924595232, 0.004259999202513661],
    },
];

#[test]
fn braking_grid_replacements() {
    let close = |got: f64, want: f64| assert_relative_eq!(got, want, max_relative = 1e-8);
    for grid in GRIDS {
        let found = rate_ratio_estimator(&braking_grids(grid.batch)).unwrap();
        assert_eq!((found.clusters, found.events), (grid.units, grid.events));
        close(found.rate, grid.rate);
        close(found.variance.unwrap(), grid.variance);
        close(found.design_effect.unwrap(), grid.design_effect);
        close(found.heterogeneity.phi.unwrap(), grid.phi);
        close(found.heterogeneity.chi_square, grid.chi_square);
        close(found.standard_error_quasi().unwrap(), grid.quasi);
        assert_interval(found.interval_log_t(0.95).unwrap(), grid.log_t, 1e-8);
        assert_interval(found.interval_log_z(0.95).unwrap(), grid.log_z, 1e-8);
        assert_interval(
            found.interval_quasi_log_z(0.95).unwrap(),
            grid.quasi_log_z,
            1e-8,
        );
    }
}
