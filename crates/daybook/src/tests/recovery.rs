//! What counts when day book and files differ: kills, changes from outside, damage of the day book.

use super::*;

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
fn a_torn_last_line_is_set_aside_once() {
    let dir = folder();
    let (mut book, _) = opened(dir.path());
    book.apply("one", &[title("one")]).unwrap();
    drop(book);
    let path = dir.path().join("daybook.jsonl");
    let whole = fs::read(&path).unwrap();
    fs::write(&path, [whole.as_slice(), b"{\"schema\":1,\"seq"].concat()).unwrap();
    let (mut book, notes) = opened(dir.path());
    assert!(notes[0].text.contains("daybook.jsonl.torn-1"), "{notes:?}");
    assert_eq!(fs::read(dir.path().join("daybook.jsonl.torn-1")).unwrap(), b"{\"schema\":1,\"seq");
    assert_eq!(fs::read(&path).unwrap(), whole);
    book.apply("two", &[title("two")]).unwrap();
    drop(book);
    let (book, notes) = opened(dir.path());
    assert_eq!((notes, book.document().test.title.as_str()), (Vec::new(), "two"));
}

#[test]
fn an_outside_change_is_an_act_of_its_own() {
    let dir = folder();
    drop(opened(dir.path()));
    fs::write(dir.path().join("dossier.toml"), START.replace("\"t\"", "\"theirs\"")).unwrap();
    let (mut book, notes) = opened(dir.path());
    assert_eq!((notes.len(), book.document().test.title.as_str()), (1, "theirs"));
    assert!(book.entries().last().unwrap().outside);
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
fn a_change_outside_while_open_is_kept_beside_whatever_it_holds() {
    let dir = folder();
    let (mut book, _) = opened(dir.path());
    book.apply("one", &[title("one")]).unwrap();
    fs::write(dir.path().join("dossier.toml"), b"\xff\xfe theirs").unwrap();
    let told = book.save().unwrap_err().to_string();
    assert!(told.contains("dossier.toml.outside-1"), "{told}");
    book.save().unwrap();
    assert!(fs::read_to_string(dir.path().join("dossier.toml")).unwrap().contains("\"one\""));
    assert_eq!(fs::read(dir.path().join("dossier.toml.outside-1")).unwrap(), b"\xff\xfe theirs");
}

#[test]
fn a_day_book_taken_away_while_open_is_written_again_whole() {
    let dir = folder();
    let path = dir.path().join("daybook.jsonl");
    let (mut book, _) = opened(dir.path());
    book.apply("one", &[title("one")]).unwrap();
    let shortened = fs::read(&path).unwrap()[..40].to_vec();
    fs::remove_file(&path).unwrap();
    book.apply("two", &[title("two")]).unwrap();
    fs::write(&path, shortened).unwrap();
    book.apply("three", &[title("three")]).unwrap();
    drop(book);
    let (mut book, notes) = opened(dir.path());
    assert_eq!((notes, book.document().test.title.as_str()), (Vec::new(), "three"));
    while book.undo().unwrap().is_some() {}
    assert_eq!(book.dossier().text, START);
}

#[test]
fn one_file_that_fails_does_not_keep_the_others_waiting() {
    let dir = folder();
    let (mut book, _) = opened(dir.path());
    book.apply("both", &[title("one"), pick(1, 2.0)]).unwrap();
    fs::write(dir.path().join("dossier.toml"), "theirs").unwrap();
    book.save().unwrap_err();
    assert!(dir.path().join("picks/side.csv").exists());
    assert!(!book.is_saved());
}
