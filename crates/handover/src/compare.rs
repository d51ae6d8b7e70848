//! Two results folders, byte for byte: the first place in each file at which they differ.

use crate::HandoverError;
use std::collections::BTreeSet;
use std::path::Path;

/// A text shown of a line is cut after so many letters.
const SHOWN: usize = 160;

/// How one results file differs.
#[derive(Debug, Clone, PartialEq, Eq)]
pub enum Difference {
    /// Made again, but not among the stored results.
    Missing {
        /// Name of the file.
        file: String,
    },
    /// Among the stored results, but not made again.
    Extra {
        /// Name of the file.
        file: String,
    },
    /// A text that differs.
    Line {
        /// Name of the file.
        file: String,
        /// First line that differs, from 1.
        line: usize,
        /// That line as stored and as made again; empty beyond the end.
        text: [String; 2],
    },
    /// A file that is no text and differs.
    Byte {
        /// Name of the file.
        file: String,
        /// First byte that differs, from 0.
        at: usize,
    },
}

impl std::fmt::Display for Difference {
    fn fmt(&self, f: &mut std::fmt::Formatter<'_>) -> std::fmt::Result {
        match self {
            Self::Missing { file } => write!(f, "{file} is missing from the stored results"),
            Self::Extra { file } => write!(f, "{file} is stored, but does not come out again"),
            Self::Line { file, line, text: [stored, again] } => {
                write!(f, "{file}, line {line}: stored \"{stored}\", measured again \"{again}\"")
            }
            Self::Byte { file, at } => write!(f, "{file} differs from byte {at} on"),
        }
    }
}

/// Differences between stored results and those made again, in order of name; empty when every byte is the same.
///
/// # Errors
/// [`HandoverError::File`] when a folder or file cannot be read.
pub fn differences(stored: &Path, again: &Path) -> Result<Vec<Difference>, HandoverError> {
    let (old, new) = (files(stored)?, files(again)?);
    let all: BTreeSet<&String> = old.union(&new).collect();
    let mut found = Vec::new();
    for file in all {
        match (old.contains(file), new.contains(file)) {
            (true, false) => found.push(Difference::Extra { file: file.clone() }),
            (false, _) => found.push(Difference::Missing { file: file.clone() }),
            (true, true) => {
                let read = |folder: &Path| {
                    let path = folder.join(file);
                    std::fs::read(&path).map_err(HandoverError::file(&path))
                };
                found.extend(difference(file, &read(stored)?, &read(again)?));
            }
        }
    }
    Ok(found)
}

fn files(folder: &Path) -> Result<BTreeSet<String>, HandoverError> {
    let mut names = BTreeSet::new();
    for entry in std::fs::read_dir(folder).map_err(HandoverError::file(folder))? {
        let entry = entry.map_err(HandoverError::file(folder))?;
        if entry.path().is_file() {
            names.insert(entry.file_name().to_string_lossy().into_owned());
        }
    }
    Ok(names)
}

fn difference(file: &str, stored: &[u8], again: &[u8]) -> Option<Difference> {
    if stored == again {
        return None;
    }
    let file = file.to_owned();
    let (Ok(old), Ok(new)) = (std::str::from_utf8(stored), std::str::from_utf8(again)) else {
        let same = stored.iter().zip(again).take_while(|(a, b)| a == b).count();
        return Some(Difference::Byte { file, at: same });
    };
    let (mut old, mut new) = (old.split('\n'), new.split('\n'));
    let mut line = 0;
    loop {
        line += 1;
        let pair = [old.next(), new.next()];
        if pair[0] != pair[1] || pair[0].is_none() {
            let text = pair.map(|text| text.unwrap_or_default().trim().chars().take(SHOWN).collect());
            return Some(Difference::Line { file, line, text });
        }
    }
}
