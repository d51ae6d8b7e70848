//! One writer at a time: a lock on `daybook.lock`, with a note beside it that says who holds it.

use crate::when::rfc3339;
use std::fs::{File, OpenOptions, TryLockError};
use std::path::{Path, PathBuf};
use std::time::SystemTime;

/// How the lock stands.
pub(crate) enum Hold {
    /// It is ours until this is dropped.
    Ours(Held),
    /// Locks do not work here; the text says so.
    Without(String),
    /// Reading only, and why.
    Refused(String),
}

/// The lock and its note.
pub(crate) struct Held {
    file: File,
    note: PathBuf,
}

impl Drop for Held {
    fn drop(&mut self) {
        // A note that stays behind says nothing false: it counts only while the lock is held.
        let _ = std::fs::remove_file(&self.note);
        // Closing alone is not enough: a process that is just being started may still share the open file.
        let _ = self.file.unlock();
    }
}

/// Takes the lock at `path` for `who`.
pub(crate) fn take(path: &Path, who: &str) -> Hold {
    let note = path.with_extension("owner");
    let file = match OpenOptions::new().create(true).truncate(false).read(true).write(true).open(path) {
        Ok(file) => file,
        Err(error) => return Hold::Refused(format!("the folder cannot be written ({error})")),
    };
    match file.try_lock() {
        Ok(()) => {
            // Without the note a second opening only lacks a name.
            let _ = std::fs::write(&note, owner(who));
            Hold::Ours(Held { file, note })
        }
        Err(TryLockError::WouldBlock) => {
            let by = std::fs::read_to_string(&note).unwrap_or_default();
            let by = if by.trim().is_empty() { "someone else" } else { by.trim() };
            Hold::Refused(format!("it is being worked on by {by}"))
        }
        Err(TryLockError::Error(error)) => Hold::Without(format!(
            "This folder cannot be locked ({error}). Take care that nobody else works on the dossier"
        )),
    }
}

fn owner(who: &str) -> String {
    let host = std::fs::read_to_string("/etc/hostname").ok().or_else(|| std::env::var("COMPUTERNAME").ok());
    let host = host.unwrap_or_else(|| "this machine".into());
    let since = rfc3339(SystemTime::now());
    format!("{who} on {} (process {}) since {since}\n", host.trim(), std::process::id())
}
