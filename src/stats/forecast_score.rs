//! How good stated probabilities were: log score, Brier score with its three parts, and a test of calibration.

use super::error::Error;

/// Scores of forecasts of one thing that happened or did not.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct BinaryScore {
    /// Mean of `(p - y)^2` (Brier 1950, Mon Weather Rev 78:1, halved so that 1 is the worst).
    pub brier: f64,
    /// `sum n_k (p_k - y_k)^2 / n` over the distinct forecasts (Murphy 1973, J Appl Meteorol 12:595); 0 is perfect.
    pub reliability: f64,
    /// `sum n_k (y_k - y)^2 / n`: how far the outcomes of different forecasts lie apart.
    pub resolution: f64,
    /// `y (1 - y)`; brier = reliability - resolution + uncertainty.
    pub uncertainty: f64,
    /// Mean of `-ln p` of what happened; infinite when it was ruled out.
    pub log_score: f64,
    /// Spiegelhalter's z (1986, Stat Med 5:421): `sum (y - p)(1 - 2p) / sqrt(sum (1 - 2p)^2 p (1 - p))`, standard normal
    /// when the forecasts are calibrated; `None` when every forecast is 0, 1/2 or 1.
    pub spiegelhalter_z: Option<f64>,
}

/// Scores of forecasts over several classes of which one is true.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct ClassScore {
    /// Mean over forecasts of the sum over classes of `(p - y)^2`, between 0 and 2.
    pub brier: f64,
    /// Mean of `-ln p` of the true class.
    pub log_score: f64,
    /// Share of forecasts whose first class (the earliest of equals) was the true one.
    pub first_right: f64,
}

/// Scores `forecasts` of what happened (`true`) or did not.
///
/// # Errors
/// No forecast, lists of unequal length, a forecast outside 0..=1.
pub fn binary(forecasts: &[f64], happened: &[bool]) -> Result<BinaryScore, Error> {
    check(forecasts, happened.len())?;
    let n = forecasts.len() as f64;
    let y = |hit: bool| if hit { 1.0 } else { 0.0 };
    let pairs = || forecasts.iter().zip(happened).map(|(p, hit)| (*p, y(*hit)));
    let base = pairs().map(|(_, y)| y).sum::<f64>() / n;
    let mut sorted: Vec<(f64, f64)> = pairs().collect();
    sorted.sort_by(|a, b| a.0.total_cmp(&b.0));
    let (mut reliability, mut resolution) = (0.0, 0.0);
    for alike in sorted.chunk_by(|a, b| a.0 == b.0) {
        let count = alike.len() as f64;
        let mean = alike.iter().map(|(_, y)| y).sum::<f64>() / count;
        let p = alike.first().map_or(0.0, |a| a.0);
        reliability += count * (p - mean).powi(2);
        resolution += count * (mean - base).powi(2);
    }
    let variance: f64 = pairs()
        .map(|(p, _)| (1.0 - 2.0 * p).powi(2) * p * (1.0 - p))
        .sum();
    let excess: f64 = pairs().map(|(p, y)| (y - p) * (1.0 - 2.0 * p)).sum();
    Ok(BinaryScore {
        brier: pairs().map(|(p, y)| (p - y).powi(2)).sum::<f64>() / n,
        reliability: reliability / n,
        resolution: resolution / n,
        uncertainty: base * (1.0 - base),
        log_score: pairs()
            .map(|(p, y)| -(if y > 0.5 { p } else { 1.0 - p }).ln())
            .sum::<f64>()
            / n,
        spiegelhalter_z: (variance > 0.0).then(|| excess / variance.sqrt()),
    })
}

/// Scores `forecasts` (each a probability for every class) against the true classes.
///
/// # Errors
/// No forecast, lists of unequal length, a probability outside 0..=1, a true class that no forecast names.
pub fn classes(forecasts: &[Vec<f64>], truth: &[usize]) -> Result<ClassScore, Error> {
    for (forecast, class) in forecasts.iter().zip(truth) {
        check(forecast, forecast.len())?;
        if *class >= forecast.len() {
            return Err(Error::Input {
                name: "truth",
                requirement: "must be one of the classes forecast",
            });
        }
    }
    if forecasts.is_empty() || forecasts.len() != truth.len() {
        return Err(unequal());
    }
    let n = truth.len() as f64;
    let mut score = ClassScore {
        brier: 0.0,
        log_score: 0.0,
        first_right: 0.0,
    };
    for (forecast, &class) in forecasts.iter().zip(truth) {
        let squares = forecast.iter().enumerate().map(|(c, p)| {
            let y = if c == class { 1.0 } else { 0.0 };
            (p - y).powi(2)
        });
        score.brier += squares.sum::<f64>() / n;
        score.log_score -= forecast[class].ln() / n;
        if rank(forecast, class) == 1 {
            score.first_right += 1.0 / n;
        }
    }
    Ok(score)
}

/// How bold forecasts over several classes are.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Slope {
    /// The power `b` to which forecasts must be raised, and brought back to the sum 1, to make what happened most probable: 1
    /// when calibrated, below it the forecasts are too bold.
    pub slope: f64,
    /// Standard error of the slope, from the information at it.
    pub standard_error: f64,
    /// Score test that the slope is 1, standard normal: `sum (H + ln p of what happened) / sqrt(sum Var(ln p))`, with `H` the
    /// entropy of a forecast; below 0 too bold. It is Spiegelhalter's device with the log score for Brier's.
    pub score_z: f64,
}

/// Most steps of Newton's method.
const STEPS: usize = 100;

/// A power beyond this stands for none: what was most probable always happened, or never.
const BOLDEST: f64 = 20.0;

/// The calibration slope (Cox 1958, Biometrika 45:562, for two classes): maximises `sum ln (p_t^b / sum_j p_j^b)`, which is concave.
///
/// `None` where the forecasts say the same of all classes, where one ruled out what happened, or where no power is the best.
///
/// # Errors
/// As [`classes`].
pub fn slope(forecasts: &[Vec<f64>], truth: &[usize]) -> Result<Option<Slope>, Error> {
    classes(forecasts, truth)?;
    let possible = |(f, t): (&Vec<f64>, &usize)| f[*t] > 0.0;
    if !forecasts.iter().zip(truth).all(possible) {
        return Ok(None);
    }
    let (score, information) = slope_at(forecasts, truth, 1.0);
    if information <= 0.0 {
        return Ok(None);
    }
    let score_z = score / information.sqrt();
    let mut b = 1.0;
    for _ in 0..STEPS {
        let (score, information) = slope_at(forecasts, truth, b);
        // Half a unit a step at the most: far from the top the curve is flat and Newton would leap.
        let step = (score / information.max(1e-300)).clamp(-0.5, 0.5);
        b += step;
        if b.abs() > BOLDEST {
            break;
        }
        if step.abs() < 1e-12 * (1.0 + b.abs()) {
            return Ok(Some(Slope {
                slope: b,
                standard_error: 1.0 / information.sqrt(),
                score_z,
            }));
        }
    }
    Ok(None)
}

/// First derivative at `b` and the negative second.
fn slope_at(forecasts: &[Vec<f64>], truth: &[usize], b: f64) -> (f64, f64) {
    let (mut score, mut information) = (0.0, 0.0);
    for (forecast, t) in forecasts.iter().zip(truth) {
        let logs = || forecast.iter().filter(|p| **p > 0.0).map(|p| p.ln());
        let top = logs().fold(f64::NEG_INFINITY, |m, l| m.max(b * l));
        let weigh = |l: f64| (b * l - top).exp();
        let sum: f64 = logs().map(weigh).sum();
        let mean = logs().map(|l| weigh(l) * l).sum::<f64>() / sum;
        let square = logs().map(|l| weigh(l) * (l - mean).powi(2)).sum::<f64>() / sum;
        score += forecast[*t].ln() - mean;
        information += square;
    }
    (score, information)
}

/// Rank of a class in a forecast, from 1; equals rank in their order.
pub fn rank(forecast: &[f64], class: usize) -> usize {
    let own = forecast.get(class).copied().unwrap_or(0.0);
    let before = forecast.iter().enumerate();
    1 + before
        .filter(|(c, p)| **p > own || (**p == own && *c < class))
        .count()
}

fn check(forecasts: &[f64], others: usize) -> Result<(), Error> {
    if forecasts.is_empty() || forecasts.len() != others {
        return Err(unequal());
    }
    match forecasts.iter().find(|p| !(0.0..=1.0).contains(*p)) {
        Some(p) => Err(Error::Parameter {
            name: "forecast",
            value: *p,
            requirement: "must lie between 0 and 1",
        }),
        None => Ok(()),
    }
}

fn unequal() -> Error {
    Error::Input {
        name: "forecasts",
        requirement: "at least one, and as many outcomes as forecasts",
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    /// By hand: 0.8 said, 3 of 4 right. b makes 0.8^b / (0.8^b + 0.2^b) = 3/4, so b = ln 3 / ln 4; the score test is
    /// (4 (0.75 - 0.8) ln 4) / sqrt(4 x 0.8 x 0.2 x ln(4)^2) = -0.25.
    #[test]
    fn slope_of_two_classes() {
        let said = vec![vec![0.8, 0.2]; 4];
        let s = slope(&said, &[0, 0, 0, 1])
            .expect("forecasts")
            .expect("a slope");
        assert!((s.slope - 3f64.ln() / 4f64.ln()).abs() < 1e-10, "{s:?}");
        assert!((s.score_z + 0.25).abs() < 1e-12, "{s:?}");
        let information = 4.0 * 0.75 * 0.25 * 4f64.ln().powi(2);
        assert!((s.standard_error - 1.0 / information.sqrt()).abs() < 1e-9);
        // Always right: no power is bold enough.
        assert_eq!(slope(&said, &[0, 0, 0, 0]), Ok(None));
        assert_eq!(slope(&[vec![0.5, 0.5]], &[0]), Ok(None));
        assert_eq!(slope(&[vec![1.0, 0.0]], &[1]), Ok(None));
    }

    #[test]
    fn refuses_what_is_no_forecast() {
        assert!(binary(&[], &[]).is_err());
        assert!(binary(&[0.5], &[]).is_err());
        assert!(binary(&[1.5], &[true]).is_err());
        assert!(classes(&[vec![0.5, 0.5]], &[2]).is_err());
        assert!(classes(&[vec![0.5, 0.5]], &[]).is_err());
        assert_eq!(binary(&[0.5], &[true]).map(|s| s.spiegelhalter_z), Ok(None));
        assert_eq!(rank(&[0.2, 0.5, 0.2], 2), 3);
    }
}
