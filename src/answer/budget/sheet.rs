//! `budget` and its check as people see them.

use super::check::{BudgetCheck, CheckRow, is_within};
use super::types::{
    Assumption, BadRow, Budget, BudgetQuestion, Driver, Expected, FamilyOutlook, MonthOutlook,
    Outlook, RepairOption, UnitOutlook,
};
use crate::answer::columns::{Columns, distance_heading};
use crate::answer::parts::Estimate;
use crate::answer::sheet::{Answer, Cell, Grid, Sheet, Show};
use crate::domain::distance::DistanceUnit;

type TakeEstimate = fn(&RepairOption) -> Option<&Estimate>;

/// Units that tables for people list; JSON, Parquet and the workbook have all.
const UNITS_SHOWN: usize = 20;

impl Answer for Budget {
    const CONTRACT: &'static str = "boretally.budget/1";

    fn sheet(&self) -> Sheet {
        let mut grids = vec![self.family_grid()];
        if !self.bad_rows.is_empty() {
            grids.push(bad_grid(&self.bad_rows));
        }
        grids.push(self.unit_grid(UNITS_SHOWN));
        grids.push(self.month_grid());
        grids.push(self.driver_grid());
        if !self.options.is_empty() {
            grids.push(self.option_grid());
        }
        grids.push(assumption_grid(&self.assumptions));
        Sheet {
            title: format!(
                "How many repairs, and what will they cost? ({})",
                self.question.repairs
            ),
            basis: self.question.lines(),
            verdict: self.verdict.clone(),
            grids,
            caveats: self.caveats.clone(),
        }
    }
}

impl BudgetQuestion {
    /// The reader's distance unit.
    pub fn distance_unit(&self) -> DistanceUnit {
        if self.units == "us" {
            DistanceUnit::Mile
        } else {
            DistanceUnit::Kilometre
        }
    }

    /// Currency and price year, for headings.
    pub fn money(&self) -> String {
        match &self.currency {
            Some(currency) => format!("{currency} of {}", self.price_year),
            None => "no cost known".to_string(),
        }
    }

    fn lines(&self) -> Vec<String> {
        vec![
            format!("repairs of: {}", self.causes.join(", ")),
            format!(
                "{} months from {}; records up to {}, confirmation level {} and above, comebacks within {} days folded in",
                self.months, self.from, self.known_to, self.confirmation, self.window_days
            ),
            format!(
                "{}; {} draws of the lives, {} simulated periods, seed {}",
                self.money(),
                self.draws,
                self.simulations,
                self.seed
            ),
        ]
    }
}

fn number(value: Option<f64>) -> Cell {
    value.map_or(Cell::Empty, Cell::Number)
}

/// Expected value and one range.
fn expected<'a, R>(
    columns: &mut Columns<'a, R>,
    id: &str,
    title: &str,
    level: f64,
    take: impl Fn(&R) -> Option<&Expected> + Copy + 'a,
) {
    columns.add(id, title, Show::Quantity, move |r| {
        number(take(r).map(|e| e.expected))
    });
    let end = move |r: &R, upper: bool| {
        let range = take(r)?.ranges.iter().find(|range| range.level == level)?;
        Some(if upper { range.upper } else { range.lower })
    };
    let percent = 100.0 * level;
    columns.add(
        format!("{id}_from_{percent:.0}"),
        format!("{percent:.0} % from"),
        Show::Quantity,
        move |r| number(end(r, false)),
    );
    columns.add(
        format!("{id}_to_{percent:.0}"),
        "to".to_string(),
        Show::Quantity,
        move |r| number(end(r, true)),
    );
}

/// A row of the main table: a family, or all.
struct FamilyRow<'a> {
    title: &'a str,
    outlook: &'a Outlook,
    family: Option<&'a FamilyOutlook>,
}

impl Budget {
    fn family_grid(&self) -> Grid {
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
        expected(&mut columns, "repairs", "repairs", 0.8, |r| {
            Some(&r.outlook.count)
        });
        columns.add("none", "chance of none", Show::Percent, |r| {
            // A chance of one in ten thousand is no chance to plan with; JSON has every digit.
            Cell::Number((1e4 * r.outlook.none).round() / 1e4)
        });
        let money = self.question.money();
        if self.total.cost.is_some() {
            columns.add("cost_per_repair", "cost per repair", Show::Quantity, |r| {
                let cost = r.family.and_then(|f| f.cost_per_repair.as_ref());
                number(cost.map(|e| e.value))
            });
            expected(&mut columns, "cost", &format!("cost ({money})"), 0.8, |r| {
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

    /// Month by month.
    pub fn month_grid(&self) -> Grid {
        let mut columns: Columns<'_, MonthOutlook> = Columns::default();
        columns.add("month", "month", Show::Count, |r| {
            Cell::Whole(i64::from(r.month))
        });
        columns.add("from", "from", Show::Day, |r| Cell::Day(r.from));
        expected(&mut columns, "repairs", "repairs", 0.8, |r| Some(&r.count));
        if self.total.cost.is_some() {
            expected(&mut columns, "cost", "cost", 0.8, |r| r.cost.as_ref());
            expected(&mut columns, "cost_so_far", "cost so far", 0.8, |r| {
                r.cost_so_far.as_ref()
            });
        }
        columns.grid("months", "Month by month", &self.months)
    }

    fn driver_grid(&self) -> Grid {
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
            columns.add(id, heading, Show::Percent, move |r| Cell::Number(take(r)));
        }
        columns.grid("drivers", "What the spread comes from", &self.drivers)
    }

    fn option_grid(&self) -> Grid {
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

fn bad_grid(rows: &[BadRow]) -> Grid {
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

fn assumption_grid(rows: &[Assumption]) -> Grid {
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

impl Answer for BudgetCheck {
    const CONTRACT: &'static str = "boretally.budget-check/1";

    fn sheet(&self) -> Sheet {
        let unit = self.question.distance_unit();
        let mut columns: Columns<'_, CheckRow> = Columns::default();
        columns.add("cut_off", "known up to", Show::Day, |r| {
            Cell::Day(r.cut_off)
        });
        columns.add("until", "checked to", Show::Day, |r| Cell::Day(r.until));
        columns.add("units", "engines", Show::Count, |r| {
            Cell::Whole(r.units as i64)
        });
        columns.add(
            "driven",
            distance_heading("driven", unit),
            Show::Quantity,
            move |r| Cell::Number(unit.from_metres(r.driven_m)),
        );
        columns.add("failures_known", "failures known", Show::Count, |r| {
            Cell::Whole(r.failures_known as i64)
        });
        expected(&mut columns, "repairs", "repairs expected", 0.8, |r| {
            Some(&r.count)
        });
        columns.add("observed", "repairs seen", Show::Count, |r| {
            Cell::Whole(r.observed as i64)
        });
        for level in [0.8, 0.95] {
            let percent = 100.0 * level;
            columns.add(
                format!("within_{percent:.0}"),
                format!("in {percent:.0} %"),
                Show::Text,
                move |r| {
                    let inside = is_within(&r.count, level, r.observed as f64);
                    Cell::Text(if inside { "yes" } else { "no" }.to_string())
                },
            );
        }
        if self.rows.iter().any(|r| r.cost.is_some()) {
            let heading = format!("cost ({})", self.question.money());
            expected(&mut columns, "cost", &heading, 0.8, |r| r.cost.as_ref());
            columns.add("observed_cost", "cost seen", Show::Quantity, |r| {
                number(r.observed_cost)
            });
        }
        Sheet {
            title: format!("Did past budgets hold? ({})", self.question.repairs),
            basis: self.question.lines(),
            verdict: self.verdict.clone(),
            grids: vec![columns.grid("checks", "Past forecasts against what came", &self.rows)],
            caveats: self.caveats.clone(),
        }
    }
}
