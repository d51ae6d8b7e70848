//! Small pictures of the desk, drawn by the software adapter: what changes in them is looked at by a person.

use crate::hands::{Hands, copy_of_sample, sample};
use eframe::egui::{Key, Modifiers};
use egui_kittest::SnapshotOptions;

/// Size of a picture, points.
const SIZE: [f32; 2] = [1000.0, 640.0];
/// Greatest difference of a pixel's colour, and pixels that may differ more: versions of the adapter round differently.
const THRESHOLD: f32 = 1.5;
const MOST_PIXELS: usize = 300;

fn options() -> SnapshotOptions {
    SnapshotOptions::new().threshold(THRESHOLD).max_failed_pixels(MOST_PIXELS)
}

fn take(hands: &mut Hands, name: &str) {
    if hands.harness.state().document().is_some() {
        // Neither a scratch folder nor a time stays in the status line.
        hands.key(Modifiers::COMMAND, Key::S);
    }
    hands.harness.remove_cursor();
    hands.look();
    hands.harness.snapshot_options(name, &options());
}

fn opened(dark: bool) -> Hands {
    let mut hands = Hands::on(SIZE);
    hands.act(if dark { "dark" } else { "light" });
    let dossier = copy_of_sample(hands.folder.path());
    hands.open(&dossier);
    hands
}

#[test]
fn the_beginning() {
    let mut hands = Hands::on(SIZE);
    hands.act("light");
    take(&mut hands, "beginning");
}

#[test]
fn the_form_and_the_film() {
    let mut hands = opened(false);
    hands.line("Board, side");
    take(&mut hands, "form-light");
    hands.act("cautions");
    take(&mut hands, "cautions");
}

#[test]
fn a_close_up_in_the_dark() {
    let mut hands = opened(true);
    hands.key(Modifiers::COMMAND, Key::ArrowDown);
    hands.key(Modifiers::COMMAND, Key::M);
    take(&mut hands, "close-up-dark");
}

#[test]
fn found_targets_wait_and_acts_are_listed() {
    let mut hands = Hands::on(SIZE);
    hands.act("dark");
    let film = hands.folder.path().join("side.mkv");
    std::fs::copy(sample().join("footage/side.mkv"), &film).unwrap();
    hands.enter("Path of a film or of a dossier", &film.display().to_string());
    hands.line("Bodies");
    hands.enter("Add a body", "car");
    hands.line("Targets, side");
    hands.press("Find targets in this frame");
    take(&mut hands, "found-dark");
    hands.key(Modifiers::COMMAND, Key::P);
    take(&mut hands, "acts-dark");
}

#[test]
fn figures_curves_and_large_text() {
    let mut hands = opened(false);
    hands.press("Measure");
    hands.enter("Frame", "187");
    hands.key(Modifiers::COMMAND, Key::ArrowDown);
    hands.act("go to line: speed at contact, car, film side");
    take(&mut hands, "figures-light");
    hands.act("text 150");
    take(&mut hands, "figures-large");
}
