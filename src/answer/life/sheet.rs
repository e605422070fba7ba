//! `life` as people see it: one table of groups, then the details of each.

use super::distances::KAPLAN_MEIER;
use super::types::{
    Ahead, AheadByFit, CauseIncidence, ComparedGroup, FitParameter, GroupLife, HazardBand, Life,
    LifeFit, LifeRule, Milestone, ShareFailed, StatedShape,
};
use crate::answer::columns::{Columns, distance_heading};
use crate::answer::label::RowKey;
use crate::answer::parts::Estimate;
use crate::answer::sheet::{Answer, Cell, Grid, Sheet, Show};

/// Groups whose details are printed; with more the main table alone tells more.
const DETAILED: usize = 6;

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

/// A detail of a group.
struct Of<'a, T> {
    key: &'a RowKey,
    row: &'a T,
}

impl Life {
    fn metres(&self, m: f64) -> Cell {
        Cell::Number(m / self.unit().metres_per_unit())
    }

    /// Value and limits in metres, shown in the reader's unit.
    fn distances<'a, R>(
        &'a self,
        columns: &mut Columns<'a, R>,
        id: &str,
        title: &str,
        take: impl Fn(&R) -> Option<Estimate> + Copy + 'a,
    ) {
        let unit = self.unit();
        columns.add(
            id,
            distance_heading(title, unit),
            Show::Quantity,
            move |r| take(r).map_or(Cell::Empty, |e| self.metres(e.value)),
        );
        columns.add(format!("{id}_lower"), "from", Show::Quantity, move |r| {
            take(r).map_or(Cell::Empty, |e| self.metres(e.lower))
        });
        columns.add(format!("{id}_upper"), "to", Show::Quantity, move |r| {
            take(r).map_or(Cell::Empty, |e| {
                self.metres(e.upper.unwrap_or(f64::INFINITY))
            })
        });
    }

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

    fn of<'a, T>(&'a self, list: impl Fn(&'a GroupLife) -> &'a [T]) -> Vec<Of<'a, T>> {
        self.groups
            .iter()
            .flat_map(|g| list(g).iter().map(|row| Of { key: &g.key, row }))
            .collect()
    }

    fn curve_grid(&self) -> Grid {
        let rows = self.of(|g| &g.milestones);
        let unit = self.unit();
        let mut columns: Columns<'_, Of<'_, Milestone>> = Columns::default();
        columns.key(&self.question.by, |r| r.key);
        columns.add(
            "distance",
            distance_heading("distance", unit),
            Show::Quantity,
            move |r| self.metres(r.row.distance_m as f64),
        );
        columns.add("at_risk", "at risk", Show::Count, |r| whole(r.row.at_risk));
        columns.add("failed", "failed so far", Show::Count, |r| {
            whole(r.row.failed)
        });
        columns.add("left", "left so far", Show::Count, |r| whole(r.row.left));
        columns.share("survival", "without failure", |r| r.row.survival.as_ref());
        columns.grid("curve", "Without failure up to each distance", &rows)
    }

    fn share_grid(&self) -> Grid {
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

    fn fit_grid(&self) -> Grid {
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

    fn parameter_grid(&self) -> Grid {
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

    fn hazard_grid(&self) -> Grid {
        let rows = self.of(|g| &g.hazard);
        let unit = self.unit();
        let every = rows.iter().any(|r| r.row.every_failure.is_some());
        let mut columns: Columns<'_, Of<'_, HazardBand>> = Columns::default();
        columns.key(&self.question.by, |r| r.key);
        columns.add("band", "band", Show::Text, |r| {
            Cell::Text(r.row.band.clone())
        });
        columns.add("failures", "first failures", Show::Count, |r| {
            whole(r.row.failures)
        });
        columns.add(
            "exposure",
            distance_heading("at risk", unit),
            Show::Quantity,
            move |r| self.metres(r.row.exposure_m as f64),
        );
        columns.estimate(
            "rate",
            format!("first per 100 000 {}", unit.symbol()),
            |r| r.row.rate.as_ref(),
        );
        if every {
            columns.estimate(
                "every_failure",
                format!("every per 100 000 {}", unit.symbol()),
                |r| r.row.every_failure.as_ref(),
            );
        }
        columns.grid("hazard", "Rate of first failures by mileage band", &rows)
    }

    fn ahead_grid(&self) -> Grid {
        let mut rows: Vec<(&RowKey, &Ahead, Option<&AheadByFit>)> = Vec::new();
        for group in &self.groups {
            if let Some(ahead) = &group.ahead {
                rows.push((&group.key, ahead, None));
                rows.extend(ahead.fits.iter().map(|fit| (&group.key, ahead, Some(fit))));
            }
        }
        let unit = self.unit();
        let mut columns: Columns<'_, (&RowKey, &Ahead, Option<&AheadByFit>)> = Columns::default();
        columns.key(&self.question.by, |r| r.0);
        columns.add(
            "from",
            distance_heading("having come", unit),
            Show::Quantity,
            |r| self.metres(r.1.from_m as f64),
        );
        columns.add(
            "over",
            distance_heading("over the next", unit),
            Show::Quantity,
            |r| self.metres(r.1.over_m as f64),
        );
        columns.add("method", "by", Show::Text, |r| {
            Cell::Text(r.2.map_or(KAPLAN_MEIER, |f| f.distribution).to_string())
        });
        columns.share("probability", "fails", |r| {
            r.2.map_or(r.1.observed.as_ref(), |f| Some(&f.probability))
        });
        columns.add("why", "why none", Show::Text, |r| {
            let why = r.1.why.clone().filter(|_| r.2.is_none());
            why.map_or(Cell::Empty, Cell::Text)
        });
        columns.grid(
            "ahead",
            "Probability to fail within a further distance",
            &rows,
        )
    }

    fn cause_grid(&self) -> Grid {
        let rows = self.of(|g| &g.incidence);
        let mut columns: Columns<'_, Of<'_, CauseIncidence>> = Columns::default();
        columns.key(&self.question.by, |r| r.key);
        columns.add("cause", "cause", Show::Text, |r| {
            Cell::Text(r.row.title.clone())
        });
        columns.add("failed", "first failures", Show::Count, |r| {
            whole(r.row.failed)
        });
        columns.add("share", "failed first by it", Show::Percent, |r| {
            last(r.row, |s| Some(s.share))
        });
        columns.add("share_lower", "from", Show::Percent, |r| {
            last(r.row, |s| s.lower)
        });
        columns.add("share_upper", "to", Show::Percent, |r| {
            last(r.row, |s| s.upper)
        });
        columns.grid(
            "incidence",
            "Which cause came first, by the end of the curve",
            &rows,
        )
    }

    fn bound_grid(&self) -> Grid {
        let mut rows: Vec<(&RowKey, &StatedShape)> = Vec::new();
        for group in &self.groups {
            let shapes = group.bound.iter().flat_map(|b| &b.shapes);
            rows.extend(shapes.map(|s| (&group.key, s)));
        }
        let unit = self.unit();
        let mut columns: Columns<'_, (&RowKey, &StatedShape)> = Columns::default();
        columns.key(&self.question.by, |r| r.0);
        columns.add("shape", "if the Weibull shape is", Show::Quantity, |r| {
            Cell::Number(r.1.shape)
        });
        columns.add("source", "which is", Show::Text, |r| {
            Cell::Text(r.1.source.to_string())
        });
        columns.add("share", "share", Show::Percent, |r| Cell::Number(r.1.share));
        columns.add(
            "at_least",
            distance_heading("not failed before", unit),
            Show::Quantity,
            |r| self.metres(r.1.at_least_m),
        );
        columns.add("beyond", "beyond the data", Show::Text, |r| {
            Cell::Text(if r.1.beyond { "yes" } else { "no" }.to_string())
        });
        columns.grid("bound", "What so few failures can say", &rows)
    }

    fn comparison_grids(&self) -> Vec<Grid> {
        let by = &self.question.by;
        self.comparisons
            .iter()
            .enumerate()
            .map(|(i, c)| {
                let mut columns: Columns<'_, ComparedGroup> = Columns::default();
                columns.add("group", by.join(", "), Show::Text, |g| {
                    Cell::Text(g.key.title())
                });
                columns.add("observed", "first failures", Show::Quantity, |g| {
                    Cell::Number(g.observed)
                });
                columns.add(
                    "expected",
                    "expected if all were alike",
                    Show::Quantity,
                    |g| Cell::Number(g.expected),
                );
                columns.add("ratio", "times", Show::Quantity, |g| {
                    if g.expected > 0.0 {
                        Cell::Number(g.observed / g.expected)
                    } else {
                        Cell::Empty
                    }
                });
                let title = format!(
                    "Do the groups differ? {}: log-rank chi-square {:.2} on {} degrees of freedom",
                    self.what_of(&c.what),
                    c.chi_square,
                    c.degrees_of_freedom
                );
                columns.grid(&format!("comparison_{}", i + 1), &title, &c.groups)
            })
            .collect()
    }

    fn sensitivity_grid(&self) -> Grid {
        let mut columns: Columns<'_, LifeRule> = Columns::default();
        columns.add("rule", "under another rule", Show::Text, |r| {
            Cell::Text(r.rule.clone())
        });
        columns.key(&self.question.by, |r| &r.key);
        columns.add("failures", "first failures", Show::Count, |r| {
            whole(r.failures)
        });
        self.distances(&mut columns, "tenth", "10 % failed by", |r: &LifeRule| {
            r.tenth.clone()
        });
        columns.add("changes_verdict", "changes the verdict", Show::Text, |r| {
            Cell::Text(if r.changes_verdict { "yes" } else { "no" }.to_string())
        });
        let all = self.groups.len() <= DETAILED;
        let told = self.sensitivity.iter().filter(|r| all || r.changes_verdict);
        let told: Vec<LifeRule> = told.cloned().collect();
        let title = match all {
            true => "Under other rules",
            false => "Where another rule changes the verdict",
        };
        columns.grid("sensitivity", title, &told)
    }
}

fn whole(n: u64) -> Cell {
    Cell::Whole(n as i64)
}

/// The distance of a share by one method.
pub fn by_method(group: &GroupLife, share: f64, method: &str) -> Option<Estimate> {
    group
        .shares
        .iter()
        .find(|s| s.share == share && s.method == method)
        .and_then(|s| s.distance.clone())
}

/// A figure of a cause at the end of its curve.
fn last(
    cause: &CauseIncidence,
    take: impl Fn(&super::types::IncidenceStep) -> Option<f64>,
) -> Cell {
    cause
        .steps
        .last()
        .and_then(take)
        .map_or(Cell::Empty, Cell::Number)
}
