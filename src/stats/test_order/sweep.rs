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
use super::layout::Layout;
use super::position::Position;
use super::problem::Problem;
use super::walk::{Block, STOP, Walk};

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
            let open: Vec<usize> = (0..count).filter(|b| layout.run_in(*b) == run).collect();
            for (b, block) in wave(&layout, &open, &blocks, threads) {
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

/// Solves blocks that need nothing from each other.
fn wave(
    layout: &Layout<'_>,
    wave: &[usize],
    solved: &[Block],
    threads: usize,
) -> Vec<(usize, Block)> {
    let next = AtomicUsize::new(0);
    let done = Mutex::new(Vec::with_capacity(wave.len()));
    std::thread::scope(|scope| {
        for _ in 0..threads.clamp(1, wave.len().max(1)) {
            scope.spawn(|| {
                while let Some(&b) = wave.get(next.fetch_add(1, Ordering::Relaxed)) {
                    let block = Walk::new(layout, b, solved).block();
                    done.lock()
                        .unwrap_or_else(PoisonError::into_inner)
                        .push((b, block));
                }
            });
        }
    });
    done.into_inner().unwrap_or_else(PoisonError::into_inner)
}
