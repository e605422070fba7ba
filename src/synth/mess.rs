//! Deliberate damage: a share of rows is spoiled as real exports are, and every spoiled row is written down in the truth.

use std::collections::BTreeMap;
use std::io::Write;
use std::path::{Path, PathBuf};

use crate::domain::day::Day;
use crate::domain::problem::{AtFile, Result};
use crate::synth::draw::{Draw, Purpose};
use crate::synth::export::cell::{Cell, Column, Role};
use crate::synth::export::sink::{Place, RawDamage, Sink};
use crate::synth::model::Model;
use crate::synth::record::VehicleLife;

/// Kinds of mess, each with the id that stands in `truth/mess.csv`.
#[derive(Debug, Clone, Copy, PartialEq, Eq, PartialOrd, Ord)]
pub enum MessKind {
    /// The row ends early.
    RowTooShort,
    /// The row has cells too many.
    RowTooLong,
    /// A byte that the encoding does not have.
    UndecodableByte,
    /// The day does not exist or is no day.
    BadDate,
    /// A spreadsheet has turned the VIN into a number.
    DamagedVin,
    /// One digit too many.
    OdometerTypo,
    /// Odometer 0.
    ZeroOdometer,
    /// The unit of the odometer is missing.
    UnitMissing,
    /// The cylinder is missing.
    MissingCylinder,
    /// A word for the cause that nobody has mapped.
    UnknownCause,
    /// The row is there twice.
    DuplicateRow,
    /// A row of a test customer.
    TestRow,
    /// The odometer runs lower than it should from some day on.
    OdometerRollback,
    /// The instrument cluster was replaced and began at 0.
    ClusterReplaced,
}

impl MessKind {
    /// Id in the truth.
    pub fn id(self) -> &'static str {
        match self {
            MessKind::RowTooShort => "row_too_short",
            MessKind::RowTooLong => "row_too_long",
            MessKind::UndecodableByte => "undecodable_byte",
            MessKind::BadDate => "bad_date",
            MessKind::DamagedVin => "damaged_vin",
            MessKind::OdometerTypo => "odometer_typo",
            MessKind::ZeroOdometer => "zero_odometer",
            MessKind::UnitMissing => "unit_missing",
            MessKind::MissingCylinder => "missing_cylinder",
            MessKind::UnknownCause => "unknown_cause",
            MessKind::DuplicateRow => "duplicate_row",
            MessKind::TestRow => "test_row",
            MessKind::OdometerRollback => "odometer_rollback",
            MessKind::ClusterReplaced => "cluster_replaced",
        }
    }
}

/// A persistent change of what a vehicle's odometer shows.
#[derive(Debug, Clone, Copy)]
struct Shift {
    from: Day,
    metres: i64,
    kind: MessKind,
}

/// Spoils rows and keeps the account.
pub struct Mess {
    share: f64,
    seed: u64,
    draw: Draw,
    shift: Option<Shift>,
    shifted: Option<MessKind>,
    log: Option<(PathBuf, std::io::BufWriter<std::fs::File>)>,
    counts: BTreeMap<MessKind, u64>,
    rows: u64,
}

impl Mess {
    /// Spoils a `share` of rows; the account goes to `log`.
    pub fn new(share: f64, seed: u64, log: &Path) -> Result<Self> {
        let file = std::fs::File::create(log).at_file("create the file", log)?;
        let mut writer = std::io::BufWriter::new(file);
        writer
            .write_all(b"file,line,kind\n")
            .at_file("write", log)?;
        Ok(Self {
            share,
            seed,
            draw: Draw::new(seed, 0, Purpose::Mess),
            shift: None,
            shifted: None,
            log: Some((log.to_path_buf(), writer)),
            counts: BTreeMap::new(),
            rows: 0,
        })
    }

    /// Begins a vehicle: its mess depends on the seed and the vehicle only.
    pub fn begin(&mut self, model: &Model, life: &VehicleLife) {
        self.draw = Draw::new(self.seed, life.index, Purpose::Mess);
        self.shifted = None;
        let hit = self.draw.chance(self.share);
        let from = self
            .draw
            .whole(i64::from(model.days.0), i64::from(model.days.1)) as i32;
        let shown = life.visits.iter().map(|v| (v.day, v.odometer_m));
        let before = shown
            .take_while(|(day, _)| day.0 < from)
            .map(|(_, m)| m)
            .last();
        self.shift = match (hit, before) {
            (true, Some(m)) if m > 60_000_000 => {
                let rollback = self.draw.chance(0.5);
                let (metres, kind) = if rollback {
                    (
                        self.draw.whole(20, 50) * 1_000_000,
                        MessKind::OdometerRollback,
                    )
                } else {
                    (m, MessKind::ClusterReplaced)
                };
                Some(Shift {
                    from: Day(from),
                    metres,
                    kind,
                })
            }
            _ => None,
        };
    }

    /// What the odometer shows on a day.
    pub fn odometer(&mut self, day: Day, odometer_m: i64) -> i64 {
        match self.shift {
            Some(shift) if day >= shift.from => {
                self.shifted = Some(shift.kind);
                (odometer_m - shift.metres).max(0)
            }
            _ => odometer_m,
        }
    }

    /// Writes a row, spoiled or not, and again where the mess is a second row.
    pub fn write(&mut self, sink: &mut dyn Sink, columns: &[Column], row: Vec<Cell>) -> Result<()> {
        let kind = self.choose(sink.can_have(), columns, &row);
        let (row, damage, second) = self.spoil(kind, columns, row);
        let place = sink.write(&row, damage)?;
        self.rows += 1;
        if let Some(shifted) = self.shifted.take() {
            self.note(&place, shifted)?;
        }
        match (kind, second) {
            (Some(kind), Some(second)) => {
                let place = sink.write(&second, None)?;
                self.rows += 1;
                self.note(&place, kind)
            }
            (Some(kind), None) => self.note(&place, kind),
            _ => Ok(()),
        }
    }

    fn choose(&mut self, raw: &[RawDamage], columns: &[Column], row: &[Cell]) -> Option<MessKind> {
        // Drawn for every row, so that a column more or less moves nothing else.
        let hit = self.draw.chance(self.share);
        let pick = self.draw.uniform();
        if !hit {
            return None;
        }
        let filled = |role: Role| {
            columns
                .iter()
                .zip(row)
                .any(|(c, cell)| c.role == role && *cell != Cell::Empty)
        };
        let mut kinds = vec![MessKind::DuplicateRow];
        for (damage, kind) in [
            (RawDamage::Short, MessKind::RowTooShort),
            (RawDamage::Long, MessKind::RowTooLong),
            (RawDamage::Undecodable, MessKind::UndecodableByte),
        ] {
            if raw.contains(&damage) {
                kinds.push(kind);
            }
        }
        for (role, role_kinds) in [
            (Role::Date, &[MessKind::BadDate][..]),
            (Role::Vin, &[MessKind::DamagedVin]),
            (
                Role::Odometer,
                &[MessKind::OdometerTypo, MessKind::ZeroOdometer],
            ),
            (Role::OdometerUnit, &[MessKind::UnitMissing]),
            // Findings are rare: their damage is drawn more often where there is one.
            (
                Role::Cylinder,
                &[MessKind::MissingCylinder, MessKind::MissingCylinder],
            ),
            (
                Role::Cause,
                &[MessKind::UnknownCause, MessKind::UnknownCause],
            ),
            (Role::Customer, &[MessKind::TestRow]),
        ] {
            if filled(role) {
                kinds.extend_from_slice(role_kinds);
            }
        }
        kinds.get((pick * kinds.len() as f64) as usize).copied()
    }

    /// The row as it will be written, damage of its written form, and a second row.
    fn spoil(
        &mut self,
        kind: Option<MessKind>,
        columns: &[Column],
        mut row: Vec<Cell>,
    ) -> (Vec<Cell>, Option<RawDamage>, Option<Vec<Cell>>) {
        let Some(kind) = kind else {
            return (row, None, None);
        };
        let draw = &mut self.draw;
        let mut set = |role: Role, change: &mut dyn FnMut(&mut Cell)| {
            for (column, cell) in columns.iter().zip(row.iter_mut()) {
                if column.role == role && *cell != Cell::Empty {
                    change(cell);
                }
            }
        };
        match kind {
            MessKind::RowTooShort => return (row, Some(RawDamage::Short), None),
            MessKind::RowTooLong => return (row, Some(RawDamage::Long), None),
            MessKind::UndecodableByte => return (row, Some(RawDamage::Undecodable), None),
            MessKind::BadDate => {
                let bad = draw.pick(&["31.02.2021", "00/00/0000", "soon", "2022-13-45"]);
                let bad = Cell::text(bad.copied().unwrap_or_default());
                set(Role::Date, &mut |c| *c = bad.clone());
            }
            MessKind::DamagedVin => set(Role::Vin, &mut |c| *c = Cell::text("1.23E+16")),
            MessKind::OdometerTypo => {
                let digit = draw.whole(0, 9);
                set(Role::Odometer, &mut |c| {
                    if let Cell::Whole(n) = c {
                        *n = *n * 10 + digit;
                    }
                });
            }
            MessKind::ZeroOdometer => set(Role::Odometer, &mut |c| *c = Cell::Whole(0)),
            MessKind::UnitMissing => set(Role::OdometerUnit, &mut |c| *c = Cell::Empty),
            MessKind::MissingCylinder => set(Role::Cylinder, &mut |c| *c = Cell::Empty),
            MessKind::UnknownCause => set(Role::Cause, &mut |c| *c = Cell::text("see remarks")),
            MessKind::DuplicateRow => {
                let again = row.clone();
                return (row, None, Some(again));
            }
            MessKind::TestRow => {
                let mut test = row.clone();
                for (column, cell) in columns.iter().zip(test.iter_mut()) {
                    match column.role {
                        Role::Customer => *cell = Cell::text("TEST"),
                        Role::Key => {
                            if let Cell::Text(key) = cell {
                                key.push_str("-T");
                            }
                        }
                        _ => {}
                    }
                }
                return (row, None, Some(test));
            }
            MessKind::OdometerRollback | MessKind::ClusterReplaced => {}
        }
        (row, None, None)
    }

    fn note(&mut self, place: &Place, kind: MessKind) -> Result<()> {
        *self.counts.entry(kind).or_default() += 1;
        if let Some((path, log)) = &mut self.log {
            writeln!(log, "{},{},{}", place.file, place.line, kind.id()).at_file("write", path)?;
        }
        Ok(())
    }

    /// Rows written so far.
    pub fn rows(&self) -> u64 {
        self.rows
    }

    /// Spoiled rows by kind.
    pub fn counts(&self) -> impl Iterator<Item = (&'static str, u64)> {
        self.counts.iter().map(|(kind, n)| (kind.id(), *n))
    }

    /// Writes what is buffered.
    pub fn finish(&mut self) -> Result<()> {
        match self.log.take() {
            Some((path, mut log)) => log.flush().at_file("write", &path),
            None => Ok(()),
        }
    }
}
