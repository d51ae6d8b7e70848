//! The day book's file: read whole with its damage named, added to line by line.

use crate::disk::Disk;
use crate::entry::{Entry, SCHEMA};
use crate::error::DaybookError;
use crate::splice::Texts;
use std::path::{Path, PathBuf};

/// The file as it is being written.
pub(crate) struct Journal {
    pub(crate) path: PathBuf,
    /// Bytes that are written and synced.
    pub(crate) kept: u64,
    /// Lines that are not written yet.
    pub(crate) waiting: Vec<u8>,
    n_waiting: usize,
}

impl Journal {
    /// The day book at `path`, to go on after what was read.
    pub(crate) fn after(path: PathBuf, kept: &Kept) -> Self {
        Self { path, kept: kept.bytes, waiting: Vec::new(), n_waiting: 0 }
    }

    /// Adds a line to those that wait.
    pub(crate) fn add(&mut self, entry: &Entry) -> Result<(), DaybookError> {
        self.waiting.extend(line(entry)?);
        self.n_waiting += 1;
        Ok(())
    }

    /// Writes and syncs what waits; after a failure it still waits. A file that somebody shortened or took away
    /// meanwhile is written again whole, from `entries`.
    pub(crate) fn flush(&mut self, disk: &dyn Disk, entries: &[Entry]) -> Result<(), DaybookError> {
        if self.waiting.is_empty() {
            return Ok(());
        }
        let on_disk = std::fs::metadata(&self.path).map_or(0, |file| file.len());
        let is_short = on_disk < self.kept;
        let (written, length) = if is_short {
            let all = entries.iter().map(line).collect::<Result<Vec<_>, _>>()?.concat();
            (disk.replace(&self.path, &all), all.len() as u64)
        } else {
            let length = self.kept + self.waiting.len() as u64;
            (disk.append(&self.path, self.kept, &self.waiting), length)
        };
        written.map_err(|source| DaybookError::Write {
            path: self.path.clone(),
            source,
            safe: match self.n_waiting {
                _ if is_short => "Every change is kept in memory and tried again".into(),
                1 => "The last change is kept in memory and tried again; all earlier ones are on disk".into(),
                n => format!(
                    "The last {n} changes are kept in memory and tried again; all earlier ones are on disk"
                ),
            },
        })?;
        self.kept = length;
        self.waiting.clear();
        self.n_waiting = 0;
        Ok(())
    }
}

fn line(entry: &Entry) -> Result<Vec<u8>, DaybookError> {
    let mut line = serde_json::to_vec(entry)?;
    line.push(b'\n');
    Ok(line)
}

/// What a day book's file holds.
#[derive(Debug, Default)]
pub(crate) struct Kept {
    pub(crate) entries: Vec<Entry>,
    /// Texts after the last line.
    pub(crate) texts: Texts,
    /// Bytes of whole lines.
    pub(crate) bytes: u64,
    /// A last line that was cut short; empty when there is none.
    pub(crate) torn: Vec<u8>,
    /// Line that cannot be used, from 1.
    pub(crate) damaged: Option<usize>,
}

/// Reads the day book at `path`; one that does not exist is empty.
pub(crate) fn read(path: &Path) -> Result<Kept, DaybookError> {
    let bytes = match std::fs::read(path) {
        Ok(bytes) => bytes,
        Err(error) if error.kind() == std::io::ErrorKind::NotFound => Vec::new(),
        Err(source) => return Err(DaybookError::Read { path: path.to_owned(), source }),
    };
    let mut kept = Kept::default();
    for (number, line) in (1..).zip(bytes.split_inclusive(|&byte| byte == b'\n')) {
        let value: Option<serde_json::Value> = serde_json::from_slice(line).ok();
        let schema = value.as_ref().and_then(|value| value.get("schema")?.as_u64());
        if let Some(schema) = schema.filter(|&schema| schema > SCHEMA) {
            return Err(DaybookError::Newer { path: path.to_owned(), line: number, schema, known: SCHEMA });
        }
        if !line.ends_with(b"\n") {
            kept.torn = line.to_vec();
            break;
        }
        let entry = value.and_then(|value| serde_json::from_value::<Entry>(value).ok());
        let usable = entry.filter(|entry| {
            entry.seq == kept.entries.len() as u64
                && entry.splices.iter().all(|splice| splice.apply(&mut kept.texts).is_some())
        });
        match usable {
            Some(entry) => kept.entries.push(entry),
            None => {
                kept.damaged = Some(number);
                break;
            }
        }
        kept.bytes += line.len() as u64;
    }
    Ok(kept)
}

/// Lines that can be taken back and done again, in order; `None` when the lines contradict each other.
pub(crate) fn stacks(entries: &[Entry]) -> Option<(Vec<u64>, Vec<u64>)> {
    let (mut undo, mut redo) = (Vec::new(), Vec::new());
    for entry in entries.iter().filter(|entry| !entry.begins) {
        match (entry.undoes, entry.redoes) {
            (Some(seq), _) => {
                redo.push(undo.pop().filter(|&last| last == seq)?);
            }
            (_, Some(seq)) => {
                undo.push(redo.pop().filter(|&last| last == seq)?);
            }
            (None, None) => {
                undo.push(entry.seq);
                redo.clear();
            }
        }
    }
    Some((undo, redo))
}
