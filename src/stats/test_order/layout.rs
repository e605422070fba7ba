//! The positions from one start on, numbered, and cut into blocks.
//!
//! The walk through a block is the one place where every nanosecond counts, in the quick profile too, where library generics are often
//! not inlined: boxed slices and plain loops index without a call.

use super::evaluate::Course;
use super::problem::Problem;

/// A test still open, laid out for the sweep.
pub(super) struct Open {
    /// Its number in the problem.
    pub test: usize,
    /// Own minutes and set-ups, by the set-ups that stand: indexed by `paid`, compressed to the set-ups in use.
    pub prices: Box<[f64]>,
    /// Chances by outcome, then by class.
    pub chances: Box<[f64]>,
    pub outcomes: usize,
    /// What an outcome adds to the number of a position, times (outcome + 1).
    pub stride: usize,
    pub set_ups: usize,
    pub proof: u64,
    /// Which open test, at which digit, must come first.
    pub after: Option<(usize, usize)>,
    /// Which open tests wait for this one, and for which digit.
    pub waiting: Vec<(usize, usize)>,
}

/// The open tests, and how positions are numbered.
pub(super) struct Layout<'a> {
    pub problem: &'a Problem,
    /// Whether proof was seen before the start.
    pub proved: bool,
    /// Weights at the start, the classes of one cause side by side.
    pub weights: Box<[f64]>,
    pub open: Box<[Open]>,
    /// Where the classes of each cause end.
    pub ends: Box<[usize]>,
    /// Tests below this number vary within a block.
    pub inner: usize,
    pub block_size: usize,
    pub positions: usize,
    pub start_paid: usize,
}

/// Blocks are made no smaller than this many positions.
const SMALLEST_BLOCK: usize = 2_000;

impl<'a> Layout<'a> {
    pub fn new(problem: &'a Problem, course: &Course) -> Self {
        let order = by_cause(problem);
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
                chances: laid
                    .chances
                    .iter()
                    .flat_map(|row| order.iter().map(|class| row[*class]))
                    .collect(),
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
            proved: course.at.proved,
            weights: order.iter().map(|class| course.weights[*class]).collect(),
            ends: ends(problem, &order),
            inner,
            block_size,
            positions: stride,
            start_paid: compress(course.at.paid),
            open: open.into_boxed_slice(),
        }
    }

    pub fn digit(&self, number: usize, test: usize) -> usize {
        let open = &self.open[test];
        number / open.stride % (open.outcomes + 1)
    }

    /// How many of the outer tests were run in a block.
    pub fn run_in(&self, block: usize) -> usize {
        let number = block * self.block_size;
        (self.inner..self.open.len())
            .filter(|t| self.digit(number, *t) > 0)
            .count()
    }
}

/// Numbers of the classes, those of one cause side by side.
fn by_cause(problem: &Problem) -> Vec<usize> {
    let mut order: Vec<usize> = (0..problem.cause_of.len()).collect();
    order.sort_by_key(|class| problem.cause_of[*class]);
    order
}

/// Where the classes of each cause end in that order.
fn ends(problem: &Problem, order: &[usize]) -> Box<[usize]> {
    let ends = (0..problem.causes).map(|cause| {
        let before = order.iter().filter(|c| problem.cause_of[**c] <= cause);
        before.count()
    });
    ends.collect()
}
