//! One file through one mapping into one batch.

use std::path::Path;

use crate::domain::day::Day;
use crate::domain::problem::{Problem, Result};
use crate::domain::table::Table;
use crate::ingest::account::{FileAccount, Status};
use crate::ingest::mapping::Mapping;
use crate::ingest::mapping::bind::Plan;
use crate::ingest::mapping::code_list::Names;
use crate::ingest::read::{self, Format, Progress, RecordReader};
use crate::ingest::translate::{Naming, Settings};
use crate::store::Store;
use crate::store::batch::{BatchHeader, BatchInfo};
use crate::store::batch_writer::{BatchWriter, Begin};
use crate::store::durable::{sha256, sha256_file};

use super::known::{Judge, Repeats, superseded};
use super::pipeline::Taken;
use super::repair::Repair;
use super::turn::Turn;

/// Changes when the rules change, so that a file ingested under older rules can be ingested again.
const RULES: &str = "1";

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
    /// Rows of a file whose hashes are held in memory ([`HELD`](super::HELD)); the answer does not depend on it.
    pub held: usize,
}

/// A file that was looked at.
pub(super) struct Looked {
    /// What tells it from others.
    pub(super) header: BatchHeader,
    format: Format,
}

/// A file whose batch is begun.
pub(super) enum Opened {
    /// It was ingested in the same way before.
    AlreadyThere(Box<FileAccount>),
    /// Its records are to be read.
    New(Box<New>),
}

/// What is known of a file before its records are read.
pub(super) struct New {
    batch: BatchWriter,
    reader: Box<dyn RecordReader>,
    plan: Plan,
    account: FileAccount,
    superseded: Option<i64>,
}

impl Ingest<'_> {
    /// Begins the batch of a file.
    pub(super) fn open(&self, file: &Path, mapping: &Mapping, looked: Looked) -> Result<Opened> {
        let Looked { header, format } = looked;
        let account = |status| {
            let mapping = mapping.file.display().to_string();
            FileAccount::new(file.display().to_string(), mapping, status)
        };
        let superseded = superseded(self.store, &header)?;
        let batch = match self.store.begin_batch(header)? {
            Begin::AlreadyThere(info) => {
                let mut account = account(Status::AlreadyThere).with_batch(&info.account);
                account.batch = Some(info.id);
                return Ok(Opened::AlreadyThere(Box::new(account)));
            }
            Begin::New(batch) => *batch,
        };
        let mut reader = read::open(file, &format)?;
        let plan = Plan::bind(mapping, reader.as_mut(), file)?;
        Ok(Opened::New(Box::new(New {
            batch,
            reader,
            plan,
            account: account(Status::Committed),
            superseded,
        })))
    }

    /// Reads the records of a file, judges them when its turn has come, and makes its batch count.
    pub(super) fn fill(
        &self,
        opened: Opened,
        mapping: &Mapping,
        turn: &mut Turn,
        on_progress: OnProgress,
    ) -> Result<FileAccount> {
        let mut new = match opened {
            Opened::AlreadyThere(account) => return Ok(*account),
            Opened::New(new) => new,
        };
        let (plan, export_date) = (&new.plan, new.batch.header().export_date);
        let settings = || Settings {
            mapping,
            plan,
            names: self.names,
            naming: self.naming.clone(),
            last_day: export_date.unwrap_or(self.as_of),
        };
        let mut taken = Taken {
            judge: Judge::new(turn, self.store, &new.batch, new.superseded, self.held)?,
            batch: &mut new.batch,
            account: &mut new.account,
            seen: vec![false; plan.used.len()],
        };
        taken.read_all(new.reader.as_mut(), settings, on_progress)?;
        let (seen, mut judge) = (taken.seen, taken.judge);
        new.account.notes = new.reader.notes().to_vec();
        note_empty_columns(plan, &seen, &mut new.account);
        if new.account.read == 0 {
            return Err(Problem::data("the file has no record")
                .file(Path::new(&new.account.file))
                .remedy("export it again, or take it out of the folder"));
        }
        let repeats = judge.repeats()?;
        let (account, info) = close(new.batch, new.account, repeats)?;
        judge.keep(&info)?;
        Ok(account)
    }

    /// Looks at a file: hashes it, and finds out whether it is a repair file.
    pub(super) fn look(&self, file: &Path, mapping: &Mapping) -> Result<Looked> {
        let repair = Repair::look(file)?;
        let named = repair.as_ref().and_then(|r| r.export.as_deref());
        let export_date = mapping
            .export_date
            .of_file(named.unwrap_or(file), mapping.at())?;
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
        let header = BatchHeader {
            source: mapping.source.clone(),
            file: name,
            content_hash: sha256_file(file)?,
            mapping: mapping_name,
            mapping_hash: sha256(understood.as_bytes()),
            export_date,
        };
        let format = match repair {
            Some(_) => Repair::format(&mapping.format),
            None => mapping.format.clone(),
        };
        Ok(Looked { header, format })
    }
}

/// Takes the repeats out of the other counts and makes the batch count.
fn close(
    batch: BatchWriter,
    mut account: FileAccount,
    found: Repeats,
) -> Result<(FileAccount, BatchInfo)> {
    let finished = batch.finish()?;
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
    account.batch = Some(info.id.clone());
    Ok((account, info))
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
