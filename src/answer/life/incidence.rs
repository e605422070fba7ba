//! Which cause comes first: the share failed by each when several compete.

use super::model::{competing, metres};
use super::types::{CauseIncidence, IncidenceStep};
use crate::answer::label::Labels;
use crate::answer::statistic::told;
use crate::domain::problem::Result;
use crate::stats::competing_risks::{Incidence, VarianceFormula};
use crate::tally::life::LifeGroup;

/// The incidence of every cause of a group given that lives reach `from`; nothing for a single cause.
///
/// # Errors
/// A level outside (0, 1).
pub fn causes(
    group: &LifeGroup,
    from: f64,
    labels: Labels<'_>,
    level: f64,
) -> Result<Vec<CauseIncidence>> {
    if group.causes.len() < 2 {
        return Ok(Vec::new());
    }
    let table = competing(group, from)?;
    if table.rows().is_empty() {
        return Ok(Vec::new());
    }
    let incidence = told(Incidence::new(&table))?;
    let mut out = Vec::new();
    for (cause, id) in group.causes.iter().enumerate() {
        let variances = told(incidence.variance(cause, VarianceFormula::Greenwood))?;
        let limits = told(incidence.limits(cause, level))?;
        let steps = incidence.steps().iter().zip(variances).zip(limits);
        let changing = steps.filter(|((step, _), _)| {
            let failed = step.failed.get(cause).copied().unwrap_or(0);
            failed > 0 && incidence.position_at(step.distance).is_ok()
        });
        let steps: Vec<IncidenceStep> = changing
            .map(|((step, variance), limits)| IncidenceStep {
                distance_m: metres(step.distance),
                share: step.incidence.get(cause).copied().unwrap_or(0.0),
                standard_error: variance.max(0.0).sqrt(),
                lower: limits.map(|l| l.lower),
                upper: limits.map(|l| l.upper),
            })
            .collect();
        let failed = group.failures.iter().filter(|f| f.cause == cause);
        out.push(CauseIncidence {
            cause: id.clone(),
            title: labels.cause(id),
            failed: failed.map(|f| f.failed).sum(),
            steps,
        });
    }
    let last = |c: &CauseIncidence| c.steps.last().map_or(0.0, |s| s.share);
    out.sort_by(|a, b| last(b).total_cmp(&last(a)).then(a.cause.cmp(&b.cause)));
    Ok(out)
}
