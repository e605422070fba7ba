//! What people call the entries: ids, titles, codes and aliases, each meaning one entry of its kind.

use std::collections::BTreeMap;

use crate::domain::suggestion::{closest, plain};

/// The kinds of entry that a name can mean.
#[derive(Debug, Clone, Copy, PartialEq, Eq, PartialOrd, Ord, Hash)]
pub enum Kind {
    /// A cause.
    Cause,
    /// A test.
    Test,
    /// A repair.
    Repair,
    /// A failure mode.
    FailureMode,
    /// An outcome of a case.
    Outcome,
    /// Who paid.
    Payer,
    /// The result of a test step.
    TestResult,
    /// Where air escapes.
    LeakPath,
    /// A system of the engine.
    System,
}

impl Kind {
    /// The kind in words: "cause", "failure mode".
    pub fn title(self) -> &'static str {
        match self {
            Self::Cause => "cause",
            Self::Test => "test",
            Self::Repair => "repair",
            Self::FailureMode => "failure mode",
            Self::Outcome => "outcome",
            Self::Payer => "payer",
            Self::TestResult => "test result",
            Self::LeakPath => "leak path",
            Self::System => "system",
        }
    }
}

/// Plain form of a name → id, by kind. Ordered, so that suggestions never depend on hashing.
#[derive(Debug, Clone, Default, PartialEq)]
pub(super) struct Names(BTreeMap<(Kind, String), String>);

impl Names {
    /// Adds a name; an error holds the id that it already means.
    pub fn add(&mut self, kind: Kind, name: &str, id: &str) -> Result<(), String> {
        let known = self
            .0
            .entry((kind, plain(name)))
            .or_insert_with(|| id.to_owned());
        match known == id {
            true => Ok(()),
            false => Err(known.clone()),
        }
    }

    /// The id that a name means.
    pub fn resolve(&self, kind: Kind, name: &str) -> Option<&str> {
        self.0.get(&(kind, plain(name))).map(String::as_str)
    }

    /// The id of the entry whose name is nearest.
    pub fn did_you_mean(&self, kind: Kind, typed: &str) -> Option<String> {
        let names = self.0.range((kind, String::new())..);
        let names = names.take_while(|((k, _), _)| *k == kind);
        let near = closest(typed, names.map(|((_, name), _)| name.as_str()))?;
        self.resolve(kind, &near).map(str::to_owned)
    }
}
