//! A risk table of many rows in few terms.
//!
//! Likelihoods and expected failures are sums over lives of smooth functions of ln distance. In narrow bins of ln distance such a sum is one
//! over a few nodes ([`super::chebyshev`]), so that 100 000 lives cost as much as a few hundred. Blocks of rows keep their moments,
//! so that the same holds for any stretch of rows.

use std::ops::Range;

use super::chebyshev::{Moments, NODES, add, moments, nodes, weights};
use super::observed::{Observed, Term};
use crate::stats::survival::{RiskRow, RiskTable};

/// Fewer rows than this are left as they are.
const MANY: usize = 1000;

/// Rows of a block: a stretch of rows cuts at most two.
const BLOCK: usize = 128;

/// Width of a bin in ln distance, within a factor e of the largest distance; twice as wide down to a factor e^3, four times below.
///
/// Of a Weibull of shape b the error in a bin of width w, that ends L below the logarithm of the largest distance, is at most
/// 2 (b w / 4)^NODES / NODES! e^(-b L) of the largest term: 3e-12 at a shape of 20 near the largest distance, and below 1e-15 at
/// any shape in the wider bins, where such lives are too short to count. A loglogistic has its nearest singularity at
/// pi / shape beside the real axis: 1e-12 at a shape of 9, 1e-9 at 14.
const WIDTH: f64 = 0.25;

/// A stretch of ln distance in which nodes stand for lives.
#[derive(Debug, Clone, Copy, PartialEq)]
struct Bin {
    start: f64,
    width: f64,
}

impl Bin {
    /// The bin of a distance, counted down from the largest.
    fn of(end: f64, log_distance: f64) -> Self {
        let below = end - log_distance;
        let (from, width) = match below {
            near if near < 1.0 => (0.0, WIDTH),
            middle if middle < 3.0 => (1.0, 2.0 * WIDTH),
            _ => (3.0, 4.0 * WIDTH),
        };
        let number = ((below - from) / width).floor();
        Self {
            start: end - from - (number + 1.0) * width,
            width,
        }
    }

    /// Where a distance stands in [-1, 1].
    fn place(self, log_distance: f64) -> f64 {
        2.0 * (log_distance - self.start) / self.width - 1.0
    }

    /// The ln distance of a place.
    fn log_distance(self, place: f64) -> f64 {
        self.start + 0.5 * (place + 1.0) * self.width
    }
}

/// The rows of a table, in blocks.
#[derive(Debug, Clone)]
pub struct Blocks(Vec<Block>);

#[derive(Debug, Clone)]
struct Block {
    rows: Range<usize>,
    /// None where rows are few and stand for themselves.
    gathered: Option<Gathered>,
}

/// Rows of one bin.
#[derive(Debug, Clone)]
struct Gathered {
    bin: Bin,
    /// Moments of the lives that end less those that enter.
    ended: Moments,
    /// Moments of failures.
    failed: Moments,
}

/// Lives that end at a row, failed or not, less those that enter.
fn ended(row: &RiskRow) -> f64 {
    (row.left + row.failed) as f64 - row.entered as f64
}

fn some<'a>(table: &'a RiskTable, rows: &Range<usize>) -> &'a [RiskRow] {
    table.rows().get(rows.clone()).unwrap_or_default()
}

impl Blocks {
    /// Cuts a table; what happens at distance 0 is in no block, since nothing is gathered up to there.
    pub fn new(table: &RiskTable) -> Self {
        let rows = table.rows();
        let first = rows.partition_point(|row| row.distance <= 0.0);
        let alone = |rows| Block {
            rows,
            gathered: None,
        };
        if rows.len() - first < MANY {
            return Self(vec![alone(first..rows.len())]);
        }
        let logs: Vec<f64> = rows.iter().map(|row| row.distance.ln()).collect();
        let end = logs.last().copied().unwrap_or(0.0);
        let mut blocks = Vec::new();
        let mut from = first;
        while let Some((log, rest)) = logs.get(from..).and_then(<[f64]>::split_first) {
            let bin = Bin::of(end, *log);
            let to = from + 1 + rest.partition_point(|log| Bin::of(end, *log) == bin);
            if to - from <= NODES {
                blocks.push(alone(from..to));
            } else {
                let starts = (from..to).step_by(BLOCK);
                blocks.extend(starts.map(|from| {
                    let rows = from..to.min(from + BLOCK);
                    let logs = logs.get(rows.clone()).unwrap_or_default();
                    Block {
                        gathered: Some(Gathered::new(bin, logs, some(table, &rows))),
                        rows,
                    }
                }));
            }
            from = to;
        }
        Self(blocks)
    }

    /// The likelihood of the table's lives in few terms, for fits and limits alone: the terms are no distances of lives any
    /// more, and weights can be negative. Log-likelihood and derivatives agree to about 1e-12 for shapes met in practice.
    pub fn observed(&self, table: &RiskTable) -> Observed {
        let nodes = nodes();
        let mut terms = Vec::new();
        for alike in self.0.chunk_by(Block::meets) {
            let (mut all, mut lost, mut bin) = ([0.0; NODES], [0.0; NODES], None);
            for block in alike {
                match &block.gathered {
                    None => terms.extend(some(table, &block.rows).iter().map(Term::new)),
                    Some(gathered) => {
                        add(&mut all, &gathered.ended);
                        add(&mut lost, &gathered.failed);
                        bin = Some(gathered.bin);
                    }
                }
            }
            let Some(bin) = bin else {
                continue;
            };
            let at_nodes = weights(&nodes, &all)
                .into_iter()
                .zip(weights(&nodes, &lost));
            let at_nodes = nodes.iter().zip(at_nodes).rev();
            terms.extend(at_nodes.map(|(node, (ended, failed))| Term {
                log_distance: bin.log_distance(*node),
                failed,
                survived: ended - failed,
                failed_before: 0.0,
            }));
        }
        Observed::with_terms(terms, table)
    }

    /// Few logarithms of distances with weights, for all lives that end at some of the rows less those that enter.
    pub(super) fn weights(&self, table: &RiskTable, rows: &Range<usize>) -> Vec<(f64, f64)> {
        let nodes = nodes();
        let mut found = Vec::new();
        for alike in self.0.chunk_by(Block::meets) {
            let (mut sum, mut bin) = ([0.0; NODES], None);
            for block in alike {
                let own = block.rows.start.max(rows.start)..block.rows.end.min(rows.end);
                if own.is_empty() {
                    continue;
                }
                let whole = own == block.rows;
                let rows = some(table, &own).iter();
                let own = rows.map(|row| (row.distance.ln(), ended(row)));
                match &block.gathered {
                    None => found.extend(own),
                    Some(gathered) => {
                        bin = Some(gathered.bin);
                        if whole {
                            add(&mut sum, &gathered.ended);
                        } else {
                            let place = |(log, weight)| (gathered.bin.place(log), weight);
                            add(&mut sum, &moments(own.map(place)));
                        }
                    }
                }
            }
            if let Some(bin) = bin {
                let at_nodes = nodes.iter().zip(weights(&nodes, &sum)).rev();
                found.extend(at_nodes.map(|(node, weight)| (bin.log_distance(*node), weight)));
            }
        }
        found
    }
}

impl Block {
    /// Whether two blocks are of one bin, or both of none.
    fn meets(&self, other: &Self) -> bool {
        let bin = |block: &Self| block.gathered.as_ref().map(|gathered| gathered.bin);
        bin(self) == bin(other)
    }
}

impl Gathered {
    fn new(bin: Bin, logs: &[f64], rows: &[RiskRow]) -> Self {
        let placed = logs.iter().map(|log| bin.place(*log));
        let failing = placed.clone().zip(rows).filter(|(_, row)| row.failed > 0);
        Self {
            bin,
            ended: moments(placed.zip(rows.iter().map(ended))),
            failed: moments(failing.map(|(place, row)| (place, row.failed as f64))),
        }
    }
}

#[cfg(test)]
mod tests {
    use super::super::family::Family;
    use super::super::fit::fit;
    use super::super::likelihood::{Parameters, likelihood};
    use super::super::likelihood_interval;
    use super::*;
    use crate::stats::survival::Life;

    /// Lives spread over two decades of distance, most of them seen late and lost unfailed.
    fn many() -> RiskTable {
        let lives: Vec<Life> = (0..30_000u32)
            .map(|i| {
                let spread = |by: u32| f64::from(i.wrapping_mul(by) % 10_007) / 10_007.0;
                let entry = 300.0 * spread(7919);
                let exit = entry + 1.0 + 250.0 * spread(104_729);
                Life {
                    entry,
                    exit,
                    failed: i % 37 == 0,
                }
            })
            .collect();
        RiskTable::from_lives(&lives).unwrap().table
    }

    fn both() -> (Observed, Observed) {
        let table = many();
        (
            Observed::from_table(&table),
            Blocks::new(&table).observed(&table),
        )
    }

    #[test]
    fn few_terms_give_the_likelihood_of_all() {
        let (all, few) = both();
        assert!(
            20 * few.terms().len() < all.terms().len(),
            "{} of {}",
            few.terms().len(),
            all.terms().len()
        );
        for family in Family::ALL {
            for (location, shape) in [(6.0, 0.7f64), (5.5, 2.0), (6.5, 4.0), (6.0, 9.0)] {
                let at = Parameters {
                    location,
                    log_scale: -shape.ln(),
                };
                let (a, b) = (likelihood(family, &all, at), likelihood(family, &few, at));
                let same = |x: f64, y: f64, size: f64| (x - y).abs() <= 1e-11 * size;
                let size = a.value.abs();
                assert!(same(a.value, b.value, size), "{family:?} {shape}");
                for (x, y) in a.gradient.iter().zip(b.gradient) {
                    assert!(
                        same(*x, y, size * shape * shape),
                        "{family:?} {shape} {x} {y}"
                    );
                }
                for (x, y) in a
                    .hessian
                    .as_flattened()
                    .iter()
                    .zip(b.hessian.as_flattened())
                {
                    let size = size * shape.powi(4) * 10.0;
                    assert!(same(*x, *y, size), "{family:?} {shape} {x} {y}");
                }
            }
        }
    }

    #[test]
    fn fits_and_limits_are_those_of_all_lives() {
        let (all, few) = both();
        for family in Family::ALL {
            let (a, b) = (fit(family, &all).unwrap(), fit(family, &few).unwrap());
            assert!((a.parameters.location - b.parameters.location).abs() < 1e-9);
            assert!((a.parameters.log_scale - b.parameters.log_scale).abs() < 1e-9);
            let limits =
                |fit, observed| likelihood_interval::quantile(fit, observed, 0.1, 0.95).unwrap();
            let (x, y) = (limits(&a, &all), limits(&b, &few));
            assert!((x.lower.unwrap() / y.lower.unwrap() - 1.0).abs() < 1e-8);
            assert!((x.upper.unwrap() / y.upper.unwrap() - 1.0).abs() < 1e-8);
        }
    }

    #[test]
    fn sums_over_any_rows_are_those_of_the_rows() {
        let table = many();
        let blocks = Blocks::new(&table);
        let rows = table.rows().len();
        let curve = |log: f64| (2.5 * (log - 6.0)).exp();
        for range in [
            0..rows,
            0..0,
            5..6,
            100..1203,
            4000..rows - 1,
            rows - 3..rows,
        ] {
            let some = table.rows().iter().take(range.end).skip(range.start);
            let each: f64 = some.map(|row| ended(row) * curve(row.distance.ln())).sum();
            let size: f64 = table
                .rows()
                .iter()
                .map(|row| curve(row.distance.ln()))
                .sum();
            let few = blocks.weights(&table, &range);
            assert!(few.len() < 400);
            let few: f64 = few
                .into_iter()
                .map(|(log, weight)| weight * curve(log))
                .sum();
            assert!(
                (each - few).abs() <= 1e-13 * size,
                "{range:?}: {each} {few}"
            );
        }
    }

    #[test]
    fn few_rows_stand_for_themselves() {
        let life = |entry, exit, failed| Life {
            entry,
            exit,
            failed,
        };
        let lives = [
            life(0.0, 4.0, true),
            life(0.0, 4.0, false),
            life(2.0, 9.0, false),
        ];
        let table = RiskTable::from_lives(&lives).unwrap().table;
        let blocks = Blocks::new(&table);
        assert_eq!(blocks.observed(&table), Observed::from_table(&table));
        let weights = blocks.weights(&table, &(0..table.rows().len()));
        assert_eq!(
            weights,
            [(2f64.ln(), -1.0), (4f64.ln(), 2.0), (9f64.ln(), 1.0)]
        );
        let none = RiskTable::default();
        assert_eq!(
            Blocks::new(&none).observed(&none),
            Observed::from_table(&none)
        );
        assert_eq!(Blocks::new(&none).weights(&none, &(0..0)), []);
    }
}
