//! What there is to filter by, so that a name that matches nothing is told from a rate of zero.

use serde::Serialize;

use crate::domain::problem::{Problem, Result};
use crate::domain::suggestion::closest;
use crate::history::History;
use crate::history::rows::Table;
use crate::query::engine::Engine;
use crate::query::statement;

/// Values that occur in the store's history, each list sorted.
#[derive(Debug, Clone, Default, PartialEq, Eq, Serialize)]
pub struct Known {
    /// Engine families of vehicles.
    pub families: Vec<String>,
    /// Model years of vehicles.
    pub model_years: Vec<String>,
    /// Sites where vehicles were seen with a known odometer, or with a case.
    pub sites: Vec<String>,
    /// Causes found at any confirmation level.
    pub causes: Vec<String>,
}

/// Lists what occurs.
pub fn known(engine: &mut dyn Engine, _history: &History) -> Result<Known> {
    let batch = statement::query(engine, "known_values", &[])?;
    let table = Table::new(&batch);
    let mut known = Known::default();
    for (kind, value) in table.text("kind")?.into_iter().zip(table.text("value")?) {
        let (Some(kind), Some(value)) = (kind, value) else {
            continue;
        };
        match kind.as_str() {
            "family" => known.families.push(value),
            "model_year" => known.model_years.push(value),
            "site" => known.sites.push(value),
            "cause" => known.causes.push(value),
            _ => {}
        }
    }
    Ok(known)
}

impl Known {
    /// Confirms that a site occurs; its case must be as stored.
    ///
    /// # Errors
    /// No record is of that site.
    pub fn expect_site(&self, site: &str) -> Result<()> {
        if self.sites.iter().any(|s| s == site) {
            return Ok(());
        }
        let hint = closest(site, self.sites.iter().map(String::as_str))
            .map(|s| format!(" (did you mean {s}?)"))
            .unwrap_or_default();
        Err(Problem::usage(format!("no record is of this site{hint}"))
            .field("--site")
            .value(site)
            .remedy(format!("the sites are: {}", self.sites.join(", "))))
    }
}
