//! Scores and calibration of odds at each moment.

use super::judge::{Judged, MOMENTS};
use super::types::{CalibrationBin, Score, Stage};
use super::{mean, normal_estimate};
use crate::answer::parts::Estimate;
use crate::answer::statistic::told;
use crate::domain::problem::Result;
use crate::stats::special::normal;
use crate::stats::{forecast_score, proportion};

/// Bins of the calibration table.
const BINS: usize = 10;

pub(super) fn stages(judged: &[Judged], level: f64) -> Result<Vec<Stage>> {
    let truth: Vec<usize> = judged.iter().map(|j| j.cause).collect();
    let moments = MOMENTS.into_iter().enumerate();
    moments
        .map(|(moment, (id, title, fair))| {
            let odds = |way: usize| -> Vec<Vec<f64>> {
                judged.iter().map(|j| j.odds[moment][way].clone()).collect()
            };
            let [records, catalog] = [odds(0), odds(1)];
            let gains: Vec<f64> = records
                .iter()
                .zip(&catalog)
                .zip(&truth)
                .map(|((records, catalog), t)| (catalog[*t] / records[*t]).ln())
                .collect();
            let firsts = told(first_causes(&records, &truth))?;
            let slope = told(forecast_score::slope(&records, &truth))?;
            Ok(Stage {
                id,
                title,
                fair,
                cases: truth.len() as u64,
                records: score(&records, &truth, level)?,
                catalog: score(&catalog, &truth, level)?,
                gained: mean(&gains, level),
                calibration: bins(&records, &truth, level)?,
                catalog_calibration: bins(&catalog, &truth, level)?,
                spiegelhalter_z: firsts,
                calibration_p: firsts.map(two_sided),
                slope: slope.map(|s| normal_estimate(s.slope, s.standard_error, level)),
                slope_p: slope.map(|s| two_sided(s.score_z)),
            })
        })
        .collect()
}

fn two_sided(z: f64) -> f64 {
    2.0 * normal::norm_sf(z.abs())
}

fn score(odds: &[Vec<f64>], truth: &[usize], level: f64) -> Result<Score> {
    let scores = told(forecast_score::classes(odds, truth))?;
    let ranks = odds.iter().zip(truth);
    let ranks: Vec<usize> = ranks.map(|(o, t)| forecast_score::rank(o, *t)).collect();
    let first = ranks.iter().filter(|r| **r == 1).count() as u64;
    Ok(Score {
        log_score: scores.log_score,
        brier: scores.brier,
        first_right: share(first, truth.len() as u64, level)?,
        mean_rank: ranks.iter().sum::<usize>() as f64 / ranks.len() as f64,
    })
}

fn share(x: u64, n: u64, level: f64) -> Result<Estimate> {
    let limits = told(proportion::wilson(x, n, level))?;
    Ok(Estimate {
        value: x as f64 / n as f64,
        lower: limits.lower,
        upper: Some(limits.upper),
        level,
        method: "wilson".to_string(),
    })
}

/// Odds of the first cause of every case, and whether it was the one.
fn firsts(odds: &[Vec<f64>], truth: &[usize]) -> Vec<(f64, bool)> {
    let first = |(odds, truth): (&Vec<f64>, &usize)| {
        let top = (0..odds.len()).find(|c| forecast_score::rank(odds, *c) == 1);
        let top = top.unwrap_or_default();
        (odds[top], top == *truth)
    };
    odds.iter().zip(truth).map(first).collect()
}

/// Spiegelhalter's z of the odds of the first causes.
fn first_causes(
    odds: &[Vec<f64>],
    truth: &[usize],
) -> std::result::Result<Option<f64>, crate::stats::Error> {
    let (odds, hits): (Vec<f64>, Vec<bool>) = firsts(odds, truth).into_iter().unzip();
    Ok(forecast_score::binary(&odds, &hits)?.spiegelhalter_z)
}

fn bins(odds: &[Vec<f64>], truth: &[usize], level: f64) -> Result<Vec<CalibrationBin>> {
    let firsts = firsts(odds, truth);
    let edge = |bin: usize| bin as f64 / BINS as f64;
    let mut bins = Vec::new();
    for bin in 0..BINS {
        let (from, to) = (edge(bin), edge(bin + 1));
        let within = |p: f64| from <= p && (p < to || bin + 1 == BINS);
        let inside: Vec<&(f64, bool)> = firsts.iter().filter(|f| within(f.0)).collect();
        if inside.is_empty() {
            continue;
        }
        let n = inside.len() as u64;
        let hits = inside.iter().filter(|f| f.1).count() as u64;
        bins.push(CalibrationBin {
            from,
            to,
            cases: n,
            odds: inside.iter().map(|f| f.0).sum::<f64>() / n as f64,
            right: share(hits, n, level)?,
        });
    }
    Ok(bins)
}
