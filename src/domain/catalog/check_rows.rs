//! The rows of chances: the matrix, the leak paths and the wet step, checked against the causes and tests they name.

use std::collections::BTreeMap;

use toml::Spanned;

use super::chance::Chance;
use super::check::Source;
use super::entry::{Cause, Test, Word};
use super::form::{FollowUpForm, LeakPathForm, MatrixForm, WetStepForm};
use crate::domain::problem::Result;

/// The row of every cause that has none of its own.
const OTHER: &str = "other";

type Rows = BTreeMap<String, Spanned<String>>;

/// The tests of the matrix columns: every test with a code, each once.
pub(super) fn columns(s: &Source, at: &Spanned<String>, tests: &[Test]) -> Result<Vec<usize>> {
    let fault = |value: &str, what: &str| Err(s.fault_at(at, "matrix.columns", value, what));
    let mut columns = Vec::new();
    for code in at.as_ref().split_whitespace() {
        match tests.iter().position(|t| t.code.as_deref() == Some(code)) {
            Some(test) if columns.contains(&test) => {
                return fault(code, "this column is there twice");
            }
            Some(test) => columns.push(test),
            None => return fault(code, "no test has this code"),
        }
    }
    let left_out = tests
        .iter()
        .enumerate()
        .find(|(i, t)| t.code.is_some() && !columns.contains(i));
    match left_out {
        Some((_, test)) => fault(&test.id, "this test has a code but no column"),
        None => Ok(columns),
    }
}

/// One row for each cause, one chance for each column.
pub(super) fn matrix(
    s: &Source,
    form: &MatrixForm,
    columns: usize,
    causes: &[Cause],
) -> Result<Vec<Vec<Chance>>> {
    if !form.weight.all_positive() {
        return Err(s.fault(
            "matrix.weight",
            format!("{:?}", form.weight),
            "weights must be above 0",
        ));
    }
    known_rows(s, "matrix.rows", &form.rows, causes, false)?;
    let mut matrix = Vec::with_capacity(causes.len());
    for cause in causes {
        let Some(at) = form.rows.get(&cause.id) else {
            return Err(s.fault("matrix.rows", &cause.id, "this cause has no row"));
        };
        let key = format!("matrix.rows.{}", cause.id);
        let cells: std::result::Result<Vec<Chance>, String> = at
            .as_ref()
            .split_whitespace()
            .map(|c| form.weight.cell(c))
            .collect();
        let cells = cells.map_err(|what| s.fault_at(at, &key, at.as_ref(), what))?;
        if cells.len() != columns {
            let what = format!("this row has {} cells for {columns} columns", cells.len());
            return Err(s.fault_at(at, &key, at.as_ref(), what));
        }
        matrix.push(cells);
    }
    Ok(matrix)
}

/// One row of probabilities for each cause, lifted to the floor and summing to 1.
pub(super) fn leak_paths(
    s: &Source,
    form: &LeakPathForm,
    paths: &[Word],
    causes: &[Cause],
) -> Result<Vec<Vec<f64>>> {
    let ids: Vec<&str> = paths.iter().map(|p| p.id.as_str()).collect();
    let columns: Vec<&str> = form.columns.as_ref().split_whitespace().collect();
    if ids != columns || ids.is_empty() {
        let what = format!(
            "the columns must be the paths in their order: {}",
            ids.join(" ")
        );
        return Err(s.fault_at(
            &form.columns,
            "leak_path.columns",
            form.columns.as_ref(),
            what,
        ));
    }
    if !(form.weight.is_finite() && form.weight > 0.0) {
        return Err(s.fault(
            "leak_path.weight",
            form.weight,
            "the weight must be above 0",
        ));
    }
    if !(form.floor_percent > 0.0 && form.floor_percent * ids.len() as f64 <= 100.0) {
        let what = "the floor must be above 0 and leave room for every path";
        return Err(s.fault("leak_path.floor_percent", form.floor_percent, what));
    }
    known_rows(s, "leak_path.rows", &form.rows, causes, true)?;
    let mut shares = Vec::with_capacity(causes.len());
    for cause in causes {
        let (key, at) = row_of(s, "leak_path.rows", &form.rows, cause)?;
        let row: std::result::Result<Vec<f64>, _> = at
            .as_ref()
            .split_whitespace()
            .map(str::parse::<f64>)
            .collect();
        let fits = |row: &Vec<f64>| {
            row.len() == ids.len()
                && row.iter().all(|p| (0.0..=100.0).contains(p))
                && (row.iter().sum::<f64>() - 100.0).abs() < 1e-6
        };
        let Some(row) = row.ok().filter(fits) else {
            let what = format!("a row has {} percentages that sum to 100", ids.len());
            return Err(s.fault_at(at, &key, at.as_ref(), what));
        };
        shares.push(lifted(&row, form.floor_percent));
    }
    Ok(shares)
}

/// Percentages raised to the floor and scaled to sum to 1.
fn lifted(row: &[f64], floor: f64) -> Vec<f64> {
    let raised: Vec<f64> = row.iter().map(|p| p.max(floor)).collect();
    let sum: f64 = raised.iter().sum();
    raised.iter().map(|p| p / sum).collect()
}

/// One chance for each cause.
pub(super) fn wet_step(s: &Source, form: &WetStepForm, causes: &[Cause]) -> Result<Vec<Chance>> {
    if !form.weight.all_positive() {
        return Err(s.fault(
            "wet_step.weight",
            format!("{:?}", form.weight),
            "weights must be above 0",
        ));
    }
    known_rows(s, "wet_step.rows", &form.rows, causes, true)?;
    causes
        .iter()
        .map(|cause| {
            let (key, at) = row_of(s, "wet_step.rows", &form.rows, cause)?;
            let cell = form.weight.cell(at.as_ref().trim());
            cell.map_err(|what| s.fault_at(at, &key, at.as_ref(), what))
        })
        .collect()
}

/// One chance for each cause, by follow-up test.
pub(super) fn follow_ups(
    s: &Source,
    form: Option<&FollowUpForm>,
    tests: &[Test],
    causes: &[Cause],
) -> Result<BTreeMap<String, Vec<Chance>>> {
    let mut all = BTreeMap::new();
    let Some(form) = form else {
        return Ok(all);
    };
    if !form.weight.all_positive() {
        let value = format!("{:?}", form.weight);
        return Err(s.fault("follow_up.weight", value, "weights must be above 0"));
    }
    for (test, rows) in &form.tests {
        let key = format!("follow_up.{test}");
        if !tests.iter().any(|t| t.id == *test && t.code.is_none()) {
            return Err(s.fault(&key, test, "there is no such test outside the matrix"));
        }
        let known = |name: &str| name == OTHER || causes.iter().any(|c| c.id == name);
        if let Some(name) = rows.keys().find(|name| !known(name)) {
            return Err(s.fault(&key, name, "there is no such cause"));
        }
        let of = |cause: &Cause| {
            let cell = rows.get(&cause.id).or_else(|| rows.get(OTHER));
            let Some(cell) = cell else {
                let what = "this cause has no row, and there is no row \"other\"";
                return Err(s.fault(&key, &cause.id, what));
            };
            form.weight
                .cell(cell.trim())
                .map_err(|what| s.fault(&key, cell, what))
        };
        all.insert(test.clone(), causes.iter().map(of).collect::<Result<_>>()?);
    }
    Ok(all)
}

/// Its own row, or the one for every other cause.
fn row_of<'a>(
    s: &Source,
    table: &str,
    rows: &'a Rows,
    cause: &Cause,
) -> Result<(String, &'a Spanned<String>)> {
    for name in [cause.id.as_str(), OTHER] {
        if let Some(at) = rows.get(name) {
            return Ok((format!("{table}.{name}"), at));
        }
    }
    let what = "this cause has no row, and there is no row \"other\"";
    Err(s.fault(table, &cause.id, what))
}

/// Rows name causes of the catalog (or all others, where that is allowed).
fn known_rows(s: &Source, table: &str, rows: &Rows, causes: &[Cause], other: bool) -> Result<()> {
    let known = |name: &str| causes.iter().any(|c| c.id == name) || (other && name == OTHER);
    match rows.iter().find(|(name, _)| !known(name)) {
        Some((name, at)) => Err(s.fault_at(at, table, name, "there is no such cause")),
        None => Ok(()),
    }
}
