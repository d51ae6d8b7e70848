//! The demo scene: believable figures, every target where it should be, same bytes from the same seed.

#![expect(clippy::unwrap_used, reason = "a test that cannot set itself up has failed")]

use filmgauge_proving::{
    Renderer, Scene, Truth, channels, dossier_toml, lens_toml, simulate, truth_json, truth_marks,
    truth_summary,
};
use filmgauge_quantities::GreyImage;
use std::path::Path;

fn demo() -> (Scene, Truth) {
    let path = Path::new(env!("CARGO_MANIFEST_DIR")).join("../../sample-frames/hatchback.toml");
    let scene = Scene::read(&path).unwrap();
    let truth = simulate(&scene).unwrap();
    (scene, truth)
}

#[test]
fn figures_are_those_of_a_believable_impact() {
    let (scene, truth) = demo();
    let summary = truth_summary(&scene, &truth);
    println!("{summary:#?}");
    assert!((summary.contact_speed_m_s - 52.0 / 3.6).abs() < 1e-12);
    assert!((0.25..0.31).contains(&summary.crush_max_m));
    assert!((0.80..0.95).contains(&(summary.crush_final_m / summary.crush_max_m)));
    assert!((0.65..1.0).contains(&summary.cushion_stroke_max_m));
    assert!((4.0..6.0).contains(&summary.pitch_up_max_deg));
    assert!((0.06..0.12).contains(&summary.climb_max_m));
    assert!((0.15..0.6).contains(&summary.push_distance_m));
    assert!(summary.rebound_speed_m_s > 0.1 && summary.separation_s.is_some());
    assert!(summary.occupant_impact_velocity_m_s.is_some() && summary.ridedown_m_s2.is_some());
    assert_eq!(summary.planted_faults.iter().filter(|fault| !fault.faults.is_empty()).count(), 1);
    assert!(truth_json(&scene, &truth)["crush_max_m"].is_number());
}

#[test]
fn targets_stay_in_view_and_one_is_hidden_for_a_while() {
    let (scene, truth) = demo();
    for index in 0..scene.cameras.len() {
        let marks = truth_marks(&scene, &truth, index);
        for target in scene.targets.iter().filter(|target| target.camera == scene.cameras[index].id) {
            let of_target: Vec<_> = marks.iter().filter(|mark| mark.target == target.id).collect();
            let hidden = of_target.iter().filter(|mark| !mark.visible).count();
            let expected = if target.id == "C4" { 20..=40 } else { 0..=0 };
            assert!(expected.contains(&hidden), "{}: {hidden} frames hidden", target.id);
            assert!(of_target.iter().all(|mark| (10.0..11.5).contains(&mark.radius_px)), "{}", target.id);
        }
    }
}

#[test]
fn same_seed_same_bytes_in_any_order_of_frames() {
    let (scene, truth) = demo();
    let renderer = Renderer::new(&scene, &truth, 0).unwrap();
    let second = Renderer::new(&scene, &truth, 0).unwrap();
    let forwards: Vec<GreyImage> = [70, 71, 130].map(|n| renderer.frame(n)).into();
    let parallel: Vec<GreyImage> = std::thread::scope(|scope| {
        let hands = [130, 71, 70].map(|n| {
            scope.spawn({
                let second = &second;
                move || second.frame(n)
            })
        });
        hands.into_iter().rev().map(|hand| hand.join().unwrap()).collect()
    });
    assert!(forwards == parallel);
    let other = Scene { seed: scene.seed + 1, ..scene.clone() };
    assert!(Renderer::new(&other, &truth, 0).unwrap().frame(70) != forwards[0]);
}

#[test]
fn the_flash_lights_up_the_first_frame_after_time_zero() {
    let (scene, truth) = demo();
    let renderer = Renderer::new(&scene, &truth, 0).unwrap();
    let first_lit = (0..renderer.n_frames()).find(|&n| renderer.time_s(n) > 0.0001).unwrap();
    let mean = |n: u32| renderer.noise_free(n).iter().sum::<f32>() / (1280.0 * 448.0);
    assert!(mean(first_lit) > mean(first_lit - 2) * 1.1);
    assert!(mean(first_lit + 20) < mean(first_lit - 2) * 1.03);
}

#[test]
fn channels_sit_at_gravity_before_contact_and_carry_the_planted_gain() {
    let (scene, truth) = demo();
    let all = channels(&scene, &truth);
    assert_eq!(all.len(), 6);
    let mean = |values: &[f64]| values.iter().sum::<f64>() / f64::from(u32::try_from(values.len()).unwrap());
    let quiet = |code: &str| {
        let channel = all.iter().find(|channel| channel.code == code).unwrap();
        mean(&channel.values[..900])
    };
    assert!((quiet("10CVEHCG0000ACXP") - 0.12).abs() < 0.4);
    assert!((quiet("10CVEHCG0000ACZP") - 9.806_65 + 0.08).abs() < 0.4);
    assert!(all.iter().all(|channel| channel.values.iter().all(|value| value.is_finite())));
    // Over the impact the floor channel reads about 1.08 of the c.g. channel; rotation adds a little.
    let loss = |code: &str| {
        let channel = all.iter().find(|channel| channel.code == code).unwrap();
        channel.values[1000..2600].iter().sum::<f64>() * channel.step_s
    };
    let ratio = loss("10FLORRE0000ACXP") / loss("10CVEHCG0000ACXP");
    assert!((ratio - 1.08).abs() < 0.03, "{ratio}");
}

#[test]
fn the_dossier_states_readings_within_their_uncertainty() {
    let (scene, truth) = demo();
    let footage = ["footage/side.mkv".to_owned(), "footage/overhead.mkv".to_owned()];
    let text = dossier_toml(&scene, &truth, &footage);
    let dossier: toml::Table = text.parse().unwrap();
    let targets = dossier["target"].as_array().unwrap();
    assert_eq!(targets.len(), scene.targets.len());
    let marks = truth_marks(&scene, &truth, 0);
    for entry in targets.iter().filter(|entry| entry["camera"].as_str() == Some("side")) {
        let start = entry["start"]["px"].as_array().unwrap();
        let frame = entry["start"]["frame"].as_integer().unwrap();
        let mark = marks
            .iter()
            .find(|mark| Some(mark.target.as_str()) == entry["id"].as_str() && i64::from(mark.frame) == frame)
            .unwrap();
        assert!((start[0].as_float().unwrap() - mark.x_px).abs() < 0.76);
        assert!((start[1].as_float().unwrap() - mark.y_px).abs() < 0.76);
    }
    assert_eq!(dossier["camera"].as_array().unwrap().len(), 2);
    assert_eq!(dossier["crush"].as_array().unwrap().len(), 2);
    let lens = filmgauge_geometry::LensFile::parse(&lens_toml(&scene, 0), "side.toml").unwrap();
    assert!((lens.lens.fx_px - 1757.0).abs() < 6.0 && lens.u[0] > 0.0);
    assert!(lens_toml(&scene, 9).is_empty());
}
