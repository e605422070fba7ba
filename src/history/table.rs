//! The derived tables: which statement writes them, and their columns as the next statement reads them.

use std::sync::Arc;

use arrow::datatypes::{DataType, Field, Schema, SchemaRef};

use crate::domain::table::ColumnKind::{self, Day, Flag, Number, Text, Whole};

/// One derived table; the statement that writes it has the table's name.
#[derive(Debug, Clone, Copy)]
pub struct Derived {
    /// Name of statement, file and table.
    pub name: &'static str,
    /// Columns in the order the statement selects them.
    pub columns: &'static [(&'static str, ColumnKind)],
    /// Whether later floors read it; the others only serve the building of their layer.
    pub kept: bool,
    /// Whether its rows are of one vehicle each, so that it can be written a slice of vehicles at a time; the statement then has
    /// `:first_vehicle` and `:end_vehicle`.
    pub sliced: bool,
}

/// The table whose rows are the vehicles; the others are sliced by its numbers.
pub const VEHICLE_NUMBERS: &str = "vehicle_numbers";

/// What depends on the records alone, in the order of building.
pub const SPAN_TABLES: &[Derived] = &[
    Derived {
        name: VEHICLE_NUMBERS,
        columns: &[("vehicle_key", Text), ("vehicle", Whole)],
        kept: true,
        sliced: false,
    },
    Derived {
        name: "visits_now",
        columns: &[
            ("vehicle", Whole),
            ("site", Text),
            ("date", Day),
            ("odometer_m", Whole),
            ("engine_family", Text),
            ("model_year", Whole),
            ("engine_replaced", Flag),
        ],
        kept: false,
        sliced: false,
    },
    Derived {
        name: "cases_now",
        columns: &[
            ("source", Text),
            ("case_id", Text),
            ("vehicle", Whole),
            ("site", Text),
            ("opened", Day),
            ("ended", Day),
            ("engine_family", Text),
            ("model_year", Whole),
            ("odometer_m", Whole),
            ("codes", Text),
            ("complaint_cylinder", Whole),
            ("outcome", Text),
        ],
        kept: true,
        sliced: false,
    },
    Derived {
        name: "findings_now",
        columns: &[
            ("source", Text),
            ("record", Text),
            ("case_id", Text),
            ("place", Whole),
            ("cause", Text),
            ("failure_mode", Text),
            ("cylinder", Whole),
            ("confirmation", Whole),
            ("repair", Text),
            ("cost", Whole),
            ("currency", Text),
            ("price_year", Whole),
            ("labour_hours", Number),
            ("payer", Text),
        ],
        kept: true,
        sliced: false,
    },
    Derived {
        name: "sightings",
        columns: &[
            ("vehicle", Whole),
            ("date", Day),
            ("odometer_m", Whole),
            ("place", Whole),
            ("site", Text),
            ("engine_replaced", Whole),
            ("plain", Whole),
        ],
        kept: false,
        sliced: true,
    },
    Derived {
        name: "vehicles",
        columns: &[
            ("vehicle", Whole),
            ("engine_family", Text),
            ("model_year", Whole),
            ("first_seen", Day),
            ("last_seen", Day),
            ("retired_on", Day),
        ],
        kept: true,
        sliced: true,
    },
    Derived {
        name: "known_readings",
        columns: &[
            ("vehicle", Whole),
            ("date", Day),
            ("odometer_m", Whole),
            ("place", Whole),
            ("site", Text),
            ("engine_replaced", Whole),
            ("plain", Whole),
            ("before_odometer_m", Whole),
            ("before_date", Day),
        ],
        kept: false,
        sliced: true,
    },
    Derived {
        name: "odd_vehicles",
        columns: &[("vehicle", Whole)],
        kept: false,
        sliced: true,
    },
    Derived {
        name: "odometer_checks",
        columns: &[
            ("vehicle", Whole),
            ("date", Day),
            ("odometer_m", Whole),
            ("place", Whole),
            ("site", Text),
            ("engine_replaced", Whole),
            ("plain", Whole),
            ("ignored", Whole),
        ],
        kept: false,
        sliced: true,
    },
    Derived {
        name: "clocks",
        columns: &[
            ("vehicle", Whole),
            ("date", Day),
            ("odometer_m", Whole),
            ("place", Whole),
            ("site", Text),
            ("plain", Whole),
            ("replaced", Whole),
            ("unplaced", Whole),
            ("before_odometer_m", Whole),
            ("before_date", Day),
            ("step", Whole),
            ("segment", Whole),
            ("engine_no", Whole),
        ],
        kept: false,
        sliced: true,
    },
    Derived {
        name: "readings",
        columns: &[
            ("vehicle", Whole),
            ("date", Day),
            ("odometer_m", Whole),
            ("place", Whole),
            ("site", Text),
            ("plain", Whole),
            ("segment", Whole),
            ("replaced", Whole),
            ("unplaced", Whole),
            ("engine_no", Whole),
            ("origin_m", Whole),
            ("before_date", Day),
            ("before_odometer_m", Whole),
            ("before_segment", Whole),
            ("before_origin_m", Whole),
        ],
        kept: true,
        sliced: true,
    },
    Derived {
        name: "observation_ends",
        columns: &[
            ("vehicle", Whole),
            ("segment", Whole),
            ("observed_day", Whole),
        ],
        kept: false,
        sliced: true,
    },
    Derived {
        name: "stretches",
        columns: &[
            ("span", Whole),
            ("vehicle", Whole),
            ("engine_no", Whole),
            ("segment", Whole),
            ("site", Text),
            ("engine_family", Text),
            ("model_year", Whole),
            ("observed", Whole),
            ("entry_m", Whole),
            ("exit_m", Whole),
            ("distance_m", Whole),
            ("to_sighting_m", Whole),
            ("entry_date", Day),
            ("exit_date", Day),
            ("sighting_date", Day),
            ("entry_odometer_m", Whole),
            ("exit_odometer_m", Whole),
            ("sighting_odometer_m", Whole),
        ],
        kept: true,
        sliced: true,
    },
    Derived {
        name: "spans",
        columns: &[
            ("span", Whole),
            ("vehicle", Whole),
            ("engine_no", Whole),
            ("segment", Whole),
            ("clock_known", Whole),
            ("engine_family", Text),
            ("model_year", Whole),
            ("entry_m", Whole),
            ("exit_m", Whole),
            ("distance_m", Whole),
            ("to_sighting_m", Whole),
            ("entry_date", Day),
            ("exit_date", Day),
            ("sighting_date", Day),
            ("entry_odometer_m", Whole),
            ("exit_odometer_m", Whole),
            ("sighting_odometer_m", Whole),
            ("stretches", Whole),
            ("sites", Whole),
            ("main_site", Text),
        ],
        kept: true,
        sliced: true,
    },
    Derived {
        name: "pieces",
        columns: &[
            ("vehicle", Whole),
            ("site", Text),
            ("engine_family", Text),
            ("model_year", Whole),
            ("entry_m", Whole),
            ("distance_m", Whole),
            ("to_sighting_m", Whole),
            ("entry_date", Day),
            ("exit_date", Day),
            ("sighting_date", Day),
        ],
        kept: true,
        sliced: true,
    },
    Derived {
        name: "carries",
        columns: &[
            ("vehicle", Whole),
            ("site", Text),
            ("engine_family", Text),
            ("model_year", Whole),
            ("from_m", Whole),
            ("from_date", Day),
            ("pace_m", Whole),
            ("pace_days", Whole),
        ],
        kept: true,
        sliced: true,
    },
    Derived {
        name: "placed_cases",
        columns: &[
            ("case_no", Whole),
            ("source", Text),
            ("case_id", Text),
            ("vehicle", Whole),
            ("site", Text),
            ("opened", Day),
            ("ended", Day),
            ("codes", Text),
            ("complaint_cylinder", Whole),
            ("outcome", Text),
            ("known_m", Whole),
            ("segment", Whole),
            ("engine_no", Whole),
            ("position_m", Whole),
            ("engine_family", Text),
            ("model_year", Whole),
            ("seen_before", Whole),
            ("observed", Whole),
        ],
        kept: true,
        sliced: false,
    },
    Derived {
        name: "failures",
        columns: &[
            ("case_no", Whole),
            ("cylinder_key", Whole),
            ("cause", Text),
            ("confirmation", Whole),
            ("place", Whole),
        ],
        kept: true,
        sliced: false,
    },
];

/// What depends on the comeback window and the confirmation level as well, in the order of building.
pub const EPISODE_TABLES: &[Derived] = &[
    Derived {
        name: "chain_cases",
        columns: &[
            ("vehicle", Whole),
            ("cylinder_key", Whole),
            ("chain", Whole),
            ("turn", Whole),
            ("counts", Whole),
            ("source", Text),
            ("case_id", Text),
            ("opened", Day),
            ("position_m", Whole),
        ],
        kept: true,
        sliced: false,
    },
    Derived {
        name: "chains",
        columns: &[
            ("vehicle", Whole),
            ("cylinder_key", Whole),
            ("chain", Whole),
            ("comebacks", Whole),
            ("first_case_no", Whole),
            ("last_case_no", Whole),
        ],
        kept: true,
        sliced: false,
    },
    Derived {
        name: "episodes",
        columns: &[
            ("vehicle", Whole),
            ("cylinder", Whole),
            ("chain", Whole),
            ("cause", Text),
            ("confirmation", Whole),
            ("is_primary", Flag),
            ("place", Whole),
            ("opened", Day),
            ("site", Text),
            ("engine_family", Text),
            ("model_year", Whole),
            ("engine_no", Whole),
            ("odometer_m", Whole),
            ("position_m", Whole),
            ("under_observation", Flag),
            ("after_last_visit", Flag),
            ("codes", Text),
            ("comebacks", Whole),
            ("source", Text),
            ("case_id", Text),
        ],
        kept: true,
        sliced: false,
    },
    Derived {
        name: "unconfirmed_cases",
        columns: &[
            ("vehicle", Whole),
            ("site", Text),
            ("opened", Day),
            ("engine_family", Text),
            ("model_year", Whole),
            ("position_m", Whole),
            ("codes", Text),
            ("cylinder", Whole),
            ("outcome", Text),
            ("source", Text),
            ("case_id", Text),
        ],
        kept: true,
        sliced: false,
    },
];

/// What only the answers about tests need, beside the spans.
pub const STEP_TABLES: &[Derived] = &[Derived {
    name: "tests_now",
    columns: &[
        ("source", Text),
        ("record", Text),
        ("case_id", Text),
        ("place", Whole),
        ("test", Text),
        ("cylinder", Whole),
        ("reading", Number),
        ("unit", Text),
        ("result", Text),
        ("leak_path", Text),
        ("minutes", Number),
        ("minutes_from", Text),
    ],
    kept: true,
    sliced: false,
}];

impl Derived {
    /// The columns as Arrow's schema.
    pub fn schema(&self) -> SchemaRef {
        let fields: Vec<Field> = self
            .columns
            .iter()
            .map(|(name, kind)| Field::new(*name, arrow_type(*kind), true))
            .collect();
        Arc::new(Schema::new(fields))
    }

    /// Name of the file of its first slice, which is the only one unless there are many vehicles, or of a later one.
    pub fn file_name(&self, slice: usize) -> String {
        match slice {
            0 => format!("{}.parquet", self.name),
            later => format!("{}-{later}.parquet", self.name),
        }
    }

    /// Whether a file of that name is one of its slices.
    pub fn is_file(&self, name: &str) -> bool {
        let slice = name
            .strip_prefix(self.name)
            .and_then(|n| n.strip_suffix(".parquet"));
        slice.is_some_and(|s| {
            let number = |n: &str| n.bytes().all(|b| b.is_ascii_digit());
            s.is_empty() || s.strip_prefix('-').is_some_and(number)
        })
    }
}

fn arrow_type(kind: ColumnKind) -> DataType {
    match kind {
        Text => DataType::Utf8,
        Whole => DataType::Int64,
        Number => DataType::Float64,
        Day => DataType::Date32,
        Flag => DataType::Boolean,
    }
}
