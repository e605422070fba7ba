//! Whether groups fail alike, and what other rules would change.

use super::detail::{failures, whole};
use super::groups::DETAILED;
use crate::answer::columns::Columns;
use crate::answer::life::types::{CauseComparison, ComparedGroup, Life, LifeRule};
use crate::answer::sheet::{Cell, Grid, Show};

impl Life {
    pub(super) fn comparison_grids(&self) -> Vec<Grid> {
        let by = &self.question.by;
        self.comparisons
            .iter()
            .enumerate()
            .map(|(i, c)| {
                let mut columns: Columns<'_, ComparedGroup> = Columns::default();
                columns.add("group", by.join(", "), Show::Text, |g| {
                    Cell::Text(g.key.title())
                });
                columns.add("observed", "first failures", Show::Count, |g| {
                    failures(g.observed)
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

    /// In which causes the groups differ.
    pub(super) fn cause_grids(&self) -> Vec<Grid> {
        let with_causes = self.comparisons.iter().enumerate();
        with_causes
            .filter(|(_, c)| !c.causes.is_empty())
            .map(|(i, c)| {
                let mut columns: Columns<'_, CauseComparison> = Columns::default();
                columns.add("cause", "cause", Show::Text, |c| Cell::Text(c.title.clone()));
                columns.add("failed", "first failures", Show::Count, |c| {
                    failures(c.groups.iter().map(|g| g.observed).sum())
                });
                columns.add("chi_square", "chi-square", Show::Quantity, |c| {
                    Cell::Number(c.chi_square)
                });
                columns.add("degrees_of_freedom", "degrees of freedom", Show::Count, |c| {
                    whole(c.degrees_of_freedom as u64)
                });
                columns.add("p", "p", Show::PValue, |c| c.p.map_or(Cell::Empty, Cell::Number));
                columns.add("p_adjusted", "p adjusted", Show::PValue, |c| {
                    c.p_adjusted.map_or(Cell::Empty, Cell::Number)
                });
                columns.add("most", "largest share", Show::Text, |c| {
                    c.most().map_or(Cell::Empty, |g| Cell::Text(g.key.title()))
                });
                columns.add("observed", "its failures", Show::Count, |c| {
                    c.most().map_or(Cell::Empty, |g| failures(g.observed))
                });
                columns.add("expected", "expected if all were alike", Show::Quantity, |c| {
                    c.most().map_or(Cell::Empty, |g| Cell::Number(g.expected))
                });
                let title = format!(
                    "Which causes do the groups differ in? {}: Gray's test of the share that fails first by each",
                    self.what_of(&c.what)
                );
                columns.grid(&format!("causes_{}", i + 1), &title, &c.causes)
            })
            .collect()
    }

    pub(super) fn sensitivity_grid(&self) -> Grid {
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
