//! The account of history: what became of every row, reading, vehicle and case, so that nothing is lost in silence.

use serde::{Deserialize, Serialize};

use super::rows::Table;
use crate::domain::day::Day;
use crate::domain::problem::{Problem, Result};
use crate::query::engine::Engine;
use crate::query::statement;

/// Rows and versions of one table of the store.
#[derive(Debug, Clone, PartialEq, Eq, Serialize, Deserialize)]
pub struct VersionCount {
    /// Table of the store.
    pub table: String,
    /// Rows in all batches.
    pub rows: u64,
    /// Records, each counted once.
    pub records: u64,
    /// Rows that a newer version of their record replaced.
    pub superseded: u64,
    /// Records whose versions differ in content.
    pub edited: u64,
}

/// What became of the readings; depends on the records alone.
#[derive(Debug, Clone, Default, PartialEq, Eq, Serialize, Deserialize)]
pub struct SpanAccount {
    /// Rows and versions by table, sorted by its name.
    pub versions: Vec<VersionCount>,
    /// Findings left out because a newer export has others for their case: a cause was corrected or taken back.
    pub findings_replaced: u64,
    /// Findings whose case is not in the store; they count nowhere.
    pub findings_without_case: u64,
    /// Different days and odometers at which vehicles were seen.
    pub sightings: u64,
    /// Of these, without a known odometer.
    pub without_odometer: u64,
    /// Readings ignored because they lie outside of neighbours that are in order.
    pub isolated: u64,
    /// Readings ignored because no vehicle drives that fast and the next reading does not confirm them.
    pub too_fast: u64,
    /// Readings kept.
    pub kept: u64,
    /// Odometer segments opened by a step down or a confirmed leap.
    pub segments_opened: u64,
    /// Engines replaced at a known reading.
    pub engines_replaced: u64,
    /// Engines replaced at an odometer nobody wrote down: the clock of the next engine is unknown.
    pub replacements_without_place: u64,
    /// Vehicles seen.
    pub vehicles: u64,
    /// Of these, of unknown engine family.
    pub without_family: u64,
    /// Of these, retired.
    pub retired: u64,
    /// Of these, with exposure.
    pub vehicles_at_risk: u64,
    /// Spans of observation, those of no distance included.
    pub spans: u64,
    /// Distance under observation in metres.
    pub exposure_m: i64,
    /// Of this, at an unknown place on the engine's clock.
    pub unknown_clock_m: i64,
    /// Metres beyond it, to the last sighting of any kind; they count in no rate.
    pub after_last_visit_m: i64,
    /// First day a vehicle was seen.
    pub first_day: Option<Day>,
    /// Last day a vehicle was seen: the data cut-off.
    pub last_day: Option<Day>,
}

/// What became of the cases; depends on confirmation level and comeback window.
#[derive(Debug, Clone, Default, PartialEq, Eq, Serialize, Deserialize)]
pub struct EpisodeAccount {
    /// Failure events: comebacks folded, several causes of one event counted once.
    pub events: u64,
    /// Causes of these events.
    pub episodes: u64,
    /// Events of vehicles never seen before; they count in no rate.
    pub walk_ins: u64,
    /// Events of vehicles seen before, after their observation had ended; they count in no rate.
    pub after_last_visit: u64,
    /// Cases folded into an earlier failure.
    pub comebacks: u64,
    /// Events with an unknown odometer.
    pub without_odometer: u64,
    /// Events whose place on the engine's clock is unknown.
    pub without_position: u64,
    /// Events with an unknown cylinder.
    pub without_cylinder: u64,
    /// Events of an unknown engine family.
    pub without_family: u64,
    /// Cases without a finding at the confirmation level asked for.
    pub unconfirmed: u64,
}

/// What became of the test steps; depends on the records alone.
#[derive(Debug, Clone, Default, PartialEq, Eq, Serialize, Deserialize)]
pub struct StepAccount {
    /// Test steps, each counted once.
    pub steps: u64,
    /// Of these, with a reading in numbers.
    pub with_reading: u64,
    /// Steps whose case is not in the store; they count nowhere.
    pub without_case: u64,
}

/// The whole account.
#[derive(Debug, Clone, Default, PartialEq, Eq, Serialize, Deserialize)]
pub struct HistoryAccount {
    /// Of the readings.
    pub spans: SpanAccount,
    /// Of the cases.
    pub episodes: EpisodeAccount,
}

/// Counts what the span layer did; its tables and the batch tables must be registered.
pub fn spans(engine: &mut dyn Engine) -> Result<SpanAccount> {
    let batch = statement::query(engine, "span_account", &[])?;
    let one = OneRow(Table::new(&batch));
    let versions = versions(engine)?;
    let findings = versions.iter().find(|v| v.table == "findings");
    let findings = findings.map_or(0, |v| v.records);
    Ok(SpanAccount {
        versions,
        findings_replaced: findings.saturating_sub(one.count("findings")?),
        findings_without_case: one.count("findings_without_case")?,
        sightings: one.count("sightings")?,
        without_odometer: one.count("without_odometer")?,
        isolated: one.count("isolated")?,
        too_fast: one.count("too_fast")?,
        kept: one.count("kept")?,
        segments_opened: one.count("segments_opened")?,
        engines_replaced: one.count("engines_replaced")?,
        replacements_without_place: one.count("replacements_without_place")?,
        vehicles: one.count("vehicles")?,
        without_family: one.count("without_family")?,
        retired: one.count("retired")?,
        vehicles_at_risk: one.count("vehicles_at_risk")?,
        spans: one.count("spans")?,
        exposure_m: one.metres("exposure_m")?,
        unknown_clock_m: one.metres("unknown_clock_m")?,
        after_last_visit_m: one.metres("after_last_visit_m")?,
        first_day: one.day("first_day")?,
        last_day: one.day("last_day")?,
    })
}

/// Counts what the episode layer did; its tables must be registered.
pub fn episodes(engine: &mut dyn Engine) -> Result<EpisodeAccount> {
    let batch = statement::query(engine, "episode_account", &[])?;
    let one = OneRow(Table::new(&batch));
    Ok(EpisodeAccount {
        events: one.count("events")?,
        episodes: one.count("episodes")?,
        walk_ins: one.count("walk_ins")?,
        after_last_visit: one.count("after_last_visit")?,
        comebacks: one.count("comebacks")?,
        without_odometer: one.count("without_odometer")?,
        without_position: one.count("without_position")?,
        without_cylinder: one.count("without_cylinder")?,
        without_family: one.count("without_family")?,
        unconfirmed: one.count("unconfirmed")?,
    })
}

/// Counts what the layer of test steps did; `tests_now` and `cases_now` must be registered.
pub fn steps(engine: &mut dyn Engine) -> Result<StepAccount> {
    let batch = statement::query(engine, "step_account", &[])?;
    let one = OneRow(Table::new(&batch));
    Ok(StepAccount {
        steps: one.count("steps")?,
        with_reading: one.count("with_reading")?,
        without_case: one.count("without_case")?,
    })
}

fn versions(engine: &mut dyn Engine) -> Result<Vec<VersionCount>> {
    let batch = statement::query(engine, "versions", &[])?;
    let table = Table::new(&batch);
    let names = table.text("target")?;
    let rows = table.count("rows_stored")?;
    let records = table.count("records")?;
    let edited = table.count("edited")?;
    let mut counts = Vec::with_capacity(names.len());
    for (((name, rows), records), edited) in names.into_iter().zip(rows).zip(records).zip(edited) {
        counts.push(VersionCount {
            table: name.unwrap_or_default(),
            rows: whole(rows)?,
            records: whole(records)?,
            superseded: whole(rows - records)?,
            edited: whole(edited)?,
        });
    }
    Ok(counts)
}

/// The only row of an account.
struct OneRow<'a>(Table<'a>);

impl OneRow<'_> {
    fn metres(&self, name: &str) -> Result<i64> {
        Ok(self.0.count(name)?.first().copied().unwrap_or(0))
    }

    fn count(&self, name: &str) -> Result<u64> {
        whole(self.metres(name)?)
    }

    fn day(&self, name: &str) -> Result<Option<Day>> {
        Ok(self.0.day(name)?.first().copied().flatten())
    }
}

fn whole(count: i64) -> Result<u64> {
    u64::try_from(count)
        .map_err(|_| Problem::data("a count came out negative").value(count.to_string()))
}
