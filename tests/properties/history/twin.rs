//! The rules of history once more, vehicle by vehicle and row by row: slow, obvious, and sharing no code with the SQL.

use std::collections::{BTreeMap, BTreeSet};

use super::rows::{Case, Finding, Origin, Records, Visit};

pub const A_DAY: i64 = 1_500_000;
/// Days after a case with a finding in which a sighting may be brought about by it.
const AFTER_CASE: i32 = 30;
/// Days between visits where a vehicle shows none of its own.
const A_YEAR: i32 = 365;

#[derive(Debug, Clone, PartialEq, Eq, PartialOrd, Ord)]
pub struct Stretch {
    pub vehicle: String,
    pub engine: i64,
    pub segment: i64,
    pub site: String,
    pub family: Option<String>,
    pub year: Option<i64>,
    /// On the engine's clock, to the end of observation.
    pub clock: Option<(i64, i64)>,
    pub from: (i32, i64),
    /// Where observation ends.
    pub to: (i32, i64),
    /// The later reading.
    pub sighting: (i32, i64),
    /// Whether any of it is observed.
    pub observed: bool,
}

#[derive(Debug, Clone, PartialEq, Eq, PartialOrd, Ord)]
pub struct Episode {
    pub vehicle: String,
    pub cylinder: Option<i64>,
    pub opened: i32,
    pub cause: String,
    pub primary: bool,
    pub confirmation: i64,
    pub site: String,
    pub family: Option<String>,
    pub year: Option<i64>,
    pub odometer: Option<i64>,
    pub position: Option<i64>,
    pub observed: bool,
    pub seen_before: bool,
    pub comebacks: i64,
    pub codes: Option<String>,
    /// Number of the event, the same for all its causes.
    pub event: usize,
    /// Order in which the causes were found.
    pub place: i64,
}

#[derive(Debug, Clone, PartialEq, Eq, PartialOrd, Ord)]
pub struct Carry {
    pub vehicle: String,
    pub site: String,
    pub family: Option<String>,
    pub year: Option<i64>,
    pub from: Option<i64>,
    pub day: i32,
    pub pace_m: i64,
    pub pace_days: i64,
}

#[derive(Debug, Clone, Default)]
pub struct Twin {
    pub stretches: Vec<Stretch>,
    pub episodes: Vec<Episode>,
    pub carries: Vec<Carry>,
    pub isolated: u64,
    pub too_fast: u64,
    /// (vehicle's family, site, opened, outcome) of cases without a finding that counts.
    pub unconfirmed: u64,
}

/// A kept reading with the engine and segment it leads into.
#[derive(Debug, Clone)]
struct Kept {
    day: i32,
    odometer: i64,
    site: String,
    plain: bool,
    unplaced: i64,
    segment: i64,
    engine_before: i64,
    engine_after: i64,
    origin_before: Option<i64>,
    origin_after: Option<i64>,
}

fn newest<T>(rows: &[T], origin: fn(&T) -> &Origin) -> Vec<&T> {
    let mut best: BTreeMap<(String, String), &T> = BTreeMap::new();
    for row in rows {
        let o = origin(row);
        let age = |r: &T| {
            let o = origin(r);
            (o.export_date, o.batch, o.line, o.digest)
        };
        let place = best
            .entry((o.source.clone(), o.record.clone()))
            .or_insert(row);
        if age(row) > age(place) {
            *place = row;
        }
    }
    best.into_values().collect()
}

/// The findings of each case from the last export that has any of them.
fn last_sets(findings: &[Finding]) -> Vec<Finding> {
    let same =
        |a: &Finding, b: &Finding| (&a.origin.source, &a.case_id) == (&b.origin.source, &b.case_id);
    let last = |f: &Finding| {
        let of_case = findings.iter().filter(|o| same(o, f));
        of_case
            .map(|o| (o.origin.export_date, o.origin.batch))
            .max()
    };
    findings
        .iter()
        .filter(|f| last(f).is_some_and(|(_, batch)| batch == f.origin.batch))
        .cloned()
        .collect()
}

pub fn twin(records: &Records, window_days: i64, window_m: i64, level: i64) -> Twin {
    let visits = newest(&records.visits, |v| &v.origin);
    let cases = newest(&records.cases, |c| &c.origin);
    let sets = last_sets(&records.findings);
    let findings = newest(&sets, |f| &f.origin);
    let visit_days = visits.iter().map(|v| v.date);
    let cut_off = visit_days.chain(cases.iter().map(|c| c.opened)).max();
    let vehicles: BTreeSet<&String> = visits
        .iter()
        .map(|v| &v.vehicle)
        .chain(cases.iter().map(|c| &c.vehicle))
        .collect();
    let mut out = Twin::default();
    for vehicle in vehicles {
        let visits: Vec<&Visit> = visits
            .iter()
            .filter(|v| v.vehicle == *vehicle)
            .copied()
            .collect();
        let cases: Vec<&Case> = cases
            .iter()
            .filter(|c| c.vehicle == *vehicle)
            .copied()
            .collect();
        one_vehicle(
            vehicle,
            &visits,
            &cases,
            &findings,
            (window_days, window_m, level),
            cut_off.unwrap_or(0),
            &mut out,
        );
    }
    out.stretches.sort();
    out.episodes.sort();
    out.carries.sort();
    out
}

fn findings_of<'a>(case: &Case, findings: &[&'a Finding]) -> Vec<&'a Finding> {
    let of = |f: &&&Finding| f.case_id == case.case_id && f.origin.source == case.origin.source;
    findings.iter().filter(of).copied().collect()
}

fn one_vehicle(
    vehicle: &str,
    visits: &[&Visit],
    cases: &[&Case],
    findings: &[&Finding],
    (window_days, window_m, level): (i64, i64, i64),
    cut_off: i32,
    out: &mut Twin,
) {
    let has_repair = |c: &Case, ids: &[&str]| {
        findings_of(c, findings)
            .iter()
            .any(|f| f.repair.as_deref().is_some_and(|r| ids.contains(&r)))
    };
    // All sightings, those of one day and odometer as one.
    let mut seen: BTreeMap<(i32, Option<i64>), (String, bool)> = BTreeMap::new();
    let mut see = |day: i32, odometer: Option<i64>, site: &str, replaced: bool| {
        let s = seen
            .entry((day, odometer))
            .or_insert((site.to_owned(), false));
        if site < s.0.as_str() {
            s.0 = site.to_owned();
        }
        s.1 |= replaced;
    };
    let mut described: Vec<(i32, &Option<String>, Option<i64>)> = Vec::new();
    for v in visits {
        see(v.date, v.odometer_m, &v.site, v.replaced == Some(true));
        described.push((v.date, &v.family, v.year));
    }
    for c in cases {
        see(
            c.opened,
            c.odometer_m,
            &c.site,
            has_repair(c, &["engine_replace", "short_block_replace"]),
        );
        described.push((c.opened, &c.family, c.year));
    }
    let family = described
        .iter()
        .filter_map(|(d, f, _)| Some((*d, (*f).clone()?)))
        .max()
        .map(|x| x.1);
    let year = described
        .iter()
        .filter_map(|(d, _, y)| Some((*d, (*y)?)))
        .max()
        .map(|x| x.1);
    let retired = cases
        .iter()
        .filter(|c| has_repair(c, &["vehicle_retired"]))
        .map(|c| c.opened)
        .min();

    let mut known: Vec<(i32, i64)> = seen.keys().filter_map(|(d, o)| Some((*d, (*o)?))).collect();
    known.sort();
    for _ in 0..2 {
        let lies_outside = |i: usize| {
            i > 0 && i + 1 < known.len() && {
                let (a, x, b) = (known[i - 1].1, known[i].1, known[i + 1].1);
                a <= b && (x < a || x > b)
            }
        };
        let keep: Vec<(i32, i64)> = (0..known.len())
            .filter(|i| !lies_outside(*i))
            .map(|i| known[i])
            .collect();
        out.isolated += (known.len() - keep.len()) as u64;
        known = keep;
    }
    let leap = |a: (i32, i64), b: (i32, i64)| b.1 - a.1 > A_DAY * i64::from(b.0 - a.0 + 1);
    let unbelievable = |i: usize| {
        i > 0 && leap(known[i - 1], known[i]) && {
            let confirmed = i + 1 < known.len()
                && known[i + 1].1 >= known[i].1
                && !leap(known[i], known[i + 1]);
            !confirmed
        }
    };
    let kept_readings: Vec<(i32, i64)> = (0..known.len())
        .filter(|i| !unbelievable(*i))
        .map(|i| known[i])
        .collect();
    out.too_fast += (known.len() - kept_readings.len()) as u64;

    // Where engines were replaced: at a kept reading, else at the last kept reading of that day, else somewhere before
    // the next kept reading.
    let mut at: BTreeSet<(i32, i64)> = BTreeSet::new();
    let mut somewhere: BTreeSet<i32> = BTreeSet::new();
    for ((day, odometer), (_, replaced)) in &seen {
        if !replaced {
            continue;
        }
        let here = odometer
            .map(|o| (*day, o))
            .filter(|r| kept_readings.contains(r));
        let same_day = kept_readings.iter().filter(|r| r.0 == *day).max().copied();
        match here.or(same_day) {
            Some(r) => {
                at.insert(r);
            }
            None => {
                somewhere.insert(*day);
            }
        }
    }

    let plain = |day: i32| {
        !cases
            .iter()
            .filter(|c| !findings_of(c, findings).is_empty())
            .any(|c| c.opened <= day && day < ended(c) + AFTER_CASE)
    };
    let mut kept: Vec<Kept> = Vec::new();
    for (i, r) in kept_readings.iter().enumerate() {
        let before = kept.last();
        let after_day = if i == 0 {
            i32::MIN
        } else {
            kept_readings[i - 1].0
        };
        let unplaced = somewhere
            .iter()
            .filter(|d| **d < r.0 && (i == 0 || **d > after_day))
            .count() as i64;
        let broken = before.is_some_and(|b| r.1 < b.odometer || leap((b.day, b.odometer), *r));
        let segment = before.map_or(1, |b| b.segment + i64::from(broken));
        let engine_before = before.map_or(0, |b| b.engine_after) + unplaced;
        let replaced = at.contains(r);
        let origin_before = if unplaced > 0 || broken {
            None
        } else {
            before.map_or(Some(0), |b| b.origin_after)
        };
        let origin_after = if replaced {
            Some(r.1)
        } else if i == 0 && unplaced == 0 {
            Some(0)
        } else {
            origin_before
        };
        kept.push(Kept {
            day: r.0,
            odometer: r.1,
            site: seen[&(r.0, Some(r.1))].0.clone(),
            plain: plain(r.0),
            unplaced,
            segment,
            engine_before,
            engine_after: engine_before + i64::from(replaced),
            origin_before,
            origin_after,
        });
    }

    let mut stretches: Vec<Stretch> = Vec::new();
    for pair in kept.windows(2) {
        let (a, b) = (&pair[0], &pair[1]);
        if a.segment != b.segment || retired.is_some_and(|r| b.day > r) {
            continue;
        }
        let whole = b.odometer - a.odometer;
        let (observed, metres, day) = match observed_to(a.segment, &kept, retired, cut_off) {
            Some(end) if end >= b.day => (true, whole, b.day),
            Some(end) if end > a.day => {
                let part = whole * i64::from(end - a.day) / i64::from(b.day - a.day);
                (true, part, end)
            }
            _ => (false, 0, a.day),
        };
        let clock = match (b.unplaced, a.origin_after) {
            (0, Some(origin)) => Some((a.odometer - origin, a.odometer - origin + metres)),
            _ => None,
        };
        stretches.push(Stretch {
            vehicle: vehicle.to_owned(),
            engine: a.engine_after,
            segment: a.segment,
            site: b.site.clone(),
            family: family.clone(),
            year,
            clock,
            from: (a.day, a.odometer),
            to: (day, a.odometer + metres),
            sighting: (b.day, b.odometer),
            observed,
        });
    }
    carry(vehicle, &family, year, retired, &kept, &stretches, out);
    failures(
        vehicle,
        (&family, year),
        cases,
        findings,
        (window_days, window_m, level),
        &kept,
        &stretches,
        out,
    );
    out.stretches.extend(stretches);
}

fn ended(case: &Case) -> i32 {
    let closed = case.closed.filter(|d| *d > case.opened);
    closed.unwrap_or(case.opened)
}

/// The day to which a vehicle is observed in a segment.
fn observed_to(segment: i64, kept: &[Kept], retired: Option<i32>, cut_off: i32) -> Option<i32> {
    let plain: Vec<&Kept> = kept.iter().filter(|k| k.plain).collect();
    let last = plain.iter().filter(|k| k.segment == segment).map(|k| k.day);
    let last = last.max()?;
    let days: BTreeSet<i32> = plain.iter().map(|k| k.day).collect();
    // Half the usual time from one to the next, doubled like what is left, so that nothing is rounded.
    let (usual, times) = match (days.first(), days.last()) {
        (Some(a), Some(b)) if a < b => (b - a, days.len() as i32 - 1),
        _ => (A_YEAR, 1),
    };
    let still_due = |r: &i32| 2 * (cut_off - r - AFTER_CASE) * times >= usual;
    Some(retired.filter(still_due).unwrap_or(last - AFTER_CASE))
}

fn carry(
    vehicle: &str,
    family: &Option<String>,
    year: Option<i64>,
    retired: Option<i32>,
    kept: &[Kept],
    stretches: &[Stretch],
    out: &mut Twin,
) {
    let Some(last) = kept.last().filter(|_| retired.is_none()) else {
        return;
    };
    // Spans: stretches of one engine, segment and kind of clock.
    let mut spans: BTreeMap<(i64, i64, bool), (i32, i32, i64)> = BTreeMap::new();
    for s in stretches {
        let span = spans
            .entry((s.engine, s.segment, s.clock.is_some()))
            .or_insert((s.from.0, s.sighting.0, 0));
        span.0 = span.0.min(s.from.0);
        span.1 = span.1.max(s.sighting.0);
        span.2 += s.sighting.1 - s.from.1;
    }
    let lasting = spans.iter().filter(|(_, s)| s.1 > s.0);
    let Some((_, pace)) = lasting.max_by_key(|(k, s)| (s.1, **k)) else {
        return;
    };
    out.carries.push(Carry {
        vehicle: vehicle.to_owned(),
        site: last.site.clone(),
        family: family.clone(),
        year,
        from: last.origin_after.map(|o| last.odometer - o),
        day: last.day,
        pace_m: pace.2,
        pace_days: i64::from(pace.1 - pace.0),
    });
}

/// Stretches of one engine, segment and kind of clock, end to end.
struct Span {
    engine: i64,
    segment: i64,
    from: (i32, i64),
    sighting: (i32, i64),
    observed_to: i32,
}

fn spans(stretches: &[Stretch]) -> Vec<Span> {
    let mut spans: BTreeMap<(i64, i64, bool), Vec<&Stretch>> = BTreeMap::new();
    for s in stretches {
        let span = (s.engine, s.segment, s.clock.is_some());
        spans.entry(span).or_default().push(s);
    }
    spans
        .into_iter()
        .map(|((engine, segment, _), of_span)| {
            let from = of_span.iter().map(|s| s.from);
            let day = from.clone().map(|f| f.0).min().expect("a stretch");
            let observed = of_span.iter().filter(|s| s.observed).map(|s| s.to.0);
            let sighting = of_span.iter().map(|s| s.sighting);
            Span {
                engine,
                segment,
                from: (day, from.map(|f| f.1).min().expect("a stretch")),
                sighting: (
                    sighting.clone().map(|f| f.0).max().expect("a stretch"),
                    sighting.map(|f| f.1).max().expect("a stretch"),
                ),
                observed_to: observed.max().unwrap_or(day),
            }
        })
        .collect()
}

#[allow(clippy::too_many_arguments)]
fn failures(
    vehicle: &str,
    (family, year): (&Option<String>, Option<i64>),
    cases: &[&Case],
    findings: &[&Finding],
    (window_days, window_m, level): (i64, i64, i64),
    kept: &[Kept],
    stretches: &[Stretch],
    out: &mut Twin,
) {
    let mut by_cylinder: BTreeMap<Option<i64>, Vec<&Case>> = BTreeMap::new();
    let key = |c: &Case, f: &Finding| f.cylinder.or(c.cylinder);
    for case in cases {
        let of_case = findings_of(case, findings);
        out.unconfirmed += u64::from(of_case.iter().all(|f| f.confirmation < level));
        let found: BTreeSet<Option<i64>> = of_case.iter().map(|f| key(case, f)).collect();
        for cylinder in found {
            by_cylinder.entry(cylinder).or_default().push(case);
        }
    }
    let spans = spans(stretches);
    let reading = |c: &Case| {
        kept.iter()
            .find(|k| Some(k.odometer) == c.odometer_m && k.day == c.opened)
    };
    for (cylinder, mut cases) in by_cylinder {
        cases.sort_by_key(|c| {
            (
                c.opened,
                ended(c),
                c.origin.source.clone(),
                c.case_id.clone(),
            )
        });
        let mut chains: Vec<Vec<&Case>> = Vec::new();
        for case in cases {
            let comes_back = chains.last().and_then(|c| c.last()).is_some_and(|before| {
                let near = match (reading(before), reading(case)) {
                    (Some(a), Some(b)) if a.segment == b.segment => {
                        b.odometer - a.odometer <= window_m
                    }
                    _ => true,
                };
                near && i64::from(case.opened - ended(before)) <= window_days
            });
            match chains.last_mut().filter(|_| comes_back) {
                Some(chain) => chain.push(case),
                None => chains.push(vec![case]),
            }
        }
        for chain in chains {
            let counts = |c: &&&Case| {
                let of_case = findings_of(c, findings);
                of_case
                    .iter()
                    .any(|f| f.confirmation >= level && key(c, f) == cylinder)
            };
            // Parts fitted in vain begin a chain, but make none.
            let Some(last) = chain.iter().rfind(counts) else {
                continue;
            };
            let first = chain[0];
            let mut causes: BTreeMap<&str, (i64, i64)> = BTreeMap::new();
            for f in findings_of(last, findings) {
                if f.confirmation >= level && key(last, f) == cylinder {
                    let c = causes
                        .entry(&f.cause)
                        .or_insert((f.confirmation, f.origin.line));
                    *c = (c.0.max(f.confirmation), c.1.min(f.origin.line));
                }
            }
            let primary = causes
                .iter()
                .min_by_key(|(cause, (level, line))| (-level, *line, **cause))
                .map(|(cause, _)| (*cause).to_owned());
            let at = reading(first);
            let before = spans.iter().filter(|s| {
                s.from.0 < first.opened
                    && first.opened <= s.sighting.0
                    && at.is_none_or(|k| {
                        (s.engine, s.segment) == (k.engine_before, k.segment)
                            && s.from.1 < k.odometer
                            && k.odometer <= s.sighting.1
                    })
            });
            let before: Vec<&Span> = before.collect();
            let event = out.episodes.iter().map(|e| e.event + 1).max().unwrap_or(0);
            for (cause, (confirmation, place)) in &causes {
                out.episodes.push(Episode {
                    vehicle: vehicle.to_owned(),
                    cylinder,
                    opened: first.opened,
                    cause: (*cause).to_owned(),
                    primary: primary.as_deref() == Some(*cause),
                    confirmation: *confirmation,
                    site: first.site.clone(),
                    family: family.clone(),
                    year,
                    odometer: at.map(|k| k.odometer),
                    position: at.and_then(|k| Some(k.odometer - k.origin_before?)),
                    observed: before.iter().any(|s| first.opened <= s.observed_to),
                    seen_before: !before.is_empty(),
                    comebacks: chain.len() as i64 - 1,
                    codes: first.codes.clone(),
                    event,
                    place: *place,
                });
            }
        }
    }
}
