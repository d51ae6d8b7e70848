//! Acts: edits made together, taken back and done again, each as one line of the day book.

use crate::edit::{self, Edit};
use crate::entry::{Change, Entry, SCHEMA};
use crate::error::DaybookError;
use crate::splice::{Splice, Texts};
use crate::when::rfc3339;
use crate::workbook::Workbook;
use filmgauge_dossier::Dossier;
use std::time::{Instant, SystemTime};

impl Workbook {
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
        let text = texts.get(&name).map_or("", String::as_str);
        let is_same = text == self.dossier.text;
        let parsed = (!is_same).then(|| Dossier::parse(self.dossier.root.clone(), &name, text.to_owned()));
        let dossier = parsed.transpose().map_err(|error| DaybookError::refused(error.to_string()))?;
        let files: Vec<String> = entry.splices.iter().map(|splice| splice.file.clone()).collect();
        self.note(entry)?;
        self.texts = texts;
        if let Some(dossier) = dossier {
            self.dossier = dossier;
        }
        self.read_picks(&files);
        self.version += 1;
        self.dirty_since.get_or_insert_with(Instant::now);
        self.flush()
    }

    pub(crate) fn note(&mut self, entry: Entry) -> Result<(), DaybookError> {
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

    pub(crate) fn entry(&self, act: String, changes: Vec<Change>, splices: Vec<Splice>) -> Entry {
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

    pub(crate) fn check_writable(&self) -> Result<(), DaybookError> {
        self.read_only.as_ref().map_or(Ok(()), |why| Err(DaybookError::ReadOnly { why: why.clone() }))
    }
}
