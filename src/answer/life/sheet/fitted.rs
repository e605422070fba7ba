//! What fitted distributions say.

use super::detail::Of;
use crate::answer::columns::{Columns, distance_heading};
use crate::answer::label::RowKey;
use crate::answer::life::types::{FitParameter, Life, LifeFit, ShareFailed};
use crate::answer::sheet::{Cell, Grid, Show};

impl Life {
    pub(super) fn share_grid(&self) -> Grid {
        let rows = self.of(|g| &g.shares);
        let mut columns: Columns<'_, Of<'_, ShareFailed>> = Columns::default();
        columns.key(&self.question.by, |r| r.key);
        columns.add("share", "failed", Show::Percent, |r| {
            Cell::Number(r.row.share)
        });
        columns.add("method", "by", Show::Text, |r| {
            Cell::Text(r.row.method.clone())
        });
        columns.add(
            "given",
            distance_heading("given", self.unit()),
            Show::Quantity,
            |r| self.metres(r.row.given_m as f64),
        );
        self.distances(&mut columns, "distance", "at", |r: &Of<'_, ShareFailed>| {
            r.row.distance.clone()
        });
        columns.add("at_least", "no sooner than", Show::Quantity, |r| {
            r.row.at_least_m.map_or(Cell::Empty, |m| self.metres(m))
        });
        columns.add("why", "why none", Show::Text, |r| {
            r.row.why.clone().map_or(Cell::Empty, Cell::Text)
        });
        columns.grid("shares", "Distance by which a share has failed", &rows)
    }

    pub(super) fn fit_grid(&self) -> Grid {
        let rows = self.of(|g| &g.fits);
        let mut columns: Columns<'_, Of<'_, LifeFit>> = Columns::default();
        columns.key(&self.question.by, |r| r.key);
        columns.add("distribution", "distribution", Show::Text, |r| {
            Cell::Text(r.row.distribution.to_string())
        });
        columns.add("log_likelihood", "log-likelihood", Show::Quantity, |r| {
            Cell::Number(r.row.log_likelihood)
        });
        columns.add("aic", "AIC", Show::Quantity, |r| Cell::Number(r.row.aic));
        columns.add("bic", "BIC", Show::Quantity, |r| Cell::Number(r.row.bic));
        columns.add("aic_behind", "behind the best", Show::Quantity, |r| {
            Cell::Number(r.row.aic_behind)
        });
        columns.add("p", "p of fitting", Show::PValue, |r| {
            r.row
                .goodness
                .as_ref()
                .and_then(|g| g.p)
                .map_or(Cell::Empty, Cell::Number)
        });
        columns.grid("fits", "Fitted distributions, best first", &rows)
    }

    pub(super) fn parameter_grid(&self) -> Grid {
        let mut rows: Vec<(&RowKey, &'static str, &FitParameter)> = Vec::new();
        for group in &self.groups {
            for fit in &group.fits {
                rows.extend(
                    fit.parameters
                        .iter()
                        .map(|p| (&group.key, fit.distribution, p)),
                );
            }
        }
        let unit = self.unit();
        // A name that ends in _m is a distance.
        let shown = move |p: &FitParameter, x: f64| {
            if p.name.ends_with("_m") {
                self.metres(x)
            } else {
                Cell::Number(x)
            }
        };
        let mut columns: Columns<'_, (&RowKey, &'static str, &FitParameter)> = Columns::default();
        columns.key(&self.question.by, |r| r.0);
        columns.add("distribution", "distribution", Show::Text, |r| {
            Cell::Text(r.1.to_string())
        });
        columns.add("parameter", "parameter", Show::Text, move |r| {
            Cell::Text(match r.2.name.strip_suffix("_m") {
                Some(name) => distance_heading(name, unit),
                None => r.2.name.to_string(),
            })
        });
        columns.add("estimate", "estimate", Show::Quantity, move |r| {
            shown(r.2, r.2.estimate.value)
        });
        columns.add("lower", "from", Show::Quantity, move |r| {
            shown(r.2, r.2.estimate.lower)
        });
        columns.add("upper", "to", Show::Quantity, move |r| {
            shown(r.2, r.2.estimate.upper.unwrap_or(f64::INFINITY))
        });
        columns.add(
            "standard_error",
            "standard error",
            Show::Quantity,
            move |r| shown(r.2, r.2.standard_error),
        );
        columns.grid("parameters", "Their parameters", &rows)
    }
}
