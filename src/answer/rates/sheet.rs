//! `rates` as people see it: verdict, one table of cells, one of sensitivity.

use super::compute::highest;
use super::types::{RateRow, Rates, VersusOthers};
use crate::answer::columns::{Columns, distance_heading};
use crate::answer::parts::Estimate;
use crate::answer::sheet::{Answer, Cell, Grid, Sheet, Show};
use crate::answer::words;
use crate::domain::distance::DistanceUnit;

impl Answer for Rates {
    const CONTRACT: &'static str = "boretally.rates/1";

    fn sheet(&self) -> Sheet {
        let mut basis = self.question.lines();
        basis.push(format!(
            "{}, {} interval at {:.0} %",
            self.unit,
            self.question.method,
            100.0 * self.question.level
        ));
        basis.push(words::evidence(&self.total.evidence, self.distance_unit()));
        let mut grids = vec![self.cells()];
        if !self.sensitivity.is_empty() {
            grids.push(self.sensitivity_grid());
        }
        Sheet {
            title: "How often does it fail?".to_string(),
            basis,
            verdict: self.verdict.clone(),
            grids,
            caveats: self.caveats.clone(),
        }
    }
}

impl Rates {
    /// The reader's distance unit.
    pub fn distance_unit(&self) -> DistanceUnit {
        if self.question.units == "us" {
            DistanceUnit::Mile
        } else {
            DistanceUnit::Kilometre
        }
    }

    fn cells(&self) -> Grid {
        let unit = self.distance_unit();
        let mut columns: Columns<'_, RateRow> = Columns::default();
        columns.key(&self.question.by, |r| &r.key);
        columns.add("events", "failures", Show::Count, |r| {
            count_or_hidden(r, r.evidence.events)
        });
        columns.add("walk_ins", "walk-ins", Show::Count, |r| {
            count_or_hidden(r, r.walk_ins)
        });
        if self.total.after_last_visit > 0 {
            columns.add("after_last_visit", "after last visit", Show::Count, |r| {
                count_or_hidden(r, r.after_last_visit)
            });
        }
        columns.add("vehicles", "vehicles", Show::Count, |r| {
            Cell::Whole(r.evidence.vehicles as i64)
        });
        columns.add(
            "exposure",
            distance_heading("exposure", unit),
            Show::Quantity,
            move |r| {
                r.evidence
                    .exposure_m
                    .map_or(Cell::Empty, |m| Cell::Number(unit.from_metres(m)))
            },
        );
        columns.estimate("rate", format!("per 100 000 {}", unit.symbol()), |r| {
            r.estimate.as_ref()
        });
        columns.add("sites", "sites", Show::Count, |r| {
            Cell::Whole(r.evidence.sites as i64)
        });
        if self
            .rows
            .iter()
            .any(|r| r.across_sites.as_ref().is_some_and(|a| a.widened))
        {
            columns.limits("across_sites", "across sites", |r| {
                r.across_sites
                    .as_ref()
                    .filter(|a| a.widened)
                    .map(|a| &a.interval)
            });
        }
        if self.rows.iter().any(|r| r.shrunk.is_some()) {
            columns.add("shrunk", "shrunk", Show::Quantity, |r| {
                r.shrunk
                    .as_ref()
                    .map_or(Cell::Empty, |e| Cell::Number(e.value))
            });
        }
        columns.add("rank", "rank", Show::Count, |r| {
            r.rank.map_or(Cell::Empty, |n| Cell::Whole(n as i64))
        });
        if self.cells_compared > 0 {
            columns.estimate("ratio", "times the other engines", |r| {
                r.versus_others.as_ref().map(|v| &v.ratio)
            });
            columns.add("p_adjusted", "p (adjusted)", Show::PValue, |r| {
                r.versus_others
                    .as_ref()
                    .map_or(Cell::Empty, |v| Cell::Number(v.p_adjusted))
            });
        }
        let mut grid = columns.grid(
            "cells",
            "Failures over distance under observation",
            &self.rows,
        );
        if self.rows.len() > 1 {
            grid.rows.push(self.total_row(&grid));
        }
        grid
    }

    /// The last row: all cells together, under the same headings.
    fn total_row(&self, grid: &Grid) -> Vec<Cell> {
        let total = &self.total;
        let unit = self.distance_unit();
        grid.headings
            .iter()
            .enumerate()
            .map(|(i, heading)| match heading.id.as_str() {
                _ if i == 0 => Cell::Text("all".to_string()),
                "events" => Cell::Whole(total.evidence.events as i64),
                "walk_ins" => Cell::Whole(total.walk_ins as i64),
                "after_last_visit" => Cell::Whole(total.after_last_visit as i64),
                "vehicles" => Cell::Whole(total.evidence.vehicles as i64),
                "exposure" => {
                    Cell::Number(unit.from_metres(total.evidence.exposure_m.unwrap_or(0)))
                }
                "sites" => Cell::Whole(total.evidence.sites as i64),
                "rate" => total
                    .estimate
                    .as_ref()
                    .map_or(Cell::Empty, |e| Cell::Number(e.value)),
                "rate_lower" => total
                    .estimate
                    .as_ref()
                    .map_or(Cell::Empty, |e| Cell::Number(e.lower)),
                "rate_upper" => total
                    .estimate
                    .as_ref()
                    .and_then(|e| e.upper)
                    .map_or(Cell::Empty, Cell::Number),
                _ => Cell::Empty,
            })
            .collect()
    }

    fn sensitivity_grid(&self) -> Grid {
        let unit = self.distance_unit();
        let mut columns: Columns<'_, super::types::Sensitivity> = Columns::default();
        columns.add("rule", "under another rule", Show::Text, |s| {
            Cell::Text(s.rule.clone())
        });
        columns.add("events", "failures", Show::Count, |s| {
            Cell::Whole(s.events as i64)
        });
        columns.estimate("rate", format!("per 100 000 {}", unit.symbol()), |s| {
            s.estimate.as_ref()
        });
        columns.add("highest", "highest cell", Show::Text, |s| {
            s.highest.clone().map_or(Cell::Empty, Cell::Text)
        });
        columns.add("changes_verdict", "changes the verdict", Show::Text, |s| {
            Cell::Text(if s.changes_verdict { "yes" } else { "no" }.to_string())
        });
        columns.grid(
            "sensitivity",
            "All cells together under other rules",
            &self.sensitivity,
        )
    }
}

/// A count, or how small it was said to be.
fn count_or_hidden(row: &RateRow, count: u64) -> Cell {
    match row.suppressed_below {
        Some(n) => Cell::Text(format!("< {n}")),
        None => Cell::Whole(count as i64),
    }
}

/// The answer in plain words.
pub fn verdict(answer: &Rates) -> Vec<String> {
    let Some(total) = &answer.total.estimate else {
        return vec![
            "There is no distance under observation, so no rate can be given.".to_string(),
        ];
    };
    let mut lines = vec![format!(
        "All together: {} ({}), from {}.",
        rate_words(total, answer),
        words::interval(total),
        words::evidence(&answer.total.evidence, answer.distance_unit())
    )];
    let Some(top) = highest(&answer.rows).filter(|_| answer.rows.len() > 1) else {
        return lines;
    };
    let Some(estimate) = &top.estimate else {
        return lines;
    };
    let mut line = format!(
        "Highest: {}, {} ({}), from {}",
        top.key.title(),
        rate_words(estimate, answer),
        words::interval(estimate),
        words::count(top.evidence.events, "failure")
    );
    match &top.versus_others {
        Some(v) if v.p_adjusted < 0.05 && v.ratio.value > 1.0 => {
            line += &format!(
                "; {}, more than chance would often give",
                times_the_others(v)
            );
        }
        Some(v) => {
            line += &format!(
                "; {}, which chance alone could give (p {:.2} after adjustment)",
                times_the_others(v),
                v.p_adjusted
            );
        }
        None => {}
    }
    lines.push(line + ".");
    lines
}

/// A ratio to a rate of zero has no number.
fn times_the_others(versus: &VersusOthers) -> String {
    if versus.ratio.value.is_finite() {
        format!(
            "{} times the other engines",
            words::number(versus.ratio.value)
        )
    } else {
        "the other engines had no failure".to_string()
    }
}

fn rate_words(estimate: &Estimate, answer: &Rates) -> String {
    format!("{} {}", words::number(estimate.value), answer.unit)
}
