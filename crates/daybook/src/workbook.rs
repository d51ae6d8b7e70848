//! The workbook: the texts being worked on, their day book, undo, redo and saving.

use crate::disk::{Disk, RealDisk};
use crate::edit::{self, Edit};
use crate::entry::{Change, Entry, SCHEMA};
use crate::error::DaybookError;
use crate::journal::Journal;
use crate::lock::Held;
use crate::open;
use crate::picks::{self, Pick};
use crate::splice::{Splice, Texts};
use crate::when::rfc3339;
use filmgauge_dossier::{Document, Dossier, new_dossier_text};
use std::collections::BTreeMap;
use std::path::{Path, PathBuf};
use std::time::{Duration, Instant, SystemTime};

/// Longest wait before files are written.
const LONGEST_WAIT: Duration = Duration::from_secs(2);

/// How a dossier is worked on.
#[derive(Debug, Clone)]
pub struct WorkbookOptions {
    /// Who works, as it stands in the day book.
    pub who: String,
    /// Wait between an edit and the writing of its files; 2 s at most.
    pub autosave_after: Duration,
}

impl Default for WorkbookOptions {
    fn default() -> Self {
        Self { who: "analyst".into(), autosave_after: Duration::from_secs(1) }
    }
}

/// What was noticed or recovered on opening, in a sentence.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct OpeningNote {
    /// The sentence.
    pub text: String,
}

/// A dossier that is being worked on.
pub struct Workbook {
    pub(crate) options: WorkbookOptions,
    pub(crate) disk: Box<dyn Disk>,
    pub(crate) held: Option<Held>,
    pub(crate) read_only: Option<String>,
    pub(crate) dossier: Dossier,
    pub(crate) texts: Texts,
    pub(crate) on_disk: Texts,
    pub(crate) picks: BTreeMap<String, Vec<Pick>>,
    pub(crate) journal: Journal,
    pub(crate) entries: Vec<Entry>,
    pub(crate) undo: Vec<u64>,
    pub(crate) redo: Vec<u64>,
    pub(crate) version: u64,
    pub(crate) dirty_since: Option<Instant>,
}

impl Workbook {
    /// Opens a dossier by its folder or its file; says what was recovered.
    ///
    /// # Errors
    /// [`DaybookError`] when the dossier cannot be read, is of a newer version, or its day book cannot be begun.
    pub fn open(path: &Path, options: WorkbookOptions) -> Result<(Self, Vec<OpeningNote>), DaybookError> {
        open::open(path, options, Box::new(RealDisk))
    }

    /// Makes a dossier to fill in for these films in `dir` and opens it.
    ///
    /// # Errors
    /// [`DaybookError::Exists`] when there is a dossier already; otherwise as [`Workbook::open`].
    pub fn create(dir: &Path, films: &[PathBuf], options: WorkbookOptions) -> Result<Self, DaybookError> {
        let path = dir.join("dossier.toml");
        if path.exists() {
            return Err(DaybookError::Exists { path });
        }
        let failed = |source| DaybookError::Write { path: path.clone(), source, safe: "Nothing was made" };
        std::fs::create_dir_all(dir).map_err(failed)?;
        RealDisk.replace(&path, new_dossier_text(dir, films).as_bytes()).map_err(failed)?;
        Ok(Self::open(dir, options)?.0)
    }

    /// The dossier as it stands.
    #[must_use]
    pub fn dossier(&self) -> &Dossier {
        &self.dossier
    }

    /// What it says.
    #[must_use]
    pub fn document(&self) -> &Document {
        &self.dossier.document
    }

    /// Marks by hand of a camera, in the file's order.
    #[must_use]
    pub fn picks(&self, camera: &str) -> &[Pick] {
        self.picks.get(camera).map_or(&[], Vec::as_slice)
    }

    /// Why nothing can be changed; `None` when it can.
    #[must_use]
    pub fn read_only(&self) -> Option<&str> {
        self.read_only.as_deref()
    }

    /// A number that rises with every change.
    #[must_use]
    pub fn version(&self) -> u64 {
        self.version
    }

    /// Makes all edits as one act, or none of them.
    ///
    /// # Errors
    /// [`DaybookError::Refused`] when an edit cannot be made or its outcome is no dossier;
    /// [`DaybookError::Write`] when the day book cannot be written: the act then stands, in memory.
    pub fn apply(&mut self, act: &str, edits: &[Edit]) -> Result<(), DaybookError> {
        self.check_writable()?;
        let mut texts = self.texts.clone();
        let name = self.dossier.file_name.clone();
        let changes =
            edits.iter().map(|edit| edit::make(&mut texts, &name, edit)).collect::<Result<Vec<_>, _>>()?;
        let splices = self.splices_to(&texts);
        if splices.is_empty() {
            return Ok(());
        }
        let entry = self.entry(act.to_owned(), changes, splices);
        self.take(texts, entry)
    }

    /// Takes the last act back; its name, or `None` when there is none.
    ///
    /// # Errors
    /// As [`Workbook::apply`].
    pub fn undo(&mut self) -> Result<Option<String>, DaybookError> {
        self.check_writable()?;
        let Some(&seq) = self.undo.last() else { return Ok(None) };
        self.replay(seq, true)
    }

    /// Does the act that was last taken back again; its name, or `None` when there is none.
    ///
    /// # Errors
    /// As [`Workbook::apply`].
    pub fn redo(&mut self) -> Result<Option<String>, DaybookError> {
        self.check_writable()?;
        let Some(&seq) = self.redo.last() else { return Ok(None) };
        self.replay(seq, false)
    }

    /// Name of the act that undo would take back.
    #[must_use]
    pub fn next_undo(&self) -> Option<&str> {
        self.act_of(*self.undo.last()?)
    }

    /// Name of the act that redo would do again.
    #[must_use]
    pub fn next_redo(&self) -> Option<&str> {
        self.act_of(*self.redo.last()?)
    }

    /// The day book from its first line.
    #[must_use]
    pub fn entries(&self) -> &[Entry] {
        &self.entries
    }

    /// Whether day book and files are on disk as they stand here.
    #[must_use]
    pub fn is_saved(&self) -> bool {
        self.journal.waiting.is_empty() && self.dirty_since.is_none()
    }

    /// Writes what is not on disk yet: the day book, then the files.
    ///
    /// # Errors
    /// [`DaybookError::Write`] says what is safe; [`DaybookError::ChangedOutside`] when another program changed a
    /// file meanwhile, whose version is then kept under another name.
    pub fn save(&mut self) -> Result<(), DaybookError> {
        self.check_writable()?;
        self.journal.flush(self.disk.as_ref())?;
        for (file, text) in &self.texts {
            if self.on_disk.get(file).map_or("", String::as_str) == text {
                continue;
            }
            let path = self.dossier.root.join(file);
            let failed = |source| DaybookError::Write {
                path: path.clone(),
                source,
                safe: "Every change is safe in the day book",
            };
            let found = std::fs::read(&path).unwrap_or_default();
            if found != self.on_disk.get(file).map_or("", String::as_str).as_bytes() {
                let kept = free_name(&self.dossier.root, file);
                self.disk.replace(&self.dossier.root.join(&kept), &found).map_err(failed)?;
                self.on_disk.insert(file.clone(), String::from_utf8_lossy(&found).into_owned());
                return Err(DaybookError::ChangedOutside { file: file.clone(), kept });
            }
            let written = if text.is_empty() {
                self.disk.remove(&path)
            } else {
                self.disk.replace(&path, text.as_bytes())
            };
            written.map_err(failed)?;
            self.on_disk.insert(file.clone(), text.clone());
        }
        self.dirty_since = None;
        Ok(())
    }

    /// Saves when the wait is over; whether it did. Cheap enough for every picture on the screen.
    ///
    /// # Errors
    /// As [`Workbook::save`]; the next try comes after the same wait.
    pub fn autosave(&mut self, now: Instant) -> Result<bool, DaybookError> {
        let Some(since) = self.dirty_since.filter(|_| self.read_only.is_none()) else { return Ok(false) };
        if now.saturating_duration_since(since) < self.options.autosave_after.min(LONGEST_WAIT) {
            return Ok(false);
        }
        self.dirty_since = Some(now);
        self.save()?;
        Ok(true)
    }

    /// Records what was found on opening, and marks recovered files as not yet written.
    pub(crate) fn record_opening(&mut self, found: Vec<Splice>, begins: bool) -> Result<(), DaybookError> {
        if self.read_only.is_some() {
            return Ok(());
        }
        if !found.is_empty() {
            let (act, changes) = open::opening_entry(&found, begins);
            let mut entry = self.entry(act.to_owned(), changes, found);
            (entry.begins, entry.outside) = (begins, !begins);
            self.note(entry)?;
            self.journal.flush(self.disk.as_ref())?;
        }
        if self.texts.iter().any(|(file, text)| self.on_disk.get(file).map_or("", String::as_str) != text) {
            self.dirty_since = Some(Instant::now());
        }
        Ok(())
    }

    pub(crate) fn read_picks(&mut self) {
        let of_file = |(file, text): (&String, &String)| {
            let camera = file.strip_prefix("picks/")?.strip_suffix(".csv")?;
            Some((camera.to_owned(), picks::read(text)))
        };
        self.picks = self.texts.iter().filter_map(of_file).collect();
    }

    fn replay(&mut self, seq: u64, backwards: bool) -> Result<Option<String>, DaybookError> {
        let Some(old) = usize::try_from(seq).ok().and_then(|at| self.entries.get(at)).cloned() else {
            return Ok(None);
        };
        let (splices, changes): (Vec<Splice>, Vec<Change>) = if backwards {
            (
                old.splices.iter().rev().map(Splice::inverse).collect(),
                old.changes.iter().rev().map(Change::inverse).collect(),
            )
        } else {
            (old.splices.clone(), old.changes.clone())
        };
        let mut texts = self.texts.clone();
        if !splices.iter().all(|splice| splice.apply(&mut texts).is_some()) {
            return Err(DaybookError::refused(format!("\"{}\" does not fit the text any more", old.act)));
        }
        let mut entry = self.entry(old.act.clone(), changes, splices);
        if backwards {
            entry.undoes = Some(seq);
        } else {
            entry.redoes = Some(seq);
        }
        self.take(texts, entry)?;
        Ok(Some(old.act))
    }

    /// Makes `texts` the ones worked on, with `entry` as their line.
    fn take(&mut self, texts: Texts, entry: Entry) -> Result<(), DaybookError> {
        let name = self.dossier.file_name.clone();
        let text = texts.get(&name).cloned().unwrap_or_default();
        let dossier = Dossier::parse(self.dossier.root.clone(), &name, text)
            .map_err(|error| DaybookError::refused(error.to_string()))?;
        self.note(entry)?;
        (self.texts, self.dossier) = (texts, dossier);
        self.read_picks();
        self.version += 1;
        self.dirty_since.get_or_insert_with(Instant::now);
        self.journal.flush(self.disk.as_ref())
    }

    fn note(&mut self, entry: Entry) -> Result<(), DaybookError> {
        self.journal.add(&entry)?;
        if let Some(seq) = entry.undoes {
            self.undo.pop();
            self.redo.push(seq);
        } else if let Some(seq) = entry.redoes {
            self.redo.pop();
            self.undo.push(seq);
        } else if entry.is_act() {
            self.undo.push(entry.seq);
            self.redo.clear();
        }
        self.entries.push(entry);
        Ok(())
    }

    fn entry(&self, act: String, changes: Vec<Change>, splices: Vec<Splice>) -> Entry {
        Entry {
            schema: SCHEMA,
            seq: self.entries.len() as u64,
            when: rfc3339(SystemTime::now()),
            who: self.options.who.clone(),
            act,
            changes,
            undoes: None,
            redoes: None,
            begins: false,
            outside: false,
            splices,
        }
    }

    fn splices_to(&self, texts: &Texts) -> Vec<Splice> {
        let old = |file: &str| self.texts.get(file).map_or("", String::as_str);
        texts.iter().filter_map(|(file, text)| Splice::between(file, old(file), text)).collect()
    }

    fn act_of(&self, seq: u64) -> Option<&str> {
        self.entries.get(usize::try_from(seq).ok()?).map(|entry| entry.act.as_str())
    }

    fn check_writable(&self) -> Result<(), DaybookError> {
        self.read_only.as_ref().map_or(Ok(()), |why| Err(DaybookError::ReadOnly { why: why.clone() }))
    }
}

impl Drop for Workbook {
    fn drop(&mut self) {
        // Whatever fails here is in the day book already and comes back on opening.
        if self.dirty_since.is_some() && self.read_only.is_none() {
            let _ = self.save();
        }
        self.held = None;
    }
}

fn free_name(root: &Path, file: &str) -> String {
    let named = |n: u32| format!("{file}.outside-{n}");
    (1..).map(named).find(|name| !root.join(name).exists()).unwrap_or_else(|| format!("{file}.outside"))
}
