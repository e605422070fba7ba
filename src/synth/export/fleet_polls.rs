//! The delivery fleet: compressed odometer polls by year, repair orders and readings in UTF-16, unit numbers for VINs.

use std::path::{Path, PathBuf};

use crate::domain::distance::DistanceUnit;
use crate::domain::problem::Result;
use crate::synth::calendar;
use crate::synth::export::cell::{Cell, DateStyle, Locale, Role, columns};
use crate::synth::export::delimited::{Compression, DelimitedFile, Encoding, Style};
use crate::synth::export::file_set::FileSet;
use crate::synth::export::habit::{Exporter, Subject, finding_cells, reading_cells, said, shown};
use crate::synth::export::mapping::Mapping;
use crate::synth::export::roster::RosterFile;
use crate::synth::export::sink::Sink;
use crate::synth::export::words::Vocabulary;
use crate::synth::mess::Mess;
use crate::synth::model::Model;
use crate::synth::record::{Case, VisitKind};
use crate::synth::scenario::Habit;

const HABIT: Habit = Habit::FleetPolls;
const FOLDER: &str = "fleet";

/// Writes the fleet's files.
pub struct FleetPolls {
    folder: PathBuf,
    polls: FileSet,
    orders: FileSet,
    readings: FileSet,
    roster: RosterFile,
}

impl FleetPolls {
    /// No file is begun before its first row.
    pub fn new(folder: &Path) -> Self {
        let set = |kind: &'static str, list: &[(&str, Role)], encoding, compression| {
            let out = folder.to_path_buf();
            FileSet::new(columns(list), move |year, columns| {
                let locale = Locale {
                    decimal: '.',
                    dates: DateStyle::Iso,
                };
                let style = Style {
                    delimiter: '\t',
                    encoding,
                    compression,
                    locale,
                };
                let end = if compression == Compression::Zstd {
                    ".zst"
                } else {
                    ""
                };
                let name = format!("{FOLDER}/{kind}-{year}.tsv{end}");
                Ok(Box::new(DelimitedFile::create(&out, &name, style, columns)?) as Box<dyn Sink>)
            })
        };
        let polls = [
            ("Unit", Role::Unit),
            ("Depot", Role::Other),
            ("Read on", Role::Date),
            ("Odometer", Role::Odometer),
            ("U", Role::OdometerUnit),
            ("Engine", Role::Other),
            ("MY", Role::Other),
            ("New engine", Role::Other),
        ];
        let orders = [
            ("Order", Role::Key),
            ("Depot", Role::Other),
            ("Unit", Role::Unit),
            ("Driver", Role::Customer),
            ("Engine", Role::Other),
            ("MY", Role::Other),
            ("In", Role::Date),
            ("Out", Role::Other),
            ("Odometer", Role::Odometer),
            ("U", Role::OdometerUnit),
            ("Codes", Role::Other),
            ("Reported cyl", Role::Other),
            ("Outcome", Role::Other),
            ("Cause code", Role::Cause),
            ("Mode", Role::Other),
            ("Cyl", Role::Cylinder),
            ("Level", Role::Other),
            ("Work", Role::Other),
            ("Hours", Role::Other),
            ("Cost", Role::Other),
            ("Prices of", Role::Other),
            ("Charged to", Role::Other),
        ];
        let readings = [
            ("Order", Role::Key),
            ("Line", Role::Other),
            ("Step", Role::Other),
            ("Test code", Role::Other),
            ("Cyl", Role::Other),
            ("Value", Role::Other),
            ("Unit of value", Role::Other),
            ("P/F", Role::Other),
            ("Leak", Role::Other),
            ("Minutes", Role::Other),
        ];
        Self {
            folder: folder.to_path_buf(),
            polls: set("polls", &polls, Encoding::Utf8, Compression::Zstd),
            orders: set("orders", &orders, Encoding::Utf16Le, Compression::None),
            readings: set("readings", &readings, Encoding::Utf8, Compression::Zstd),
            roster: RosterFile::new(folder),
        }
    }
}

fn order_row(s: &Subject, case: &Case, mess: &mut Mess) -> Vec<Cell> {
    let mut row = vec![
        Cell::text(s.case_id(case)),
        s.site_code(case.site),
        Cell::text(&s.unit),
        Cell::text(&s.person.name),
        Cell::text(s.engine),
        Cell::Whole(i64::from(s.life.model_year)),
        Cell::Day(case.opened),
        Cell::Day(case.closed),
        shown(
            mess.odometer(case.opened, case.odometer_m),
            DistanceUnit::Kilometre,
        ),
        Cell::text("km"),
        Cell::text(case.codes.join(" ")),
        Cell::cylinder(case.complaint_cylinder.unwrap_or(0)),
        said(HABIT, Vocabulary::Outcome, case.outcome.id()),
    ];
    row.extend(finding_cells(s, HABIT, case.findings.first()));
    row
}

impl Exporter for FleetPolls {
    fn vehicle(&mut self, s: &Subject, mess: &mut Mess) -> Result<()> {
        for (_, visit) in s.visits(HABIT) {
            let row = vec![
                Cell::text(&s.unit),
                s.site_code(visit.site),
                Cell::Day(visit.day),
                shown(
                    mess.odometer(visit.day, visit.odometer_m),
                    DistanceUnit::Kilometre,
                ),
                Cell::text("km"),
                Cell::text(s.engine),
                Cell::Whole(i64::from(s.life.model_year)),
                Cell::text(if visit.kind == VisitKind::EngineReplaced {
                    "1"
                } else {
                    "0"
                }),
            ];
            self.polls.write(calendar::parts(visit.day).0, row, mess)?;
        }
        self.roster.note(s);
        for case in s.cases(HABIT) {
            let year = calendar::parts(case.opened).0;
            let row = order_row(s, case, mess);
            self.orders.write(year, row, mess)?;
            for read in case.readings() {
                self.readings
                    .write(year, reading_cells(s, HABIT, case, read), mess)?;
            }
        }
        Ok(())
    }

    fn finish(&mut self, model: &Model) -> Result<()> {
        for set in [&mut self.polls, &mut self.orders, &mut self.readings] {
            set.finish()?;
        }
        self.roster.finish(FOLDER)?;
        let begin = |says: &str, files: &str, encoding: &str| {
            Mapping::new(says, "parcel-fleet", &[&format!("{FOLDER}/{files}")]).section(
                "format",
                &[
                    ("kind", "\"delimited\""),
                    ("delimiter", "\"tab\""),
                    ("encoding", encoding),
                ],
            )
        };
        begin(
            "Odometer polls of the delivery fleet: visits and nothing else.",
            "polls-*.tsv.zst",
            "\"utf-8\"",
        )
        .sites(model, HABIT)
        .table("visits", None, VISITS)
        .write(&self.folder, "fleet-polls.mapping.toml")?;
        begin(
            "Repair orders of the delivery fleet.",
            "orders-*.tsv",
            "\"utf-16le\"",
        )
        .section("defaults", &[("currency", "\"EUR\"")])
        .section("exclude", &[("Driver", "[\"TEST\"]")])
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
            Some("{ column = \"Cause code\", not_empty = true }"),
            FINDINGS,
        )
        .write(&self.folder, "fleet-orders.mapping.toml")?;
        begin(
            "Test steps of the delivery fleet's repair orders.",
            "readings-*.tsv.zst",
            "\"utf-8\"",
        )
        .words(
            model,
            HABIT,
            &[Vocabulary::Test, Vocabulary::Result, Vocabulary::Path],
        )
        .table("tests", None, TESTS)
        .write(&self.folder, "fleet-readings.mapping.toml")
    }
}

const ODOMETER: (&str, &str) = ("odometer", "{ column = \"Odometer\", unit_column = \"U\" }");
const VISITS: &[(&str, &str)] = &[
    ("record", "[\"Unit\", \"Read on\", \"New engine\"]"),
    ("vehicle", "{ column = \"Unit\", kind = \"unit\" }"),
    ("site", "\"Depot\""),
    ("date", "\"Read on\""),
    ODOMETER,
    ("engine", "\"Engine\""),
    ("model_year", "\"MY\""),
    ("engine_replaced", "\"New engine\""),
];
const CASES: &[(&str, &str)] = &[
    ("record", "[\"Order\"]"),
    ("case_id", "\"Order\""),
    ("vehicle", "{ column = \"Unit\", kind = \"unit\" }"),
    ("site", "\"Depot\""),
    ("opened", "\"In\""),
    ("closed", "\"Out\""),
    ODOMETER,
    ("engine", "\"Engine\""),
    ("model_year", "\"MY\""),
    ("codes", "\"Codes\""),
    ("complaint_cylinder", "\"Reported cyl\""),
    ("outcome", "\"Outcome\""),
];
const FINDINGS: &[(&str, &str)] = &[
    ("record", "[\"Order\"]"),
    ("case_id", "\"Order\""),
    ("cause", "\"Cause code\""),
    ("failure_mode", "\"Mode\""),
    ("cylinder", "\"Cyl\""),
    ("confirmation", "\"Level\""),
    ("repair", "\"Work\""),
    ("labour_hours", "\"Hours\""),
    ("cost", "\"Cost\""),
    ("price_year", "\"Prices of\""),
    ("payer", "\"Charged to\""),
];
const TESTS: &[(&str, &str)] = &[
    ("record", "[\"Order\", \"Line\"]"),
    ("case_id", "\"Order\""),
    ("step", "\"Step\""),
    ("test", "\"Test code\""),
    ("cylinder", "\"Cyl\""),
    (
        "reading",
        "{ column = \"Value\", unit_column = \"Unit of value\" }",
    ),
    ("result", "\"P/F\""),
    ("leak_path", "\"Leak\""),
    ("minutes", "\"Minutes\""),
];
