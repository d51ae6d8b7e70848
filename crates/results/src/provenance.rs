//! Provenance: inputs by hash, settings and version, machine-independent.

use schemars::JsonSchema;
use serde::{Deserialize, Serialize};

/// One input file by its content.
#[derive(Debug, Clone, PartialEq, Serialize, Deserialize, JsonSchema)]
pub struct InputFile {
    /// Path relative to the dossier, with forward slashes.
    pub path: String,
    /// Size in bytes.
    pub bytes: u64,
    /// BLAKE3 hash, hexadecimal.
    pub blake3: String,
}

/// What the results follow from. Same provenance, same bytes.
#[derive(Debug, Clone, PartialEq, Default, Serialize, Deserialize, JsonSchema)]
pub struct Provenance {
    /// Program name and version.
    pub program: String,
    /// Every file read, in order of path.
    pub inputs: Vec<InputFile>,
    /// Every setting that steers the computation, `name = value`, in order of name.
    pub settings: Vec<String>,
}
