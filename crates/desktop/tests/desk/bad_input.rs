//! What goes wrong at a desk: a sentence says what happened and what is safe; nothing is lost.

use crate::hands::{Hands, copy_of_sample};
use std::fs;

#[test]
fn a_text_file_is_no_film() {
    let mut hands = Hands::new();
    let path = hands.folder.path().join("notes.txt");
    fs::write(&path, "not a film").unwrap();
    hands.enter("Path of a film or of a dossier", &path.display().to_string());
    assert!(
        hands.said().contains("neither a film nor a dossier's folder; nothing was changed"),
        "{}",
        hands.said()
    );
    assert!(hands.harness.state().document().is_none());
}

#[test]
fn a_film_that_cannot_be_read_says_so_in_its_line() {
    let mut hands = Hands::new();
    let path = hands.folder.path().join("broken.mkv");
    fs::write(&path, b"this is no video at all").unwrap();
    hands.enter("Path of a film or of a dossier", &path.display().to_string());
    assert!(hands.shows("Camera, broken: needs a person"), "{:?}", hands.names("Camera"));
}

#[test]
fn a_film_that_vanishes_leaves_the_dossier_as_it_was() {
    let mut hands = Hands::new();
    let dossier = copy_of_sample(hands.folder.path());
    hands.open(&dossier);
    assert!(hands.shows("Film of camera side, frame 0"), "{:?}", hands.names("Film"));
    fs::remove_file(dossier.join("footage/side.mkv")).unwrap();
    hands.press("Measure");
    assert!(
        hands.said().contains("could not be measured") && hands.said().contains("side.mkv"),
        "{}",
        hands.said()
    );
    assert!(hands.shows("Measuring gave nothing"));
    assert!(hands.harness.state().document().is_some());
}

#[test]
fn a_dossier_of_a_newer_version_and_a_damaged_one_are_refused_in_words() {
    for (text, part) in
        [("schema = 99\n[test]\nid = \"A\"\ntitle = \"\"\n", "newer"), ("schema = 1\n[test\n", "line 2")]
    {
        let mut hands = Hands::new();
        let folder = hands.folder.path().join("test");
        fs::create_dir(&folder).unwrap();
        fs::write(folder.join("dossier.toml"), text).unwrap();
        hands.open(&folder);
        assert!(hands.said().contains("was not opened") && hands.said().contains(part), "{}", hands.said());
        assert_eq!(fs::read_to_string(folder.join("dossier.toml")).unwrap(), text);
    }
}

#[test]
fn a_second_desk_opens_for_reading_only() {
    let mut first = Hands::new();
    let dossier = copy_of_sample(first.folder.path());
    first.open(&dossier);
    let mut second = Hands::new();
    second.open(&dossier);
    assert!(second.shows("For reading only"), "{}", second.said());
    second.line("Exposure, side");
    second.enter("Exposure, ms", "0.3");
    assert!(second.said().contains("reading only"), "{}", second.said());
    let exposure = second.harness.state().document().unwrap().camera[0].exposure_s;
    assert_eq!(exposure, Some(0.0002));
}

#[test]
fn measuring_an_unfinished_dossier_names_what_is_missing() {
    let mut hands = Hands::new();
    hands.begin_with_film();
    hands.press("Measure");
    assert!(hands.said().starts_with("It cannot be measured yet. There is no body."), "{}", hands.said());
    hands.line("Board, side");
    assert!(hands.shows("Give both, then the ends can be shown in the film."));
    hands.enter("Length, m", "two metres");
    assert!(!hands.shows("Show both ends in the film"));
}
