//! What a reader must know before using an answer: caveats as data, each with its numbers.

use super::cylinders::Cylinders;
use super::parts::Caveat;
use super::rates::Rates;
use super::shares::Shares;
use super::words;
use crate::tally::Dimension;
use crate::tally::rates::RateTally;

fn caveat(id: &'static str, text: impl Into<String>) -> Caveat {
    Caveat {
        id,
        text: text.into(),
    }
}

/// Stands under every answer from records.
fn standing() -> Caveat {
    caveat(
        "not-a-diagnosis",
        "Statistics suggest an order of tests; they do not diagnose the vehicle in the bay: test it. The vehicle \
         maker's information, local codes and licensed practice come first.",
    )
}

/// Caveats of `rates`.
pub fn rates(answer: &Rates, tally: &RateTally) -> Vec<Caveat> {
    let mut out = Vec::new();
    let total = &answer.total;
    if total.evidence.exposure_m == Some(0) {
        out.push(caveat(
            "no-exposure",
            "No vehicle here was seen twice, so no distance was under observation and there is no rate. Ingest the \
             routine visits too, or ask for shares, which need no exposure.",
        ));
    }
    if total.walk_ins > 0 {
        out.push(caveat(
            "walk-ins-apart",
            format!(
                "{} of vehicles never seen before, shown beside the rate and not in it: the distance before a first visit is \
                 unknown.",
                words::count(total.walk_ins, "failure")
            ),
        ));
    }
    out.push(caveat(
        "visits-only",
        "Distance counts from a vehicle's first visit to its last. Healthy vehicles that stay away lose distance, so \
         a rate may read high; --exposure carried gives the bound on the other side.",
    ));
    let wider = answer
        .rows
        .iter()
        .filter(|r| r.across_sites.as_ref().is_some_and(|a| a.widened))
        .count();
    if wider > 0 {
        out.push(caveat(
            "sites-differ",
            format!(
                "In {} sites vary enough that the exact interval alone may be too narrow: use the wider one, across sites, there.",
                words::count(wider as u64, "cell")
            ),
        ));
    }
    if answer.cells_compared > 1 {
        out.push(caveat(
            "many-cells",
            format!(
                "{} cells were compared with the rest; p-values are adjusted by Benjamini-Hochberg for that number.",
                answer.cells_compared
            ),
        ));
    }
    if tally.dimensions.contains(&Dimension::Cause)
        || tally.dimensions.contains(&Dimension::Cylinder)
    {
        out.push(caveat(
            "shared-exposure",
            "Every cause and cylinder of a vehicle shares the vehicle's distance; rows must not be added up to a \
             distance.",
        ));
    }
    out.push(standing());
    out
}

/// Caveats of `shares`.
pub fn shares(answer: &Shares) -> Vec<Caveat> {
    let mut out = vec![caveat(
        "not-a-rate",
        "These are shares of failures that came to a shop, not rates: a part can have a large share because it fails \
         often or because nothing else does.",
    )];
    let small = answer
        .groups
        .iter()
        .filter(|g| g.confirmed_cases < 20)
        .count();
    if small > 0 {
        out.push(caveat(
            "few-cases",
            format!(
                "fewer than 20 confirmed cases in {}: read the intervals.",
                words::count(small as u64, "group")
            ),
        ));
    }
    out.push(standing());
    out
}

/// Caveats of `cylinders`.
pub fn cylinders(answer: &Cylinders) -> Vec<Caveat> {
    let mut out = vec![caveat(
        "same-distance",
        "All cylinders of an engine share its distance, so cases alone can show which one fails more; how often they \
         fail is a question for rates.",
    )];
    if answer.unknown > 0 {
        out.push(caveat(
            "cylinder-unknown",
            format!(
                "{} without a cylinder; the columns `at least` and `at most` show each share if none or \
                 all of them were on it.",
                words::count(answer.unknown, "case")
            ),
        ));
    }
    if answer.impossible > 0 {
        out.push(caveat(
            "cylinder-impossible",
            format!(
                "{} with a cylinder that this engine family does not have, counted nowhere here; check family and cylinder \
                 of those cases.",
                words::count(answer.impossible, "case")
            ),
        ));
    }
    if answer.repeats_left_out > 0 {
        out.push(caveat(
            "one-case-a-vehicle",
            format!(
                "one case a vehicle counts: {} of the same vehicles left out.",
                words::count(answer.repeats_left_out, "later case")
            ),
        ));
    }
    out.push(caveat(
        "access",
        "A cylinder that is easier to reach or to see is found at fault more often than it is; this data cannot tell \
         that apart.",
    ));
    out.push(standing());
    out
}
