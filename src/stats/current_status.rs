//! The share failed by each distance when every life was looked at once: found failed or found sound.

use super::error::Error;
use super::lifetime::Inspection;

/// The estimate at one distance of inspection.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct CurrentStatus {
    /// Distance at the look.
    pub distance: f64,
    /// Lives looked at there.
    pub looked_at: u64,
    /// The share found failed there, as counted.
    pub raw: f64,
    /// The share failed by this distance: the raw shares made non-decreasing.
    pub failed: f64,
}

/// The nonparametric maximum-likelihood estimate of F at the distances of inspection, by pooling adjacent violators: exact,
/// without iteration (Ayer et al. 1955, Ann Math Stat 26:641). Between two distances F is only known to lie between the two
/// estimates.
///
/// # Errors
/// [`Error::Input`] unless distances increase and each has lives.
pub fn current_status(inspections: &[Inspection]) -> Result<Vec<CurrentStatus>, Error> {
    let increasing = inspections
        .windows(2)
        .all(|pair| matches!(pair, [a, b] if a.distance < b.distance));
    if !increasing || inspections.iter().any(|look| look.failed + look.sound == 0) {
        return Err(Error::Input {
            name: "inspections",
            requirement: "distances must increase, each with at least one life looked at",
        });
    }
    // Blocks of (failed, looked at, distances pooled).
    let mut blocks: Vec<(u64, u64, usize)> = Vec::new();
    for look in inspections {
        let mut block = (look.failed, look.failed + look.sound, 1);
        while let Some(&(failed, total, distances)) = blocks.last() {
            // failed / total > block's share, in whole numbers.
            if u128::from(failed) * u128::from(block.1) <= u128::from(block.0) * u128::from(total) {
                break;
            }
            block = (block.0 + failed, block.1 + total, block.2 + distances);
            blocks.pop();
        }
        blocks.push(block);
    }
    let shares = blocks.into_iter().flat_map(|(failed, total, distances)| {
        std::iter::repeat_n(failed as f64 / total as f64, distances)
    });
    let estimates = inspections.iter().zip(shares).map(|(look, failed)| {
        let looked_at = look.failed + look.sound;
        CurrentStatus {
            distance: look.distance,
            looked_at,
            raw: look.failed as f64 / looked_at as f64,
            failed,
        }
    });
    Ok(estimates.collect())
}
