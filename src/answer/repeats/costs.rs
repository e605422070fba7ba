//! The mean cumulative cost of one group, in one money.

use super::curve::Curve;
use super::types::{MeanCost, MeanPoint};
use crate::domain::currency;
use crate::domain::problem::Result;
use crate::tally::repeats::{RepeatEvent, RepeatGroup, WatchedSet};

/// The mean cost, each priced repair standing for its share of those whose cost is not known in this money. Repairs without
/// charge and declined ones are no repairs at a cost of 0: they stand apart.
pub(super) fn cost(
    group: &RepeatGroup,
    set: &WatchedSet,
    at: &[i64],
    level: f64,
) -> Result<Option<MeanCost>> {
    let Some(account) = group.costs.as_ref().filter(|c| c.priced > 0) else {
        return Ok(None);
    };
    let scale = 10f64.powi(-i32::try_from(currency::exponent(&account.currency)).unwrap_or(2));
    let with_cost = account.priced + account.other_money + account.unknown;
    let weight = with_cost as f64 / account.priced as f64;
    let priced: Vec<(RepeatEvent, f64)> = group
        .events
        .iter()
        .filter_map(|e| Some((*e, e.cost? as f64)))
        .collect();
    let curve = Curve::new(set, &priced, at, level)?;
    let places = at.iter().copied().chain(curve.last_repair());
    let points: Vec<MeanPoint> = places
        .map(|m| curve.point(m, weight * scale))
        .collect::<Result<_>>()?;
    let sum: f64 = priced.iter().map(|(_, cost)| cost).sum();
    Ok(Some(MeanCost {
        currency: account.currency.clone(),
        price_year: account.price_year,
        at: points,
        a_repair: scale * sum / account.priced as f64,
        priced: account.priced,
        other_money: account.other_money,
        free: account.free,
        declined: account.declined,
        unknown: account.unknown,
        weight,
    }))
}
