//! JSON lines, compressed, one file a year: visits, cases and test steps as nested objects in one stream.

use std::path::{Path, PathBuf};

use crate::domain::distance::DistanceUnit;
use crate::domain::problem::Result;
use crate::synth::calendar;
use crate::synth::export::cell::{Cell, Role, columns};
use crate::synth::export::file_set::FileSet;
use crate::synth::export::habit::{Exporter, Subject, finding_cells, reading_cells, said, shown};
use crate::synth::export::json_lines::JsonLinesFile;
use crate::synth::export::mapping::Mapping;
use crate::synth::export::sink::Sink;
use crate::synth::export::words::Vocabulary;
use crate::synth::mess::Mess;
use crate::synth::model::Model;
use crate::synth::record::{Case, VisitKind};
use crate::synth::scenario::Habit;

const HABIT: Habit = Habit::NestedRecords;
const FOLDER: &str = "uplands";

const COLUMNS: &[(&str, Role)] = &[
    ("kind", Role::Other),
    ("id", Role::Key),
    ("at", Role::Date),
    ("site", Role::Other),
    ("customer.name", Role::Customer),
    ("customer.phone", Role::Other),
    ("unit.vin", Role::Vin),
    ("unit.year", Role::Other),
    ("unit.engine", Role::Other),
    ("unit.odometer.value", Role::Odometer),
    ("unit.odometer.unit", Role::OdometerUnit),
    ("unit.new_engine", Role::Other),
    ("case.closed", Role::Other),
    ("case.codes", Role::Other),
    ("case.cylinder", Role::Other),
    ("case.outcome", Role::Other),
    ("case.finding.cause", Role::Cause),
    ("case.finding.mode", Role::Other),
    ("case.finding.cylinder", Role::Cylinder),
    ("case.finding.level", Role::Other),
    ("case.finding.repair", Role::Other),
    ("case.finding.hours", Role::Other),
    ("case.finding.cost", Role::Other),
    ("case.finding.price_year", Role::Other),
    ("case.finding.payer", Role::Other),
    ("step.line", Role::Other),
    ("step.number", Role::Other),
    ("step.test", Role::Other),
    ("step.cylinder", Role::Other),
    ("step.value", Role::Other),
    ("step.unit", Role::Other),
    ("step.result", Role::Other),
    ("step.path", Role::Other),
    ("step.minutes", Role::Other),
];

/// Columns of a finding and of a reading, in the order in which all habits tell them.
const FINDING: [&str; 9] = [
    "case.finding.cause",
    "case.finding.mode",
    "case.finding.cylinder",
    "case.finding.level",
    "case.finding.repair",
    "case.finding.hours",
    "case.finding.cost",
    "case.finding.price_year",
    "case.finding.payer",
];
const READING: [&str; 10] = [
    "id",
    "step.line",
    "step.number",
    "step.test",
    "step.cylinder",
    "step.value",
    "step.unit",
    "step.result",
    "step.path",
    "step.minutes",
];

/// Writes the nested records.
pub struct NestedRecords {
    folder: PathBuf,
    files: FileSet,
}

impl NestedRecords {
    /// No file is begun before its first row.
    pub fn new(folder: &Path) -> Self {
        let out = folder.to_path_buf();
        let files = FileSet::new(columns(COLUMNS), move |year, columns| {
            let name = format!("{FOLDER}/records-{year}.jsonl.gz");
            Ok(Box::new(JsonLinesFile::create(&out, &name, columns)?) as Box<dyn Sink>)
        });
        Self {
            folder: folder.to_path_buf(),
            files,
        }
    }
}

/// The row of one record: cells by column name, the rest empty.
fn row(cells: Vec<(&str, Cell)>) -> Vec<Cell> {
    let mut row = vec![Cell::Empty; COLUMNS.len()];
    for (name, cell) in cells {
        if let Some(i) = COLUMNS.iter().position(|(n, _)| *n == name)
            && let Some(place) = row.get_mut(i)
        {
            *place = cell;
        }
    }
    row
}

fn unit(s: &Subject, odometer_m: i64) -> Vec<(&'static str, Cell)> {
    vec![
        ("customer.name", Cell::text(&s.person.name)),
        ("customer.phone", Cell::text(&s.person.phone)),
        ("unit.vin", Cell::text(&s.vin)),
        ("unit.year", Cell::Whole(i64::from(s.life.model_year))),
        ("unit.engine", Cell::text(s.engine)),
        (
            "unit.odometer.value",
            shown(odometer_m, DistanceUnit::Kilometre),
        ),
        ("unit.odometer.unit", Cell::text("km")),
    ]
}

fn case_row(s: &Subject, case: &Case, mess: &mut Mess) -> Vec<Cell> {
    let mut cells = unit(s, mess.odometer(case.opened, case.odometer_m));
    cells.extend([
        ("kind", Cell::text("case")),
        ("id", Cell::text(s.case_id(case))),
        ("at", Cell::Day(case.opened)),
        ("site", s.site_code(case.site)),
        ("case.closed", Cell::Day(case.closed)),
        ("case.codes", Cell::text(case.codes.join(" "))),
        (
            "case.cylinder",
            Cell::cylinder(case.complaint_cylinder.unwrap_or(0)),
        ),
        (
            "case.outcome",
            said(HABIT, Vocabulary::Outcome, case.outcome.id()),
        ),
    ]);
    let finding = finding_cells(s, HABIT, case.findings.first());
    cells.extend(FINDING.iter().copied().zip(finding));
    row(cells)
}

impl Exporter for NestedRecords {
    fn vehicle(&mut self, s: &Subject, mess: &mut Mess) -> Result<()> {
        for (number, visit) in s.visits(HABIT) {
            let mut cells = unit(s, mess.odometer(visit.day, visit.odometer_m));
            cells.extend([
                ("kind", Cell::text("visit")),
                ("id", Cell::text(s.visit_id(number))),
                ("at", Cell::Day(visit.day)),
                ("site", s.site_code(visit.site)),
            ]);
            if visit.kind == VisitKind::EngineReplaced {
                cells.push(("unit.new_engine", Cell::text("yes")));
            }
            self.files
                .write(calendar::parts(visit.day).0, row(cells), mess)?;
        }
        for case in s.cases(HABIT) {
            let year = calendar::parts(case.opened).0;
            let cells = case_row(s, case, mess);
            self.files.write(year, cells, mess)?;
            for read in case.readings() {
                let cells = reading_cells(s, HABIT, case, read);
                let named = READING.iter().copied().zip(cells);
                let kind = std::iter::once(("kind", Cell::text("step")));
                self.files
                    .write(year, row(kind.chain(named).collect()), mess)?;
            }
        }
        Ok(())
    }

    fn finish(&mut self, model: &Model) -> Result<()> {
        self.files.finish()?;
        Mapping::new(
            "Records of the upland garages: nested objects of three kinds in one stream.",
            "uplands-feed",
            &[&format!("{FOLDER}/records-*.jsonl.gz")],
        )
        .section("format", &[("kind", "\"json-lines\"")])
        .section("defaults", &[("currency", "\"EUR\"")])
        .section("exclude", &[("\"customer.name\"", "[\"TEST\"]")])
        .sites(model, HABIT)
        .table(
            "visits",
            Some("{ column = \"kind\", equals = \"visit\" }"),
            VISITS,
        )
        .table(
            "cases",
            Some("{ column = \"kind\", equals = \"case\" }"),
            CASES,
        )
        .table(
            "findings",
            Some("{ column = \"case.finding.cause\", not_empty = true }"),
            FINDINGS,
        )
        .table(
            "tests",
            Some("{ column = \"kind\", equals = \"step\" }"),
            TESTS,
        )
        .write(&self.folder, "uplands.mapping.toml")
    }
}

const ODOMETER: (&str, &str) = (
    "odometer",
    "{ column = \"unit.odometer.value\", unit_column = \"unit.odometer.unit\" }",
);
const VISITS: &[(&str, &str)] = &[
    ("record", "[\"id\"]"),
    ("vehicle", "\"unit.vin\""),
    ("site", "\"site\""),
    ("date", "\"at\""),
    ODOMETER,
    ("engine", "\"unit.engine\""),
    ("model_year", "\"unit.year\""),
    ("engine_replaced", "\"unit.new_engine\""),
];
const CASES: &[(&str, &str)] = &[
    ("record", "[\"id\"]"),
    ("case_id", "\"id\""),
    ("vehicle", "\"unit.vin\""),
    ("site", "\"site\""),
    ("opened", "\"at\""),
    ("closed", "\"case.closed\""),
    ODOMETER,
    ("engine", "\"unit.engine\""),
    ("model_year", "\"unit.year\""),
    ("codes", "\"case.codes\""),
    ("complaint_cylinder", "\"case.cylinder\""),
    ("outcome", "\"case.outcome\""),
];
const FINDINGS: &[(&str, &str)] = &[
    ("record", "[\"id\"]"),
    ("case_id", "\"id\""),
    ("cause", "\"case.finding.cause\""),
    ("failure_mode", "\"case.finding.mode\""),
    ("cylinder", "\"case.finding.cylinder\""),
    ("confirmation", "\"case.finding.level\""),
    ("repair", "\"case.finding.repair\""),
    ("labour_hours", "\"case.finding.hours\""),
    ("cost", "\"case.finding.cost\""),
    ("price_year", "\"case.finding.price_year\""),
    ("payer", "\"case.finding.payer\""),
];
const TESTS: &[(&str, &str)] = &[
    ("record", "[\"id\", \"step.line\"]"),
    ("case_id", "\"id\""),
    ("step", "\"step.number\""),
    ("test", "\"step.test\""),
    ("cylinder", "\"step.cylinder\""),
    (
        "reading",
        "{ column = \"step.value\", unit_column = \"step.unit\" }",
    ),
    ("result", "\"step.result\""),
    ("leak_path", "\"step.path\""),
    ("minutes", "\"step.minutes\""),
];
