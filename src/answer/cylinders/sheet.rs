//! `cylinders` as people see it.

use super::types::{CylinderRow, CylinderSensitivity, Cylinders, Finding, Pair};
use crate::answer::columns::Columns;
use crate::answer::sheet::{Answer, Cell, Grid, Sheet, Show};
use crate::answer::words;
use crate::domain::distance::DistanceUnit;

impl Answer for Cylinders {
    const CONTRACT: &'static str = "boretally.cylinders/1";

    fn sheet(&self) -> Sheet {
        let mut basis = self.question.lines();
        basis.push(format!(
            "one case a vehicle; {} intervals hold for all cylinders at once at {:.0} %",
            self.question.method,
            100.0 * self.question.level
        ));
        if let Some(test) = &self.test {
            basis.push(match test.draws {
                None => "exact multinomial test of equal shares".to_string(),
                Some(draws) => {
                    format!(
                        "Monte Carlo test of equal shares ({draws} draws, seed {})",
                        test.seed.unwrap_or(0)
                    )
                }
            });
            basis.push(format!(
                "size of the difference: {} (Cohen's w {}, {} without the part that chance brings)",
                test.effect,
                words::number(test.effect_w),
                words::number(test.effect_w_corrected)
            ));
        }
        basis.push(words::evidence(&self.evidence, DistanceUnit::Kilometre));
        let mut grids = vec![self.cylinder_grid(), self.pair_grid()];
        if !self.sensitivity.is_empty() {
            grids.push(self.sensitivity_grid());
        }
        Sheet {
            title: format!(
                "Which cylinder fails most? {}, {}",
                self.family_title,
                self.cause_words()
            ),
            basis,
            verdict: self.verdict.clone(),
            grids,
            caveats: self.caveats.clone(),
        }
    }
}

impl Cylinders {
    /// The causes in words.
    pub fn cause_words(&self) -> String {
        if self.causes.is_empty() {
            "every cause".to_string()
        } else {
            self.causes.join(", ")
        }
    }

    fn cylinder_grid(&self) -> Grid {
        let mut columns: Columns<'_, CylinderRow> = Columns::default();
        columns.add("cylinder", "cylinder", Show::Text, |r| {
            Cell::Text(r.cylinder.to_string())
        });
        columns.add("cases", "cases", Show::Count, |r| {
            Cell::Whole(r.count as i64)
        });
        columns.share("share", "share", |r| Some(&r.share));
        if self.unknown > 0 {
            columns.add("at_least", "at least", Show::Percent, |r| {
                Cell::Number(r.at_least)
            });
            columns.add("at_most", "at most", Show::Percent, |r| {
                Cell::Number(r.at_most)
            });
        }
        let mut grid = columns.grid("cylinders", "Cases by cylinder", &self.cylinders);
        let mut unknown = vec![
            Cell::Text("unknown".to_string()),
            Cell::Whole(self.unknown as i64),
        ];
        unknown.resize(grid.headings.len(), Cell::Empty);
        grid.rows.push(unknown);
        grid
    }

    fn pair_grid(&self) -> Grid {
        let mut columns: Columns<'_, Pair> = Columns::default();
        columns.add("a", "cylinder", Show::Text, |p| Cell::Text(p.a.to_string()));
        columns.add("b", "against", Show::Text, |p| Cell::Text(p.b.to_string()));
        columns.add("count_a", "cases", Show::Count, |p| {
            Cell::Whole(p.count_a as i64)
        });
        columns.add("count_b", "cases of the other", Show::Count, |p| {
            Cell::Whole(p.count_b as i64)
        });
        columns.add("p", "p", Show::PValue, |p| Cell::Number(p.p));
        columns.add("p_holm", "p (Holm)", Show::PValue, |p| {
            Cell::Number(p.p_holm)
        });
        columns.add("differ", "differ", Show::Text, |p| {
            Cell::Text(if p.differ { "yes" } else { "not shown" }.to_string())
        });
        columns.grid("pairs", "Each pair, exact binomial test", &self.pairs)
    }

    fn sensitivity_grid(&self) -> Grid {
        let mut columns: Columns<'_, CylinderSensitivity> = Columns::default();
        columns.add("rule", "under another rule", Show::Text, |s| {
            Cell::Text(s.rule.clone())
        });
        columns.add("cases", "cases", Show::Count, |s| {
            Cell::Whole(s.cases as i64)
        });
        columns.add("p", "p", Show::PValue, |s| {
            s.p.map_or(Cell::Empty, Cell::Number)
        });
        columns.add("finding", "finding", Show::Text, |s| {
            Cell::Text(
                match s.finding {
                    Finding::Differ => "cylinders differ",
                    Finding::NoDifferenceSeen => "no difference seen",
                    Finding::TooFew => "cannot tell",
                }
                .to_string(),
            )
        });
        columns.add("changes_verdict", "changes the verdict", Show::Text, |s| {
            Cell::Text(if s.changes_verdict { "yes" } else { "no" }.to_string())
        });
        columns.grid("sensitivity", "Under other rules", &self.sensitivity)
    }
}
