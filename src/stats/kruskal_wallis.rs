//! Do several groups come from one distribution? Judged by ranks, whatever its shape.

use super::error::Error;
use super::special::chi2_sf;

/// Result of the rank test.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct KruskalWallis {
    /// Statistic H, corrected for ties.
    pub h: f64,
    /// Degrees of freedom: groups with a value less one.
    pub degrees: u64,
    /// Upper tail of the chi-square distribution at H.
    pub p: f64,
}

/// `H = (12 / (N (N + 1)) sum R_g^2 / n_g - 3 (N + 1)) / (1 - sum (t^3 - t) / (N^3 - N))`, R the rank sums with mean ranks for
/// ties, t the sizes of ties (Kruskal & Wallis 1952, J Am Stat Assoc 47:583). The tail is the large-sample one.
///
/// `None` with fewer than two groups that hold a value, or where all values are equal.
///
/// # Errors
/// A value that is not a number.
pub fn kruskal_wallis(groups: &[Vec<f64>]) -> Result<Option<KruskalWallis>, Error> {
    let mut all: Vec<(f64, usize)> = groups
        .iter()
        .enumerate()
        .flat_map(|(g, values)| values.iter().map(move |x| (*x, g)))
        .collect();
    if all.iter().any(|(x, _)| x.is_nan()) {
        return Err(Error::Input {
            name: "groups",
            requirement: "numbers only",
        });
    }
    all.sort_by(|a, b| a.0.total_cmp(&b.0));
    let mut sums = vec![0.0; groups.len()];
    let (mut below, mut ties) = (0.0, 0.0);
    for tie in all.chunk_by(|a, b| a.0 == b.0) {
        let t = tie.len() as f64;
        let rank = below + (t + 1.0) / 2.0;
        for (_, group) in tie {
            if let Some(sum) = sums.get_mut(*group) {
                *sum += rank;
            }
        }
        below += t;
        ties += t * (t * t - 1.0);
    }
    let n = below;
    let held = groups.iter().filter(|g| !g.is_empty()).count() as u64;
    let untied = 1.0 - ties / (n * (n * n - 1.0));
    // Not a number with fewer than two values.
    if held < 2 || untied.is_nan() || untied <= 0.0 {
        return Ok(None);
    }
    // Squares about the mean rank, which do not cancel.
    let spread: f64 = groups
        .iter()
        .zip(&sums)
        .filter(|(g, _)| !g.is_empty())
        .map(|(g, sum)| {
            let size = g.len() as f64;
            size * (sum / size - (n + 1.0) / 2.0).powi(2)
        })
        .sum();
    let h = 12.0 / (n * (n + 1.0)) * spread / untied;
    let degrees = held - 1;
    Ok(Some(KruskalWallis {
        h,
        degrees,
        p: chi2_sf(h, degrees as f64),
    }))
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn what_cannot_be_compared_is_said() {
        assert_eq!(kruskal_wallis(&[vec![1.0, 2.0], vec![]]), Ok(None));
        assert_eq!(kruskal_wallis(&[vec![1.0; 4], vec![1.0; 3]]), Ok(None));
        assert!(kruskal_wallis(&[vec![f64::NAN], vec![1.0]]).is_err());
    }
}
