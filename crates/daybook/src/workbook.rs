//! The workbook: the texts being worked on with their day book, and what can be asked of it.

use crate::disk::{Disk, RealDisk};
use crate::entry::Entry;
use crate::error::DaybookError;
use crate::found::Files;
use crate::journal::Journal;
use crate::lock::Held;
use crate::open;
use crate::picks::{self, Pick};
use crate::splice::Texts;
use filmgauge_dossier::{Document, Dossier, new_dossier_text};
use std::collections::BTreeMap;
use std::path::{Path, PathBuf};
use std::time::{Duration, Instant};

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
    pub(crate) on_disk: Files,
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
        let failed =
            |source| DaybookError::Write { path: path.clone(), source, safe: "Nothing was made".into() };
        std::fs::create_dir_all(dir).map_err(failed)?;
        RealDisk.replace(&path, new_dossier_text(dir, films).as_bytes()).map_err(failed)?;
        Ok(Self::open(dir, options)?.0)
    }

    /// Who works, as it stands in the day book's lines.
    #[must_use]
    pub fn who(&self) -> &str {
        &self.options.who
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

    /// Marks by hand of a camera from other operators, `picks/<camera>.<operator>.csv`: the operator and the marks. They
    /// are for comparing; measuring uses the camera's own file.
    pub fn others_picks<'a>(&'a self, camera: &'a str) -> impl Iterator<Item = (&'a str, &'a [Pick])> {
        self.picks.iter().filter_map(move |(name, picks)| {
            let operator = name.strip_prefix(camera)?.strip_prefix('.')?;
            Some((operator, picks.as_slice()))
        })
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

    /// Reads the marks of these files again; other files are passed over.
    pub(crate) fn read_picks(&mut self, files: &[String]) {
        for file in files {
            let Some(camera) = file.strip_prefix("picks/").and_then(|name| name.strip_suffix(".csv")) else {
                continue;
            };
            let text = self.texts.get(file).map_or("", String::as_str);
            self.picks.insert(camera.to_owned(), picks::read(text));
        }
    }

    fn act_of(&self, seq: u64) -> Option<&str> {
        self.entries.get(usize::try_from(seq).ok()?).map(|entry| entry.act.as_str())
    }
}
