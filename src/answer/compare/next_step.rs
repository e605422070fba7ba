//! What to do next, in plain words. Common practice; a head comes off only for a leak path or for something seen.

use super::types::{CylinderReading, Finding, NextStep};
use crate::domain::catalog::{Catalog, Kind};

fn step(test: Option<&'static str>, text: impl Into<String>) -> NextStep {
    NextStep {
        test,
        text: text.into(),
    }
}

/// What the set as a whole looks like.
#[derive(Debug, Clone, Copy)]
pub struct Situation<'a> {
    /// Test that was done.
    pub test: &'a str,
    /// The set is uneven and does not say which cylinder is odd.
    pub undecided: bool,
    /// Even the highest cylinder reads low.
    pub all_low: bool,
}

/// Next steps after a test, the most urgent first.
pub fn next_steps(
    set: Situation<'_>,
    cylinders: &[CylinderReading],
    catalog: &Catalog,
) -> Vec<NextStep> {
    let of = |finding: Finding| cylinders.iter().filter(move |c| c.finding == finding);
    let abnormal: Vec<&CylinderReading> = of(Finding::Abnormal).collect();
    let mut out = Vec::new();
    if set.all_low {
        out.push(step(
            Some("cam_timing_check"),
            "Every cylinder reads low: look at throttle, battery, gauge and adapter, altitude and cam timing before the cylinders, then read \
             all of them again.",
        ));
    }
    if cylinders.len() == 1 {
        out.push(step(
            None,
            "Read the other cylinders too: one reading can only be judged against its neighbours.",
        ));
    }
    if !abnormal.is_empty() {
        out.extend(after_abnormal(set.test, &abnormal, catalog));
    } else if set.undecided || of(Finding::Unusual).next().is_some() {
        out.push(step(
            None,
            "Take the readings again under the same conditions before anything is taken apart: one odd reading is as often the gauge or the \
             adapter as the engine.",
        ));
    } else if out.is_empty() {
        out.push(after_in_line(set.test));
    }
    out
}

fn names(cylinders: &[&CylinderReading]) -> String {
    let numbers: Vec<String> = cylinders.iter().map(|c| c.cylinder.to_string()).collect();
    match numbers.as_slice() {
        [one] => format!("cylinder {one}"),
        many => format!("cylinders {}", many.join(", ")),
    }
}

fn after_abnormal(test: &str, abnormal: &[&CylinderReading], catalog: &Catalog) -> Vec<NextStep> {
    let who = names(abnormal);
    match test {
        "cranking_compression" | "running_compression" | "wet_compression" => {
            let mut steps = vec![step(
                Some("cylinder_leakage"),
                format!(
                    "Do a cylinder leakage test on {who} and note the path: air into the intake or exhaust speaks for that valve, into the \
                     crankcase for rings or bore, into the coolant or the neighbour for the head gasket."
                ),
            )];
            if abnormal.len() == 2 {
                steps.push(step(
                    None,
                    "Two low cylinders side by side suggest the head gasket between them.",
                ));
            }
            steps
        }
        "relative_compression" => vec![step(
            Some("cranking_compression"),
            format!(
                "Measure cranking compression: a weak pulse on {who} says where to look, not how low it is."
            ),
        )],
        "cylinder_leakage" => abnormal.iter().map(|c| after_leakage(c, catalog)).collect(),
        "injector_resistance" => vec![step(
            Some("injector_pulse"),
            format!(
                "Clean and check the connector of {who}, read again at the same temperature, then see whether the injector gets its pulse."
            ),
        )],
        "coil_resistance" | "secondary_pattern" => vec![step(
            Some("coil_swap"),
            format!(
                "Swap the coil of {who} with another of the same part number and see whether the misfire moves with it."
            ),
        )],
        "injector_balance" => vec![step(
            None,
            format!(
                "Clean or exchange the injector of {who} for another of the set and repeat: the fault must move with it."
            ),
        )],
        _ => vec![step(
            None,
            format!(
                "Take the reading of {who} again, then follow the vehicle maker's procedure for this test."
            ),
        )],
    }
}

/// Causes a leak path speaks for, the likeliest first by the starting catalog.
fn after_leakage(cylinder: &CylinderReading, catalog: &Catalog) -> NextStep {
    let n = cylinder.cylinder;
    let Some(path) = &cylinder.leak_path else {
        return step(
            Some("cylinder_leakage"),
            format!(
                "Listen again on cylinder {n} and note where the air escapes (throttle, exhaust, oil filler, coolant, neighbouring plug hole): \
                 without the path the amount does not say what leaks. Check that the piston stands at top dead centre of compression."
            ),
        );
    };
    let place = catalog.leak_paths().iter().position(|p| p.id == *path);
    let mut causes: Vec<(f64, &str)> = catalog
        .causes()
        .iter()
        .filter_map(|c| {
            let share = *catalog.leak_path_shares(&c.id)?.get(place?)?;
            (share >= 0.25 && c.share_percent > 0.0)
                .then_some((share * c.share_percent, c.title.as_str()))
        })
        .collect();
    causes.sort_by(|a, b| b.0.total_cmp(&a.0));
    let titles: Vec<&str> = causes.iter().map(|c| c.1).collect();
    let speaks = if titles.is_empty() {
        "check the adapter's seal and the plug thread, then the gasket's outer edge".to_string()
    } else {
        format!("this path speaks for: {}", titles.join(", "))
    };
    step(
        Some("borescope"),
        format!(
            "Cylinder {n} leaks {}: {speaks}. Look into it with a borescope and check the valve lash before the head comes off.",
            catalog.title(Kind::LeakPath, path)
        ),
    )
}

fn after_in_line(test: &str) -> NextStep {
    match test {
        "cranking_compression" | "relative_compression" => step(
            Some("running_compression"),
            "Static sealing looks even. If the misfire stays on one cylinder, look at ignition and fuel; running compression shows breathing \
             faults (lobe, lash, spring) that this test does not.",
        ),
        "cylinder_leakage" => step(
            None,
            "Sealing looks even: look at ignition, fuel and the valve train's movement.",
        ),
        "injector_resistance" => step(
            Some("injector_balance"),
            "The windings do not accuse an injector. A restricted or leaking one reads the same: compare their delivery.",
        ),
        "coil_resistance" => step(
            Some("coil_swap"),
            "The windings do not accuse a coil. Most heat and insulation faults do not show in resistance: swap coils.",
        ),
        _ => step(
            None,
            "Nothing stands out in this test: go on with the next test of the plan.",
        ),
    }
}
