//! Is everything there that was committed, byte for byte? And what lies about that does not count?

use std::collections::{BTreeMap, BTreeSet};
use std::fs::File;
use std::path::{Path, PathBuf};

use parquet::arrow::arrow_reader::ParquetRecordBatchReaderBuilder;
use serde::Serialize;

use super::batch::Folder;
use super::durable::{folder_names, sha256_file};
use super::folder::Store;
use super::layout::Layout;
use super::lock::StoreLock;
use super::schema::arrow_schema;
use super::scrap::{self, Scrap};
use super::table_writer::TableFile;
use super::versions::{self, Run};
use crate::domain::problem::{Problem, Result};
use crate::domain::table::Table;

/// Something that is not as it was committed.
#[derive(Debug, Clone, PartialEq, Eq, Serialize)]
pub struct Damage {
    /// Where, from the store's folder.
    pub path: PathBuf,
    /// What is wrong.
    pub what: String,
}

/// What `verify` found.
#[derive(Debug, Clone, Default, PartialEq, Eq, Serialize)]
pub struct Verification {
    /// Batches that count.
    pub batches: u64,
    /// Files read and compared with their checksums.
    pub files: u64,
    /// Rows in them.
    pub rows: u64,
    /// What is not as it was committed; empty in a sound store.
    pub damage: Vec<Damage>,
    /// What does not count and may be removed.
    pub scrap: Vec<Scrap>,
}

impl Store {
    /// Reads every file that counts and compares it with what was written.
    pub fn verify(&self) -> Result<Verification> {
        let mut check = Check {
            layout: self.layout(),
            found: Verification::default(),
        };
        // A store that cannot be written to cannot be locked, and nobody changes it meanwhile.
        let lock = StoreLock::acquire(self.layout()).ok();
        let folders = check.folders()?;
        check.found.scrap.extend(scrap::find(self.layout())?);
        drop(lock);
        check.identities(&folders);
        check.texts(self);
        for (name, folder) in &folders {
            check.folder(name, folder);
        }
        check.versions()?;
        Ok(check.found)
    }
}

struct Check<'a> {
    layout: &'a Layout,
    found: Verification,
}

impl Check<'_> {
    fn damage(&mut self, path: &Path, what: impl Into<String>) {
        let path = path.strip_prefix(self.layout.root()).unwrap_or(path);
        self.found.damage.push(Damage {
            path: path.to_path_buf(),
            what: what.into(),
        });
    }

    /// The folders that count; those that another one stands in for are named as scrap.
    fn folders(&mut self) -> Result<BTreeMap<String, Folder>> {
        let mut folders = BTreeMap::new();
        for name in folder_names(&self.layout.batches())? {
            if !self.layout.batch_info(&name).is_file() {
                continue;
            }
            match Folder::load(self.layout, &name) {
                Ok(folder) => {
                    folders.insert(name, folder);
                }
                Err(problem) => {
                    let path = self.layout.batch_info(&name);
                    self.damage(&path, problem.what());
                }
            }
        }
        let gone: BTreeSet<String> = folders
            .values()
            .flat_map(|f| f.replaces.iter().cloned())
            .collect();
        folders.retain(|name, _| !gone.contains(name));
        let gone = gone.iter().filter(|name| self.layout.batch(name).exists());
        self.found
            .scrap
            .extend(gone.map(|name| scrap::replaced(name)));
        Ok(folders)
    }

    /// No batch may count twice, and each must be the one its content and mapping say.
    fn identities(&mut self, folders: &BTreeMap<String, Folder>) {
        let mut ids = BTreeSet::new();
        let mut seqs = BTreeSet::new();
        for (name, folder) in folders {
            let path = self.layout.batch_info(name);
            for member in &folder.members {
                self.found.batches += 1;
                if !ids.insert(member.id.as_str()) {
                    self.damage(&path, format!("the batch {} counts twice", member.id));
                }
                if !seqs.insert(member.seq) {
                    self.damage(&path, format!("two batches have the number {}", member.seq));
                }
                if member.id != member.header.id() {
                    let what = format!("the batch {} has the id of another", member.id);
                    self.damage(&path, what);
                }
                if let Err(problem) = member.account.check() {
                    self.damage(&path, problem.what());
                }
            }
        }
    }

    /// The texts beside the batches must be readable.
    fn texts(&mut self, store: &Store) {
        if let Err(problem) = store.families() {
            self.damage(&self.layout.families(), problem.what());
        }
        if let Err(problem) = store.catalog() {
            self.damage(&self.layout.catalog(), problem.what());
        }
    }

    /// Hashes of known versions can be made again, but damaged ones would miscount repeats.
    fn versions(&mut self) -> Result<()> {
        for file in versions::files(&self.layout.versions())? {
            if !Run::open(&file).is_ok_and(|run| run.is_sound().unwrap_or(false)) {
                let what = "hashes of known versions are damaged; remove the file, the next ingest makes it again";
                self.damage(&file, what);
            }
        }
        Ok(())
    }

    fn folder(&mut self, name: &str, folder: &Folder) {
        let mut written: BTreeMap<&str, u64> = BTreeMap::new();
        for file in &folder.files {
            let path = self.layout.batch(name).join(&file.name);
            match check_file(&path, file) {
                Ok(()) => {
                    self.found.files += 1;
                    self.found.rows += file.rows;
                }
                Err(problem) => self.damage(&path, problem.what()),
            }
            *written.entry(&file.table).or_default() += file.rows;
        }
        let mut accounted: BTreeMap<&str, u64> = BTreeMap::new();
        for (table, rows) in folder.members.iter().flat_map(|m| &m.account.rows) {
            *accounted.entry(table).or_default() += rows;
        }
        if written != accounted {
            let what =
                format!("its files hold {written:?} rows and its account says {accounted:?}");
            self.damage(&self.layout.batch_info(name), what);
        }
    }
}

fn check_file(path: &Path, expected: &TableFile) -> Result<()> {
    let wrong = |what: String| Err(Problem::data(what));
    let table = match Table::from_name(&expected.table) {
        Some(table) => table,
        None => return wrong(format!("there is no table {}", expected.table)),
    };
    if !path.exists() {
        return wrong("the file is missing".into());
    }
    if sha256_file(path)? != expected.sha256 {
        return wrong("the content is not what was written (checksum)".into());
    }
    let file = File::open(path).map_err(|e| Problem::data(e.to_string()))?;
    let reader = ParquetRecordBatchReaderBuilder::try_new(file)
        .map_err(|e| Problem::data(format!("it cannot be read: {e}")))?;
    if reader.schema().fields() != arrow_schema(table).fields() {
        return wrong(format!(
            "its columns are not those of the table {}",
            expected.table
        ));
    }
    let rows = reader.metadata().file_metadata().num_rows();
    if u64::try_from(rows) != Ok(expected.rows) {
        return wrong(format!("it has {rows} rows instead of {}", expected.rows));
    }
    Ok(())
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::store::layout::LIVE;
    use crate::store::sample::{begin, header, ingest, rows, store, visits};

    fn said(store: &Store) -> String {
        let found = store.verify().unwrap();
        let lines = found
            .damage
            .iter()
            .map(|d| format!("{}: {}", d.path.display(), d.what));
        lines.collect::<Vec<_>>().join("\n")
    }

    #[test]
    fn a_sound_store_is_called_sound() {
        let folder = tempfile::tempdir().unwrap();
        let store = store(&folder);
        ingest(&store, "a", 50);
        ingest(&store, "b", 7);
        let found = store.verify().unwrap();
        assert_eq!((found.batches, found.files, found.rows), (2, 2, 57));
        assert!(
            found.damage.is_empty() && found.scrap.is_empty(),
            "{found:?}"
        );
    }

    #[test]
    fn every_kind_of_damage_is_named() {
        let folder = tempfile::tempdir().unwrap();
        let store = store(&folder);
        ingest(&store, "a", 50);
        let file = store.table_files(Table::Visits).unwrap()[0].clone();
        let name = durable_name(&store);
        let info = store.layout().batch_info(&name);
        let bytes = std::fs::read(&file).unwrap();
        let text = std::fs::read_to_string(&info).unwrap();

        let mut flipped = bytes.clone();
        let middle = flipped.len() / 2;
        flipped[middle] ^= 1;
        std::fs::write(&file, &flipped).unwrap();
        assert!(said(&store).contains("checksum"));
        std::fs::remove_file(&file).unwrap();
        assert!(said(&store).contains("missing"));
        std::fs::write(&file, &bytes).unwrap();
        assert_eq!(said(&store), "");

        let changed = [
            ("\"rows\": 50", "\"rows\": 49", "instead of"),
            ("\"visits\": 50", "\"visits\": 51", "account says"),
            ("\"read\": 50", "\"read\": 51", "does not balance"),
            ("\"table\": \"visits\"", "\"table\": \"cases\"", "columns"),
            ("\"table\": \"visits\"", "\"table\": \"visit\"", "no table"),
            (
                "\"mapping_hash\": \"m1\"",
                "\"mapping_hash\": \"m2\"",
                "id of another",
            ),
            ("{", "", "damaged"),
        ];
        for (from, to, word) in changed {
            let wrong = text.replacen(from, to, 1);
            assert_ne!(wrong, text, "{from} is not in the description");
            std::fs::write(&info, wrong).unwrap();
            assert!(said(&store).contains(word), "{word}: {}", said(&store));
        }
        std::fs::write(&info, &text).unwrap();
        let copy = store.layout().batch("000009-copy");
        std::fs::create_dir(&copy).unwrap();
        std::fs::write(copy.join("batch.json"), &text).unwrap();
        std::fs::write(copy.join("visits.parquet"), &bytes).unwrap();
        assert!(said(&store).contains("counts twice"));
        std::fs::remove_dir_all(&copy).unwrap();
        std::fs::write(store.layout().families(), "[[family]]").unwrap();
        assert!(said(&store).contains("families.toml"));
    }

    #[test]
    fn damaged_hashes_of_known_versions_are_named() {
        let folder = tempfile::tempdir().unwrap();
        let store = store(&folder);
        let info = ingest(&store, "a", 5);
        let name = crate::store::batch_writer::folder_name(info.seq, &info.id);
        let mut builder = versions::Builder::new(&store, "a", vec![name]).unwrap();
        let mut rows = builder.sorter(100);
        (0..5).for_each(|k| rows.add(k, k, 0).unwrap());
        let write = |key, rows: &mut [versions::Row], out: &mut versions::Writer| {
            rows.iter()
                .try_for_each(|row| out.add(versions::Entry::new(key, row.content(), 0)))
        };
        builder.write(rows, write).unwrap();
        builder.finish(&mut versions::Index::default()).unwrap();
        assert_eq!(said(&store), "");
        let file = versions::files(&store.layout().versions())
            .unwrap()
            .remove(0);
        let mut bytes = std::fs::read(&file).unwrap();
        bytes[3] ^= 1;
        std::fs::write(&file, bytes).unwrap();
        assert!(said(&store).contains("versions"), "{}", said(&store));
    }

    fn durable_name(store: &Store) -> String {
        folder_names(&store.layout().batches()).unwrap().remove(0)
    }

    #[test]
    fn what_a_crash_leaves_is_named_removed_and_harmless() {
        let folder = tempfile::tempdir().unwrap();
        let store = store(&folder);
        ingest(&store, "a", 5);
        let layout = store.layout();
        // A writer that died: its files and its lock file are there, and nobody holds the lock.
        std::fs::create_dir_all(layout.staged("000002-dead")).unwrap();
        std::fs::write(layout.staged("000002-dead").join(LIVE), "").unwrap();
        std::fs::write(layout.staged("000002-dead").join("visits.parquet"), "half").unwrap();
        // One that died between the rename and the description.
        std::fs::create_dir_all(layout.batch("000003-dead")).unwrap();
        std::fs::write(layout.batch("000003-dead").join("visits.parquet"), "x").unwrap();
        std::fs::write(layout.root().join("sequence.unfinished"), "4").unwrap();
        // One that lives.
        let mut live = begin(&store, header("b", "m", "m1"));
        visits(&mut live, "b", 3);

        assert_eq!(rows(&store, Table::Visits).len(), 5);
        // The next ingest (`live`) has taken the scrap away already; put it there once more.
        assert!(store.verify().unwrap().scrap.is_empty());
        std::fs::create_dir_all(layout.staged("000004-dead")).unwrap();
        std::fs::create_dir_all(layout.batch("000005-dead")).unwrap();
        std::fs::write(layout.root().join("families.unfinished"), "4").unwrap();
        let found = store.verify().unwrap();
        assert!(found.damage.is_empty());
        let paths: Vec<String> = found
            .scrap
            .iter()
            .map(|s| s.path.display().to_string())
            .collect();
        assert_eq!(
            paths,
            [
                "staging/000004-dead",
                "batches/000005-dead",
                "families.unfinished"
            ]
        );
        assert_eq!(store.remove_scrap().unwrap(), found.scrap);
        assert!(store.verify().unwrap().scrap.is_empty());
        let account = crate::store::sample::account(3);
        live.commit(account).unwrap();
        assert_eq!(rows(&store, Table::Visits).len(), 8);
    }
}
