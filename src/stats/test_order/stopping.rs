//! What it costs to stop testing: repairs in the best order until the fault is gone.

use super::problem::input;
use crate::stats::error::Error;

/// The repair of a cause.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Repair {
    /// What it costs when it was the wrong one; above 0.
    pub minutes: f64,
    /// Whether it may be done only with proof.
    pub guarded: bool,
}

/// How stopping is paid for.
#[derive(Debug, Clone, PartialEq)]
pub enum Stopping {
    /// One cause after the other is repaired until the fault is gone; every repair before the right one was in vain.
    ///
    /// Without proof the guarded ones come after all others, and `unproven` minutes (the search for proof that then
    /// becomes inevitable) are paid before the first of them.
    InTurn {
        /// One repair for each cause.
        repairs: Vec<Repair>,
        /// Minutes of the search for proof.
        unproven: f64,
    },
    /// One of several final decisions is taken: the loss of each (first index) under each cause (second).
    OneOf(Vec<Vec<f64>>),
}

impl Stopping {
    pub(super) fn check(&self, causes: usize) -> Result<(), Error> {
        match self {
            Self::InTurn { repairs, unproven } => {
                if repairs.len() != causes {
                    return Err(input("repairs", "one for each cause"));
                }
                let good = |r: &Repair| r.minutes.is_finite() && r.minutes > 0.0;
                if !(repairs.iter().all(good) && unproven.is_finite() && *unproven >= 0.0) {
                    return Err(input("repairs", "minutes must be finite and above 0"));
                }
            }
            Self::OneOf(losses) => {
                if losses.is_empty() || losses.iter().any(|row| row.len() != causes) {
                    return Err(input(
                        "losses",
                        "one decision at least, with a loss for each cause",
                    ));
                }
                if losses.iter().flatten().any(|l| !l.is_finite()) {
                    return Err(input("losses", "must be finite"));
                }
            }
        }
        Ok(())
    }

    /// The causes in the order of their repairs, or the one decision; `weights` by cause.
    ///
    /// Repairs in turn: descending weight per minute, the ratio rule (Smith 1956, Nav Res Logist 3:59; Mitten 1960,
    /// J Ind Eng 11:431), ties by number; without proof the unguarded ones first.
    pub fn order(&self, weights: &[f64], proved: bool) -> Vec<usize> {
        match self {
            Self::InTurn { repairs, .. } => {
                let late = |i: usize| !proved && repairs[i].guarded;
                let mut order: Vec<usize> = (0..repairs.len()).collect();
                order.sort_by(|&i, &j| {
                    late(i).cmp(&late(j)).then_with(|| {
                        let (a, b) = (
                            weights[i] * repairs[j].minutes,
                            weights[j] * repairs[i].minutes,
                        );
                        b.total_cmp(&a).then(i.cmp(&j))
                    })
                });
                order
            }
            Self::OneOf(losses) => {
                let mut best = (f64::INFINITY, 0);
                for (i, row) in losses.iter().enumerate() {
                    let loss = expected(row, weights);
                    if loss < best.0 {
                        best = (loss, i);
                    }
                }
                vec![best.1]
            }
        }
    }

    /// What stopping costs when each cause is the one: minutes times its weight, by cause.
    pub fn cost_by_cause(&self, weights: &[f64], proved: bool) -> Vec<f64> {
        self.paid(&self.order(weights, proved), weights, proved)
    }

    /// The same in a given order.
    fn paid(&self, order: &[usize], weights: &[f64], proved: bool) -> Vec<f64> {
        let mut costs = vec![0.0; weights.len()];
        match self {
            Self::InTurn { repairs, unproven } => {
                let mut spent = 0.0;
                for &i in order {
                    let late = !proved && repairs[i].guarded;
                    costs[i] = weights[i] * (spent + if late { *unproven } else { 0.0 });
                    spent += repairs[i].minutes;
                }
            }
            Self::OneOf(losses) => {
                for (i, weight) in weights.iter().enumerate() {
                    costs[i] = order.first().map_or(0.0, |d| losses[*d][i] * weight);
                }
            }
        }
        costs
    }

    /// Expected minutes of stopping times the sum of `weights` (by cause), from the order of repairs.
    ///
    /// With repairs in the order 1..n: sum over i of `w_i (m_1 + ... + m_(i-1))`, and `unproven` for every guarded cause.
    pub fn cost(&self, weights: &[f64], proved: bool) -> f64 {
        self.cost_by_cause(weights, proved).iter().sum()
    }
}

/// Costs of stopping at many positions that differ little: the order of one is where the next begins.
///
/// Boxed slices and plain loops for the same reason as in the sweep.
#[derive(Debug)]
pub(super) struct Turns<'a> {
    stopping: &'a Stopping,
    unproven: f64,
    /// By cause: minutes, one over that, and weight for each minute here.
    minutes: Box<[f64]>,
    per_minute: Box<[f64]>,
    ratios: Box<[f64]>,
    /// Unguarded causes, then guarded ones, each in descending ratio.
    free: Box<[usize]>,
    guarded: Box<[usize]>,
}

impl<'a> Turns<'a> {
    pub fn new(stopping: &'a Stopping, causes: usize) -> Self {
        let (minutes, guarded, unproven): (Vec<f64>, Vec<bool>, f64) = match stopping {
            Stopping::InTurn { repairs, unproven } => {
                let (minutes, guarded) = repairs.iter().map(|r| (r.minutes, r.guarded)).unzip();
                (minutes, guarded, *unproven)
            }
            Stopping::OneOf(_) => (vec![1.0; causes], vec![false; causes], 0.0),
        };
        let (late, free): (Vec<usize>, Vec<usize>) = (0..causes).partition(|i| guarded[*i]);
        Self {
            stopping,
            unproven,
            ratios: vec![0.0; causes].into_boxed_slice(),
            per_minute: minutes.iter().map(|m| 1.0 / m).collect(),
            minutes: minutes.into_boxed_slice(),
            free: free.into_boxed_slice(),
            guarded: late.into_boxed_slice(),
        }
    }

    /// As [`Stopping::cost`].
    pub fn cost(&mut self, weights: &[f64], proved: bool) -> f64 {
        if let Stopping::OneOf(_) = self.stopping {
            return self.stopping.cost(weights, proved);
        }
        self.weigh(weights);
        let (mut spent, mut sum) = (0.0, 0.0);
        let (mut i, mut j) = (0, 0);
        while i < self.free.len() {
            let cause = self.free[i];
            while proved && j < self.guarded.len() {
                let other = self.guarded[j];
                if self.ratios[other] <= self.ratios[cause] {
                    break;
                }
                sum += weights[other] * spent;
                spent += self.minutes[other];
                j += 1;
            }
            sum += weights[cause] * spent;
            spent += self.minutes[cause];
            i += 1;
        }
        if !proved {
            spent += self.unproven;
        }
        while j < self.guarded.len() {
            let cause = self.guarded[j];
            sum += weights[cause] * spent;
            spent += self.minutes[cause];
            j += 1;
        }
        sum
    }

    /// As [`Stopping::cost_by_cause`].
    pub fn cost_by_cause(&mut self, weights: &[f64], proved: bool) -> Vec<f64> {
        if let Stopping::OneOf(_) = self.stopping {
            return self.stopping.cost_by_cause(weights, proved);
        }
        self.weigh(weights);
        // In order but for ties and, with proof, for the guarded ones; that is soon sorted.
        let mut order: Vec<usize> = self.free.iter().chain(&self.guarded).copied().collect();
        let ratios = &self.ratios;
        let descending = |i: &usize, j: &usize| ratios[*j].total_cmp(&ratios[*i]).then(i.cmp(j));
        match proved {
            true => order.sort_by(descending),
            false => {
                let (free, guarded) = order.split_at_mut(self.free.len());
                free.sort_by(descending);
                guarded.sort_by(descending);
            }
        }
        self.stopping.paid(&order, weights, proved)
    }

    /// Brings the ratios and both orders up to date.
    #[inline]
    fn weigh(&mut self, weights: &[f64]) {
        let mut i = 0;
        while i < weights.len() {
            self.ratios[i] = weights[i] * self.per_minute[i];
            i += 1;
        }
        settle(&mut self.free, &self.ratios);
        settle(&mut self.guarded, &self.ratios);
    }
}

/// Insertion sort by descending ratio: hardly anything to do where hardly anything changed.
fn settle(order: &mut [usize], ratios: &[f64]) {
    let mut at = 1;
    while at < order.len() {
        let moved = order[at];
        let ratio = ratios[moved];
        let mut to = at;
        while to > 0 && ratios[order[to - 1]] < ratio {
            order[to] = order[to - 1];
            to -= 1;
        }
        order[to] = moved;
        at += 1;
    }
}

fn expected(losses: &[f64], weights: &[f64]) -> f64 {
    losses.iter().zip(weights).map(|(l, w)| l * w).sum()
}

#[cfg(test)]
mod tests {
    use super::*;
    use proptest::prelude::*;

    fn in_turn(minutes: &[f64], guarded: &[bool], unproven: f64) -> Stopping {
        let repairs = minutes.iter().zip(guarded);
        Stopping::InTurn {
            repairs: repairs
                .map(|(&minutes, &guarded)| Repair { minutes, guarded })
                .collect(),
            unproven,
        }
    }

    /// Every order of 0..n.
    fn orders(n: usize) -> Vec<Vec<usize>> {
        if n == 0 {
            return vec![Vec::new()];
        }
        let mut all = Vec::new();
        for shorter in orders(n - 1) {
            for at in 0..n {
                let mut order = shorter.clone();
                order.insert(at, n - 1);
                all.push(order);
            }
        }
        all
    }

    proptest! {
        /// No allowed order is cheaper than the one by ratio.
        #[test]
        fn the_ratio_rule_is_the_best_of_all_orders(
            rows in prop::collection::vec((0.0f64..1.0, 1.0f64..100.0, any::<bool>()), 1..6),
            unproven in 0.0f64..200.0,
            proved in any::<bool>(),
        ) {
            let weights: Vec<f64> = rows.iter().map(|r| r.0).collect();
            let minutes: Vec<f64> = rows.iter().map(|r| r.1).collect();
            let guarded: Vec<bool> = rows.iter().map(|r| r.2).collect();
            let stopping = in_turn(&minutes, &guarded, unproven);
            let mut best = f64::INFINITY;
            for order in orders(rows.len()) {
                let late: Vec<bool> = order.iter().map(|&i| guarded[i] && !proved).collect();
                if late.windows(2).any(|pair| pair[0] && !pair[1]) {
                    continue;
                }
                let mut spent = 0.0;
                let mut cost = 0.0;
                for (&i, late) in order.iter().zip(late) {
                    cost += weights[i] * (spent + if late { unproven } else { 0.0 });
                    spent += minutes[i];
                }
                best = best.min(cost);
            }
            prop_assert!((stopping.cost(&weights, proved) - best).abs() < 1e-9 * (1.0 + best));
        }
    }

    #[test]
    fn refuses_what_has_no_cost() {
        assert!(in_turn(&[0.0], &[false], 0.0).check(1).is_err());
        assert!(in_turn(&[1.0], &[false], -1.0).check(1).is_err());
        assert!(in_turn(&[1.0], &[false], 0.0).check(2).is_err());
        assert!(Stopping::OneOf(Vec::new()).check(1).is_err());
        assert!(Stopping::OneOf(vec![vec![f64::NAN]]).check(1).is_err());
    }
}
