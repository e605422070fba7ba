//! Fills portions from records, one by one: rows, quarantine entries, counts. Each translating thread has one of these.

use std::collections::{BTreeMap, BTreeSet};
use std::sync::Arc;

use crate::domain::day::Day;
use crate::domain::problem::Result;
use crate::domain::table::Table;
use crate::ingest::cell::{date, text};
use crate::ingest::mapping::bind::Plan;
use crate::ingest::mapping::{Field, Mapping};
use crate::ingest::read::{Damage, RawRecord};
use crate::ingest::rule::{Flag, Reason};
use crate::ingest::translate::{Fate, Naming, Row, Settings, Translator};
use crate::store::origin::{BatchRows, Origin};

use super::known::Version;
use super::portion::{Count, Portion, Records};
use super::quarantine::{self, Entry};
use super::sink::{Place, write_entry, write_row};

/// Translates records of one file.
pub(super) struct Filling<'a> {
    plan: &'a Plan,
    mapping: &'a Mapping,
    keyed: bool,
    last_day: Day,
    translator: Translator<'a>,
    origin: Arc<Origin>,
    flags_text: String,
    /// Rows of the portion by table.
    rows: BTreeMap<Table, BatchRows>,
    portion: Portion,
}

impl<'a> Filling<'a> {
    /// For the records of one export, into rows of one batch.
    pub(super) fn new(settings: Settings<'a>, origin: Arc<Origin>) -> Self {
        Self {
            plan: settings.plan,
            mapping: settings.mapping,
            keyed: matches!(settings.naming, Naming::Keyed(_)),
            last_day: settings.last_day,
            portion: Portion::new(settings.plan.used.len()),
            translator: Translator::new(settings),
            origin,
            flags_text: String::new(),
            rows: BTreeMap::new(),
        }
    }

    /// Translates records.
    pub(super) fn fill(&mut self, records: &Records) -> Result<Portion> {
        for (line, record, damage) in records.iter() {
            self.portion.read += 1;
            let place = Place {
                line,
                export_date: None,
            };
            match damage {
                Some(damage) => self.damaged(damage, place)?,
                None => self.record(record, place)?,
            }
        }
        self.portion.progress = records.progress;
        for (table, rows) in &mut self.rows {
            if !rows.is_empty() {
                self.portion.rows.insert(*table, rows.take()?);
            }
        }
        let empty = Portion::new(self.plan.used.len());
        Ok(std::mem::replace(&mut self.portion, empty))
    }

    fn count_reason(&mut self, reason: &'static str) {
        *self.portion.reasons.entry(reason).or_default() += 1;
    }

    fn entry(&mut self, entry: &Entry, place: Place) -> Result<()> {
        let origin = &self.origin;
        let rows = self.rows.entry(Table::Quarantine);
        write_entry(
            rows.or_insert_with(|| origin.rows(Table::Quarantine)),
            entry,
            place,
        )
    }

    fn damaged(&mut self, damage: &Damage, place: Place) -> Result<()> {
        self.portion.quarantined += 1;
        let reason = damage.reason.id();
        self.count_reason(reason);
        let raw = quarantine::whole_record(&damage.raw);
        let entry = Entry {
            target: self.first_table(),
            field: None,
            reason,
            value: Some(&damage.detail),
            hint: Some(damage.reason.remedy()),
            raw: &raw,
            key: "",
        };
        self.entry(&entry, place)
    }

    fn first_table(&self) -> &'static str {
        self.plan.tables.first().map_or("", |t| t.into.name())
    }

    fn record(&mut self, record: &RawRecord, mut place: Place) -> Result<()> {
        for (seen, (column, _)) in self.portion.seen.iter_mut().zip(&self.plan.used) {
            *seen = *seen || !record.get(*column).is_empty();
        }
        match self.translator.translate(record) {
            Fate::Excluded { column, value } => {
                self.left_out(record, place, Reason::Excluded, &[column], Some(&value))
            }
            Fate::NotSelected => {
                let asked: Vec<usize> = self
                    .plan
                    .tables
                    .iter()
                    .flat_map(|t| t.when.iter().map(|(column, _)| *column))
                    .collect();
                self.left_out(record, place, Reason::NotSelected, &asked, None)
            }
            Fate::Rows => {
                let missing = self.export_day(record, &mut place);
                self.rows(record, place, missing)
            }
        }
    }

    /// The record's own export day; says whether there should be one and is not.
    fn export_day(&self, record: &RawRecord, place: &mut Place) -> bool {
        let Some(column) = self.plan.export_date else {
            return false;
        };
        let text = text::trim(record.get(column));
        place.export_date = date::parse(self.mapping.format.dates, text)
            .ok()
            .filter(|day| *day <= self.last_day);
        place.export_date.is_none()
    }

    fn left_out(
        &mut self,
        record: &RawRecord,
        place: Place,
        reason: Reason,
        columns: &[usize],
        value: Option<&str>,
    ) -> Result<()> {
        self.portion.quarantined += 1;
        self.count_reason(reason.id());
        let raw = quarantine::columns(self.plan, record, columns);
        let field = columns
            .first()
            .and_then(|c| self.plan.used.iter().find(|(i, _)| i == c));
        let entry = Entry {
            target: self.first_table(),
            field: field.map(|(_, name)| name.as_str()),
            reason: reason.id(),
            value,
            hint: None,
            raw: &raw,
            key: "",
        };
        self.entry(&entry, place)
    }

    fn rows(&mut self, record: &RawRecord, place: Place, export_day_missing: bool) -> Result<()> {
        if export_day_missing {
            self.translator.flag_all(Flag::ExportDateMissing);
        }
        if self.translator.rows().any(Row::is_failed) {
            self.translator.flag_all(Flag::PartlyQuarantined);
        }
        let portion = &mut self.portion;
        let mut reasons = BTreeSet::new();
        let mut flags = BTreeSet::new();
        let mut raw = None;
        let before = portion.versions.len();
        for row in self.translator.rows() {
            for failure in &row.failures {
                reasons.insert(failure.rejection.reason.id());
                let raw = raw.get_or_insert_with(|| {
                    let rows: Vec<&Row> = self.translator.rows().collect();
                    quarantine::used_columns(
                        self.plan,
                        record,
                        &rows,
                        self.mapping.format.decimal,
                        self.keyed,
                    )
                });
                let entry = Entry {
                    target: row.table.name(),
                    field: Some(failure.field),
                    reason: failure.rejection.reason.id(),
                    value: (!failure.value.is_empty()).then_some(failure.value.as_str()),
                    hint: failure.rejection.hint.as_deref(),
                    raw,
                    key: &row.record,
                };
                let into = self.rows.entry(Table::Quarantine);
                let into = into.or_insert_with(|| self.origin.rows(Table::Quarantine));
                write_entry(into, &entry, place)?;
            }
            if !row.is_failed() {
                if row.is_flagged() {
                    flags.extend(row.flags().map(Flag::id));
                }
                let into = self.rows.entry(row.table);
                let into = into.or_insert_with(|| self.origin.rows(row.table));
                write_row(into, row, place, &mut self.flags_text)?;
                portion.versions.push(Version::of(row));
            }
        }
        let count = if self.translator.rows().any(Row::is_failed) {
            portion.quarantined += 1;
            Count::Quarantined
        } else if flags.is_empty() {
            Count::Kept
        } else {
            Count::Flagged
        };
        portion
            .records
            .push((count, portion.versions.len() - before));
        for flag in flags {
            *portion.flags.entry(flag).or_default() += 1;
        }
        for reason in reasons {
            *portion.reasons.entry(reason).or_default() += 1;
        }
        let unmatched: BTreeSet<&(Field, String)> = self.translator.unmatched().iter().collect();
        let words = unmatched
            .into_iter()
            .map(|(field, word)| (field.name(), word.clone()));
        portion.unmatched.extend(words);
        Ok(())
    }
}
