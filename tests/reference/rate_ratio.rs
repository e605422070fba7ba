//! The ratio of two rates: `POI-03`, 1e-8 relative.

use boretally::stats::rate_ratio::{exact, log_wald, mid_p};

use crate::assert_relative;

/// Counts and exposures, ratio, exact, mid-P and log-Wald limits, p-values central, minimum-likelihood, mid-P.
///
/// Computed with Python 3.11, SciPy 1.17 from the definitions; exact limits and minimum-likelihood p also with R 4.2
/// (poisson.test), equal to 1e-9. The first is the breast-cancer example of Rothman and Greenland.
struct Case {
    data: (u64, f64, u64, f64),
    ratio: f64,
    exact: (f64, f64),
    mid_p: (f64, f64),
    log_wald: Option<(f64, f64)>,
    p: (f64, f64, f64),
}

const CASES: [Case; 3] = [
    Case {
        data: (41, 28010.0, 15, 19017.0),
        ratio: 1.8557586576222778,
        exact: (1.0056840626892576, 3.6093003110779054),
        mid_p: (1.0410752434259323, 3.4494227604546572),
        log_wald: Some((1.0272259976476372, 3.35256331442787)),
        p: (
            0.047660246754565865,
            0.04085202628650182,
            0.03545742177226211,
        ),
    },
    Case {
        data: (60, 51477.5, 30, 54308.7),
        ratio: 2.1099975717546497,
        exact: (1.3397357217726522, 3.3883655736162517),
        mid_p: (1.368103655188646, 3.3072967220109173),
        log_wald: Some((1.3612801263025065, 3.2705169691290754)),
        p: (
            0.0008561053881002488,
            0.0006751826586863228,
            0.0006202648839657126,
        ),
    },
    Case {
        data: (0, 100.0, 5, 200.0),
        ratio: 0.0,
        exact: (0.0, 2.182558210365092),
        mid_p: (0.0, 1.64112840605216),
        log_wald: None,
        p: (
            0.26337448559670773,
            0.17695473251028812,
            0.13168724279835373,
        ),
    },
];

#[test]
fn limits_and_three_p_values() {
    for case in &CASES {
        let (x1, t1, x2, t2) = case.data;
        let label = format!("{x1}/{t1} against {x2}/{t2}");
        let central = exact(x1, t1, x2, t2, 0.95).unwrap();
        assert_relative(&label, central.ratio.unwrap(), case.ratio, 1e-12);
        let middle = mid_p(x1, t1, x2, t2, 0.95).unwrap();
        for (got, expected) in [(central, case.exact), (middle, case.mid_p)] {
            assert_relative(&label, got.lower, expected.0, 1e-8);
            assert_relative(&label, got.upper.unwrap(), expected.1, 1e-8);
            assert_relative(&label, got.p_central, case.p.0, 1e-8);
            assert_relative(&label, got.p_minimum_likelihood, case.p.1, 1e-8);
            assert_relative(&label, got.p_mid, case.p.2, 1e-8);
        }
        match case.log_wald {
            Some(expected) => {
                let got = log_wald(x1, t1, x2, t2, 0.95).unwrap();
                assert_relative(&label, got.lower, expected.0, 1e-8);
                assert_relative(&label, got.upper.unwrap(), expected.1, 1e-8);
            }
            None => assert!(log_wald(x1, t1, x2, t2, 0.95).is_err()),
        }
    }
}
