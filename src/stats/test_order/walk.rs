//! The walk through one block of positions, from its greatest number down.

use super::layout::Layout;
use super::stopping::Turns;

/// Values and decisions of one block of positions.
#[derive(Debug, Default)]
pub(super) struct Block {
    pub values: Box<[f64]>,
    pub decisions: Box<[u8]>,
}

/// Stopping, where else the number of a test stands.
pub(super) const STOP: u8 = u8::MAX;

/// The walk through one block, from its greatest number down.
pub(super) struct Walk<'a> {
    layout: &'a Layout<'a>,
    solved: &'a [Block],
    first: usize,
    block: Block,
    digits: Box<[usize]>,
    classes: usize,
    /// Weights by level, then by class: at level `t` with the outcomes of all open tests from `t` on.
    weights: Box<[f64]>,
    by_cause: Box<[f64]>,
    turns: Turns<'a>,
}

impl<'a> Walk<'a> {
    pub fn new(layout: &'a Layout<'a>, block: usize, solved: &'a [Block]) -> Self {
        let classes = layout.weights.len();
        let levels = layout.open.len();
        let mut weights = vec![0.0; classes * levels];
        weights.extend_from_slice(&layout.weights);
        Self {
            layout,
            solved,
            first: block * layout.block_size,
            block: Block {
                values: vec![0.0; layout.block_size].into_boxed_slice(),
                decisions: vec![STOP; layout.block_size].into_boxed_slice(),
            },
            digits: vec![0; levels].into_boxed_slice(),
            classes,
            weights: weights.into_boxed_slice(),
            by_cause: vec![0.0; layout.problem.causes].into_boxed_slice(),
            turns: Turns::new(&layout.problem.stopping, layout.problem.causes),
        }
    }

    pub fn block(mut self) -> Block {
        let n = self.layout.open.len();
        let (mut paid, mut proved) = (self.layout.start_paid, self.layout.proved);
        for t in (self.layout.inner..n).rev() {
            let digit = self.layout.digit(self.first, t);
            if !self.enter(t, digit) {
                return self.block;
            }
            (paid, proved) = self.standing(t, digit, paid, proved);
        }
        self.down(self.layout.inner, 0, paid, proved);
        self.block
    }

    /// Sets a digit and works out the weights below it; `false` if the digits contradict what a test waits for.
    fn enter(&mut self, t: usize, digit: usize) -> bool {
        self.digits[t] = digit;
        let open = &self.layout.open[t];
        let mut w = 0;
        let waiting: &[(usize, usize)] = &open.waiting;
        while w < waiting.len() {
            let (later, needed) = waiting[w];
            if self.digits[later] > 0 && needed != digit {
                return false;
            }
            w += 1;
        }
        let n = self.classes;
        let (below, above) = self.weights.split_at_mut((t + 1) * n);
        let (into, from) = (&mut below[t * n..], &above[..n]);
        if digit == 0 {
            into.copy_from_slice(from);
            return true;
        }
        let chances = &open.chances[(digit - 1) * n..digit * n];
        let mut i = 0;
        while i < n {
            into[i] = from[i] * chances[i];
            i += 1;
        }
        true
    }

    fn standing(&self, t: usize, digit: usize, paid: usize, proved: bool) -> (usize, bool) {
        let open = &self.layout.open[t];
        if digit == 0 {
            return (paid, proved);
        }
        let proof = open.proof & 1 << (digit - 1) != 0;
        (paid | open.set_ups, proved || proof)
    }

    fn down(&mut self, level: usize, number: usize, paid: usize, proved: bool) {
        if level == 0 {
            self.solve(number, paid, proved);
            return;
        }
        let t = level - 1;
        let open = &self.layout.open[t];
        let mut left = open.outcomes + 1;
        while left > 0 {
            left -= 1;
            if self.enter(t, left) {
                let (paid, proved) = self.standing(t, left, paid, proved);
                self.down(t, number + left * open.stride, paid, proved);
            }
        }
    }

    fn solve(&mut self, number: usize, paid: usize, proved: bool) {
        let (mut total, mut class, mut cause) = (0.0, 0, 0);
        while cause < self.layout.ends.len() {
            let mut sum = 0.0;
            while class < self.layout.ends[cause] {
                sum += self.weights[class];
                class += 1;
            }
            self.by_cause[cause] = sum;
            total += sum;
            cause += 1;
        }
        let mut best = self.turns.cost(&self.by_cause, proved);
        let mut decision = STOP;
        let mut t = 0;
        while t < self.layout.open.len() {
            let open = &self.layout.open[t];
            let price = total * open.prices[paid];
            let ready = match open.after {
                Some((first, needed)) => self.digits[first] == needed,
                None => true,
            };
            // What remains after a test is never negative, so a test dearer than the best so far is out.
            if self.digits[t] == 0 && ready && price < best {
                let mut minutes = price;
                let mut digit = 1;
                while digit <= open.outcomes {
                    minutes += self.value(t, number + digit * open.stride);
                    digit += 1;
                }
                if minutes < best {
                    best = minutes;
                    decision = open.test as u8;
                }
            }
            t += 1;
        }
        self.block.values[number] = best;
        self.block.decisions[number] = decision;
    }

    fn value(&self, t: usize, number: usize) -> f64 {
        if t < self.layout.inner {
            return self.block.values[number];
        }
        let whole = self.first + number;
        let size = self.layout.block_size;
        self.solved[whole / size].values[whole % size]
    }
}
