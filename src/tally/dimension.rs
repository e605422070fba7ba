//! What a tally can be split by.

use serde::Serialize;

/// One way to split a tally.
#[derive(Debug, Clone, Copy, PartialEq, Eq, PartialOrd, Ord, Hash, Serialize)]
#[serde(rename_all = "snake_case")]
pub enum Dimension {
    /// Engine family.
    Family,
    /// Cause of the failure.
    Cause,
    /// Cylinder that failed.
    Cylinder,
    /// Mileage band, on the clock of the engine.
    Band,
    /// Shop location.
    Site,
    /// Model year.
    ModelYear,
}

impl Dimension {
    /// All of them.
    pub const ALL: [Dimension; 6] = [
        Dimension::Family,
        Dimension::Cause,
        Dimension::Cylinder,
        Dimension::Band,
        Dimension::Site,
        Dimension::ModelYear,
    ];

    /// Name on the command line and in JSON.
    pub fn name(self) -> &'static str {
        match self {
            Self::Family => "family",
            Self::Cause => "cause",
            Self::Cylinder => "cylinder",
            Self::Band => "band",
            Self::Site => "site",
            Self::ModelYear => "model_year",
        }
    }

    /// The dimension of that name; `-` may stand for `_`.
    pub fn from_name(name: &str) -> Option<Self> {
        let name = name.trim().to_ascii_lowercase().replace('-', "_");
        Self::ALL.into_iter().find(|d| d.name() == name)
    }

    /// Column of the statements' results that holds it.
    pub(super) fn column(self) -> &'static str {
        match self {
            Self::Family => "engine_family",
            Self::Cause => "cause",
            Self::Cylinder => "cylinder",
            Self::Band => "band",
            Self::Site => "site",
            Self::ModelYear => "model_year",
        }
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn names_are_found_again() {
        for d in Dimension::ALL {
            assert_eq!(Dimension::from_name(d.name()), Some(d));
        }
        assert_eq!(
            Dimension::from_name("Model-Year"),
            Some(Dimension::ModelYear)
        );
        assert_eq!(Dimension::from_name("colour"), None);
    }
}
