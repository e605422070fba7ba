//! One Weibull shape for all groups, for those that have too few failures to tell their own.

use super::bound;
use super::distances::{SHARES, by_shared_shape};
use super::model::{Model, Setting};
use super::types::{GroupLife, PooledShape, Status};
use crate::answer::label::RowKey;
use crate::answer::parts::Estimate;
use crate::domain::problem::Result;
use crate::stats::interval::normal_deviate;
use crate::stats::lifetime::{Family, Observed, shared_shape};

/// Fewer failures than this, and a group borrows the shape of all.
pub const FEW: u64 = 10;

/// Learns the shape that `members` share and gives their small groups its distances; none when no group is small, or all
/// together cannot tell.
///
/// `models` has the risk sets of the small members, `observed` the likelihood of all, in the order of `members`.
///
/// # Errors
/// A level outside (0, 1).
pub fn pool(
    what: RowKey,
    members: &mut [&mut GroupLife],
    observed: &[Observed],
    models: &[Option<&Model>],
    stated: &[f64],
    setting: Setting,
) -> Result<Option<PooledShape>> {
    let small =
        |group: &GroupLife| group.evidence.events < FEW && group.status != Status::NothingObserved;
    if !members.iter().any(|group| small(group)) {
        return Ok(None);
    }
    let with_failures = observed.iter().filter(|o| o.failures() > 0);
    if with_failures.clone().count() < 2 {
        return Ok(None);
    }
    let Ok(shared) = shared_shape(Family::Weibull, observed) else {
        return Ok(None);
    };
    let shape = (-shared.log_scale).exp();
    for ((group, fit), model) in members.iter_mut().zip(&shared.groups).zip(models) {
        let Some(model) = model.filter(|_| small(group)) else {
            continue;
        };
        let filled = model.well_filled_to();
        if let Some(fit) = fit {
            for share in SHARES {
                let row = by_shared_shape(fit, filled, share, setting.level)?;
                group.shares.push(row);
            }
            group.shares.sort_by(|a, b| a.share.total_cmp(&b.share));
        }
        if group.bound.is_some() {
            group.bound = bound::bound(model, stated, Some(shape), setting)?;
        }
    }
    let deviate = crate::answer::statistic::told(normal_deviate(setting.level))?;
    let half = deviate * shared.standard_error;
    Ok(Some(PooledShape {
        what,
        groups: with_failures.clone().count() as u64,
        failures: with_failures.map(Observed::failures).sum(),
        shape: Estimate {
            value: shape,
            lower: shape * (-half).exp(),
            upper: Some(shape * half.exp()),
            level: setting.level,
            method: "wald".to_string(),
        },
        p_equal: shared.equal_shapes.map(|test| test.p_value),
    }))
}
