//! The delivery fleet's roster: the units that were still on the road at the last reading, with what they are planned to drive. It
//! draws nothing at random, so that the exports beside it stay as they were.

use std::path::{Path, PathBuf};

use crate::domain::day::Day;
use crate::domain::problem::{AtFile, Result};
use crate::synth::export::habit::Subject;
use crate::synth::export::mapping::Mapping;
use crate::synth::record::Visit;
use crate::synth::scenario::Habit;

/// Plans are rounded to this many kilometres, as people do.
const ROUND_KM: i64 = 500;
/// Every so many units nobody has planned yet.
const UNPLANNED: usize = 8;

struct Row {
    unit: String,
    engine: String,
    model_year: i32,
    read: Day,
    odometer_km: i64,
    /// Kilometres a day between the first and the last reading.
    pace: f64,
}

/// The roster while the fleet's lives go by.
pub struct RosterFile {
    folder: PathBuf,
    rows: Vec<Row>,
}

impl RosterFile {
    /// An empty roster.
    pub fn new(folder: &Path) -> Self {
        Self {
            folder: folder.to_path_buf(),
            rows: Vec::new(),
        }
    }

    /// Notes a unit.
    pub fn note(&mut self, s: &Subject) {
        let visits: Vec<&Visit> = s
            .visits(Habit::FleetPolls)
            .map(|(_, visit)| visit)
            .collect();
        let (Some(first), Some(last)) = (visits.first(), visits.last()) else {
            return;
        };
        let days = f64::from(last.day.0 - first.day.0).max(1.0);
        self.rows.push(Row {
            unit: s.unit.clone(),
            engine: s.engine.to_string(),
            model_year: i32::from(s.life.model_year),
            read: last.day,
            odometer_km: last.odometer_m / 1000,
            pace: (last.odometer_m - first.odometer_m) as f64 / 1000.0 / days,
        });
    }

    /// Writes the roster and its mapping file.
    pub fn finish(&self, folder_name: &str) -> Result<()> {
        let Some(end) = self.rows.iter().map(|row| row.read).max() else {
            return Ok(());
        };
        let mut text = String::from("Unit,Engine,Model year,Odometer km,Planned km next year\r\n");
        let present = self.rows.iter().filter(|row| row.read == end);
        for (i, row) in present.enumerate() {
            let year = (365.0 * row.pace / ROUND_KM as f64).round() as i64 * ROUND_KM;
            let planned = match (i + 1) % UNPLANNED {
                0 => String::new(),
                _ => year.max(ROUND_KM).to_string(),
            };
            text += &format!(
                "{},{},{},{},{planned}\r\n",
                row.unit, row.engine, row.model_year, row.odometer_km
            );
        }
        let path = self.folder.join(folder_name).join("roster.csv");
        std::fs::write(&path, text).at_file("write the roster", &path)?;
        let files = format!("{folder_name}/roster.csv");
        Mapping::new(
            "The delivery fleet's roster for a budget; no export, and nothing of it is stored.",
            "parcel-fleet",
            &[&files],
        )
        .section("format", &[("kind", "\"delimited\"")])
        .section("defaults", &[("distance_unit", "\"km\"")])
        .table("roster", None, COLUMNS)
        .write(&self.folder, "fleet-roster.mapping.toml")
    }
}

const COLUMNS: &[(&str, &str)] = &[
    ("vehicle", "{ column = \"Unit\", kind = \"unit\" }"),
    ("engine", "\"Engine\""),
    ("model_year", "\"Model year\""),
    ("odometer", "\"Odometer km\""),
    ("planned_distance", "\"Planned km next year\""),
];
