//! `store quarantine`: what could not be used, and a file for its repair.

use std::collections::BTreeMap;
use std::path::{Path, PathBuf};

use clap::Args;
use serde::Serialize;

use super::command::heading;
use crate::answer::sheet::{Answer, Cell, Grid, Sheet, Show};
use crate::cli::command::Outcome;
use crate::cli::output::{self, Format, OutputArgs};
use crate::cli::question::EngineArgs;
use crate::domain::problem::{Problem, Result};
use crate::query::quarantine::{Wanted, read};
use crate::query::tables::open_tables;
use crate::report::render::file;
use crate::store::Store;
use crate::store::repair::{BadField, repair_csv};

/// Reasons that are choices of the mapping: nothing to repair.
const ON_PURPOSE: [&str; 2] = ["excluded", "not-selected"];

/// Arguments of `store quarantine`.
#[derive(Debug, Args)]
#[command(after_help = "\
Example:
  boretally store quarantine shop.store
  boretally store quarantine shop.store --file jobs.csv --out bad.csv
Correct the cells in bad.csv (its last columns say what is wrong), then ingest it through the same mapping:
  boretally ingest bad.csv --mapping exports/desk.mapping.toml --store shop.store
A record that came in that way is no longer shown. When the bad records are of several exports, --out names a folder
and each export gets a file of its own. Records that the mapping leaves out on purpose are shown with --all only.")]
pub struct Quarantine {
    /// The store
    path: PathBuf,
    /// Only records with this reason (may be repeated)
    #[arg(long, value_name = "REASON")]
    reason: Vec<String>,
    /// Only records of the export with this file name (may be repeated)
    #[arg(long, value_name = "NAME")]
    file: Vec<String>,
    /// Also what was repaired since, and what the mapping leaves out on purpose
    #[arg(long)]
    all: bool,
    /// Show at most so many entries; 0 shows all
    #[arg(long, value_name = "N", default_value_t = 50)]
    limit: usize,
    #[command(flatten)]
    engine: EngineArgs,
    /// How to print the entries
    #[arg(long, value_enum, default_value_t = Format::Table)]
    format: Format,
    /// Write the records to this CSV file (or folder) for repair
    #[arg(long, value_name = "PATH")]
    out: Option<PathBuf>,
}

impl Quarantine {
    pub(super) fn run(self) -> Result<Outcome> {
        let store = Store::open(&self.path)?;
        let mut engine = self.engine.open(&store)?;
        open_tables(&mut engine, &store)?;
        let wanted = Wanted {
            reasons: self.reason.clone(),
            files: self.file.clone(),
            with_repaired: self.all,
        };
        let mut entries = read(&mut engine, &wanted)?;
        if !self.all {
            let asked = |e: &BadField| self.reason.contains(&e.reason);
            entries.retain(|e| asked(e) || !ON_PURPOSE.contains(&e.reason.as_str()));
        }
        if let Some(target) = &self.out {
            write_for_repair(&entries, target)?;
            return Ok(Outcome::Done);
        }
        let list = QuarantineList::of(&store, entries, self.limit);
        let output = OutputArgs {
            format: self.format,
            out: None,
        };
        output.emit(&list)?;
        Ok(Outcome::Done)
    }
}

/// Writes one repair file an export: a single one to `target` itself, several into it as a folder.
fn write_for_repair(entries: &[BadField], target: &Path) -> Result<()> {
    let mut exports: BTreeMap<(&str, &str), Vec<BadField>> = BTreeMap::new();
    for entry in entries {
        let key = (entry.source.as_str(), entry.file.as_str());
        exports.entry(key).or_default().push(entry.clone());
    }
    let is_folder = target.is_dir() || target.extension().is_none();
    if exports.len() > 1 && !is_folder {
        return Err(Problem::usage(format!(
            "the records are of {} exports, and each needs a file of its own",
            exports.len()
        ))
        .field("--out")
        .value(target.display().to_string())
        .remedy("name a folder, or choose one export with --file"));
    }
    let mut text = String::new();
    for ((source, export), entries) in &exports {
        let path = if is_folder {
            target.join(format!("{}.{}.repair.csv", safe(source), safe(export)))
        } else {
            target.to_path_buf()
        };
        file::write(&path, &repair_csv(entries)?)?;
        text += &format!(
            "{}: {} records of {export}\n",
            path.display(),
            records(entries)
        );
    }
    if text.is_empty() {
        text += "Nothing waits for repair; no file was written.\n";
    }
    output::print(text.as_bytes())
}

/// A name without what would lead out of the folder.
fn safe(name: &str) -> String {
    let plain = |c: char| c.is_alphanumeric() || matches!(c, '.' | '-' | '_' | ' ');
    let name: String = name
        .chars()
        .map(|c| if plain(c) { c } else { '_' })
        .collect();
    name.trim_start_matches('.').to_owned()
}

fn records(entries: &[BadField]) -> usize {
    let key = |e: &BadField| (e.batch, e.file.clone(), e.line);
    entries
        .iter()
        .map(key)
        .collect::<std::collections::BTreeSet<_>>()
        .len()
}

/// What waits for repair.
#[derive(Debug, Serialize)]
struct QuarantineList {
    store: String,
    /// Records, each with one entry or more.
    records: usize,
    /// Entries found.
    found: usize,
    /// Records by export, reason and field.
    counts: Vec<Count>,
    /// Entries shown.
    entries: Vec<BadField>,
}

#[derive(Debug, Serialize)]
struct Count {
    source: String,
    file: String,
    reason: String,
    field: String,
    entries: usize,
}

impl QuarantineList {
    fn of(store: &Store, mut entries: Vec<BadField>, limit: usize) -> Self {
        let mut counts: BTreeMap<(String, String, String, String), usize> = BTreeMap::new();
        for e in &entries {
            let field = e.field.clone().unwrap_or_default();
            let key = (e.source.clone(), e.file.clone(), e.reason.clone(), field);
            *counts.entry(key).or_default() += 1;
        }
        let (records, found) = (records(&entries), entries.len());
        if limit > 0 {
            entries.truncate(limit);
        }
        let count = |((source, file, reason, field), entries)| Count {
            source,
            file,
            reason,
            field,
            entries,
        };
        Self {
            store: store.path().display().to_string(),
            records,
            found,
            counts: counts.into_iter().map(count).collect(),
            entries,
        }
    }

    fn verdict(&self) -> Vec<String> {
        if self.found == 0 {
            return vec!["nothing waits for repair".into()];
        }
        let mut lines = vec![format!(
            "{} records wait for repair; write them to a file with --out",
            self.records
        )];
        if self.entries.len() < self.found {
            lines.push(format!(
                "{} of {} entries are shown; --limit 0 shows all",
                self.entries.len(),
                self.found
            ));
        }
        lines
    }

    fn entries_grid(&self) -> Grid {
        let text = |id, title| heading(id, title, Show::Text);
        let optional = |t: &Option<String>| t.clone().map_or(Cell::Empty, Cell::Text);
        let row = |e: &BadField| {
            vec![
                Cell::Text(e.file.clone()),
                Cell::Whole(e.line),
                Cell::Text(e.target.clone()),
                optional(&e.field),
                Cell::Text(e.reason.clone()),
                optional(&e.value),
                optional(&e.hint),
            ]
        };
        Grid {
            id: "entries".into(),
            title: "Entries".into(),
            headings: vec![
                text("file", "export"),
                heading("line", "line", Show::Count),
                text("target", "table"),
                text("field", "field"),
                text("reason", "reason"),
                text("value", "value"),
                text("hint", "may help"),
            ],
            rows: self.entries.iter().map(row).collect(),
        }
    }

    fn counts_grid(&self) -> Grid {
        let text = |id, title| heading(id, title, Show::Text);
        let row = |c: &Count| {
            vec![
                Cell::Text(c.file.clone()),
                Cell::Text(c.reason.clone()),
                Cell::Text(c.field.clone()),
                Cell::Whole(i64::try_from(c.entries).unwrap_or(i64::MAX)),
            ]
        };
        Grid {
            id: "counts".into(),
            title: "How many of which kind".into(),
            headings: vec![
                text("file", "export"),
                text("reason", "reason"),
                text("field", "field"),
                heading("entries", "entries", Show::Count),
            ],
            rows: self.counts.iter().map(row).collect(),
        }
    }
}

impl Answer for QuarantineList {
    const CONTRACT: &'static str = "boretally.store-quarantine/1";

    fn sheet(&self) -> Sheet {
        Sheet {
            title: format!("Quarantine of {}", self.store),
            basis: Vec::new(),
            verdict: self.verdict(),
            grids: vec![self.entries_grid(), self.counts_grid()],
            caveats: Vec::new(),
        }
    }
}
