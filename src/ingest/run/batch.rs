//! One file through one mapping into one batch.

use std::path::Path;

use crate::domain::day::Day;
use crate::domain::problem::{Problem, Result};
use crate::domain::table::Table;
use crate::ingest::account::{FileAccount, Status};
use crate::ingest::mapping::Mapping;
use crate::ingest::mapping::bind::Plan;
use crate::ingest::mapping::code_list::Names;
use crate::ingest::read::{self, Progress};
use crate::ingest::translate::{Naming, Settings};
use crate::store::Store;
use crate::store::batch::{BatchHeader, BatchInfo};
use crate::store::batch_writer::{BatchWriter, Begin};
use crate::store::durable::{sha256, sha256_file};

use super::known::{Judge, KnownVersions, Repeats, superseded};
use super::pipeline::Taken;
use super::repair::Repair;

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
    /// What the store holds, from file to file.
    pub known: KnownVersions,
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
        let repair = Repair::look(file)?;
        let named = repair.as_ref().and_then(|r| r.export.as_deref());
        let export_date = mapping
            .export_date
            .of_file(named.unwrap_or(file), mapping.at())?;
        let header = self.header(file, mapping, export_date)?;
        let superseded = superseded(self.store, &header)?;
        let mut batch = match self.store.begin_batch(header)? {
            Begin::AlreadyThere(info) => {
                let mut account = FileAccount::new(shown.0, shown.1, Status::AlreadyThere)
                    .with_batch(&info.account);
                account.batch = Some(info.id);
                return Ok(account);
            }
            Begin::New(batch) => batch,
        };
        let format = match repair {
            Some(_) => Repair::format(&mapping.format),
            None => mapping.format.clone(),
        };
        let mut reader = read::open(file, &format)?;
        let plan = Plan::bind(mapping, reader.as_mut(), file)?;
        let settings = || Settings {
            mapping,
            plan: &plan,
            names: self.names,
            naming: self.naming.clone(),
            last_day: export_date.unwrap_or(self.as_of),
        };
        let mut account = FileAccount::new(shown.0, shown.1, Status::Committed);
        // Taken out while a file is read: a file that fails leaves nothing behind.
        let known = std::mem::take(&mut self.known);
        let mut taken = Taken {
            judge: Judge::begin(known, self.store, &batch, superseded)?,
            batch: &mut batch,
            account: &mut account,
            seen: vec![false; plan.used.len()],
        };
        taken.read_all(reader.as_mut(), settings, on_progress)?;
        let (seen, mut judge) = (taken.seen, taken.judge);
        account.notes = reader.notes().to_vec();
        note_empty_columns(&plan, &seen, &mut account);
        if account.read == 0 {
            return Err(Problem::data("the file has no record")
                .file(file)
                .remedy("export it again, or take it out of the folder"));
        }
        let repeats = judge.repeats()?;
        let (account, info) = close(*batch, account, repeats)?;
        self.known = judge.keep(&info)?;
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
