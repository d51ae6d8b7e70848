//! Opening: what the day book says against what the files say, and which of them counts.

use crate::disk::Disk;
use crate::entry::{Change, Entry};
use crate::error::DaybookError;
use crate::journal::{self, Journal, Kept};
use crate::lock::{self, Hold};
use crate::splice::{Splice, Texts, hash};
use crate::workbook::{OpeningNote, Workbook, WorkbookOptions};
use filmgauge_dossier::Dossier;
use std::path::{Path, PathBuf};

/// Opens the dossier at `path`.
pub(crate) fn open(
    path: &Path,
    options: WorkbookOptions,
    disk: Box<dyn Disk>,
) -> Result<(Workbook, Vec<OpeningNote>), DaybookError> {
    let file = if path.is_dir() { path.join("dossier.toml") } else { path.to_owned() };
    let root = file.parent().map_or_else(|| PathBuf::from("."), Path::to_owned);
    let name = file.file_name().map_or_else(String::new, |name| name.to_string_lossy().into_owned());
    let book = if name == "dossier.toml" {
        "daybook".to_owned()
    } else {
        format!("{}-daybook", name.trim_end_matches(".toml"))
    };
    let book_path = root.join(format!("{book}.jsonl"));
    let mut notes = Vec::new();
    // A newer day book is refused before anything is written, the lock too.
    journal::read(&book_path)?;
    if !file.is_file() && !book_path.is_file() {
        Dossier::read(&file)?;
    }
    let (held, read_only) = match lock::take(&root.join(format!("{book}.lock")), &options.who) {
        Hold::Ours(held) => (Some(held), None),
        Hold::Without(text) => {
            notes.push(OpeningNote { text });
            (None, None)
        }
        Hold::Refused(why) => (None, Some(why)),
    };
    let mut kept = journal::read(&book_path)?;
    if kept.damaged.is_none() && journal::stacks(&kept.entries).is_none() {
        kept.damaged = Some(kept.entries.len());
    }
    if kept.torn {
        notes.push(note(
            "The last line of the day book was cut short and is left out; that change was never confirmed.",
        ));
    }
    if let Some(line) = kept.damaged {
        kept = set_aside(&book_path, line, disk.as_ref(), read_only.is_some(), &mut notes)?;
    }
    let on_disk = disk_texts(&root, &name)?;
    let mut texts = kept.texts.clone();
    let begins = kept.entries.is_empty();
    let foreign = reconcile(&kept, &on_disk, &mut texts, &mut notes);
    let text = texts.get(&name).cloned().unwrap_or_default();
    let dossier = Dossier::parse(root, &name, text)?;
    let journal = Journal { path: book_path, kept: kept.bytes, waiting: Vec::new() };
    let (undo, redo) = journal::stacks(&kept.entries).unwrap_or_default();
    let mut workbook = Workbook {
        options,
        disk,
        held,
        read_only,
        dossier,
        texts,
        on_disk,
        picks: Default::default(),
        journal,
        entries: kept.entries,
        undo,
        redo,
        version: 0,
        dirty_since: None,
    };
    workbook.read_picks();
    workbook.record_opening(foreign, begins)?;
    Ok((workbook, notes))
}

/// Takes every file's text from the side that counts; returns what other programs changed.
fn reconcile(kept: &Kept, on_disk: &Texts, texts: &mut Texts, notes: &mut Vec<OpeningNote>) -> Vec<Splice> {
    let files: std::collections::BTreeSet<&String> = kept.texts.keys().chain(on_disk.keys()).collect();
    let mut foreign = Vec::new();
    for file in files {
        let known = kept.texts.get(file).map_or("", String::as_str);
        let found = on_disk.get(file).map_or("", String::as_str);
        let Some(splice) = Splice::between(file, known, found) else { continue };
        let of_file = || kept.entries.iter().flat_map(|entry| &entry.splices).filter(|own| own.file == *file);
        let mark = hash(found);
        let behind = of_file().rev().position(|own| own.before == mark);
        if let Some(behind) = behind {
            let n = behind + 1;
            notes.push(note(&format!(
                "{file} was {n} change(s) behind the day book; they were recovered from it."
            )));
            continue;
        }
        if !kept.entries.is_empty() {
            notes.push(note(&format!("{file} was changed by another program; that change can be undone.")));
        }
        texts.insert(file.clone(), found.to_owned());
        foreign.push(splice);
    }
    foreign
}

fn set_aside(
    path: &Path,
    line: usize,
    disk: &dyn Disk,
    read_only: bool,
    notes: &mut Vec<OpeningNote>,
) -> Result<Kept, DaybookError> {
    let free = (1..).map(|n: u32| path.with_extension(format!("damaged-{n}.jsonl"))).find(|to| !to.exists());
    let to = free.unwrap_or_else(|| path.with_extension("damaged.jsonl"));
    let name = to.file_name().map_or_else(String::new, |name| name.to_string_lossy().into_owned());
    if !read_only {
        disk.rename(path, &to).map_err(|source| DaybookError::Write {
            path: path.to_owned(),
            source,
            safe: "Nothing was changed",
        })?;
    }
    notes.push(note(&format!(
        "Line {line} of the day book is damaged. It is kept as {name} and a new one begins; earlier changes cannot be undone."
    )));
    Ok(Kept::default())
}

fn disk_texts(root: &Path, name: &str) -> Result<Texts, DaybookError> {
    let mut files = vec![name.to_owned()];
    if let Ok(folder) = std::fs::read_dir(root.join("picks")) {
        let names = folder.flatten().map(|entry| entry.file_name().to_string_lossy().into_owned());
        files.extend(names.filter(|name| name.ends_with(".csv")).map(|name| format!("picks/{name}")));
    }
    let mut texts = Texts::new();
    for file in files {
        let path = root.join(&file);
        match std::fs::read(&path) {
            Ok(bytes) => {
                let text = String::from_utf8(bytes).map_err(|error| DaybookError::Read {
                    path,
                    source: std::io::Error::new(std::io::ErrorKind::InvalidData, error.utf8_error()),
                })?;
                texts.insert(file, text);
            }
            Err(error) if error.kind() == std::io::ErrorKind::NotFound => {}
            Err(source) => return Err(DaybookError::Read { path, source }),
        }
    }
    Ok(texts)
}

/// The entry of what was found on opening.
pub(crate) fn opening_entry(splices: &[Splice], begins: bool) -> (&'static str, Vec<Change>) {
    let told = |splice: &Splice| Change {
        place: splice.file.clone(),
        old: Some(splice.old.clone()).filter(|text| !begins && !text.is_empty()),
        new: Some(splice.new.clone()).filter(|text| !begins && !text.is_empty()),
    };
    let act = if begins { "day book begun" } else { "changed by another program" };
    (act, splices.iter().map(told).collect())
}

fn note(text: &str) -> OpeningNote {
    OpeningNote { text: text.to_owned() }
}

impl Entry {
    pub(crate) fn is_act(&self) -> bool {
        !self.begins && self.undoes.is_none() && self.redoes.is_none()
    }
}
