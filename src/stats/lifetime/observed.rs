//! What a likelihood needs of the lives: logarithms of distances with counts.
//!
//! Each life contributes f(exit) or S(exit), divided by S(entry) when it was seen only from its entry on. In the logarithm
//! these are separate terms, so that the counts entered, left and failed by distance are enough: nothing ties one life's
//! entry to its own exit.

use crate::stats::Error;
use crate::stats::survival::{RiskRow, RiskTable};

/// Counts at one distance.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Term {
    /// ln of the distance.
    pub log_distance: f64,
    /// Failures at the distance.
    pub failed: f64,
    /// Lives that left unfailed less lives that entered: the net weight of ln S.
    pub survived: f64,
    /// Failures known only to have happened before the distance.
    pub failed_before: f64,
}

impl Term {
    pub(super) fn new(row: &RiskRow) -> Self {
        Self {
            log_distance: row.distance.ln(),
            failed: row.failed as f64,
            survived: row.left as f64 - row.entered as f64,
            failed_before: 0.0,
        }
    }
}

/// One look at lives not watched before: some had failed, the others not.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Inspection {
    /// Distance at the look.
    pub distance: f64,
    /// Lives found failed.
    pub failed: u64,
    /// Lives found sound.
    pub sound: u64,
}

/// Lives in the form of likelihood terms.
#[derive(Debug, Clone, PartialEq)]
pub struct Observed {
    terms: Vec<Term>,
    failures: u64,
    lives: u64,
    failure_distances: usize,
    first_failure: Option<f64>,
}

impl Observed {
    /// From counts with late entry and right censoring. Entry at distance 0 is no truncation.
    pub fn from_table(table: &RiskTable) -> Self {
        let rows = table.rows().iter().filter(|row| row.distance > 0.0);
        Self::with_terms(rows.map(Term::new).collect(), table)
    }

    /// From single looks (current status): a failed life failed somewhere before its look.
    ///
    /// # Errors
    /// [`Error::Parameter`] for a distance that is not positive and finite.
    pub fn from_inspections(inspections: &[Inspection]) -> Result<Self, Error> {
        let bad = |look: &&Inspection| !(look.distance > 0.0 && look.distance.is_finite());
        if let Some(look) = inspections.iter().find(bad) {
            return Err(Error::Parameter {
                name: "distance",
                value: look.distance,
                requirement: "a life can only have failed before a positive distance",
            });
        }
        let terms = inspections.iter().map(|look| Term {
            log_distance: look.distance.ln(),
            failed: 0.0,
            survived: look.sound as f64,
            failed_before: look.failed as f64,
        });
        let failures = inspections.iter().map(|look| look.failed).sum::<u64>();
        let sound = inspections.iter().map(|look| look.sound).sum::<u64>();
        Ok(Self::new(terms.collect(), failures, failures + sound))
    }

    /// The lives of a table with terms of the same sums.
    pub(super) fn with_terms(terms: Vec<Term>, table: &RiskTable) -> Self {
        let failed = table
            .rows()
            .iter()
            .filter(|row| row.failed > 0 && row.distance > 0.0);
        let mut distances = failed.map(|row| row.distance).peekable();
        Self {
            first_failure: distances.peek().copied(),
            failure_distances: distances.count(),
            terms,
            failures: table.failures(),
            lives: table.lives(),
        }
    }

    fn new(terms: Vec<Term>, failures: u64, lives: u64) -> Self {
        let failed = terms
            .iter()
            .filter(|term| term.failed + term.failed_before > 0.0);
        let distances = failed.clone().map(|term| term.log_distance.exp());
        Self {
            failure_distances: failed.count(),
            first_failure: distances.reduce(f64::min),
            terms,
            failures,
            lives,
        }
    }

    /// The terms, by distance.
    pub fn terms(&self) -> &[Term] {
        &self.terms
    }

    /// Failures.
    pub fn failures(&self) -> u64 {
        self.failures
    }

    /// Lives.
    pub fn lives(&self) -> u64 {
        self.lives
    }

    /// Different distances with failures.
    pub fn failure_distances(&self) -> usize {
        self.failure_distances
    }

    /// The smallest distance with failures; none without any.
    pub fn first_failure(&self) -> Option<f64> {
        self.first_failure
    }

    /// The same lives with distances counted from `start` on, before which nothing can fail: what happened up to it says
    /// nothing and is left out. Not for condensed terms. Failures at or before `start` would be impossible; choose it below the first.
    pub fn after(&self, start: f64) -> Self {
        let later = self
            .terms
            .iter()
            .filter(|term| term.log_distance.exp() > start);
        let terms = later.map(|term| Term {
            log_distance: (term.log_distance.exp() - start).ln(),
            ..*term
        });
        Self::new(terms.collect(), self.failures, self.lives)
    }

    /// ln of the sum over lives of exit^shape - entry^shape, the exposure of a Weibull life of that shape; a life failed
    /// before a distance counts up to it. Scaled inside so that no power overflows.
    pub fn log_exposure(&self, shape: f64) -> f64 {
        let largest = self.terms.iter().fold(f64::NEG_INFINITY, |largest, term| {
            largest.max(term.log_distance)
        });
        let sum: f64 = self
            .terms
            .iter()
            .map(|term| {
                let ended = term.failed + term.survived + term.failed_before;
                ended * (shape * (term.log_distance - largest)).exp()
            })
            .sum();
        sum.ln() + shape * largest
    }
}
