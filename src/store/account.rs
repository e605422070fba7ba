//! The closing account of a batch: what became of every record that was read.

use std::collections::BTreeMap;

use serde::{Deserialize, Serialize};

use crate::domain::problem::{Problem, Result};

/// Every input record ends in exactly one of `kept`, `flagged`, `duplicate`, `quarantined`.
#[derive(Debug, Clone, Default, PartialEq, Eq, Serialize, Deserialize)]
pub struct BatchAccount {
    /// Records read from the file.
    pub read: u64,
    /// Records used as they are.
    pub kept: u64,
    /// Records used, with at least one flag.
    pub flagged: u64,
    /// Records that are in the store already, in the same version.
    pub duplicate: u64,
    /// Records that could not be used, each with its reason.
    pub quarantined: u64,
    /// Records (among kept and flagged) that replace an older version.
    pub edited: u64,
    /// Quarantined records by reason.
    #[serde(default)]
    pub reasons: BTreeMap<String, u64>,
    /// Records touched by each rule.
    #[serde(default)]
    pub flags: BTreeMap<String, u64>,
    /// Rows written to each table; filled in by the store.
    #[serde(default)]
    pub rows: BTreeMap<String, u64>,
}

impl BatchAccount {
    /// Refuses an account that does not add up.
    pub fn check(&self) -> Result<()> {
        let ends = [self.kept, self.flagged, self.duplicate, self.quarantined];
        let sum: u128 = ends.into_iter().map(u128::from).sum();
        if sum != u128::from(self.read) {
            return Err(Problem::data(format!(
                "the account does not balance: {} read, but {} kept + {} flagged + {} duplicate + {} quarantined",
                self.read, self.kept, self.flagged, self.duplicate, self.quarantined
            )));
        }
        if self.edited > self.kept.saturating_add(self.flagged) {
            return Err(Problem::data(format!(
                "the account does not balance: {} edited among {} used",
                self.edited,
                self.kept + self.flagged
            )));
        }
        Ok(())
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn only_a_balanced_account_passes() {
        let account = BatchAccount {
            read: 10,
            kept: 5,
            flagged: 2,
            duplicate: 2,
            quarantined: 1,
            edited: 7,
            ..Default::default()
        };
        assert!(account.check().is_ok());
        assert!(
            BatchAccount {
                read: 11,
                ..account.clone()
            }
            .check()
            .is_err()
        );
        assert!(
            BatchAccount {
                edited: 8,
                ..account
            }
            .check()
            .is_err()
        );
    }
}
