//! The tables of episodes, which depend on the comeback window and the confirmation level as well, and that of test steps.

use super::table::{Derived, Sliced};
use crate::domain::table::ColumnKind::{Day, Flag, Number, Text, Whole};

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
        sliced: Sliced::ByManyVehicles,
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
        sliced: Sliced::ByManyVehicles,
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
        sliced: Sliced::ByManyVehicles,
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
        sliced: Sliced::ByManyVehicles,
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
    sliced: Sliced::Not,
}];
