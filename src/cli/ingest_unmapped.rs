//! Files that look like exports and have no mapping, told once for a folder: a folder of ten such files is one mistake, or none.

use std::collections::BTreeMap;
use std::path::{Path, PathBuf};

/// Files named one by one; of more, the first ones.
const NAMED: usize = 8;

/// One line a folder.
pub fn lines(files: &[PathBuf]) -> Vec<String> {
    let mut by_folder: BTreeMap<&Path, Vec<&Path>> = BTreeMap::new();
    for file in files {
        let folder = file.parent().unwrap_or(Path::new(""));
        by_folder.entry(folder).or_default().push(file);
    }
    by_folder
        .into_iter()
        .map(|(folder, files)| line(folder, &files))
        .collect()
}

fn line(folder: &Path, files: &[&Path]) -> String {
    let way_out = "`boretally ingest --guess` writes a first one";
    if let [file] = files {
        return format!("{}: no mapping takes this file; {way_out}", file.display());
    }
    let names = files.iter().filter_map(|file| file.file_name());
    let mut names: Vec<String> = names.map(|n| n.to_string_lossy().into_owned()).collect();
    if names.len() > NAMED {
        let more = names.len() - NAMED;
        names.truncate(NAMED);
        names.push(format!("{more} more"));
    }
    format!(
        "{}: no mapping takes {} files here ({}); {way_out}",
        folder.display(),
        files.len(),
        names.join(", ")
    )
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn a_folder_is_told_once_and_a_single_file_by_name() {
        let mut files = vec![PathBuf::from("in/one.csv")];
        files.extend((0..10).map(|i| PathBuf::from(format!("in/truth/{i}.csv"))));
        let lines = lines(&files);
        assert_eq!(lines.len(), 2);
        assert!(lines[0].starts_with("in/one.csv: no mapping takes this file"));
        assert!(lines[1].starts_with("in/truth: no mapping takes 10 files here (0.csv, "));
        assert!(lines[1].contains("7.csv, 2 more); "), "{}", lines[1]);
    }
}
