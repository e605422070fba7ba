//! Where a search stands: which outcomes were seen, and so which tests are left and which set-ups are paid.

use super::problem::Problem;

/// The outcomes seen so far; everything else about a position follows from them.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub struct Position {
    /// Numbers the outcomes seen: sum over tests of (outcome + 1) x stride.
    pub(super) key: u64,
    /// Tests that may still be run, now or later, as bits.
    pub(super) left: u64,
    /// Set-ups that stand, as bits.
    pub(super) paid: u64,
    /// Whether an outcome was proof.
    pub(super) proved: bool,
}

impl Position {
    /// Before the first test; `paid` are set-ups that stand already, `allowed` says which tests can be run at all.
    pub fn start(problem: &Problem, paid: &[usize], allowed: impl Fn(usize) -> bool) -> Self {
        let mut left = 0;
        for (t, test) in problem.tests.iter().enumerate() {
            let reachable = test.after.is_none_or(|(first, _)| left & 1 << first != 0);
            if allowed(t) && reachable {
                left |= 1 << t;
            }
        }
        Self {
            key: 0,
            left,
            paid: paid.iter().fold(0, |bits, s| bits | 1 << s),
            proved: false,
        }
    }

    /// After an outcome of a test.
    pub fn after(self, problem: &Problem, test: usize, outcome: usize) -> Self {
        let laid = &problem.tests[test];
        let mut left = self.left & !(1 << test);
        for (t, waiting) in problem.tests.iter().enumerate().skip(test + 1) {
            if waiting
                .after
                .is_some_and(|(first, needed)| first == test && needed != outcome)
            {
                left &= !(1 << t);
            }
        }
        Self {
            key: self.key + (outcome as u64 + 1) * laid.stride,
            left,
            paid: self.paid | laid.set_ups,
            proved: self.proved || laid.proof & 1 << outcome != 0,
        }
    }

    /// Takes a test off the list, and with it those that wait for it.
    pub fn without(self, problem: &Problem, test: usize) -> Self {
        let waiting = problem.tests.iter().enumerate();
        let waiting = waiting.filter(|(_, w)| w.after.is_some_and(|(first, _)| first == test));
        let shorter = Self {
            left: self.left & !(1 << test),
            ..self
        };
        waiting.fold(shorter, |at, (t, _)| at.without(problem, t))
    }

    /// Takes a test off the list and leaves those that wait for it: its outcome may be there already.
    pub(super) fn without_alone(self, test: usize) -> Self {
        Self {
            left: self.left & !(1 << test),
            ..self
        }
    }

    /// The same with the set-ups of `other`.
    pub(super) fn with_paid_of(self, other: Self) -> Self {
        Self {
            paid: other.paid,
            ..self
        }
    }

    /// Whether a test may still be run, now or later.
    pub fn open(self, test: usize) -> bool {
        self.left & 1 << test != 0
    }

    /// Whether proof was seen.
    pub fn proved(self) -> bool {
        self.proved
    }

    /// Whether a set-up stands.
    pub fn stands(self, set_up: usize) -> bool {
        self.paid & 1 << set_up != 0
    }

    /// The outcome of a test, if it was run.
    pub fn outcome(self, problem: &Problem, test: usize) -> Option<usize> {
        let laid = problem.tests.get(test)?;
        let digit = self.key / laid.stride % (laid.chances.len() as u64 + 1);
        usize::try_from(digit).ok()?.checked_sub(1)
    }

    /// The tests that can be run now.
    pub fn available(self, problem: &Problem) -> impl Iterator<Item = usize> {
        (0..problem.tests.len()).filter(move |&t| self.can(problem, t))
    }

    /// Whether a test can be run now.
    pub fn can(self, problem: &Problem, test: usize) -> bool {
        let ready = |(first, needed)| self.outcome(problem, first) == Some(needed);
        self.open(test) && problem.tests[test].after.is_none_or(ready)
    }

    /// Minutes of a test here: its own and those of the set-ups that do not stand yet.
    pub fn price(self, problem: &Problem, test: usize) -> f64 {
        let laid = &problem.tests[test];
        let mut missing = laid.set_ups & !self.paid;
        let mut minutes = laid.minutes;
        while missing != 0 {
            minutes += problem.set_ups[missing.trailing_zeros() as usize];
            missing &= missing - 1;
        }
        minutes
    }
}

/// Weights of the classes after an outcome, not normalised, so that expectations add up.
pub(super) fn updated(problem: &Problem, weights: &[f64], test: usize, outcome: usize) -> Vec<f64> {
    let chances = &problem.tests[test].chances[outcome];
    weights.iter().zip(chances).map(|(w, p)| w * p).collect()
}
