//! The exact multinomial test: the probability, under the supposed shares, of all tables at least as extreme as the
//! observed one.
//!
//! Listing every table is hopeless beyond a few cells (556 counts in 4 cells: 29 million tables). The tables are walked
//! cell by cell instead, as a network whose nodes are (counts left, statistic so far, probability of coming here):
//! nodes from which every way on ends in an extreme table are added whole, nodes from which none does are dropped, nodes
//! of one place and statistic are merged (with equal shares all orders of the same counts are), and the last two cells
//! are one line of tables on which the statistic is convex, so that the extreme ones are its two ends
//! (Mehta & Patel 1983, J Am Stat Assoc 78:427, and Baglivo, Olivier & Pagano 1992, J Am Stat Assoc 87:464, use such
//! networks). All terms are positive: no digits cancel, however small the p-value.

use super::ordering::Ordering;
use super::table::Table;
use crate::stats::error::Error;

/// Result of the exact test.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Exact {
    /// Probability of a table at least as extreme.
    pub p: f64,
    /// Number of possible tables, `C(n + k - 1, k - 1)`; exact up to 2^53.
    pub tables: f64,
    /// Steps taken, the measure of work that the limit is set in.
    pub steps: u64,
}

/// The exact multinomial test of `counts` against `shares`; `None` if it would take more than `limit` steps (a step is
/// about ten nanoseconds and a kept node 16 bytes; then use [`super::monte_carlo`]).
///
/// A table is at least as extreme as the observed one if its statistic is within 1e-7 of the observed one or beyond.
/// Without counts or with one cell `p` is 1.
///
/// # Errors
/// As [`super::chi_square`].
pub fn exact(
    counts: &[u64],
    shares: &[f64],
    ordering: Ordering,
    limit: u64,
) -> Result<Option<Exact>, Error> {
    let table = Table::new(counts, shares)?;
    let tables = number_of_tables(table.total, table.cells());
    if table.cells() == 1 || table.total == 0 {
        return Ok(Some(Exact {
            p: 1.0,
            tables,
            steps: 0,
        }));
    }
    if table.total.saturating_mul(table.cells() as u64) > limit {
        return Ok(None);
    }
    let network = Network::new(&table, ordering);
    Ok(network.walk(limit).map(|(p, steps)| Exact {
        p: p.min(1.0),
        tables,
        steps,
    }))
}

fn number_of_tables(n: u64, cells: usize) -> f64 {
    let mut tables = 1.0;
    for i in 1..cells as u64 {
        // A product of consecutive whole numbers over i!: whole at every step.
        tables = tables * (n + i) as f64 / i as f64;
    }
    tables.round()
}

/// Where a walk stands: statistic so far, and the probability of coming here.
#[derive(Clone, Copy)]
struct Node {
    statistic: f64,
    probability: f64,
}

struct Network {
    total: usize,
    threshold: f64,
    /// Shares in ascending order, so that the line of the last two cells is the longest.
    shares: Vec<f64>,
    /// Per cell, its part of the statistic for 0..=total counts.
    parts: Vec<Vec<f64>>,
    /// Per cell, smallest and largest statistic that this cell and those after it can add, by counts left.
    least: Vec<Vec<f64>>,
    most: Vec<Vec<f64>>,
}

impl Network {
    fn new(table: &Table, ordering: Ordering) -> Self {
        let total = table.total as usize;
        let mut shares = table.shares.clone();
        shares.sort_by(f64::total_cmp);
        let parts: Vec<Vec<f64>> = shares
            .iter()
            .map(|share| {
                let expected = share * total as f64;
                (0..=total)
                    .map(|c| ordering.part(c as f64, expected))
                    .collect()
            })
            .collect();
        let suffixes = || (0..shares.len()).map(|i| &parts[i..]);
        let least = suffixes().map(|cells| least_sums(cells, total)).collect();
        let most = suffixes().map(|cells| most_sums(cells, total)).collect();
        Self {
            total,
            threshold: ordering.threshold(table),
            shares,
            parts,
            least,
            most,
        }
    }

    /// Probability of the extreme tables, and the steps taken; `None` above `limit` steps.
    fn walk(&self, limit: u64) -> Option<(f64, u64)> {
        if self.least[0][self.total] >= self.threshold {
            return Some((1.0, 0));
        }
        let mut extreme = CompensatedSum::default();
        let mut steps = 0;
        let mut nodes: Vec<Vec<Node>> = vec![Vec::new(); self.total + 1];
        nodes[self.total].push(Node {
            statistic: 0.0,
            probability: 1.0,
        });
        let last_line = self.shares.len() - 2;
        for cell in 0..last_line {
            nodes = self.advance(cell, &nodes, &mut extreme, &mut steps, limit)?;
        }
        for (left, here) in nodes
            .iter()
            .enumerate()
            .filter(|(_, here)| !here.is_empty())
        {
            steps += (left + here.len()) as u64;
            if steps > limit {
                return None;
            }
            let line = Line::new(self, last_line, left);
            for node in here {
                extreme.add(node.probability * line.extreme(self.threshold - node.statistic));
            }
        }
        Some((extreme.value(), steps))
    }

    /// Fills one cell from every node. Targets are taken one by one, so that only nodes still undecided are ever held.
    fn advance(
        &self,
        cell: usize,
        nodes: &[Vec<Node>],
        extreme: &mut CompensatedSum,
        steps: &mut u64,
        limit: u64,
    ) -> Option<Vec<Vec<Node>>> {
        let odds = self.shares[cell] / self.shares[cell + 1..].iter().sum::<f64>();
        let sources: Vec<(usize, &Vec<Node>)> = nodes
            .iter()
            .enumerate()
            .filter(|(_, here)| !here.is_empty())
            .collect();
        let row_cost: u64 = sources.iter().map(|(left, _)| *left as u64 + 1).sum();
        *steps += row_cost;
        if *steps > limit {
            return None;
        }
        let rows: Vec<Vec<f64>> = sources
            .iter()
            .map(|(left, _)| binomial_row(*left, odds))
            .collect();
        let mergeable = self.shares[..=cell]
            .windows(2)
            .any(|pair| pair[0] == pair[1]);
        let mut next: Vec<Vec<Node>> = vec![Vec::new(); self.total + 1];
        for (left, target) in next.iter_mut().enumerate() {
            // From here on: all extreme at or above `sure`, none extreme below `possible`.
            let sure = self.threshold - self.least[cell + 1][left];
            let possible = self.threshold - self.most[cell + 1][left];
            for ((from, here), row) in sources
                .iter()
                .zip(&rows)
                .filter(|((from, _), _)| *from >= left)
            {
                let (part, chance) = (self.parts[cell][from - left], row[from - left]);
                *steps += here.len() as u64;
                for node in *here {
                    let moved = Node {
                        statistic: node.statistic + part,
                        probability: node.probability * chance,
                    };
                    if moved.statistic >= sure {
                        extreme.add(moved.probability);
                    } else if moved.statistic >= possible {
                        target.push(moved);
                    }
                }
            }
            if *steps > limit {
                return None;
            }
            if mergeable {
                merge(target);
            }
        }
        Some(next)
    }
}

/// Merges nodes whose statistics agree but for rounding. Sorted by both fields, so that sums do not depend on the walk.
fn merge(nodes: &mut Vec<Node>) {
    nodes.sort_unstable_by(|a, b| {
        a.statistic
            .total_cmp(&b.statistic)
            .then(a.probability.total_cmp(&b.probability))
    });
    nodes.dedup_by(|next, kept| {
        let same = next.statistic - kept.statistic <= 1e-11 * kept.statistic.abs().max(1.0);
        if same {
            kept.probability += next.probability;
        }
        same
    });
    nodes.shrink_to_fit();
}

/// Smallest sum of the cells' parts by counts left. Parts are convex, so each count goes where it costs least.
fn least_sums(cells: &[Vec<f64>], total: usize) -> Vec<f64> {
    let mut counts = vec![0_usize; cells.len()];
    let mut sum: f64 = cells.iter().map(|part| part[0]).sum();
    let mut sums = vec![sum];
    for _ in 0..total {
        let cost = |i: usize| cells[i][counts[i] + 1] - cells[i][counts[i]];
        let cheapest =
            (1..cells.len()).fold(0, |best, i| if cost(i) < cost(best) { i } else { best });
        sum += cost(cheapest);
        counts[cheapest] += 1;
        sums.push(sum);
    }
    sums
}

/// Largest sum of the cells' parts by counts left. Parts are convex, so all counts go into one cell.
fn most_sums(cells: &[Vec<f64>], total: usize) -> Vec<f64> {
    let empty: f64 = cells.iter().map(|part| part[0]).sum();
    (0..=total)
        .map(|left| {
            cells
                .iter()
                .map(|part| part[left] - part[0])
                .fold(f64::NEG_INFINITY, f64::max)
                + empty
        })
        .collect()
}

/// All binomial probabilities of 0..=n successes at the given odds, by their ratios from the mode outwards.
fn binomial_row(n: usize, odds: f64) -> Vec<f64> {
    let share = odds / (1.0 + odds);
    let mode = (((n as f64 + 1.0) * share) as usize).min(n);
    let mut row = vec![0.0; n + 1];
    row[mode] = 1.0;
    for c in mode..n {
        row[c + 1] = row[c] * odds * (n - c) as f64 / (c + 1) as f64;
    }
    for c in (0..mode).rev() {
        row[c] = row[c + 1] / odds * (c + 1) as f64 / (n - c) as f64;
    }
    let sum: f64 = row.iter().sum();
    row.iter_mut().for_each(|v| *v /= sum);
    row
}

/// The tables that share `left` counts between the last two cells, in order of the first one's count.
struct Line {
    /// Statistic down to its smallest value, and from there on up.
    falling: Vec<f64>,
    rising: Vec<f64>,
    /// Probability of the first `i` tables, and of all from the `i`-th on.
    head: Vec<f64>,
    tail: Vec<f64>,
}

impl Line {
    fn new(network: &Network, cell: usize, left: usize) -> Self {
        let (first, second) = (&network.parts[cell], &network.parts[cell + 1]);
        let mut falling: Vec<f64> = (0..=left).map(|c| first[c] + second[left - c]).collect();
        let lowest = (1..=left).fold(
            0,
            |best, c| if falling[c] < falling[best] { c } else { best },
        );
        let rising = falling.split_off(lowest);
        let row = binomial_row(left, network.shares[cell] / network.shares[cell + 1]);
        let mut head = vec![0.0; left + 2];
        let mut tail = vec![0.0; left + 2];
        for c in 0..=left {
            head[c + 1] = head[c] + row[c];
        }
        for c in (0..=left).rev() {
            tail[c] = tail[c + 1] + row[c];
        }
        Self {
            falling,
            rising,
            head,
            tail,
        }
    }

    /// Probability of the tables whose statistic reaches `threshold`.
    fn extreme(&self, threshold: f64) -> f64 {
        let before = self.falling.partition_point(|v| *v >= threshold);
        let from = self.rising.partition_point(|v| *v < threshold);
        if from == 0 {
            return 1.0;
        }
        self.head[before] + self.tail[self.falling.len() + from]
    }
}

/// A sum that keeps the digits a plain one loses (Neumaier 1974, Z angew Math Mech 54:39).
#[derive(Default)]
struct CompensatedSum {
    sum: f64,
    lost: f64,
}

impl CompensatedSum {
    fn add(&mut self, value: f64) {
        let sum = self.sum + value;
        self.lost += if self.sum >= value {
            (self.sum - sum) + value
        } else {
            (value - sum) + self.sum
        };
        self.sum = sum;
    }

    fn value(&self) -> f64 {
        self.sum + self.lost
    }
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::stats::equal_shares::equal;
    use crate::stats::special::ln_factorial;

    /// The slow, obvious twin: every table, its probability and statistic written out.
    fn by_listing(counts: &[u64], shares: &[f64], ordering: Ordering) -> f64 {
        let n: u64 = counts.iter().sum();
        let probability = |table: &[u64]| {
            let parts = table
                .iter()
                .zip(shares)
                .map(|(&x, p): (&u64, &f64)| x as f64 * p.ln() - ln_factorial(x));
            (ln_factorial(n) + parts.sum::<f64>()).exp()
        };
        let statistic = |table: &[u64]| match ordering {
            Ordering::Probability => -probability(table).ln(),
            _ => table
                .iter()
                .zip(shares)
                .map(|(&x, p)| {
                    let (x, e) = (x as f64, n as f64 * p);
                    match ordering {
                        Ordering::ChiSquare => (x - e) * (x - e) / e,
                        _ if x == 0.0 => 0.0,
                        _ => 2.0 * x * (x / e).ln(),
                    }
                })
                .sum(),
        };
        let observed = statistic(counts);
        tables(n, counts.len())
            .iter()
            .filter(|t| statistic(t) >= observed - 1e-7)
            .map(|t| probability(t))
            .sum()
    }

    fn tables(n: u64, cells: usize) -> Vec<Vec<u64>> {
        if cells == 1 {
            return vec![vec![n]];
        }
        let with_first = |first| {
            tables(n - first, cells - 1)
                .into_iter()
                .map(move |rest| [vec![first], rest].concat())
        };
        (0..=n).flat_map(with_first).collect()
    }

    #[test]
    fn agrees_with_listing_every_table() {
        let cases: [(&[u64], &[f64]); 7] = [
            (&[3, 9], &[0.4, 0.6]),
            (&[7, 0, 2], &[0.2, 0.5, 0.3]),
            (&[4, 4, 0], &[1.0 / 3.0; 3]),
            (&[1, 5, 2, 4], &[0.1, 0.2, 0.3, 0.4]),
            (&[0, 6, 2, 4, 1], &[0.2; 5]),
            (&[2, 0, 3, 1, 5], &[0.1, 0.1, 0.3, 0.3, 0.2]),
            (&[2, 1, 0, 0, 1, 4], &[1.0 / 6.0; 6]),
        ];
        for (counts, shares) in cases {
            for ordering in Ordering::ALL {
                let found = exact(counts, shares, ordering, 1_000_000).unwrap().unwrap();
                let want = by_listing(counts, shares, ordering);
                assert!(
                    (found.p / want - 1.0).abs() < 1e-11,
                    "{counts:?} {ordering:?}: {} against {want}",
                    found.p
                );
                assert_eq!(
                    found.tables,
                    tables(counts.iter().sum(), counts.len()).len() as f64
                );
            }
        }
    }

    /// An exact test rejects at most as often as its level says: over all tables, P(p <= a) <= a at every a.
    #[test]
    fn type_one_error_never_exceeds_the_level() {
        for (n, shares) in [
            (9_u64, vec![0.25_f64; 4]),
            (8, vec![0.5, 0.3, 0.2]),
            (14, vec![1.0 / 3.0; 3]),
        ] {
            for ordering in Ordering::ALL {
                let mut all: Vec<(f64, f64)> = tables(n, shares.len())
                    .iter()
                    .map(|table| {
                        let parts = table
                            .iter()
                            .zip(&shares)
                            .map(|(&x, p): (&u64, &f64)| x as f64 * p.ln() - ln_factorial(x));
                        let p = exact(table, &shares, ordering, 1_000_000)
                            .unwrap()
                            .unwrap()
                            .p;
                        (p, (ln_factorial(n) + parts.sum::<f64>()).exp())
                    })
                    .collect();
                all.sort_by(|a, b| a.0.total_cmp(&b.0));
                let mut rejected = 0.0;
                for (i, (p, probability)) in all.iter().enumerate() {
                    rejected += probability;
                    let last_of_ties = all.get(i + 1).is_none_or(|next| next.0 > p * (1.0 + 1e-9));
                    if last_of_ties {
                        // The p-value is the probability of what is at least as extreme: exactly what was summed.
                        assert!(
                            (rejected - p).abs() < 1e-9,
                            "{ordering:?}, n = {n}: {rejected} at {p}"
                        );
                    }
                }
            }
        }
    }

    /// Shifting cells together with their shares changes nothing.
    #[test]
    fn order_of_cells_does_not_matter() {
        let (a, b) = ([12, 3, 30, 7], [30, 12, 7, 3]);
        let (p, q) = ([0.2, 0.1, 0.4, 0.3], [0.4, 0.2, 0.3, 0.1]);
        for ordering in Ordering::ALL {
            let x = exact(&a, &p, ordering, 1_000_000).unwrap().unwrap();
            let y = exact(&b, &q, ordering, 1_000_000).unwrap().unwrap();
            assert!((x.p - y.p).abs() <= 1e-13 * x.p);
        }
    }

    /// A deep tail keeps its digits: all of n counts in one of two equal cells has p = 2 / 2^n (closed form).
    #[test]
    fn deep_tail() {
        let found = exact(&[600, 0], &[0.5, 0.5], Ordering::ChiSquare, 100_000)
            .unwrap()
            .unwrap();
        assert!(
            (found.p / 2.0_f64.powi(-599) - 1.0).abs() < 1e-12,
            "{}",
            found.p
        );
    }

    #[test]
    fn edges_and_bad_input() {
        let run = |counts: &[u64], shares: &[f64]| {
            exact(counts, shares, Ordering::Probability, 1_000_000)
        };
        assert_eq!(run(&[5], &[1.0]).unwrap().unwrap().p, 1.0);
        assert_eq!(run(&[0, 0, 0], &equal(3)).unwrap().unwrap().p, 1.0);
        assert_eq!(run(&[1, 0], &equal(2)).unwrap().unwrap().p, 1.0);
        assert!(run(&[1_000_000_000, 1], &equal(2)).unwrap().is_none());
        assert!(run(&[u64::MAX / 2, 1], &equal(2)).unwrap().is_none());
        for shares in [
            &[0.5, 0.4][..],
            &[1.0, 0.0],
            &[1.0],
            &[f64::NAN, 0.5],
            &[-0.5, 1.5],
        ] {
            assert!(run(&[1, 2], shares).is_err(), "{shares:?}");
        }
        assert!(run(&[], &[]).is_err());
        assert!(run(&[u64::MAX, 1], &equal(2)).is_err());
    }
}
