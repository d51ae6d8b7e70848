//! Placing in the picture keeps what is known, and belongs to one camera.

use crate::hands::{Hands, copy_of_sample};
use eframe::egui::{Key, Modifiers};
use egui_kittest::kittest::Queryable as _;
use filmgauge_dossier::document::ZeroEntry;

/// Size of the side film, px.
const SIZE: [f32; 2] = [1280.0, 448.0];

#[test]
fn a_region_of_the_flash_keeps_its_delay() {
    let mut hands = Hands::new();
    let dossier = copy_of_sample(hands.folder.path());
    let file = dossier.join("dossier.toml");
    let text = std::fs::read_to_string(&file).unwrap();
    let delayed = "zero = { by = \"flash\", delay_s = 0.0004, delay_uncertainty_s = 0.0001 }";
    std::fs::write(&file, text.replacen("zero = { by = \"flash\" }", delayed, 1)).unwrap();
    hands.open(&dossier);
    hands.line("Time zero, side");
    hands.press("Show where the flash is seen");
    for px in [[30.0, 20.0], [130.0, 80.0]] {
        let at = hands.at(SIZE, px);
        hands.press_at(at);
        hands.press("Accept");
    }
    let zero = hands.harness.state().document().unwrap().camera[0].zero.clone();
    let Some(ZeroEntry::Flash { region_px, delay_s, delay_uncertainty_s, .. }) = zero else {
        panic!("{zero:?}, {}", hands.said());
    };
    assert_eq!(region_px, Some([30, 20, 101, 61]));
    assert_eq!([delay_s, delay_uncertainty_s], [0.0004, 0.0001]);
}

#[test]
fn another_camera_gives_up_what_was_being_placed() {
    let mut hands = Hands::new();
    let dossier = copy_of_sample(hands.folder.path());
    hands.open(&dossier);
    hands.line("Board, side");
    hands.press("Show both ends anew");
    let at = hands.at(SIZE, [200.0, 80.0]);
    hands.press_at(at);
    hands.press("Accept");
    hands.line("Exposure, overhead");
    assert!(hands.shows("Film of camera overhead"), "{:?}", hands.names("Film of"));
    assert!(!hands.shows("second end of the board"), "an end in one film and one in another give no scale");
}

#[test]
fn a_lamp_is_placed_only_with_its_frequency() {
    let mut hands = Hands::new();
    let dossier = copy_of_sample(hands.folder.path());
    hands.open(&dossier);
    hands.act("show the lamp");
    assert!(hands.said().starts_with("Give the marks a second first"), "{}", hands.said());
    hands.line("Film speed, side");
    hands.enter("Timing marks a second", "120");
    hands.press("Show the lamp of the timing marks");
    for px in [[30.0, 20.0], [60.0, 40.0]] {
        let at = hands.at(SIZE, px);
        hands.press_at(at);
        hands.press("Accept");
    }
    let speed = hands.harness.state().document().unwrap().camera[0].speed.clone().unwrap();
    assert_eq!(speed.marks.map(|marks| marks.frequency_hz), Some(120.0));
}

#[test]
fn surveyed_points_take_the_place_of_a_board_and_lengths_check_them() {
    let mut hands = Hands::new();
    let dossier = copy_of_sample(hands.folder.path());
    hands.open(&dossier);
    hands.line("Surveyed points, side");
    hands.press("Take the board out");
    assert!(hands.shows("Board, side: empty"), "{:?}", hands.names("Board, side"));
    hands.enter("Points of the plane: standard uncertainty of the survey, m", "0.001");
    // Both ends of the sample's board, 2 m apart, and two targets on the ground, as if they stood in its plane.
    let points = [
        ("A 0 2.2", [155.7, 79.7]),
        ("B 2 2.2", [404.0, 78.1]),
        ("C 0 0.1", [113.0, 406.0]),
        ("D 5 0.1", [757.0, 406.0]),
    ];
    let label = "New point: name, along the path and up, m";
    for (text, px) in points {
        hands.enter(label, text);
        let at = hands.at(SIZE, px);
        hands.press_at(at);
        hands.press("Accept");
    }
    assert!(hands.shows("Surveyed points, side: done, 4 points of the plane"), "{}", hands.said());
    hands.enter(label, "E 1");
    assert!(hands.said().starts_with("Write a name and 2 numbers"), "{}", hands.said());
    let plane = hands.harness.state().document().unwrap().camera[0].plane.clone().unwrap();
    let first = &plane.points[0];
    assert_eq!((first.name.as_str(), first.m), ("A", [0.0, 2.2]));
    // The board's end is painted: the point is fitted to it.
    assert!((first.px[0] - 155.71).abs() < 0.3 && (first.px[1] - 79.74).abs() < 0.3, "{first:?}");
    hands.press("Take D out");
    assert!(hands.shows("Surveyed points, side: empty, 3 points of the plane; show at least 4"));

    hands.line("Known lengths, side");
    hands.enter("New length: name, length and its standard uncertainty, m", "beam 2 0.001");
    for px in [[155.7, 79.7], [404.0, 78.1]] {
        let at = hands.at(SIZE, px);
        hands.press_at(at);
        hands.press("Accept");
    }
    let camera = &hands.harness.state().document().unwrap().camera[0];
    assert_eq!((camera.length[0].name.as_str(), camera.length[0].length_m), ("beam", 2.0));
    hands.line("Camera, side");
    hands.choose("The film is", "by the targets on the ground");
    hands.enter("Path of car nears the camera by, degrees", "10");
    hands.enter("Standard uncertainty of that of car, degrees", "0.2");
    hands.choose("How bodies come nearer and turn is told by", "overhead");
    hands.enter("x = 0 here lies on camera overhead at, m", "0.4");
    let from = hands.harness.state().document().unwrap().camera[0].depth_from.clone().unwrap();
    assert_eq!((from.camera.as_str(), from.x_m), ("overhead", 0.4));
    let camera = &hands.harness.state().document().unwrap().camera[0];
    assert!(camera.steady.is_some(), "{}", hands.said());
    let inclined = &camera.inclined[0];
    assert_eq!((inclined.body.as_str(), inclined.deg, inclined.uncertainty_deg), ("car", 10.0, 0.2));
    hands.act("undo everything");
    let camera = &hands.harness.state().document().unwrap().camera[0];
    assert!(camera.inclined.is_empty() && camera.steady.is_none() && camera.depth_from.is_none());
    assert!(camera.board.is_some() && camera.plane.is_none() && camera.length.is_empty());
}

#[test]
fn the_doubt_of_a_boards_ends_is_that_of_how_they_were_shown() {
    let mut hands = Hands::new();
    let dossier = copy_of_sample(hands.folder.path());
    hands.open(&dossier);
    hands.line("Board, side");
    let mut show = |is_fitted: bool| -> f64 {
        hands.press("Show both ends anew");
        for (n, px) in [[155.7, 79.7], [404.0, 78.1]].into_iter().enumerate() {
            let at = hands.at(SIZE, px);
            hands.press_at(at);
            if is_fitted && n == 0 {
                hands.key(Modifiers::NONE, Key::S);
            }
            hands.press("Accept");
        }
        let document = hands.harness.state().document().unwrap();
        document.camera[0].board.as_ref().unwrap().uncertainty_px
    };
    let fitted = show(true);
    assert!((0.02..0.15).contains(&fitted), "{fitted}");
    assert_eq!(show(false), 0.3, "ends shown by eye are not as good as fitted ones");
}

#[test]
fn cameras_with_poses_are_joined_in_space_and_taken_apart_again() {
    let mut hands = Hands::new();
    let dossier = copy_of_sample(hands.folder.path());
    let file = dossier.join("dossier.toml");
    let pose = "pose = { uncertainty_px = 0.1, uncertainty_m = 0.001, plane_at_m = 0.0, points = [{ name = \"S1\", px = [1.0, 2.0], m = [0.0, 0.0, 0.0] }] }";
    let text = std::fs::read_to_string(&file).unwrap();
    let posed = text.lines().map(|line| if line.starts_with("board = ") { pose } else { line });
    let posed = posed.collect::<Vec<&str>>().join("\n");
    // For the centre plane both look from the side.
    std::fs::write(&file, posed.replace("view = \"overhead\"", "view = \"side\"")).unwrap();
    hands.open(&dossier);
    hands.line("Cameras joined in space");
    hands.choose("Camera left of the path", "overhead");
    let centre = hands.harness.state().document().unwrap().centre.clone().unwrap();
    assert_eq!((centre.left.as_str(), centre.right.as_str()), ("overhead", "side"));
    for camera in ["side", "overhead"] {
        let name = format!("Camera {camera} is joined");
        hands.harness.get_by_label(&name).click_accesskit();
        hands.wait();
    }
    let joined = |hands: &Hands| hands.harness.state().document().unwrap().space.clone();
    assert_eq!(joined(&hands).unwrap().cameras, ["side", "overhead"], "{}", hands.said());
    hands.harness.get_by_label("Camera side is joined").click_accesskit();
    hands.wait();
    assert!(hands.shows("Cameras joined in space: needs a person, two cameras or more are joined"));
    hands.act("undo everything");
    assert!(joined(&hands).is_none());
}
