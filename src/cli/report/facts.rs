//! The history's account in words.

use crate::history::HistoryAccount;

/// The history's account in words, for the foot of the first page.
pub fn facts(account: &HistoryAccount) -> Vec<(String, i64)> {
    let (spans, episodes) = (&account.spans, &account.episodes);
    let mut facts: Vec<(String, i64)> = spans
        .versions
        .iter()
        .flat_map(|v| {
            [
                (format!("records in {}", v.table), v.records as i64),
                (
                    format!("older or repeated rows of {} set aside", v.table),
                    v.superseded as i64,
                ),
            ]
        })
        .collect();
    let counts = [
        (
            "findings replaced by others in a newer export of their case",
            spans.findings_replaced,
        ),
        ("vehicles seen", spans.vehicles),
        (
            "vehicles with distance under observation",
            spans.vehicles_at_risk,
        ),
        ("odometer readings unknown", spans.without_odometer),
        ("odometer readings ignored as out of order", spans.isolated),
        ("odometer readings ignored as too fast", spans.too_fast),
        (
            "odometers that stepped back (rollback or exchange)",
            spans.segments_opened,
        ),
        ("engines replaced", spans.engines_replaced),
        ("vehicles retired", spans.retired),
        ("failures (comebacks folded in)", episodes.events),
        (
            "failures of vehicles never seen before (walk-ins)",
            episodes.walk_ins,
        ),
        (
            "failures after the vehicle's last visit without trouble",
            episodes.after_last_visit,
        ),
        ("comebacks", episodes.comebacks),
        ("failures of unknown cylinder", episodes.without_cylinder),
        ("failures at unknown odometer", episodes.without_odometer),
        ("failures of unknown engine family", episodes.without_family),
        ("cases without a confirmed cause", episodes.unconfirmed),
    ];
    facts.extend(counts.map(|(what, n)| (what.to_string(), n as i64)));
    facts
}
