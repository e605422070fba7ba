//! The answer in plain words.

use super::caveats::FEW_FAULTS;
use super::compute::find;
use super::types::{CutOffRow, Range, Readings};
use crate::answer::parts::Estimate;
use crate::answer::words;

/// Where the healthy lie, how alike they are within an engine, and what separates the faulty; each in a sentence.
pub fn verdict(answer: &Readings) -> Vec<String> {
    let mut lines = Vec::new();
    let (Some(engines), Some(contrast)) = (
        find(&answer.ranges, "engine"),
        find(&answer.ranges, "contrast"),
    ) else {
        return lines;
    };
    lines.push(main_line(answer, engines));
    if contrast.readings > 0 && engines.engines > 0 {
        lines.push(contrast_line(answer, contrast));
    }
    match answer.cut_offs.first() {
        Some(cut) => lines.push(cut_line(cut)),
        None if answer.evidence.events == 0 => lines.push(
            "No fault that this test is looked at for was confirmed on a cylinder that was read, so no cut-off can be drawn."
                .to_string(),
        ),
        None => lines.push(
            "Confirmed faults and healthy cylinders read alike here, so no cut-off separates them.".to_string(),
        ),
    }
    lines
}

fn main_line(answer: &Readings, range: &Range) -> String {
    let n = format!(
        "{} with {}",
        words::count(range.engines, "engine"),
        words::count(range.readings, "healthy cylinder reading")
    );
    let unit = &range.unit;
    let Some(middle) = &range.median else {
        return format!(
            "No cylinder of {} was read in this test and shown to be healthy, so nothing can be said of what is normal.",
            answer.family_title
        );
    };
    match (&range.lower, &range.upper) {
        (Some(lower), Some(upper)) => format!(
            "95 % of engines with healthy cylinders read {} to {} {unit}, {} in the middle ({n}). {}.",
            end(lower),
            end(upper),
            words::number(middle.value),
            sentence(answer.label)
        ),
        _ => format!(
            "Comparison only: {n} read {} to {} {unit}, {} in the middle; too few for a range. {}.",
            words::number(range.least.unwrap_or(middle.value)),
            words::number(range.greatest.unwrap_or(middle.value)),
            words::number(middle.value),
            sentence(answer.label)
        ),
    }
}

fn sentence(text: &str) -> String {
    let mut letters = text.chars();
    letters.next().map_or(String::new(), |first| {
        first.to_uppercase().chain(letters).collect()
    })
}

/// An end with its interval.
fn end(e: &Estimate) -> String {
    format!("{} ({})", words::number(e.value), words::interval(e))
}

fn contrast_line(answer: &Readings, range: &Range) -> String {
    let what = if answer.contrast == "ratio" {
        "times the median of the others"
    } else {
        "points from the median of the others"
    };
    match (&range.lower, &range.upper, range.least, range.greatest) {
        (Some(lower), Some(upper), ..) => format!(
            "Within one engine, 95 % of healthy cylinders read {} to {} {what}.",
            words::number(lower.value),
            words::number(upper.value)
        ),
        (_, _, Some(least), Some(greatest)) => format!(
            "Within one engine, the healthy cylinders read {} to {} {what}.",
            words::number(least),
            words::number(greatest)
        ),
        _ => String::new(),
    }
}

fn cut_line(cut: &CutOffRow) -> String {
    let share = |e: &Estimate| {
        format!(
            "{} ({} to {})",
            words::percent(e.value),
            words::percent(e.lower),
            words::percent(e.upper.unwrap_or(1.0))
        )
    };
    let start = if cut.faulty < FEW_FAULTS {
        "A guess from few faults"
    } else {
        "Best cut-off"
    };
    format!(
        "{start}: a cylinder that {}. Beyond it lie {} of {} and within it {} of {}.",
        cut.rule,
        share(&cut.sensitivity),
        words::count(cut.faulty, "confirmed fault"),
        share(&cut.specificity),
        words::count(cut.healthy, "healthy cylinder")
    )
}
