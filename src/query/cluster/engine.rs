//! The cluster as an [`Engine`]: tables registered by path, statements sent, tallies and history streamed back.
//!
//! History is written here, on the client: the cluster runs its statements and the rows stream into the store's `history/` as under
//! the embedded engine. It is then made once for all engines and all later questions; kept as steps of every statement it would be
//! worked out again for each. Rows pass through one group at a time and are never held whole.

use std::path::Path;
use std::time::Duration;

use arrow::compute::concat_batches;
use arrow::record_batch::RecordBatch;
use sha2::{Digest, Sha256};

use super::address::{Address, Credentials};
use super::bucket::Copies;
use super::location::location;
use super::parquet_file::ParquetFile;
use super::scratch::Scratch;
use super::server::Server;
use super::tables::{Part, Tables, create_statement, drop_statement};
use crate::domain::problem::{AtFile, Problem, Result};
use crate::query::engine::{Engine, Purpose, Rows};

/// Longest time given to the cluster for what may fail: a setting, and dropping what a client leaves.
const LEAVING: Duration = Duration::from_secs(5);

/// Ballista 55 plans again while a statement runs, and never ends where a table of a join turns out to be empty, as those of odd
/// vehicles often are (seen: thousands of stages for one statement). A server that does not know the setting refuses it, and
/// nothing is lost.
const PLAN_ONCE: &str = "SET ballista.planner.adaptive.enabled = false";

/// Runs SQL on an Arrow Flight SQL server.
pub struct Cluster {
    server: Server,
    tables: Tables,
    scratch: Scratch,
    /// Where the cluster reads files, unless it sees the store's folder. Below the scratch folder, so that it ends later and can
    /// remove copies of what was there.
    copies: Option<Copies>,
}

impl Cluster {
    /// Connects for a store; `history` is its folder for what is derived, which must be writable here.
    pub fn connect(address: &Address, credentials: &Credentials, history: &Path) -> Result<Self> {
        let mut server = Server::connect(address, credentials)?;
        server.try_commands(vec![PLAN_ONCE.to_owned()], LEAVING);
        let name = client_name(history)?;
        Ok(Self {
            server,
            tables: Tables::new(&name),
            scratch: Scratch::new(history, &name),
            copies: None,
        })
    }

    /// Has the cluster read copies in a bucket instead of the store's folder.
    pub fn reading(mut self, copies: Copies) -> Self {
        self.copies = Some(copies);
        self
    }

    /// Creates what a statement reads, and gives its text for this session.
    fn prepare(&mut self, sql: &str) -> Result<String> {
        let missing = self.tables.missing(sql);
        let mut files = Vec::with_capacity(missing.len());
        for external in &missing {
            files.push(match &external.part {
                Part::File(file) => file.clone(),
                Part::Held(rows) => self.scratch.write(rows)?,
            });
        }
        let locations = match &mut self.copies {
            Some(copies) => copies.bring(&files)?,
            None => files.iter().map(|f| location(f)).collect::<Result<_>>()?,
        };
        for ((external, file), location) in missing.into_iter().zip(files).zip(locations) {
            let statement = create_statement(&external.name, &location);
            let doing = match self.copies {
                Some(_) => format!("open {} as {location}", file.display()),
                None => format!("open {}", file.display()),
            };
            self.server.command(&statement, &doing)?;
            self.tables.created(external);
        }
        Ok(self.tables.told(sql))
    }

    fn fetch(&mut self, sql: &str, file: &Path) -> Result<u64> {
        let told = self.prepare(sql)?;
        let mut rows = self.server.rows(told)?;
        let mut out = None;
        while let Some(batch) = rows.read()? {
            let mut to = match out.take() {
                Some(to) => to,
                None => ParquetFile::create(file, batch.schema())?,
            };
            to.write(&batch)?;
            out = Some(to);
        }
        match out {
            Some(out) => out.finish(),
            None => ParquetFile::create(file, rows.schema()?)?.finish(),
        }
    }
}

/// A name that no other client gives: by the store, the process, and chance for hosts whose processes have the same number.
fn client_name(history: &Path) -> Result<String> {
    let place = std::path::absolute(history).at_file("name in full", history)?;
    let store = Sha256::digest(place.as_os_str().as_encoded_bytes());
    let mut chance = [0; 4];
    getrandom::fill(&mut chance)
        .map_err(|e| Problem::data(format!("this system gives no random numbers: {e}")))?;
    let hex = |bytes: &mut dyn Iterator<Item = u8>| -> String {
        bytes.map(|b| format!("{b:02x}")).collect()
    };
    let store = hex(&mut store.iter().take(4).copied());
    let chance = hex(&mut chance.into_iter());
    Ok(format!("boretally_{store}_{}_{chance}", std::process::id()))
}

impl Engine for Cluster {
    fn register(&mut self, name: &str, rows: Rows) -> Result<()> {
        for gone in self.tables.know(name, rows) {
            self.server
                .command(&drop_statement(&gone), "drop a table that was replaced")?;
        }
        Ok(())
    }

    fn query(&mut self, sql: &str) -> Result<RecordBatch> {
        let told = self.prepare(sql)?;
        let mut rows = self.server.rows(told)?;
        let mut batches = Vec::new();
        while let Some(batch) = rows.read()? {
            batches.push(batch);
        }
        concat_batches(&rows.schema()?, &batches)
            .map_err(|e| Problem::data(format!("could not hold a query's result: {e}")))
    }

    /// What the cluster sends is written as if it stayed: sending it takes longer.
    fn write(&mut self, sql: &str, file: &Path, _: Purpose) -> Result<u64> {
        // Named after the process: two may build the same file at once, and each must rename what it wrote itself.
        let unfinished = file.with_extension(format!("{}.unfinished", std::process::id()));
        let result = self.fetch(sql, &unfinished);
        if result.is_err() {
            // The error is what matters; a leftover beside the target is overwritten by the next run.
            let _ = std::fs::remove_file(&unfinished);
        }
        let rows = result?;
        std::fs::rename(&unfinished, file).at_file("put the result in its place", file)?;
        Ok(rows)
    }
}

impl Drop for Cluster {
    fn drop(&mut self) {
        let names = self.tables.forget_all();
        if !names.is_empty() {
            let statements = names.iter().map(|n| drop_statement(n)).collect();
            self.server.try_commands(statements, LEAVING);
        }
    }
}
