//! Monthly comma-separated files in US units that overlap: what was open at a month's end comes again in the next file,
//! sometimes edited.

use std::path::{Path, PathBuf};

use crate::domain::day::Day;
use crate::domain::distance::DistanceUnit;
use crate::domain::problem::Result;
use crate::synth::calendar;
use crate::synth::draw::{Draw, Purpose};
use crate::synth::export::cell::{Cell, DateStyle, Locale, Role, columns};
use crate::synth::export::delimited::{Compression, DelimitedFile, Encoding, Style};
use crate::synth::export::file_set::FileSet;
use crate::synth::export::habit::{Exporter, Subject, cost, reading_cells, said, shown};
use crate::synth::export::monthly_mapping;
use crate::synth::export::sink::Sink;
use crate::synth::export::words::Vocabulary;
use crate::synth::mess::Mess;
use crate::synth::model::Model;
use crate::synth::record::{Case, Finding, VisitKind};
use crate::synth::scenario::Habit;

const HABIT: Habit = Habit::MonthlyFiles;
pub(super) const FOLDER: &str = "inland";
/// USD for one EUR.
const DOLLARS: f64 = 1.1;
/// Files of one kind are at most so many, whatever the years: a file stays open until the end. One year makes monthly files,
/// more years make files of several months.
const MOST_FILES: i32 = 12;
/// Share of records that the next file repeats, and share of those whose finding had looked different at first.
const REPEATED: f64 = 0.35;
const EDITED: f64 = 0.25;

/// Writes the monthly files.
pub struct MonthlyFiles {
    folder: PathBuf,
    periods: Periods,
    visits: FileSet,
    cases: FileSet,
    lines: FileSet,
    tests: FileSet,
}

/// Months, or several months together where there are too many.
#[derive(Debug, Clone, Copy)]
struct Periods {
    first_month: i32,
    months: i32,
    count: i32,
}

impl Periods {
    fn new(days: (i32, i32)) -> Self {
        let first_month = calendar::month_number(Day(days.0));
        let all = calendar::month_number(Day(days.1)) - first_month + 1;
        let months = (all + MOST_FILES - 1) / MOST_FILES;
        Self {
            first_month,
            months,
            count: (all + months - 1) / months,
        }
    }

    fn of(self, day: Day) -> i32 {
        ((calendar::month_number(day) - self.first_month) / self.months).clamp(0, self.count - 1)
    }

    /// The day of the export: the first after the period.
    fn export_day(self, period: i32) -> String {
        let next = self.first_month + (period + 1) * self.months;
        calendar::month_start(next).map_or_else(|| format!("month-{next}"), |d| d.to_string())
    }
}

impl MonthlyFiles {
    /// No file is begun before its first row.
    pub fn new(model: &Model, folder: &Path) -> Self {
        let periods = Periods::new(model.days);
        let set = |kind: &'static str, list: &[(&str, Role)]| {
            let out = folder.to_path_buf();
            FileSet::new(columns(list), move |period, columns| {
                let style = Style {
                    delimiter: ',',
                    encoding: Encoding::Utf8Bom,
                    compression: Compression::None,
                    locale: Locale {
                        decimal: '.',
                        dates: DateStyle::MonthFirst,
                    },
                };
                let name = format!("{FOLDER}/{kind}_{}.csv", periods.export_day(period));
                Ok(Box::new(DelimitedFile::create(&out, &name, style, columns)?) as Box<dyn Sink>)
            })
        };
        Self {
            folder: folder.to_path_buf(),
            periods,
            visits: set(
                "visits",
                &[
                    ("RO", Role::Key),
                    ("Loc", Role::Other),
                    ("Date", Role::Date),
                    ("Customer", Role::Customer),
                    ("Phone", Role::Other),
                    ("VIN", Role::Vin),
                    ("Yr", Role::Other),
                    ("Engine", Role::Other),
                    ("Miles", Role::Odometer),
                    ("U", Role::OdometerUnit),
                    ("Eng repl", Role::Other),
                ],
            ),
            cases: set(
                "cases",
                &[
                    ("RO", Role::Key),
                    ("Loc", Role::Other),
                    ("Opened", Role::Date),
                    ("Closed", Role::Other),
                    ("Customer", Role::Customer),
                    ("VIN", Role::Vin),
                    ("Yr", Role::Other),
                    ("Engine", Role::Other),
                    ("Miles", Role::Odometer),
                    ("U", Role::OdometerUnit),
                    ("Codes", Role::Other),
                    ("Cyl", Role::Other),
                    ("Status", Role::Other),
                ],
            ),
            lines: set(
                "lines",
                &[
                    ("RO", Role::Key),
                    ("Ln", Role::Other),
                    ("Cause", Role::Cause),
                    ("Mode", Role::Other),
                    ("Cyl", Role::Cylinder),
                    ("How sure", Role::Other),
                    ("Op", Role::Other),
                    ("Hrs", Role::Other),
                    ("Net USD", Role::Other),
                    ("Price yr", Role::Other),
                    ("Pay", Role::Other),
                ],
            ),
            tests: set(
                "tests",
                &[
                    ("RO", Role::Key),
                    ("Ln", Role::Other),
                    ("Seq", Role::Other),
                    ("Test", Role::Other),
                    ("Cyl", Role::Other),
                    ("Reading", Role::Other),
                    ("Rdg unit", Role::Other),
                    ("Result", Role::Other),
                    ("Path", Role::Other),
                    ("Min", Role::Other),
                ],
            ),
        }
    }

    /// The files that a record stands in: its own, and perhaps the next; that one certainly when it was still open.
    fn stands_in(&self, opened: Day, closed: Day, edit: &mut Draw) -> (i32, Option<i32>) {
        let own = self.periods.of(opened);
        let again = edit.chance(REPEATED) || self.periods.of(closed) > own;
        (
            own,
            (again && own + 1 < self.periods.count).then_some(own + 1),
        )
    }

    fn case(&mut self, s: &Subject, case: &Case, edit: &mut Draw, mess: &mut Mess) -> Result<()> {
        let (own, again) = self.stands_in(case.opened, case.closed, edit);
        let edited = edit.chance(EDITED);
        for (period, first_version) in
            std::iter::once((own, again.is_some())).chain(again.map(|p| (p, false)))
        {
            let row = case_row(s, case, first_version, mess);
            self.cases.write(period, row, mess)?;
            for (line, finding) in case.findings.iter().enumerate() {
                let early = first_version && edited;
                let row = line_row(s, case, line, finding, early);
                self.lines.write(period, row, mess)?;
            }
            for read in case.readings() {
                self.tests
                    .write(period, reading_cells(s, HABIT, case, read), mess)?;
            }
        }
        Ok(())
    }
}

fn case_row(s: &Subject, case: &Case, still_open: bool, mess: &mut Mess) -> Vec<Cell> {
    vec![
        Cell::text(s.case_id(case)),
        s.site_code(case.site),
        Cell::Day(case.opened),
        if still_open {
            Cell::Empty
        } else {
            Cell::Day(case.closed)
        },
        Cell::text(&s.person.name),
        Cell::text(&s.vin),
        Cell::Whole(i64::from(s.life.model_year)),
        Cell::text(s.engine),
        shown(
            mess.odometer(case.opened, case.odometer_m),
            DistanceUnit::Mile,
        ),
        Cell::text("mi"),
        Cell::text(case.codes.join(" ")),
        Cell::cylinder(case.complaint_cylinder.unwrap_or(0)),
        said(HABIT, Vocabulary::Outcome, case.outcome.id()),
    ]
}

/// A finding; its early version is what the shop thought before the work was done.
fn line_row(s: &Subject, case: &Case, line: usize, finding: &Finding, early: bool) -> Vec<Cell> {
    let sure = ["ASSUMED", "VERIFIED", "SEEN", "MEASURED"];
    let level = if early {
        0
    } else {
        usize::from(finding.confirmation)
    };
    vec![
        Cell::text(s.case_id(case)),
        Cell::Whole(line as i64 + 1),
        s.cause(HABIT, finding),
        said(HABIT, Vocabulary::Mode, &finding.mode),
        Cell::cylinder(finding.cylinder),
        Cell::text(sure.get(level).copied().unwrap_or_default()),
        said(HABIT, Vocabulary::Repair, &finding.repair),
        if early {
            Cell::Empty
        } else {
            Cell::number(finding.labour_hours, 1)
        },
        if early {
            Cell::Empty
        } else {
            cost(finding, DOLLARS)
        },
        Cell::Whole(i64::from(finding.price_year)),
        said(HABIT, Vocabulary::Payer, finding.payer),
    ]
}

impl Exporter for MonthlyFiles {
    fn vehicle(&mut self, s: &Subject, mess: &mut Mess) -> Result<()> {
        let mut edit = Draw::new(s.seed, s.life.index, Purpose::Edit);
        for (number, visit) in s.visits(HABIT) {
            let (own, again) = self.stands_in(visit.day, visit.day, &mut edit);
            for period in std::iter::once(own).chain(again) {
                let row = vec![
                    Cell::text(s.visit_id(number)),
                    s.site_code(visit.site),
                    Cell::Day(visit.day),
                    Cell::text(&s.person.name),
                    Cell::text(&s.person.phone),
                    Cell::text(&s.vin),
                    Cell::Whole(i64::from(s.life.model_year)),
                    Cell::text(s.engine),
                    shown(
                        mess.odometer(visit.day, visit.odometer_m),
                        DistanceUnit::Mile,
                    ),
                    Cell::text("mi"),
                    Cell::text(if visit.kind == VisitKind::EngineReplaced {
                        "Y"
                    } else {
                        "N"
                    }),
                ];
                self.visits.write(period, row, mess)?;
            }
        }
        s.cases(HABIT)
            .try_for_each(|case| self.case(s, case, &mut edit, mess))
    }

    fn finish(&mut self, model: &Model) -> Result<()> {
        for set in [
            &mut self.visits,
            &mut self.cases,
            &mut self.lines,
            &mut self.tests,
        ] {
            set.finish()?;
        }
        monthly_mapping::write(model, &self.folder)
    }
}
