//! The robust variance of a cumulative incidence: how it moves with the weight of each single life.

use super::aalen_johansen::Incidence;
use super::competing_table::CompetingLife;
use crate::stats::survival::Unidentified;

/// The standard error of F_cause at `distance` by the infinitesimal jackknife: the root of the sum over lives of the squared
/// derivative of F by the life's weight (Efron 1982; as in Therneau & Grambsch 2000).
///
/// It needs the lives, not their counts, because a life's entry and exit enter together; and it is right when vehicles are
/// independent, whatever the model. `incidence` must come from the same `lives`.
///
/// # Errors
/// [`Unidentified`] where the data do not reach.
pub fn infinitesimal_jackknife(
    lives: &[CompetingLife],
    incidence: &Incidence,
    cause: usize,
    distance: f64,
) -> Result<f64, Unidentified> {
    let Some(last) = incidence.position_at(distance)? else {
        return Ok(0.0);
    };
    let influence = Influence::new(incidence, cause, last);
    let lives = lives.iter().filter(|life| life.entry < life.exit);
    let sum: f64 = lives.map(|life| influence.of(life).powi(2)).sum();
    Ok(sum.sqrt())
}

/// Running sums over the steps up to the distance, from which each life's influence is a difference.
struct Influence {
    cause: usize,
    distances: Vec<f64>,
    /// Sums through each step: of S(u-) h_c / n + (F(u) - F(t)) h / (n (1 - h)), the pull of being at risk.
    at_risk: Vec<f64>,
    /// The push of failing at each step, by the cause and by another.
    failing: Vec<(f64, f64)>,
}

impl Influence {
    fn new(incidence: &Incidence, cause: usize, last: usize) -> Self {
        let steps = incidence.steps().iter().take(last + 1);
        let share = |step: &super::IncidenceStep| step.incidence.get(cause).copied().unwrap_or(0.0);
        let end = incidence.steps().get(last).map_or(0.0, share);
        let mut influence = Self {
            cause,
            distances: Vec::new(),
            at_risk: Vec::new(),
            failing: Vec::new(),
        };
        let mut sum = 0.0;
        for step in steps {
            let (n, d) = (step.at_risk as f64, step.failures() as f64);
            let own = step.failed.get(cause).copied().unwrap_or(0) as f64;
            // When all at risk fail, S is 0 whatever the weights: nothing later moves.
            let later = if n > d {
                (share(step) - end) / (n - d)
            } else {
                0.0
            };
            let now = step.survival_before / n;
            sum += now * own / n + later * d / n;
            influence.distances.push(step.distance);
            influence.at_risk.push(sum);
            influence.failing.push((now + later, later));
        }
        influence
    }

    fn of(&self, life: &CompetingLife) -> f64 {
        let through = |distance: f64| self.distances.partition_point(|&step| step <= distance);
        let sum = |count: usize| {
            count
                .checked_sub(1)
                .and_then(|last| self.at_risk.get(last))
                .copied()
                .unwrap_or(0.0)
        };
        let (entered, ended) = (through(life.entry), through(life.exit));
        let exposed = sum(entered) - sum(ended);
        let failed_here = ended.checked_sub(1).filter(|&last| {
            self.distances
                .get(last)
                .is_some_and(|&step| step == life.exit)
        });
        let push = failed_here
            .and_then(|last| self.failing.get(last))
            .copied()
            .unwrap_or((0.0, 0.0));
        match life.cause {
            Some(cause) if cause == self.cause => exposed + push.0,
            Some(_) => exposed + push.1,
            None => exposed,
        }
    }
}
