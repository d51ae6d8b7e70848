//! Films and clocks against closed forms: lamp, changing speed, rolling shutter, fields, lost frames, weave, flaws.

#![expect(clippy::unwrap_used, reason = "a test that cannot set itself up has failed")]

use filmgauge_proving::{
    BodyName, FieldOrder, FilmRun, FrameTruth, Renderer, ScanFlaws, Scene, WeaveSetup, clock_film,
    clock_scene, film_truth, film_truth_json, simulate, truth_marks,
};
use filmgauge_quantities::PixelPoint;

/// A clock scene whose pictures are exact: 16 bits, no noise, no texture.
fn exact_scene(seed: u64) -> Scene {
    let mut scene = clock_scene(seed, 1);
    let picture = &mut scene.cameras[0].picture;
    (picture.bits, picture.noise_grey, picture.texture_grey) = (16, 0.0, 0.0);
    scene
}

/// One camera's noise-free pictures in grey levels of 8 bits.
fn pictures(scene: &Scene) -> Vec<Vec<f64>> {
    scene.check().unwrap();
    let truth = simulate(scene).unwrap();
    let renderer = Renderer::new(scene, &truth, 0).unwrap();
    let scale = 255.0 / 65_535.0;
    let grey = |frame| renderer.noise_free(frame).iter().map(|&grey| f64::from(grey) * scale).collect();
    (0..renderer.n_frames()).map(grey).collect()
}

fn number(n: usize) -> f64 {
    f64::from(u32::try_from(n).unwrap())
}

/// Overlap of an exposure with a lamp of 100 Hz that is lit for 5 ms from every 10 ms on, over the exposure.
fn closed_form_share(mid_s: f64, exposure_s: f64) -> f64 {
    let (from, to) = (mid_s - 0.5 * exposure_s, mid_s + 0.5 * exposure_s);
    let overlap = |on: f64| (to.min(on + 0.005) - from.max(on)).max(0.0);
    (-20..20).map(|k| overlap(f64::from(k) * 0.01)).sum::<f64>() / exposure_s
}

#[test]
fn a_lamp_in_view_has_the_brightness_of_its_share() {
    let scene = exact_scene(3);
    let (pictures, film) = (pictures(&scene), film_truth(&scene, 0).unwrap());
    let mut n_partly = 0;
    for (picture, frame) in pictures.iter().zip(&film.frames) {
        let share = closed_form_share(frame.mid_s, film.exposure_s);
        n_partly += usize::from(share > 0.0 && share < 1.0);
        let middle = picture[13 * 160 + 127];
        assert!((middle - (35.0 + 180.0 * share)).abs() < 1e-3, "frame {}: {middle} {share}", frame.frame);
    }
    assert!(n_partly > 0 && film.lamp.len() >= 9, "{n_partly} {}", film.lamp.len());
    assert!(film.lamp.iter().all(|pulse| (pulse.off_s - pulse.on_s - 0.005).abs() < 1e-12));
}

#[test]
fn a_displaced_lamp_shows_the_state_of_another_frame() {
    let mut scene = exact_scene(3);
    scene.cameras[0].lamp.as_mut().unwrap().displaced_frames = 5.0;
    let (pictures, film) = (pictures(&scene), film_truth(&scene, 0).unwrap());
    for (picture, frame) in pictures.iter().zip(&film.frames) {
        let share = closed_form_share(frame.mid_s + 5.0 / frame.frames_per_s, film.exposure_s);
        assert!((picture[13 * 160 + 127] - (35.0 + 180.0 * share)).abs() < 1e-3);
    }
}

#[test]
fn beside_a_running_film_each_row_has_its_own_instant() {
    let mut scene = exact_scene(3);
    let lamp = scene.cameras[0].lamp.as_mut().unwrap();
    (lamp.at_px, lamp.size_px, lamp.running) = ([150.0, -0.5], [9.0, 96.0], true);
    (lamp.frequency_hz, lamp.duty) = (1000.0, 0.1);
    scene.cameras[0].perforations.clear();
    let (pictures, film) = (pictures(&scene), film_truth(&scene, 0).unwrap());
    for (picture, frame) in pictures.iter().zip(&film.frames).step_by(7) {
        // The mark of 0.1 ms begins where the film's time, from mid-exposure at the top edge, meets a pulse.
        let begins = (-frame.mid_s).rem_euclid(0.001) * 1000.0 * 96.0 - 0.5;
        // The rectangle's own edges, where it fades into the picture, are left out.
        for row in 3..93 {
            let lit = (picture[row * 160 + 154] - 35.0) / 180.0;
            let overlap = |begins: f64| {
                ((number(row) + 0.5).min(begins + 9.6) - (number(row) - 0.5).max(begins)).max(0.0)
            };
            let expected: f64 = [begins - 96.0, begins, begins + 96.0].map(overlap).iter().sum();
            assert!((lit - expected).abs() < 1e-4, "frame {} row {row}: {lit} {expected}", frame.frame);
        }
    }
}

#[test]
fn an_accelerating_film_has_the_times_of_its_formula() {
    let mut scene = exact_scene(1);
    (scene.before_s, scene.after_s) = (0.05, 0.12);
    scene.cameras[0].film = Some(FilmRun { frames_per_s: 980.0, accel_per_s2: 200.0 });
    scene.check().unwrap();
    let film = film_truth(&scene, 0).unwrap();
    // n = f0 t + k t²/2; computed from the stated formula.
    for (frame, t) in [(50, 0.050_757_5), (100, 0.100_999_9), (150, 0.150_742_5)] {
        let since_first = film.frames[frame].mid_s - film.frames[0].mid_s;
        assert!((since_first - t).abs() < 1e-7, "{frame}: {since_first}");
    }
    assert!((film.frames[0].frames_per_s - 980.0).abs() < 0.2);
    // Contact lies within one frame before the first frame after `before_s`.
    let n_before = film.frames.iter().filter(|frame| frame.mid_s < film.contact_s).count();
    assert_eq!(n_before, 49);
}

#[test]
fn a_rolling_shutter_skews_by_speed_times_row_time() {
    // Skew = v r t_row; 1080 rows in 8.33 ms, 300 rows apart, 27.778 m/s: 2.3139 ms and 64.27 mm (computed from the
    // stated formula). Here: 96 rows of the same row time, 10 m/s before contact, two targets 40 rows apart.
    let row_time_s: f64 = 8.33e-3 / 1080.0;
    assert!((300.0 * row_time_s - 2.3139e-3).abs() < 1e-7);
    assert!((300.0 * row_time_s * 27.778 - 0.064_27).abs() < 1e-5);
    let mut scene = exact_scene(1);
    scene.cameras[0].row_time_s = row_time_s;
    let mut second = scene.targets[0].clone();
    (second.id, second.at_m[1]) = ("C2".to_owned(), scene.targets[0].at_m[1] - 0.4);
    scene.targets.push(second);
    let truth = simulate(&scene).unwrap();
    let marks = truth_marks(&scene, &truth, 0);
    let of = |id: &str| marks.iter().find(|mark| mark.target == id && mark.frame == 5).unwrap();
    let (upper, lower) = (of("C1"), of("C2"));
    let rows = lower.y_px - upper.y_px;
    assert!((rows - 40.0).abs() < 1e-6, "{rows}");
    // 10 mm to the pixel.
    let skew_px = 10.0 * rows * row_time_s / 0.01;
    assert!((lower.x_px - upper.x_px - skew_px).abs() < 1e-6, "{} {skew_px}", lower.x_px - upper.x_px);
    assert!((lower.time_s - upper.time_s - rows * row_time_s).abs() < 1e-12);
    // The picture agrees with the marks.
    scene.targets.retain(|target| target.body == BodyName::Car);
    scene.cameras[0].perforations.clear();
    scene.cameras[0].picture.ground_grey = 0.0;
    scene.cameras[0].picture.sky_grey = 0.0;
    let picture = &pictures(&scene)[5];
    for mark in [upper, lower] {
        let (dx, dy) = centroid(picture, mark.x_px, mark.y_px, mark.radius_px + 4.0, 0.0);
        assert!(dx.abs() < 2e-3 && dy.abs() < 2e-3, "{dx} {dy}");
    }
}

/// Centroid of grey above a background within a circle, from its middle.
fn centroid(picture: &[f64], x: f64, y: f64, reach: f64, background: f64) -> (f64, f64) {
    let (mut sum, mut sum_x, mut sum_y) = (0.0, 0.0, 0.0);
    for (index, level) in picture.iter().enumerate() {
        let (dx, dy) = (number(index % 160) - x, number(index / 160) - y);
        if dx.hypot(dy) < reach {
            let weight = level - background;
            (sum, sum_x, sum_y) = (sum + weight, sum_x + weight * dx, sum_y + weight * dy);
        }
    }
    (sum_x / sum, sum_y / sum)
}

#[test]
fn fields_are_half_a_frame_apart_and_woven_row_by_row() {
    let mut scene = exact_scene(5);
    let whole = pictures(&scene);
    scene.cameras[0].fields = Some(FieldOrder::Bottom);
    let woven = pictures(&scene);
    let film = film_truth(&scene, 0).unwrap();
    let frame = &film.frames[10];
    assert!((frame.second_field_s.unwrap() - frame.mid_s - 0.0005).abs() < 1e-9);
    // Bottom first: odd rows are the frame as it would be without fields; even rows show the target further on.
    let same = |row: usize| woven[10][row * 160..][..160] == whole[10][row * 160..][..160];
    assert!((0..96).filter(|row| row % 2 == 1).all(same));
    assert!(!(30..46).filter(|row| row % 2 == 0).all(same));
    let truth = simulate(&scene).unwrap();
    let marks = truth_marks(&scene, &truth, 0);
    let of = |field: u32| marks.iter().find(|mark| mark.target == "C1" && mark.frame == field).unwrap();
    // 10 m/s at 10 mm to the pixel: half a pixel in half a millisecond.
    assert!((of(21).x_px - of(20).x_px - 0.5).abs() < 1e-3, "{}", of(21).x_px - of(20).x_px);
    assert!((of(21).time_s - frame.second_field_s.unwrap()).abs() < 1e-12);
}

#[test]
fn dropped_frames_are_gone_and_doubled_ones_are_the_same() {
    let mut scene = clock_scene(2, 1);
    let whole = clock_film(&scene, 0).unwrap();
    scene.cameras[0].dropped = vec![10, 11];
    scene.cameras[0].doubled = vec![40];
    let film = clock_film(&scene, 0).unwrap();
    assert_eq!(film.frames.len(), whole.frames.len() - 1);
    assert_eq!(film.frames[10], whole.frames[12]);
    assert!(film.frames[38] == film.frames[39] && film.frames[38] == whole.frames[40]);
    assert!((film.truth.frames[10].mid_s - whole.truth.frames[12].mid_s).abs() < 1e-15);
    assert_eq!((film.truth.dropped, film.truth.doubled), (vec![10, 11], vec![40]));
    scene.cameras[0].doubled = vec![10];
    assert!(clock_film(&scene, 0).unwrap_err().to_string().contains("in both lists"));
    scene.cameras[0].doubled = vec![5000];
    assert!(clock_film(&scene, 0).unwrap_err().to_string().contains("names exposure 5000"));
}

/// Shift of the middle and turn of a frame from the centroids of its two film holes, which know nothing of edges.
fn read_weave(picture: &[f64], truth: &FrameTruth, middle: PixelPoint) -> (f64, f64, f64) {
    let places = [5.2, 141.9].map(|left: f64| PixelPoint::new(left + 6.2, 39.3 + 8.3));
    let read = places.map(|place| {
        // The circle is laid about the nearest pixel of where the hole must be, and about the hole itself.
        let at = truth.stored_from_film(place, middle);
        let (dx, dy) = centroid(picture, at.x, at.y, 15.0, 100.0);
        at.moved(dx, dy)
    });
    let across = |ends: [PixelPoint; 2]| (ends[1].x - ends[0].x, ends[1].y - ends[0].y);
    let ((ax, ay), (bx, by)) = (across(places), across(read));
    let turn = (ax * by - ay * bx).atan2(ax * bx + ay * by);
    let mid = |ends: [PixelPoint; 2]| (0.5 * (ends[0].x + ends[1].x), 0.5 * (ends[0].y + ends[1].y));
    let ((px, py), (qx, qy)) = (mid(places), mid(read));
    let (sin, cos) = turn.sin_cos();
    let (x, y) = (px - middle.x, py - middle.y);
    (qx - middle.x - (x * cos - y * sin), qy - middle.y - (x * sin + y * cos), turn)
}

#[test]
fn weave_is_read_back_from_the_film_holes() {
    let mut scene = exact_scene(8);
    scene.cameras[0].weave = Some(WeaveSetup { shift_sd_px: 0.8, turn_sd_deg: 0.1 });
    scene.cameras[0].lamp = None;
    scene.flash.gain = 0.0;
    scene.targets.retain(|target| target.id == "C1");
    let (pictures, film) = (pictures(&scene), film_truth(&scene, 0).unwrap());
    let mut n_read = 0;
    // The car's target is away from both holes in the middle of the film.
    for (picture, frame) in pictures.iter().zip(&film.frames).skip(30) {
        let (dx, dy, turn) = read_weave(picture, frame, film.middle);
        let off = [dx - frame.weave_dx_px, dy - frame.weave_dy_px, 80.0 * (turn - frame.weave_turn_rad)];
        assert!(off.iter().all(|off| off.abs() < 0.01), "frame {}: {off:?}", frame.frame);
        n_read += 1;
    }
    assert!(n_read > 50);
    let shifts: Vec<f64> = film.frames.iter().map(|frame| frame.weave_dx_px).collect();
    let sd = (shifts.iter().map(|dx| dx * dx).sum::<f64>() / number(shifts.len())).sqrt();
    assert!((0.6..1.0).contains(&sd), "{sd}");
}

#[test]
fn flaws_lie_where_the_truth_says() {
    let mut scene = exact_scene(4);
    let clean = pictures(&scene);
    scene.cameras[0].scan =
        Some(ScanFlaws { specks: 3, scratches: 1, flaw_grey: 250.0, ..ScanFlaws::default() });
    let (flawed, film) = (pictures(&scene), film_truth(&scene, 0).unwrap());
    for ((flawed, clean), frame) in flawed.iter().zip(&clean).zip(&film.frames).step_by(9) {
        assert_eq!(frame.flaws.len(), 4);
        for (index, (a, b)) in flawed.iter().zip(clean).enumerate() {
            let at = PixelPoint::new(number(index % 160), number(index / 160));
            let touched = frame.flaws.iter().any(|flaw| flaw.cover(at) > 0.0);
            assert!(touched || (a - b).abs() < 1e-9, "{at:?}");
        }
    }
}

#[test]
fn a_scene_file_has_the_same_keys() {
    let demo = include_str!("../../../sample-frames/hatchback.toml");
    let keys = "film = { frames_per_s = 980.0, accel_per_s2 = 200.0 }\nclock = { phase_frames = 0.4 }\n\
        lamp = { at_px = [20.0, 20.0], size_px = [12.0, 12.0], frequency_hz = 100.0, duty = 0.2 }\n\
        weave = { shift_sd_px = 0.5, turn_sd_deg = 0.02 }\n\
        perforations = [{ at_px = [4.0, 200.0], size_px = [30.0, 40.0] }]\n\
        scan = { specks = 5, scratches = 1, level_sd = 0.02 }\n\
        dropped = [7]\ndoubled = [9]\nfields = \"top\"\nrow_time_s = 1e-6\n[[camera]]\nid = \"overhead\"";
    let scene = Scene::from_toml(&demo.replacen("[[camera]]\nid = \"overhead\"", keys, 1)).unwrap();
    assert_eq!(scene.cameras[0].fields, Some(FieldOrder::Top));
    assert_eq!(scene.cameras[1].film, None);
    assert!(scene.cameras[0].has_film_keys() && !scene.cameras[1].has_film_keys());
    let films = film_truth_json(&scene).unwrap();
    assert_eq!(films[0]["dropped"][0], 7);
    assert_eq!(film_truth_json(&Scene::from_toml(demo).unwrap()), None);
    let wrong = keys.replace("duty = 0.2", "duty = 1.2");
    let fault = Scene::from_toml(&demo.replacen("[[camera]]\nid = \"overhead\"", &wrong, 1)).unwrap_err();
    assert!(fault.to_string().contains("lamp.duty"), "{fault}");
}
