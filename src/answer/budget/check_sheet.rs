//! Past budgets against what came, as people see them.

use super::check::{BudgetCheck, CheckRow, is_within};
use super::columns::{Of, expected, number};
use super::types::Expected;
use crate::answer::columns::{Columns, distance_heading};
use crate::answer::sheet::{Answer, Cell, Sheet, Show};

/// Ranges a past forecast is judged by.
const LEVELS: [f64; 2] = [0.8, 0.95];

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
        let title = ("repairs", "repairs expected");
        expected(&mut columns, title, Of::Count, &LEVELS, |r| Some(&r.count));
        columns.add("observed", "repairs seen", Show::Count, |r| {
            Cell::Whole(r.observed as i64)
        });
        for level in LEVELS {
            within(&mut columns, "within", level, |r| {
                Some((&r.count, r.observed as f64))
            });
        }
        if self.rows.iter().any(|r| r.cost.is_some()) {
            let heading = format!("cost ({})", self.question.money());
            let title = ("cost", heading.as_str());
            expected(&mut columns, title, Of::Amount, &LEVELS, |r| {
                r.cost.as_ref()
            });
            columns.add("observed_cost", "cost seen", Show::Quantity, |r| {
                number(r.observed_cost)
            });
            for level in LEVELS {
                within(&mut columns, "cost_within", level, |r| {
                    Some((r.cost.as_ref()?, r.observed_cost?))
                });
            }
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

/// Whether what came lay within the range of a level.
fn within<'a>(
    columns: &mut Columns<'a, CheckRow>,
    id: &str,
    level: f64,
    take: impl Fn(&CheckRow) -> Option<(&Expected, f64)> + 'a,
) {
    let percent = 100.0 * level;
    columns.add(
        format!("{id}_{percent:.0}"),
        format!("in {percent:.0} %"),
        Show::Text,
        move |r| {
            take(r).map_or(Cell::Empty, |(forecast, came)| {
                let inside = is_within(forecast, level, came);
                Cell::Text(if inside { "yes" } else { "no" }.to_string())
            })
        },
    );
}
