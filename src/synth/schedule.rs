//! When what nothing but the calendar decides happens next: complaints without a fault, statements at the year's end, polls.

use crate::domain::day::Day;
use crate::synth::calendar;
use crate::synth::draw::Draw;
use crate::synth::model::Model;

const DAYS_PER_YEAR: f64 = 365.25;

/// The next complaint without a fault.
pub fn complaint_after(model: &Model, draw: &mut Draw, at: f64) -> f64 {
    let a_year = model.scenario.behaviour.false_complaints_per_year;
    if a_year > 0.0 {
        at + draw.exponential() * DAYS_PER_YEAR / a_year
    } else {
        f64::INFINITY
    }
}

/// The last moment of the records' year that `at` lies in.
pub fn statement_after(model: &Model, at: f64) -> f64 {
    let from = Day(model.days.0);
    (1..=model.scenario.period.years)
        .filter_map(|years| calendar::add_years(from, years))
        .map(|day| f64::from(day.0) - 1e-3)
        .find(|moment| *moment > at)
        .unwrap_or(f64::INFINITY)
}

/// Polls are made every month on a day of the unit's own, and all units are read on the last day of the records, which end at
/// `end`.
pub fn poll_after(end: f64, at: f64) -> f64 {
    let last = end - 1e-3;
    if at + 30.4375 < last || at >= last {
        at + 30.4375
    } else {
        last
    }
}
