//! The whole sheet, and the one table of groups that heads it.

use super::detail::whole;
use crate::answer::columns::{Columns, distance_heading};
use crate::answer::life::distances::KAPLAN_MEIER;
use crate::answer::life::types::{GroupLife, Life};
use crate::answer::parts::Estimate;
use crate::answer::sheet::{Answer, Cell, Grid, Sheet, Show};

/// Groups whose details are printed; with more the main table alone tells more.
pub(super) const DETAILED: usize = 6;

impl Answer for Life {
    const CONTRACT: &'static str = "boretally.life/1";

    fn sheet(&self) -> Sheet {
        let mut basis = self.question.lines();
        let clock = match self.clock {
            "odometer" => "the odometer's reading",
            "repair" => "distance since the last repair of it",
            _ => "distance of the engine (the odometer, unless it was replaced)",
        };
        basis.push(format!(
            "first failures over {clock}; Kaplan-Meier with late entry, log-log limits; fits by maximum likelihood, limits by \
             likelihood ratio; all at {:.0} %",
            100.0 * self.question.level
        ));
        let mut grids = vec![self.main_grid()];
        if self.groups.len() <= DETAILED {
            grids.extend(self.details());
        } else {
            basis.push(format!(
                "the details of {} groups are in --format json; ask for fewer to see them here",
                self.groups.len()
            ));
        }
        grids.extend(self.comparison_grids());
        grids.extend(self.cause_grids());
        let sensitivity = self.sensitivity_grid();
        if !sensitivity.rows.is_empty() {
            grids.push(sensitivity);
        }
        Sheet {
            title: format!(
                "From which distance on does it fail? {}, {}",
                self.whose, self.what
            ),
            basis,
            verdict: self.verdict.clone(),
            grids,
            caveats: self.caveats.clone(),
        }
    }
}

impl Life {
    fn main_grid(&self) -> Grid {
        let unit = self.unit();
        let mut columns: Columns<'_, GroupLife> = Columns::default();
        columns.key(&self.question.by, |g| &g.key);
        columns.add("failures", "first failures", Show::Count, |g| {
            whole(g.evidence.events)
        });
        columns.add("walk_ins", "walk-ins", Show::Count, |g| whole(g.walk_ins));
        columns.add("lives", "lives", Show::Count, |g| whole(g.lives));
        columns.add("vehicles", "vehicles", Show::Count, |g| {
            whole(g.evidence.vehicles)
        });
        columns.add(
            "exposure",
            distance_heading("at risk", unit),
            Show::Quantity,
            move |g| {
                g.evidence
                    .exposure_m
                    .map_or(Cell::Empty, |m| self.metres(m as f64))
            },
        );
        columns.add(
            "begins",
            distance_heading("curve from", unit),
            Show::Quantity,
            move |g| g.from_m.map_or(Cell::Empty, |m| self.metres(m as f64)),
        );
        self.distances(&mut columns, "tenth", "10 % failed by", |g| {
            by_method(g, 0.1, KAPLAN_MEIER)
        });
        self.distances(&mut columns, "half", "50 % failed by", |g| {
            by_method(g, 0.5, KAPLAN_MEIER)
        });
        columns.add("best_fit", "best fit", Show::Text, |g| {
            g.fits
                .first()
                .map_or(Cell::Empty, |f| Cell::Text(f.distribution.to_string()))
        });
        self.distances(&mut columns, "tenth_by_fit", "10 % by it", |g| {
            by_method(g, 0.1, g.fits.first()?.distribution)
        });
        columns.add("rate_at_most", "rate at most", Show::Quantity, |g| {
            g.bound
                .as_ref()
                .map_or(Cell::Empty, |b| Cell::Number(b.rate_at_most))
        });
        columns.grid("groups", "First failures by group", &self.groups)
    }

    fn details(&self) -> Vec<Grid> {
        let mut grids = vec![
            self.curve_grid(),
            self.share_grid(),
            self.fit_grid(),
            self.parameter_grid(),
            self.hazard_grid(),
            self.ahead_grid(),
            self.cause_grid(),
            self.bound_grid(),
        ];
        grids.retain(|g| !g.rows.is_empty());
        grids
    }
}

/// The distance of a share by one method.
fn by_method(group: &GroupLife, share: f64, method: &str) -> Option<Estimate> {
    group
        .shares
        .iter()
        .find(|s| s.share == share && s.method == method)
        .and_then(|s| s.distance.clone())
}
