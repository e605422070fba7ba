//! `ingest`: exports in, one immutable batch a file, a closing account.

use std::io::{IsTerminal, Write};
use std::path::{Path, PathBuf};

use clap::{Args, ValueEnum};
use indicatif::{MultiProgress, ProgressBar, ProgressDrawTarget, ProgressStyle};

use super::command::{Outcome, Subcommand};
use super::output;
use crate::domain::catalog::Catalog;
use crate::domain::day::Day;
use crate::domain::family::Families;
use crate::domain::problem::{AtFile, Problem, Result};
use crate::ingest::account::{Account, FileAccount, Status};
use crate::ingest::mapping::Mapping;
use crate::ingest::mapping::code_list::Names;
use crate::ingest::read::Progress;
use crate::ingest::run::{HELD, Ingest as Run, Job, Places, Watch};
use crate::ingest::translate::Naming;
use crate::ingest::{guess, rule};
use crate::report::render;
use crate::store::{InitOptions, Store};

use super::{ingest_account, ingest_unmapped};

/// Arguments of `ingest`.
#[derive(Debug, Args)]
pub struct Ingest {
    /// Exports: files, folders (which bring their *.mapping.toml and families.toml along) and quoted patterns
    #[arg(value_name = "PATH")]
    paths: Vec<PathBuf>,
    /// The store to add to; made if it is not there
    #[arg(long, value_name = "FOLDER")]
    store: Option<PathBuf>,
    /// Mapping files to use instead of those found beside the exports
    #[arg(long, value_name = "FILE")]
    mapping: Vec<PathBuf>,
    /// Engine families to use instead of the families.toml found beside the exports
    #[arg(long, value_name = "FILE")]
    families: Option<PathBuf>,
    /// Catalog of causes, tests and repairs to use instead of the store's or the built-in one
    #[arg(long, value_name = "FILE")]
    catalog: Option<PathBuf>,
    /// The vehicle key, if it is not in its usual place beside the store
    #[arg(long, value_name = "FILE")]
    key: Option<PathBuf>,
    /// Make the new store keep vehicle numbers as they are instead of keyed pseudonyms
    #[arg(long, conflicts_with = "key")]
    keep_vin: bool,
    /// No record can be later than this day (YYYY-MM-DD), where an export does not tell its own; today if not given
    #[arg(long, value_name = "DAY", value_parser = parse_day)]
    as_of: Option<Day>,
    /// Write a first mapping for one export, each guess with its reason, instead of ingesting
    #[arg(long, conflicts_with_all = ["store", "mapping", "rules"])]
    guess: bool,
    /// List the rules: every reason of quarantine and every flag, with the way out
    #[arg(long, conflicts_with_all = ["store", "mapping"])]
    rules: bool,
    /// How to print the account
    #[arg(long, value_enum, default_value_t = Form::Table)]
    format: Form,
    /// Write to this file instead of standard output
    #[arg(long, value_name = "FILE")]
    out: Option<PathBuf>,
}

/// Forms of the account.
#[derive(Debug, Clone, Copy, PartialEq, Eq, ValueEnum)]
enum Form {
    /// For people
    Table,
    /// The documented contract `boretally.ingest/1`
    Json,
}

fn parse_day(text: &str) -> std::result::Result<Day, String> {
    Day::parse_iso(text).ok_or_else(|| "write the day like 2024-06-30".to_owned())
}

impl Subcommand for Ingest {
    const NAME: &'static str = "ingest";
    const ABOUT: &'static str =
        "Read shops' exports through mapping files into a store, with an account of every record";
    const EXAMPLE: &'static str = "Example:\n  boretally ingest --guess exports/jobs.csv --out exports/jobs.mapping.toml\n  boretally ingest exports --store shop.store\n\n\
        Every record read ends as kept, flagged (kept, and a rule noticed something), duplicate or quarantined; the four\n\
        counts add up. `boretally ingest --rules` lists what can go wrong and the way out.";

    fn run(self) -> Result<Outcome> {
        if self.rules {
            self.emit(rule::listing().as_bytes())?;
            return Ok(Outcome::Done);
        }
        if self.paths.is_empty() {
            return Err(Problem::usage("nothing to ingest was named")
                .remedy("name files, folders or quoted patterns, for instance `boretally ingest exports --store shop.store`"));
        }
        if self.guess {
            return self.guess();
        }
        self.ingest()
    }
}

impl Ingest {
    /// What `boretally ingest FOLDER --store STORE --as-of DAY` means, for commands that ingest on their way.
    pub fn folder(folder: &Path, store: &Path, as_of: Day) -> Self {
        Self {
            paths: vec![folder.to_path_buf()],
            store: Some(store.to_path_buf()),
            mapping: Vec::new(),
            families: None,
            catalog: None,
            key: None,
            keep_vin: false,
            as_of: Some(as_of),
            guess: false,
            rules: false,
            format: Form::Table,
            out: None,
        }
    }

    fn emit(&self, bytes: &[u8]) -> Result<()> {
        match &self.out {
            Some(file) => render::file::write(file, bytes),
            None => output::print(bytes),
        }
    }

    fn guess(&self) -> Result<Outcome> {
        let [file] = self.paths.as_slice() else {
            return Err(
                Problem::usage("a mapping is guessed for one export at a time")
                    .remedy("name one file"),
            );
        };
        let catalog = self.catalog_of(None)?;
        let families = self
            .families
            .as_deref()
            .map(Families::load)
            .transpose()?
            .unwrap_or_default();
        let names = Names {
            catalog: &catalog.1,
            families: &families,
        };
        let place = self
            .out
            .clone()
            .unwrap_or_else(|| file.with_extension("mapping.toml"));
        if self.out.as_deref().is_some_and(Path::exists) {
            return Err(Problem::data("there is a file of this name already")
                .file(&place)
                .remedy("name another one with --out, or move the old one away"));
        }
        let text = guess::mapping(file, &place, &names)?;
        self.emit(text.as_bytes())?;
        Ok(Outcome::Done)
    }

    /// The catalog and its text: the one named, the store's own, or the built-in one.
    fn catalog_of(&self, store: Option<&Store>) -> Result<(String, Catalog)> {
        let file = self
            .catalog
            .clone()
            .or_else(|| store.and_then(Store::catalog_file));
        match file {
            Some(file) => {
                let text = std::fs::read_to_string(&file).at_file("read the catalog", &file)?;
                let catalog = Catalog::from_toml(&text, &file)?;
                Ok((text, catalog))
            }
            None => Ok((Catalog::embedded_text().to_owned(), Catalog::embedded()?)),
        }
    }

    fn ingest(&self) -> Result<Outcome> {
        let folder = self.store.as_ref().ok_or_else(|| {
            Problem::usage("no store was named")
                .remedy("add --store FOLDER; it is made if it is not there")
        })?;
        let places = Places::look(&self.paths, &self.mapping)?;
        let store = self.open_store(folder)?;
        let (catalog_text, catalog) = self.catalog_of(Some(&store))?;
        if let Some(file) = &self.catalog {
            store.set_catalog(&catalog_text, file)?;
        }
        let families = self.add_families(&store, &places)?;
        let names = Names {
            catalog: &catalog,
            families: &families,
        };
        let (mappings, mut problems) = load_mappings(&places, &names);
        let found = places.match_up(&mappings)?;
        problems.extend(found.problems.iter().cloned());
        if families.is_empty() {
            say(
                "no engine families are known: every engine counts as unknown until a families.toml is given with --families",
            );
        }
        for line in ingest_unmapped::lines(&found.without_mapping) {
            say(&line);
        }
        for problem in &problems {
            say(&problem.to_string());
        }
        let run = Run {
            store: &store,
            names,
            names_text: &[catalog_text, families.to_toml()?].join("\n\u{0}\n"),
            naming: self.naming(&store)?,
            as_of: self.as_of.unwrap_or_else(today),
            held: HELD,
        };
        let account = Account::new(take_in(&run, &found.jobs, &mappings));
        match self.format {
            Form::Table => self.emit(
                render::table::render(&ingest_account::sheet(&account), output::terminal_width())
                    .as_bytes(),
            )?,
            Form::Json => self.emit(&render::json::render(&account)?)?,
        }
        Ok(
            if problems.is_empty() && account.totals.failed == 0 && !account.files.is_empty() {
                Outcome::Done
            } else {
                Outcome::CheckFailed
            },
        )
    }

    fn open_store(&self, folder: &Path) -> Result<Store> {
        let options = InitOptions {
            key: self.key.clone(),
            keep_vin: self.keep_vin,
        };
        let (store, is_new) = Store::open_or_init(folder, &options)?;
        if !is_new {
            if self.keep_vin && !store.keeps_vin() {
                return Err(Problem::usage(
                    "this store keeps vehicles as keyed pseudonyms, and that cannot change",
                )
                .field("--keep-vin")
                .remedy("leave the option out, or ingest into a new store"));
            }
            return Ok(store);
        }
        let vehicles = if self.keep_vin {
            "vehicle numbers are kept as they are".to_owned()
        } else {
            format!(
                "its vehicle key is {}; keep it safe and apart",
                store.key_file().display()
            )
        };
        say(&format!(
            "made a new store in {}; {vehicles}",
            folder.display()
        ));
        Ok(store)
    }

    fn naming(&self, store: &Store) -> Result<Naming> {
        if store.keeps_vin() {
            return Ok(Naming::AsWritten);
        }
        let key = match &self.key {
            Some(file) => store.vehicle_key_at(file)?,
            None => store.vehicle_key()?.ok_or_else(|| store.missing_key())?,
        };
        Ok(Naming::Keyed(Box::new(key)))
    }

    fn add_families(&self, store: &Store, places: &Places) -> Result<Families> {
        let named: Vec<PathBuf> = self.families.iter().cloned().collect();
        let files = if named.is_empty() {
            &places.families
        } else {
            &named
        };
        for file in files {
            store.add_families(&Families::load(file)?)?;
        }
        store.families()
    }
}

/// A mapping that is wrong stops its own files only.
fn load_mappings(places: &Places, names: &Names) -> (Vec<Mapping>, Vec<Problem>) {
    let mut mappings = Vec::new();
    let mut problems = Vec::new();
    for file in &places.mappings {
        match Mapping::load(file, names) {
            Ok(mapping) => mappings.push(mapping),
            Err(problem) => problems.push(problem),
        }
    }
    (mappings, problems)
}

fn take_in(run: &Run, jobs: &[Job], mappings: &[Mapping]) -> Vec<FileAccount> {
    let files: Vec<(&Path, &Mapping)> = jobs
        .iter()
        .filter_map(|job| Some((job.file.as_path(), mappings.get(job.mapping)?)))
        .collect();
    let bars = Bars::new(files.iter().map(|(file, _)| *file));
    let results = run.files(&files, &bars).into_iter().zip(files);
    let account = |(result, (file, mapping)): (Result<FileAccount>, (&Path, &Mapping))| {
        result.unwrap_or_else(|problem| {
            let mapping = mapping.file.display().to_string();
            FileAccount::failed(file.display().to_string(), mapping, &problem)
        })
    };
    results.map(account).collect()
}

/// How far the files are; shown on a terminal only.
struct Bars {
    all: MultiProgress,
    files: Vec<ProgressBar>,
}

impl Bars {
    fn new<'f>(files: impl Iterator<Item = &'f Path>) -> Self {
        let target = if std::io::stderr().is_terminal() {
            ProgressDrawTarget::stderr()
        } else {
            ProgressDrawTarget::hidden()
        };
        Self {
            all: MultiProgress::with_draw_target(target),
            files: files.map(bar).collect(),
        }
    }
}

impl Watch for Bars {
    fn begun(&self, file: usize) {
        if let Some(bar) = self.files.get(file) {
            self.all.add(bar.clone());
        }
    }

    fn read(&self, file: usize, progress: Progress) {
        if let Some(bar) = self.files.get(file) {
            bar.set_length(progress.total);
            bar.set_position(progress.read);
        }
    }

    fn done(&self, file: usize, result: &Result<FileAccount>) {
        if let Some(bar) = self.files.get(file) {
            bar.finish_and_clear();
            self.all.remove(bar);
        }
        self.all.suspend(|| match result {
            Err(problem) => say(&problem.to_string()),
            Ok(account) if account.status == Status::AlreadyThere => say(&format!(
                "{}: already in the store, nothing done",
                account.file
            )),
            Ok(_) => {}
        });
    }
}

fn bar(file: &Path) -> ProgressBar {
    let bar = ProgressBar::with_draw_target(None, ProgressDrawTarget::hidden());
    if let Ok(style) = ProgressStyle::with_template("{msg} {bar:30} {bytes}/{total_bytes} {eta}") {
        bar.set_style(style);
    }
    bar.set_message(
        file.file_name()
            .map_or_else(String::new, |n| n.to_string_lossy().into_owned()),
    );
    bar
}

/// The day by the machine's clock, in universal time; only an upper bound for dates depends on it.
fn today() -> Day {
    let seconds = std::time::SystemTime::now()
        .duration_since(std::time::UNIX_EPOCH)
        .map_or(0, |d| d.as_secs());
    // A day more, for shops whose calendar is ahead of universal time.
    Day(i32::try_from(seconds / 86_400).unwrap_or(i32::MAX - 1) + 1)
}

/// A line on stderr; if nobody can read it, there is nobody left to tell.
fn say(text: &str) {
    let _ = writeln!(std::io::stderr(), "boretally: {text}");
}
