//! Fills one batch from one file, record by record: rows and quarantine entries into the batch, counts into the account.

use std::collections::{BTreeMap, BTreeSet};

use crate::domain::day::Day;
use crate::domain::problem::Result;
use crate::ingest::account::FileAccount;
use crate::ingest::cell::{date, text};
use crate::ingest::mapping::bind::Plan;
use crate::ingest::mapping::{Field, Mapping};
use crate::ingest::read::{Damage, RawRecord, ReadOutcome, RecordReader};
use crate::ingest::rule::{Flag, Reason};
use crate::ingest::translate::{Fate, Row, Translator};
use crate::store::batch_writer::BatchWriter;

use super::batch::{Known, OnProgress};
use super::duplicates::Repeats;
use super::known::Judgement;
use super::quarantine::{self, Entry};
use super::sink::{Place, write_entry, write_row};

/// Different unknown words of one field that the account lists.
const MOST_UNMATCHED: usize = 200;

/// How often progress is told.
const PROGRESS_EVERY: u64 = 4096;

/// Fills one batch from one file.
pub(super) struct Filling<'f, 'a> {
    pub(super) plan: &'f Plan,
    pub(super) mapping: &'f Mapping,
    pub(super) keyed: bool,
    pub(super) last_day: Day,
    pub(super) translator: Translator<'a>,
    pub(super) account: FileAccount,
    pub(super) batch: &'f mut BatchWriter,
    /// Which of the used columns ever had a value.
    pub(super) seen: Vec<bool>,
    pub(super) last_line: u64,
    pub(super) flags_text: String,
    pub(super) known: Known,
    pub(super) repeats: Repeats,
}

impl Filling<'_, '_> {
    /// Reads to the end of the file.
    pub(super) fn read_all(
        &mut self,
        reader: &mut dyn RecordReader,
        on_progress: OnProgress,
    ) -> Result<()> {
        let mut record = RawRecord::new();
        loop {
            match reader.read(&mut record)? {
                ReadOutcome::Record => self.record(&record)?,
                ReadOutcome::Damaged(damage) => self.damaged(&damage)?,
                ReadOutcome::End => break,
            }
            if self.account.read.is_multiple_of(PROGRESS_EVERY) {
                on_progress(reader.progress());
            }
        }
        on_progress(reader.progress());
        Ok(())
    }

    /// Line numbers tell records apart, so several records of one line (JSON) are numbered on.
    fn place(&mut self, line: u64) -> Place {
        self.last_line = line.max(self.last_line + 1);
        Place {
            line: self.last_line,
            export_date: None,
        }
    }

    fn count_reason(&mut self, reason: &str) {
        *self.account.reasons.entry(reason.to_owned()).or_default() += 1;
    }

    fn damaged(&mut self, damage: &Damage) -> Result<()> {
        self.account.read += 1;
        self.account.quarantined += 1;
        let place = self.place(damage.line);
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
        write_entry(self.batch, &entry, place)
    }

    fn first_table(&self) -> &'static str {
        self.plan.tables.first().map_or("", |t| t.into.name())
    }

    fn record(&mut self, record: &RawRecord) -> Result<()> {
        self.account.read += 1;
        let mut place = self.place(record.line());
        for (seen, (column, _)) in self.seen.iter_mut().zip(&self.plan.used) {
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
        self.account.quarantined += 1;
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
        write_entry(self.batch, &entry, place)
    }

    fn rows(&mut self, record: &RawRecord, place: Place, export_day_missing: bool) -> Result<()> {
        if export_day_missing {
            self.translator.flag_all(Flag::ExportDateMissing);
        }
        if self.translator.rows().any(Row::is_failed) {
            self.translator.flag_all(Flag::PartlyQuarantined);
        }
        let rows: Vec<&Row> = self.translator.rows().collect();
        let mut reasons = BTreeSet::new();
        let mut flags = BTreeSet::new();
        let mut raw = None;
        for row in &rows {
            for failure in &row.failures {
                reasons.insert(failure.rejection.reason.id());
                let raw = raw.get_or_insert_with(|| {
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
                write_entry(self.batch, &entry, place)?;
            }
            if !row.is_failed() {
                flags.extend(row.flags().map(Flag::id));
                write_row(self.batch, row, place, &mut self.flags_text)?;
            }
        }
        let stored = rows.iter().filter(|r| !r.is_failed()).copied();
        let judgement = judge(&mut self.known, &self.mapping.source, stored);
        let account = &mut self.account;
        let repeats = &mut self.repeats;
        let (count, duplicates) = if rows.iter().any(|r| r.is_failed()) {
            account.quarantined += 1;
            (None, None)
        } else if flags.is_empty() {
            (Some(&mut account.kept), Some(&mut repeats.kept))
        } else {
            (Some(&mut account.flagged), Some(&mut repeats.flagged))
        };
        if let (Some(count), Some(duplicates)) = (count, duplicates) {
            *count += 1;
            match judgement {
                Judgement::Duplicate => *duplicates += 1,
                Judgement::Edit => repeats.edited += 1,
                Judgement::New => {}
            }
        }
        for flag in flags {
            *account.flags.entry(flag.to_owned()).or_default() += 1;
        }
        for reason in reasons {
            *account.reasons.entry(reason.to_owned()).or_default() += 1;
        }
        let unmatched: BTreeSet<&(Field, String)> = self.translator.unmatched().iter().collect();
        for (field, word) in unmatched {
            count_word(&mut account.unmatched, field.name(), word);
        }
        Ok(())
    }
}

/// What the rows of a record are to those that are known; told later by SQL where there are too many.
fn judge<'r>(known: &mut Known, source: &str, rows: impl Iterator<Item = &'r Row>) -> Judgement {
    let Known::All(versions) = known else {
        return Judgement::New;
    };
    let judgement = versions.judge(source, rows);
    if versions.is_full() {
        *known = Known::TooMany;
    }
    judgement
}

fn count_word(unmatched: &mut BTreeMap<String, BTreeMap<String, u64>>, field: &str, word: &str) {
    let words = unmatched.entry(field.to_owned()).or_default();
    if let Some(count) = words.get_mut(word) {
        *count += 1;
    } else if words.len() < MOST_UNMATCHED {
        words.insert(word.to_owned(), 1);
    }
}
