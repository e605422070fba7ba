//! Whether a fitted distribution describes the lives: failures by band against those it expects.

use super::blocks::Blocks;
use super::fit::Fit;
use crate::stats::Error;
use crate::stats::quadratic_form::quadratic_form;
use crate::stats::special::chi2_sf;
use crate::stats::survival::RiskTable;

/// One band [from, to).
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct BandOfFit {
    /// Start of the band.
    pub from: f64,
    /// Its end; infinite for the last.
    pub to: f64,
    /// Failures in the band.
    pub observed: u64,
    /// Failures the fit expects of the lives at risk there.
    pub expected: f64,
}

/// The comparison of a fit with the failures it was fitted to.
#[derive(Debug, Clone, PartialEq)]
pub struct GoodnessOfFit {
    /// The bands.
    pub bands: Vec<BandOfFit>,
    /// The statistic.
    pub chi_square: f64,
    /// Bands less the two fitted parameters' share.
    pub degrees_of_freedom: usize,
    /// Probability of a larger statistic if the family is right; none when no degree of freedom is left. Rough when bands
    /// expect fewer than about 5 failures.
    pub p_value: Option<f64>,
}

/// Hjort's chi-square test (1990, Ann Stat 18:1221) with late entry and censoring: observed less expected failures by band,
/// expected = the fitted hazard summed over the lives at risk, against the covariance diag(E) - C V C', with C the
/// derivatives of E by the parameters and V their covariance; `blocks` are those of the table.
///
/// # Errors
/// [`Error::Input`] unless the edges are finite and increase.
pub fn goodness_of_fit(
    fit: &Fit,
    table: &RiskTable,
    blocks: &Blocks,
    edges: &[f64],
) -> Result<GoodnessOfFit, Error> {
    let increasing = edges.windows(2).all(|pair| matches!(pair, [a, b] if a < b));
    if edges.is_empty() || !increasing || edges.iter().any(|edge| !edge.is_finite()) {
        return Err(Error::Input {
            name: "edges",
            requirement: "band edges must be finite and increase",
        });
    }
    let ends = edges.iter().skip(1).copied().chain([f64::INFINITY]);
    let bands = edges.iter().copied().zip(ends);
    let (expected, gradients): (Vec<f64>, Vec<[f64; 2]>) =
        expected_failures(fit, table, blocks, bands.clone())
            .into_iter()
            .unzip();
    let bands = bands.zip(expected);
    let bands: Vec<BandOfFit> = bands
        .map(|((from, to), expected)| BandOfFit {
            from,
            to,
            observed: table.failures_between(from, to),
            expected,
        })
        .collect();
    let difference: Vec<f64> = bands
        .iter()
        .map(|band| band.observed as f64 - band.expected)
        .collect();
    let [[a, b], [_, c]] = fit.covariance;
    let covariance: Vec<Vec<f64>> = gradients
        .iter()
        .enumerate()
        .map(|(i, [x, y])| {
            let row = gradients.iter().enumerate().map(|(j, [u, v])| {
                let same = if i == j {
                    bands.get(i).map_or(0.0, |band| band.expected)
                } else {
                    0.0
                };
                same - (x * u * a + (x * v + y * u) * b + y * v * c)
            });
            row.collect()
        })
        .collect();
    let form = quadratic_form(&difference, &covariance);
    Ok(GoodnessOfFit {
        bands,
        chi_square: form.value,
        degrees_of_freedom: form.rank,
        p_value: (form.rank > 0).then(|| chi2_sf(form.value, form.rank as f64)),
    })
}

/// Places at which the hazard is looked at to choose edges; more would move them by less than a thousandth of the failures.
const PLACES: usize = 1000;

/// The lives at risk between places of a table, for the edges of any fit.
pub struct Places {
    from: f64,
    /// Where each stretch ends, and how many lives were at risk in it on average.
    stretches: Vec<(f64, f64)>,
}

impl Places {
    /// Puts stretches between rows together until they are few.
    pub fn new(table: &RiskTable) -> Self {
        let together = table.stretches().count().div_ceil(PLACES).max(1);
        let mut all = table.stretches().peekable();
        let first = all.peek().map_or(0.0, |(from, ..)| *from);
        let mut stretches = Vec::with_capacity(PLACES + 1);
        while let Some(&(from, mut to, _)) = all.peek() {
            let some = all.by_ref().take(together);
            let driven: f64 = some
                .map(|(a, b, n)| {
                    to = b;
                    (b - a) * n as f64
                })
                .sum();
            stretches.push((to, driven / (to - from)));
        }
        Self {
            from: first,
            stretches,
        }
    }
}

/// Edges that cut the lives into `bands` bands of about equal expected failures.
pub fn equal_expectation_edges(fit: &Fit, places: &Places, bands: usize) -> Vec<f64> {
    let mut hazard = 0.0;
    let mut start = cumulative(fit, places.from).0;
    let mut sums = Vec::with_capacity(places.stretches.len());
    for &(to, at_risk) in &places.stretches {
        let end = cumulative(fit, to).0;
        hazard += at_risk * (end - start);
        start = end;
        sums.push((to, hazard));
    }
    let mut edges = vec![0.0];
    for (to, sum) in sums {
        let next = edges.len();
        let reached = sum >= hazard * next as f64 / bands.max(1) as f64;
        if reached && next < bands && edges.last().is_some_and(|&last| last < to) {
            edges.push(to);
        }
    }
    edges
}

/// The cumulative hazard at a distance with its derivatives by mu and ln sigma.
fn cumulative(fit: &Fit, distance: f64) -> (f64, [f64; 2]) {
    if distance <= 0.0 {
        return (0.0, [0.0; 2]);
    }
    cumulative_at_log(fit, distance.ln())
}

fn cumulative_at_log(fit: &Fit, log_distance: f64) -> (f64, [f64; 2]) {
    let sigma = fit.sigma();
    let z = (log_distance - fit.parameters.location) / sigma;
    let jet = fit.family.log_survival(z);
    (-jet.value, [jet.slope / sigma, z * jet.slope])
}

/// Expected failures from each edge to the next, with derivatives by mu and ln sigma.
///
/// The hazard that the lives at risk gather in a band is H where they end or leave the band, less H where they enter or come into it: a
/// sum over the rows inside, for which few terms are enough, and over those at risk at the edges.
fn expected_failures(
    fit: &Fit,
    table: &RiskTable,
    blocks: &Blocks,
    bands: impl Iterator<Item = (f64, f64)>,
) -> Vec<(f64, [f64; 2])> {
    let rows = table.rows();
    let band = |(from, to): (f64, f64)| {
        let mut sums = (0.0, [0.0; 2]);
        let mut add = |weight: f64, (hazard, [by_mu, by_scale]): (f64, [f64; 2])| {
            sums.0 += weight * hazard;
            sums.1[0] += weight * by_mu;
            sums.1[1] += weight * by_scale;
        };
        let inside = rows.partition_point(|row| row.distance <= from)
            ..rows.partition_point(|row| row.distance < to);
        let (before, after) = (table.at_risk_beyond(from), table.at_risk(to));
        if before > 0 {
            add(-(before as f64), cumulative(fit, from));
        }
        for (log_distance, weight) in blocks.weights(table, &inside) {
            add(weight, cumulative_at_log(fit, log_distance));
        }
        if after > 0 {
            add(after as f64, cumulative(fit, to));
        }
        sums
    };
    bands.map(band).collect()
}

#[cfg(test)]
mod tests {
    use super::super::family::Family;
    use super::super::fit::fit;
    use super::super::observed::Observed;
    use super::*;
    use crate::stats::survival::Life;

    /// Lives between `from` and `from + over`, one in seven failing.
    fn table(lives: u32, from: f64, over: f64) -> RiskTable {
        let lives: Vec<Life> = (0..lives)
            .map(|i| {
                let spread = |by: u32| f64::from(i.wrapping_mul(by) % 10_007) / 10_007.0;
                let entry = from * spread(7919);
                Life {
                    entry,
                    exit: entry + 1.0 + over * spread(104_729),
                    failed: i % 7 == 0,
                }
            })
            .collect();
        RiskTable::from_lives(&lives).unwrap().table
    }

    /// Every stretch between rows, cut at the edges, by itself.
    fn stretch_by_stretch(fit: &Fit, table: &RiskTable, from: f64, to: f64) -> (f64, [f64; 2]) {
        let mut sums = (0.0, [0.0; 2]);
        for (start, end, at_risk) in table.stretches() {
            let (start, end) = (start.max(from), end.min(to));
            if start < end {
                let (a, b) = (cumulative(fit, start), cumulative(fit, end));
                let weight = at_risk as f64;
                sums.0 += weight * (b.0 - a.0);
                sums.1[0] += weight * (b.1[0] - a.1[0]);
                sums.1[1] += weight * (b.1[1] - a.1[1]);
            }
        }
        sums
    }

    #[test]
    fn expected_failures_are_those_of_every_stretch() {
        for table in [table(40, 60.0, 90.0), table(30_000, 300.0, 250.0)] {
            let blocks = Blocks::new(&table);
            let end = table.last_exit().unwrap();
            for family in Family::ALL {
                let mut fit = fit(family, &Observed::from_table(&table)).unwrap();
                // As fitted, and far steeper than the lives are.
                for shape in [1.0, 4.0] {
                    fit.parameters.log_scale -= f64::ln(shape);
                    let row = table.rows()[table.rows().len() / 3].distance;
                    let edges = [0.0, 0.1 * end, row, row + 0.001, 0.9 * end, 2.0 * end];
                    let ends = edges.iter().skip(1).copied().chain([f64::INFINITY]);
                    let bands: Vec<(f64, f64)> = edges.iter().copied().zip(ends).collect();
                    let few = expected_failures(&fit, &table, &blocks, bands.iter().copied());
                    let (whole, _) = stretch_by_stretch(&fit, &table, 0.0, f64::INFINITY);
                    for ((from, to), (expected, gradient)) in bands.into_iter().zip(few) {
                        let (wanted, slopes) = stretch_by_stretch(&fit, &table, from, to);
                        assert!(
                            (expected - wanted).abs() <= 1e-11 * whole,
                            "{family:?} {from}"
                        );
                        for (a, b) in gradient.iter().zip(slopes) {
                            assert!((a - b).abs() <= 1e-9 * whole, "{family:?} {from}: {a} {b}");
                        }
                    }
                }
            }
        }
    }

    #[test]
    fn bands_expect_about_as_many_failures_each() {
        let table = table(30_000, 300.0, 250.0);
        let fit = fit(Family::Weibull, &Observed::from_table(&table)).unwrap();
        let edges = equal_expectation_edges(&fit, &Places::new(&table), 8);
        let test = goodness_of_fit(&fit, &table, &Blocks::new(&table), &edges).unwrap();
        let expected = |band: &BandOfFit| band.expected;
        let all: f64 = test.bands.iter().map(expected).sum();
        assert!((all / fit.failures as f64 - 1.0).abs() < 1e-8);
        assert!(
            test.bands
                .iter()
                .all(|band| (8.0 * band.expected / all - 1.0).abs() < 0.02)
        );
    }
}
