//! Whether groups fail at different rates: the log-rank test and its early-weighted sister, with late entry and strata.

use super::risk_table::RiskTable;
use crate::stats::Error;
use crate::stats::quadratic_form::quadratic_form;
use crate::stats::special::chi2_sf;

/// How failures at different distances count.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum Weight {
    /// All alike (Mantel 1966): best when hazards are proportional.
    LogRank,
    /// By the pooled survival just before, so that early failures count more (Peto & Peto 1972; rho = 1 of Harrington &
    /// Fleming 1982).
    PetoPeto,
}

/// The outcome of a comparison of groups.
#[derive(Debug, Clone, PartialEq)]
pub struct LogRank {
    /// Weighted failures by group.
    pub observed: Vec<f64>,
    /// Weighted failures expected by group if all failed alike.
    pub expected: Vec<f64>,
    /// Covariance of observed minus expected (hypergeometric, which handles ties).
    pub covariance: Vec<Vec<f64>>,
    /// Test statistic.
    pub chi_square: f64,
    /// Groups that can be told apart, less one.
    pub degrees_of_freedom: usize,
    /// Probability of a larger statistic if all fail alike; none when nothing can be compared (no failure with two groups at
    /// risk).
    pub p_value: Option<f64>,
}

/// Compares groups: `strata` holds, for each stratum, one table a group, in the same order of groups. Within a stratum
/// failures are expected in proportion to the groups' risk sets (lives with entry < t <= exit); sums run over strata.
///
/// E_g = sum d n_g / n; covariance d (n - d) / (n - 1) (n_g / n) (delta_gh - n_h / n).
///
/// # Errors
/// [`Error::Input`] without strata, with fewer than two groups, or with strata of unequal length.
pub fn log_rank(strata: &[Vec<&RiskTable>], weight: Weight) -> Result<LogRank, Error> {
    let groups = strata.first().map_or(0, Vec::len);
    if groups < 2 || strata.iter().any(|stratum| stratum.len() != groups) {
        return Err(Error::Input {
            name: "strata",
            requirement: "every stratum must hold one table for each of two or more groups",
        });
    }
    let mut sums = Sums {
        observed: vec![0.0; groups],
        expected: vec![0.0; groups],
        covariance: vec![vec![0.0; groups]; groups],
    };
    for stratum in strata {
        sums.add(stratum, weight);
    }
    let difference: Vec<f64> = sums
        .observed
        .iter()
        .zip(&sums.expected)
        .map(|(o, e)| o - e)
        .collect();
    let form = quadratic_form(&difference, &sums.covariance);
    Ok(LogRank {
        chi_square: form.value,
        degrees_of_freedom: form.rank,
        p_value: (form.rank > 0).then(|| chi2_sf(form.value, form.rank as f64)),
        observed: sums.observed,
        expected: sums.expected,
        covariance: sums.covariance,
    })
}

struct Sums {
    observed: Vec<f64>,
    expected: Vec<f64>,
    covariance: Vec<Vec<f64>>,
}

impl Sums {
    fn add(&mut self, tables: &[&RiskTable], weight: Weight) {
        let mut failures: Vec<(f64, usize, u64)> = Vec::new();
        for (group, table) in tables.iter().enumerate() {
            let rows = table.rows().iter().filter(|row| row.failed > 0);
            failures.extend(rows.map(|row| (row.distance, group, row.failed)));
        }
        failures.sort_by(|a, b| a.0.total_cmp(&b.0).then(a.1.cmp(&b.1)));
        let mut survival = 1.0;
        for tied in failures.chunk_by(|a, b| a.0 == b.0) {
            let distance = tied.first().map_or(0.0, |&(distance, ..)| distance);
            let at_risk: Vec<f64> = tables
                .iter()
                .map(|table| table.at_risk(distance) as f64)
                .collect();
            let (n, d) = (
                at_risk.iter().sum::<f64>(),
                tied.iter().map(|t| t.2).sum::<u64>() as f64,
            );
            let w = match weight {
                Weight::LogRank => 1.0,
                Weight::PetoPeto => survival,
            };
            for &(_, group, failed) in tied {
                if let Some(observed) = self.observed.get_mut(group) {
                    *observed += w * failed as f64;
                }
            }
            self.expect(&at_risk, n, d, w);
            survival *= (n - d) / n;
        }
    }

    fn expect(&mut self, at_risk: &[f64], n: f64, d: f64, w: f64) {
        let spread = if n > 1.0 {
            w * w * d * (n - d) / (n - 1.0)
        } else {
            0.0
        };
        let rows = self
            .expected
            .iter_mut()
            .zip(&mut self.covariance)
            .zip(at_risk)
            .enumerate();
        for (g, ((expected, row), &n_g)) in rows {
            *expected += w * d * n_g / n;
            for (h, (cell, &n_h)) in row.iter_mut().zip(at_risk).enumerate() {
                let same = if g == h { 1.0 } else { 0.0 };
                *cell += spread * (n_g / n) * (same - n_h / n);
            }
        }
    }
}

#[cfg(test)]
mod tests {
    use super::super::risk_table::{Life, RiskTable};
    use super::*;

    fn table(lives: &[(f64, f64, bool)]) -> RiskTable {
        let lives: Vec<Life> = lives
            .iter()
            .map(|&(entry, exit, failed)| Life {
                entry,
                exit,
                failed,
            })
            .collect();
        RiskTable::from_lives(&lives).unwrap().table
    }

    #[test]
    fn order_of_groups_and_the_group_left_out_do_not_matter() {
        let a = table(&[(0.0, 3.0, true), (0.0, 5.0, true), (1.0, 8.0, false)]);
        let b = table(&[(0.0, 4.0, true), (2.0, 9.0, true), (0.0, 9.0, false)]);
        let c = table(&[(0.0, 5.0, true), (0.0, 5.0, false), (4.0, 7.0, true)]);
        let forward = log_rank(&[vec![&a, &b, &c]], Weight::LogRank).unwrap();
        let backward = log_rank(&[vec![&c, &b, &a]], Weight::LogRank).unwrap();
        assert!((forward.chi_square - backward.chi_square).abs() < 1e-13);
        assert_eq!(forward.degrees_of_freedom, 2);
    }

    #[test]
    fn one_stratum_cut_in_two_by_distance_is_the_whole_test() {
        // Strata that never overlap in distance: each failure meets the same risk set as before.
        let (a, b) = (
            table(&[
                (0.0, 3.0, true),
                (0.0, 4.0, true),
                (0.0, 12.0, true),
                (0.0, 14.0, false),
            ]),
            table(&[(0.0, 5.0, true), (0.0, 11.0, true), (0.0, 13.0, true)]),
        );
        let early = |cut: &[(f64, f64, bool)]| table(cut);
        let a1 = early(&[
            (0.0, 3.0, true),
            (0.0, 4.0, true),
            (0.0, 10.0, false),
            (0.0, 10.0, false),
        ]);
        let b1 = early(&[(0.0, 5.0, true), (0.0, 10.0, false), (0.0, 10.0, false)]);
        let (a2, b2) = (a.conditional_on(10.0), b.conditional_on(10.0));
        let whole = log_rank(&[vec![&a, &b]], Weight::LogRank).unwrap();
        let parts = log_rank(&[vec![&a1, &b1], vec![&a2, &b2]], Weight::LogRank).unwrap();
        assert!((whole.chi_square - parts.chi_square).abs() < 1e-13);
    }

    #[test]
    fn groups_never_at_risk_together_cannot_be_compared() {
        let a = table(&[(0.0, 3.0, true), (0.0, 4.0, true)]);
        let b = table(&[(5.0, 8.0, true), (5.0, 9.0, true)]);
        let test = log_rank(&[vec![&a, &b]], Weight::LogRank).unwrap();
        assert_eq!((test.degrees_of_freedom, test.p_value), (0, None));
    }
}
