//! What a reader must know before using an answer: caveats as data, each with its numbers.

use super::cylinders::Cylinders;
use super::parts::Caveat;
use super::question::Question;
use super::rates::Rates;
use super::shares::Shares;
use super::words;
use crate::history::options::AFTER_CASE_DAYS;
use crate::tally::Dimension;
use crate::tally::rates::RateTally;

/// A caveat from its id and text.
pub(super) fn caveat(id: &'static str, text: impl Into<String>) -> Caveat {
    Caveat {
        id,
        text: text.into(),
    }
}

/// Stands under every answer from records.
pub(super) fn standing() -> Caveat {
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
            if total.after_last_visit > 0 {
                "Vehicles here were seen again only when something had failed. That distance is known because of the failure, \
                 so it gives no rate. Ingest the routine visits too, or ask for shares, which need no exposure."
            } else {
                "No vehicle here was seen again without trouble, so no distance was under observation and there is no rate. \
                 Ingest the routine visits too, or ask for shares, which need no exposure."
            },
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
    if total.after_last_visit > 0 {
        out.push(caveat(
            "after-last-visit",
            format!(
                "{} after the vehicle's last visit without trouble, shown beside the rate and not in it: how far it had \
                 come is known only because it failed, and a healthy vehicle would not have told. They count in shares.",
                words::count(total.after_last_visit, "failure")
            ),
        ));
    }
    out.push(observed_distance(&answer.question));
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

/// From where to where distance counts, and what that leaves open.
pub(super) fn observed_distance(question: &Question) -> Caveat {
    caveat(
        "observed-distance",
        match question.exposure {
            "observed" => format!(
                "Distance counts from a vehicle's first visit to {AFTER_CASE_DAYS} days before its last visit without trouble, \
                 so that no failure decides how far it is counted. Customers who leave because of a failure make the rate read \
                 low; the lines under other rules show the bounds."
            ),
            "last_sighting" => "Distance counts to the last time a vehicle was seen, failures included. Where only failures \
                 bring vehicles back, the rate reads high."
                .to_string(),
            _ => "Distance is carried on to the end of the records at each vehicle's own pace. Vehicles that were sold or went \
                 elsewhere are counted as if they were still watched, so the rate reads low."
                .to_string(),
        },
    )
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
