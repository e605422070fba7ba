//! What people call the entries of the catalog, and what the entries are called for them.

use super::contents::Catalog;
use super::entry::Word;
use super::name::Kind;
use crate::domain::problem::{Problem, Result};

impl Catalog {
    /// The id that an id, title, code or alias means; case, hyphens and underscores make no difference.
    pub fn resolve(&self, kind: Kind, name: &str) -> Option<&str> {
        self.names.resolve(kind, name)
    }

    /// As `resolve`, or a problem that names the nearest entry.
    ///
    /// # Errors
    /// When the name means nothing; `field` is the option or column it stood in.
    pub fn expect(&self, kind: Kind, name: &str, field: &str) -> Result<&str> {
        self.resolve(kind, name).ok_or_else(|| {
            let remedy = match self.did_you_mean(kind, name) {
                Some(near) => format!("did you mean {near:?}?"),
                None => format!("use one of: {}", self.ids(kind).join(", ")),
            };
            Problem::data(format!("the catalog knows no such {}", kind.title()))
                .field(field)
                .value(name)
                .remedy(remedy)
        })
    }

    /// The id of the entry that is called most like what was typed.
    pub fn did_you_mean(&self, kind: Kind, typed: &str) -> Option<String> {
        self.names.did_you_mean(kind, typed)
    }

    /// All ids of a kind, in file order.
    pub fn ids(&self, kind: Kind) -> Vec<&str> {
        fn words(words: &[Word]) -> Vec<&str> {
            words.iter().map(|w| w.id.as_str()).collect()
        }
        match kind {
            Kind::Cause => self.causes.iter().map(|c| c.id.as_str()).collect(),
            Kind::Test => self.tests.iter().map(|t| t.id.as_str()).collect(),
            Kind::Repair => self.repairs.iter().map(|r| r.id.as_str()).collect(),
            Kind::FailureMode => self.failure_modes.iter().map(|m| m.id.as_str()).collect(),
            Kind::Outcome => words(&self.outcomes),
            Kind::Payer => words(&self.payers),
            Kind::TestResult => words(&self.results),
            Kind::LeakPath => words(&self.leak_paths),
            Kind::System => words(&self.systems),
        }
    }

    /// The title of an id of a kind; the id itself if the catalog does not know it (records can be older than it).
    pub fn title<'a>(&'a self, kind: Kind, id: &'a str) -> &'a str {
        fn word<'a>(words: &'a [Word], id: &str) -> Option<&'a str> {
            words.iter().find(|w| w.id == id).map(|w| w.title.as_str())
        }
        let title = match kind {
            Kind::Cause => self.cause(id).map(|c| c.title.as_str()),
            Kind::Test => self.test(id).map(|t| t.title.as_str()),
            Kind::Repair => self.repair(id).map(|r| r.title.as_str()),
            Kind::FailureMode => {
                let mode = self.failure_modes.iter().find(|m| m.id == id);
                mode.map(|m| m.title.as_str())
            }
            Kind::Outcome => word(&self.outcomes, id),
            Kind::Payer => word(&self.payers, id),
            Kind::TestResult => word(&self.results, id),
            Kind::LeakPath => word(&self.leak_paths, id),
            Kind::System => word(&self.systems, id),
        };
        title.unwrap_or(id)
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn every_way_of_naming_is_understood() {
        let c = Catalog::embedded().expect("the embedded catalog is sound");
        for (kind, name, id) in [
            (Kind::Cause, "exhaust_valve_leak", "exhaust_valve_leak"),
            (Kind::Cause, "Exhaust-Valve Leak", "exhaust_valve_leak"),
            (Kind::Cause, "BURNT EXHAUST VALVE", "exhaust_valve_leak"),
            (Kind::Test, "leak-down", "cylinder_leakage"),
            (Kind::Test, "CC", "cranking_compression"),
            (Kind::TestResult, "OK", "normal"),
            (Kind::FailureMode, "burnt", "burned"),
            (Kind::LeakPath, "tailpipe", "exhaust"),
            (Kind::Outcome, "could not duplicate", "not_reproduced"),
            (Kind::Payer, "warranty", "warranty"),
            (Kind::System, "top end", "top_end"),
        ] {
            assert_eq!(c.resolve(kind, name), Some(id), "{name}");
        }
        // A burnt valve may be either valve; an injector may fail in three ways.
        assert_eq!(c.resolve(Kind::Cause, "burnt valve"), None);
        assert_eq!(c.resolve(Kind::Cause, "injector"), None);
        let near = c.did_you_mean(Kind::Cause, "exhuast valve leak");
        assert_eq!(near.as_deref(), Some("exhaust_valve_leak"));
        let problem = c
            .expect(Kind::Cause, "head_gaskit", "--cause")
            .expect_err("unknown");
        assert!(
            problem.to_string().contains("did you mean \"head_gasket\""),
            "{problem}"
        );
        assert_eq!(c.title(Kind::Cause, "no_longer_there"), "no_longer_there");
    }
}
