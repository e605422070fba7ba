//! One order a line, everything in columns: semicolons, Windows-1252, decimal comma, day first, compression in bar.

use std::path::{Path, PathBuf};

use crate::domain::distance::DistanceUnit;
use crate::domain::problem::Result;
use crate::domain::unit::Unit;
use crate::synth::calendar;
use crate::synth::export::cell::{Cell, Column, DateStyle, Locale, Role, columns};
use crate::synth::export::delimited::{Compression, DelimitedFile, Encoding, Style};
use crate::synth::export::file_set::FileSet;
use crate::synth::export::habit::{Exporter, Subject, cost, said, shown};
use crate::synth::export::sink::Sink;
use crate::synth::export::wide_mapping;
use crate::synth::export::words::{Vocabulary, word};
use crate::synth::mess::Mess;
use crate::synth::model::Model;
use crate::synth::record::{Case, Step, VisitKind};
use crate::synth::scenario::Habit;

const HABIT: Habit = Habit::WideOrders;
pub(super) const FOLDER: &str = "harbour";
/// Cylinders that have columns of their own.
pub(super) const CYLINDERS: u8 = 8;

const BASE: &[(&str, Role)] = &[
    ("Auftrag", Role::Key),
    ("Ort", Role::Other),
    ("Annahme", Role::Date),
    ("Fertig", Role::Other),
    ("Kunde", Role::Customer),
    ("Rufnummer", Role::Other),
    ("Fahrgestell", Role::Vin),
    ("Modelljahr", Role::Other),
    ("Motor", Role::Other),
    ("km-Stand", Role::Odometer),
    ("Art", Role::Other),
    ("Motor neu", Role::Other),
    ("Beanstandung", Role::Other),
    ("Codes", Role::Other),
    ("Zyl gemeldet", Role::Other),
    ("Ausgang", Role::Other),
    ("Befund", Role::Cause),
    ("Schadensart", Role::Other),
    ("Zylinder", Role::Cylinder),
    ("Sicherheit", Role::Other),
    ("Reparatur", Role::Other),
    ("Stunden", Role::Other),
    ("Netto", Role::Other),
    ("Preisjahr", Role::Other),
    ("Zahler", Role::Other),
    ("Zyl geprüft", Role::Other),
];

/// Columns of one test.
pub(super) struct TestColumns {
    pub test: usize,
    pub heading: String,
    pub unit: Option<Unit>,
    /// One pair of columns a cylinder instead of one value.
    pub by_cylinder: bool,
    pub path: bool,
}

/// Writes the wide orders.
pub struct WideOrders {
    folder: PathBuf,
    tests: Vec<TestColumns>,
    files: FileSet,
}

impl WideOrders {
    /// The columns follow the tests that the habit's shops do.
    pub fn new(model: &Model, folder: &Path) -> Self {
        let tests: Vec<TestColumns> = model
            .knowledge
            .order(Some(HABIT))
            .iter()
            .map(|&test| {
                let id = model.knowledge.test_id(test);
                TestColumns {
                    test,
                    heading: word(HABIT, Vocabulary::Test, id, test),
                    unit: model.knowledge.unit(test),
                    by_cylinder: id == "cranking_compression",
                    path: model.knowledge.hears_leak(test),
                }
            })
            .collect();
        let mut all = columns(BASE);
        all.extend(tests.iter().flat_map(headings).map(|name| Column {
            name,
            role: Role::Other,
        }));
        let style = Style {
            delimiter: ';',
            encoding: Encoding::Windows1252,
            compression: Compression::None,
            locale: Locale {
                decimal: ',',
                dates: DateStyle::DottedDayFirst,
            },
        };
        let out = folder.to_path_buf();
        let files = FileSet::new(all, move |year, columns| {
            let name = format!("{FOLDER}/auftraege-{year}.csv");
            Ok(Box::new(DelimitedFile::create(&out, &name, style, columns)?) as Box<dyn Sink>)
        });
        Self {
            folder: folder.to_path_buf(),
            tests,
            files,
        }
    }

    fn row(
        &self,
        subject: &Subject,
        head: Head,
        case: Option<&Case>,
        mess: &mut Mess,
    ) -> Vec<Cell> {
        let finding = case.and_then(|c| c.findings.first());
        let found = |cell: &dyn Fn(&crate::synth::record::Finding) -> Cell| {
            finding.map_or(Cell::Empty, cell)
        };
        let of_case = |cell: &dyn Fn(&Case) -> Cell| case.map_or(Cell::Empty, cell);
        let mut row = vec![
            Cell::text(head.id),
            subject.site_code(head.site),
            Cell::Day(head.day),
            of_case(&|c| Cell::Day(c.closed)),
            Cell::text(&subject.person.name),
            Cell::text(&subject.person.phone),
            Cell::text(&subject.vin),
            Cell::Whole(i64::from(subject.life.model_year)),
            Cell::text(subject.engine),
            shown(
                mess.odometer(head.day, head.odometer_m),
                DistanceUnit::Kilometre,
            ),
            Cell::text(head.kind),
            Cell::text(if head.engine_replaced { "ja" } else { "" }),
            of_case(&|_| Cell::text("Motor läuft unrund;\nLampe \"Motor\" blinkt")),
            of_case(&|c| Cell::text(c.codes.join(", "))),
            of_case(&|c| Cell::cylinder(c.complaint_cylinder.unwrap_or(0))),
            of_case(&|c| said(HABIT, Vocabulary::Outcome, c.outcome.id())),
            found(&|f| subject.cause(HABIT, f)),
            found(&|f| said(HABIT, Vocabulary::Mode, &f.mode)),
            found(&|f| Cell::cylinder(f.cylinder)),
            found(&|f| Cell::Whole(i64::from(f.confirmation))),
            found(&|f| said(HABIT, Vocabulary::Repair, &f.repair)),
            found(&|f| Cell::number(f.labour_hours, 1)),
            found(&|f| cost(f, 1.0)),
            found(&|f| Cell::Whole(i64::from(f.price_year))),
            found(&|f| said(HABIT, Vocabulary::Payer, f.payer)),
            of_case(&|c| Cell::cylinder(c.suspect)),
        ];
        for test in &self.tests {
            let step = case.and_then(|c| c.steps.iter().find(|s| s.test == test.test));
            row.extend(cells(test, step, case.map_or(0, |c| c.suspect)));
        }
        row
    }
}

/// What a visit and a case have in common.
struct Head {
    id: String,
    site: usize,
    day: crate::domain::day::Day,
    odometer_m: i64,
    kind: &'static str,
    engine_replaced: bool,
}

fn headings(test: &TestColumns) -> Vec<String> {
    let h = &test.heading;
    let mut list = vec![format!("{h} Nr"), format!("{h} Min")];
    if test.by_cylinder {
        for c in 1..=CYLINDERS {
            list.push(format!("{h} Z{c}"));
            list.push(format!("{h} Z{c} Erg"));
        }
        return list;
    }
    list.push(format!("{h} Erg"));
    if test.unit.is_some() {
        list.push(format!("{h} Wert"));
    }
    if test.path {
        list.push(format!("{h} Weg"));
    }
    list
}

fn cells(test: &TestColumns, step: Option<&Step>, suspect: u8) -> Vec<Cell> {
    let Some(step) = step else {
        return vec![Cell::Empty; headings(test).len()];
    };
    let mut row = vec![
        Cell::Whole(i64::from(step.step)),
        Cell::number(step.minutes, 1),
    ];
    if test.by_cylinder {
        for c in 1..=CYLINDERS {
            let reading = step.readings.iter().find(|r| r.cylinder == c);
            let bar = reading
                .and_then(|r| r.value)
                .map(|v| Unit::Bar.from_canonical(v));
            row.push(Cell::number(bar, 1));
            row.push(reading.map_or(Cell::Empty, |r| {
                said(HABIT, Vocabulary::Result, r.result.id())
            }));
        }
        return row;
    }
    let reading = step
        .readings
        .iter()
        .find(|r| r.cylinder == suspect || r.cylinder == 0);
    row.push(reading.map_or(Cell::Empty, |r| {
        said(HABIT, Vocabulary::Result, r.result.id())
    }));
    if test.unit.is_some() {
        row.push(Cell::number(reading.and_then(|r| r.value), 2));
    }
    if test.path {
        let path = reading.and_then(|r| r.leak_path.as_deref());
        row.push(said(HABIT, Vocabulary::Path, path.unwrap_or_default()));
    }
    row
}

impl Exporter for WideOrders {
    fn vehicle(&mut self, subject: &Subject, mess: &mut Mess) -> Result<()> {
        for (number, visit) in subject.visits(HABIT) {
            let head = Head {
                id: subject.visit_id(number),
                site: visit.site,
                day: visit.day,
                odometer_m: visit.odometer_m,
                kind: match visit.kind {
                    VisitKind::Statement => "Meldung",
                    VisitKind::EngineReplaced => "Motortausch",
                    _ => "Service",
                },
                engine_replaced: visit.kind == VisitKind::EngineReplaced,
            };
            let row = self.row(subject, head, None, mess);
            self.files.write(calendar::parts(visit.day).0, row, mess)?;
        }
        for case in subject.cases(HABIT) {
            let head = Head {
                id: subject.case_id(case),
                site: case.site,
                day: case.opened,
                odometer_m: case.odometer_m,
                kind: "Diagnose",
                engine_replaced: false,
            };
            let row = self.row(subject, head, Some(case), mess);
            self.files
                .write(calendar::parts(case.opened).0, row, mess)?;
        }
        Ok(())
    }

    fn finish(&mut self, model: &Model) -> Result<()> {
        self.files.finish()?;
        wide_mapping::write(model, &self.folder, &self.tests)
    }
}
