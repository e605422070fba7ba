//! What a shop does with a vehicle in trouble: codes, tests in its habit, a cause found or missed, a repair and its price.

use crate::domain::day::Day;
use crate::domain::engine_life::REPLACING_REPAIRS;
use crate::domain::outcome::Outcome;
use crate::synth::draw::Draw;
use crate::synth::model::Model;
use crate::synth::reading::{self, Bay};
use crate::synth::record::{Case, Failure, Finding, Owner, Step, TestResult, VehicleLife};
use crate::synth::scenario::Repair;

/// A case as it comes through the door.
#[derive(Debug, Clone, Copy)]
pub struct Opened {
    /// Day.
    pub day: Day,
    /// Odometer in metres.
    pub odometer_m: i64,
    /// Index of the site.
    pub site: usize,
    /// What really failed, if anything.
    pub failure: Option<Failure>,
    /// Never seen before.
    pub walk_in: bool,
    /// Number of the case it comes back from.
    pub of: Option<u32>,
}

/// What a case leads to.
#[derive(Debug, Clone, Copy)]
pub struct Consequence {
    /// The wrong part was fitted: the vehicle is back after so many days.
    pub comeback_in_days: Option<f64>,
    /// The vehicle was given up.
    pub retired: bool,
    /// The engine was replaced.
    pub engine_replaced: bool,
    /// Day the case was closed.
    pub closed: Day,
}

/// Roads a case can take.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
enum Road {
    Confirmed,
    Misdiagnosed,
    PartsOnly,
    NotReproduced,
    NoFaultFound,
    Declined,
}

/// Works on one case, adds it to the vehicle's life, and says what follows.
pub fn work(
    model: &Model,
    draw: &mut Draw,
    life: &mut VehicleLife,
    opened: &Opened,
) -> Consequence {
    let family_cylinders = model
        .scenario
        .families
        .get(life.family)
        .map_or(1, |f| f.cylinders);
    let suspect = match opened.failure {
        Some(f) if f.cylinder > 0 => f.cylinder,
        _ => draw.whole(1, i64::from(family_cylinders)) as u8,
    };
    let road = road(model, draw, opened);
    let named = draw.chance(model.scenario.handling.cylinder_named);
    let (codes, complaint_cylinder) = codes(model, draw, opened, suspect, family_cylinders, named);
    let (steps, scan_abnormal) = test(model, draw, life, opened, suspect);
    let mut codes = codes;
    if scan_abnormal {
        codes.extend(circuit_code(model, opened, suspect));
    }
    let mut consequence = Consequence {
        comeback_in_days: None,
        retired: false,
        engine_replaced: false,
        closed: Day((opened.day.0 + draw.whole(0, 5) as i32).min(model.days.1)),
    };
    let (outcome, findings) = match (road, opened.failure) {
        (Road::Confirmed, Some(failure)) => {
            let finding = confirm(model, draw, life, opened, failure, &mut consequence);
            (Outcome::Confirmed, finding.into_iter().collect())
        }
        (Road::Misdiagnosed | Road::PartsOnly, Some(failure)) => {
            if road == Road::Misdiagnosed {
                consequence.comeback_in_days = Some(draw.between(3.0, 20.0));
            }
            let wrong = fit_parts(model, draw, life, opened, failure, suspect);
            (Outcome::Confirmed, wrong.into_iter().collect())
        }
        (Road::NotReproduced, _) => (Outcome::NotReproduced, Vec::new()),
        (Road::Declined, _) => (Outcome::UnresolvedDeclined, Vec::new()),
        _ => (Outcome::NoFaultFound, Vec::new()),
    };
    life.cases.push(Case {
        number: life.cases.len() as u32 + 1,
        site: opened.site,
        opened: opened.day,
        closed: consequence.closed,
        odometer_m: opened.odometer_m,
        codes,
        complaint_cylinder,
        suspect,
        outcome,
        findings,
        steps,
        failure: opened.failure,
        walk_in: opened.walk_in,
        comeback_of: opened.of,
    });
    consequence
}

fn road(model: &Model, draw: &mut Draw, opened: &Opened) -> Road {
    let h = &model.scenario.handling;
    let drawn = draw.weighted(&[
        h.confirmed,
        h.misdiagnosed_first,
        h.parts_only,
        h.not_reproduced,
        h.no_fault_found,
        h.declined,
    ]);
    if opened.failure.is_none() {
        return if draw.chance(0.6) {
            Road::NoFaultFound
        } else {
            Road::NotReproduced
        };
    }
    if opened.of.is_some() {
        return Road::Confirmed;
    }
    match drawn {
        0 => Road::Confirmed,
        1 => Road::Misdiagnosed,
        2 => Road::PartsOnly,
        3 => Road::NotReproduced,
        4 => Road::NoFaultFound,
        _ => Road::Declined,
    }
}

/// Misfire codes and the cylinder that the complaint names.
fn codes(
    model: &Model,
    draw: &mut Draw,
    opened: &Opened,
    suspect: u8,
    cylinders: u8,
    named: bool,
) -> (Vec<String>, Option<u8>) {
    let engine_wide = opened.failure.is_some_and(|f| f.cylinder == 0);
    let other = draw.whole(1, i64::from(cylinders)) as u8;
    let mut codes = Vec::new();
    let cylinder = match (engine_wide, named) {
        (true, _) => None,
        (false, true) => Some(suspect),
        // The code names no cylinder, or now and then the wrong one.
        (false, false) => draw.chance(0.3).then_some(other),
    };
    codes.push(cylinder.map_or("P0300".to_string(), |c| format!("P03{c:02}")));
    let lean = opened.failure.is_some_and(|f| {
        let cause = model.scenario.causes.get(f.cause);
        cause.is_some_and(|c| c.id == "intake_leak_at_cylinder")
    });
    if lean && draw.chance(0.5) {
        codes.push("P0171".to_string());
    }
    (codes, cylinder)
}

/// The circuit or sensor code that a scan finds when it points at a part.
fn circuit_code(model: &Model, opened: &Opened, suspect: u8) -> Option<String> {
    let cause = model.scenario.causes.get(opened.failure?.cause)?;
    match cause.id.as_str() {
        "ignition_coil" | "coil_circuit" | "plug_boot_or_lead" => {
            Some(format!("P03{}", 50 + u32::from(suspect)))
        }
        "injector_circuit" | "injector_electrical" => Some(format!("P02{suspect:02}")),
        "engine_position_signal" => Some("P0335".to_string()),
        _ => None,
    }
}

/// Tests in the habit of the site until one points at the cause.
fn test(
    model: &Model,
    draw: &mut Draw,
    life: &VehicleLife,
    opened: &Opened,
    suspect: u8,
) -> (Vec<Step>, bool) {
    let s = &model.scenario;
    let habit = s.sites.get(opened.site).map(|site| site.habit);
    let order = model.knowledge.order(habit);
    let practice = s.practices.iter().find(|p| Some(p.habit) == habit);
    let done = practice.map_or(1.0, |p| p.done);
    let Some(family) = s.families.get(life.family) else {
        return (Vec::new(), false);
    };
    let bay = Bay::new(&model.knowledge, draw, family, opened.failure, suspect);
    let mut steps: Vec<Step> = Vec::new();
    let mut scan_abnormal = false;
    for &test in order {
        if !draw.chance(done) {
            continue;
        }
        let readings = reading::take(&bay, draw, test);
        let abnormal = readings.iter().any(|r| {
            r.result == TestResult::Abnormal && (r.cylinder == suspect || r.cylinder == 0)
        });
        let minutes = model.knowledge.minutes(test, bay.access) * draw.lognormal(1.0, 0.2);
        scan_abnormal |= abnormal && model.knowledge.is_scan(test);
        steps.push(Step {
            step: steps.len() as u32 + 1,
            test,
            // One in seven forgets to note the time.
            minutes: (!draw.chance(0.15)).then_some((minutes * 2.0).round().max(1.0) / 2.0),
            readings,
        });
        let points = opened
            .failure
            .is_some_and(|f| model.knowledge.points_at(test, f.cause));
        if abnormal && points || opened.failure.is_none() && steps.len() >= 5 {
            break;
        }
    }
    (steps, scan_abnormal)
}

/// The true cause, found and repaired (or declined, or the end of the vehicle).
fn confirm(
    model: &Model,
    draw: &mut Draw,
    life: &VehicleLife,
    opened: &Opened,
    failure: Failure,
    consequence: &mut Consequence,
) -> Option<Finding> {
    let s = &model.scenario;
    let cause = s.causes.get(failure.cause)?;
    let mut confirmation = draw.weighted(&cause.levels) as u8 + 1;
    let weights: Vec<f64> = cause.repairs.iter().map(|r| r.weight).collect();
    let repair = cause.repairs.get(draw.weighted(&weights))?;
    let head_off = model.knowledge.head_off(failure.cause);
    let retired =
        head_off && opened.odometer_m > 280_000_000 && draw.chance(s.handling.head_job_retired);
    let declined = head_off && draw.chance(s.handling.head_job_declined);
    let mut finding = priced(model, draw, life, opened, repair);
    if retired || declined {
        // Without a repair nothing was measured after a tear-down, and nothing was paid for it.
        confirmation = confirmation.min(2);
        finding.labour_hours = None;
        finding.cost_minor = None;
        finding.repair = if retired {
            "vehicle_retired"
        } else {
            "repair_declined"
        }
        .to_string();
    }
    consequence.retired = retired;
    consequence.engine_replaced = REPLACING_REPAIRS.contains(&finding.repair.as_str());
    finding.cause = failure.cause;
    finding.cylinder = failure.cylinder;
    finding.confirmation = confirmation;
    finding.mode = draw.pick(&cause.modes).cloned().unwrap_or_default();
    Some(finding)
}

/// Parts fitted without proof: plugs or a coil, whichever the true cause is not.
fn fit_parts(
    model: &Model,
    draw: &mut Draw,
    life: &VehicleLife,
    opened: &Opened,
    failure: Failure,
    suspect: u8,
) -> Option<Finding> {
    let s = &model.scenario;
    let guesses: Vec<usize> = ["spark_plug", "ignition_coil"]
        .iter()
        .filter_map(|id| s.causes.iter().position(|c| c.id == *id))
        .filter(|i| *i != failure.cause)
        .collect();
    let guess = *draw.pick(&guesses)?;
    let cause = s.causes.get(guess)?;
    let repair = cause.repairs.first()?;
    let mut finding = priced(model, draw, life, opened, repair);
    finding.cause = guess;
    finding.cylinder = suspect;
    finding.mode = draw.pick(&cause.modes).cloned().unwrap_or_default();
    Some(finding)
}

/// A finding with hours, cost and payer of a repair; its cause is filled in by the caller.
fn priced(
    model: &Model,
    draw: &mut Draw,
    life: &VehicleLife,
    opened: &Opened,
    repair: &Repair,
) -> Finding {
    let h = &model.scenario.handling;
    let year = opened.day.year();
    let hours = (draw.between(repair.hours[0], repair.hours[1]) * 10.0).round() / 10.0;
    let prices = (1.0 + h.inflation).powi(year - h.base_year);
    let cost = (hours * h.labour_rate + draw.lognormal(repair.parts, 0.25)) * prices;
    let young = year - i32::from(life.model_year) < 3;
    let warranty = draw.chance(if young { 0.6 } else { 0.02 });
    let payer = match (life.owner, warranty) {
        (_, true) => "warranty",
        (Owner::Fleet, _) => "internal",
        _ => "customer",
    };
    Finding {
        cause: 0,
        mode: String::new(),
        cylinder: 0,
        confirmation: 0,
        repair: repair.id.clone(),
        labour_hours: Some(hours),
        // A warranty line carries no price: it is not cheap, it is paid elsewhere.
        cost_minor: Some(if warranty {
            0
        } else {
            (cost * 100.0).round() as i64
        }),
        price_year: year,
        payer,
    }
}
