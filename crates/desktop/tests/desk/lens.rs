//! The lens is calibrated at the desk, from pictures of a board and from straight edges, and that can be undone.

use crate::hands::Hands;
use filmgauge_footage::write_png;
use filmgauge_quantities::GreyImage;
use std::path::Path;

const EDGES_SIZE: (usize, usize) = (640, 400);
const K1: f64 = -0.2;

fn picture(path: &Path, (width, height): (usize, usize), level: impl Fn(f64, f64) -> f64) {
    let pixel = |i: usize| {
        let (x, y) = ((i % width) as f64, (i / width) as f64);
        let sub = |k: i32| (f64::from(k) + 0.5) / 3.0 - 0.5;
        let sum: f64 = (0..9).map(|k| level(x + sub(k % 3), y + sub(k / 3))).sum();
        // A little unevenness in place of noise.
        let grain = 3.0 * ((12.9898 * x + 78.233 * y).sin() * 43_758.545).fract();
        #[expect(clippy::cast_possible_truncation, clippy::cast_sign_loss, reason = "clamped")]
        let stored = (sum / 9.0 + grain).round().clamp(0.0, 255.0) as u8;
        stored
    };
    let grey = (0..width * height).map(pixel).collect();
    write_png(path, &GreyImage::from_u8(width, height, grey).unwrap().view()).unwrap();
}

/// A bright frame of beams through a lens with barrel distortion about the middle; the ideal place by fixed-point rounds.
fn beams(path: &Path) {
    let (width, height) = (EDGES_SIZE.0 as f64, EDGES_SIZE.1 as f64);
    let level = |x: f64, y: f64| {
        let (dx, dy) = ((x - (width - 1.0) / 2.0) / width, (y - (height - 1.0) / 2.0) / width);
        let (mut ix, mut iy) = (dx, dy);
        for _ in 0..12 {
            let factor = 1.0 + K1 * (ix * ix + iy * iy);
            (ix, iy) = (dx / factor, dy / factor);
        }
        let is_frame = ix.abs() > 0.42 || iy.abs() > 0.25;
        if is_frame { 190.0 } else { 60.0 }
    };
    picture(path, EDGES_SIZE, level);
}

/// A board of 5 x 4 inner corners, 30 mm apart, turned about both axes before a camera without distortion.
fn board(path: &Path, turn_x: f64, turn_y: f64) {
    let ((sx, cx), (sy, cy)) = (turn_x.sin_cos(), turn_y.sin_cos());
    // Columns of the rotation: the board's own axes and its normal, in the camera.
    let (a, b, n) = ([cy, sx * sy, -cx * sy], [0.0, cx, sx], [sy, -sx * cy, cx * cy]);
    let dot = |a: [f64; 3], b: [f64; 3]| a[0] * b[0] + a[1] * b[1] + a[2] * b[2];
    let at = [0.0, 0.0, 0.5];
    let level = |x: f64, y: f64| {
        let ray = [(x - 240.0) / 600.0, (y - 180.0) / 600.0, 1.0];
        let far = dot(n, at) / dot(n, ray);
        let on = [0, 1, 2].map(|k| far * ray[k] - at[k]);
        let (u, v) = (dot(a, on) / 0.03 + 3.0, dot(b, on) / 0.03 + 2.5);
        let is_board = (0.0..6.0).contains(&u) && (0.0..5.0).contains(&v);
        let is_dark = is_board && (u.floor() + v.floor()) as i64 % 2 == 0;
        if is_dark { 50.0 } else { 200.0 }
    };
    picture(path, (480, 360), level);
}

fn lens_of(hands: &Hands) -> Option<String> {
    hands.harness.state().document().unwrap().camera[0].lens.clone()
}

#[test]
fn straight_edges_shown_in_the_film_give_the_cameras_lens() {
    let mut hands = Hands::new();
    let film = hands.folder.path().join("beams.png");
    beams(&film);
    hands.enter("Path of a film or of a dossier", &film.display().to_string());
    hands.line("Camera, beams");
    hands.act("calibrate the lens from straight edges");
    assert!(hands.said().starts_with("Show straight edges in the film first"), "{}", hands.said());
    // Where the frame's inner sides are: (0.42, 0.25) of the width from the middle among ideal pixels, bent by the lens.
    let bent = |x: f64, y: f64| {
        let factor = 1.0 + K1 * (x * x + y * y);
        [319.5 + 640.0 * x * factor, 199.5 + 640.0 * y * factor]
    };
    hands.press("Show both ends of a straight edge");
    for end in [bent(-0.40, -0.25), bent(0.40, -0.25)] {
        let at = hands.at([640.0, 400.0], end.map(|it| it as f32));
        hands.press_at(at);
        hands.press("Accept");
    }
    assert!(hands.shows("edge 1: "), "{}", hands.said());
    let mut typed = |from: [f64; 2], to: [f64; 2]| {
        let text = format!("{:.0} {:.0} {:.0} {:.0}", from[0], from[1], to[0], to[1]);
        hands.enter("Straight edge by its ends: x y x y, px", &text);
    };
    typed(bent(-0.40, 0.25), bent(0.40, 0.25));
    typed(bent(-0.42, -0.22), bent(-0.42, 0.22));
    typed(bent(0.42, -0.22), bent(0.42, 0.22));
    typed([300.0, 180.0], [400.0, 190.0]);
    hands.press("Take edge 5 out");
    hands.press("Calibrate from these edges");
    assert_eq!(lens_of(&hands).as_deref(), Some("lenses/beams.toml"), "{}", hands.said());
    assert!(hands.said().contains("over 4 edges"), "{}", hands.said());
    assert!(hands.shows("What each point of the calibration is off by") && hands.shows("k1 -0.2"));
    let root = hands.folder.path().join("beams");
    let root = if root.is_dir() { root } else { dossier_folder(hands.folder.path()) };
    let text = std::fs::read_to_string(root.join("lenses/beams.toml")).unwrap();
    let k1: f64 = text.lines().find_map(|line| line.strip_prefix("k1 = ")).unwrap().parse().unwrap();
    assert!((k1 - K1).abs() < 0.03, "{text}");
    let shown = std::fs::read_to_string(root.join("lenses/beams-edges.toml")).unwrap();
    assert_eq!(shown.matches("[[edge]]").count(), 4, "{shown}");
    hands.press("Calibrate from these edges");
    assert_eq!(lens_of(&hands).as_deref(), Some("lenses/beams-2.toml"), "a lens file is never overwritten");
    hands.act("undo: lens");
    assert_eq!(lens_of(&hands).as_deref(), Some("lenses/beams.toml"));
    hands.act("undo: lens");
    assert_eq!(lens_of(&hands), None);
}

/// The folder that a dossier was begun in.
fn dossier_folder(within: &Path) -> std::path::PathBuf {
    let folders = std::fs::read_dir(within).unwrap().map(|entry| entry.unwrap().path());
    folders.into_iter().find(|path| path.join("dossier.toml").is_file()).unwrap()
}

#[test]
fn pictures_of_a_board_give_the_cameras_lens() {
    let mut hands = Hands::new();
    hands.begin_with_film();
    let pictures = hands.folder.path().join("board");
    std::fs::create_dir(&pictures).unwrap();
    for (n, (x, y)) in
        [(0.5, 0.0), (-0.5, 0.0), (0.0, 0.5), (0.0, -0.5), (0.35, 0.35)].into_iter().enumerate()
    {
        board(&pictures.join(format!("b{n}.png")), x, y);
    }
    hands.line("Camera, side");
    hands.act("calibrate the lens from pictures");
    assert!(hands.said().starts_with("Give the pictures"), "{}", hands.said());
    hands.enter("Pictures of the board, with ; between", &format!("{}/b*.png", pictures.display()));
    hands.enter("Inner corners of the board, as 9x6", "5x4");
    hands.enter("Side of a square with its unit, as 25mm", "30");
    hands.press("Calibrate from these pictures");
    assert!(hands.said().contains("no length with a unit"), "{}", hands.said());
    assert_eq!(lens_of(&hands), None);
    hands.enter("Side of a square with its unit, as 25mm", "30mm");
    hands.press("Calibrate from these pictures");
    assert_eq!(lens_of(&hands).as_deref(), Some("lenses/side.toml"), "{}", hands.said());
    assert!(hands.said().contains("over 5 views"), "{}", hands.said());
    assert!(hands.shows("What each point of the calibration is off by"), "{:?}", hands.names("fx_px"));
    hands.act("undo: lens");
    assert_eq!(lens_of(&hands), None);
}
