//! One file through one mapping into one batch.

use std::collections::{BTreeMap, BTreeSet};
use std::path::Path;

use crate::domain::day::Day;
use crate::domain::problem::{Problem, Result};
use crate::domain::table::Table;
use crate::ingest::account::{FileAccount, Status};
use crate::ingest::cell::date;
use crate::ingest::mapping::bind::Plan;
use crate::ingest::mapping::code_list::Names;
use crate::ingest::mapping::{Field, Mapping};
use crate::ingest::read::{self, Damage, Progress, RawRecord, ReadOutcome, RecordReader};
use crate::ingest::rule::{Flag, Reason};
use crate::ingest::translate::{Fate, Naming, Row, Settings, Translator};
use crate::store::Store;
use crate::store::batch::BatchHeader;
use crate::store::batch_writer::{BatchWriter, Begin};
use crate::store::durable::{sha256, sha256_file};

use super::duplicates::{self, Repeats};
use super::known::{Judgement, KnownVersions};
use super::quarantine::{self, Entry};
use super::sink::{Place, write_entry, write_row};

/// Changes when the rules change, so that a file ingested under older rules can be ingested again.
const RULES: &str = "1";

/// Different unknown words of one field that the account lists.
const MOST_UNMATCHED: usize = 200;

/// Told how far a file is read.
pub type OnProgress<'a> = &'a mut dyn FnMut(Progress);

/// What all files of a run share.
pub struct Ingest<'a> {
    /// Where the batches go.
    pub store: &'a Store,
    /// Catalog and families.
    pub names: Names<'a>,
    /// Texts of catalog and families, which decide how a file is understood.
    pub names_text: &'a str,
    /// How vehicles are named.
    pub naming: Naming,
    /// No record can be later, where the export's own day is not known.
    pub as_of: Day,
    /// What the store holds, from file to file.
    pub known: Known,
}

/// The versions of records that the store holds, as far as they are in memory.
#[derive(Default)]
pub enum Known {
    /// Not looked up yet, or a file failed that had been added.
    #[default]
    NotYet,
    /// All of them.
    All(KnownVersions),
    /// Too many: each file is compared by SQL.
    TooMany,
}

impl Ingest<'_> {
    /// Takes one file in. An error means that nothing of it is in the store.
    ///
    /// # Errors
    /// The file cannot be read, a column of the mapping is not there, or the store cannot be written.
    pub fn file(
        &mut self,
        file: &Path,
        mapping: &Mapping,
        on_progress: OnProgress,
    ) -> Result<FileAccount> {
        let shown = (
            file.display().to_string(),
            mapping.file.display().to_string(),
        );
        let export_date = mapping.export_date.of_file(file, mapping.at())?;
        let header = self.header(file, mapping, export_date)?;
        let superseded = duplicates::superseded(self.store, &header)?;
        let mut batch = match self.store.begin_batch(header)? {
            Begin::AlreadyThere(info) => {
                let mut account = FileAccount::new(shown.0, shown.1, Status::AlreadyThere)
                    .with_batch(&info.account);
                account.batch = Some(info.id);
                return Ok(account);
            }
            Begin::New(batch) => batch,
        };
        let mut reader = read::open(file, &mapping.format)?;
        let plan = Plan::bind(mapping, reader.as_mut(), file)?;
        let settings = Settings {
            mapping,
            plan: &plan,
            names: self.names,
            naming: self.naming.clone(),
            last_day: export_date.unwrap_or(self.as_of),
        };
        let mut filling = Filling {
            plan: &plan,
            mapping,
            keyed: matches!(self.naming, Naming::Keyed(_)),
            last_day: settings.last_day,
            translator: Translator::new(settings),
            account: FileAccount::new(shown.0, shown.1, Status::Committed),
            batch: &mut batch,
            seen: vec![false; plan.used.len()],
            last_line: 0,
            flags_text: String::new(),
            repeats: Repeats::default(),
            // Taken out while a file is read: a file that fails leaves nothing behind.
            known: known_versions(self.store, std::mem::take(&mut self.known), superseded)?,
        };
        filling.read_all(reader.as_mut(), on_progress)?;
        let (seen, known, mut account) = (filling.seen, filling.known, filling.account);
        let told = (!matches!(known, Known::TooMany)).then_some(filling.repeats);
        account.notes = reader.notes().to_vec();
        note_empty_columns(&plan, &seen, &mut account);
        if account.read == 0 {
            return Err(Problem::data("the file has no record")
                .file(file)
                .remedy("export it again, or take it out of the folder"));
        }
        let account = self.close(*batch, account, told)?;
        self.known = known;
        Ok(account)
    }

    fn header(
        &self,
        file: &Path,
        mapping: &Mapping,
        export_date: Option<Day>,
    ) -> Result<BatchHeader> {
        let folder = mapping.file.parent().unwrap_or(Path::new(""));
        let name = match file.strip_prefix(folder) {
            Ok(inside) => inside.display().to_string(),
            Err(_) => file.file_name().map_or_else(
                || file.display().to_string(),
                |n| n.to_string_lossy().into_owned(),
            ),
        };
        let mapping_name = mapping
            .file
            .file_name()
            .map_or_else(String::new, |n| n.to_string_lossy().into_owned());
        let day = export_date.map_or_else(String::new, |d| d.to_string());
        let understood = [RULES, &mapping.text, self.names_text, &day].join("\n\u{0}\n");
        Ok(BatchHeader {
            source: mapping.source.clone(),
            file: name,
            content_hash: sha256_file(file)?,
            mapping: mapping_name,
            mapping_hash: sha256(understood.as_bytes()),
            export_date,
        })
    }

    /// Counts duplicates and edits against the store, then makes the batch count.
    fn close(
        &self,
        batch: BatchWriter,
        mut account: FileAccount,
        told: Option<Repeats>,
    ) -> Result<FileAccount> {
        let finished = batch.finish()?;
        let found = match told {
            Some(repeats) => repeats,
            None => duplicates::count(self.store, &finished)?,
        };
        account.duplicate = found.kept + found.flagged;
        account.kept = account.kept.saturating_sub(found.kept);
        account.flagged = account.flagged.saturating_sub(found.flagged);
        account.edited = found.edited;
        for table in Table::ALL {
            account
                .tables
                .insert(table.name().to_owned(), finished.rows(table));
        }
        let info = finished.commit(account.of_batch())?;
        account.batch = Some(info.id);
        Ok(account)
    }
}

/// Fills one batch from one file.
struct Filling<'f, 'a> {
    plan: &'f Plan,
    mapping: &'f Mapping,
    keyed: bool,
    last_day: Day,
    translator: Translator<'a>,
    account: FileAccount,
    batch: &'f mut BatchWriter,
    /// Which of the used columns ever had a value.
    seen: Vec<bool>,
    last_line: u64,
    flags_text: String,
    known: Known,
    repeats: Repeats,
}

/// How often progress is told.
const PROGRESS_EVERY: u64 = 4096;

impl Filling<'_, '_> {
    fn read_all(&mut self, reader: &mut dyn RecordReader, on_progress: OnProgress) -> Result<()> {
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
        let text = crate::ingest::cell::text::trim(record.get(column));
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

fn known_versions(store: &Store, known: Known, superseded: Option<i64>) -> Result<Known> {
    match known {
        Known::All(versions) if superseded.is_none() => Ok(Known::All(versions)),
        Known::TooMany => Ok(Known::TooMany),
        Known::All(_) | Known::NotYet => {
            Ok(KnownVersions::load(store, superseded)?.map_or(Known::TooMany, Known::All))
        }
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

/// In fewer records a column may well be empty by chance.
const RECORDS_TO_JUDGE_BY: u64 = 100;

fn note_empty_columns(plan: &Plan, seen: &[bool], account: &mut FileAccount) {
    if account.read < RECORDS_TO_JUDGE_BY {
        return;
    }
    for ((_, name), seen) in plan.used.iter().zip(seen) {
        if !seen {
            account.notes.push(format!(
                "column {name:?} is mapped and is empty in every record"
            ));
        }
    }
}
