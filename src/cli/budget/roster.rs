//! Where the roster of a fleet is and how to read it.

use std::path::{Path, PathBuf};

use clap::Args;

/// The options that say so; their help stands under the heading of the command.
#[derive(Debug, Args)]
pub struct RosterArgs {
    /// The fleet: one unit a row with unit (or vin), engine_family, odometer_km, planned_km; or any file with a mapping beside it
    #[arg(long, value_name = "FILE")]
    roster: Option<PathBuf>,
    /// Mapping file of the roster, if it is not beside it
    #[arg(long, value_name = "FILE", requires = "roster")]
    mapping: Option<PathBuf>,
    /// Whose unit numbers the roster has: a `source` of the store
    #[arg(long, value_name = "NAME", requires = "roster")]
    source: Option<String>,
}

impl RosterArgs {
    /// The roster, if one was named.
    pub fn place(&self) -> Option<RosterPlace<'_>> {
        Some(RosterPlace {
            file: self.roster.as_deref()?,
            mapping: self.mapping.as_deref(),
            source: self.source.as_deref(),
        })
    }
}

/// A roster and how to read it.
pub struct RosterPlace<'a> {
    /// The file.
    pub file: &'a Path,
    /// Mapping, if named.
    pub mapping: Option<&'a Path>,
    /// Source of its unit numbers, if named.
    pub source: Option<&'a str>,
}
