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
}

/// What depends on the records alone, in the order of building.
pub const SPAN_TABLES: &[Derived] = &[
    Derived {
        name: "visits_now",
        columns: &[
            ("source", Text),
            ("record", Text),
            ("vehicle", Text),
            ("site", Text),
            ("date", Day),
            ("odometer_m", Whole),
            ("engine_family", Text),
            ("model_year", Whole),
            ("engine_replaced", Flag),
        ],
        kept: false,
    },
    Derived {
        name: "cases_now",
        columns: &[
            ("source", Text),
            ("case_id", Text),
            ("vehicle", Text),
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
    },
    Derived {
        name: "sightings",
        columns: &[
            ("vehicle", Text),
            ("date", Day),
            ("odometer_m", Whole),
            ("site", Text),
            ("engine_replaced", Whole),
            ("plain", Whole),
        ],
        kept: false,
    },
    Derived {
        name: "vehicles",
        columns: &[
            ("vehicle", Text),
            ("engine_family", Text),
            ("model_year", Whole),
            ("first_seen", Day),
            ("last_seen", Day),
            ("retired_on", Day),
        ],
        kept: true,
    },
    Derived {
        name: "odometer_checks",
        columns: &[
            ("vehicle", Text),
            ("date", Day),
            ("odometer_m", Whole),
            ("site", Text),
            ("engine_replaced", Whole),
            ("plain", Whole),
            ("ignored", Whole),
        ],
        kept: false,
    },
    Derived {
        name: "readings",
        columns: &[
            ("vehicle", Text),
            ("date", Day),
            ("odometer_m", Whole),
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
    },
    Derived {
        name: "observation_ends",
        columns: &[
            ("vehicle", Text),
            ("segment", Whole),
            ("observed_day", Whole),
        ],
        kept: false,
    },
    Derived {
        name: "stretches",
        columns: &[
            ("vehicle", Text),
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
    },
    Derived {
        name: "spans",
        columns: &[
            ("vehicle", Text),
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
    },
    Derived {
        name: "pieces",
        columns: &[
            ("vehicle", Text),
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
    },
    Derived {
        name: "carries",
        columns: &[
            ("vehicle", Text),
            ("site", Text),
            ("engine_family", Text),
            ("model_year", Whole),
            ("from_m", Whole),
            ("from_date", Day),
            ("pace_m", Whole),
            ("pace_days", Whole),
        ],
        kept: true,
    },
];

/// What depends on the comeback window and the confirmation level as well, in the order of building.
pub const EPISODE_TABLES: &[Derived] = &[
    Derived {
        name: "failures",
        columns: &[
            ("source", Text),
            ("case_id", Text),
            ("vehicle", Text),
            ("cylinder_key", Whole),
            ("cause", Text),
            ("opened", Day),
            ("confirmation", Whole),
            ("place", Whole),
        ],
        kept: false,
    },
    Derived {
        name: "placed_cases",
        columns: &[
            ("source", Text),
            ("case_id", Text),
            ("vehicle", Text),
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
        kept: false,
    },
    Derived {
        name: "chain_cases",
        columns: &[
            ("vehicle", Text),
            ("cylinder_key", Whole),
            ("chain", Whole),
            ("turn", Whole),
            ("source", Text),
            ("case_id", Text),
            ("opened", Day),
            ("position_m", Whole),
        ],
        kept: true,
    },
    Derived {
        name: "chains",
        columns: &[
            ("vehicle", Text),
            ("cylinder_key", Whole),
            ("chain", Whole),
            ("comebacks", Whole),
            ("first_source", Text),
            ("first_case", Text),
            ("last_source", Text),
            ("last_case", Text),
        ],
        kept: true,
    },
    Derived {
        name: "episodes",
        columns: &[
            ("vehicle", Text),
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
    },
    Derived {
        name: "unconfirmed_cases",
        columns: &[
            ("vehicle", Text),
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

    /// Name of its file.
    pub fn file_name(&self) -> String {
        format!("{}.parquet", self.name)
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
