//! A file that is no whole file any more comes back from the day book, and is kept under another name.

use super::*;
use std::path::PathBuf;

/// A dossier with a title and a mark, saved; its folder, and the text of `dossier.toml`.
fn worked_on() -> (tempfile::TempDir, String) {
    let dir = folder();
    let (mut book, _) = opened(dir.path());
    book.apply("title", &[title("wörk")]).unwrap();
    book.apply("mark", &[pick(3, 1.5)]).unwrap();
    book.save().unwrap();
    drop(book);
    let text = fs::read_to_string(dir.path().join("dossier.toml")).unwrap();
    (dir, text)
}

fn file(dir: &Path) -> PathBuf {
    dir.join("dossier.toml")
}

#[test]
fn cut_at_any_byte_it_comes_back() {
    let (dir, text) = worked_on();
    for length in 0..text.len() {
        let copy = tempfile::tempdir().unwrap();
        fs::copy(dir.path().join("daybook.jsonl"), copy.path().join("daybook.jsonl")).unwrap();
        let cut = &text.as_bytes()[..length];
        fs::write(file(copy.path()), cut).unwrap();
        let (mut book, notes) = opened(copy.path());
        if book.entries().last().unwrap().outside {
            // Whole lines that are a dossier could be what somebody wanted, and can be undone.
            assert!(cut.ends_with(b"\n") || length == text.len() - 1, "{length}: {notes:?}");
            assert!(notes[0].text.contains("another program"), "{length}: {notes:?}");
            book.undo().unwrap();
            assert_eq!(book.dossier().text, text, "{length}");
            continue;
        }
        assert_eq!(book.dossier().text, text, "{length}: {notes:?}");
        book.save().unwrap();
        assert_eq!(fs::read_to_string(file(copy.path())).unwrap(), text, "{length}");
        if notes[0].text.contains("damaged") {
            let kept = copy.path().join("dossier.toml.damaged-1");
            assert_eq!(fs::read(kept).unwrap(), cut, "{length}");
        }
    }
}

#[test]
fn what_is_no_text_or_no_dossier_comes_back_and_is_told() {
    let broken_by_hand = |text: &str| text.replacen("id = \"A\"", "id = A", 1).into_bytes();
    let (dir, text) = worked_on();
    let nothing = vec![0_u8; text.len()];
    let cases = [
        (nothing, "no text"),
        (b"\xff\xd8\xff".to_vec(), "no text"),
        (Vec::new(), "empty"),
        (broken_by_hand(&text), "line 4"),
        (text.replacen("[[camera]]", "[[camera]", 1).into_bytes(), "line"),
    ];
    for (n, (bytes, reason)) in (1..).zip(cases) {
        fs::write(file(dir.path()), &bytes).unwrap();
        let (mut book, notes) = opened(dir.path());
        assert_eq!(notes.len(), 1, "{notes:?}");
        for part in [reason, "dossier.toml is damaged", &format!("kept as dossier.toml.damaged-{n}")] {
            assert!(notes[0].text.contains(part), "{part}: {notes:?}");
        }
        assert!(notes[0].text.contains(&format!("as it stood at {}", book.entries().last().unwrap().when)));
        assert_eq!(fs::read(dir.path().join(format!("dossier.toml.damaged-{n}"))).unwrap(), bytes);
        assert_eq!(fs::read_to_string(file(dir.path())).unwrap(), text, "it is back on disk at once");
        assert!(book.is_saved());
        assert!(book.undo().unwrap().is_some() && book.redo().unwrap().is_some(), "undo reaches back");
    }
    let (_, notes) = opened(dir.path());
    assert_eq!(notes, []);
}

#[test]
fn a_missing_file_and_torn_marks_come_back() {
    let (dir, text) = worked_on();
    let marks = dir.path().join("picks/side.csv");
    let whole = fs::read_to_string(&marks).unwrap();
    fs::remove_file(file(dir.path())).unwrap();
    fs::write(&marks, &whole.as_bytes()[..whole.len() - 4]).unwrap();
    let (mut book, notes) = opened(dir.path());
    assert!(notes.iter().any(|note| note.text.contains("dossier.toml was missing")), "{notes:?}");
    assert!(notes.iter().any(|note| note.text.contains("kept as picks/side.csv.damaged-1")), "{notes:?}");
    assert_eq!((book.dossier().text.as_str(), book.picks("side").len()), (text.as_str(), 1));
    book.save().unwrap();
    assert_eq!(fs::read_to_string(&marks).unwrap(), whole);
    assert_eq!(fs::read_to_string(file(dir.path())).unwrap(), text);
}

#[test]
fn day_book_and_dossier_torn_together_give_the_last_consistent_state() {
    let (dir, _) = worked_on();
    let (mut book, _) = opened(dir.path());
    let consistent = book.dossier().text.clone();
    book.apply("later", &[title("later")]).unwrap();
    drop(book);
    let path = dir.path().join("daybook.jsonl");
    let bytes = fs::read(&path).unwrap();
    fs::write(&path, &bytes[..bytes.len() - 20]).unwrap();
    fs::write(file(dir.path()), "[[came").unwrap();
    let (book, notes) = opened(dir.path());
    assert_eq!(notes.len(), 2, "{notes:?}");
    assert_eq!(book.dossier().text, consistent);
}

#[test]
fn a_damaged_day_book_still_gives_what_stood_before_the_damage() {
    let (dir, _) = worked_on();
    let path = dir.path().join("daybook.jsonl");
    let mut lines: Vec<String> = fs::read_to_string(&path).unwrap().lines().map(str::to_owned).collect();
    lines[1] = "{}".into();
    fs::write(&path, lines.join("\n") + "\n").unwrap();
    fs::write(file(dir.path()), "id =").unwrap();
    let (book, notes) = opened(dir.path());
    assert_eq!(book.dossier().text, START, "{notes:?}");
    assert!(dir.path().join("daybook.damaged-1.jsonl").exists());
    drop(book);
    let (book, notes) = opened(dir.path());
    assert_eq!((book.dossier().text.as_str(), notes), (START, Vec::new()));
}

#[test]
fn without_a_day_book_the_damage_is_told_and_nothing_is_written() {
    let dir = folder();
    fs::write(file(dir.path()), "[test").unwrap();
    let Err(error) = Workbook::open(dir.path(), WorkbookOptions::default()) else { panic!("it was opened") };
    assert!(error.to_string().contains("dossier.toml, line 1"), "{error}");
    assert_eq!(fs::read_dir(dir.path()).unwrap().count(), 1);
}

#[test]
fn reading_only_shows_the_text_and_writes_nothing() {
    let (dir, text) = worked_on();
    let (_first, _) = opened(dir.path());
    fs::write(file(dir.path()), "torn").unwrap();
    let (second, notes) = opened(dir.path());
    assert!(second.read_only().is_some());
    assert_eq!(second.dossier().text, text);
    assert!(notes[0].text.contains("nothing is written"), "{notes:?}");
    assert_eq!(fs::read_to_string(file(dir.path())).unwrap(), "torn");
}
