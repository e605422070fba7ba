//! How well a cause was confirmed: the filter between "parts were fitted" and "it was measured".

use serde::{Deserialize, Serialize};

/// Confirmation level of a finding; higher is better proof.
#[derive(
    Debug, Clone, Copy, PartialEq, Eq, PartialOrd, Ord, Hash, Default, Serialize, Deserialize,
)]
#[serde(into = "u8", try_from = "u8")]
pub enum Confirmation {
    /// 0: the cause is assumed from the parts that were fitted.
    PartsFitted = 0,
    /// 1: the fix was verified by a repeated test or a road test.
    #[default]
    FixVerified = 1,
    /// 2: the fault was seen.
    Seen = 2,
    /// 3: the fault was measured after tear-down.
    Measured = 3,
}

impl Confirmation {
    /// All levels, from the weakest.
    pub const ALL: [Confirmation; 4] = [
        Confirmation::PartsFitted,
        Confirmation::FixVerified,
        Confirmation::Seen,
        Confirmation::Measured,
    ];

    /// The level of that number, 0 to 3.
    pub fn from_level(level: i64) -> Option<Self> {
        usize::try_from(level)
            .ok()
            .and_then(|i| Self::ALL.get(i).copied())
    }

    /// Reads "0" to "3", or the level's title in any case.
    pub fn parse(text: &str) -> Option<Self> {
        let text = crate::domain::suggestion::plain(text);
        Self::ALL
            .into_iter()
            .find(|c| text == c.level().to_string() || text == c.title())
    }

    /// 0 to 3, as stored.
    pub fn level(self) -> u8 {
        self as u8
    }

    /// Two words for tables.
    pub fn title(self) -> &'static str {
        match self {
            Self::PartsFitted => "parts fitted",
            Self::FixVerified => "fix verified",
            Self::Seen => "seen",
            Self::Measured => "measured",
        }
    }

    /// One clause for people.
    pub fn meaning(self) -> &'static str {
        match self {
            Self::PartsFitted => "assumed from the parts that were fitted",
            Self::FixVerified => "the fix was verified by a repeated test or a road test",
            Self::Seen => "the fault was seen",
            Self::Measured => "the fault was measured after tear-down",
        }
    }
}

impl From<Confirmation> for u8 {
    fn from(c: Confirmation) -> u8 {
        c.level()
    }
}

impl TryFrom<u8> for Confirmation {
    type Error = String;

    fn try_from(level: u8) -> Result<Self, String> {
        Self::from_level(i64::from(level))
            .ok_or_else(|| format!("{level} is not a confirmation level (0 to 3)"))
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn levels_round_trip_and_are_ordered() {
        for (i, c) in Confirmation::ALL.into_iter().enumerate() {
            assert_eq!(usize::from(c.level()), i);
            assert_eq!(Confirmation::from_level(i as i64), Some(c));
            assert_eq!(Confirmation::parse(c.title()), Some(c));
            assert_eq!(Confirmation::parse(&format!(" {i} ")), Some(c));
        }
        assert!(Confirmation::Measured > Confirmation::PartsFitted);
        assert_eq!(Confirmation::from_level(-1), None);
        assert_eq!(Confirmation::from_level(4), None);
        assert_eq!(Confirmation::parse("certain"), None);
    }
}
