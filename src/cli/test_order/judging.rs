//! The hold-out check of a report: odds and plans from older records, held against the last year of them.

use std::thread::{self, JoinHandle};

use super::plans::{learn, quick};
use crate::answer::test_order::check::{self, TestOrderCheck};
use crate::cli::question::Asked;
use crate::domain::day::Day;
use crate::domain::mileage_band::MileageBands;
use crate::domain::problem::{Problem, Result};
use crate::tally;
use crate::tally::shares::Complaint;

/// Days at the end of the records that are judged.
const JUDGED_DAYS: i32 = 365;

/// Confidence level of the check.
pub const LEVEL: f64 = 0.95;

/// A check that is worked out while other things are counted: it needs no engine once its cases are there.
pub struct Judging(JoinHandle<Result<TestOrderCheck>>);

impl Judging {
    /// Counts what the check needs and starts it. `last` is the day of the last case, `to` the last day that counts at all.
    pub fn start(
        asked: &mut Asked,
        last: Day,
        to: Option<Day>,
        bands: &MileageBands,
    ) -> Result<Self> {
        let day = Day(last.0.saturating_sub(JUDGED_DAYS));
        let tally = learn(asked, Some(day), &Complaint::default(), bands)?;
        let cases = tally::test_order::cases_after(&mut asked.engine, day, to, bands)?;
        let (catalog, families) = (asked.catalog.clone(), asked.families.clone());
        let work = move || {
            check::check(&check::Input {
                day,
                catalog: &catalog,
                families: &families,
                tally: &tally,
                cases: &cases,
                level: LEVEL,
                effort: quick(),
                rules_of_thumb: false,
            })
        };
        let no_thread = |e| {
            Problem::data(format!(
                "no thread could be started to check the test orders: {e}"
            ))
            .remedy("let other programs end, or raise the limit of processes (ulimit -u)")
        };
        let thread = thread::Builder::new().spawn(work).map_err(no_thread)?;
        Ok(Self(thread))
    }

    /// Waits for the check.
    pub fn finish(self) -> Result<TestOrderCheck> {
        self.0.join().unwrap_or_else(|payload| {
            let what = "the check of the test orders";
            Err(Problem::stopped_inside(what, payload.as_ref()))
        })
    }
}
