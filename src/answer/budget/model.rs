//! The lives behind a forecast: draws for every family, and how often engines fail again.

use rand_chacha::ChaCha8Rng;

use super::forecast::Repeats;
use crate::domain::problem::{Problem, Result};
use crate::stats::lifetime::Observed;
use crate::stats::pooled_weibull::{Draw, Life, PooledWeibull};
use crate::tally::budget::{FamilyLives, Stretch};

/// A family with its lives; the roster's units refer to it by its place in the list.
#[derive(Debug, Clone, PartialEq)]
pub struct Family {
    /// Id.
    pub id: String,
    /// Title.
    pub title: String,
    /// Lives.
    pub lives: FamilyLives,
}

/// Draws of the lives of all families.
#[derive(Debug, Clone, PartialEq)]
pub struct Model {
    /// Draws.
    pub draws: Vec<Draw>,
    /// How often engines fail again.
    pub repeats: Repeats,
    /// Further failures seen.
    pub again: u64,
    /// ... and expected if a repaired engine were as bad as old.
    pub again_expected: f64,
    /// First failures of all families.
    pub failures: u64,
}

/// Draws the lives.
///
/// # Errors
/// No vehicle was under observation over any distance.
pub fn model(
    families: &[Family],
    stretches: &[Stretch],
    draws: usize,
    generator: &mut ChaCha8Rng,
) -> Result<Model> {
    let observed: Vec<Observed> = families
        .iter()
        .map(|family| Observed::from_table(&family.lives.table))
        .collect();
    let pooled = PooledWeibull::new(&observed.iter().collect::<Vec<_>>()).map_err(|e| {
        Problem::data(format!("there is no life to budget from: {e}"))
            .remedy("ingest the routine visits too: distance between visits is what failures are set against")
    })?;
    let draws = pooled.draws(draws, generator);
    let again = stretches.iter().filter(|s| s.again).count() as u64;
    let again_expected = typical(&draws, families.len())
        .iter()
        .zip(families)
        .map(|(life, family)| {
            let own = stretches
                .iter()
                .filter(|s| s.family.as_ref() == Some(&family.id));
            own.map(|s| life.hazard_between(s.from_m as f64, s.to_m as f64))
                .sum::<f64>()
        })
        .sum();
    Ok(Model {
        draws,
        repeats: Repeats::new(again, again_expected),
        again,
        again_expected,
        failures: observed.iter().map(Observed::failures).sum(),
    })
}

/// A typical life of each family: the medians of level and shape over the draws.
pub fn typical(draws: &[Draw], families: usize) -> Vec<Life> {
    (0..families)
        .filter_map(|i| {
            let of = |what: fn(&Life) -> f64| {
                let values = draws.iter().filter_map(|d| d.lives.get(i)).map(what);
                let mut values: Vec<f64> = values.collect();
                values.sort_by(f64::total_cmp);
                super::outlook::quantile(&values, 0.5)
            };
            let log_reference = draws.first()?.lives.get(i)?.log_reference;
            Some(Life {
                level: of(|l| l.level),
                shape: of(|l| l.shape),
                log_reference,
            })
        })
        .collect()
}
