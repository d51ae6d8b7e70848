//! Edits, undo, recovery and locks, against files in temporary folders.

use crate::disk::{Disk, RealDisk};
use crate::{Edit, PathStep, Pick, Value, Workbook, WorkbookOptions};
use proptest::prelude::*;
use std::fs;
use std::path::Path;

const START: &str = "# mine\nschema = 1\n[test]\nid = \"A\" # short\ntitle = \"t\"\n\n[[camera]]\nid = \"side\"\nfootage = \"a.avi\"\n";

fn folder() -> tempfile::TempDir {
    let dir = tempfile::tempdir().unwrap();
    fs::write(dir.path().join("dossier.toml"), START).unwrap();
    dir
}

fn opened(dir: &Path) -> (Workbook, Vec<crate::OpeningNote>) {
    Workbook::open(dir, WorkbookOptions::default()).unwrap()
}

fn key(name: &str) -> PathStep {
    PathStep::Key(name.into())
}

fn title(text: &str) -> Edit {
    Edit::Set { path: vec![key("test"), key("title")], value: Value::from(text) }
}

fn pick(frame: u32, x_px: f64) -> Edit {
    let pick = Pick { frame, target: "C1".into(), x_px, y_px: 2.5, sx_px: None, sy_px: None, operator: None };
    Edit::PutPick { camera: "side".into(), pick }
}

fn speed(per_s: f64) -> Edit {
    let path = ["speed", "frames_per_s"].map(key);
    let path = [key("camera"), PathStep::Item(0)].into_iter().chain(path).collect();
    Edit::Set { path, value: Value::from(per_s) }
}

#[test]
fn an_act_that_leaves_no_dossier_changes_nothing() {
    let dir = folder();
    let (mut book, _) = opened(dir.path());
    book.apply("speed", &[title("new"), speed(1000.0)]).unwrap_err();
    assert_eq!(book.dossier().text, START);
    assert!(book.is_saved());
}

#[test]
fn a_second_opening_reads_only_and_says_who() {
    let dir = folder();
    let (_first, _) = opened(dir.path());
    let (mut second, _) = opened(dir.path());
    assert!(second.read_only().unwrap().contains("analyst"), "{:?}", second.read_only());
    second.apply("title", &[title("x")]).unwrap_err();
}

#[test]
fn a_kill_at_any_byte_of_the_last_line_loses_that_line_at_most() {
    let dir = folder();
    let (mut book, _) = opened(dir.path());
    book.apply("one", &[title("one")]).unwrap();
    book.save().unwrap();
    let whole_before = fs::read(dir.path().join("daybook.jsonl")).unwrap().len();
    let file = fs::read(dir.path().join("dossier.toml")).unwrap();
    book.apply("two", &[title("two")]).unwrap();
    let bytes = fs::read(dir.path().join("daybook.jsonl")).unwrap();
    for length in whole_before..=bytes.len() {
        let copy = tempfile::tempdir().unwrap();
        fs::write(copy.path().join("dossier.toml"), &file).unwrap();
        fs::write(copy.path().join("daybook.jsonl"), &bytes[..length]).unwrap();
        let (again, notes) = opened(copy.path());
        let expected = if length == bytes.len() { "two" } else { "one" };
        assert_eq!(again.document().test.title, expected, "{length}");
        assert_eq!(notes.is_empty(), length == whole_before, "{length}: {notes:?}");
    }
}

#[test]
fn an_outside_change_is_an_act_of_its_own() {
    let dir = folder();
    drop(opened(dir.path()));
    fs::write(dir.path().join("dossier.toml"), START.replace("\"t\"", "\"theirs\"")).unwrap();
    let (mut book, notes) = opened(dir.path());
    assert_eq!((notes.len(), book.document().test.title.as_str()), (1, "theirs"));
    book.undo().unwrap();
    assert_eq!(book.dossier().text, START);
}

#[test]
fn a_damaged_line_sets_the_day_book_aside() {
    let dir = folder();
    let (mut book, _) = opened(dir.path());
    book.apply("one", &[title("one")]).unwrap();
    drop(book);
    let path = dir.path().join("daybook.jsonl");
    let text = fs::read_to_string(&path).unwrap();
    fs::write(&path, text.replacen("\"seq\":0", "\"sec\":0", 1)).unwrap();
    let (book, notes) = opened(dir.path());
    assert!(notes[0].text.contains("Line 1"), "{notes:?}");
    assert_eq!(book.document().test.title, "one");
    assert!(dir.path().join("daybook.damaged-1.jsonl").exists());
}

#[test]
fn a_newer_day_book_is_refused_and_nothing_written() {
    let dir = folder();
    fs::write(dir.path().join("daybook.jsonl"), "{\"schema\":2}\n").unwrap();
    assert!(Workbook::open(dir.path(), WorkbookOptions::default()).is_err());
    assert_eq!(fs::read_dir(dir.path()).unwrap().count(), 2);
}

fn some_edit() -> impl Strategy<Value = u8> {
    0_u8..7
}

proptest! {
    #![proptest_config(ProptestConfig::with_cases(12))]
    #[test]
    fn reopened_it_is_the_same_and_undone_it_is_the_original(acts in prop::collection::vec(some_edit(), 1..14)) {
        let dir = folder();
        let (mut book, _) = opened(dir.path());
        for (n, act) in (0_u32..).zip(acts) {
            match act {
                0 => book.apply("title", &[title(&format!("t{n} ü"))]).unwrap(),
                1 | 2 => book.apply("mark", &[pick(n % 3, f64::from(n) + 0.25)]).unwrap(),
                3 => {
                    let values = vec![("id".to_owned(), Value::from(format!("b{n}")))];
                    book.apply("body", &[Edit::Append { table: "body".into(), values }]).unwrap();
                }
                4 => drop(book.undo().unwrap()),
                5 => drop(book.redo().unwrap()),
                _ => {
                    let (text, picks) = (book.dossier().text.clone(), book.picks("side").to_vec());
                    drop(book);
                    book = opened(dir.path()).0;
                    prop_assert_eq!((&book.dossier().text, book.picks("side")), (&text, picks.as_slice()));
                }
            }
        }
        while book.undo().unwrap().is_some() {}
        book.save().unwrap();
        prop_assert_eq!(fs::read_to_string(dir.path().join("dossier.toml")).unwrap(), START);
        prop_assert!(!dir.path().join("picks/side.csv").exists());
    }
}

/// A disk without room left while `full` is set.
struct Filling(std::sync::Arc<std::sync::atomic::AtomicBool>);

impl Filling {
    fn room(&self) -> std::io::Result<()> {
        let is_full = self.0.load(std::sync::atomic::Ordering::SeqCst);
        if is_full { Err(std::io::ErrorKind::StorageFull.into()) } else { Ok(()) }
    }
}

impl Disk for Filling {
    fn replace(&self, path: &Path, bytes: &[u8]) -> std::io::Result<()> {
        self.room().and_then(|()| RealDisk.replace(path, bytes))
    }
    fn append(&self, path: &Path, keep: u64, bytes: &[u8]) -> std::io::Result<()> {
        self.room().and_then(|()| RealDisk.append(path, keep, bytes))
    }
    fn remove(&self, path: &Path) -> std::io::Result<()> {
        self.room().and_then(|()| RealDisk.remove(path))
    }
    fn rename(&self, from: &Path, to: &Path) -> std::io::Result<()> {
        self.room().and_then(|()| RealDisk.rename(from, to))
    }
}

#[test]
fn on_a_full_disk_the_act_stands_and_is_written_later() {
    let dir = folder();
    let full = std::sync::Arc::new(std::sync::atomic::AtomicBool::new(false));
    let disk = Box::new(Filling(std::sync::Arc::clone(&full)));
    let (mut book, _) = crate::open::open(dir.path(), WorkbookOptions::default(), disk).unwrap();
    full.store(true, std::sync::atomic::Ordering::SeqCst);
    book.apply("one", &[title("one")]).unwrap_err();
    assert_eq!(book.document().test.title, "one");
    assert!(!book.is_saved());
    book.save().unwrap_err();
    assert_eq!(fs::read_to_string(dir.path().join("dossier.toml")).unwrap(), START);
    full.store(false, std::sync::atomic::Ordering::SeqCst);
    let later = std::time::Instant::now() + std::time::Duration::from_secs(3);
    assert!(book.autosave(later).unwrap());
    assert!(book.is_saved());
    assert!(fs::read_to_string(dir.path().join("dossier.toml")).unwrap().contains("\"one\""));
}
