//! The manifest of an archive: what belongs to the test, by size and hash, and what of it is inside.

use crate::HandoverError;
use filmgauge_dossier::{Watch, Watched};
use serde::{Deserialize, Serialize};
use std::fs::File;
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
pub(crate) fn hashed_file(path: &Path, watch: &dyn Watch) -> Result<(u64, String), HandoverError> {
    filmgauge_shelf::hashed_of(opened("hash", path, watch)?).map_err(HandoverError::watched(path, watch))
}

/// A file opened to be read under a watcher; `verb` says what is done with it.
pub(crate) fn opened<'a>(
    verb: &str,
    path: &Path,
    watch: &'a dyn Watch,
) -> Result<Watched<'a, File>, HandoverError> {
    let fault = HandoverError::watched(path, watch);
    let file = File::open(path).map_err(&fault)?;
    let bytes = file.metadata().map_err(&fault)?.len();
    let name = path.file_name().map_or_else(String::new, |name| name.to_string_lossy().into_owned());
    Ok(Watched::new(file, &format!("{verb} {name}"), bytes, watch))
}
