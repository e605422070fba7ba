//! One family's part of tallies that were counted for all families at once.

use crate::tally::KeyPart;
use crate::tally::cell::RateCell;
use crate::tally::rates::RateTally;
use crate::tally::repeats::{ComebackCount, RepeatGroup, RepeatTally, WatchedSet};
use crate::tally::shares::{ShareGroup, ShareTally};

/// The shares of one family, as one group.
pub fn shares_of(tally: &ShareTally, family: &str) -> ShareTally {
    let of = KeyPart::Text(family.to_string());
    ShareTally {
        dimensions: Vec::new(),
        groups: tally
            .groups
            .iter()
            .filter(|g| g.key.first() == Some(&of))
            .map(|g| ShareGroup {
                key: Vec::new(),
                ..g.clone()
            })
            .collect(),
    }
}

/// The cells of one family, without the family in their key.
pub fn only(tally: &RateTally, family: &str) -> RateTally {
    let of = KeyPart::Text(family.to_string());
    RateTally {
        dimensions: tally.dimensions.iter().skip(1).copied().collect(),
        exposure: tally.exposure,
        history: tally.history.clone(),
        cells: tally
            .cells
            .iter()
            .filter(|c| c.key.first() == Some(&of))
            .map(|c| RateCell {
                key: c.key.iter().skip(1).cloned().collect(),
                ..c.clone()
            })
            .collect(),
    }
}

/// The failures of one family along its vehicles, as one group.
pub fn repeats_of(tally: &RepeatTally, family: &str) -> RepeatTally {
    let of = KeyPart::Text(family.to_string());
    let set = |s: &&WatchedSet| s.key.first() == Some(&of);
    let sets = tally.sets.iter().filter(set).map(|s| WatchedSet {
        key: Vec::new(),
        ..s.clone()
    });
    let groups = tally.groups.iter().filter(|g| g.key.first() == Some(&of));
    let groups = groups.map(|g| RepeatGroup {
        key: Vec::new(),
        set: g.set.map(|_| 0),
        ..g.clone()
    });
    let comebacks = tally
        .comebacks
        .iter()
        .filter(|c| c.key.first() == Some(&of));
    let comebacks = comebacks.map(|c| ComebackCount {
        key: Vec::new(),
        ..c.clone()
    });
    RepeatTally {
        dimensions: Vec::new(),
        sets: sets.collect(),
        groups: groups.collect(),
        comebacks: comebacks.collect(),
        second_failures: tally.second_failures.as_ref().map(|s| s.of_family(family)),
    }
}
