//! Files on disk: what a path or pattern stands for, what lies below a folder, which mapping's patterns take a file.

use std::path::{Path, PathBuf};

use glob::{MatchOptions, Pattern};

use crate::domain::problem::{AtFile, Problem, Result};
use crate::ingest::mapping::Mapping;

/// Ending of mapping files.
pub const MAPPING_ENDING: &str = ".mapping.toml";

/// Name of files with engine families.
pub const FAMILIES_NAME: &str = "families.toml";

/// `*` does not cross folders, `**` does; case counts, as in file names.
pub(super) const MATCHING: MatchOptions = MatchOptions {
    case_sensitive: true,
    require_literal_separator: true,
    require_literal_leading_dot: false,
};

/// The paths a command-line argument stands for, sorted.
pub(super) fn expand(path: &Path) -> Result<Vec<PathBuf>> {
    if path.exists() {
        return Ok(vec![path.to_path_buf()]);
    }
    let text = path.to_string_lossy();
    if !text.contains(['*', '?', '[']) {
        return Err(Problem::data("there is no such file or folder")
            .file(path)
            .remedy("check the path, or put a pattern such as \"exports/*.csv\" in quotes"));
    }
    let matched = glob::glob_with(&text, MATCHING)
        .map_err(|e| Problem::usage(format!("not a file pattern: {e}")).value(text.as_ref()))?;
    let mut paths = Vec::new();
    for entry in matched {
        paths.push(
            entry.map_err(|e| {
                Problem::data(format!("could not look into a folder: {e}")).file(path)
            })?,
        );
    }
    paths.retain(|p| !is_ours(p));
    paths.sort();
    if paths.is_empty() {
        return Err(Problem::data("the pattern matches no file")
            .file(path)
            .remedy("check the path"));
    }
    Ok(paths)
}

/// The files of one folder, sorted.
pub(super) fn entries(folder: &Path) -> Result<Vec<PathBuf>> {
    let mut files = Vec::new();
    for entry in std::fs::read_dir(folder).at_file("look into", folder)? {
        let path = entry.at_file("look into", folder)?.path();
        if path.is_file() {
            files.push(path);
        }
    }
    files.sort();
    Ok(files)
}

/// All files below a folder, sorted; stores and hidden folders are left alone.
pub(super) fn files_below(folder: &Path) -> Result<Vec<PathBuf>> {
    let mut files = Vec::new();
    let mut waiting = vec![folder.to_path_buf()];
    while let Some(folder) = waiting.pop() {
        for entry in std::fs::read_dir(&folder).at_file("look into", &folder)? {
            let entry = entry.at_file("look into", &folder)?;
            let path = entry.path();
            let hidden = entry.file_name().to_string_lossy().starts_with('.');
            // A link to a folder above would lead in circles.
            let kind = entry.file_type().at_file("look at", &path)?;
            if kind.is_dir() && !hidden && !path.join("store.json").is_file() {
                waiting.push(path);
            } else if path.is_file() && !hidden {
                files.push(path);
            }
        }
    }
    files.sort();
    Ok(files)
}

/// Whether a mapping's patterns take a file.
pub fn is_for(mapping: &Mapping, file: &Path) -> bool {
    mapping
        .files
        .iter()
        .any(|p| pattern_is_for(mapping, p, file))
}

/// Whether one of a mapping's patterns takes a file.
pub(super) fn pattern_is_for(mapping: &Mapping, pattern: &str, file: &Path) -> bool {
    if is_ours(file) {
        return false;
    }
    let folder = mapping.file.parent().unwrap_or(Path::new(""));
    let Some(inside) = relative(file, folder) else {
        return false;
    };
    let pattern = pattern.strip_prefix("./").unwrap_or(pattern);
    Pattern::new(pattern).is_ok_and(|p| p.matches_path_with(&inside, MATCHING))
}

/// `file` as seen from `folder`, if it lies in it.
pub(super) fn relative(file: &Path, folder: &Path) -> Option<PathBuf> {
    let plain = |p: &Path| {
        p.strip_prefix(".")
            .map(Path::to_path_buf)
            .unwrap_or_else(|_| p.to_path_buf())
    };
    if let Ok(inside) = plain(file).strip_prefix(plain(folder)) {
        return Some(inside.to_path_buf());
    }
    let (file, folder) = (file.canonicalize().ok()?, folder.canonicalize().ok()?);
    file.strip_prefix(folder).ok().map(Path::to_path_buf)
}

/// Whether a file is a mapping or a list of families and no export.
pub(super) fn is_ours(file: &Path) -> bool {
    let name = file.file_name().and_then(|n| n.to_str()).unwrap_or("");
    name.ends_with(MAPPING_ENDING) || name == FAMILIES_NAME
}

/// Whether a name ends like an export.
pub(super) fn looks_like_export(file: &Path) -> bool {
    const ENDINGS: &[&str] = &[
        "csv", "tsv", "txt", "jsonl", "ndjson", "json", "xlsx", "xlsm", "xlsb", "xls", "ods",
        "parquet",
    ];
    let name = file
        .file_name()
        .and_then(|n| n.to_str())
        .unwrap_or("")
        .to_lowercase();
    let name = name
        .strip_suffix(".gz")
        .or_else(|| name.strip_suffix(".zst"))
        .unwrap_or(&name);
    name.rsplit_once('.')
        .is_some_and(|(_, ending)| ENDINGS.contains(&ending))
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn a_file_is_seen_from_a_folder_however_both_are_written() {
        assert_eq!(
            relative(Path::new("./a/b.csv"), Path::new("a")),
            Some("b.csv".into())
        );
        assert_eq!(
            relative(Path::new("a/x/b.csv"), Path::new("./a")),
            Some("x/b.csv".into())
        );
    }

    #[test]
    fn exports_are_told_by_their_ending() {
        for name in ["a.csv", "B.XLSX", "c.jsonl.gz", "d.csv.zst"] {
            assert!(looks_like_export(Path::new(name)), "{name}");
        }
        for name in ["README.md", "a.key", "csv"] {
            assert!(!looks_like_export(Path::new(name)), "{name}");
        }
    }
}
