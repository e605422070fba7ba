//! The only place of the report floor that writes: beside the target, then renamed, so that a failed run destroys nothing.
//! What is no file (`/dev/null`, a pipe) is written into and never replaced; of a link, the file it leads to is replaced.

use std::fs::{File, OpenOptions};
use std::io::{self, BufWriter, Write};
use std::path::Path;

use crate::domain::problem::{AtFile, Result};

/// Writes `bytes` to `file`, making its folder; an earlier file stays until the new one is whole.
pub fn write(file: &Path, bytes: &[u8]) -> Result<()> {
    stream(file, |out| out.write_all(bytes))
}

/// The same with what `fill` writes, piece by piece.
pub fn stream(file: &Path, fill: impl FnOnce(&mut dyn Write) -> io::Result<()>) -> Result<()> {
    match std::fs::metadata(file) {
        Ok(there) if !there.is_file() => into(file, fill),
        Ok(_) => {
            let file = std::fs::canonicalize(file).at_file("find", file)?;
            replace(&file, fill)
        }
        Err(_) => replace(file, fill),
    }
}

/// Fills a device or a pipe.
fn into(place: &Path, fill: impl FnOnce(&mut dyn Write) -> io::Result<()>) -> Result<()> {
    let out = OpenOptions::new().write(true).open(place);
    let mut out = BufWriter::new(out.at_file("write", place)?);
    fill(&mut out)
        .and_then(|()| out.flush())
        .at_file("write", place)
}

/// Fills a new file beside `file` and renames it.
fn replace(file: &Path, fill: impl FnOnce(&mut dyn Write) -> io::Result<()>) -> Result<()> {
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

#[cfg(all(test, unix))]
mod tests {
    use std::fs;
    use std::os::unix::fs::{FileTypeExt, symlink};
    use std::process::Command;

    use super::*;

    #[test]
    fn a_pipe_is_written_into_and_stays() {
        let folder = tempfile::tempdir().unwrap();
        let pipe = folder.path().join("pipe");
        assert!(
            Command::new("mkfifo")
                .arg(&pipe)
                .status()
                .unwrap()
                .success()
        );
        let reader = {
            let pipe = pipe.clone();
            std::thread::spawn(move || fs::read(pipe).unwrap())
        };
        write(&pipe, b"rates").unwrap();
        assert_eq!(reader.join().unwrap(), b"rates");
        assert!(fs::metadata(&pipe).unwrap().file_type().is_fifo());
        assert_eq!(fs::read_dir(folder.path()).unwrap().count(), 1);
    }

    #[test]
    fn a_link_stays_and_leads_to_the_new_bytes() {
        let folder = tempfile::tempdir().unwrap();
        let (file, link) = (folder.path().join("a.csv"), folder.path().join("link.csv"));
        write(&file, b"old").unwrap();
        symlink("a.csv", &link).unwrap();
        write(&link, b"new").unwrap();
        assert!(fs::symlink_metadata(&link).unwrap().is_symlink());
        assert_eq!(fs::read(&file).unwrap(), b"new");
        assert_eq!(fs::read_dir(folder.path()).unwrap().count(), 2);
    }

    #[test]
    fn a_folder_in_the_place_of_a_file_is_an_error() {
        let folder = tempfile::tempdir().unwrap();
        let problem = write(folder.path(), b"x").unwrap_err().to_string();
        assert!(problem.contains("could not write"), "{problem}");
    }
}
