//! The product-limit estimate of survival with late entry and right censoring, and Greenwood's variance.

use super::confidence::Transformation;
use super::risk_table::RiskTable;
use super::unidentified::Unidentified;
use crate::stats::interval::normal_deviate;
use crate::stats::{Error, Interval};

/// The curve at one distance with failures.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Step {
    /// Distance of the failures.
    pub distance: f64,
    /// Lives at risk there.
    pub at_risk: u64,
    /// Failures there.
    pub failed: u64,
    /// S(t) from this distance on.
    pub survival: f64,
    /// Greenwood's sum of d / (n (n - d)), the variance of ln S(t); infinite once S(t) = 0.
    pub log_variance: f64,
}

impl Step {
    /// Greenwood's standard error of S(t), S sqrt(sum d / (n (n - d))); none once S(t) = 0.
    pub fn standard_error(&self) -> Option<f64> {
        (self.survival > 0.0).then(|| self.survival * self.log_variance.sqrt())
    }

    /// Limits for S(t) at `deviate` standard errors.
    ///
    /// # Errors
    /// [`Unidentified::AllFailed`] once S(t) = 0: [0, 0] would claim certainty.
    pub fn limits(
        &self,
        transformation: Transformation,
        deviate: f64,
    ) -> Result<Interval, Unidentified> {
        if self.survival <= 0.0 {
            return Err(Unidentified::AllFailed);
        }
        Ok(transformation.limits(self.survival, self.log_variance.sqrt(), deviate))
    }
}

/// S(t) = product over failure distances u <= t of (1 - d(u) / n(u)) (Kaplan & Meier 1958; with late entry Turnbull 1974,
/// Tsai, Jewell & Wang 1987), given survival to the first entry.
#[derive(Debug, Clone, PartialEq)]
pub struct KaplanMeier {
    steps: Vec<Step>,
    first_entry: f64,
    last_exit: f64,
    /// Lives that entered at or after the end of the risk set, where the curve fell to 0.
    exhausted: Option<Unidentified>,
    first_gap: Option<Unidentified>,
}

impl KaplanMeier {
    /// Estimates the curve.
    ///
    /// # Errors
    /// [`Error::Input`] for a table without lives.
    pub fn new(table: &RiskTable) -> Result<Self, Error> {
        let (Some(first_entry), Some(last_exit)) = (table.first_entry(), table.last_exit()) else {
            return Err(Error::Input {
                name: "table",
                requirement: "survival needs at least one life",
            });
        };
        let mut steps: Vec<Step> = Vec::new();
        let (mut survival, mut log_variance) = (1.0, 0.0);
        for (row, at_risk) in table.with_risk_sets().filter(|(row, _)| row.failed > 0) {
            let (n, d) = (at_risk as f64, row.failed as f64);
            survival *= (n - d) / n;
            log_variance += d / (n * (n - d));
            steps.push(Step {
                distance: row.distance,
                at_risk,
                failed: row.failed,
                survival,
                log_variance,
            });
        }
        let zero = steps.iter().find(|step| step.survival <= 0.0);
        let exhausted = zero.and_then(|step| {
            let at = step.distance;
            let entries = table.rows().iter().filter(|row| row.distance >= at);
            let later = entries.map(|row| row.entered).sum();
            (later > 0).then_some(Unidentified::RiskSetExhausted { at, later })
        });
        let gap = table.gaps().first().copied();
        Ok(Self {
            steps,
            first_entry,
            last_exit,
            exhausted,
            first_gap: gap.map(|(from, to)| Unidentified::RiskSetEmpty { from, to }),
        })
    }

    /// The curve, one step a distance with failures. Past a distance named by [`Self::caveat`] the figures are the formula's,
    /// not knowledge.
    pub fn steps(&self) -> &[Step] {
        &self.steps
    }

    /// The steps up to the first distance named by [`Self::caveat`].
    pub fn known_steps(&self) -> &[Step] {
        let is_known = |step: &Step| self.step_at(step.distance).is_ok();
        let known = self.steps.partition_point(is_known);
        self.steps.get(..known).unwrap_or_default()
    }

    /// Where the curve starts: S = 1 here by condition, not by observation.
    pub fn first_entry(&self) -> f64 {
        self.first_entry
    }

    /// Where observation ends.
    pub fn last_exit(&self) -> f64 {
        self.last_exit
    }

    /// The first distance past which the unconditional curve is not identified, with the reason; none when it is identified
    /// up to the last exit.
    pub fn caveat(&self) -> Option<Unidentified> {
        let position = |caveat: &Unidentified| match *caveat {
            Unidentified::RiskSetExhausted { at, .. } => at,
            Unidentified::RiskSetEmpty { from, .. } => from,
            _ => f64::INFINITY,
        };
        let both = [self.exhausted, self.first_gap];
        let found = both.into_iter().flatten();
        found.min_by(|a, b| position(a).total_cmp(&position(b)))
    }

    /// The step in force at `distance`; none before the first failure.
    ///
    /// # Errors
    /// [`Unidentified`] where the data do not reach: before the first entry, beyond the last exit while some survive, past a
    /// stretch with nobody at risk, past a risk set that failed as a whole while others enter later.
    pub fn step_at(&self, distance: f64) -> Result<Option<&Step>, Unidentified> {
        if distance < self.first_entry {
            let first_entry = self.first_entry;
            return Err(Unidentified::BeforeFirstEntry { first_entry });
        }
        match self.caveat() {
            Some(caveat @ Unidentified::RiskSetExhausted { at, .. }) if distance >= at => {
                return Err(caveat);
            }
            Some(caveat @ Unidentified::RiskSetEmpty { from, .. }) if distance > from => {
                return Err(caveat);
            }
            _ => {}
        }
        let passed = self.steps.partition_point(|step| step.distance <= distance);
        let step = passed.checked_sub(1).and_then(|last| self.steps.get(last));
        let some_survive = step.is_none_or(|step| step.survival > 0.0);
        if distance > self.last_exit && some_survive {
            let last_exit = self.last_exit;
            return Err(Unidentified::BeyondLastExit { last_exit });
        }
        Ok(step)
    }

    /// S(t).
    ///
    /// # Errors
    /// As [`Self::step_at`].
    pub fn survival(&self, distance: f64) -> Result<f64, Unidentified> {
        Ok(self.step_at(distance)?.map_or(1.0, |step| step.survival))
    }

    /// Pointwise limits for S(t) at confidence `level`.
    ///
    /// # Errors
    /// [`Error::Level`] outside; inside as [`Self::step_at`], and [`Unidentified::NoFailureYet`] where S(t) = 1 or
    /// [`Unidentified::AllFailed`] where it is 0: the formula's variance 0 is no certainty.
    pub fn limits(
        &self,
        distance: f64,
        transformation: Transformation,
        level: f64,
    ) -> Result<Result<Interval, Unidentified>, Error> {
        let deviate = normal_deviate(level)?;
        Ok(self.step_at(distance).and_then(|step| match step {
            None => Err(Unidentified::NoFailureYet),
            Some(step) => step.limits(transformation, deviate),
        }))
    }
}

#[cfg(test)]
mod tests {
    use super::super::risk_table::Life;
    use super::*;

    fn curve(lives: &[(f64, f64, bool)]) -> KaplanMeier {
        let lives: Vec<Life> = lives
            .iter()
            .map(|&(entry, exit, failed)| Life {
                entry,
                exit,
                failed,
            })
            .collect();
        KaplanMeier::new(&RiskTable::from_lives(&lives).unwrap().table).unwrap()
    }

    #[test]
    fn smallest_data_with_a_tie_of_failure_and_leaving_and_late_entry() {
        // At 2: at risk 3 (the entry at 2 is not), one fails: 2/3. At 5: at risk 2, one fails: 1/3.
        let curve = curve(&[
            (0.0, 2.0, true),
            (0.0, 2.0, false),
            (0.0, 5.0, true),
            (2.0, 7.0, false),
        ]);
        let survival: Vec<f64> = curve.steps().iter().map(|step| step.survival).collect();
        assert!((survival[0] - 2.0 / 3.0).abs() < 1e-15 && (survival[1] - 1.0 / 3.0).abs() < 1e-15);
        assert!((curve.steps()[1].log_variance - (1.0 / 6.0 + 0.5)).abs() < 1e-15);
        assert_eq!(curve.caveat(), None);
    }

    #[test]
    fn no_failures_is_not_certainty() {
        let curve = curve(&[(0.0, 9.0, false), (0.0, 4.0, false)]);
        assert_eq!(curve.survival(5.0), Ok(1.0));
        let limits = curve.limits(5.0, Transformation::LogLog, 0.95).unwrap();
        assert_eq!(limits, Err(Unidentified::NoFailureYet));
        assert!(matches!(
            curve.survival(9.5),
            Err(Unidentified::BeyondLastExit { .. })
        ));
    }

    #[test]
    fn all_failed_is_zero_without_limits() {
        let curve = curve(&[(0.0, 3.0, true), (0.0, 3.0, true)]);
        assert_eq!(curve.survival(3.0), Ok(0.0));
        assert_eq!(curve.survival(50.0), Ok(0.0));
        let limits = curve.limits(3.0, Transformation::Plain, 0.95).unwrap();
        assert_eq!(limits, Err(Unidentified::AllFailed));
    }

    #[test]
    fn early_end_of_the_risk_set_is_said_and_not_passed_on() {
        let early = curve(&[
            (0.0, 2.0, true),
            (1.0, 3.0, true),
            (3.0, 8.0, false),
            (4.0, 9.0, true),
        ]);
        assert_eq!(early.survival(2.5), Ok(0.5));
        assert_eq!(
            early.survival(8.0),
            Err(Unidentified::RiskSetExhausted { at: 3.0, later: 2 })
        );
    }

    #[test]
    fn a_stretch_without_lives_ends_the_unconditional_curve() {
        let curve = curve(&[
            (0.0, 2.0, true),
            (0.0, 3.0, false),
            (5.0, 8.0, true),
            (5.0, 9.0, false),
        ]);
        assert_eq!(curve.survival(3.0), Ok(0.5));
        let unknown = Unidentified::RiskSetEmpty { from: 3.0, to: 5.0 };
        assert_eq!(curve.survival(8.0), Err(unknown));
        assert_eq!(curve.caveat(), Some(unknown));
    }

    #[test]
    fn everyone_late_leaves_the_start_unknown() {
        let curve = curve(&[(4.0, 6.0, true), (4.0, 9.0, false)]);
        let unknown = Unidentified::BeforeFirstEntry { first_entry: 4.0 };
        assert_eq!(curve.survival(3.0), Err(unknown));
        assert_eq!(curve.survival(6.0), Ok(0.5));
    }

    #[test]
    fn known_steps_end_where_the_risk_set_was_empty_or_failed_as_a_whole() {
        let all = curve(&[(0.0, 2.0, true), (0.0, 5.0, true)]);
        assert_eq!(all.known_steps(), all.steps());
        let gap = curve(&[(0.0, 2.0, true), (0.0, 3.0, false), (4.0, 6.0, true)]);
        assert_eq!(gap.known_steps(), &gap.steps()[..1]);
        let exhausted = curve(&[(0.0, 2.0, true), (2.0, 6.0, true), (3.0, 7.0, false)]);
        assert_eq!(exhausted.known_steps(), []);
        assert_eq!(exhausted.steps().len(), 2);
        for curve in [all, gap, exhausted] {
            let known = |step: &&Step| curve.step_at(step.distance).is_ok();
            let one_by_one = curve.steps().iter().take_while(known).count();
            assert_eq!(curve.known_steps().len(), one_by_one);
        }
    }
}
