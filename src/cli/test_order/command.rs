//! `test-order`: which test first, what next, when to stop and what to repair.

use std::collections::{BTreeMap, BTreeSet};
use std::path::PathBuf;

use clap::Args;

use super::judging::LEVEL;
use super::plans::{learn, quick};
use super::typed::{access, minutes, odometer, seen};
use crate::answer::test_order;
use crate::answer::test_order::check;
use crate::answer::test_order::compute::Input;
use crate::answer::test_order::learning::Learnt;
use crate::answer::test_order::model::Bay;
use crate::cli::command::{Outcome, Subcommand};
use crate::cli::output::OutputArgs;
use crate::cli::question::{Asked, EngineArgs, QuestionArgs, StoreArgs, Units};
use crate::cli::shares;
use crate::domain::catalog::{Catalog, Kind};
use crate::domain::day::Day;
use crate::domain::distance::UnitSystem;
use crate::domain::family::Families;
use crate::domain::mileage_band::MileageBands;
use crate::domain::problem::{Problem, Result};
use crate::domain::trouble_code;
use crate::report::chart::picture::Picture;
use crate::report::chart::{calibration, plan};
use crate::report::render;
use crate::stats::test_order::Effort;
use crate::tally;
use crate::tally::shares::Complaint;
use crate::tally::test_order::TestOrderTally;

/// Where the records are if nothing is said.
const USUAL_STORE: &str = "boretally-store";

/// Arguments of `test-order`.
#[derive(Debug, Args)]
pub struct TestOrderArgs {
    /// The store's folder; without one the plan rests on the catalog alone
    #[arg(long, value_name = "FOLDER", help_heading = "Records")]
    store: Option<PathBuf>,
    /// Use this catalog of causes, tests and repairs instead of the store's own
    #[arg(long, value_name = "FILE", help_heading = "Records")]
    catalog: Option<PathBuf>,
    #[command(flatten)]
    engine: EngineArgs,
    /// Engine families, where there is no store
    #[arg(long, value_name = "FILE", help_heading = "Records")]
    families: Option<PathBuf>,
    /// Engine family id
    #[arg(long, value_name = "ID", help_heading = "The vehicle")]
    family: Option<String>,
    /// Trouble code such as P0301, or misfire; names the cylinder if nothing else does
    #[arg(long, value_name = "CODE", help_heading = "The vehicle")]
    complaint: Option<String>,
    /// Odometer with its unit, such as 182000km or 113000mi
    #[arg(long, value_name = "DISTANCE", help_heading = "The vehicle")]
    odometer: Option<String>,
    /// Cylinder at fault
    #[arg(long, value_name = "N", help_heading = "The vehicle")]
    cylinder: Option<u8>,
    /// A result known already, such as cranking_compression:abnormal@1 or cylinder_leakage:abnormal:exhaust (repeat)
    #[arg(
        long,
        value_name = "TEST:RESULT",
        value_delimiter = ',',
        help_heading = "The vehicle"
    )]
    seen: Vec<String>,
    /// A cause that is ruled out, because its repair did not help (repeat)
    #[arg(
        long,
        value_name = "CAUSE",
        value_delimiter = ',',
        help_heading = "The vehicle"
    )]
    cleared: Vec<String>,
    /// A test that cannot be done here (repeat, or separate with commas)
    #[arg(
        long,
        value_name = "TEST",
        value_delimiter = ',',
        help_heading = "The shop"
    )]
    without: Vec<String>,
    /// TOML file with this shop's minutes: one line a test or set-up, such as cranking_compression = 35
    #[arg(long, value_name = "FILE", help_heading = "The shop")]
    minutes: Option<PathBuf>,
    /// How hard the engine is to reach: easy, hard, or a number from 0 to 1; learnt from recorded minutes otherwise
    #[arg(long, value_name = "ACCESS", help_heading = "The shop")]
    access: Option<String>,
    /// Leave out the tests that say least: an answer at once, without the proof that no plan is better
    #[arg(long, help_heading = "Rules")]
    quick: bool,
    /// Judge instead: learn from cases up to this day, such as 2022-12-31, and hold the later ones against it
    #[arg(long, value_name = "DAY", help_heading = "Rules")]
    check: Option<String>,
    /// Least confirmation that counts: 0 parts fitted, 1 fix verified, 2 seen, 3 measured after tear-down
    #[arg(long, value_name = "LEVEL", default_value_t = 1, value_parser = clap::value_parser!(u8).range(0..=3), help_heading = "Rules")]
    confirmation: u8,
    /// Edges of mileage bands in thousands, such as 0,100,200
    #[arg(long, value_name = "EDGES", help_heading = "Rules")]
    band: Option<String>,
    /// Units to print
    #[arg(long, value_enum, default_value_t = Units::Metric, help_heading = "Output")]
    units: Units,
    /// Draw the plan, or the calibration of the check, into this file (.svg or .png)
    #[arg(long, value_name = "FILE", help_heading = "Output")]
    chart: Option<PathBuf>,
    #[command(flatten)]
    output: OutputArgs,
}

impl Subcommand for TestOrderArgs {
    const NAME: &'static str = "test-order";
    const ABOUT: &'static str = "Which test first, what next by its result, when to stop";
    const EXAMPLE: &'static str = "Examples:\n  \
        boretally test-order --store S --family alder-4 --complaint P0301 --odometer 182000km\n  \
        boretally test-order --store S --family alder-4 --cylinder 1 --seen coil_swap:normal,cranking_compression:abnormal@1\n  \
        boretally test-order --complaint misfire --without borescope\n  \
        boretally test-order --store S --check 2022-12-31 --chart odds.svg\n\n\
        Minutes are of tests and wrong repairs; the right repair is not counted. Without records every number is a starting\n\
        assumption, and said to be one.";

    fn run(self) -> Result<Outcome> {
        let mut ground = self.ground()?;
        let bands = self.bands()?;
        if let Some(day) = &self.check {
            return self.judge(&mut ground, &bands, day);
        }
        let (complaint, named) = self.complaint()?;
        let tally = match &mut ground.asked {
            Some(asked) => learn(asked, None, &complaint, &bands)?,
            None => TestOrderTally::default(),
        };
        let bay = self.bay(&ground, &bands, named)?;
        let answer = test_order::answer(&Input {
            learnt: &Learnt::new(&ground.catalog, &tally)?,
            bay,
            bands: &bands,
            complaint: self.complaint.as_ref().map(|c| c.to_ascii_uppercase()),
            effort: self.effort(),
        })?;
        self.draw(|| Some(plan::chart(&answer, false)))?;
        self.output.emit(&answer)?;
        Ok(Outcome::Done)
    }
}

/// Catalog, families and records, if there are any.
struct Ground {
    asked: Option<Asked>,
    catalog: Catalog,
    families: Families,
}

impl TestOrderArgs {
    /// Writes the chart where one was asked for and there is one.
    fn draw(&self, chart: impl FnOnce() -> Option<Picture>) -> Result<()> {
        let Some(file) = &self.chart else {
            return Ok(());
        };
        let drawn = |picture: &Picture| match file.extension().and_then(|e| e.to_str()) {
            Some("svg") => Ok(picture.svg()?.into_bytes()),
            Some("png") => picture.png(),
            _ => Err(Problem::usage("a chart is written as SVG or PNG")
                .field("--chart")
                .value(file.display().to_string())
                .remedy("end the file's name in .svg or .png")),
        };
        match chart() {
            Some(picture) => render::file::write(file, &drawn(&picture)?),
            None => Ok(()),
        }
    }

    fn effort(&self) -> Effort {
        match self.quick {
            true => quick(),
            false => Effort::default(),
        }
    }

    fn ground(&self) -> Result<Ground> {
        let usual = || Some(PathBuf::from(USUAL_STORE)).filter(|p| p.is_dir());
        if let Some(store) = self.store.clone().or_else(usual) {
            let records = StoreArgs {
                store,
                catalog: self.catalog.clone(),
                engine: self.engine.clone(),
            };
            let mut question = QuestionArgs::plain(records, self.units);
            question.confirmation = self.confirmation;
            let asked = question.open()?;
            return Ok(Ground {
                catalog: asked.catalog.clone(),
                families: asked.families.clone(),
                asked: Some(asked),
            });
        }
        let catalog = match &self.catalog {
            Some(file) => Catalog::load(file)?,
            None => Catalog::embedded()?,
        };
        let families = match &self.families {
            Some(file) => Families::load(file)?,
            None => Families::default(),
        };
        Ok(Ground {
            asked: None,
            catalog,
            families,
        })
    }

    fn bands(&self) -> Result<MileageBands> {
        let units = UnitSystem::from(self.units);
        match &self.band {
            Some(text) => MileageBands::parse(text, units.distance()),
            None => Ok(MileageBands::default_for(units)),
        }
    }

    /// Cases of which complaint, and the cylinder that its code names. A code of one cylinder counts all misfires: which
    /// cylinder it was says little about the cause.
    fn complaint(&self) -> Result<(Complaint, Option<u8>)> {
        let Some(typed) = &self.complaint else {
            return Ok((Complaint::default(), None));
        };
        let one = shares::complaint(typed)?;
        let code = trouble_code::parse_list(typed).codes.into_iter().next();
        match code {
            Some(code) if code.is_misfire() => {
                Ok((shares::complaint("misfire")?, code.misfire_cylinder()))
            }
            _ => Ok((one, None)),
        }
    }

    fn bay<'a>(
        &self,
        ground: &'a Ground,
        bands: &MileageBands,
        named: Option<u8>,
    ) -> Result<Bay<'a>> {
        let family = match &self.family {
            Some(id) if ground.families.is_empty() => {
                return Err(Problem::usage("no engine families are known here")
                    .field("--family")
                    .value(id.as_str())
                    .remedy("give --store FOLDER or --families FILE, or leave --family out"));
            }
            Some(id) => Some(ground.families.expect_id(id, "--family")?),
            None => None,
        };
        let cylinder = self.cylinder.or(named);
        if let (Some(family), Some(cylinder)) = (family, cylinder)
            && family.cylinder(i64::from(cylinder)).is_none()
        {
            return Err(
                Problem::usage(format!("{} has no such cylinder", family.title))
                    .field("--cylinder")
                    .value(cylinder.to_string())
                    .remedy(format!("give a number from 1 to {}", family.cylinders)),
            );
        }
        let cause = |c: &String| ground.catalog.expect(Kind::Cause, c, "--cleared");
        let test = |t: &String| ground.catalog.expect(Kind::Test, t, "--without");
        let owned = |r: Result<&str>| r.map(str::to_string);
        Ok(Bay {
            family,
            band: self
                .odometer
                .as_deref()
                .map(|o| odometer(o, bands))
                .transpose()?,
            cylinder,
            access: self.access.as_deref().map(access).transpose()?,
            minutes: match &self.minutes {
                Some(file) => minutes(file, &ground.catalog)?,
                None => BTreeMap::new(),
            },
            without: self
                .without
                .iter()
                .map(|t| owned(test(t)))
                .collect::<Result<BTreeSet<_>>>()?,
            cleared: self
                .cleared
                .iter()
                .map(|c| owned(cause(c)))
                .collect::<Result<BTreeSet<_>>>()?,
            seen: self
                .seen
                .iter()
                .map(|s| seen(s, &ground.catalog, cylinder))
                .collect::<Result<_>>()?,
        })
    }

    fn judge(&self, ground: &mut Ground, bands: &MileageBands, day: &str) -> Result<Outcome> {
        let day = Day::parse_iso(day).ok_or_else(|| {
            Problem::usage("not a day")
                .field("--check")
                .value(day)
                .remedy("write it like 2022-12-31")
        })?;
        let Some(asked) = &mut ground.asked else {
            return Err(Problem::usage("there are no records to judge by")
                .field("--check")
                .remedy("give --store FOLDER"));
        };
        let tally = learn(asked, Some(day), &Complaint::default(), bands)?;
        let cases = tally::test_order::cases_after(&mut asked.engine, day, None, bands)?;
        let answer = check::check(&check::Input {
            day,
            catalog: &ground.catalog,
            families: &ground.families,
            tally: &tally,
            cases: &cases,
            level: LEVEL,
            effort: quick(),
            rules_of_thumb: true,
        })?;
        self.draw(|| calibration::chart(&answer))?;
        self.output.emit(&answer)?;
        Ok(match answer.enough {
            true => Outcome::Done,
            false => Outcome::CheckFailed,
        })
    }
}
