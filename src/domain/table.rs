//! The tables of a batch and their columns: the one list that readers, writers, queries and documents follow.

/// What a column holds; canonical units are metres, kPa (gauge), ohm, kV, ms, mm, percent, minutes, hours, minor money units.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum ColumnKind {
    /// UTF-8 text.
    Text,
    /// Whole number, stored as 64-bit signed.
    Whole,
    /// Double-precision number.
    Number,
    /// Calendar day (Arrow `Date32`).
    Day,
    /// True or false.
    Flag,
}

/// One column of a table.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub struct Column {
    /// Name in Parquet, SQL and mapping files.
    pub name: &'static str,
    /// What it holds.
    pub kind: ColumnKind,
    /// Whether a row without it is quarantined.
    pub required: bool,
    /// One sentence for people.
    pub meaning: &'static str,
}

/// The five tables of a batch, and the roster, which a question brings along and no batch keeps.
#[derive(Debug, Clone, Copy, PartialEq, Eq, PartialOrd, Ord, Hash)]
pub enum Table {
    /// A vehicle was seen on a day, with or without trouble: the denominator.
    Visits,
    /// One diagnostic case.
    Cases,
    /// A confirmed (or assumed) cause of a case.
    Findings,
    /// One test step of a case, with its reading.
    Tests,
    /// A record that could not be used, with the reason.
    Quarantine,
    /// A unit of a fleet, with what it is planned to drive.
    Roster,
}

const fn column(
    name: &'static str,
    kind: ColumnKind,
    required: bool,
    meaning: &'static str,
) -> Column {
    Column {
        name,
        kind,
        required,
        meaning,
    }
}

use ColumnKind::{Day, Flag, Number, Text, Whole};

const VISITS: &[Column] = &[
    column("vehicle", Text, true, "keyed pseudonym of the vehicle"),
    column("site", Text, true, "shop location"),
    column("date", Day, true, "day of the visit"),
    column(
        "odometer_m",
        Whole,
        false,
        "odometer in metres; empty when unknown",
    ),
    column(
        "engine_family",
        Text,
        false,
        "engine family id; empty when unknown",
    ),
    column("model_year", Whole, false, "model year"),
    column(
        "engine_replaced",
        Flag,
        false,
        "the engine was replaced at this visit",
    ),
];

const CASES: &[Column] = &[
    column(
        "case_id",
        Text,
        true,
        "the shop's order number, unique within a source",
    ),
    column("vehicle", Text, true, "keyed pseudonym of the vehicle"),
    column("site", Text, true, "shop location"),
    column("opened", Day, true, "day the case was opened"),
    column("closed", Day, false, "day the case was closed"),
    column(
        "engine_family",
        Text,
        false,
        "engine family id; empty when unknown",
    ),
    column("model_year", Whole, false, "model year"),
    column(
        "odometer_m",
        Whole,
        false,
        "odometer in metres; empty when unknown",
    ),
    column(
        "codes",
        Text,
        false,
        "trouble codes, normalised, separated by one space",
    ),
    column(
        "complaint_cylinder",
        Whole,
        false,
        "cylinder the complaint or code names",
    ),
    column(
        "outcome",
        Text,
        true,
        "confirmed, or one of the bookkeeping outcomes of the catalog",
    ),
];

const FINDINGS: &[Column] = &[
    column("case_id", Text, true, "case it belongs to"),
    column("cause", Text, true, "cause id of the catalog"),
    column(
        "failure_mode",
        Text,
        false,
        "failure-mode word of the catalog",
    ),
    column(
        "cylinder",
        Whole,
        false,
        "cylinder number; empty when unknown or engine-wide",
    ),
    column(
        "confirmation",
        Whole,
        true,
        "0 parts fitted, 1 fix verified, 2 seen, 3 measured after tear-down",
    ),
    column("repair", Text, false, "repair id of the catalog"),
    column("labour_hours", Number, false, "labour hours"),
    column(
        "cost",
        Whole,
        false,
        "net cost in minor units of the currency",
    ),
    column("currency", Text, false, "ISO 4217 code"),
    column(
        "price_year",
        Whole,
        false,
        "year whose prices the cost is in",
    ),
    column("payer", Text, false, "customer, warranty or internal"),
];

const TESTS: &[Column] = &[
    column("case_id", Text, true, "case it belongs to"),
    column(
        "step",
        Whole,
        true,
        "order in which the tests were done, from 1",
    ),
    column("test", Text, true, "test id of the catalog"),
    column(
        "cylinder",
        Whole,
        false,
        "cylinder number; empty for the whole engine",
    ),
    column(
        "reading",
        Number,
        false,
        "reading in the canonical unit of the test",
    ),
    column("unit", Text, false, "canonical unit of the reading"),
    column("result", Text, true, "normal, abnormal or inconclusive"),
    column(
        "leak_path",
        Text,
        false,
        "intake, exhaust, crankcase, coolant, adjacent or outside",
    ),
    column("minutes", Number, false, "bench minutes"),
    column("minutes_from", Text, false, "measured or default"),
];

const ROSTER: &[Column] = &[
    column("vehicle", Text, true, "keyed pseudonym of the vehicle"),
    column(
        "engine_family",
        Text,
        false,
        "engine family id; empty when unknown",
    ),
    column("model_year", Whole, false, "model year"),
    column(
        "odometer_m",
        Whole,
        false,
        "odometer in metres; empty when unknown",
    ),
    column(
        "planned_m",
        Whole,
        false,
        "distance planned over the period, in metres; empty when unknown",
    ),
];

const QUARANTINE: &[Column] = &[
    column("target", Text, true, "table the record was meant for"),
    column("field", Text, false, "field that failed"),
    column("reason", Text, true, "reason id"),
    column("value", Text, false, "value that failed, as it was found"),
    column(
        "hint",
        Text,
        false,
        "what would repair it, for a person to decide",
    ),
    column(
        "raw",
        Text,
        true,
        "the whole record as a JSON object of column names to text",
    ),
];

/// Columns that every table ends with: where the row came from, and which version of the record it is.
pub const PROVENANCE: &[Column] = &[
    column(
        "record",
        Text,
        true,
        "key of the record within its source; the newest version of a record wins",
    ),
    column(
        "digest",
        Whole,
        true,
        "hash of key (upper 35 bits) and content (lower 28): equal digests are the same record in the same version",
    ),
    column(
        "flags",
        Text,
        false,
        "ids of the rules that touched the row, separated by one space",
    ),
    column(
        "source",
        Text,
        true,
        "system the export came from (mapping's `source`)",
    ),
    column("file", Text, true, "file name of the export"),
    column(
        "line",
        Whole,
        true,
        "line or record number in that file, from 1",
    ),
    column(
        "export_date",
        Day,
        false,
        "day of the export, where the mapping tells it",
    ),
    column(
        "batch",
        Whole,
        true,
        "sequence number of the batch in its store",
    ),
];

impl Table {
    /// The five of a batch, in the order they are documented.
    pub const ALL: [Table; 5] = [
        Table::Visits,
        Table::Cases,
        Table::Findings,
        Table::Tests,
        Table::Quarantine,
    ];

    /// Name in files, SQL and mappings.
    pub fn name(self) -> &'static str {
        match self {
            Table::Visits => "visits",
            Table::Cases => "cases",
            Table::Findings => "findings",
            Table::Tests => "tests",
            Table::Quarantine => "quarantine",
            Table::Roster => "roster",
        }
    }

    /// The table of that name.
    pub fn from_name(name: &str) -> Option<Self> {
        let mut all = Self::ALL.into_iter().chain([Self::Roster]);
        all.find(|t| t.name() == name)
    }

    /// Its own columns, without provenance.
    pub fn own_columns(self) -> &'static [Column] {
        match self {
            Table::Visits => VISITS,
            Table::Cases => CASES,
            Table::Findings => FINDINGS,
            Table::Tests => TESTS,
            Table::Quarantine => QUARANTINE,
            Table::Roster => ROSTER,
        }
    }

    /// All columns as stored: its own, then provenance.
    pub fn columns(self) -> impl Iterator<Item = &'static Column> {
        self.own_columns().iter().chain(PROVENANCE)
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn names_are_unique_and_found_again() {
        for table in Table::ALL {
            assert_eq!(Table::from_name(table.name()), Some(table));
            let mut names: Vec<_> = table.columns().map(|c| c.name).collect();
            let n = names.len();
            names.sort_unstable();
            names.dedup();
            assert_eq!(names.len(), n, "{} has a column twice", table.name());
        }
    }
}
