//! One Weibull shape for all groups, for those that have too few failures to tell their own.

use super::bound;
use super::distances::{SHARES, by_shared_shape};
use super::model::{Reach, Setting};
use super::types::{GroupLife, PooledShape, Status};
use crate::answer::label::RowKey;
use crate::answer::parts::Estimate;
use crate::answer::statistic::told;
use crate::domain::problem::Result;
use crate::stats::interval::normal_deviate;
use crate::stats::lifetime::{Family, Observed, SharedShape, shared_shape};

/// Fewer failures than this, and a group borrows the shape of all.
pub const FEW: u64 = 10;

/// Whether a group has something to tell, and too few failures for a shape of its own.
pub fn is_small(group: &GroupLife) -> bool {
    group.evidence.events < FEW && group.status != Status::NothingObserved
}

/// The shape that some groups share.
pub struct Learnt {
    shared: SharedShape,
    groups: u64,
    failures: u64,
}

/// Learns the shape from the likelihoods of all; none when all together cannot tell.
pub fn learn(observed: &[&Observed]) -> Option<Learnt> {
    let failed = observed.iter().filter(|o| o.failures() > 0);
    let groups = failed.clone().count() as u64;
    if groups < 2 {
        return None;
    }
    Some(Learnt {
        shared: shared_shape(Family::Weibull, observed).ok()?,
        groups,
        failures: failed.map(|o| o.failures()).sum(),
    })
}

/// A group that may borrow.
pub struct Borrower<'a> {
    /// Its answer so far.
    pub answer: &'a mut GroupLife,
    /// Its likelihood.
    pub observed: &'a Observed,
    /// How far it was watched.
    pub reach: &'a Reach,
}

/// Gives small groups the distances of the shared shape; `borrowers` come in the order the shape was learnt from.
///
/// # Errors
/// A level outside (0, 1).
pub fn lend<'a>(
    borrowers: impl Iterator<Item = Borrower<'a>>,
    learnt: &Learnt,
    stated: &[f64],
    setting: Setting,
) -> Result<()> {
    let shape = (-learnt.shared.log_scale).exp();
    for (group, fit) in borrowers.zip(&learnt.shared.groups) {
        if !is_small(group.answer) {
            continue;
        }
        if let Some(fit) = fit {
            for share in SHARES {
                let row = by_shared_shape(fit, group.reach.filled, share, setting.level)?;
                group.answer.shares.push(row);
            }
            let shares = &mut group.answer.shares;
            shares.sort_by(|a, b| a.share.total_cmp(&b.share));
        }
        if group.answer.bound.is_some() {
            let bound = bound::bound(group.reach, group.observed, stated, Some(shape), setting)?;
            group.answer.bound = bound;
        }
    }
    Ok(())
}

/// What is told of the shared shape.
///
/// # Errors
/// A level outside (0, 1).
pub fn row(what: RowKey, learnt: &Learnt, setting: Setting) -> Result<PooledShape> {
    let shared = &learnt.shared;
    let shape = (-shared.log_scale).exp();
    let half = told(normal_deviate(setting.level))? * shared.standard_error;
    Ok(PooledShape {
        what,
        groups: learnt.groups,
        failures: learnt.failures,
        shape: Estimate {
            value: shape,
            lower: shape * (-half).exp(),
            upper: Some(shape * half.exp()),
            level: setting.level,
            method: "wald".to_string(),
        },
        p_equal: shared.equal_shapes.map(|test| test.p_value),
    })
}
