//! The vehicle key: vehicles are stored as keyed pseudonyms, so that a copy of the store names no vehicle.
//!
//! HMAC-SHA256 (RFC 2104, FIPS 198-1) under a random key that the store's owner keeps outside of the store. The same
//! vehicle gets the same pseudonym in every file; without the key nobody can try identification numbers one by one.

use std::fs::OpenOptions;
use std::io::Write;
use std::path::Path;

use base64::Engine;
use base64::engine::general_purpose::URL_SAFE_NO_PAD;
use hmac::{Hmac, KeyInit, Mac};
use sha2::Sha256;

use super::durable::{hex, sync_folder};
use crate::domain::problem::{AtFile, Problem, Result};

/// Bytes of a key: the length of SHA-256's output, as RFC 2104 section 3 advises.
const KEY_BYTES: usize = 32;
/// Bytes of a pseudonym: 72 bits, so that any two of a hundred million vehicles meet with a probability of 1e-6. They make twelve
/// characters, the most that the embedded engine holds without looking elsewhere: joins by vehicle take 0.6 of the time that
/// twice the length takes, and a pseudonym is no easier to undo for being cut, since only the key undoes it.
const PSEUDONYM_BYTES: usize = 9;

/// Characters of a pseudonym.
const PSEUDONYM_LENGTH: usize = 12;

/// Turns vehicles into pseudonyms.
#[derive(Clone)]
pub struct VehicleKey {
    keyed: Hmac<Sha256>,
}

impl std::fmt::Debug for VehicleKey {
    fn fmt(&self, f: &mut std::fmt::Formatter<'_>) -> std::fmt::Result {
        f.write_str("VehicleKey(..)")
    }
}

impl VehicleKey {
    /// Makes a new random key and writes it; an existing file is never overwritten. Only its owner may read it.
    pub fn create(file: &Path) -> Result<Self> {
        let mut bytes = [0u8; KEY_BYTES];
        getrandom::fill(&mut bytes)
            .map_err(|e| Problem::data(format!("the system gave no random key: {e}")).file(file))?;
        let mut options = OpenOptions::new();
        options.write(true).create_new(true);
        #[cfg(unix)]
        std::os::unix::fs::OpenOptionsExt::mode(&mut options, 0o600);
        let mut out = options.open(file).at_file("write the key", file)?;
        writeln!(out, "{}", hex(&bytes)).at_file("write the key", file)?;
        out.sync_all().at_file("write the key", file)?;
        if let Some(folder) = file.parent() {
            sync_folder(folder)?;
        }
        Ok(Self::from_bytes(&bytes))
    }

    /// Reads a key file: 64 hexadecimal digits.
    pub fn load(file: &Path) -> Result<Self> {
        let text = std::fs::read_to_string(file).at_file("read the key", file)?;
        let bytes = parse_hex(text.trim()).ok_or_else(|| {
            Problem::data(format!(
                "a key file holds {} hexadecimal digits, and this one does not",
                2 * KEY_BYTES
            ))
            .file(file)
            .remedy("restore the key file from its backup")
        })?;
        Ok(Self::from_bytes(&bytes))
    }

    /// The key of these bytes.
    pub fn from_bytes(bytes: &[u8; KEY_BYTES]) -> Self {
        // One block of SHA-256 is longer than the key, so padding with zeros gives the same HMAC and cannot fail.
        let mut block = hmac::digest::Key::<Hmac<Sha256>>::default();
        for (slot, byte) in block.iter_mut().zip(bytes) {
            *slot = *byte;
        }
        Self {
            keyed: Hmac::new(&block),
        }
    }

    /// The pseudonym of a vehicle: the first nine bytes of its HMAC-SHA256 in the URL's base64 (RFC 4648, section 5).
    pub fn pseudonym(&self, vehicle: &str) -> String {
        let mut name = String::with_capacity(PSEUDONYM_LENGTH);
        self.add_pseudonym(vehicle, &mut name);
        name
    }

    /// Writes the pseudonym of a vehicle behind `text`.
    pub fn add_pseudonym(&self, vehicle: &str, text: &mut String) {
        let mut mac = self.keyed.clone();
        mac.update(vehicle.as_bytes());
        let full = mac.finalize().into_bytes();
        URL_SAFE_NO_PAD.encode_string(full.get(..PSEUDONYM_BYTES).unwrap_or(&full), text);
    }

    /// Whether a text may be a pseudonym.
    pub fn is_pseudonym(text: &str) -> bool {
        let letter = |b: u8| b.is_ascii_alphanumeric() || b == b'-' || b == b'_';
        text.len() == PSEUDONYM_LENGTH && text.bytes().all(letter)
    }

    /// What the key gives for a fixed text: kept in the store so that a wrong key is noticed.
    pub fn check_value(&self) -> String {
        self.pseudonym("boretally: is this the store's vehicle key?")
    }
}

fn parse_hex(text: &str) -> Option<[u8; KEY_BYTES]> {
    let digits = text.as_bytes();
    if digits.len() != 2 * KEY_BYTES {
        return None;
    }
    let mut bytes = [0; KEY_BYTES];
    for (byte, pair) in bytes.iter_mut().zip(digits.chunks_exact(2)) {
        let pair = std::str::from_utf8(pair).ok()?;
        *byte = u8::from_str_radix(pair, 16).ok()?;
    }
    Some(bytes)
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn pseudonyms_are_hmac_sha256() {
        // Python 3: base64.urlsafe_b64encode(hmac.new(bytes(range(32)), b"WA1HH11223344", "sha256").digest()[:9]), computed apart.
        let mut bytes = [0; 32];
        for (i, byte) in bytes.iter_mut().enumerate() {
            *byte = i as u8;
        }
        let key = VehicleKey::from_bytes(&bytes);
        assert_eq!(key.pseudonym("WA1HH11223344"), "6KUZ_NsBoqLl");
        assert_ne!(
            key.pseudonym("WA1HH11223345"),
            key.pseudonym("WA1HH11223344")
        );
    }

    #[test]
    fn a_key_file_is_private_and_never_overwritten() {
        let folder = tempfile::tempdir().unwrap();
        let file = folder.path().join("a.key");
        let key = VehicleKey::create(&file).unwrap();
        assert!(VehicleKey::create(&file).is_err());
        let again = VehicleKey::load(&file).unwrap();
        assert_eq!(again.pseudonym("x"), key.pseudonym("x"));
        #[cfg(unix)]
        {
            use std::os::unix::fs::PermissionsExt;
            let mode = std::fs::metadata(&file).unwrap().permissions().mode();
            assert_eq!(mode & 0o777, 0o600);
        }
        std::fs::write(&file, "abc").unwrap();
        assert!(VehicleKey::load(&file).is_err());
    }
}
