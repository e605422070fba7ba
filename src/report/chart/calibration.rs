//! Odds of the first cause against how often it was the one: a reliability diagram for each moment that is judged.

use super::axis::Scale;
use super::ink::{BEHIND, GRID, MAIN, QUIET, TEXT, UNKNOWN};
use super::picture::{Anchor, Mark, Picture};
use crate::answer::test_order::check::{CalibrationBin, Stage, TestOrderCheck};

const WIDTH: f64 = 900.0;
const SIDE: f64 = 330.0;
const LEFTS: [f64; 2] = [84.0, 528.0];
/// Half the width of a bar's end.
const CAP: f64 = 4.0;

/// The picture of a check; `None` where there were too few cases to judge.
pub fn chart(answer: &TestOrderCheck) -> Option<Picture> {
    let stages: Vec<&Stage> = answer.stages.iter().filter(|s| s.fair).collect();
    stages.first()?;
    let title = "Were the odds as good as they said?";
    let mut lines: Vec<String> = answer.verdict.iter().take(2).cloned().collect();
    lines.push(format!(
        "Blue disc: odds from the records with the {:.0} % Wilson interval of how often the first cause was the one, and the number of \
         cases; grey square: the catalog alone. On the diagonal the odds are as good as they say.",
        100.0 * level(&stages)
    ));
    let mut p = Picture::titled(WIDTH, title, &lines);
    let top = p.heading(title, &lines) + 34.0;
    for (stage, left) in stages.iter().zip(LEFTS) {
        panel(&mut p, stage, left, top);
    }
    p.height = top + SIDE + 128.0;
    Some(p)
}

fn level(stages: &[&Stage]) -> f64 {
    let bins = stages.iter().flat_map(|s| &s.calibration);
    bins.map(|b| b.right.level).next().unwrap_or(0.95)
}

fn panel(p: &mut Picture, stage: &Stage, left: f64, top: f64) {
    let (right, bottom) = (left + SIDE, top + SIDE);
    let x = Scale::new(0.0, 1.0, left, right);
    let y = Scale::new(0.0, 1.0, bottom, top);
    let title = format!("{} ({} cases)", stage.title, stage.cases);
    p.bold((left, top - 26.0), title, 13.0, Anchor::Start, TEXT);
    for tick in x.ticks(5) {
        let text = format!("{:.0} %", 100.0 * tick);
        p.line((left, y.at(tick)), (right, y.at(tick)), GRID, 1.0);
        p.line((x.at(tick), top), (x.at(tick), bottom), GRID, 1.0);
        p.text(
            (left - 8.0, y.at(tick)),
            text.clone(),
            11.0,
            Anchor::End,
            QUIET,
        );
        p.text(
            (x.at(tick), bottom + 14.0),
            text,
            11.0,
            Anchor::Middle,
            QUIET,
        );
    }
    p.dashed((left, bottom), (right, top), QUIET, 1.4);
    for bin in &stage.catalog_calibration {
        let at = (x.at(bin.odds), y.at(bin.right.value));
        p.filled((at.0 - 4.0, at.1 - 4.0), (8.0, 8.0), UNKNOWN);
    }
    for bin in &stage.calibration {
        disc(p, bin, &x, &y);
    }
    let middle = 0.5 * (left + right);
    let axis = "odds of the first cause";
    p.text((middle, bottom + 34.0), axis, 11.5, Anchor::Middle, TEXT);
    let share = "how often it was the one";
    p.text((left, top - 9.0), share, 10.5, Anchor::Start, QUIET);
    scores(p, stage, left, bottom + 56.0);
}

fn disc(p: &mut Picture, bin: &CalibrationBin, x: &Scale, y: &Scale) {
    let at = (x.at(bin.odds), y.at(bin.right.value));
    let ends = [bin.right.lower, bin.right.upper.unwrap_or(1.0)].map(|v| y.at(v));
    p.line((at.0, ends[0]), (at.0, ends[1]), MAIN, 1.8);
    for end in ends {
        p.line((at.0 - CAP, end), (at.0 + CAP, end), MAIN, 1.8);
    }
    p.marks.push(Mark::Disc {
        at,
        radius: 4.5,
        ink: MAIN,
    });
    // Beside the bar, on the side where there is room.
    let (dx, anchor) = match bin.odds > 0.9 {
        true => (-8.0, Anchor::End),
        false => (8.0, Anchor::Start),
    };
    p.text(
        (at.0 + dx, at.1 - 8.0),
        bin.cases.to_string(),
        10.5,
        anchor,
        TEXT,
    );
}

/// Scores and the verdict of the moment under its panel.
fn scores(p: &mut Picture, stage: &Stage, left: f64, y: f64) {
    p.line((left, y - 8.0), (left + SIDE, y - 8.0), BEHIND, 1.0);
    let (r, c) = (&stage.records, &stage.catalog);
    let p_of = |p: Option<f64>| p.map_or("–".to_string(), |p| format!("{p:.3}"));
    let slope = stage.slope.as_ref().map_or("–".to_string(), |s| {
        format!(
            "{:.2} ({:.2} to {:.2})",
            s.value,
            s.lower,
            s.upper.unwrap_or(f64::INFINITY)
        )
    });
    let verdict = match (stage.off(), stage.slope.as_ref().map(|s| s.value < 1.0)) {
        (false, _) => "Agrees with what happened within chance.",
        (true, Some(true)) => "Off by more than chance: too bold.",
        (true, _) => "Off by more than chance: too timid.",
    };
    let rows = [
        verdict.to_string(),
        format!(
            "p {} (first cause), {} (all); slope {slope}",
            p_of(stage.calibration_p),
            p_of(stage.slope_p)
        ),
        format!(
            "log score {:.2}, catalog alone {:.2}; Brier {:.2}, {:.2}",
            r.log_score, c.log_score, r.brier, c.brier
        ),
    ];
    for (i, row) in rows.into_iter().enumerate() {
        let at = (left, y + 6.0 + 17.0 * i as f64);
        match i {
            0 => p.bold(at, row, 11.5, Anchor::Start, TEXT),
            _ => p.text(at, row, 11.0, Anchor::Start, QUIET),
        }
    }
}
