//! Exact dynamic programming: the least expected minutes of every combination of outcomes, from the last test back.
//!
//! A position follows from the outcomes seen, so positions are numbered by them (0 not run, 1.. the outcome of each test) and
//! a position needs only positions of greater number. Weights of the classes are multiplied out once for each test along
//! the way, and the order of repairs is kept from one position to its neighbour, where it hardly differs. The numbers are
//! cut into blocks by the outcomes of the last tests; blocks in which equally many of these were run need nothing from
//! each other, so threads share them and the result is the same to the last bit however many there are.

use std::sync::atomic::{AtomicUsize, Ordering};
use std::sync::{Mutex, PoisonError};

use super::evaluate::Course;
use super::position::Position;
use super::problem::Problem;
use super::stopping::Turns;

/// A test still open, laid out for the sweep.
///
/// The walk is the one place where every nanosecond counts, in the quick profile too, where library generics are often not
/// inlined: boxed slices and plain loops index without a call.
struct Open {
    /// Its number in the problem.
    test: usize,
    /// Own minutes and set-ups, by the set-ups that stand: indexed by `paid`, compressed to the set-ups in use.
    prices: Box<[f64]>,
    /// Chances by outcome, then by class.
    chances: Box<[f64]>,
    outcomes: usize,
    /// What an outcome adds to the number of a position, times (outcome + 1).
    stride: usize,
    set_ups: usize,
    proof: u64,
    /// Which open test, at which digit, must come first.
    after: Option<(usize, usize)>,
    /// Which open tests wait for this one, and for which digit.
    waiting: Vec<(usize, usize)>,
}

/// Values and decisions of one block of positions.
#[derive(Debug, Default)]
struct Block {
    values: Box<[f64]>,
    decisions: Box<[u8]>,
}

const STOP: u8 = u8::MAX;

/// The solved positions from one start on.
#[derive(Debug)]
pub struct Sweep {
    blocks: Vec<Block>,
    block_size: usize,
    /// Open tests with their strides.
    strides: Vec<(usize, usize)>,
    total: f64,
    positions: usize,
}

struct Layout<'a> {
    problem: &'a Problem,
    course: &'a Course,
    open: Box<[Open]>,
    cause_of: Box<[usize]>,
    /// Tests below this number vary within a block.
    inner: usize,
    block_size: usize,
    positions: usize,
    start_paid: usize,
}

/// Blocks are made no smaller than this many positions.
const SMALLEST_BLOCK: usize = 2_000;

impl Sweep {
    /// How many numbers the positions from `course` on take; what `solve` needs is about nine bytes for each.
    pub fn size(problem: &Problem, course: &Course) -> Option<usize> {
        (0..problem.tests())
            .filter(|t| course.at.left & 1 << t != 0)
            .try_fold(1usize, |n, t| n.checked_mul(problem.outcomes(t) + 1))
    }

    /// Solves every position from `course` on.
    pub fn solve(problem: &Problem, course: &Course, threads: usize) -> Self {
        let layout = Layout::new(problem, course);
        let count = layout.positions / layout.block_size;
        let mut blocks: Vec<Block> = (0..count).map(|_| Block::default()).collect();
        for run in (0..=layout.open.len() - layout.inner).rev() {
            let wave: Vec<usize> = (0..count).filter(|b| layout.run_in(*b) == run).collect();
            for (b, block) in layout.wave(&wave, &blocks, threads) {
                blocks[b] = block;
            }
        }
        Self {
            strides: layout.open.iter().map(|o| (o.test, o.stride)).collect(),
            block_size: layout.block_size,
            total: course.weights.iter().sum(),
            positions: layout.positions,
            blocks,
        }
    }

    /// Least expected minutes from the start on.
    pub fn minutes(&self) -> f64 {
        self.value(0) / self.total
    }

    /// How many positions were numbered.
    pub fn positions(&self) -> usize {
        self.positions
    }

    /// The test the best plan runs at a position; `None` to stop.
    pub fn decision(&self, problem: &Problem, at: Position) -> Option<usize> {
        let number = self.number(problem, at);
        let block = self.blocks.get(number / self.block_size)?;
        let decision = *block.decisions.get(number % self.block_size)?;
        (decision != STOP).then_some(usize::from(decision))
    }

    /// Least expected minutes of the plans that begin with `test`; `None` where it cannot be run.
    pub fn minutes_with_first(
        &self,
        problem: &Problem,
        course: &Course,
        test: usize,
    ) -> Option<f64> {
        course.at.available(problem).find(|t| *t == test)?;
        let (_, stride) = self.strides.iter().find(|(t, _)| *t == test)?;
        let children: f64 = (1..=problem.outcomes(test))
            .map(|digit| self.value(digit * stride))
            .sum();
        Some(course.at.price(problem, test) + children / self.total)
    }

    fn value(&self, number: usize) -> f64 {
        let block = self.blocks.get(number / self.block_size);
        block.map_or(0.0, |b| b.values[number % self.block_size])
    }

    fn number(&self, problem: &Problem, at: Position) -> usize {
        let digit = |t| at.outcome(problem, t).map_or(0, |o| o + 1);
        self.strides
            .iter()
            .map(|(t, stride)| digit(*t) * stride)
            .sum()
    }
}

impl<'a> Layout<'a> {
    fn new(problem: &'a Problem, course: &'a Course) -> Self {
        let numbers: Vec<usize> = (0..problem.tests())
            .filter(|t| course.at.left & 1 << t != 0)
            .collect();
        let used = numbers
            .iter()
            .fold(0, |bits, t| bits | problem.tests[*t].set_ups);
        let used: Vec<usize> = (0..problem.set_ups.len())
            .filter(|s| used & 1 << s != 0)
            .collect();
        let compress = |bits: u64| {
            let set = used
                .iter()
                .enumerate()
                .filter(|(_, s)| bits & 1 << **s != 0);
            set.fold(0, |small, (i, _)| small | 1usize << i)
        };
        let mut stride = 1;
        let mut open: Vec<Open> = Vec::with_capacity(numbers.len());
        for test in numbers {
            let laid = &problem.tests[test];
            let set_ups = compress(laid.set_ups);
            let price = |paid: usize| {
                let missing = used.iter().enumerate();
                let missing = missing.filter(|(i, _)| set_ups & !paid & 1 << i != 0);
                laid.minutes + missing.map(|(_, s)| problem.set_ups[*s]).sum::<f64>()
            };
            // A test that waits for one already run is free to go if the outcome was right; else it is not open at all.
            let after = laid.after.and_then(|(first, outcome)| {
                let at = open.iter().position(|o| o.test == first)?;
                Some((at, outcome + 1))
            });
            let number = open.len();
            if let Some((first, digit)) = after {
                let earlier: &mut Open = &mut open[first];
                earlier.waiting.push((number, digit));
            }
            open.push(Open {
                test,
                prices: (0..1 << used.len()).map(price).collect(),
                chances: laid.chances.iter().flatten().copied().collect(),
                outcomes: laid.chances.len(),
                stride,
                set_ups,
                proof: laid.proof,
                after,
                waiting: Vec::new(),
            });
            stride *= laid.chances.len() + 1;
        }
        let mut inner = open.len();
        let mut block_size = stride;
        while let Some(last) = inner.checked_sub(1).and_then(|i| open.get(i))
            && last.stride >= SMALLEST_BLOCK
            && stride / last.stride <= 243
        {
            inner -= 1;
            block_size = last.stride;
        }
        Self {
            problem,
            course,
            inner,
            block_size,
            positions: stride,
            start_paid: compress(course.at.paid),
            cause_of: problem.cause_of.iter().copied().collect(),
            open: open.into_boxed_slice(),
        }
    }

    fn digit(&self, number: usize, test: usize) -> usize {
        let open = &self.open[test];
        number / open.stride % (open.outcomes + 1)
    }

    /// How many of the outer tests were run in a block.
    fn run_in(&self, block: usize) -> usize {
        let number = block * self.block_size;
        (self.inner..self.open.len())
            .filter(|t| self.digit(number, *t) > 0)
            .count()
    }

    /// Solves blocks that need nothing from each other.
    fn wave(&self, wave: &[usize], solved: &[Block], threads: usize) -> Vec<(usize, Block)> {
        let next = AtomicUsize::new(0);
        let done = Mutex::new(Vec::with_capacity(wave.len()));
        std::thread::scope(|scope| {
            for _ in 0..threads.clamp(1, wave.len().max(1)) {
                scope.spawn(|| {
                    while let Some(&b) = wave.get(next.fetch_add(1, Ordering::Relaxed)) {
                        let block = Walk::new(self, b, solved).block();
                        done.lock()
                            .unwrap_or_else(PoisonError::into_inner)
                            .push((b, block));
                    }
                });
            }
        });
        done.into_inner().unwrap_or_else(PoisonError::into_inner)
    }
}

/// The walk through one block, from its greatest number down.
struct Walk<'a> {
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
    fn new(layout: &'a Layout<'a>, block: usize, solved: &'a [Block]) -> Self {
        let classes = layout.course.weights.len();
        let levels = layout.open.len();
        let mut weights = vec![0.0; classes * levels];
        weights.extend_from_slice(&layout.course.weights);
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

    fn block(mut self) -> Block {
        let n = self.layout.open.len();
        let (mut paid, mut proved) = (self.layout.start_paid, self.layout.course.at.proved);
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
        let mut total = 0.0;
        let mut i = 0;
        while i < self.by_cause.len() {
            self.by_cause[i] = 0.0;
            i += 1;
        }
        i = 0;
        while i < self.classes {
            let weight = self.weights[i];
            self.by_cause[self.layout.cause_of[i]] += weight;
            total += weight;
            i += 1;
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
