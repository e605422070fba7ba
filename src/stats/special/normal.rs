//! The standard normal distribution.

use std::f64::consts::{FRAC_1_SQRT_2, PI};

/// Density exp(-z^2/2) / sqrt(2 pi).
pub fn norm_pdf(z: f64) -> f64 {
    // z^2 is split so that its rounding is not multiplied by exp: matters from about |z| = 5 on.
    let head = (z * 16.0).trunc() / 16.0;
    let rest = (z - head) * (z + head);
    if !head.is_finite() {
        return if z.is_nan() { z } else { 0.0 };
    }
    (-0.5 * head * head).exp() * (-0.5 * rest).exp() / (2.0 * PI).sqrt()
}

/// Probability below z.
pub fn norm_cdf(z: f64) -> f64 {
    norm_sf(-z)
}

/// Probability above z; relative error at most 1e-15 + 2e-16 z^2, in the far tail too.
pub fn norm_sf(z: f64) -> f64 {
    if z < 6.0 {
        0.5 * libm::erfc(z * FRAC_1_SQRT_2)
    } else {
        norm_pdf(z) * mills_ratio(z)
    }
}

/// sf(z) / pdf(z) for z >= 6 by Laplace's continued fraction 1/(z + 1/(z + 2/(z + 3/(z + ...)))) (DLMF 7.9.2).
fn mills_ratio(z: f64) -> f64 {
    let mut denominator = z;
    for k in (1..=30).rev() {
        denominator = z + f64::from(k) / denominator;
    }
    1.0 / denominator
}

/// The z with probability `p` below it; infinite at p = 0 and p = 1, NaN outside [0, 1].
pub fn norm_quantile(p: f64) -> f64 {
    if p <= 0.5 {
        -norm_isf(p)
    } else {
        norm_isf(1.0 - p)
    }
}

/// The z with probability `q` above it; keeps its digits for tiny q.
///
/// Wichura 1988 (Applied Statistics 37, algorithm AS 241, PPND16), relative error about 1e-16.
pub fn norm_isf(q: f64) -> f64 {
    if !(0.0..=1.0).contains(&q) {
        return f64::NAN;
    }
    if q == 0.0 {
        return f64::INFINITY;
    }
    if q == 1.0 {
        return f64::NEG_INFINITY;
    }
    let centred = 0.5 - q;
    if centred.abs() <= 0.425 {
        let r = 0.180625 - centred * centred;
        return centred * ratio(&CENTRE, r);
    }
    let tail = if centred > 0.0 { q } else { 1.0 - q };
    let r = (-tail.ln()).sqrt();
    let z = if r <= 5.0 {
        ratio(&MIDDLE, r - 1.6)
    } else {
        ratio(&FAR, r - 5.0)
    };
    if centred > 0.0 { z } else { -z }
}

type Rational = ([f64; 8], [f64; 8]);

fn ratio((numerator, denominator): &Rational, x: f64) -> f64 {
    let horner = |c: &[f64; 8]| c.iter().rev().fold(0.0, |sum, &c| sum * x + c);
    horner(numerator) / horner(denominator)
}

#[expect(clippy::excessive_precision, reason = "coefficients as printed")]
const CENTRE: Rational = (
    [
        3.387_132_872_796_366_608,
        1.331_416_678_917_843_774_5e2,
        1.971_590_950_306_551_442_7e3,
        1.373_169_376_550_946_112_5e4,
        4.592_195_393_154_987_145_7e4,
        6.726_577_092_700_870_085_3e4,
        3.343_057_558_358_812_810_5e4,
        2.509_080_928_730_122_672_7e3,
    ],
    [
        1.0,
        4.231_333_070_160_091_125_2e1,
        6.871_870_074_920_579_083_0e2,
        5.394_196_021_424_751_107_7e3,
        2.121_379_430_158_659_586_7e4,
        3.930_789_580_009_271_061_0e4,
        2.872_908_573_572_194_267_4e4,
        5.226_495_278_852_854_561_0e3,
    ],
);

#[expect(clippy::excessive_precision, reason = "coefficients as printed")]
const MIDDLE: Rational = (
    [
        1.423_437_110_749_683_577_34,
        4.630_337_846_156_545_295_90,
        5.769_497_221_460_691_405_50,
        3.647_848_324_763_204_605_04,
        1.270_458_252_452_368_382_58,
        2.417_807_251_774_506_117_70e-1,
        2.272_384_498_926_918_458_33e-2,
        7.745_450_142_783_414_076_40e-4,
    ],
    [
        1.0,
        2.053_191_626_637_758_821_87,
        1.676_384_830_183_803_849_40,
        6.897_673_349_851_000_045_50e-1,
        1.481_039_764_274_800_745_90e-1,
        1.519_866_656_361_645_719_66e-2,
        5.475_938_084_995_344_946_00e-4,
        1.050_750_071_644_416_843_24e-9,
    ],
);

#[expect(clippy::excessive_precision, reason = "coefficients as printed")]
const FAR: Rational = (
    [
        6.657_904_643_501_103_777_20,
        5.463_784_911_164_114_369_90,
        1.784_826_539_917_291_335_80,
        2.965_605_718_285_048_912_30e-1,
        2.653_218_952_657_612_309_30e-2,
        1.242_660_947_388_078_438_60e-3,
        2.711_555_568_743_487_578_15e-5,
        2.010_334_399_292_288_132_65e-7,
    ],
    [
        1.0,
        5.998_322_065_558_879_376_90e-1,
        1.369_298_809_227_358_053_10e-1,
        1.487_536_129_085_061_485_25e-2,
        7.868_691_311_456_132_591_00e-4,
        1.846_318_317_510_054_681_80e-5,
        1.421_511_758_316_445_888_70e-7,
        2.044_263_103_389_939_785_64e-15,
    ],
);

#[cfg(test)]
mod tests {
    use super::*;

    /// z and the probability above it, computed with mpmath 1.4, 50 digits: erfc(z/sqrt(2))/2.
    const TAILS: &[(f64, f64)] = &[
        (0.0, 0.5),
        (0.1, 0.460172162722971),
        (-0.7, 0.758036347776927),
        (1.0, 0.15865525393145705),
        (1.959963984540054, 0.025000000000000012),
        (3.0, 0.0013498980316300946),
        (-4.0, 0.9999683287581669),
        (5.9, 1.8175078630994284e-09),
        (6.1, 5.303423262948841e-10),
        (8.0, 6.220960574271784e-16),
        (12.5, 3.732564298877713e-36),
        (20.0, 2.7536241186062337e-89),
        (37.0, 5.725571222524577e-300),
    ];

    #[test]
    fn tails_are_right() {
        for &(z, expected) in TAILS {
            let got = norm_sf(z);
            // Rounding of z itself, multiplied by the slope z of the exponent.
            assert!(
                (got / expected - 1.0).abs() < 1e-15 + 2e-16 * z * z,
                "{z}: {got} against {expected}"
            );
            assert_eq!(norm_cdf(-z), got);
        }
    }

    /// Tail probability and z, computed with mpmath 1.4, 50 digits, by root finding on erfc.
    const QUANTILES: &[(f64, f64)] = &[
        (0.4999, 0.00025066283008800747),
        (0.3, 0.5244005127080408),
        (0.075, 1.439531470938456),
        (0.0749, 1.4402382675279637),
        (0.025, 1.9599639845400543),
        (0.05, 1.6448536269514726),
        (0.001, 3.0902323061678136),
        (5e-07, 4.89163847569859),
        (1e-10, 6.361340902404057),
        (1.5e-11, 6.646570887477113),
        (1e-16, 8.222082216130435),
        (1e-50, 14.933337534788489),
        (1e-300, 37.0470962993612),
    ];

    #[test]
    fn quantiles_are_right() {
        for &(q, expected) in QUANTILES {
            let got = norm_isf(q);
            assert!(
                (got / expected - 1.0).abs() < 1e-15,
                "{q}: {got} against {expected}"
            );
        }
        assert_eq!(norm_quantile(0.5), 0.0);
        assert_eq!(norm_quantile(0.0), f64::NEG_INFINITY);
        assert_eq!(norm_quantile(1.0), f64::INFINITY);
        assert!(norm_quantile(1.1).is_nan());
    }
}
