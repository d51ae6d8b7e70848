//! A disk without room: what is safe is told, edits stay in memory, and they are written when there is room again.

use super::*;
use crate::disk::{Disk, RealDisk};
use std::io::{ErrorKind, Result};
use std::sync::Arc;
use std::sync::atomic::{AtomicBool, Ordering};
use std::time::{Duration, Instant};

/// A disk without room left while the flag is set. As on a real one, the first bytes of an addition still find room.
#[derive(Clone, Default)]
struct Filling(Arc<AtomicBool>);

impl Filling {
    fn set_full(&self, is_full: bool) {
        self.0.store(is_full, Ordering::SeqCst);
    }

    fn room(&self) -> Result<()> {
        if self.0.load(Ordering::SeqCst) { Err(ErrorKind::StorageFull.into()) } else { Ok(()) }
    }
}

impl Disk for Filling {
    fn replace(&self, path: &Path, bytes: &[u8]) -> Result<()> {
        self.room().and_then(|()| RealDisk.replace(path, bytes))
    }
    fn append(&self, path: &Path, keep: u64, bytes: &[u8]) -> Result<()> {
        let Err(full) = self.room() else { return RealDisk.append(path, keep, bytes) };
        RealDisk.append(path, keep, &bytes[..bytes.len() / 2])?;
        Err(full)
    }
    fn remove(&self, path: &Path) -> Result<()> {
        self.room().and_then(|()| RealDisk.remove(path))
    }
    fn rename(&self, from: &Path, to: &Path) -> Result<()> {
        self.room().and_then(|()| RealDisk.rename(from, to))
    }
}

fn opened_on(dir: &Path, disk: &Filling) -> (Workbook, Vec<crate::OpeningNote>) {
    crate::open::open(dir, WorkbookOptions::default(), Box::new(disk.clone())).unwrap()
}

fn later() -> Instant {
    Instant::now() + Duration::from_secs(3)
}

#[test]
fn acts_stand_in_memory_and_are_written_later() {
    let (dir, disk) = (folder(), Filling::default());
    let (mut book, _) = opened_on(dir.path(), &disk);
    disk.set_full(true);
    let told = book.apply("one", &[title("one")]).unwrap_err().to_string();
    assert!(told.contains("daybook.jsonl could not be written"), "{told}");
    assert!(
        told.ends_with("The last change is kept in memory and tried again; all earlier ones are on disk")
    );
    let told = book.apply("mark", &[pick(3, 1.0)]).unwrap_err().to_string();
    assert!(told.contains("The last 2 changes are kept in memory"), "{told}");
    book.undo().unwrap_err();
    assert_eq!((book.document().test.title.as_str(), book.picks("side").len()), ("one", 0));
    assert!(!book.is_saved());
    book.autosave(later()).unwrap_err();
    assert_eq!(fs::read_to_string(dir.path().join("dossier.toml")).unwrap(), START);

    disk.set_full(false);
    assert!(book.autosave(later() + Duration::from_secs(3)).unwrap());
    assert!(book.is_saved());
    let (text, n_entries) = (book.dossier().text.clone(), book.entries().len());
    drop(book);
    let (again, notes) = opened(dir.path());
    assert_eq!(
        (again.dossier().text.as_str(), again.entries().len(), notes),
        (text.as_str(), n_entries, vec![])
    );
}

#[test]
fn room_for_the_day_book_alone_keeps_every_change() {
    let (dir, disk) = (folder(), Filling::default());
    let (mut book, _) = opened_on(dir.path(), &disk);
    book.apply("one", &[title("one")]).unwrap();
    disk.set_full(true);
    let told = book.save().unwrap_err().to_string();
    assert!(told.ends_with("Every change is safe in the day book; the file is tried again"), "{told}");
    // Even the last try on leaving fails, and nothing is lost.
    drop(book);
    let (again, notes) = opened(dir.path());
    assert_eq!((again.document().test.title.as_str(), notes.len()), ("one", 1));
}

#[test]
fn a_kill_while_full_loses_only_what_was_told_unsafe() {
    let (dir, disk) = (folder(), Filling::default());
    let (mut book, _) = opened_on(dir.path(), &disk);
    book.apply("one", &[title("one")]).unwrap();
    disk.set_full(true);
    book.apply("two", &[title("two")]).unwrap_err();
    // What a kill leaves: the files as they are now.
    let copy = tempfile::tempdir().unwrap();
    for name in ["dossier.toml", "daybook.jsonl"] {
        fs::copy(dir.path().join(name), copy.path().join(name)).unwrap();
    }
    let (again, notes) = opened(copy.path());
    assert_eq!(again.document().test.title, "one");
    assert!(notes[0].text.contains("cut short"), "{notes:?}");
}

#[test]
fn a_dossier_opens_on_a_full_disk() {
    let (dir, disk) = (folder(), Filling::default());
    disk.set_full(true);
    let (mut book, notes) = opened_on(dir.path(), &disk);
    assert!(notes[0].text.contains("could not be written"), "{notes:?}");
    disk.set_full(false);
    assert!(book.autosave(later()).unwrap());
    drop(book);
    let (_, notes) = opened(dir.path());
    assert_eq!(notes, []);
}

#[test]
fn a_damaged_dossier_on_a_full_disk_is_shown_and_kept_once_there_is_room() {
    let (dir, disk) = (folder(), Filling::default());
    let (mut book, _) = opened(dir.path());
    book.apply("one", &[title("one")]).unwrap();
    drop(book);
    fs::write(dir.path().join("dossier.toml"), "torn").unwrap();
    disk.set_full(true);
    let (mut book, notes) = opened_on(dir.path(), &disk);
    assert_eq!(book.document().test.title, "one");
    assert!(notes[0].text.contains("could not be kept under another name yet"), "{notes:?}");
    assert_eq!(fs::read_to_string(dir.path().join("dossier.toml")).unwrap(), "torn");
    disk.set_full(false);
    let told = book.save().unwrap_err().to_string();
    assert!(told.contains("dossier.toml.outside-1"), "{told}");
    book.save().unwrap();
    assert_eq!(fs::read_to_string(dir.path().join("dossier.toml.outside-1")).unwrap(), "torn");
    assert!(fs::read_to_string(dir.path().join("dossier.toml")).unwrap().contains("\"one\""));
}
