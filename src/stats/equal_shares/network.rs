//! The walk over all tables of the exact test.
//!
//! Listing every table is hopeless beyond a few cells (556 counts in 4 cells: 29 million tables). The tables are walked
//! cell by cell instead, as a network whose nodes are (counts left, statistic so far, probability of coming here):
//! nodes from which every way on ends in an extreme table are added whole, nodes from which none does are dropped, nodes
//! of one place and statistic are merged (with equal shares all orders of the same counts are), and the last two cells
//! are one line of tables on which the statistic is convex, so that the extreme ones are its two ends
//! (Mehta & Patel 1983, J Am Stat Assoc 78:427, and Baglivo, Olivier & Pagano 1992, J Am Stat Assoc 87:464, use such
//! networks). All terms are positive: no digits cancel, however small the p-value.

use super::bounds::{least_sums, most_sums};
use super::compensated_sum::CompensatedSum;
use super::line::{Line, binomial_row};
use super::ordering::Ordering;
use super::table::Table;

/// Where a walk stands: statistic so far, and the probability of coming here.
#[derive(Clone, Copy)]
struct Node {
    statistic: f64,
    probability: f64,
}

pub(super) struct Network {
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
    /// The network of a table under an ordering.
    pub fn new(table: &Table, ordering: Ordering) -> Self {
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
    pub fn walk(&self, limit: u64) -> Option<(f64, u64)> {
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
        let (first, second) = (&self.parts[last_line], &self.parts[last_line + 1]);
        let odds = self.shares[last_line] / self.shares[last_line + 1];
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
            let line = Line::new(first, second, left, odds);
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
