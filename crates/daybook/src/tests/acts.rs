//! Acts and locks.

use super::*;

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
    let (first, _) = opened(dir.path());
    assert_eq!(first.who(), "analyst");
    let (mut second, _) = opened(dir.path());
    assert!(second.read_only().unwrap().contains("analyst"), "{:?}", second.read_only());
    second.apply("title", &[title("x")]).unwrap_err();
}
