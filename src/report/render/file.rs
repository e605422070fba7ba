//! The only place of the report floor that writes: beside the target, then renamed, so that a failed run destroys nothing.

use std::path::Path;

use crate::domain::problem::{AtFile, Result};

/// Writes `bytes` to `file`, making its folder; an earlier file stays until the new one is whole.
pub fn write(file: &Path, bytes: &[u8]) -> Result<()> {
    if let Some(folder) = file.parent().filter(|f| !f.as_os_str().is_empty()) {
        std::fs::create_dir_all(folder)
            .at_file("make the folder", folder)
            .map_err(|p| p.remedy("choose a place where a folder can be made and you may write"))?;
    }
    let mut beside = file.as_os_str().to_owned();
    beside.push(format!(".{}.part", std::process::id()));
    let beside = Path::new(&beside);
    std::fs::write(beside, bytes).at_file("write", beside)?;
    std::fs::rename(beside, file).at_file("put the finished file in place", file)
}
