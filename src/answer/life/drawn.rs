//! Points for the charts, computed here because a chart computes nothing.

use super::curve::Curve;
use super::fits::Fits;
use super::model::{Model, metres};
use super::types::{Drawn, WeibullPaper};
use crate::stats::lifetime::{Family, probability_plot};

/// Points of a fitted line.
const POINTS: u32 = 80;

/// What the charts of a group need beside its numbers.
pub fn drawn(model: &Model, curve: &Curve, fits: &Fits) -> Drawn {
    let left = curve.table.rows().iter().filter(|row| row.left > 0);
    let begins = curve
        .table
        .stretches()
        .find(|(from, ..)| *from >= curve.from);
    Drawn {
        at_start: begins.map_or(0, |(_, _, at_risk)| at_risk),
        left_at_m: left.map(|row| metres(row.distance)).collect(),
        fit_line: fit_line(model, curve, fits).unwrap_or_default(),
        paper: paper(curve, fits),
    }
}

fn fit_line(model: &Model, curve: &Curve, fits: &Fits) -> Option<Vec<(i64, f64)>> {
    let fit = fits.families.first()?;
    let end = model.well_filled_to().filter(|end| *end > curve.from)?;
    let step = (end - curve.from) / f64::from(POINTS);
    let at = |i: u32| curve.from + f64::from(i) * step;
    let points = (1..=POINTS).map(|i| {
        let failed = fit.failure_probability(curve.from, at(i));
        (metres(at(i)), 1.0 - failed)
    });
    let start = (metres(curve.from), 1.0);
    Some(std::iter::once(start).chain(points).collect())
}

fn paper(curve: &Curve, fits: &Fits) -> Option<WeibullPaper> {
    let fit = fits.families.iter().find(|f| f.family == Family::Weibull)?;
    let survives = if curve.from > 0.0 {
        fit.survival(curve.from)
    } else {
        1.0
    };
    let points = probability_plot(&curve.kaplan_meier, Family::Weibull, survives);
    Some(WeibullPaper {
        points: points
            .iter()
            .map(|p| (metres(p.distance), p.standard))
            .collect(),
        location: fit.parameters.location,
        sigma: fit.sigma(),
    })
}
