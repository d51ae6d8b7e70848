//! A measured test is packed and proved at the desk, by keys and by names; what changed is named.

use crate::hands::{Hands, copy_of_sample};
use eframe::egui::{Key, Modifiers};

const NONE: Modifiers = Modifiers::NONE;

#[test]
fn a_measured_test_is_packed_and_proved_and_a_change_is_named() {
    let mut hands = Hands::new();
    let dossier = copy_of_sample(hands.folder.path());
    hands.open(&dossier);
    assert!(!hands.shows("Hand-over: "), "nothing to hand over before measuring");
    hands.key(NONE, Key::F8);
    assert!(hands.said().contains("measure the dossier first"), "{}", hands.said());

    hands.key(NONE, Key::F5);
    hands.line("Hand-over");
    let beside = hands.folder.path().join("HB-014.zip");
    assert!(hands.shows(&format!("It will be {}.", beside.display())), "{:?}", hands.names("It will be"));
    hands.key(NONE, Key::F8);
    assert!(beside.is_file() && hands.said().contains("by their hash alone"), "{}", hands.said());
    hands.enter("Archive, from the dossier's folder", "../whole.zip");
    hands.press("Pack with the footage");
    let whole = hands.folder.path().join("whole.zip");
    assert!(whole.metadata().unwrap().len() > beside.metadata().unwrap().len(), "{}", hands.said());
    hands.enter("Archive, from the dossier's folder", "results/whole.zip");
    hands.key(Modifiers::SHIFT, Key::F8);
    assert!(hands.said().contains("lies among the results"), "{}", hands.said());

    hands.key(NONE, Key::F9);
    assert!(hands.said().starts_with("The same: every results file"), "{}", hands.said());
    assert!(hands.shows("Hand-over: done, The same"), "{:?}", hands.names("Hand-over"));
    let findings = dossier.join("results/findings.json");
    let text = std::fs::read_to_string(&findings).unwrap();
    std::fs::write(&findings, text.replacen("m/s", "km/h", 1)).unwrap();
    hands.press("Recheck: measure again and compare");
    for part in ["Not the same: findings.json, line", "km/h", "the stored results were changed afterwards"] {
        assert!(hands.said().contains(part), "{part}: {}", hands.said());
    }
    assert!(hands.shows("Hand-over: needs a person"), "{:?}", hands.names("Hand-over"));
}

#[test]
fn a_recheck_is_stopped_and_leaves_nothing() {
    let mut hands = Hands::new();
    let dossier = copy_of_sample(hands.folder.path());
    hands.open(&dossier);
    hands.key(NONE, Key::F5);
    hands.harness.key_press(Key::F9);
    hands.look();
    hands.harness.key_press_modifiers(Modifiers::SHIFT, Key::F9);
    hands.wait();
    assert_eq!(hands.said(), "The recheck was stopped; it says nothing.");
}
