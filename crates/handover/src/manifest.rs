//! The manifest of an archive: what belongs to the test, by size and hash, and what of it is inside.

use crate::HandoverError;
use serde::{Deserialize, Serialize};
use std::path::Path;

/// Name of the manifest in an archive.
pub const MANIFEST: &str = "manifest.json";
/// Its schema.
pub(crate) const SCHEMA: u32 = 1;

/// What an archive holds.
#[derive(Debug, Clone, PartialEq, Serialize, Deserialize)]
#[serde(deny_unknown_fields)]
pub struct Manifest {
    /// 1.
    pub schema: u32,
    /// Program name and version that measured.
    pub program: String,
    /// Every file of the test, in order of path.
    pub files: Vec<ManifestFile>,
}

/// One file of the test.
#[derive(Debug, Clone, PartialEq, Serialize, Deserialize)]
#[serde(deny_unknown_fields)]
pub struct ManifestFile {
    /// Path in the dossier's folder, with forward slashes.
    pub path: String,
    /// Size, bytes.
    pub bytes: u64,
    /// BLAKE3 hash, hexadecimal.
    pub blake3: String,
    /// Whether it is in the archive; footage may stand here by its hash alone.
    pub included: bool,
}

/// Size and hash of a file.
pub(crate) fn hashed_file(path: &Path) -> Result<(u64, String), HandoverError> {
    filmgauge_shelf::hashed(path).map_err(HandoverError::file(path))
}
