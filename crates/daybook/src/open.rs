//! Opening: reads day book and files, refuses what is newer before anything is written, then puts right what a kill,
//! a power cut or another program left.

use crate::aside::{restore, set_book_aside, set_tail_aside};
use crate::disk::Disk;
use crate::entry::{Change, Entry};
use crate::error::DaybookError;
use crate::found;
use crate::journal::{self, Journal, Kept};
use crate::lock::{self, Hold};
use crate::settle::settle;
use crate::splice::{Splice, Texts};
use crate::workbook::{OpeningNote, Workbook, WorkbookOptions};
use filmgauge_dossier::{Dossier, document::SCHEMA, stated_schema};
use std::path::{Path, PathBuf};
use std::time::Instant;

/// Where the files of a dossier lie.
struct Place {
    root: PathBuf,
    /// Name of the dossier file.
    name: String,
    book: PathBuf,
    lock: PathBuf,
}

impl Place {
    fn of(path: &Path) -> Self {
        let file = if path.is_dir() { path.join("dossier.toml") } else { path.to_owned() };
        let root = file.parent().map_or_else(|| PathBuf::from("."), Path::to_owned);
        let name = file.file_name().map_or_else(String::new, |name| name.to_string_lossy().into_owned());
        let book = if name == "dossier.toml" {
            "daybook".to_owned()
        } else {
            format!("{}-daybook", name.trim_end_matches(".toml"))
        };
        let beside = |ending: &str| root.join(format!("{book}.{ending}"));
        Self { book: beside("jsonl"), lock: beside("lock"), root, name }
    }

    fn file(&self) -> PathBuf {
        self.root.join(&self.name)
    }
}

/// Opens the dossier at `path`.
pub(crate) fn open(
    path: &Path,
    options: WorkbookOptions,
    disk: Box<dyn Disk>,
) -> Result<(Workbook, Vec<OpeningNote>), DaybookError> {
    let place = Place::of(path);
    check_before_locking(&place)?;
    let mut notes = Vec::new();
    let (held, read_only) = match lock::take(&place.lock, &options.who) {
        Hold::Ours(held) => (Some(held), None),
        Hold::Without(text) => {
            notes.push(note(text));
            (None, None)
        }
        Hold::Refused(why) => (None, Some(why)),
    };
    let writes = read_only.is_none().then_some(disk.as_ref());
    let (kept, safe, damaged) = sound_part(journal::read(&place.book)?);
    let mut found = found::files(&place.root, &place.name)?;
    let mut settled = settle(&kept, &safe, &found, &place.name);
    let text = settled.texts.get(&place.name).cloned().unwrap_or_default();
    let dossier = Dossier::parse(place.root.clone(), &place.name, text)?;
    if let Some(line) = damaged {
        notes.push(set_book_aside(&place.book, line, writes)?);
    }
    notes.extend(set_tail_aside(&place.book, &kept, writes));
    let last = kept.entries.last().map(|entry| entry.when.as_str());
    restore(&mut settled, &mut found, (&place.root, last), writes);
    notes.append(&mut settled.notes);
    let (undo, redo) = journal::stacks(&kept.entries).unwrap_or_default();
    let mut workbook = Workbook {
        options,
        held,
        read_only,
        dossier,
        texts: settled.texts,
        on_disk: found,
        picks: Default::default(),
        journal: Journal::after(place.book, &kept),
        entries: kept.entries,
        undo,
        redo,
        version: 0,
        dirty_since: None,
        disk,
    };
    let files: Vec<String> = workbook.texts.keys().cloned().collect();
    workbook.read_picks(&files);
    notes.extend(workbook.record_opening(settled.foreign)?);
    Ok((workbook, notes))
}

/// Refuses a newer day book or dossier, and a dossier that is nowhere, while nothing has been written, the lock neither.
fn check_before_locking(place: &Place) -> Result<(), DaybookError> {
    let kept = journal::read(&place.book)?;
    let in_book = kept.texts.get(&place.name).map_or("", String::as_str);
    let on_disk = std::fs::read(place.file()).ok();
    let on_disk = on_disk.and_then(|bytes| String::from_utf8(bytes).ok());
    for text in on_disk.iter().map(String::as_str).chain([in_book]) {
        if let Some(schema) = stated_schema(text).filter(|&schema| schema > i64::from(SCHEMA)) {
            return Err(DaybookError::NewerDossier { path: place.file(), schema, known: SCHEMA });
        }
    }
    if in_book.is_empty() {
        Dossier::read(&place.file())?;
    }
    Ok(())
}

/// The day book to go on with, the texts to fall back on, and the line that is damaged. After a damaged line a new day
/// book begins, and the texts before that line are what there is to fall back on.
fn sound_part(mut kept: Kept) -> (Kept, Texts, Option<usize>) {
    if kept.damaged.is_none() && journal::stacks(&kept.entries).is_none() {
        kept.damaged = Some(kept.entries.len());
    }
    match kept.damaged {
        None => {
            let safe = kept.texts.clone();
            (kept, safe, None)
        }
        Some(line) => (Kept::default(), kept.texts, Some(line)),
    }
}

impl Workbook {
    /// Records what was found on opening, and marks files that differ as not yet written. A line that cannot be
    /// written waits in memory, and the note says so.
    fn record_opening(&mut self, foreign: Vec<Splice>) -> Result<Option<OpeningNote>, DaybookError> {
        if self.read_only.is_some() {
            return Ok(None);
        }
        let mut unwritten = None;
        if !foreign.is_empty() {
            let begins = self.entries.is_empty();
            let (act, changes) = opening_entry(&foreign, begins);
            let mut entry = self.entry(act.to_owned(), changes, foreign);
            (entry.begins, entry.outside) = (begins, !begins);
            self.note(entry)?;
            unwritten = self.flush().err().map(|error| note(error.to_string()));
        }
        if unwritten.is_some() || self.is_any_file_behind() {
            self.dirty_since = Some(Instant::now());
        }
        Ok(unwritten)
    }
}

/// The entry of what was found on opening.
fn opening_entry(splices: &[Splice], begins: bool) -> (&'static str, Vec<Change>) {
    let told = |splice: &Splice| Change {
        place: splice.file.clone(),
        old: Some(splice.old.clone()).filter(|text| !begins && !text.is_empty()),
        new: Some(splice.new.clone()).filter(|text| !begins && !text.is_empty()),
    };
    let act = if begins { "day book begun" } else { "changed by another program" };
    (act, splices.iter().map(told).collect())
}

pub(crate) fn note(text: impl Into<String>) -> OpeningNote {
    OpeningNote { text: text.into() }
}

impl Entry {
    pub(crate) fn is_act(&self) -> bool {
        !self.begins && self.undoes.is_none() && self.redoes.is_none()
    }
}
