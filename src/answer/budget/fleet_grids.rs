//! The fleet as tables: by family, unit by unit, month by month, and everything that may happen.

use super::columns::{Of, expected, number, ranges};
use super::types::{Budget, Expected, FamilyOutlook, MonthOutlook, Outlook, UnitOutlook};
use crate::answer::columns::{Columns, distance_heading};
use crate::answer::sheet::{Cell, Grid, Show};

/// A row of the main table: a family, or all.
struct FamilyRow<'a> {
    title: &'a str,
    outlook: &'a Outlook,
    family: Option<&'a FamilyOutlook>,
}

impl Budget {
    /// By engine family, and all of them.
    pub(super) fn family_grid(&self) -> Grid {
        let unit = self.question.distance_unit();
        let families = self.families.iter().map(|f| FamilyRow {
            title: &f.title,
            outlook: &f.outlook,
            family: Some(f),
        });
        let all = FamilyRow {
            title: "all",
            outlook: &self.total,
            family: None,
        };
        let rows: Vec<FamilyRow> = families.chain([all]).collect();
        let mut columns: Columns<'_, FamilyRow> = Columns::default();
        columns.add("family", "engine family", Show::Text, |r| {
            Cell::Text(r.title.to_string())
        });
        columns.add("units", "units", Show::Count, |r| {
            Cell::Whole(r.outlook.units as i64)
        });
        columns.add(
            "planned",
            distance_heading("planned", unit),
            Show::Quantity,
            move |r| Cell::Number(unit.from_metres(r.outlook.planned_m)),
        );
        expected(
            &mut columns,
            ("repairs", "repairs"),
            Of::Count,
            &[0.8],
            |r| Some(&r.outlook.count),
        );
        columns.add("none", "chance of none", Show::Percent, |r| {
            Cell::Number(r.outlook.none)
        });
        let money = self.question.money();
        if self.total.cost.is_some() {
            columns.add("cost_per_repair", "cost per repair", Show::Quantity, |r| {
                let cost = r.family.and_then(|f| f.cost_per_repair.as_ref());
                number(cost.map(|e| e.value))
            });
            let title = format!("cost ({money})");
            expected(&mut columns, ("cost", &title), Of::Amount, &[0.8], |r| {
                r.outlook.cost.as_ref()
            });
            columns.add(
                "reserve",
                format!("reserve at {:.0} %", 100.0 * self.question.confidence),
                Show::Quantity,
                |r| number(r.outlook.reserve.as_ref().map(|x| x.amount)),
            );
        }
        if self.total.downtime_days.is_some() {
            columns.add("downtime_days", "days off the road", Show::Quantity, |r| {
                number(r.outlook.downtime_days.as_ref().map(|e| e.expected))
            });
        }
        columns.add("failures", "failures behind it", Show::Count, |r| {
            r.family
                .map_or(Cell::Empty, |f| Cell::Whole(f.failures as i64))
        });
        columns.add("costed_repairs", "costs behind it", Show::Count, |r| {
            r.family
                .map_or(Cell::Empty, |f| Cell::Whole(f.costed_repairs as i64))
        });
        columns.grid("families", "By engine family", &rows)
    }

    /// Units, the first ones.
    pub fn unit_grid(&self, most: usize) -> Grid {
        let unit = self.question.distance_unit();
        let rows: Vec<&UnitOutlook> = self.units.iter().take(most).collect();
        let mut columns: Columns<'_, &UnitOutlook> = Columns::default();
        columns.add("rank", "rank", Show::Count, |r| Cell::Whole(r.rank as i64));
        columns.add("unit", "unit", Show::Text, |r| Cell::Text(r.unit.clone()));
        columns.add("family", "engine family", Show::Text, |r| {
            Cell::Text(r.family.clone())
        });
        columns.add(
            "start",
            distance_heading("engine at", unit),
            Show::Quantity,
            move |r| Cell::Number(unit.from_metres(r.start_m)),
        );
        columns.add(
            "planned",
            distance_heading("planned", unit),
            Show::Quantity,
            move |r| Cell::Number(unit.from_metres(r.planned_m)),
        );
        columns.add("planned_from", "plan from", Show::Text, |r| {
            Cell::Text(r.planned_from.to_string())
        });
        columns.add("probability", "chance of a repair", Show::Percent, |r| {
            Cell::Number(r.probability)
        });
        if self.total.cost.is_some() {
            columns.add("cost", "expected cost", Show::Quantity, |r| number(r.cost));
        }
        columns.add("repaired", "repaired before", Show::Text, |r| {
            Cell::Text(if r.repaired { "yes" } else { "no" }.to_string())
        });
        columns.add("reason", "why", Show::Text, |r| {
            Cell::Text(r.reason.clone())
        });
        let title = if self.units.len() > rows.len() {
            format!(
                "Look at these first: {} of {} units",
                rows.len(),
                self.units.len()
            )
        } else {
            "Unit by unit, the one to look at first on top".to_string()
        };
        columns.grid("units", &title, &rows)
    }

    /// Month by month, with the ranges of these levels.
    pub fn month_grid(&self, levels: &[f64]) -> Grid {
        let mut columns: Columns<'_, MonthOutlook> = Columns::default();
        columns.add("month", "month", Show::Count, |r| {
            Cell::Whole(i64::from(r.month))
        });
        columns.add("from", "from", Show::Day, |r| Cell::Day(r.from));
        expected(
            &mut columns,
            ("repairs", "repairs"),
            Of::Count,
            levels,
            |r| Some(&r.count),
        );
        if self.total.cost.is_some() {
            expected(&mut columns, ("cost", "cost"), Of::Amount, levels, |r| {
                r.cost.as_ref()
            });
            let title = ("cost_so_far", "cost so far");
            expected(&mut columns, title, Of::Amount, levels, |r| {
                r.cost_so_far.as_ref()
            });
            columns.add(
                "reserve_so_far",
                format!(
                    "reserve so far at {:.0} %",
                    100.0 * self.question.confidence
                ),
                Show::Quantity,
                |r| number(r.reserve_so_far.as_ref().map(|x| x.amount)),
            );
        }
        if self.total.downtime_days.is_some() {
            columns.add("downtime_days", "days off the road", Show::Quantity, |r| {
                number(r.downtime_days.as_ref().map(|e| e.expected))
            });
        }
        columns.grid("months", "Month by month", &self.months)
    }

    /// Everything that may happen: the whole fleet, and family by family where asked for.
    pub fn range_grid(&self, by_family: bool) -> Grid {
        let families = self.families.iter().filter(|_| by_family);
        let families = families.map(|f| (f.title.as_str(), &f.outlook));
        let rows: Vec<RangeRow> = std::iter::once(("all", &self.total))
            .chain(families)
            .flat_map(|(who, outlook)| {
                let money = format!("cost ({})", self.question.money());
                [
                    Some(("repairs".to_string(), Of::Count, &outlook.count)),
                    outlook.cost.as_ref().map(|cost| (money, Of::Amount, cost)),
                    outlook
                        .downtime_days
                        .as_ref()
                        .map(|days| ("days off the road".to_string(), Of::Amount, days)),
                ]
                .into_iter()
                .flatten()
                .map(move |(what, of, expected)| RangeRow {
                    who,
                    what,
                    of,
                    expected,
                })
            })
            .collect();
        let mut columns: Columns<'_, RangeRow> = Columns::default();
        columns.add("who", "engine family", Show::Text, |r| {
            Cell::Text(r.who.to_string())
        });
        columns.add("what", "what", Show::Text, |r| Cell::Text(r.what.clone()));
        columns.add("expected", "expected", Show::Quantity, |r| {
            Cell::Number(r.expected.expected)
        });
        let levels = super::outlook::LEVELS;
        ranges(&mut columns, "range", &levels, |r| Some((r.of, r.expected)));
        columns.grid("ranges", "What may happen", &rows)
    }
}

/// One quantity of one family, or of all.
struct RangeRow<'a> {
    who: &'a str,
    what: String,
    of: Of,
    expected: &'a Expected,
}
