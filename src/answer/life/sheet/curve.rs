//! What is read off the lives without a distribution.

use super::detail::{Of, whole};
use crate::answer::columns::{Columns, distance_heading};
use crate::answer::label::RowKey;
use crate::answer::life::distances::KAPLAN_MEIER;
use crate::answer::life::types::{
    Ahead, AheadByFit, CauseIncidence, HazardBand, IncidenceStep, Life, Milestone,
};
use crate::answer::sheet::{Cell, Grid, Show};

impl Life {
    pub(super) fn curve_grid(&self) -> Grid {
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

    pub(super) fn hazard_grid(&self) -> Grid {
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

    pub(super) fn ahead_grid(&self) -> Grid {
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

    pub(super) fn cause_grid(&self) -> Grid {
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
}

/// A figure of a cause at the end of its curve.
fn last(cause: &CauseIncidence, take: impl Fn(&IncidenceStep) -> Option<f64>) -> Cell {
    cause
        .steps
        .last()
        .and_then(take)
        .map_or(Cell::Empty, Cell::Number)
}
