//! Small pictures of the desk, drawn by the software adapter: what changes in them is looked at by a person.

use crate::hands::{Hands, copy_of_sample};
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
fn the_form_and_the_film() {
    let mut hands = opened(false);
    hands.line("Board, side");
    take(&mut hands, "form-light");
}

#[test]
fn a_close_up_in_the_dark() {
    let mut hands = opened(true);
    hands.key(Modifiers::COMMAND, Key::ArrowDown);
    hands.key(Modifiers::COMMAND, Key::M);
    take(&mut hands, "close-up-dark");
}
