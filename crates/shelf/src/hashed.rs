//! What a file holds, by size and hash.

use std::io::{Read, Result};
use std::path::Path;

/// Read at once.
const BLOCK: usize = 1 << 16;

/// Size in bytes and BLAKE3 hash, hexadecimal, of a file; it is read in pieces and never changed.
///
/// # Errors
/// The system's reason.
pub fn hashed(path: &Path) -> Result<(u64, String)> {
    hashed_of(std::fs::File::open(path)?)
}

/// The same of whatever `from` gives until its end.
///
/// # Errors
/// Whatever `from` fails with.
pub fn hashed_of(mut from: impl Read) -> Result<(u64, String)> {
    let mut hasher = blake3::Hasher::new();
    let (mut block, mut bytes) = (vec![0_u8; BLOCK], 0_u64);
    loop {
        let read = from.read(&mut block)?;
        if read == 0 {
            return Ok((bytes, hasher.finalize().to_hex().to_string()));
        }
        hasher.update(&block[..read]);
        bytes += read as u64;
    }
}

#[cfg(test)]
mod tests {
    /// BLAKE3 of nothing: the first of the published test vectors.
    #[test]
    fn the_hash_is_the_published_one() {
        let dir = tempfile::tempdir().unwrap();
        let path = dir.path().join("empty");
        std::fs::write(&path, b"").unwrap();
        let (bytes, hash) = super::hashed(&path).unwrap();
        assert_eq!(bytes, 0);
        assert_eq!(hash, "af1349b9f5f9a1a6a0404dea36dcc9499bcb25c9adc112b7cc9a93cae41f3262");
        let large = vec![7_u8; super::BLOCK + 3];
        std::fs::write(&path, &large).unwrap();
        assert_eq!(super::hashed(&path).unwrap(), (65_539, blake3::hash(&large).to_hex().to_string()));
    }
}
