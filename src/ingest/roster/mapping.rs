//! Which mapping a roster goes through: the one named, one beside it, or the plain names of its header.

use std::path::Path;

use super::plain;
use crate::domain::distance::DistanceUnit;
use crate::domain::problem::{Problem, Result};
use crate::domain::suggestion::closest;
use crate::ingest::mapping::Mapping;
use crate::ingest::mapping::code_list::Names;
use crate::ingest::read::{self, Format};
use crate::ingest::run::Places;
use crate::ingest::run::is_for;

/// The mapping of a roster. `sources` are those of the store: unit numbers are unique within their source.
///
/// # Errors
/// A mapping that is wrong or for exports; a header that names no unit; unit numbers that may belong to several sources.
pub fn mapping_for(
    file: &Path,
    named: Option<&Path>,
    source: Option<&str>,
    sources: &[String],
    unit: DistanceUnit,
    names: &Names,
) -> Result<Mapping> {
    if let Some(named) = named {
        let mapping = Mapping::load(named, names)?;
        if mapping.is_roster() {
            return Ok(mapping);
        }
        return Err(
            Problem::data("this mapping is for exports and not for a roster")
                .file(named)
                .remedy("write into = \"roster\" in its only [[table]]"),
        );
    }
    let places = Places::look(&[file.to_path_buf()], &[])?;
    for beside in &places.mappings {
        // One that is wrong is told when it is the one that is meant; ingest tells the others.
        if let Ok(mapping) = Mapping::load(beside, names)
            && mapping.is_roster()
            && is_for(&mapping, file)
        {
            return Ok(mapping);
        }
    }
    let reader = read::open(file, &Format::default())?;
    let header = reader.header().names().to_vec();
    let source = match (source, sources) {
        (Some(source), known) if known.iter().any(|k| k == source) || known.is_empty() => {
            source.to_owned()
        }
        (Some(source), known) => {
            // Taken as it stands, a slip of the pen would make every unit a vehicle never seen.
            let meant = closest(source, known.iter().map(String::as_str));
            return Err(Problem::usage("the store has no such source")
                .field("--source")
                .value(source)
                .remedy(match meant {
                    Some(meant) => format!("did you mean {meant}?"),
                    None => format!("give one of {}", known.join(", ")),
                }));
        }
        (None, [only]) => only.clone(),
        (None, _) => {
            return Err(Problem::usage("unit numbers are unique within the system they come from, and the store has several")
                .field("--source")
                .remedy(format!("say whose unit numbers the roster has: --source, one of {}", sources.join(", "))));
        }
    };
    let text = plain::mapping(&header, &source, unit).map_err(|p| p.file(file))?;
    Mapping::from_text(&text, file, names)
}
