//! Two-by-two tables and the correction for partial verification.

use boretally::stats::Interval;
use boretally::stats::diagnostic_accuracy::TwoByTwo;
use boretally::stats::proportion::{clopper_pearson, wilson};
use boretally::stats::verification_bias::{Stratum, begg_greenes};

use crate::assert_relative;

/// Liver scans of Drum & Christacopoulos 1972, J Nucl Med 13:908, as in Begg & Greenes 1983, Biometrics 39:207: 344 of 650 verified.
const VERIFIED: TwoByTwo = TwoByTwo {
    true_positive: 231,
    false_positive: 32,
    false_negative: 27,
    true_negative: 54,
};

fn assert_limits(label: &str, got: Interval, [lower, upper]: [f64; 2]) {
    assert_relative(label, got.lower, lower, 1e-10);
    assert_relative(label, got.upper, upper, 1e-10);
}

/// `DIA-01`, `DX-01`: two Python implementations; Altman & Bland 1994, BMJ 308:1552 print .90 and .63 (from memory).
#[test]
fn accuracy_of_those_verified() {
    assert_relative(
        "sensitivity",
        VERIFIED.sensitivity().unwrap(),
        0.8953488372093024,
        1e-10,
    );
    assert_relative(
        "specificity",
        VERIFIED.specificity().unwrap(),
        0.627906976744186,
        1e-10,
    );
    assert_relative(
        "youden",
        VERIFIED.youden().unwrap(),
        0.5232558139534884,
        1e-10,
    );
    let positive = VERIFIED.likelihood_ratio_positive(0.95).unwrap();
    assert_relative("LR+", positive.value, 2.40625, 1e-10);
    assert_limits(
        "LR+",
        positive.interval.unwrap(),
        [1.8227906278318318, 3.1764696252509923],
    );
    let negative = VERIFIED.likelihood_ratio_negative(0.95).unwrap();
    assert_relative("LR-", negative.value, 0.1666666666666666, 1e-10);
    assert_limits(
        "LR-",
        negative.interval.unwrap(),
        [0.11258965856552879, 0.24671695546186148],
    );
    let odds = VERIFIED.odds_ratio(0.95).unwrap();
    assert_relative("DOR", odds.value, 14.4375, 1e-10);
    assert_limits(
        "DOR",
        odds.interval.unwrap(),
        [7.989636298784904, 26.088973071490198],
    );
    let limits = |x, n| {
        (
            wilson(x, n, 0.95).unwrap(),
            clopper_pearson(x, n, 0.95).unwrap(),
        )
    };
    let (score, exact) = limits(231, VERIFIED.present());
    assert_limits(
        "sensitivity, Wilson",
        score,
        [0.8520214062328004, 0.9270759946096565],
    );
    assert_limits(
        "sensitivity, exact",
        exact,
        [0.8513976659072126, 0.9298934204276422],
    );
    let (score, exact) = limits(54, VERIFIED.absent());
    assert_limits(
        "specificity, Wilson",
        score,
        [0.5223383164148251, 0.7225374935818455],
    );
    assert_limits(
        "specificity, exact",
        exact,
        [0.516959637665767, 0.7297748745878865],
    );
}

/// `DIA-01`, `DX-02`: two Python implementations in exact fractions; Begg & Greenes print .84 and .74 (from memory).
#[test]
fn corrected_for_partial_verification() {
    let positive = Stratum {
        present: 231,
        absent: 32,
        unverified: 166,
    };
    let negative = Stratum {
        present: 27,
        absent: 54,
        unverified: 140,
    };
    let found = begg_greenes(positive, negative, 0.95).unwrap().unwrap();
    assert_relative("prevalence", found.prevalence, 0.6930291508238277, 1e-10);
    assert_relative(
        "sensitivity",
        found.sensitivity.value,
        0.8364667154352597,
        1e-10,
    );
    assert_relative(
        "specificity",
        found.specificity.value,
        0.7383980181668043,
        1e-10,
    );
    let spread = |c: boretally::stats::verification_bias::Corrected| c.standard_error.unwrap();
    assert_relative(
        "se of sensitivity",
        spread(found.sensitivity),
        0.024498031263247694,
        1e-10,
    );
    assert_relative(
        "se of specificity",
        spread(found.specificity),
        0.038862679922539174,
        1e-10,
    );
    assert_limits(
        "sensitivity",
        found.sensitivity.interval.unwrap(),
        [0.7826465184975744, 0.8790201900636532],
    );
    assert_limits(
        "specificity",
        found.specificity.interval.unwrap(),
        [0.655507713017367, 0.8072095168392743],
    );
}
