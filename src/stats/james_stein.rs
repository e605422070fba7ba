//! Shrinkage of several means of equal, known variance towards their average.

use super::error::Error;

/// Means after shrinkage.
#[derive(Debug, Clone, PartialEq)]
pub struct JamesStein {
    /// Average of all means.
    pub grand_mean: f64,
    /// What remains of each distance from it, `1 - (k - 3) v / S`, not below 0; `S` the sum of squares about the average.
    pub factor: f64,
    /// The shrunk means, in the order given.
    pub shrunk: Vec<f64>,
}

/// The positive-part James-Stein estimator towards the grand mean (Efron & Morris 1975, J Am Stat Assoc 70:311, eq. 1.1, with
/// their `k - 3` for an estimated centre): better than the means themselves in total squared error from four means on.
///
/// # Errors
/// Fewer than four means, a mean that is not finite, a variance that is not positive and finite.
pub fn james_stein(means: &[f64], variance: f64) -> Result<JamesStein, Error> {
    if means.len() < 4 || means.iter().any(|m| !m.is_finite()) {
        return Err(Error::Input {
            name: "means",
            requirement: "must be at least four finite numbers",
        });
    }
    if !(variance > 0.0 && variance.is_finite()) {
        return Err(Error::Parameter {
            name: "variance",
            value: variance,
            requirement: "above 0 and finite",
        });
    }
    let k = means.len() as f64;
    let grand_mean = means.iter().sum::<f64>() / k;
    let squares: f64 = means.iter().map(|m| (m - grand_mean).powi(2)).sum();
    let factor = if squares > 0.0 {
        (1.0 - (k - 3.0) * variance / squares).max(0.0)
    } else {
        0.0
    };
    let shrunk = means
        .iter()
        .map(|m| grand_mean + factor * (m - grand_mean))
        .collect();
    Ok(JamesStein {
        grand_mean,
        factor,
        shrunk,
    })
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn edges_and_bad_input() {
        let equal = james_stein(&[0.3; 5], 0.1).unwrap();
        assert_eq!((equal.factor, equal.grand_mean), (0.0, 0.3));
        assert!(james_stein(&[0.1, 0.2, 0.3, 0.4], 1e6).unwrap().factor == 0.0);
        assert!(james_stein(&[1.0, 2.0, 3.0], 1.0).is_err());
        assert!(james_stein(&[1.0, 2.0, 3.0, f64::NAN], 1.0).is_err());
        assert!(james_stein(&[1.0, 2.0, 3.0, 4.0], 0.0).is_err());
    }
}
