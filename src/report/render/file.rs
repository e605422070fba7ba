//! The only place of the report floor that writes: beside the target, then renamed, so that a failed run destroys nothing.

use std::fs::File;
use std::io::{self, BufWriter, Write};
use std::path::Path;

use crate::domain::problem::{AtFile, Result};

/// Writes `bytes` to `file`, making its folder; an earlier file stays until the new one is whole.
pub fn write(file: &Path, bytes: &[u8]) -> Result<()> {
    stream(file, |out| out.write_all(bytes))
}

/// The same with what `fill` writes, piece by piece.
pub fn stream(file: &Path, fill: impl FnOnce(&mut dyn Write) -> io::Result<()>) -> Result<()> {
    if let Some(folder) = file.parent().filter(|f| !f.as_os_str().is_empty()) {
        std::fs::create_dir_all(folder)
            .at_file("make the folder", folder)
            .map_err(|p| p.remedy("choose a place where a folder can be made and you may write"))?;
    }
    let mut beside = file.as_os_str().to_owned();
    beside.push(format!(".{}.part", std::process::id()));
    let beside = Path::new(&beside);
    let mut out = BufWriter::new(File::create(beside).at_file("write", beside)?);
    let written = fill(&mut out).and_then(|()| out.flush());
    drop(out);
    if written.is_err() {
        // The error is what matters; a leftover beside the target is overwritten by the next run.
        let _ = std::fs::remove_file(beside);
    }
    written.at_file("write", beside)?;
    std::fs::rename(beside, file).at_file("put the finished file in place", file)
}
