//! What was typed about the vehicle and the shop: a distance, an access, minutes, results known already.

use std::collections::BTreeMap;
use std::path::Path;

use crate::answer::test_order::model::Seen;
use crate::domain::catalog::{Catalog, Kind};
use crate::domain::distance::DistanceUnit;
use crate::domain::mileage_band::MileageBands;
use crate::domain::problem::{Problem, Result};
use crate::domain::toml_file;

/// The mileage band of a distance with its unit.
pub fn odometer(typed: &str, bands: &MileageBands) -> Result<usize> {
    let split = typed
        .find(|c: char| c.is_alphabetic())
        .unwrap_or(typed.len());
    let (number, unit) = typed.split_at(split);
    let plain: String = number
        .chars()
        .filter(|c| !matches!(c, ' ' | ',' | '_'))
        .collect();
    let metres = DistanceUnit::parse(unit)
        .zip(plain.parse::<f64>().ok().filter(|n| *n >= 0.0))
        .and_then(|(unit, n)| unit.to_metres(n));
    metres.and_then(|m| bands.index_of(m)).ok_or_else(|| {
        Problem::usage("not a distance with its unit")
            .field("--odometer")
            .value(typed)
            .remedy("write it like 182000km or 113000mi")
    })
}

/// Access in words or as a number from 0 to 1.
pub fn access(typed: &str) -> Result<f64> {
    let number = match typed {
        "easy" => Some(0.0),
        "hard" => Some(1.0),
        other => other
            .parse::<f64>()
            .ok()
            .filter(|a| (0.0..=1.0).contains(a)),
    };
    number.ok_or_else(|| {
        Problem::usage("not an access")
            .field("--access")
            .value(typed)
            .remedy("write easy, hard, or a number from 0 to 1")
    })
}

/// Minutes of tests and set-ups from a TOML file.
pub fn minutes(file: &Path, catalog: &Catalog) -> Result<BTreeMap<String, f64>> {
    let text = toml_file::read(file, "read the minutes")?;
    let typed: BTreeMap<String, f64> = toml_file::from_text(&text, file)?;
    typed
        .into_iter()
        .map(|(name, minutes)| {
            let wrong = |p: Problem| p.file(file).value(name.as_str());
            if !(minutes.is_finite() && minutes > 0.0) {
                let what = format!("{minutes} is no number of minutes above 0");
                return Err(wrong(Problem::data(what)).remedy("correct the line"));
            }
            let set_up = catalog.set_ups().iter().find(|s| s.id == name);
            let id = match set_up {
                Some(set_up) => set_up.id.as_str(),
                None => catalog.expect(Kind::Test, &name, &name).map_err(wrong)?,
            };
            Ok((id.to_string(), minutes))
        })
        .collect()
}

/// Reads `TEST:RESULT`, `TEST:abnormal:PATH`, each with `@CYLINDER` after it or not.
pub fn seen(typed: &str, catalog: &Catalog, cylinder: Option<u8>) -> Result<Seen> {
    let wrong = |what: &str| {
        Problem::usage(what).field("--seen").value(typed).remedy(
            "write it like cranking_compression:abnormal@1 or cylinder_leakage:abnormal:exhaust@1",
        )
    };
    let (result, at) = match typed.split_once('@') {
        Some((result, at)) => (result, Some(at)),
        None => (typed, None),
    };
    if let Some(at) = at {
        let at: u8 = at.parse().map_err(|_| wrong("the cylinder is no number"))?;
        if cylinder.is_some_and(|c| c != at) {
            return Err(wrong(
                "this result is of another cylinder than the one at fault",
            ));
        }
    }
    let mut parts = result.split(':');
    let (Some(test), Some(result)) = (parts.next(), parts.next()) else {
        return Err(wrong("a result is a test and what it showed"));
    };
    let path = parts.next();
    let abnormal = match catalog.expect(Kind::TestResult, result, "--seen")? {
        "normal" => false,
        "abnormal" => true,
        _ => return Err(wrong("a result that is not clear says nothing")),
    };
    if parts.next().is_some() || (path.is_some() && !abnormal) {
        return Err(wrong(
            "there is more in it than a test, a result and a leak path",
        ));
    }
    Ok(Seen {
        test: catalog.expect(Kind::Test, test, "--seen")?.to_string(),
        abnormal,
        path: path
            .map(|p| {
                catalog
                    .expect(Kind::LeakPath, p, "--seen")
                    .map(str::to_string)
            })
            .transpose()?,
    })
}
