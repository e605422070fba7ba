//! Which stored columns of a table a mapping fills, and what each of them is made of.

use crate::domain::table::Column;
use crate::ingest::mapping::Field;
use crate::ingest::mapping::bind::BoundTable;

/// Where the value of a stored column comes from; looked up once, since names are slow to compare in every row.
#[derive(Debug, Clone, Copy)]
pub(super) enum Supply {
    Vehicle,
    Day(Field),
    Odometer,
    Planned,
    Family,
    Year(Field),
    Codes,
    Cylinder(Field),
    Text(Field),
    Site,
    OrUnmapped(Field),
    Currency,
    Cost,
    Hours(Field),
    Minutes,
    Step,
    Reading,
    Word(Field),
    /// Written together with another column, or by nobody.
    Elsewhere,
}

impl Supply {
    /// Whether it gives anything in a table that is bound like this; where that takes more than one field, it may.
    fn may_give(self, table: &BoundTable) -> bool {
        match self {
            Supply::Year(field)
            | Supply::Text(field)
            | Supply::OrUnmapped(field)
            | Supply::Hours(field)
            | Supply::Word(field) => table.field(field).is_some(),
            Supply::Site => table.field(Field::Site).is_some(),
            Supply::Elsewhere => false,
            _ => true,
        }
    }
}

/// A stored column of a table, and where its value comes from.
pub(super) struct Supplied {
    /// Number of the column.
    pub(super) at: usize,
    pub(super) column: &'static Column,
    pub(super) from: Supply,
}

/// The own columns of a table that a row may have or must have.
pub(super) fn supplies(table: &BoundTable) -> Vec<Supplied> {
    let of = |column: &str| match column {
        "vehicle" => Supply::Vehicle,
        "date" => Supply::Day(Field::Date),
        "opened" => Supply::Day(Field::Opened),
        "closed" => Supply::Day(Field::Closed),
        "odometer_m" => Supply::Odometer,
        "planned_m" => Supply::Planned,
        "engine_family" => Supply::Family,
        "model_year" => Supply::Year(Field::ModelYear),
        "price_year" => Supply::Year(Field::PriceYear),
        "codes" => Supply::Codes,
        "complaint_cylinder" => Supply::Cylinder(Field::ComplaintCylinder),
        "cylinder" => Supply::Cylinder(Field::Cylinder),
        "case_id" => Supply::Text(Field::CaseId),
        "site" => Supply::Site,
        "cause" => Supply::OrUnmapped(Field::Cause),
        "outcome" => Supply::OrUnmapped(Field::Outcome),
        "currency" => Supply::Currency,
        "cost" => Supply::Cost,
        "labour_hours" => Supply::Hours(Field::LabourHours),
        "minutes" => Supply::Minutes,
        "step" => Supply::Step,
        "reading" => Supply::Reading,
        // Written together with the reading and the minutes.
        "unit" | "minutes_from" => Supply::Elsewhere,
        name => Field::from_name(name).map_or(Supply::Elsewhere, Supply::Word),
    };
    let columns = table.into.own_columns().iter().enumerate();
    let all = columns.map(|(at, column)| Supplied {
        at,
        column,
        from: of(column.name),
    });
    all.filter(|s| s.column.required || s.from.may_give(table))
        .collect()
}

/// The field of the mapping that a stored column is filled from.
pub(super) fn field_name(column: &'static str) -> &'static str {
    match column {
        "odometer_m" => "odometer",
        "planned_m" => "planned_distance",
        name => name,
    }
}
