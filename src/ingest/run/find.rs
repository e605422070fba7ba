//! Which files to take in, and through which mapping: files, folders and patterns as the user gave them.

use std::collections::BTreeSet;
use std::path::{Path, PathBuf};

use crate::domain::problem::{Problem, Result};
use crate::ingest::mapping::Mapping;

use super::files::{
    FAMILIES_NAME, MAPPING_ENDING, entries, expand, files_below, is_for, looks_like_export,
    pattern_is_for,
};

/// How many folders above a file are searched for its mapping.
const MOST_LEVELS: usize = 4;

/// One file and the mapping it goes through, by its place in the list of mappings.
#[derive(Debug, Clone, PartialEq, Eq, PartialOrd, Ord)]
pub struct Job {
    /// The export.
    pub file: PathBuf,
    /// Index into the mappings.
    pub mapping: usize,
}

/// What was given: before any mapping is read.
#[derive(Debug, Clone, Default, PartialEq, Eq)]
pub struct Places {
    /// Folders, as given.
    pub folders: Vec<PathBuf>,
    /// Files, as given or matched by a pattern.
    pub files: Vec<PathBuf>,
    /// Mapping files to be read.
    pub mappings: Vec<PathBuf>,
    /// Files with engine families.
    pub families: Vec<PathBuf>,
    /// Whether the mappings were named by the user.
    pub mappings_named: bool,
}

/// What there is to do.
#[derive(Debug, Clone, Default, PartialEq, Eq)]
pub struct Found {
    /// File by file, sorted.
    pub jobs: Vec<Job>,
    /// What cannot be done; the jobs can.
    pub problems: Vec<Problem>,
    /// Files in folders that look like exports and have no mapping.
    pub without_mapping: Vec<PathBuf>,
}

impl Places {
    /// Looks at what the user gave. `mappings` are those named with `--mapping`.
    ///
    /// # Errors
    /// A path that is not there, a pattern that matches nothing, a folder that cannot be read.
    pub fn look(paths: &[PathBuf], mappings: &[PathBuf]) -> Result<Self> {
        let mut places = Self {
            mappings: mappings.to_vec(),
            mappings_named: !mappings.is_empty(),
            ..Self::default()
        };
        for path in paths {
            for path in expand(path)? {
                if path.is_dir() {
                    places.folders.push(path);
                } else {
                    places.files.push(path);
                }
            }
        }
        for folder in places.folders.clone() {
            places.search_folder(&folder)?;
        }
        for file in places.files.clone() {
            places.search_above(&file)?;
        }
        for list in [
            &mut places.files,
            &mut places.mappings,
            &mut places.families,
        ] {
            list.sort();
            list.dedup();
        }
        Ok(places)
    }

    fn search_folder(&mut self, folder: &Path) -> Result<()> {
        for file in files_below(folder)? {
            self.note(file);
        }
        Ok(())
    }

    fn note(&mut self, file: PathBuf) {
        let name = file.file_name().and_then(|n| n.to_str()).unwrap_or("");
        if name == FAMILIES_NAME {
            self.families.push(file);
        } else if name.ends_with(MAPPING_ENDING) && !self.mappings_named {
            self.mappings.push(file);
        }
    }

    /// Mappings and families beside a file and above it, until a folder has any mapping.
    fn search_above(&mut self, file: &Path) -> Result<()> {
        let own = file.parent().filter(|p| !p.as_os_str().is_empty());
        let mut folder = own.unwrap_or(Path::new(".")).to_path_buf();
        for _ in 0..MOST_LEVELS {
            let known = self.mappings.len();
            for entry in entries(&folder)? {
                self.note(entry);
            }
            if self.mappings.len() > known || self.mappings_named {
                break;
            }
            match folder.parent() {
                Some(parent) if parent.as_os_str().is_empty() => folder = PathBuf::from("."),
                Some(parent) => folder = parent.to_path_buf(),
                None => break,
            }
        }
        Ok(())
    }

    /// Matches files and mappings; `mappings` are the loaded ones of [`Self::mappings`].
    pub fn match_up(&self, mappings: &[Mapping]) -> Result<Found> {
        let mut found = Found::default();
        let mut jobs = BTreeSet::new();
        for file in &self.files {
            let matching: Vec<usize> = (0..mappings.len())
                .filter(|i| mappings.get(*i).is_some_and(|m| is_for(m, file)))
                .collect();
            let is_roster = |i: &usize| mappings.get(*i).is_some_and(Mapping::is_roster);
            if matching.iter().any(is_roster) {
                found.problems.push(roster(file));
                continue;
            }
            match (matching.is_empty(), self.mappings_named) {
                (false, _) => jobs.extend(matching.into_iter().map(|mapping| Job {
                    file: file.clone(),
                    mapping,
                })),
                // The user named one mapping for this file: what its patterns say does not matter.
                (true, true) if mappings.len() == 1 => {
                    jobs.insert(Job {
                        file: file.clone(),
                        mapping: 0,
                    });
                }
                _ => found.problems.push(no_mapping(file)),
            }
        }
        for folder in &self.folders {
            self.match_folder(folder, mappings, &mut jobs, &mut found)?;
        }
        found.jobs = jobs.into_iter().collect();
        Ok(found)
    }

    fn match_folder(
        &self,
        folder: &Path,
        mappings: &[Mapping],
        jobs: &mut BTreeSet<Job>,
        found: &mut Found,
    ) -> Result<()> {
        let files = files_below(folder)?;
        let mut taken = BTreeSet::new();
        for (i, mapping) in mappings.iter().enumerate() {
            if !self.mappings_named && !mapping.file.starts_with(folder) {
                continue;
            }
            for pattern in &mapping.files {
                let matched: Vec<&PathBuf> = files
                    .iter()
                    .filter(|f| pattern_is_for(mapping, pattern, f))
                    .collect();
                if matched.is_empty() {
                    found
                        .problems
                        .push(matches_nothing(mapping, pattern, folder));
                }
                for file in matched {
                    taken.insert(file.clone());
                    if mapping.is_roster() {
                        continue;
                    }
                    jobs.insert(Job {
                        file: file.clone(),
                        mapping: i,
                    });
                }
            }
        }
        if !self.mappings_named && !mappings.iter().any(|m| m.file.starts_with(folder)) {
            found.problems.push(
                Problem::data("the folder has no mapping file")
                    .file(folder)
                    .remedy(format!(
                        "write a first one with `boretally ingest --guess FILE --out {}/NAME{MAPPING_ENDING}` and correct it",
                        folder.display()
                    )),
            );
        }
        let others = files
            .into_iter()
            .filter(|f| !taken.contains(f) && looks_like_export(f));
        found.without_mapping.extend(others);
        Ok(())
    }
}

fn roster(file: &Path) -> Problem {
    Problem::data("this file is a roster, and a store keeps none")
        .file(file)
        .remedy("give it to `boretally budget --roster FILE`")
}

fn no_mapping(file: &Path) -> Problem {
    let way_out = format!(
        "write a first one with `boretally ingest --guess {0} --out {1}` and correct it, or name one with --mapping",
        file.display(),
        file.with_extension("mapping.toml").display()
    );
    Problem::data("no mapping file is for this export")
        .file(file)
        .remedy(way_out)
}

fn matches_nothing(mapping: &Mapping, pattern: &str, folder: &Path) -> Problem {
    mapping
        .at()
        .mistake(
            "files",
            format!("the pattern matches no file in {}", folder.display()),
        )
        .value(pattern)
        .remedy("patterns are relative to the mapping file; `*` does not cross folders, `**` does")
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn what_is_not_there_is_told() {
        let folder = tempfile::tempdir().unwrap();
        let gone = folder.path().join("gone.csv");
        assert!(
            Places::look(&[gone], &[])
                .unwrap_err()
                .to_string()
                .contains("no such file")
        );
        let pattern = folder.path().join("*.csv");
        assert!(
            Places::look(&[pattern], &[])
                .unwrap_err()
                .to_string()
                .contains("matches no file")
        );
    }
}
