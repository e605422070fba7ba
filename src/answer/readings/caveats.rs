//! What to know before using a range of readings.

use std::collections::BTreeMap;

use super::compute::find;
use super::range::{ORDER_STATISTICS_FROM, ROBUST_FROM};
use super::sample::{Judged, Sample};
use super::types::Readings;
use crate::answer::caveats::standing;
use crate::answer::parts::Caveat;
use crate::answer::statistic::told;
use crate::answer::words;
use crate::domain::catalog::{Catalog, Kind, Test};
use crate::domain::problem::Result;
use crate::stats::kruskal_wallis::kruskal_wallis;
use crate::stats::quantile::median;

/// Fewer confirmed faults than this make a cut-off a guess.
pub const FEW_FAULTS: u64 = 10;

fn caveat(id: &'static str, text: impl Into<String>) -> Caveat {
    Caveat {
        id,
        text: text.into(),
    }
}

/// Caveats of `readings`.
pub fn caveats(
    answer: &Readings,
    sample: &Sample,
    test: &Test,
    catalog: &Catalog,
) -> Result<Vec<Caveat>> {
    let mut out = vec![
        caveat(
            "not-a-specification",
            "These are readings of this shop's own engines, not a specification. The vehicle maker's published value always wins.",
        ),
        caveat(
            "who-counts-as-healthy",
            "Healthy: a fault was confirmed on another cylinder of the engine and nothing accuses this one, in this case or in another within \
             the comeback window. Cases in which no fault was found prove no health and are left out.",
        ),
        caveat(
            "engines-not-readings",
            "Cylinders of one engine are alike, so intervals count engines, not readings.",
        ),
    ];
    out.extend(faults(answer, test, catalog));
    let engines = find(&answer.ranges, "engine").map_or(0, |r| r.engines);
    if engines < ROBUST_FROM {
        let held = find(&answer.ranges, "engine").and_then(|r| r.held_confidence);
        out.push(caveat(
            "comparison-only",
            format!(
                "{} are too few for a range; {ROBUST_FROM} allow a robust one, {ORDER_STATISTICS_FROM} one without assumptions.{}",
                words::count(engines, "engine"),
                held.filter(|_| engines > 1).map_or(String::new(), |h| format!(
                    " That least and greatest hold 95 % of such engines between them is {} certain.",
                    words::percent(h)
                ))
            ),
        ));
    } else if engines < ORDER_STATISTICS_FROM {
        out.push(caveat(
            "robust-method",
            "Fewer than 120 engines: the ends come from the robust (biweight) method, which takes healthy readings to lie about evenly on \
             both sides of their middle; their intervals come from drawing the engines again.",
        ));
    }
    out.extend(sites(sample)?);
    out.push(caveat(
        "same-conditions",
        format!("Readings compare only under the same conditions: {}. Note gauge, engine temperature and altitude.", test.needs),
    ));
    out.push(standing());
    Ok(out)
}

fn faults(answer: &Readings, test: &Test, catalog: &Catalog) -> Vec<Caveat> {
    let mut out = Vec::new();
    let causes: Vec<&str> = match answer.question.causes.as_slice() {
        [] => catalog.shown_by(test),
        asked => asked.iter().map(String::as_str).collect(),
    };
    let titles: Vec<&str> = causes
        .iter()
        .map(|c| catalog.title(Kind::Cause, c))
        .collect();
    out.push(caveat(
        "which-faults",
        if titles.is_empty() {
            "The catalog does not say which causes this test is looked at for, so every confirmed fault counts; name them with --cause."
                .to_string()
        } else {
            format!("Faults counted: {}.", titles.join(", "))
        },
    ));
    if let Some(cut) = answer.cut_offs.first() {
        out.push(caveat(
            "cut-off-on-its-own-data",
            format!(
                "The cut-off has the greatest sensitivity plus specificity on these very records (Youden), so it looks better than it will \
                 prove.{}",
                if cut.faulty < FEW_FAULTS {
                    format!(" With {} it is a guess.", words::count(cut.faulty, "confirmed fault"))
                } else {
                    String::new()
                }
            ),
        ));
        out.push(caveat(
            "verification",
            "A cylinder with a bad reading is opened more often than one with a good reading. The corrected figures (Begg & Greenes) suppose \
             that nothing but the reading decided whether somebody looked; where the reading itself was the reason for naming the cause, both \
             figures flatter the test.",
        ));
    }
    out
}

/// Whether the sites' gauges agree, by the medians of engines.
fn sites(sample: &Sample) -> Result<Option<Caveat>> {
    let mut engines: BTreeMap<(&str, usize), Vec<f64>> = BTreeMap::new();
    for Judged {
        site,
        engine,
        value,
        ..
    } in sample.healthy()
    {
        if let Some(site) = site {
            engines.entry((site, *engine)).or_default().push(*value);
        }
    }
    let mut sites: BTreeMap<&str, Vec<f64>> = BTreeMap::new();
    for ((site, _), mut values) in engines {
        sites.entry(site).or_default().extend(median(&mut values));
    }
    // The tail is that of large samples: five engines a site.
    let groups: Vec<Vec<f64>> = sites.into_values().filter(|g| g.len() >= 5).collect();
    let found = told(kruskal_wallis(&groups))?;
    Ok(found.filter(|k| k.p < 0.05).map(|k| {
        caveat(
            "sites-read-differently",
            format!(
                "The {} sites with five engines or more read differently (Kruskal-Wallis p = {}): gauges, altitude or habits differ. Compare \
                 cylinders within one engine first.",
                groups.len(),
                if k.p < 1e-4 { "< 0.0001".to_string() } else { format!("{:.4}", k.p) }
            ),
        )
    }))
}
