//! One interval for a share over clusters, whatever the counts: the rule by which a method is chosen.

use super::proportion::proportion_ratio_estimator;
use crate::stats::error::Error;
use crate::stats::interval::Interval;
use crate::stats::proportion::clopper_pearson;

/// Limits of a share whose trials come in `(successes, trials)` clusters.
///
/// Korn & Graubard's interval, never counting more independent trials than there are, where clusters differ; where every trial
/// had one outcome, or there is one cluster, the exact interval of as many trials as there are clusters, since the data cannot
/// show that trials of one cluster tell more than one of them.
///
/// # Errors
/// More successes than trials, no trial at all, a level outside (0, 1).
pub fn cluster_share_interval(clusters: &[(u64, u64)], level: f64) -> Result<Interval, Error> {
    let found = proportion_ratio_estimator(clusters)?;
    let independent = || clopper_pearson(found.successes, found.trials, level);
    let Some(robust) = found.interval_korn_graubard(level)? else {
        if found.trials == found.clusters {
            return independent();
        }
        // All or none: the exact one-sided limit of one trial a cluster. One mixed cluster: nothing but the share is known.
        return match found.successes {
            0 => clopper_pearson(0, found.clusters, level),
            all if all == found.trials => clopper_pearson(found.clusters, found.clusters, level),
            _ => Ok(Interval {
                lower: 0.0,
                upper: 1.0,
            }),
        };
    };
    // Clusters that happen to differ less than chance would make them do not add trials.
    let plain = independent()?;
    Ok(Interval {
        lower: robust.lower.min(plain.lower),
        upper: robust.upper.max(plain.upper),
    })
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn one_outcome_counts_clusters() {
        let none = cluster_share_interval(&[(0, 3); 10], 0.95).unwrap();
        let exact = clopper_pearson(0, 10, 0.95).unwrap();
        assert_eq!(none, exact);
        let all = cluster_share_interval(&[(3, 3); 10], 0.95).unwrap();
        assert_eq!(all, clopper_pearson(10, 10, 0.95).unwrap());
        let one = cluster_share_interval(&[(1, 3)], 0.95).unwrap();
        assert_eq!((one.lower, one.upper), (0.0, 1.0));
    }

    #[test]
    fn alike_within_clusters_is_wider_than_independent() {
        let alike = cluster_share_interval(&[(4, 4), (0, 4), (4, 4), (0, 4), (4, 4), (0, 4)], 0.95)
            .unwrap();
        let plain = clopper_pearson(12, 24, 0.95).unwrap();
        assert!(alike.width() > 1.5 * plain.width(), "{alike:?} {plain:?}");
    }
}
