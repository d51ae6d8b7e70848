//! The desk by keyboard alone: film, targets, pages, sizes of text.

use crate::hands::{Hands, copy_of_sample};
use eframe::egui::accesskit::Role;
use eframe::egui::{Key, Modifiers};

fn opened() -> Hands {
    let mut hands = Hands::new();
    let dossier = copy_of_sample(hands.folder.path());
    hands.open(&dossier);
    hands
}

#[test]
fn arrows_home_and_end_step_the_film() {
    let mut hands = opened();
    let none = Modifiers::NONE;
    for (modifiers, key, frame) in [
        (none, Key::ArrowRight, 1),
        (Modifiers::SHIFT, Key::ArrowRight, 11),
        (none, Key::ArrowLeft, 10),
        (Modifiers::SHIFT, Key::ArrowLeft, 0),
        (none, Key::ArrowLeft, 0),
        (none, Key::End, 449),
        (none, Key::ArrowRight, 449),
        (none, Key::Home, 0),
    ] {
        hands.key(modifiers, key);
        assert!(
            hands.shows(&format!("Film of camera side, frame {frame} of 0 to 449")),
            "{key:?}: {:?}",
            hands.names("Film of")
        );
    }
    hands.enter("Frame", "123");
    assert!(hands.shows("Film of camera side, frame 123 of"));
    hands.key(Modifiers::COMMAND, Key::K);
    assert!(hands.shows("Film of camera overhead"), "{:?}", hands.names("Film of"));
}

#[test]
fn targets_are_gone_through_and_every_act_is_in_the_list() {
    let mut hands = opened();
    hands.key(Modifiers::COMMAND, Key::ArrowDown);
    assert!(hands.shows("Close-up: C1: no mark in this frame"), "{:?}", hands.names("Close-up"));
    hands.key(Modifiers::COMMAND, Key::ArrowUp);
    assert!(hands.shows("Close-up: G3"), "{:?}", hands.names("Close-up"));
    hands.key(Modifiers::COMMAND, Key::P);
    for name in ["Measure", "Whole picture", "Hide trails", "Text 200 %", "Next camera", "Save now"] {
        assert!(hands.shows(name), "{name}");
    }
    hands.key(Modifiers::NONE, Key::Escape);
    hands.key(Modifiers::NONE, Key::F1);
    assert!(hands.shows("Keys without Ctrl work while"));
    hands.key(Modifiers::NONE, Key::Escape);
    assert!(!hands.shows("Keys without Ctrl work while"));
}

#[test]
fn the_next_need_takes_what_is_typed() {
    let mut hands = Hands::new();
    hands.begin_with_film();
    for figure in ["1000", "0.2"] {
        hands.key(Modifiers::NONE, Key::F2);
        hands.harness.event(eframe::egui::Event::Text(figure.into()));
        hands.look();
        hands.key(Modifiers::NONE, Key::Enter);
    }
    let camera = &hands.harness.state().document().unwrap().camera[0];
    assert_eq!(camera.speed.as_ref().map(|speed| speed.frames_per_s), Some(1000.0));
    assert_eq!(camera.exposure_s, Some(0.0002));
}

#[test]
fn units_and_undo_reach_over_a_restart() {
    let mut hands = opened();
    let dossier = hands.folder.path().join("hatchback");
    hands.line("Test: ");
    hands.choose("Units shown", "US customary");
    assert!(format!("{:?}", hands.harness.state().document().unwrap().test.units).contains("Us"));
    hands.key(Modifiers::COMMAND, Key::W);
    assert!(hands.shows("Try the sample test"));
    hands.open(&dossier);
    assert!(format!("{:?}", hands.harness.state().document().unwrap().test.units).contains("Us"));
    hands.key(Modifiers::COMMAND, Key::Z);
    assert_eq!(hands.said(), "Taken back: units");
    hands.key(Modifiers::NONE, Key::F4);
    assert!(hands.shows("took back: units"), "{:?}", hands.names("units"));
}

#[test]
fn a_mark_by_hand_is_fitted_and_nudged() {
    let mut hands = opened();
    hands.key(Modifiers::COMMAND, Key::ArrowDown);
    hands.key(Modifiers::COMMAND, Key::M);
    assert!(hands.shows("mark by hand at x 91.4"), "{:?}", hands.names("Close-up"));
    assert!(hands.shows("fitted, ±"), "{:?}", hands.names("Close-up"));
    hands.key(Modifiers::NONE, Key::ArrowDown);
    assert!(hands.shows("as pointed"));
    hands.key(Modifiers::NONE, Key::S);
    assert!(hands.shows("fitted, ±"));
    hands.key(Modifiers::NONE, Key::Enter);
    assert!(hands.shows("placed by hand"), "{:?}", hands.names("Close-up"));
    hands.key(Modifiers::COMMAND, Key::S);
    let picks = std::fs::read_to_string(hands.folder.path().join("hatchback/picks/side.csv")).unwrap();
    assert!(picks.contains("0,C1,"), "{picks}");
}

#[test]
fn a_step_of_a_channel_is_left_out_and_undone() {
    let mut hands = opened();
    hands.line("Channel 10CVEHCG0000ACXP");
    let left_out = |hands: &Hands| {
        let document = hands.harness.state().document().unwrap();
        document.channel[0].without.iter().map(|step| step.word()).collect::<Vec<_>>()
    };
    assert!(left_out(&hands).is_empty());
    for name in ["Class filter", "Zero before contact taken out"] {
        hands.named(Role::CheckBox, name).click_accesskit();
        hands.wait();
    }
    assert_eq!(left_out(&hands), ["zero", "filter"]);
    hands.key(Modifiers::COMMAND, Key::Z);
    assert_eq!(hands.said(), "Taken back: channel 10CVEHCG0000ACXP: zero off");
    assert_eq!(left_out(&hands), ["filter"]);
    hands.named(Role::CheckBox, "Class filter").click_accesskit();
    hands.wait();
    assert!(left_out(&hands).is_empty());
}
