//! One engine family: a set of engines alike enough that their failures may be counted together.
//!
//! A family is a name, a range of model years and the key hardware. Names survive redesigns, so the match rules carry
//! years, and a family can be split later by giving its rules to two families.

use serde::{Deserialize, Serialize};

use crate::domain::firing_order::FiringOrder;

/// How the cylinders are arranged.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Hash, Serialize, Deserialize)]
#[serde(rename_all = "lowercase")]
pub enum Layout {
    /// One row.
    Inline,
    /// Two banks at an angle.
    Vee,
    /// Two opposed banks.
    Flat,
    /// Two banks of staggered rows.
    W,
}

impl Layout {
    /// "in-line", "V", "flat", "W", for titles.
    pub fn title(self) -> &'static str {
        match self {
            Self::Inline => "in-line",
            Self::Vee => "V",
            Self::Flat => "flat",
            Self::W => "W",
        }
    }
}

/// One way an export names the engines of a family.
#[derive(Debug, Clone, PartialEq, Eq, PartialOrd, Ord)]
pub struct MatchRule {
    /// Engine text; case and runs of white space make no difference.
    pub engine: String,
    /// First model year, or no lower limit.
    pub from_year: Option<i32>,
    /// Last model year, or no upper limit.
    pub to_year: Option<i32>,
}

impl MatchRule {
    /// Whether a model year is within the rule's years. An unknown year fits a rule without limits only.
    pub fn fits(&self, model_year: Option<i32>) -> bool {
        match model_year {
            Some(year) => {
                self.from_year.is_none_or(|from| from <= year)
                    && self.to_year.is_none_or(|to| year <= to)
            }
            None => self.from_year.is_none() && self.to_year.is_none(),
        }
    }

    /// Whether some model year fits both rules.
    pub fn overlaps(&self, other: &MatchRule) -> bool {
        let first = self.from_year.max(other.from_year);
        let last = match (self.to_year, other.to_year) {
            (Some(a), Some(b)) => Some(a.min(b)),
            (a, b) => a.or(b),
        };
        match (first, last) {
            (Some(first), Some(last)) => first <= last,
            _ => true,
        }
    }
}

/// One engine family.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct EngineFamily {
    /// Id in tables and options.
    pub id: String,
    /// Title for people.
    pub title: String,
    /// Number of cylinders, at least 1.
    pub cylinders: u8,
    /// Arrangement of the cylinders.
    pub layout: Layout,
    /// Firing order; empty when it is not known.
    pub firing_order: Vec<u8>,
    /// Cylinders of bank 1 (the bank of cylinder 1), ascending; empty when not known.
    pub bank_1: Vec<u8>,
    /// Cylinders of bank 2, ascending; empty on an in-line engine or when not known.
    pub bank_2: Vec<u8>,
    /// The engine texts that mean this family, sorted.
    pub matches: Vec<MatchRule>,
}

impl EngineFamily {
    /// The firing order, where it is known.
    pub fn known_firing_order(&self) -> Option<FiringOrder> {
        FiringOrder::new(&self.firing_order, self.cylinders).ok()
    }

    /// "in-line 4", "V6".
    pub fn arrangement(&self) -> String {
        match self.layout {
            Layout::Vee | Layout::W => format!("{}{}", self.layout.title(), self.cylinders),
            _ => format!("{} {}", self.layout.title(), self.cylinders),
        }
    }

    /// Whether both describe the same hardware; an empty firing order or bank list contradicts nothing.
    pub(crate) fn contradiction(&self, other: &EngineFamily) -> Option<&'static str> {
        fn differ(a: &[u8], b: &[u8]) -> bool {
            !a.is_empty() && !b.is_empty() && a != b
        }
        if self.cylinders != other.cylinders {
            Some("cylinders")
        } else if self.layout != other.layout {
            Some("layout")
        } else if differ(&self.firing_order, &other.firing_order) {
            Some("firing_order")
        } else if differ(&self.bank_1, &other.bank_1) {
            Some("bank_1")
        } else if differ(&self.bank_2, &other.bank_2) {
            Some("bank_2")
        } else {
            None
        }
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    fn rule(from: Option<i32>, to: Option<i32>) -> MatchRule {
        MatchRule {
            engine: "x".to_owned(),
            from_year: from,
            to_year: to,
        }
    }

    #[test]
    fn years_are_inclusive_and_never_guessed() {
        let bounded = rule(Some(2008), Some(2014));
        assert!(bounded.fits(Some(2008)) && bounded.fits(Some(2014)));
        assert!(!bounded.fits(Some(2007)) && !bounded.fits(Some(2015)));
        assert!(!bounded.fits(None));
        assert!(rule(None, None).fits(None));
    }

    #[test]
    fn overlaps_when_one_year_fits_both() {
        let a = rule(Some(2008), Some(2014));
        assert!(a.overlaps(&rule(Some(2014), None)));
        assert!(!a.overlaps(&rule(Some(2015), None)));
        assert!(a.overlaps(&rule(None, Some(2008))));
        assert!(!a.overlaps(&rule(None, Some(2007))));
        assert!(a.overlaps(&rule(None, None)));
    }
}
