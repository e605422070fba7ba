//! `budget` as people see it.

use super::reason_grids::{assumption_grid, bad_grid};
use super::types::{Budget, BudgetQuestion};
use crate::answer::sheet::{Answer, Grid, Sheet};
use crate::domain::distance::DistanceUnit;

/// Units that tables for people list; JSON, CSV files and the workbook have all.
const UNITS_SHOWN: usize = 20;
/// The range that tables for people show.
const SHOWN: [f64; 1] = [0.8];

impl Answer for Budget {
    const CONTRACT: &'static str = "boretally.budget/1";

    fn sheet(&self) -> Sheet {
        Sheet {
            title: format!(
                "How many repairs, and what will they cost? ({})",
                self.question.repairs
            ),
            basis: self.question.lines(),
            verdict: self.verdict.clone(),
            grids: self.grids([
                self.range_grid(false),
                self.unit_grid(UNITS_SHOWN),
                self.month_grid(&SHOWN),
            ]),
            caveats: self.caveats.clone(),
        }
    }
}

impl Budget {
    /// Every table with every unit, family, month and range, for files to calculate on with.
    pub fn whole_grids(&self) -> Vec<Grid> {
        self.grids([
            self.range_grid(true),
            self.unit_grid(usize::MAX),
            self.month_grid(&super::outlook::LEVELS),
        ])
    }

    fn grids(&self, [ranges, units, months]: [Grid; 3]) -> Vec<Grid> {
        let mut grids = vec![self.family_grid(), ranges];
        if !self.bad_rows.is_empty() {
            grids.push(bad_grid(&self.bad_rows));
        }
        grids.push(units);
        grids.push(months);
        grids.push(self.driver_grid());
        if !self.options.is_empty() {
            grids.push(self.option_grid());
        }
        grids.push(assumption_grid(&self.assumptions));
        grids
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

    pub(super) fn lines(&self) -> Vec<String> {
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
