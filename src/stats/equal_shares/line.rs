//! The last two cells of a table: one line of possible counts.

/// The tables that share `left` counts between the last two cells, in order of the first one's count.
pub(super) struct Line {
    /// Statistic down to its smallest value, and from there on up.
    falling: Vec<f64>,
    rising: Vec<f64>,
    /// Probability of the first `i` tables, and of all from the `i`-th on.
    head: Vec<f64>,
    tail: Vec<f64>,
}

impl Line {
    /// The line of two cells with the given parts of the statistic; `odds` are the first one's against the second's.
    pub fn new(first: &[f64], second: &[f64], left: usize, odds: f64) -> Self {
        let mut falling: Vec<f64> = (0..=left).map(|c| first[c] + second[left - c]).collect();
        let lowest = (1..=left).fold(
            0,
            |best, c| if falling[c] < falling[best] { c } else { best },
        );
        let rising = falling.split_off(lowest);
        let row = binomial_row(left, odds);
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
    pub fn extreme(&self, threshold: f64) -> f64 {
        let before = self.falling.partition_point(|v| *v >= threshold);
        let from = self.rising.partition_point(|v| *v < threshold);
        if from == 0 {
            return 1.0;
        }
        self.head[before] + self.tail[self.falling.len() + from]
    }
}

/// All binomial probabilities of 0..=n successes at the given odds, by their ratios from the mode outwards.
pub(super) fn binomial_row(n: usize, odds: f64) -> Vec<f64> {
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
