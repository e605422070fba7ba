//! Writes an invented fleet to a folder: exports with their mapping files, the families file, and the truth beside them.

use std::collections::BTreeMap;
use std::path::{Path, PathBuf};

use crate::domain::problem::{AtFile, Problem, Result};
use crate::synth::export::habit::{Subject, exporters};
use crate::synth::families_file;
use crate::synth::life;
use crate::synth::mess::Mess;
use crate::synth::model::Model;
use crate::synth::readme;
use crate::synth::scenario::Scenario;
use crate::synth::truth::Truth;

/// What to generate.
#[derive(Debug, Clone)]
pub struct Options {
    /// The invented world.
    pub scenario: Scenario,
    /// Seed of all draws.
    pub seed: u64,
    /// Number of vehicles, each of them seen at least once.
    pub vehicles: u64,
    /// Share of rows that are spoiled, 0 to 0.5.
    pub mess: f64,
    /// Folder to create.
    pub out: PathBuf,
    /// The command that was typed, for the folder's README.
    pub command: String,
}

/// What was generated.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct Generated {
    /// Vehicles.
    pub vehicles: u64,
    /// Rows in all exports.
    pub rows: u64,
    /// Spoiled rows by kind.
    pub mess: BTreeMap<&'static str, u64>,
}

/// Generates the fleet; the folder appears only when it is complete.
///
/// # Errors
/// When the folder is there already and not empty, when a file cannot be written, or when the scenario is unsound.
pub fn generate(options: &Options, mut progress: impl FnMut(u64)) -> Result<Generated> {
    if !(0.0..=0.5).contains(&options.mess) {
        return Err(
            Problem::usage("the share of spoiled rows must be between 0 and 0.5")
                .field("--mess")
                .value(options.mess.to_string())
                .remedy("write 0.03 to spoil 3 % of the rows"),
        );
    }
    if options.vehicles == 0 {
        return Err(Problem::usage("a fleet needs at least one vehicle")
            .field("--vehicles")
            .value("0")
            .remedy("give a number such as 3000"));
    }
    let model = Model::new(&options.scenario)?;
    let beside = beside(&options.out)?;
    let made = fill(options, &model, &beside, &mut progress).and_then(|made| {
        if options.out.exists() {
            std::fs::remove_dir(&options.out).at_file("replace the empty folder", &options.out)?;
        }
        std::fs::rename(&beside, &options.out)
            .at_file("move the finished folder into place", &options.out)?;
        Ok(made)
    });
    if made.is_err() {
        // Half a fleet is of no use; that it could not be removed is less than the problem that is told.
        let _ = std::fs::remove_dir_all(&beside);
    }
    made
}

fn fill(
    options: &Options,
    model: &Model,
    folder: &Path,
    progress: &mut dyn FnMut(u64),
) -> Result<Generated> {
    let truth_folder = folder.join("truth");
    std::fs::create_dir_all(&truth_folder).at_file("create the folder", &truth_folder)?;
    let mut mess = Mess::new(options.mess, options.seed, &truth_folder.join("mess.csv"))?;
    let mut truth = Truth::default();
    let mut exporters = exporters(model, folder);
    for index in 0..options.vehicles {
        let life = life::live(model, options.seed, index);
        truth.add(model, &life);
        mess.begin(model, &life);
        if let Some(subject) = Subject::new(model, options.seed, &life) {
            for exporter in &mut exporters {
                exporter.vehicle(&subject, &mut mess)?;
            }
        }
        progress(index + 1);
    }
    for exporter in &mut exporters {
        exporter.finish(model)?;
    }
    mess.finish()?;
    truth.write(model, &mess, &truth_folder)?;
    put(
        folder,
        "families.toml",
        &families_file::text(&options.scenario)?,
    )?;
    put(folder, "README.md", &readme::folder(options))?;
    put(&truth_folder, "README.md", &readme::truth(options))?;
    Ok(Generated {
        vehicles: options.vehicles,
        rows: mess.rows(),
        mess: mess.counts().collect(),
    })
}

/// The folder in which the fleet is made before it is moved into place.
fn beside(out: &Path) -> Result<PathBuf> {
    let taken = match std::fs::read_dir(out) {
        Ok(mut entries) => entries.next().is_some(),
        Err(e) if e.kind() == std::io::ErrorKind::NotFound => false,
        Err(e) => return Err(Problem::data(format!("could not read the folder: {e}")).file(out)),
    };
    if taken {
        return Err(Problem::data("the folder is not empty")
            .file(out)
            .field("--out")
            .remedy("name a folder that does not exist yet, or remove this one first"));
    }
    let name = out
        .file_name()
        .map(|n| n.to_string_lossy().into_owned())
        .ok_or_else(|| {
            Problem::usage("--out must name a folder").value(out.display().to_string())
        })?;
    let beside = out.with_file_name(format!("{name}.unfinished"));
    if beside.exists() {
        return Err(Problem::data("an unfinished run left this folder behind")
            .file(&beside)
            .remedy("remove it, unless another run is writing to it"));
    }
    std::fs::create_dir_all(&beside).at_file("create the folder", &beside)?;
    Ok(beside)
}

fn put(folder: &Path, name: &str, text: &str) -> Result<()> {
    let path = folder.join(name);
    std::fs::write(&path, text).at_file("write", &path)
}
