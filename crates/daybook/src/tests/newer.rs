//! What a newer version wrote is refused in words, and nothing is written.

use super::*;

fn refused(dir: &Path) -> String {
    let names = || {
        let mut names: Vec<_> = fs::read_dir(dir).unwrap().map(|entry| entry.unwrap().file_name()).collect();
        names.sort();
        names
    };
    let before = names();
    let Err(error) = Workbook::open(dir, WorkbookOptions::default()) else { panic!("it was opened") };
    assert_eq!(names(), before);
    error.to_string()
}

#[test]
fn a_newer_day_book_is_refused_and_nothing_written() {
    let dir = folder();
    fs::write(dir.path().join("daybook.jsonl"), "{\"schema\":2}\n").unwrap();
    assert!(refused(dir.path()).contains("schema 2"));
}

#[test]
fn a_newer_dossier_is_refused_with_or_without_a_day_book() {
    let newer = "schema = 7\nbeyond = { this = \"version\" }\n";
    let dir = folder();
    fs::write(dir.path().join("dossier.toml"), newer).unwrap();
    assert!(refused(dir.path()).contains("schema 7, this version knows up to 1. Use a newer version"));

    let dir = folder();
    let (mut book, _) = opened(dir.path());
    book.apply("one", &[title("one")]).unwrap();
    drop(book);
    fs::write(dir.path().join("dossier.toml"), newer).unwrap();
    let day_book = fs::read(dir.path().join("daybook.jsonl")).unwrap();
    assert!(refused(dir.path()).contains("nothing was written"));
    assert_eq!(fs::read_to_string(dir.path().join("dossier.toml")).unwrap(), newer);
    assert_eq!(fs::read(dir.path().join("daybook.jsonl")).unwrap(), day_book);
}
