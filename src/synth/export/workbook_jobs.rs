//! Workbooks with sheets for visits, jobs and readings: real days and numbers, kilometres, kPa.

use std::path::{Path, PathBuf};

use crate::domain::distance::DistanceUnit;
use crate::domain::problem::Result;
use crate::synth::export::cell::{Cell, Role, columns};
use crate::synth::export::habit::{Exporter, Subject, finding_cells, reading_cells, said, shown};
use crate::synth::export::mapping::Mapping;
use crate::synth::export::sink::{Place, RawDamage, Sink};
use crate::synth::export::words::Vocabulary;
use crate::synth::export::workbook::{Sheet, WorkbookFiles};
use crate::synth::mess::Mess;
use crate::synth::model::Model;
use crate::synth::record::{Case, VisitKind};
use crate::synth::scenario::Habit;

const HABIT: Habit = Habit::Workbook;
const STEM: &str = "coast/jobs";
const VISIT_SHEET: usize = 0;
const JOB_SHEET: usize = 1;
const READING_SHEET: usize = 2;

/// Writes the workbooks.
pub struct WorkbookJobs {
    folder: PathBuf,
    books: WorkbookFiles,
}

/// One sheet as a place to write to.
struct Page<'a> {
    books: &'a mut WorkbookFiles,
    sheet: usize,
}

impl Sink for Page<'_> {
    fn write(&mut self, row: &[Cell], _: Option<RawDamage>) -> Result<Place> {
        self.books.write(self.sheet, row)
    }

    fn can_have(&self) -> &'static [RawDamage] {
        &[]
    }

    fn finish(&mut self) -> Result<()> {
        self.books.finish()
    }
}

impl WorkbookJobs {
    /// Nothing is written before the first row.
    pub fn new(folder: &Path) -> Self {
        let sheet = |name, list: &[(&str, Role)]| Sheet {
            name,
            columns: columns(list),
        };
        let sheets = vec![
            sheet(
                "Visits",
                &[
                    ("Visit", Role::Key),
                    ("Site", Role::Other),
                    ("Date", Role::Date),
                    ("Customer", Role::Customer),
                    ("VIN", Role::Vin),
                    ("Model year", Role::Other),
                    ("Engine", Role::Other),
                    ("Odometer km", Role::Odometer),
                    ("Reason", Role::Other),
                    ("New engine", Role::Other),
                ],
            ),
            sheet(
                "Jobs",
                &[
                    ("Job", Role::Key),
                    ("Site", Role::Other),
                    ("Opened", Role::Date),
                    ("Closed", Role::Other),
                    ("Customer", Role::Customer),
                    ("Phone", Role::Other),
                    ("VIN", Role::Vin),
                    ("Model year", Role::Other),
                    ("Engine", Role::Other),
                    ("Odometer km", Role::Odometer),
                    ("Codes", Role::Other),
                    ("Reported cylinder", Role::Other),
                    ("Outcome", Role::Other),
                    ("Cause", Role::Cause),
                    ("Failure mode", Role::Other),
                    ("Cylinder", Role::Cylinder),
                    ("Confirmation", Role::Other),
                    ("Repair", Role::Other),
                    ("Hours", Role::Other),
                    ("Cost EUR", Role::Other),
                    ("Price year", Role::Other),
                    ("Payer", Role::Other),
                ],
            ),
            sheet(
                "Readings",
                &[
                    ("Job", Role::Key),
                    ("Line", Role::Other),
                    ("Step", Role::Other),
                    ("Test", Role::Other),
                    ("Cylinder", Role::Other),
                    ("Value", Role::Other),
                    ("Unit", Role::Other),
                    ("Result", Role::Other),
                    ("Leak path", Role::Other),
                    ("Minutes", Role::Other),
                ],
            ),
        ];
        Self {
            folder: folder.to_path_buf(),
            books: WorkbookFiles::new(folder, STEM, sheets),
        }
    }

    fn put(&mut self, sheet: usize, row: Vec<Cell>, mess: &mut Mess) -> Result<()> {
        let columns = self.books.columns(sheet);
        mess.write(
            &mut Page {
                books: &mut self.books,
                sheet,
            },
            &columns,
            row,
        )
    }
}

fn job_row(s: &Subject, case: &Case, mess: &mut Mess) -> Vec<Cell> {
    let mut row = vec![
        Cell::text(s.case_id(case)),
        s.site_code(case.site),
        Cell::Day(case.opened),
        Cell::Day(case.closed),
        Cell::text(&s.person.name),
        Cell::text(&s.person.phone),
        Cell::text(&s.vin),
        Cell::Whole(i64::from(s.life.model_year)),
        Cell::text(s.engine),
        shown(
            mess.odometer(case.opened, case.odometer_m),
            DistanceUnit::Kilometre,
        ),
        Cell::text(case.codes.join(" ")),
        Cell::cylinder(case.complaint_cylinder.unwrap_or(0)),
        said(HABIT, Vocabulary::Outcome, case.outcome.id()),
    ];
    row.extend(finding_cells(s, HABIT, case.findings.first()));
    row
}

impl Exporter for WorkbookJobs {
    fn vehicle(&mut self, s: &Subject, mess: &mut Mess) -> Result<()> {
        for (number, visit) in s.visits(HABIT) {
            let row = vec![
                Cell::text(s.visit_id(number)),
                s.site_code(visit.site),
                Cell::Day(visit.day),
                Cell::text(&s.person.name),
                Cell::text(&s.vin),
                Cell::Whole(i64::from(s.life.model_year)),
                Cell::text(s.engine),
                shown(
                    mess.odometer(visit.day, visit.odometer_m),
                    DistanceUnit::Kilometre,
                ),
                Cell::text(match visit.kind {
                    VisitKind::Statement => "Odometer statement",
                    VisitKind::EngineReplaced => "Engine replaced",
                    _ => "Service",
                }),
                Cell::text(if visit.kind == VisitKind::EngineReplaced {
                    "yes"
                } else {
                    ""
                }),
            ];
            self.put(VISIT_SHEET, row, mess)?;
        }
        for case in s.cases(HABIT) {
            let row = job_row(s, case, mess);
            self.put(JOB_SHEET, row, mess)?;
            for read in case.readings() {
                self.put(READING_SHEET, reading_cells(s, HABIT, case, read), mess)?;
            }
        }
        Ok(())
    }

    fn finish(&mut self, model: &Model) -> Result<()> {
        self.books.finish()?;
        let begin = |sheet: &str| {
            Mapping::new(
                &format!("Sheet {sheet} of the coast garages' workbooks."),
                "coast-jobs",
                &[&format!("{STEM}-*.xlsx")],
            )
            .section(
                "format",
                &[("kind", "\"workbook\""), ("sheet", &format!("\"{sheet}\""))],
            )
        };
        begin("Visits")
            .section("defaults", &[("distance_unit", "\"km\"")])
            .section("exclude", &[("Customer", "[\"TEST\"]")])
            .sites(model, HABIT)
            .table("visits", None, VISITS)
            .write(&self.folder, "coast-visits.mapping.toml")?;
        begin("Jobs")
            .section(
                "defaults",
                &[("distance_unit", "\"km\""), ("currency", "\"EUR\"")],
            )
            .section("exclude", &[("Customer", "[\"TEST\"]")])
            .sites(model, HABIT)
            .words(
                model,
                HABIT,
                &[
                    Vocabulary::Outcome,
                    Vocabulary::Cause,
                    Vocabulary::Mode,
                    Vocabulary::Repair,
                    Vocabulary::Payer,
                ],
            )
            .table("cases", None, CASES)
            .table(
                "findings",
                Some("{ column = \"Cause\", not_empty = true }"),
                FINDINGS,
            )
            .write(&self.folder, "coast-jobs.mapping.toml")?;
        begin("Readings")
            .words(
                model,
                HABIT,
                &[Vocabulary::Test, Vocabulary::Result, Vocabulary::Path],
            )
            .table("tests", None, TESTS)
            .write(&self.folder, "coast-readings.mapping.toml")
    }
}

const VISITS: &[(&str, &str)] = &[
    ("record", "[\"Visit\"]"),
    ("vehicle", "\"VIN\""),
    ("site", "\"Site\""),
    ("date", "\"Date\""),
    ("odometer", "\"Odometer km\""),
    ("engine", "\"Engine\""),
    ("model_year", "\"Model year\""),
    ("engine_replaced", "\"New engine\""),
];
const CASES: &[(&str, &str)] = &[
    ("record", "[\"Job\"]"),
    ("case_id", "\"Job\""),
    ("vehicle", "\"VIN\""),
    ("site", "\"Site\""),
    ("opened", "\"Opened\""),
    ("closed", "\"Closed\""),
    ("odometer", "\"Odometer km\""),
    ("engine", "\"Engine\""),
    ("model_year", "\"Model year\""),
    ("codes", "\"Codes\""),
    ("complaint_cylinder", "\"Reported cylinder\""),
    ("outcome", "\"Outcome\""),
];
const FINDINGS: &[(&str, &str)] = &[
    ("record", "[\"Job\"]"),
    ("case_id", "\"Job\""),
    ("cause", "\"Cause\""),
    ("failure_mode", "\"Failure mode\""),
    ("cylinder", "\"Cylinder\""),
    ("confirmation", "\"Confirmation\""),
    ("repair", "\"Repair\""),
    ("labour_hours", "\"Hours\""),
    ("cost", "\"Cost EUR\""),
    ("price_year", "\"Price year\""),
    ("payer", "\"Payer\""),
];
const TESTS: &[(&str, &str)] = &[
    ("record", "[\"Job\", \"Line\"]"),
    ("case_id", "\"Job\""),
    ("step", "\"Step\""),
    ("test", "\"Test\""),
    ("cylinder", "\"Cylinder\""),
    ("reading", "{ column = \"Value\", unit_column = \"Unit\" }"),
    ("result", "\"Result\""),
    ("leak_path", "\"Leak path\""),
    ("minutes", "\"Minutes\""),
];
