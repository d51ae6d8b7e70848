//! Saving: the day book first, then the files, now or when the wait is over.

use crate::aside::free_name;
use crate::error::DaybookError;
use crate::workbook::Workbook;
use std::time::{Duration, Instant};

/// Longest wait before files are written.
const LONGEST_WAIT: Duration = Duration::from_secs(2);

impl Workbook {
    /// Writes what is not on disk yet: the day book, then each file; one that fails does not keep the others waiting.
    ///
    /// # Errors
    /// [`DaybookError::Write`] says what is safe; [`DaybookError::ChangedOutside`] when another program changed a
    /// file meanwhile, whose version is then kept under another name. Of several, the first.
    pub fn save(&mut self) -> Result<(), DaybookError> {
        self.check_writable()?;
        self.flush()?;
        let files: Vec<String> = self.texts.keys().cloned().collect();
        let failed = files.iter().filter_map(|file| self.save_file(file).err()).collect::<Vec<_>>();
        match failed.into_iter().next() {
            Some(error) => Err(error),
            None => {
                self.dirty_since = None;
                Ok(())
            }
        }
    }

    /// Writes the lines of the day book that wait.
    pub(crate) fn flush(&mut self) -> Result<(), DaybookError> {
        self.journal.flush(self.disk.as_ref(), &self.entries)
    }

    fn save_file(&mut self, file: &str) -> Result<(), DaybookError> {
        let text = self.texts.get(file).map_or("", String::as_str);
        let known = self.on_disk.get(file).map_or(&[][..], Vec::as_slice);
        if known == text.as_bytes() {
            return Ok(());
        }
        let path = self.dossier.root.join(file);
        let failed = |source| DaybookError::Write {
            path: path.clone(),
            source,
            safe: "Every change is safe in the day book; the file is tried again".into(),
        };
        let found = std::fs::read(&path).unwrap_or_default();
        if found != known {
            let kept = free_name(&self.dossier.root, file, "outside");
            self.disk.replace(&self.dossier.root.join(&kept), &found).map_err(failed)?;
            self.on_disk.insert(file.to_owned(), found);
            return Err(DaybookError::ChangedOutside { file: file.to_owned(), kept });
        }
        let written =
            if text.is_empty() { self.disk.remove(&path) } else { self.disk.replace(&path, text.as_bytes()) };
        written.map_err(failed)?;
        self.on_disk.insert(file.to_owned(), text.as_bytes().to_vec());
        Ok(())
    }

    /// Whether a file on disk is not yet as its text here.
    pub(crate) fn is_any_file_behind(&self) -> bool {
        let on_disk = |file: &str| self.on_disk.get(file).map_or(&[][..], Vec::as_slice);
        self.texts.iter().any(|(file, text)| on_disk(file) != text.as_bytes())
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
