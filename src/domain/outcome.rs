//! How a case ended: with a confirmed cause, or in one of the bookkeeping outcomes that are not causes.
//!
//! "No fault found" is its own outcome and never evidence of health. The words people write for each outcome are in
//! the catalog; the ids are fixed here because the tallies reason about them.

use serde::{Deserialize, Serialize};

/// Outcome of a case.
#[derive(Debug, Clone, Copy, PartialEq, Eq, PartialOrd, Ord, Hash, Serialize, Deserialize)]
#[serde(rename_all = "snake_case")]
pub enum Outcome {
    /// One cause of the catalog was confirmed.
    Confirmed,
    /// Several causes were confirmed.
    MultipleConfirmed,
    /// A cause was confirmed that the catalog does not know.
    OtherConfirmed,
    /// Tests were made and no fault was found.
    NoFaultFound,
    /// The complaint did not show itself.
    NotReproduced,
    /// The customer declined further work before a cause was confirmed.
    UnresolvedDeclined,
    /// The shop's wording has not been mapped to an outcome yet.
    OtherUnmapped,
}

impl Outcome {
    /// All outcomes, confirmed ones first.
    pub const ALL: [Outcome; 7] = [
        Outcome::Confirmed,
        Outcome::MultipleConfirmed,
        Outcome::OtherConfirmed,
        Outcome::NoFaultFound,
        Outcome::NotReproduced,
        Outcome::UnresolvedDeclined,
        Outcome::OtherUnmapped,
    ];

    /// Id as stored.
    pub fn id(self) -> &'static str {
        match self {
            Self::Confirmed => "confirmed",
            Self::MultipleConfirmed => "multiple_confirmed",
            Self::OtherConfirmed => "other_confirmed",
            Self::NoFaultFound => "no_fault_found",
            Self::NotReproduced => "not_reproduced",
            Self::UnresolvedDeclined => "unresolved_declined",
            Self::OtherUnmapped => "other_unmapped",
        }
    }

    /// The outcome of that id.
    pub fn from_id(id: &str) -> Option<Self> {
        Self::ALL.into_iter().find(|o| o.id() == id)
    }

    /// Whether some cause was confirmed, known to the catalog or not.
    pub fn has_cause(self) -> bool {
        matches!(
            self,
            Self::Confirmed | Self::MultipleConfirmed | Self::OtherConfirmed
        )
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn ids_round_trip() {
        for outcome in Outcome::ALL {
            assert_eq!(Outcome::from_id(outcome.id()), Some(outcome));
            let json = serde_json::to_string(&outcome).expect("serialises");
            assert_eq!(json, format!("\"{}\"", outcome.id()));
        }
        assert_eq!(Outcome::from_id("fixed"), None);
        assert_eq!(Outcome::ALL.iter().filter(|o| o.has_cause()).count(), 3);
    }
}
