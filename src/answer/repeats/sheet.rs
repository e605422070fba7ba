//! `repeats` as people see it: means by distance, costs, comebacks, failures after a repair.

use super::types::{Comeback, MeanPoint, RepeatGroup, Repeats, SecondFailure};
use crate::answer::columns::{Columns, distance_heading};
use crate::answer::label::RowKey;
use crate::answer::sheet::{Answer, Cell, Grid, Sheet, Show};
use crate::domain::distance::DistanceUnit;

/// A group, one of its points, and the money of its costs.
type Row<'a> = (&'a RowKey, &'a MeanPoint, String);

impl Answer for Repeats {
    const CONTRACT: &'static str = "boretally.repeats/1";

    fn sheet(&self) -> Sheet {
        let mut basis = self.question.lines();
        basis.push(format!(
            "means with limits that respect vehicles (Lawless-Nadeau, log scale), shares by {}, at {:.0} %",
            self.question.method,
            100.0 * self.question.level
        ));
        let mut grids = vec![self.means()];
        let more = [
            self.costs(),
            self.comeback_grid(),
            self.second_grid(),
            self.sensitivity_grid(),
        ];
        grids.extend(more.into_iter().filter(|g| !g.rows.is_empty()));
        Sheet {
            title: "How many repairs has a vehicle had, and do they come back?".to_string(),
            basis,
            verdict: self.verdict.clone(),
            grids,
            caveats: self.caveats.clone(),
        }
    }
}

impl Repeats {
    /// The reader's distance unit.
    pub fn distance_unit(&self) -> DistanceUnit {
        match self.question.units {
            "us" => DistanceUnit::Mile,
            _ => DistanceUnit::Kilometre,
        }
    }

    fn means(&self) -> Grid {
        let unit = self.distance_unit();
        let rows: Vec<(&RepeatGroup, &MeanPoint)> = self
            .groups
            .iter()
            .flat_map(|g| g.at.iter().map(move |p| (g, p)))
            .collect();
        let mut columns: Columns<'_, (&RepeatGroup, &MeanPoint)> = Columns::default();
        columns.key(&self.question.by, |r| &r.0.key);
        columns.add(
            "distance",
            distance_heading("by", unit),
            Show::Count,
            move |r| Cell::Whole(unit.from_metres(r.1.distance_m).round() as i64),
        );
        columns.estimate("repairs_a_vehicle", "repairs a vehicle", |r| {
            r.1.mean.as_ref()
        });
        columns.add(
            "at_risk",
            "vehicles under observation there",
            Show::Count,
            |r| Cell::Whole(r.1.at_risk as i64),
        );
        columns.add("repairs", "repairs by then", Show::Count, |r| {
            Cell::Whole(r.1.repairs as i64)
        });
        columns.grid("means", "Mean number of repairs a vehicle", &rows)
    }

    fn costs(&self) -> Grid {
        let unit = self.distance_unit();
        let rows: Vec<Row<'_>> = self
            .groups
            .iter()
            .filter_map(|g| Some((g, g.cost.as_ref()?)))
            .flat_map(|(g, cost)| {
                let money = format!("{} of {}", cost.currency, cost.price_year);
                cost.at.iter().map(move |p| (&g.key, p, money.clone()))
            })
            .collect();
        let mut columns: Columns<'_, Row<'_>> = Columns::default();
        columns.key(&self.question.by, |r| r.0);
        columns.add(
            "distance",
            distance_heading("by", unit),
            Show::Count,
            move |r| Cell::Whole(unit.from_metres(r.1.distance_m).round() as i64),
        );
        columns.add("money", "money", Show::Text, |r| Cell::Text(r.2.clone()));
        columns.estimate("cost_a_vehicle", "cost a vehicle", |r| r.1.mean.as_ref());
        columns.add("priced", "priced repairs by then", Show::Count, |r| {
            Cell::Whole(r.1.repairs as i64)
        });
        columns.grid(
            "costs",
            "Mean cost of repairs a vehicle, in one money",
            &rows,
        )
    }

    fn comeback_grid(&self) -> Grid {
        let by: Vec<&'static str> = self
            .question
            .by
            .iter()
            .copied()
            .filter(|d| *d != "cause")
            .collect();
        let mut columns: Columns<'_, Comeback> = Columns::default();
        columns.key(&by, |r| &r.key);
        columns.add("repair", "repair", Show::Text, |r| {
            Cell::Text(r.title.clone())
        });
        columns.add("repairs", "repairs", Show::Count, |r| {
            Cell::Whole(r.repairs as i64)
        });
        columns.add("came_back", "came back", Show::Count, |r| {
            Cell::Whole(r.came_back as i64)
        });
        columns.share("share", "share", |r| r.share.as_ref());
        columns.add("vehicles", "vehicles", Show::Count, |r| {
            Cell::Whole(r.vehicles as i64)
        });
        columns.add("too_recent", "too recent to tell", Show::Count, |r| {
            Cell::Whole(r.too_recent as i64)
        });
        columns.grid(
            "comebacks",
            "Repairs that came back as the same failure within the comeback window",
            &self.comebacks,
        )
    }

    fn second_grid(&self) -> Grid {
        let unit = self.distance_unit();
        let metres = move |m: i64| Cell::Number(unit.from_metres(m));
        let mut columns: Columns<'_, SecondFailure> = Columns::default();
        columns.add("what", "next failure", Show::Text, |r| {
            Cell::Text(r.what.replace('_', " "))
        });
        columns.add("repairs", "repairs with the head off", Show::Count, |r| {
            Cell::Whole(r.repairs as i64)
        });
        columns.add("after_events", "failures after", Show::Count, |r| {
            Cell::Whole(r.after_events as i64)
        });
        columns.add(
            "after",
            distance_heading("in", unit),
            Show::Quantity,
            move |r| metres(r.after_m),
        );
        columns.add("first_events", "first failures", Show::Count, |r| {
            Cell::Whole(r.first_events as i64)
        });
        columns.add(
            "first",
            distance_heading("in", unit),
            Show::Quantity,
            move |r| metres(r.first_m),
        );
        columns.add("expected", "expected after", Show::Quantity, |r| {
            Cell::Number(r.expected)
        });
        columns.estimate("ratio", "times as often", |r| r.ratio.as_ref());
        columns.add("p", "p", Show::PValue, |r| Cell::Number(r.p));
        columns.grid(
            "second_failures",
            "Failures after a repair with the head off, against first failures of the same families at the same distance",
            &self.second_failures,
        )
    }

    fn sensitivity_grid(&self) -> Grid {
        let mut columns: Columns<'_, super::types::RepeatRule> = Columns::default();
        columns.add("rule", "under another rule", Show::Text, |s| {
            Cell::Text(s.rule.clone())
        });
        columns.add("repairs", "repairs", Show::Count, |s| {
            Cell::Whole(s.repairs as i64)
        });
        columns.add("highest", "most repairs a vehicle", Show::Text, |s| {
            s.highest.clone().map_or(Cell::Empty, Cell::Text)
        });
        columns.add("changes_verdict", "changes the verdict", Show::Text, |s| {
            Cell::Text(if s.changes_verdict { "yes" } else { "no" }.to_string())
        });
        columns.grid(
            "sensitivity",
            "All groups under other rules",
            &self.sensitivity,
        )
    }
}
