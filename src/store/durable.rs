//! Writing so that it survives a crash: to a file beside, synced, renamed, and the folder synced too.

use std::fs::{self, File};
use std::io::{Read, Write};
use std::path::Path;

use sha2::{Digest, Sha256};

use crate::domain::problem::{AtFile, Problem, Result};

/// Writes a small file as one step: afterwards either the old text is there or the new one, whatever happens.
pub fn write(file: &Path, bytes: &[u8]) -> Result<()> {
    let unfinished = file.with_extension("unfinished");
    let mut out = File::create(&unfinished).at_file("write", file)?;
    out.write_all(bytes).at_file("write", file)?;
    out.sync_all().at_file("write", file)?;
    drop(out);
    rename(&unfinished, file)
}

/// Renames a file or folder and makes the new name last.
pub fn rename(from: &Path, to: &Path) -> Result<()> {
    fs::rename(from, to).at_file("put into place", to)?;
    match to.parent() {
        Some(folder) => sync_folder(folder),
        None => Ok(()),
    }
}

/// Makes the names in a folder last.
pub fn sync_folder(folder: &Path) -> Result<()> {
    // Other systems keep names without being asked and do not open folders as files.
    if cfg!(unix) {
        let folder = if folder.as_os_str().is_empty() {
            Path::new(".")
        } else {
            folder
        };
        File::open(folder)
            .and_then(|f| f.sync_all())
            .at_file("sync", folder)?;
    }
    Ok(())
}

/// Creates a folder that may be there already.
pub fn create_folder(folder: &Path) -> Result<()> {
    fs::create_dir_all(folder).at_file("create the folder", folder)
}

/// Removes a folder with everything in it; one that is gone already is fine.
pub fn remove_folder(folder: &Path) -> Result<()> {
    match fs::remove_dir_all(folder) {
        Err(e) if e.kind() != std::io::ErrorKind::NotFound => Err(e).at_file("remove", folder),
        _ => Ok(()),
    }
}

/// Names of the folders in `folder`, sorted; none when it is not there.
pub fn folder_names(folder: &Path) -> Result<Vec<String>> {
    let entries = match fs::read_dir(folder) {
        Ok(entries) => entries,
        Err(e) if e.kind() == std::io::ErrorKind::NotFound => return Ok(Vec::new()),
        Err(e) => return Err(e).at_file("list", folder),
    };
    let mut names = Vec::new();
    for entry in entries {
        let entry = entry.at_file("list", folder)?;
        if !entry.file_type().at_file("list", folder)?.is_dir() {
            continue;
        }
        let name = entry.file_name().into_string().map_err(|name| {
            Problem::data("this folder's name is not text")
                .file(folder)
                .value(name.to_string_lossy())
        })?;
        names.push(name);
    }
    names.sort();
    Ok(names)
}

/// SHA-256 of bytes, in hexadecimal.
pub fn sha256(bytes: &[u8]) -> String {
    hex(&Sha256::digest(bytes))
}

/// SHA-256 of a file, in hexadecimal.
pub fn sha256_file(file: &Path) -> Result<String> {
    let mut input = File::open(file).at_file("read", file)?;
    let mut hash = Sha256::new();
    let mut buffer = vec![0; 256 * 1024];
    loop {
        let n = input.read(&mut buffer).at_file("read", file)?;
        if n == 0 {
            return Ok(hex(&hash.finalize()));
        }
        hash.update(buffer.get(..n).unwrap_or(&buffer));
    }
}

/// Bytes in hexadecimal.
pub fn hex(bytes: &[u8]) -> String {
    let mut text = String::with_capacity(bytes.len() * 2);
    for byte in bytes {
        for half in [byte >> 4, byte & 15] {
            let digit = if half < 10 {
                b'0' + half
            } else {
                b'a' - 10 + half
            };
            text.push(char::from(digit));
        }
    }
    text
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn replaces_a_file_in_one_step() {
        let folder = tempfile::tempdir().unwrap();
        let file = folder.path().join("a.json");
        write(&file, b"one").unwrap();
        write(&file, b"two").unwrap();
        assert_eq!(fs::read(&file).unwrap(), b"two");
        assert_eq!(fs::read_dir(folder.path()).unwrap().count(), 1);
        // FIPS 180-2 appendix B.1: SHA-256 of "abc".
        let abc = "ba7816bf8f01cfea414140de5dae2223b00361a396177a9cb410ff61f20015ad";
        assert_eq!(sha256(b"abc"), abc);
        write(&file, b"abc").unwrap();
        assert_eq!(sha256_file(&file).unwrap(), abc);
    }
}
