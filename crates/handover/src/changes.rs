//! What could have changed results: inputs that are not what they were, settings, the program's version.

use crate::HandoverError;
use crate::manifest::hashed_file;
use filmgauge_dossier::Watch;
use filmgauge_results::Provenance;
use std::collections::{BTreeMap, BTreeSet};
use std::path::Path;

/// One thing that is not as it was when the results were made.
#[derive(Debug, Clone, PartialEq, Eq)]
pub enum Change {
    /// An input that is no longer there.
    Missing {
        /// Path in the dossier's folder.
        path: String,
    },
    /// An input with other bytes.
    Input {
        /// Path in the dossier's folder.
        path: String,
        /// Its size then and now, bytes.
        bytes: [u64; 2],
    },
    /// A setting; none on one side where it was not stated there.
    Setting {
        /// Its name.
        name: String,
        /// Its value then and now.
        value: [Option<String>; 2],
    },
    /// The program.
    Version {
        /// Name and version then and now.
        program: [String; 2],
    },
}

impl std::fmt::Display for Change {
    fn fmt(&self, f: &mut std::fmt::Formatter<'_>) -> std::fmt::Result {
        let stated = |value: &Option<String>| value.clone().unwrap_or_else(|| "not stated".into());
        match self {
            Self::Missing { path } => write!(f, "input {path} is missing"),
            Self::Input { path, bytes: [then, now] } if then == now => {
                write!(f, "input {path} has other bytes than when it was measured, of the same number")
            }
            Self::Input { path, bytes: [then, now] } => {
                write!(f, "input {path} has {now} bytes; it had {then} when it was measured")
            }
            Self::Setting { name, value: [then, now] } => {
                write!(f, "setting {name}: {} when it was measured, {} now", stated(then), stated(now))
            }
            Self::Version { program: [then, now] } => write!(f, "measured by {then}, this is {now}"),
        }
    }
}

/// Inputs in `root` that are missing or have other bytes than the provenance states, in its order.
///
/// # Errors
/// [`HandoverError::File`] for an input that is there and cannot be read; [`HandoverError::Stopped`] on request.
pub fn input_changes(
    root: &Path,
    then: &Provenance,
    watch: &dyn Watch,
) -> Result<Vec<Change>, HandoverError> {
    let mut changes = Vec::new();
    for input in &then.inputs {
        let file = root.join(&input.path);
        if !file.is_file() {
            changes.push(Change::Missing { path: input.path.clone() });
            continue;
        }
        let (bytes, blake3) = hashed_file(&file, watch)?;
        if blake3 != input.blake3 {
            changes.push(Change::Input { path: input.path.clone(), bytes: [input.bytes, bytes] });
        }
    }
    Ok(changes)
}

/// Program and settings that differ between two provenances, the program first, then settings in order of name.
#[must_use]
pub fn settings_changed(then: &Provenance, now: &Provenance) -> Vec<Change> {
    let mut changes = Vec::new();
    if then.program != now.program {
        changes.push(Change::Version { program: [then.program.clone(), now.program.clone()] });
    }
    let parted = |lines: &[String]| -> BTreeMap<String, String> {
        let parts = lines.iter().filter_map(|line| line.split_once(" = "));
        parts.map(|(name, value)| (name.to_owned(), value.to_owned())).collect()
    };
    let all = |of: &Provenance| [parted(&of.dossier), parted(&of.settings)].into_iter().flatten().collect();
    let (old, new): (BTreeMap<String, String>, BTreeMap<String, String>) = (all(then), all(now));
    let names: BTreeSet<&String> = old.keys().chain(new.keys()).collect();
    for name in names {
        let value = [old.get(name).cloned(), new.get(name).cloned()];
        if value[0] != value[1] {
            changes.push(Change::Setting { name: name.clone(), value });
        }
    }
    changes
}
