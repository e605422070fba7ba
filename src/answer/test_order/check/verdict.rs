//! The check in plain words.

use super::ENOUGH;
use super::types::{Comparison, Stage, TestOrderCheck};
use crate::answer::parts::Estimate;
use crate::answer::words;

/// Two tests of calibration are made, so each is held to half of 5 %.
pub(super) const CHANCE: f64 = 0.025;

impl Stage {
    /// Whether the odds are off by more than chance.
    pub fn off(&self) -> bool {
        let below = |p: Option<f64>| p.is_some_and(|p| p < CHANCE);
        below(self.calibration_p) || below(self.slope_p)
    }

    /// Calibration in one sentence.
    pub fn calibration_words(&self) -> String {
        let bold = self.slope.as_ref().map(|s| s.value);
        let mut text = match (self.off(), bold) {
            (false, _) => "the odds agree with what happened within chance".to_string(),
            (true, Some(b)) if b < 1.0 => {
                "the odds are off by more than chance: too bold".to_string()
            }
            (true, _) => "the odds are off by more than chance: too timid".to_string(),
        };
        let p = |p: Option<f64>| p.map_or("not known".to_string(), |p| format!("{p:.3}"));
        text += &format!(
            " (p = {} for the first cause, {} for all",
            p(self.calibration_p),
            p(self.slope_p)
        );
        if let Some(slope) = &self.slope {
            text += &format!(
                "; slope {}, 1 when calibrated, {}",
                words::number(slope.value),
                words::interval(slope)
            );
        }
        text + ")"
    }
}

pub(super) fn verdict(answer: &TestOrderCheck) -> Vec<String> {
    if !answer.enough {
        return vec![format!(
            "Too few cases to judge: {} up to {}, {} after it; {ENOUGH} of each are needed.",
            answer.learnt_from, answer.day, answer.judged
        )];
    }
    let mut lines = Vec::new();
    if let Some(stage) = answer.stage("first_abnormal") {
        let score = &stage.records;
        lines.push(format!(
            "Learnt from {} cases up to {}, judged by {} later ones: {} the cause named first was the true one in {} ({}), its \
             mean rank {}.",
            answer.learnt_from,
            answer.day,
            answer.judged,
            stage.title,
            words::percent(score.first_right.value),
            limits_in_percent(&score.first_right),
            words::number(score.mean_rank)
        ));
        lines.extend(stage.gained.as_ref().map(|g| gain(g, stage.title)));
    }
    for stage in answer.stages.iter().filter(|s| s.fair) {
        let title = stage.title;
        let mut capital = title.chars();
        let first = capital.next().map(|c| c.to_uppercase().to_string());
        lines.push(format!(
            "{}{}: {}.",
            first.unwrap_or_default(),
            capital.as_str(),
            stage.calibration_words()
        ));
    }
    lines.extend(answer.minutes.iter().filter_map(against_the_plan));
    lines
}

fn gain(gained: &Estimate, title: &str) -> String {
    let upper = gained.upper.unwrap_or(f64::INFINITY);
    let what = match (gained.lower > 0.0, upper < 0.0) {
        (false, true) => "The records beat the catalog alone",
        (true, false) => "The catalog alone was better than the records",
        _ => "Records and catalog alone cannot be told apart",
    };
    format!(
        "{what} {title}: log score {} ({}); below 0 the records help.",
        words::number(gained.value),
        words::interval(gained)
    )
}

/// Which way takes fewer minutes, with the doubt; nothing for the plan itself and for what is not set against it as a whole.
fn against_the_plan(way: &Comparison) -> Option<String> {
    let name = match way.id.as_str() {
        "habit" => "the orders recorded at the sites",
        "cheapest_first" => "the cheapest test first",
        "information_per_minute" => "the most information for a minute",
        _ => return None,
    };
    let more = way.more.as_ref()?;
    let upper = more.upper.unwrap_or(f64::INFINITY);
    let interval = words::interval(more);
    let cases = way.cases;
    let mean = words::number(more.value.abs());
    Some(match (more.lower > 0.0, upper < 0.0) {
        (true, _) => format!(
            "The plan wins over {name} by {mean} minutes a case ({interval}), for the causes of the {cases} cases judged."
        ),
        (_, true) => format!(
            "The plan loses to {name} by {mean} minutes a case ({interval} for what it wins), for the causes of the {cases} cases judged."
        ),
        _ => format!(
            "The plan and {name} cannot be told apart: {} minutes a case more than the plan ({interval}).",
            words::number(more.value)
        ),
    })
}

fn limits_in_percent(e: &Estimate) -> String {
    format!(
        "{:.0} % {} to {}",
        100.0 * e.level,
        words::percent(e.lower),
        words::percent(e.upper.unwrap_or(1.0))
    )
}
