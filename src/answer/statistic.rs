//! The way from the statistics floor to an answer: methods by id, and its errors told in the project's own form.

use crate::domain::problem::{Problem, Result};
use crate::domain::suggestion;
use crate::stats;
use crate::stats::{poisson_rate, proportion, simultaneous};

/// A statistics error as a problem; a user can meet one only through the numbers typed.
pub fn told<T>(result: std::result::Result<T, stats::Error>) -> Result<T> {
    result.map_err(|e| Problem::data(e.to_string()))
}

/// Method ids may be typed with hyphens or underscores.
fn same(typed: &str, id: &str) -> bool {
    typed.trim().to_ascii_lowercase().replace('-', "_") == id.replace('-', "_")
}

/// Interval method for a rate.
pub fn rate_method(id: &str) -> Result<&'static poisson_rate::Method> {
    poisson_rate::METHODS
        .iter()
        .find(|m| same(id, m.id))
        .ok_or_else(|| unknown_method(id, poisson_rate::METHODS.iter().map(|m| m.id)))
}

/// Interval method for a proportion.
pub fn proportion_method(id: &str) -> Result<&'static proportion::Method> {
    proportion::METHODS
        .iter()
        .find(|m| same(id, m.id))
        .ok_or_else(|| unknown_method(id, proportion::METHODS.iter().map(|m| m.id)))
}

/// Interval method for several shares at once.
pub fn simultaneous_method(id: &str) -> Result<&'static simultaneous::Method> {
    simultaneous::METHODS
        .iter()
        .find(|m| same(id, m.id))
        .ok_or_else(|| unknown_method(id, simultaneous::METHODS.iter().map(|m| m.id)))
}

/// The problem of a method that does not exist, with the ones that do.
pub fn unknown_method<'a>(id: &str, known: impl Iterator<Item = &'a str> + Clone) -> Problem {
    let all = known.clone().collect::<Vec<_>>().join(", ");
    let remedy = match suggestion::closest(id, known) {
        Some(close) => format!("did you mean {close}? The methods here are {all}"),
        None => format!("the methods here are {all}"),
    };
    Problem::usage("no such interval method")
        .field("--method")
        .value(id)
        .remedy(remedy)
}
