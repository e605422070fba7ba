//! `life`: from which distance on does it fail.

use clap::{Args, ValueEnum};

use super::gather::{self, HEAD_OFF, Terms};
use crate::answer::life::bound::STATED;
use crate::answer::life::types::{GroupLife, Status};
use crate::answer::question::Rules;
use crate::cli::command::{Outcome, Subcommand};
use crate::cli::output::OutputArgs;
use crate::cli::question::{Asked, QuestionArgs};
use crate::domain::distance::{DistanceUnit, UnitSystem};
use crate::domain::problem::{Problem, Result};
use crate::tally::life::{Clock, LifeAsk};
use crate::tally::{Dimension, Exposure};

/// Arguments of `life`.
#[derive(Debug, Args)]
pub struct LifeArgs {
    #[command(flatten)]
    question: QuestionArgs,
    /// Only causes whose repair needs the cylinder head off
    #[arg(long, conflicts_with = "cause", help_heading = "Which cases")]
    head_off: bool,
    /// What to split by; with cause every cause has lives of its own, which other causes do not end
    #[arg(
        long,
        value_enum,
        value_delimiter = ',',
        default_value = "family",
        help_heading = "Rules"
    )]
    by: Vec<By>,
    /// What distance is counted from
    #[arg(long, value_enum, default_value_t = ClockArg::Engine, help_heading = "Rules")]
    clock: ClockArg,
    /// How far an engine is followed
    #[arg(long, value_enum, default_value_t = Follow::Observed, help_heading = "Rules")]
    exposure: Follow,
    /// Edges of mileage bands in thousands, such as 0,100,200
    #[arg(long, value_name = "EDGES", help_heading = "Rules")]
    band: Option<String>,
    /// Only lives that reach this distance, such as 120000km or 75000mi
    #[arg(long, value_name = "DISTANCE", help_heading = "Rules")]
    from_distance: Option<String>,
    /// Probability to fail within this further distance (from --from-distance, else from 0)
    #[arg(long, value_name = "DISTANCE", help_heading = "Rules")]
    ahead: Option<String>,
    /// Test whether the groups differ (log-rank)
    #[arg(long, help_heading = "Rules")]
    compare: bool,
    /// Compare within each of these, so that their differences do not count
    #[arg(
        long,
        value_enum,
        value_delimiter = ',',
        requires = "compare",
        help_heading = "Rules"
    )]
    strata: Vec<By>,
    /// Weibull shape to bound groups with that have no failure or one (default: 1, 2 and 3)
    #[arg(long, value_name = "SHAPE", help_heading = "Rules")]
    shape: Option<f64>,
    #[command(flatten)]
    output: OutputArgs,
}

/// What lives can be split by.
#[derive(Debug, Clone, Copy, PartialEq, Eq, ValueEnum)]
pub enum By {
    /// One group an engine family
    Family,
    /// One group a cause
    Cause,
    /// One group a cylinder
    Cylinder,
    /// One group a site
    Site,
    /// One group a model year
    ModelYear,
}

impl From<By> for Dimension {
    fn from(by: By) -> Self {
        match by {
            By::Family => Dimension::Family,
            By::Cause => Dimension::Cause,
            By::Cylinder => Dimension::Cylinder,
            By::Site => Dimension::Site,
            By::ModelYear => Dimension::ModelYear,
        }
    }
}

#[derive(Debug, Clone, Copy, PartialEq, Eq, ValueEnum)]
enum ClockArg {
    /// The odometer's reading, whichever engine is in; a later engine enters where it was fitted
    Odometer,
    /// Distance of the engine: the odometer of the first, from 0 again after a replacement
    Engine,
    /// Distance since the last repair of the cause, up to the next failure
    Repair,
}

impl From<ClockArg> for Clock {
    fn from(clock: ClockArg) -> Self {
        match clock {
            ClockArg::Odometer => Clock::Odometer,
            ClockArg::Engine => Clock::Engine,
            ClockArg::Repair => Clock::Repair,
        }
    }
}

#[derive(Debug, Clone, Copy, PartialEq, Eq, ValueEnum)]
enum Follow {
    /// To 30 days before its last visit without trouble
    Observed,
    /// To its last visit of any kind: for records whose end does not depend on failures, such as a study
    LastSighting,
}

impl From<Follow> for Exposure {
    fn from(follow: Follow) -> Self {
        match follow {
            Follow::Observed => Exposure::Observed,
            Follow::LastSighting => Exposure::LastSighting,
        }
    }
}

impl Subcommand for LifeArgs {
    const NAME: &'static str = "life";
    const ABOUT: &'static str =
        "From which distance on it fails: first failures, survival, fitted lifetimes";
    const EXAMPLE: &'static str = "Examples:\n  \
        boretally life --store S --family alder-4 --head-off --ahead 20000km --from-distance 160000km\n  \
        boretally life --store S --cause exhaust_valve_leak --by family --compare --strata model-year\n  \
        boretally life --store S --family alder-4 --cause ignition_coil --clock repair\n\n\
        Follows every engine from where it was first seen to its first failure or to where it was last seen. A failure\n\
        of a vehicle never seen before is in no curve. On the clock `repair` it follows every repair to the next failure.";

    fn run(self) -> Result<Outcome> {
        let rules = self.question.rules("log-log", self.exposure.into())?;
        let terms = self.terms(&rules)?;
        let mut asked = self.question.open()?;
        if self.head_off {
            asked.filter.causes = gather::head_off(&asked);
        }
        let bands = asked.bands(self.band.as_deref(), rules.units)?;
        let ask = LifeAsk {
            filter: asked.filter.clone(),
            dimensions: dimensions(&self.by),
            clock: self.clock.into(),
            exposure: rules.exposure,
        };
        check_cylinders(&asked, &ask)?;
        let answer = gather::answer(&mut asked, &ask, &terms, &bands, &rules)?;
        let nothing = |g: &GroupLife| g.status == Status::NothingObserved;
        if answer.groups.iter().all(nothing) {
            return Err(Problem::data("there is no life to tell: among the records asked for, no engine drove a known distance under observation")
                .file(asked.store.path())
                .remedy("loosen the filters, or ingest routine visits too; `boretally shares` needs no distance"));
        }
        self.output.emit(&answer)?;
        Ok(Outcome::Done)
    }
}

impl LifeArgs {
    fn terms(&self, rules: &Rules) -> Result<Terms> {
        let shapes = match self.shape {
            None => STATED.to_vec(),
            Some(shape) if shape > 0.0 && shape <= 20.0 => vec![shape],
            Some(shape) => {
                return Err(
                    Problem::usage("a Weibull shape lies above 0 and at most at 20")
                        .field("--shape")
                        .value(shape.to_string())
                        .remedy("1 is a constant rate, 2 to 4 is wear"),
                );
            }
        };
        let (by, strata) = (dimensions(&self.by), dimensions(&self.strata));
        if let Some(both) = strata.iter().find(|d| by.contains(d)) {
            return Err(
                Problem::usage("groups cannot be compared within what they are split by")
                    .field("--strata")
                    .value(both.name())
                    .remedy("name another dimension, or leave it out of --by"),
            );
        }
        Ok(Terms {
            title: self.head_off.then(|| HEAD_OFF.to_string()),
            from_m: distance(
                "--from-distance",
                self.from_distance.as_deref(),
                rules.units,
            )?,
            ahead_m: distance("--ahead", self.ahead.as_deref(), rules.units)?,
            compare: self.compare,
            strata,
            shapes,
        })
    }
}

fn dimensions(by: &[By]) -> Vec<Dimension> {
    let mut out = Vec::new();
    for &b in by {
        let d = Dimension::from(b);
        if !out.contains(&d) {
            out.push(d);
        }
    }
    out
}

/// Reads `20000km`, `12000 mi` or a bare number in the reader's unit.
fn distance(option: &str, typed: Option<&str>, units: UnitSystem) -> Result<Option<i64>> {
    let Some(text) = typed else {
        return Ok(None);
    };
    let trimmed = text.trim();
    let split = trimmed
        .find(|c: char| c.is_alphabetic())
        .unwrap_or(trimmed.len());
    let (digits, unit) = trimmed.split_at(split);
    let unit = match unit.trim() {
        "" => Some(units.distance()),
        word => DistanceUnit::parse(word),
    };
    let number: Option<f64> = digits.replace(['_', ' '], "").parse().ok();
    let metres = unit.zip(number).and_then(|(unit, x)| unit.to_metres(x));
    match metres {
        Some(m) if m > 0 => Ok(Some(m)),
        _ => Err(Problem::usage("not a distance above 0")
            .field(option)
            .value(text)
            .remedy("write it like 20000km or 12000mi")),
    }
}

/// A cylinder the family does not have cannot fail, and must not read as one that never does.
fn check_cylinders(asked: &Asked, ask: &LifeAsk) -> Result<()> {
    for id in &ask.filter.families {
        let family = asked.families.expect_id(id, "--family")?;
        let beyond = |n: &&i64| **n > i64::from(family.cylinders);
        if let Some(n) = ask.filter.cylinders.iter().find(beyond) {
            return Err(Problem::usage("this engine family has no such cylinder")
                .field("--cylinder")
                .value(n.to_string())
                .remedy(format!("{id} has cylinders 1 to {}", family.cylinders)));
        }
    }
    Ok(())
}
