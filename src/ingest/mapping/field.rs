//! The fields a mapping can fill, and what each takes.

use crate::domain::catalog::Kind;
use crate::domain::table::Table;

/// One field of `[table.columns]`.
#[derive(Debug, Clone, Copy, PartialEq, Eq, PartialOrd, Ord, Hash)]
pub enum Field {
    /// The vehicle, by its number or the shop's unit number.
    Vehicle,
    /// Shop location.
    Site,
    /// Day of a visit.
    Date,
    /// Odometer with its unit.
    Odometer,
    /// Engine text, matched to a family.
    Engine,
    /// Engine family id.
    EngineFamily,
    /// Model year.
    ModelYear,
    /// The engine was replaced at this visit.
    EngineReplaced,
    /// Order number.
    CaseId,
    /// Day a case was opened.
    Opened,
    /// Day a case was closed.
    Closed,
    /// Trouble codes as free text.
    Codes,
    /// Cylinder the complaint names.
    ComplaintCylinder,
    /// How a case ended.
    Outcome,
    /// Confirmed cause.
    Cause,
    /// How the component failed.
    FailureMode,
    /// Cylinder of a finding or a test.
    Cylinder,
    /// Level of proof.
    Confirmation,
    /// What was done.
    Repair,
    /// Labour hours.
    LabourHours,
    /// Net cost in major units.
    Cost,
    /// Currency of the cost.
    Currency,
    /// Year of the prices.
    PriceYear,
    /// Who paid.
    Payer,
    /// Order of a test step.
    Step,
    /// Test.
    Test,
    /// Reading with its unit.
    Reading,
    /// Result of a test step.
    Result,
    /// Where air escaped.
    LeakPath,
    /// Bench minutes.
    Minutes,
    /// Distance a unit of a roster is planned to drive.
    PlannedDistance,
}

use Field::*;

/// What the words of a field mean.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum Words {
    /// Ids of the catalog.
    Catalog(Kind),
    /// Cylinder numbers.
    Cylinder,
    /// Confirmation levels.
    Confirmation,
    /// Engine family ids.
    Family,
    /// Yes and no.
    Flag,
    /// Free text.
    Text,
    /// The field takes no code list.
    None,
}

impl Field {
    /// All of them.
    pub const ALL: [Field; 31] = [
        Vehicle,
        Site,
        Date,
        Odometer,
        Engine,
        EngineFamily,
        ModelYear,
        EngineReplaced,
        CaseId,
        Opened,
        Closed,
        Codes,
        ComplaintCylinder,
        Outcome,
        Cause,
        FailureMode,
        Cylinder,
        Confirmation,
        Repair,
        LabourHours,
        Cost,
        Currency,
        PriceYear,
        Payer,
        Step,
        Test,
        Reading,
        Result,
        LeakPath,
        Minutes,
        PlannedDistance,
    ];

    /// Name in mapping files.
    pub fn name(self) -> &'static str {
        match self {
            Vehicle => "vehicle",
            Site => "site",
            Date => "date",
            Odometer => "odometer",
            Engine => "engine",
            EngineFamily => "engine_family",
            ModelYear => "model_year",
            EngineReplaced => "engine_replaced",
            CaseId => "case_id",
            Opened => "opened",
            Closed => "closed",
            Codes => "codes",
            ComplaintCylinder => "complaint_cylinder",
            Outcome => "outcome",
            Cause => "cause",
            FailureMode => "failure_mode",
            Cylinder => "cylinder",
            Confirmation => "confirmation",
            Repair => "repair",
            LabourHours => "labour_hours",
            Cost => "cost",
            Currency => "currency",
            PriceYear => "price_year",
            Payer => "payer",
            Step => "step",
            Test => "test",
            Reading => "reading",
            Result => "result",
            LeakPath => "leak_path",
            Minutes => "minutes",
            PlannedDistance => "planned_distance",
        }
    }

    /// The field of that name.
    pub fn from_name(name: &str) -> Option<Self> {
        Self::ALL.into_iter().find(|f| f.name() == name)
    }

    /// Its place in arrays of all fields.
    pub fn index(self) -> usize {
        self as usize
    }

    /// The fields that a table takes; the last ones of findings and tests only serve to check cylinders.
    pub fn of(table: Table) -> &'static [Field] {
        match table {
            Table::Visits => &[
                Vehicle,
                Site,
                Date,
                Odometer,
                Engine,
                EngineFamily,
                ModelYear,
                EngineReplaced,
            ],
            Table::Cases => &[
                CaseId,
                Vehicle,
                Site,
                Opened,
                Closed,
                Engine,
                EngineFamily,
                ModelYear,
                Odometer,
                Codes,
                ComplaintCylinder,
                Outcome,
            ],
            Table::Findings => &[
                CaseId,
                Cause,
                FailureMode,
                Cylinder,
                Confirmation,
                Repair,
                LabourHours,
                Cost,
                Currency,
                PriceYear,
                Payer,
                Engine,
                EngineFamily,
                ModelYear,
            ],
            Table::Tests => &[
                CaseId,
                Step,
                Test,
                Cylinder,
                Reading,
                Result,
                LeakPath,
                Minutes,
                Engine,
                EngineFamily,
                ModelYear,
            ],
            Table::Roster => &[
                Vehicle,
                Engine,
                EngineFamily,
                ModelYear,
                Odometer,
                PlannedDistance,
            ],
            Table::Quarantine => &[],
        }
    }

    /// What a code list of this field leads to.
    pub fn words(self) -> Words {
        match self {
            Outcome => Words::Catalog(Kind::Outcome),
            Cause => Words::Catalog(Kind::Cause),
            FailureMode => Words::Catalog(Kind::FailureMode),
            Repair => Words::Catalog(Kind::Repair),
            Payer => Words::Catalog(Kind::Payer),
            Test => Words::Catalog(Kind::Test),
            Result => Words::Catalog(Kind::TestResult),
            LeakPath => Words::Catalog(Kind::LeakPath),
            Cylinder | ComplaintCylinder => Words::Cylinder,
            Confirmation => Words::Confirmation,
            EngineFamily => Words::Family,
            EngineReplaced => Words::Flag,
            Site | Engine | Currency => Words::Text,
            _ => Words::None,
        }
    }

    /// Whether the field holds a day, so that a column may state its own order.
    pub fn is_day(self) -> bool {
        matches!(self, Date | Opened | Closed)
    }

    /// Whether the field takes a unit.
    pub fn has_unit(self) -> bool {
        matches!(
            self,
            Odometer | Reading | LabourHours | Minutes | PlannedDistance
        )
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn names_are_found_again_and_places_are_right() {
        for (i, field) in Field::ALL.into_iter().enumerate() {
            assert_eq!(Field::from_name(field.name()), Some(field));
            assert_eq!(field.index(), i);
        }
    }

    /// Every stored column is filled from a field of its name, or from one of the few listed here.
    #[test]
    fn every_column_of_every_table_has_its_field() {
        for table in Table::ALL {
            if table == Table::Quarantine {
                continue;
            }
            for column in table.own_columns() {
                let name = match column.name {
                    "odometer_m" => "odometer",
                    "unit" => "reading",
                    "minutes_from" => "minutes",
                    name => name,
                };
                let field = Field::from_name(name);
                assert!(
                    field.is_some_and(|f| Field::of(table).contains(&f)),
                    "{}.{} has no field",
                    table.name(),
                    column.name
                );
            }
        }
    }
}
