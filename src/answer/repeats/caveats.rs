//! What a reader must know before using `repeats`.

use super::compute::FEWEST_AT_RISK;
use super::types::{MeanCost, Repeats};
use crate::answer::caveats::{caveat, observed_distance, standing};
use crate::answer::parts::Caveat;
use crate::answer::words;
use crate::tally::Dimension;
use crate::tally::repeats::RepeatTally;

/// The caveats of an answer.
pub(super) fn caveats(answer: &Repeats, tally: &RepeatTally) -> Vec<Caveat> {
    let mut out = vec![
        caveat(
            "survivors",
            "Vehicles far along the clock are those that lived so long and kept coming; retired ones had their repairs before. A mean \
             at a distance is for vehicles still in use there.",
        ),
        observed_distance(&answer.question),
    ];
    out.extend(observation(answer, tally));
    out.extend(money(answer));
    if !answer.comebacks.is_empty() {
        out.push(caveat(
            "comebacks-elsewhere",
            "A repair that failed and was taken to another shop looks like one that held, and a vehicle with several repairs counts \
             several times: comeback shares are lower bounds, their intervals a little narrow.",
        ));
    }
    if answer.second_failures.is_empty() {
        if tally.second_failures.is_none() {
            out.push(caveat(
                "whole-lives",
                "Failures after a repair with the head off are compared over whole lives only: leave out --from, --to and --site.",
            ));
        }
    } else {
        out.push(caveat(
            "not-a-random-sample",
            "Engines with the head off are not a random sample: they failed once, were worth repairing, and may be driven harder. Within \
             the comeback window the same cylinder cannot fail anew, it comes back. \"First\" means first in these records.",
        ));
    }
    out.push(standing());
    out
}

/// What is thin or missing in the curves.
fn observation(answer: &Repeats, tally: &RepeatTally) -> Vec<Caveat> {
    let mut out = Vec::new();
    let groups = || answer.groups.iter();
    let unwatched = groups()
        .filter(|g| {
            let mut seen = g.at_risk.iter().skip_while(|a| a.vehicles == 0);
            seen.any(|a| {
                a.vehicles == 0
                    && g.at
                        .iter()
                        .any(|p| p.distance_m > a.distance_m && p.at_risk > 0)
            })
        })
        .count();
    if unwatched > 0 {
        out.push(caveat(
            "nobody-watched",
            format!(
                "In {} there is a stretch of the clock at which no vehicle was under observation: repairs there are unknown and the \
                 mean does not rise over it.",
                words::count(unwatched as u64, "group")
            ),
        ));
    }
    let few = groups()
        .filter(|g| g.curve.iter().any(|p| p.at_risk < FEWEST_AT_RISK))
        .count();
    if few > 0 {
        out.push(caveat(
            "few-at-risk",
            format!(
                "In {} some repairs fell where fewer than {FEWEST_AT_RISK} vehicles were under observation; each of them moves the mean \
                 much, from there on, and the limits are too narrow where very few are left.",
                words::count(few as u64, "group")
            ),
        ));
    }
    let walk_ins: u64 = groups().map(|g| g.walk_ins).sum();
    let unplaced: u64 = groups().map(|g| g.unplaced).sum();
    let later: u64 = groups().map(|g| g.after_last_visit).sum();
    if walk_ins + unplaced + later > 0 {
        out.push(caveat(
            "in-no-curve",
            format!(
                "{} of vehicles never seen before, {} after a vehicle's last visit without trouble and {} at an unknown place on the engine's \
                 clock are in no curve.",
                words::count(walk_ins, "failure"),
                later,
                unplaced
            ),
        ));
    }
    if answer.question.from.is_some() || answer.question.to.is_some() {
        out.push(caveat(
            "calendar",
            "With a period, a vehicle is under observation only within it, its place at either end taken at an even pace between \
             two visits.",
        ));
    }
    if tally.dimensions.contains(&Dimension::Cause) {
        out.push(caveat(
            "shared-vehicles",
            "Rows by cause share their vehicles: they may be added up to a mean, not compared as if they were independent.",
        ));
    }
    out
}

/// Which money was added and what was left out.
fn money(answer: &Repeats) -> Option<Caveat> {
    let costs: Vec<_> = answer
        .groups
        .iter()
        .filter_map(|g| g.cost.as_ref())
        .collect();
    let first = costs.first()?;
    let sum = |take: fn(&MeanCost) -> u64| costs.iter().map(|c| take(c)).sum::<u64>();
    Some(caveat(
        "one-money",
        format!(
            "Costs are in {} at prices of {} alone: {} priced so, {} in other money or of another year and {} without a cost are taken to \
             cost the same on average; {} without charge and {} declined stand apart, not as 0. Choose with --currency and --price-year.",
            first.currency,
            first.price_year,
            words::count(sum(|c| c.priced), "repair"),
            sum(|c| c.other_money),
            sum(|c| c.unknown),
            sum(|c| c.free),
            sum(|c| c.declined)
        ),
    ))
}
