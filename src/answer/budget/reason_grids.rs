//! What a budget rests on, as tables: where its spread comes from, repair against replacement, rows left out, assumptions.

use super::columns::number;
use super::types::{Assumption, BadRow, Budget, Driver, RepairOption};
use crate::answer::columns::{Columns, distance_heading};
use crate::answer::parts::Estimate;
use crate::answer::sheet::{Cell, Grid, Show};

type TakeEstimate = fn(&RepairOption) -> Option<&Estimate>;

impl Budget {
    /// What the spread comes from.
    pub(super) fn driver_grid(&self) -> Grid {
        let title = |id: &str| -> String {
            let family = self.families.iter().find(|f| f.family == id);
            family.map_or_else(|| "what families share".to_string(), |f| f.title.clone())
        };
        let mut columns: Columns<'_, Driver> = Columns::default();
        columns.add("family", "engine family", Show::Text, move |r| {
            Cell::Text(title(&r.family))
        });
        for (id, heading, take) in [
            (
                "share",
                "of the spread",
                (|r| r.share) as fn(&Driver) -> f64,
            ),
            ("chance", "chance", |r| r.chance),
            ("few_failures", "few failures", |r| r.few_failures),
            ("few_costs", "few costs", |r| r.few_costs),
        ] {
            // Parts of one whole: a tenth of a percent is as fine as anybody weighs them.
            columns.add(id, heading, Show::Percent, move |r| {
                Cell::Number((1e3 * take(r)).round() / 1e3)
            });
        }
        columns.grid("drivers", "What the spread comes from", &self.drivers)
    }

    /// Repair against replacement.
    pub(super) fn option_grid(&self) -> Grid {
        let unit = self.question.distance_unit();
        let mut columns: Columns<'_, RepairOption> = Columns::default();
        columns.add("option", "what is done", Show::Text, |r| {
            Cell::Text(r.title.clone())
        });
        columns.add("jobs", "jobs recorded", Show::Count, |r| {
            Cell::Whole(r.jobs as i64)
        });
        columns.add("cost_from", "cost from", Show::Text, |r| {
            Cell::Text(r.cost_from.to_string())
        });
        let estimates: [(&str, String, TakeEstimate); 3] = [
            ("cost", format!("cost ({})", self.question.money()), |r| {
                r.cost.as_ref()
            }),
            ("further_repairs", "further repairs".to_string(), |r| {
                r.further_repairs.as_ref()
            }),
            (
                "cost_per_distance",
                format!("cost per 1000 {}", unit.symbol()),
                |r| r.cost_per_distance.as_ref(),
            ),
        ];
        for (id, title, take) in estimates {
            columns.estimate(id, title, take);
        }
        columns.add(
            "break_even",
            distance_heading("cheaper from", unit),
            Show::Quantity,
            move |r| number(r.break_even_m.map(|m| unit.from_metres(m))),
        );
        columns.add("cheaper", "chance it is cheaper", Show::Percent, |r| {
            number(r.cheaper)
        });
        columns.grid(
            "options",
            "Repair against replacement, for the average engine of the roster (80 % intervals)",
            &self.options,
        )
    }
}

/// Rows of the roster that could not be used.
pub(super) fn bad_grid(rows: &[BadRow]) -> Grid {
    let mut columns: Columns<'_, BadRow> = Columns::default();
    columns.add("line", "line", Show::Count, |r| Cell::Whole(r.line as i64));
    for (id, take) in [
        ("unit", (|r| &r.unit) as fn(&BadRow) -> &String),
        ("field", |r| &r.field),
        ("value", |r| &r.value),
        ("problem", |r| &r.problem),
        ("remedy", |r| &r.remedy),
    ] {
        columns.add(id, id, Show::Text, move |r| Cell::Text(take(r).clone()));
    }
    columns.grid(
        "bad_rows",
        "Rows of the roster that are in no number here",
        rows,
    )
}

/// What is assumed.
pub(super) fn assumption_grid(rows: &[Assumption]) -> Grid {
    let mut columns: Columns<'_, Assumption> = Columns::default();
    columns.add("what", "assumed", Show::Text, |r| {
        Cell::Text(r.what.clone())
    });
    columns.add("value", "value", Show::Text, |r| {
        Cell::Text(r.value.clone())
    });
    columns.add("source", "from", Show::Text, |r| {
        Cell::Text(r.source.to_string())
    });
    columns.grid("assumptions", "What is assumed", rows)
}
