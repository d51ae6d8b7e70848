//! What lies in the dossier's folder on opening, and how each file stands to the day book.

use crate::error::DaybookError;
use crate::journal::Kept;
use crate::splice::hash;
use filmgauge_dossier::Dossier;
use std::collections::BTreeMap;
use std::path::Path;

/// Files as they are on disk, by name from the dossier's folder; one that does not exist is not in it.
pub(crate) type Files = BTreeMap<String, Vec<u8>>;

/// How a file stands to the day book.
#[derive(Debug, PartialEq, Eq)]
pub(crate) enum Standing {
    /// It holds what the day book says, or neither has it.
    Same,
    /// It is an earlier state of the day book, this many changes behind.
    Behind(usize),
    /// It does not exist.
    Missing,
    /// It is no whole file, for the reason given.
    Damaged(String),
    /// Another program wrote this text.
    Outside(String),
}

/// The dossier `name` and its marks by hand as they are on disk.
pub(crate) fn files(root: &Path, name: &str) -> Result<Files, DaybookError> {
    let mut names = vec![name.to_owned()];
    if let Ok(folder) = std::fs::read_dir(root.join("picks")) {
        let picks = folder.flatten().map(|entry| entry.file_name().to_string_lossy().into_owned());
        names.extend(picks.filter(|name| name.ends_with(".csv")).map(|name| format!("picks/{name}")));
    }
    let mut files = Files::new();
    for file in names {
        let path = root.join(&file);
        match std::fs::read(&path) {
            Ok(bytes) => drop(files.insert(file, bytes)),
            Err(error) if error.kind() == std::io::ErrorKind::NotFound => {}
            Err(source) => return Err(DaybookError::Read { path, source }),
        }
    }
    Ok(files)
}

/// How `file` with `bytes` stands to the day book. `safe` is the text to fall back on, empty when there is none;
/// `is_dossier` tells the dossier from marks by hand.
pub(crate) fn standing(
    (file, bytes): (&str, Option<&[u8]>),
    kept: &Kept,
    safe: &str,
    is_dossier: bool,
) -> Standing {
    let known = kept.texts.get(file).map_or("", String::as_str);
    let changes_since = |text: &str| {
        let (mark, entries) = (hash(text), kept.entries.iter());
        entries
            .flat_map(|entry| &entry.splices)
            .filter(|own| own.file == file)
            .rev()
            .position(|own| own.before == mark)
    };
    let Some(bytes) = bytes else {
        return match changes_since("") {
            _ if safe.is_empty() => Standing::Same,
            // Marks begin without a file; a dossier never does.
            Some(earlier) if !is_dossier => Standing::Behind(earlier + 1),
            _ => Standing::Missing,
        };
    };
    if bytes == known.as_bytes() {
        return Standing::Same;
    }
    if bytes.is_empty() && !safe.is_empty() {
        return Standing::Damaged("it is empty".into());
    }
    let Some(text) = std::str::from_utf8(bytes).ok().filter(|text| !text.contains('\0')) else {
        return Standing::Damaged("it holds bytes that are no text".into());
    };
    if let Some(earlier) = changes_since(text) {
        return Standing::Behind(earlier + 1);
    }
    if is_cut_short(text, safe) {
        return Standing::Damaged("it ends in the middle".into());
    }
    if is_dossier
        && !safe.is_empty()
        && let Err(error) = Dossier::parse(std::path::PathBuf::new(), file, text.to_owned())
    {
        return Standing::Damaged(error.to_string());
    }
    Standing::Outside(text.to_owned())
}

/// Whether `text` is `whole` up to the middle of a line. An end that an editor left bare is no such sign.
fn is_cut_short(text: &str, whole: &str) -> bool {
    let lost = whole.strip_prefix(text).unwrap_or_default();
    !lost.trim().is_empty() && !text.ends_with('\n')
}
