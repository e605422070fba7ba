//! `shares` as people see it.

use super::types::{CauseShare, ShareGroup, ShareSensitivity, Shares};
use crate::answer::columns::Columns;
use crate::answer::label::RowKey;
use crate::answer::sheet::{Answer, Cell, Grid, Sheet, Show};
use crate::answer::words;
use crate::domain::distance::DistanceUnit;

impl Answer for Shares {
    const CONTRACT: &'static str = "boretally.shares/1";

    fn sheet(&self) -> Sheet {
        let mut basis = self.question.lines();
        if let Some(complaint) = &self.complaint {
            basis.insert(0, format!("complaint: {complaint}"));
        }
        basis.push(format!(
            "{}; {} interval at {:.0} %",
            self.kind,
            self.question.method,
            100.0 * self.question.level
        ));
        let mut grids = vec![self.causes_grid()];
        if self.groups.iter().any(|g| !g.unconfirmed.is_empty()) {
            grids.push(self.unconfirmed_grid());
        }
        if !self.sensitivity.is_empty() {
            grids.push(self.sensitivity_grid());
        }
        Sheet {
            title: "What was at fault? Shares among confirmed failures".to_string(),
            basis,
            verdict: self.verdict.clone(),
            grids,
            caveats: self.caveats.clone(),
        }
    }
}

impl Shares {
    fn causes_grid(&self) -> Grid {
        let rows: Vec<(&RowKey, &ShareGroup, &CauseShare)> = self
            .groups
            .iter()
            .flat_map(|g| g.causes.iter().map(move |c| (&g.key, g, c)))
            .collect();
        let mut columns: Columns<'_, (&RowKey, &ShareGroup, &CauseShare)> = Columns::default();
        columns.key(&self.question.by, |r| r.0);
        columns.add("cause", "cause", Show::Text, |r| {
            Cell::Text(r.2.title.clone())
        });
        columns.add("cases", "cases", Show::Count, |r| {
            Cell::Whole(r.2.count as i64)
        });
        columns.add("of", "of", Show::Count, |r| {
            Cell::Whole(r.1.confirmed_cases as i64)
        });
        columns.share("share", "share", |r| Some(&r.2.share));
        columns.add(
            "together_lower",
            "all causes at once from",
            Show::Percent,
            |r| {
                r.2.simultaneous
                    .as_ref()
                    .map_or(Cell::Empty, |e| Cell::Number(e.lower))
            },
        );
        columns.add("together_upper", "to", Show::Percent, |r| {
            r.2.simultaneous
                .as_ref()
                .and_then(|e| e.upper)
                .map_or(Cell::Empty, Cell::Number)
        });
        columns.grid(
            "shares",
            "Confirmed causes (share of failures, not a rate)",
            &rows,
        )
    }

    fn unconfirmed_grid(&self) -> Grid {
        let rows: Vec<_> = self
            .groups
            .iter()
            .flat_map(|g| g.unconfirmed.iter().map(move |u| (&g.key, u)))
            .collect();
        let mut columns: Columns<'_, (&RowKey, &super::types::OutcomeCount)> = Columns::default();
        columns.key(&self.question.by, |r| r.0);
        columns.add("outcome", "outcome", Show::Text, |r| {
            Cell::Text(r.1.outcome.replace('_', " "))
        });
        columns.add("cases", "cases", Show::Count, |r| {
            Cell::Whole(r.1.cases as i64)
        });
        columns.grid(
            "unconfirmed",
            "Cases without a confirmed cause (in no share)",
            &rows,
        )
    }

    fn sensitivity_grid(&self) -> Grid {
        let mut columns: Columns<'_, ShareSensitivity> = Columns::default();
        columns.add("rule", "under another rule", Show::Text, |s| {
            Cell::Text(s.rule.clone())
        });
        columns.add("cases", "confirmed cases", Show::Count, |s| {
            Cell::Whole(s.confirmed_cases as i64)
        });
        columns.add("first", "most frequent", Show::Text, |s| {
            s.first.clone().map_or(Cell::Empty, Cell::Text)
        });
        columns.add("changes_verdict", "changes the verdict", Show::Text, |s| {
            Cell::Text(if s.changes_verdict { "yes" } else { "no" }.to_string())
        });
        columns.grid(
            "sensitivity",
            "All groups together under other rules",
            &self.sensitivity,
        )
    }
}

/// The answer in plain words: one line a group.
pub fn verdict(answer: &Shares) -> Vec<String> {
    let mut lines = Vec::new();
    for group in &answer.groups {
        let Some(first) = group.causes.first() else {
            continue;
        };
        let who = if group.key.0.is_empty() {
            String::new()
        } else {
            format!("{}: ", group.key.title())
        };
        lines.push(format!(
            "{who}{} of {} confirmed failures {} {} ({:.0} % {} to {}).",
            first.count,
            group.confirmed_cases,
            if first.count == 1 { "was" } else { "were" },
            first.title,
            100.0 * first.share.level,
            words::percent(first.share.lower),
            words::percent(first.share.upper.unwrap_or(1.0)),
        ));
    }
    if lines.is_empty() {
        lines.push(
            "No confirmed failure matches the question, so no share can be given.".to_string(),
        );
    } else if lines.len() == 1
        && let Some(group) = answer.groups.iter().find(|g| !g.causes.is_empty())
    {
        lines.push(format!(
            "Behind it: {}.",
            words::evidence(&group.evidence, DistanceUnit::Kilometre)
        ));
    }
    lines
}
