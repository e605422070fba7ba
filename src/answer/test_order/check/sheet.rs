//! The check as people see it.

use super::types::{CalibrationBin, Comparison, Score, Stage, TestOrderCheck};
use crate::answer::columns::Columns;
use crate::answer::sheet::{Answer, Cell, Grid, Sheet, Show};

impl Answer for TestOrderCheck {
    const CONTRACT: &'static str = "boretally.test-order-check/1";

    fn sheet(&self) -> Sheet {
        let basis = vec![format!(
            "learnt from {} cases up to {}, judged by {} later ones",
            self.learnt_from, self.day, self.judged
        )];
        let mut grids = vec![self.scores_grid()];
        let judged = self.stages.iter().filter(|s| s.fair);
        grids.extend(judged.map(calibration_grid));
        grids.push(self.minutes_grid());
        Sheet {
            title: "Were the odds and the plan any good?".to_string(),
            basis,
            verdict: self.verdict.clone(),
            grids,
            caveats: self.caveats.clone(),
        }
    }
}

/// Odds of one source at one moment.
struct Line<'a> {
    title: String,
    score: &'a Score,
}

impl TestOrderCheck {
    fn scores_grid(&self) -> Grid {
        let lines = self.stages.iter().flat_map(|stage| {
            [
                ("records", &stage.records),
                ("catalog alone", &stage.catalog),
            ]
            .map(|(source, score)| Line {
                title: format!("{source}, {}", stage.title),
                score,
            })
        });
        let mut columns: Columns<'_, Line<'_>> = Columns::default();
        columns.add("odds", "odds from", Show::Text, |l| {
            Cell::Text(l.title.clone())
        });
        columns.add("log_score", "log score", Show::Quantity, |l| {
            Cell::Number(l.score.log_score)
        });
        columns.add("brier", "Brier (0 to 2)", Show::Quantity, |l| {
            Cell::Number(l.score.brier)
        });
        columns.share("first_right", "first cause right", |l| {
            Some(&l.score.first_right)
        });
        columns.add("mean_rank", "mean rank", Show::Quantity, |l| {
            Cell::Number(l.score.mean_rank)
        });
        columns.grid(
            "scores",
            "Odds of the true cause (lower scores are better)",
            &lines.collect::<Vec<_>>(),
        )
    }

    fn minutes_grid(&self) -> Grid {
        let mut columns: Columns<'_, Comparison> = Columns::default();
        columns.add("way", "way of working", Show::Text, |c| {
            Cell::Text(c.title.clone())
        });
        columns.add("cases", "cases", Show::Count, |c| {
            Cell::Whole(c.cases as i64)
        });
        columns.estimate("minutes", "minutes a case", |c| Some(&c.minutes));
        columns.estimate("more", "more than the plan", |c| c.more.as_ref());
        columns.grid(
            "minutes",
            "Minutes for the causes of the cases judged",
            &self.minutes,
        )
    }
}

fn calibration_grid(stage: &Stage) -> Grid {
    let mut columns: Columns<'_, CalibrationBin> = Columns::default();
    columns.add("from", "odds from", Show::Percent, |b| Cell::Number(b.from));
    columns.add("to", "to", Show::Percent, |b| Cell::Number(b.to));
    columns.add("cases", "cases", Show::Count, |b| {
        Cell::Whole(b.cases as i64)
    });
    columns.add("odds", "mean odds", Show::Percent, |b| Cell::Number(b.odds));
    columns.share("right", "was the one", |b| Some(&b.right));
    let id = match stage.id {
        "before" => "calibration_before",
        _ => "calibration",
    };
    columns.grid(
        id,
        &format!(
            "Odds of the first cause {} against how often it was the one",
            stage.title
        ),
        &stage.calibration,
    )
}
