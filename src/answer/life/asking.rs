//! What is asked of lives, and how their groups are named.

use super::ahead::Stretch;
use super::model::Setting;
use crate::answer::label::{Labels, RowKey};
use crate::answer::question::{Question, Rules};
use crate::tally::life::LifeAsk;
use crate::tally::rates::RateTally;
use crate::tally::{Dimension, KeyPart};

/// Everything the answer is asked under.
pub struct Asking<'a> {
    /// What was asked.
    pub question: Question,
    /// Level and units.
    pub rules: &'a Rules,
    /// Clock and dimensions.
    pub ask: &'a LifeAsk,
    /// Words for ids, and the mileage bands.
    pub labels: Labels<'a>,
    /// What fails, where a word says it better than the list of causes.
    pub title: Option<String>,
    /// Given that lives reach this distance.
    pub from_m: Option<i64>,
    /// The further distance to give the probability for.
    pub ahead: Option<Stretch>,
    /// Weibull shapes to bound groups with, that have too few failures.
    pub shapes: Vec<f64>,
    /// Whether charts will be drawn of it.
    pub charts: bool,
    /// Every failure by the same dimensions and band.
    pub every_failure: Option<&'a RateTally>,
}

impl Asking<'_> {
    /// Where every curve begins, if that was asked for.
    pub(super) fn start(&self) -> Option<f64> {
        self.from_m.map(|m| m as f64)
    }

    /// How numbers are asked for.
    pub(super) fn setting(&self) -> Setting {
        Setting {
            level: self.rules.level,
            unit: self.rules.units.distance(),
        }
    }

    /// A group's key in words.
    pub(super) fn key(&self, parts: &[KeyPart]) -> RowKey {
        self.labels.key(&self.ask.dimensions, parts)
    }

    /// The parts of a key that say what fails.
    pub(super) fn what(&self, parts: &[KeyPart]) -> Vec<KeyPart> {
        let dimensions = self.ask.dimensions.iter().zip(parts);
        dimensions
            .filter(|(d, _)| of_failure(**d))
            .map(|(_, part)| part.clone())
            .collect()
    }

    /// Causes and cylinders in words, as a row's key.
    pub(super) fn what_key(&self, parts: &[KeyPart]) -> RowKey {
        let dimensions: Vec<Dimension> = self
            .ask
            .dimensions
            .iter()
            .copied()
            .filter(|d| of_failure(*d))
            .collect();
        self.labels.key(&dimensions, parts)
    }
}

/// Whether a dimension belongs to the failure and not to the vehicle.
pub fn of_failure(dimension: Dimension) -> bool {
    matches!(dimension, Dimension::Cause | Dimension::Cylinder)
}
