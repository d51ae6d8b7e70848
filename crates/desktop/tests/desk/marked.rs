//! The marked film from the desk: by key and by name, in the background, stopped and told of.

use crate::hands::{Hands, copy_of_sample};
use eframe::egui::{Key, Modifiers};

#[test]
fn a_marked_film_is_written_in_the_background_and_can_be_stopped() {
    let mut hands = Hands::new();
    let dossier = copy_of_sample(hands.folder.path());
    hands.open(&dossier);
    hands.key(Modifiers::NONE, Key::F7);
    for part in ["could not be written", "provenance.json", "measure the dossier first"] {
        assert!(hands.said().contains(part), "{part}: {}", hands.said());
    }
    hands.press("Measure");
    assert!(hands.said().starts_with("Measured in"), "{}", hands.said());

    // The key alone, without waiting for the end.
    hands.harness.key_press(Key::F7);
    hands.look();
    assert!(hands.shows("Marked film, camera side: frame"), "{}", hands.said());
    hands.harness.key_press(Key::F5);
    hands.look();
    assert!(hands.said().contains("stop it first"), "{}", hands.said());
    hands.key(Modifiers::SHIFT, Key::F7);
    for part in ["stopped on request", ".side.mp4.pieces", "goes on from there"] {
        assert!(hands.said().contains(part), "{part}: {}", hands.said());
    }
    assert!(!dossier.join("marked/side.mp4").exists(), "nothing half-written has the film's name");

    hands.key(Modifiers::COMMAND, Key::K);
    hands.act("Write the marked film of camera overhead");
    assert!(hands.said().contains("225 pictures, 25 a second: 1/20 of real time"), "{}", hands.said());
    assert!(dossier.join("marked/overhead.mp4").is_file());
}
