//! The families file: `[[family]]` tables in TOML, read with checks and written back in one fixed form.

use std::path::Path;

use serde::{Deserialize, Serialize};
use toml::Spanned;

use super::engine::{EngineFamily, Layout, MatchRule};
use crate::domain::firing_order::FiringOrder;
use crate::domain::problem::{Problem, Result};
use crate::domain::toml_file;

#[derive(Deserialize)]
#[serde(deny_unknown_fields)]
struct FileForm {
    #[serde(default)]
    family: Vec<Spanned<FamilyForm>>,
}

#[derive(Deserialize, Serialize)]
#[serde(deny_unknown_fields)]
struct FamilyForm {
    id: String,
    title: Option<String>,
    cylinders: u8,
    layout: Layout,
    #[serde(default, skip_serializing_if = "Option::is_none")]
    firing_order: Option<OrderForm>,
    #[serde(default, skip_serializing_if = "Vec::is_empty")]
    bank_1: Vec<u8>,
    #[serde(default, skip_serializing_if = "Vec::is_empty")]
    bank_2: Vec<u8>,
    #[serde(default, rename = "match", skip_serializing_if = "Vec::is_empty")]
    matches: Vec<MatchForm>,
}

/// A firing order as people write it: `[1, 3, 4, 2]` or `"1-3-4-2"`.
#[derive(Deserialize, Serialize)]
#[serde(untagged)]
enum OrderForm {
    List(Vec<u8>),
    Text(String),
}

#[derive(Deserialize, Serialize)]
#[serde(deny_unknown_fields)]
struct MatchForm {
    engine: String,
    #[serde(skip_serializing_if = "Option::is_none")]
    from: Option<i32>,
    #[serde(skip_serializing_if = "Option::is_none")]
    to: Option<i32>,
}

#[derive(Serialize)]
struct FileOut {
    family: Vec<FamilyForm>,
}

/// A family with the line it was read from.
pub(super) struct Located {
    pub family: EngineFamily,
    pub line: u64,
}

/// Decodes and checks every family on its own; checks across families are the caller's.
pub(super) fn read(text: &str, file: &Path) -> Result<Vec<Located>> {
    let form: FileForm = toml_file::from_text(text, file)?;
    let mut families = Vec::with_capacity(form.family.len());
    for spanned in form.family {
        let line = toml_file::line_of(text, &spanned.span());
        let family = check(spanned.into_inner()).map_err(|(field, value, what)| {
            Problem::data(what)
                .file(file)
                .line(line)
                .field(field)
                .value(value)
                .remedy("correct this [[family]] table")
        })?;
        families.push(Located { family, line });
    }
    Ok(families)
}

/// Field, value and sentence of what is wrong.
type Fault = (&'static str, String, String);

fn check(form: FamilyForm) -> std::result::Result<EngineFamily, Fault> {
    let id = form.id.trim().to_owned();
    if id.is_empty() || id != form.id || id.chars().any(char::is_control) {
        let what = "an id must not be empty, begin or end with a space or hold control characters";
        return Err(("id", form.id, what.to_owned()));
    }
    let n = form.cylinders;
    if !(1..=32).contains(&n) {
        let what = "an engine has 1 to 32 cylinders".to_owned();
        return Err(("cylinders", n.to_string(), what));
    }
    let firing_order = check_order(form.firing_order, n)?;
    let (bank_1, bank_2) = check_banks(form.layout, n, form.bank_1, form.bank_2)?;
    let mut matches = Vec::with_capacity(form.matches.len());
    for rule in form.matches {
        matches.push(check_rule(rule)?);
    }
    matches.sort();
    matches.dedup();
    Ok(EngineFamily {
        title: form.title.unwrap_or_else(|| id.clone()),
        id,
        cylinders: n,
        layout: form.layout,
        firing_order,
        bank_1,
        bank_2,
        matches,
    })
}

fn check_order(form: Option<OrderForm>, n: u8) -> std::result::Result<Vec<u8>, Fault> {
    let (shown, order) = match form {
        None => return Ok(Vec::new()),
        Some(OrderForm::List(list)) => (format!("{list:?}"), FiringOrder::new(&list, n)),
        Some(OrderForm::Text(text)) => {
            let order = FiringOrder::parse(&text, n);
            (text, order)
        }
    };
    match order {
        Ok(order) => Ok(order.as_slice().to_vec()),
        Err(why) => Err((
            "firing_order",
            shown,
            format!("a firing order names every cylinder once, and {why}"),
        )),
    }
}

type Banks = (Vec<u8>, Vec<u8>);

fn check_banks(
    layout: Layout,
    n: u8,
    mut bank_1: Vec<u8>,
    mut bank_2: Vec<u8>,
) -> std::result::Result<Banks, Fault> {
    let shown = format!("{bank_1:?} and {bank_2:?}");
    let fault = |what: &str| Err(("bank_1", shown.clone(), what.to_owned()));
    if bank_1.is_empty() && bank_2.is_empty() {
        if layout == Layout::Inline {
            bank_1 = (1..=n).collect();
        }
        return Ok((bank_1, bank_2));
    }
    if layout == Layout::Inline && !bank_2.is_empty() {
        return fault("an in-line engine has one bank");
    }
    if !bank_1.contains(&1) {
        return fault("bank 1 is the bank of cylinder 1");
    }
    bank_1.sort_unstable();
    bank_2.sort_unstable();
    let mut all: Vec<u8> = bank_1.iter().chain(&bank_2).copied().collect();
    all.sort_unstable();
    if all != (1..=n).collect::<Vec<u8>>() {
        return fault("the banks must name every cylinder of the engine once");
    }
    Ok((bank_1, bank_2))
}

fn check_rule(form: MatchForm) -> std::result::Result<MatchRule, Fault> {
    let engine = form.engine.split_whitespace().collect::<Vec<_>>().join(" ");
    if engine.is_empty() {
        let what = "a match rule needs an engine text".to_owned();
        return Err(("match.engine", form.engine, what));
    }
    for (field, year) in [("match.from", form.from), ("match.to", form.to)] {
        if let Some(year) = year.filter(|y| !(1886..=2100).contains(y)) {
            return Err((field, year.to_string(), "not a model year".to_owned()));
        }
    }
    if let (Some(from), Some(to)) = (form.from, form.to)
        && from > to
    {
        let what = "the first model year is after the last".to_owned();
        return Err(("match.from", format!("{from} to {to}"), what));
    }
    Ok(MatchRule {
        engine,
        from_year: form.from,
        to_year: form.to,
    })
}

/// The families as a file; the same families give the same bytes.
///
/// # Errors
/// Only if the TOML writer refuses, which it has no reason to.
pub(super) fn write<'a>(families: impl Iterator<Item = &'a EngineFamily>) -> Result<String> {
    let family = families
        .map(|f| FamilyForm {
            id: f.id.clone(),
            title: Some(f.title.clone()),
            cylinders: f.cylinders,
            layout: f.layout,
            firing_order: (!f.firing_order.is_empty())
                .then(|| OrderForm::List(f.firing_order.clone())),
            bank_1: f.bank_1.clone(),
            bank_2: f.bank_2.clone(),
            matches: f
                .matches
                .iter()
                .map(|m| MatchForm {
                    engine: m.engine.clone(),
                    from: m.from_year,
                    to: m.to_year,
                })
                .collect(),
        })
        .collect();
    toml::to_string(&FileOut { family })
        .map_err(|e| Problem::data(format!("could not write the engine families: {e}")))
}
