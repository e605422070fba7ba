//! What every export habit has in common: it takes one vehicle after the other and picks the records of its own sites.

use std::path::Path;

use crate::domain::distance::DistanceUnit;
use crate::domain::problem::Result;
use crate::domain::unit::Unit;
use crate::synth::export::cell::Cell;
use crate::synth::export::fleet_polls::FleetPolls;
use crate::synth::export::monthly_files::MonthlyFiles;
use crate::synth::export::nested_records::NestedRecords;
use crate::synth::export::wide_orders::WideOrders;
use crate::synth::export::words::{Vocabulary, word};
use crate::synth::export::workbook_jobs::WorkbookJobs;
use crate::synth::identity::{self, Person};
use crate::synth::mess::Mess;
use crate::synth::model::Model;
use crate::synth::record::{Case, CaseReading, Finding, Step, VehicleLife, Visit};
use crate::synth::scenario::{Family, Habit, Site};

/// A vehicle with everything that exports say about it.
pub struct Subject<'a> {
    /// The model.
    pub model: &'a Model,
    /// Its life.
    pub life: &'a VehicleLife,
    /// Its family.
    pub family: &'a Family,
    /// Engine text.
    pub engine: &'a str,
    /// VIN.
    pub vin: String,
    /// Unit number of the fleet.
    pub unit: String,
    /// Its owner.
    pub person: Person,
    /// The seed of the fleet.
    pub seed: u64,
}

impl<'a> Subject<'a> {
    /// Works out identities; `None` for a family that the scenario does not have.
    pub fn new(model: &'a Model, seed: u64, life: &'a VehicleLife) -> Option<Self> {
        let family = model.scenario.families.get(life.family)?;
        Some(Self {
            model,
            life,
            family,
            engine: family
                .engine_texts
                .get(life.engine_text)
                .map_or("", String::as_str),
            vin: identity::vin(life),
            unit: identity::unit(life),
            person: identity::person(seed, life),
            seed,
        })
    }

    /// The site of that index.
    pub fn site(&self, site: usize) -> Option<&'a Site> {
        self.model.scenario.sites.get(site)
    }

    /// Code of a site in exports.
    pub fn site_code(&self, site: usize) -> Cell {
        Cell::text(self.site(site).map_or("", |s| s.code.as_str()))
    }

    /// Visits at sites of a habit, with their number.
    pub fn visits(&self, habit: Habit) -> impl Iterator<Item = (usize, &'a Visit)> + use<'a> {
        let sites = &self.model.scenario.sites;
        let of_habit = move |site: usize| sites.get(site).is_some_and(|s| s.habit == habit);
        self.life
            .visits
            .iter()
            .enumerate()
            .filter(move |(_, v)| of_habit(v.site))
    }

    /// Cases at sites of a habit.
    pub fn cases(&self, habit: Habit) -> impl Iterator<Item = &'a Case> + use<'a> {
        let sites = &self.model.scenario.sites;
        let of_habit = move |site: usize| sites.get(site).is_some_and(|s| s.habit == habit);
        self.life.cases.iter().filter(move |c| of_habit(c.site))
    }

    /// Order number of a case, unique within a source.
    pub fn case_id(&self, case: &Case) -> String {
        format!("{:07}-{}", self.life.index + 1, case.number)
    }

    /// Order number of a visit without trouble, unique within a source.
    pub fn visit_id(&self, number: usize) -> String {
        format!("{:07}-S{}", self.life.index + 1, number + 1)
    }

    /// The word of a habit's system for the cause of a finding.
    pub fn cause(&self, habit: Habit, finding: &Finding) -> Cell {
        let id = self
            .model
            .scenario
            .causes
            .get(finding.cause)
            .map_or("", |c| c.id.as_str());
        Cell::text(word(habit, Vocabulary::Cause, id, finding.cause))
    }

    /// The word of a habit's system for a test.
    pub fn test(&self, habit: Habit, step: &Step) -> Cell {
        Cell::text(word(
            habit,
            Vocabulary::Test,
            self.model.knowledge.test_id(step.test),
            step.test,
        ))
    }
}

/// The word of a habit's system, for vocabularies without numbers.
pub fn said(habit: Habit, vocabulary: Vocabulary, id: &str) -> Cell {
    if id.is_empty() {
        Cell::Empty
    } else {
        Cell::text(word(habit, vocabulary, id, 0))
    }
}

/// What an odometer shows: whole units, the rest not shown.
pub fn shown(metres: i64, unit: DistanceUnit) -> Cell {
    Cell::Whole(unit.from_metres(metres).floor() as i64)
}

/// Cost in major units of a currency worth `rate` EUR^-1.
pub fn cost(finding: &Finding, rate: f64) -> Cell {
    Cell::number(finding.cost_minor.map(|c| c as f64 / 100.0 * rate), 2)
}

/// The nine cells of a finding that stand in one row with its order, its cost in EUR; empty without a finding.
pub fn finding_cells(s: &Subject, habit: Habit, finding: Option<&Finding>) -> Vec<Cell> {
    let Some(f) = finding else {
        return vec![Cell::Empty; 9];
    };
    vec![
        s.cause(habit, f),
        said(habit, Vocabulary::Mode, &f.mode),
        Cell::cylinder(f.cylinder),
        Cell::Whole(i64::from(f.confirmation)),
        said(habit, Vocabulary::Repair, &f.repair),
        Cell::number(f.labour_hours, 1),
        cost(f, 1.0),
        Cell::Whole(i64::from(f.price_year)),
        said(habit, Vocabulary::Payer, f.payer),
    ]
}

/// The ten cells of a reading: order, number of the reading, step, test, cylinder, value, unit, result, leak path, minutes.
pub fn reading_cells(s: &Subject, habit: Habit, case: &Case, read: CaseReading) -> Vec<Cell> {
    let unit = s.model.knowledge.unit(read.step.test);
    let (value, unit) = match (read.reading.value, unit) {
        // Shops with US gauges read psi.
        (Some(v), Some(Unit::Kilopascal)) if habit == Habit::MonthlyFiles => (
            Cell::Number(Unit::Psi.from_canonical(v), 0),
            Unit::Psi.symbol(),
        ),
        (Some(v), Some(unit)) => (Cell::Number(v, 2), unit.symbol()),
        _ => (Cell::Empty, ""),
    };
    let path = read.reading.leak_path.as_deref().unwrap_or_default();
    vec![
        Cell::text(s.case_id(case)),
        Cell::Whole(i64::from(read.number)),
        Cell::Whole(i64::from(read.step.step)),
        s.test(habit, read.step),
        Cell::cylinder(read.reading.cylinder),
        value,
        Cell::text(unit),
        said(habit, Vocabulary::Result, read.reading.result.id()),
        said(habit, Vocabulary::Path, path),
        // The minutes are those of the whole step: they are told once.
        if read.first {
            Cell::number(read.step.minutes, 1)
        } else {
            Cell::Empty
        },
    ]
}

/// An export habit at work.
pub trait Exporter {
    /// Writes the records of one vehicle.
    fn vehicle(&mut self, subject: &Subject, mess: &mut Mess) -> Result<()>;

    /// Closes the files and writes the mapping files.
    fn finish(&mut self, model: &Model) -> Result<()>;
}

/// The exporters of the habits that the scenario's sites have.
pub fn exporters(model: &Model, folder: &Path) -> Vec<Box<dyn Exporter>> {
    let used = |habit: &Habit| model.scenario.sites.iter().any(|s| s.habit == *habit);
    let begin = |habit: Habit| -> Box<dyn Exporter> {
        match habit {
            Habit::WideOrders => Box::new(WideOrders::new(model, folder)),
            Habit::MonthlyFiles => Box::new(MonthlyFiles::new(model, folder)),
            Habit::Workbook => Box::new(WorkbookJobs::new(folder)),
            Habit::NestedRecords => Box::new(NestedRecords::new(folder)),
            Habit::FleetPolls => Box::new(FleetPolls::new(folder)),
        }
    };
    Habit::ALL.into_iter().filter(used).map(begin).collect()
}
