//! What a distance is counted from.

use serde::Serialize;

/// The zero of the distance.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Default, Serialize)]
#[serde(rename_all = "snake_case")]
pub enum Clock {
    /// Distance of the engine: the odometer of the first engine, the distance since it was fitted of a later one.
    #[default]
    Engine,
    /// The odometer's reading, whichever engine is in. A later engine comes under observation at the reading at which it
    /// was fitted. Only the first segment of an odometer counts: after a rollback or an exchange it shows no distance.
    Odometer,
    /// Distance since the last repair of the cause.
    Repair,
}

impl Clock {
    /// Name on the command line and in JSON.
    pub fn name(self) -> &'static str {
        match self {
            Self::Engine => "engine",
            Self::Odometer => "odometer",
            Self::Repair => "repair",
        }
    }
}
