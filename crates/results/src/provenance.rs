//! Provenance: inputs by hash, settings and version, machine-independent.

use schemars::JsonSchema;
use serde::{Deserialize, Serialize};

/// What an input is to the test.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Serialize, Deserialize, JsonSchema)]
#[serde(rename_all = "snake_case")]
pub enum InputKind {
    /// The dossier itself.
    Dossier,
    /// Film or stills.
    Footage,
    /// Marks by hand.
    Picks,
    /// A lens.
    Lens,
    /// A sensor's record, or the header that names it.
    Channel,
    /// A lab's own template of the sheet.
    Template,
}

/// Folder in the dossier that keeps the template given for one measurement, where that lies elsewhere.
pub const KEPT_TEMPLATE: &str = "results/template";

/// One input file by its content.
#[derive(Debug, Clone, PartialEq, Serialize, Deserialize, JsonSchema)]
pub struct InputFile {
    /// Path relative to the dossier, with forward slashes.
    pub path: String,
    /// What it is.
    pub kind: InputKind,
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
    /// Every key of the dossier, `name = value`, in order of name: what a changed dossier is compared with.
    pub dossier: Vec<String>,
}
