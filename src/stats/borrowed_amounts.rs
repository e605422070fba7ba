//! Amounts of several groups, resampled: a group with few amounts of its own borrows some of another.
//!
//! The plain bootstrap takes recorded amounts as all there can be, so that a total resampled from five amounts is far too sure of
//! itself. Here each draw gives every amount a random weight, standard exponential before they are scaled to sum to 1 (the
//! Bayesian bootstrap, Rubin 1981, Ann Stat 9:130), and adds to each group a few amounts of one group picked anew: a Dirichlet
//! process whose weight is the number borrowed (Ferguson 1973, Ann Stat 1:209) and whose centre differs from draw to draw, so
//! that how much groups differ is carried along. A group without amounts is then the borrowed ones alone.

use rand::{Rng, RngExt};
use rand_distr::{Distribution, Exp1};

/// How many amounts of another group stand beside a group's own.
pub const BORROWED: usize = 5;

/// Places of amounts by group. The amounts themselves, of any kind, stay with the caller.
#[derive(Debug, Clone, PartialEq)]
pub struct BorrowedAmounts {
    /// By group, the places of its amounts in the list of all; the last one holds those of no group.
    groups: Vec<Vec<usize>>,
    wanted: usize,
}

impl BorrowedAmounts {
    /// `group_of[i]` is the group of amount i, of `groups` groups; an amount of no group can be borrowed only. None without any
    /// amount.
    pub fn new(group_of: &[Option<usize>], groups: usize) -> Option<Self> {
        let mut places = vec![Vec::new(); groups + 1];
        for (place, group) in group_of.iter().enumerate() {
            if let Some(list) = places.get_mut(group.unwrap_or(groups)) {
                list.push(place);
            }
        }
        (!group_of.is_empty()).then_some(Self {
            groups: places,
            wanted: groups,
        })
    }

    /// One draw of every group's distribution. A group lends the likelier the more amounts it has, up to as many as are borrowed.
    pub fn draw(&self, generator: &mut impl Rng) -> Vec<Weighted> {
        let mut lenders = Vec::new();
        for (group, places) in self.groups.iter().enumerate() {
            lenders.extend(std::iter::repeat_n(group, places.len().min(BORROWED)));
        }
        self.groups
            .iter()
            .take(self.wanted)
            .map(|own| {
                let lender = lenders.get(generator.random_range(0..lenders.len().max(1)));
                let theirs = lender.and_then(|group| self.groups.get(*group));
                let borrowed = (0..BORROWED).filter_map(|_| {
                    let theirs = theirs?;
                    theirs.get(generator.random_range(0..theirs.len())).copied()
                });
                let places: Vec<usize> = own.iter().copied().chain(borrowed).collect();
                Weighted::new(places, generator)
            })
            .collect()
    }
}

/// Places with random weights.
#[derive(Debug, Clone, PartialEq)]
pub struct Weighted {
    places: Vec<usize>,
    /// Running sums of the weights.
    up_to: Vec<f64>,
}

impl Weighted {
    fn new(places: Vec<usize>, generator: &mut impl Rng) -> Self {
        let mut sum = 0.0;
        let up_to = places
            .iter()
            .map(|_| {
                let weight: f64 = Exp1.sample(generator);
                sum += weight;
                sum
            })
            .collect();
        Self { places, up_to }
    }

    /// A place at random; 0 where there is none.
    pub fn pick(&self, generator: &mut impl Rng) -> usize {
        let total = self.up_to.last().copied().unwrap_or(0.0);
        let at: f64 = generator.random::<f64>() * total;
        let i = self.up_to.partition_point(|sum| *sum <= at);
        let last = self.places.len().saturating_sub(1);
        self.places.get(i.min(last)).copied().unwrap_or(0)
    }

    /// The weighted mean of what `amount` says of each place.
    pub fn mean(&self, amount: impl Fn(usize) -> f64) -> f64 {
        let mut before = 0.0;
        let mut sum = 0.0;
        for (place, up_to) in self.places.iter().zip(&self.up_to) {
            sum += (up_to - before) * amount(*place);
            before = *up_to;
        }
        sum / before
    }
}

#[cfg(test)]
mod tests {
    use super::*;
    use rand::SeedableRng;
    use rand_chacha::ChaCha8Rng;

    #[test]
    fn means_of_draws_have_the_moments_of_the_process() {
        // A Bayesian bootstrap mean of n amounts has the variance s^2 / (n + 1) with divisor n in s^2 (Rubin 1981); one group with
        // all amounts and none borrowed would have just that, and the borrowed few move it little.
        let amounts: Vec<f64> = (0..40).map(f64::from).collect();
        let borrowed = BorrowedAmounts::new(&[Some(0); 40], 1).unwrap();
        let mut generator = ChaCha8Rng::seed_from_u64(1);
        let means: Vec<f64> = (0..20_000)
            .map(|_| borrowed.draw(&mut generator)[0].mean(|i| amounts[i]))
            .collect();
        let mean = means.iter().sum::<f64>() / 20_000.0;
        let variance = means.iter().map(|m| (m - mean).powi(2)).sum::<f64>() / 20_000.0;
        let spread = (40.0 * 40.0 - 1.0) / 12.0;
        assert!((mean - 19.5).abs() < 0.05, "{mean}");
        assert!(
            (variance / (spread / 41.0) - 1.0).abs() < 0.15,
            "{variance}"
        );
    }

    #[test]
    fn a_group_without_amounts_takes_those_of_others() {
        let borrowed = BorrowedAmounts::new(&[Some(1), None], 3).unwrap();
        let mut generator = ChaCha8Rng::seed_from_u64(2);
        let mut seen = [0; 2];
        for _ in 0..200 {
            seen[borrowed.draw(&mut generator)[0].pick(&mut generator)] += 1;
        }
        assert!(seen[0] > 50 && seen[1] > 50);
        assert!(BorrowedAmounts::new(&[], 2).is_none());
    }
}
