//! The comparison in plain words, and what must stand beside it.

use super::compute::Input;
use super::types::{Comparison, CylinderReading, Finding};
use crate::answer::caveats::standing;
use crate::answer::parts::Caveat;
use crate::answer::words;
use crate::domain::catalog::FaultySide;
use crate::domain::caution::hazards_of;

/// Which cylinder reads as faulty, by which rule, and what the records add.
pub fn verdict(answer: &Comparison) -> Vec<String> {
    let mut lines: Vec<String> = answer
        .cylinders
        .iter()
        .filter(|c| c.finding >= Finding::Unusual)
        .map(|c| line(answer, c))
        .collect();
    if lines.is_empty() {
        lines.push(nothing_stands_out(answer));
    }
    if answer.all_low {
        lines.push("Even the highest cylinder reads lower than sound engines do.".to_string());
    }
    if let Some(practice) = &answer.practice {
        lines.push(format!(
            "Common practice ({}): {}.",
            if answer.cylinders.len() < 2 {
                "needs several cylinders"
            } else if practice.kept {
                "kept"
            } else {
                "not kept"
            },
            practice.rule
        ));
    }
    if answer.cylinders.len() == 2 {
        lines.push(
            "With two cylinders a ratio alone cannot say which of them is the odd one; only the rule's side, the healthy range or a third \
             reading can."
                .to_string(),
        );
    }
    lines
}

fn line(answer: &Comparison, c: &CylinderReading) -> String {
    let mut text = format!(
        "Cylinder {} is {}: {} {}",
        c.cylinder,
        c.finding.title(),
        words::number(c.reading),
        answer.unit
    );
    let others = if answer.cylinders.len() == 2 {
        "the other cylinder"
    } else {
        "the median of the others"
    };
    if let Some(share) = c.of_highest.filter(|_| answer.practice.is_some()) {
        text += &format!(", {} of the highest", words::percent(share));
    }
    if let Some(against) = c.against_others {
        text += &if answer.contrast == "ratio" {
            format!(", {} times {others}", words::number(against))
        } else {
            format!(
                ", {} points {} {others}",
                words::number(against.abs()),
                if against < 0.0 { "below" } else { "above" }
            )
        };
    }
    if !c.because.is_empty() {
        text += &format!(" ({})", c.because.join("; "));
    }
    text + "."
}

fn nothing_stands_out(answer: &Comparison) -> String {
    if answer.practice.as_ref().is_some_and(|p| !p.kept) {
        return "The set is uneven, but it does not say which cylinder is the odd one.".to_string();
    }
    if answer
        .cylinders
        .iter()
        .all(|c| c.finding == Finding::Unjudged)
    {
        return if answer.cylinders.len() == 1 {
            "One reading alone cannot be judged: there are no other cylinders to set it against, and no healthy range on record.".to_string()
        } else {
            "Nothing here can judge these readings: common practice has no rule for them, and there are too few records.".to_string()
        };
    }
    "No cylinder stands out in this test.".to_string()
}

/// Caveats, then the cautions of this test and of the next.
pub fn caveats(answer: &Comparison, input: &Input<'_>) -> Vec<Caveat> {
    let mut out = Vec::new();
    let mut add = |id: &'static str, text: String| out.push(Caveat { id, text });
    match (&answer.records, &answer.family) {
        (None, None) => add(
            "no-records",
            "Judged by common practice alone: no records were asked for. Give --store and --family to set the readings against healthy \
             cylinders of the same engine."
                .to_string(),
        ),
        (None, Some(_)) => add(
            "no-records",
            "Judged by common practice alone: there is no store of records here, so the engine family makes no difference. Give --store."
                .to_string(),
        ),
        (Some(records), _) if records.lower.is_none() => add(
            "few-records",
            format!(
                "Only {} with healthy cylinders on record: no range can be drawn, so common practice alone judges.",
                words::count(records.engines, "engine")
            ),
        ),
        (Some(records), _) => add(
            "records",
            format!(
                "Records: {} of {}, {}. {}: the vehicle maker's published value always wins.",
                words::count(records.healthy, "healthy cylinder"),
                words::count(records.engines, "engine"),
                words::count(records.faulty, "confirmed fault"),
                "A shop comparison, not a specification"
            ),
        ),
    }
    if answer.records.is_some()
        && answer
            .cylinders
            .iter()
            .all(|c| c.likelihood_ratio.is_none())
    {
        add(
            "no-likelihood-ratio",
            "No likelihood ratio: it needs three cylinders read, three confirmed faults and twenty engines on record.".to_string(),
        );
    }
    if let Some(unit) = input.unit_inferred {
        add(
            "unit-inferred",
            format!("No unit was typed; the whole set fits {unit} only, so that was taken."),
        );
    }
    if answer.all_low {
        add(
            "all-low",
            "Low throughout: below 830 kPa (120 psi), the least that common practice has for a warm, sound spark-ignition engine, or below the \
             healthy range on record. What all cylinders share is the likelier cause."
                .to_string(),
        );
    }
    if input.test.faulty == FaultySide::Low
        && input
            .test
            .units
            .contains(&crate::domain::unit::Unit::Kilopascal)
    {
        add(
            "high-readings",
            "A cylinder can also read high (deposits, oil or fuel in it), which makes its neighbours look low.".to_string(),
        );
    }
    add(
        "same-conditions",
        format!("Compare only what was read alike: {}.", input.test.needs),
    );
    out.push(standing());
    let next = answer.next_steps.iter().filter_map(|s| s.test);
    let tests = std::iter::once(input.test).chain(next.filter_map(|id| input.catalog.test(id)));
    let ids: Vec<&str> = tests
        .flat_map(|t| t.hazards.iter().map(String::as_str))
        .collect();
    out.extend(hazards_of(ids).into_iter().map(|h| Caveat {
        id: h.id,
        text: format!("{}: {}", h.title, h.text),
    }));
    out
}
