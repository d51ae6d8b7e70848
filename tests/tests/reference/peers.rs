//! Our centres against OpenCV's on the same noisy pictures: ours must have the smallest error.

use crate::python::{ask, rows};
use anyhow::{Result, ensure};
use filmgauge_proving::{
    BodyName, Renderer, Scene, TargetPaint, TruthMark, proof_scene, simulate, truth_marks,
};
use filmgauge_quantities::{GreyImage, PixelPoint, TargetKind};
use filmgauge_targets::{LocateOptions, locate};
use serde_json::json;

const SIDE: usize = 480;
const RADIUS_PX: f64 = 18.0;

/// A grid of 64 centres on whole pixels.
fn whole_centres() -> Vec<PixelPoint> {
    (0..64).map(|i| PixelPoint::new(36.0 + 58.0 * f64::from(i % 8), 36.0 + 58.0 * f64::from(i / 8))).collect()
}

/// The same grid, sub-pixel places spread evenly over the pixel.
fn spread_centres() -> Vec<PixelPoint> {
    let spread = |(i, centre): (u32, PixelPoint)| {
        // Additive recurrence in two dimensions (plastic number): fills the unit square evenly.
        let (u, v) = ((f64::from(i) * 0.754_877_666).fract(), (f64::from(i) * 0.569_840_291).fract());
        centre.moved(u - 0.5, v - 0.5)
    };
    (0..).zip(whole_centres()).map(spread).collect()
}

fn scene_with(centres: &[PixelPoint], seed: u64, noise_grey: f64, turn_deg: f64) -> Scene {
    let mut scene = proof_scene();
    scene.seed = seed;
    for camera in &mut scene.cameras {
        camera.picture.bits = 8;
        camera.picture.noise_grey = noise_grey;
    }
    let place = |centre: &PixelPoint| [(centre.x - 239.5) / 100.0, (239.5 - centre.y) / 100.0];
    scene.targets = centres
        .iter()
        .enumerate()
        .map(|(i, centre)| TargetPaint {
            camera: "proof".to_owned(),
            id: format!("q{i}"),
            kind: TargetKind::Quadrant,
            body: BodyName::Ground,
            at_m: place(centre),
            plane_offset_m: 0.0,
            radius_m: RADIUS_PX / 100.0,
            turn_deg,
            crush_share: 0.0,
        })
        .collect();
    scene
}

/// First frame and its true marks.
fn rendered(scene: &Scene) -> Result<(GreyImage, Vec<TruthMark>)> {
    scene.check()?;
    let truth = simulate(scene)?;
    let picture = Renderer::new(scene, &truth, 0)?.frame(0);
    let marks = truth_marks(scene, &truth, 0).into_iter().filter(|mark| mark.frame == 0).collect();
    Ok((picture, marks))
}

fn levels(picture: &GreyImage) -> Vec<f32> {
    let view = picture.view();
    (0..SIDE * SIDE).filter_map(|i| view.get(i % SIDE, i / SIDE)).collect()
}

/// Root mean square error per axis, px.
fn rms(errors: impl Iterator<Item = f64>) -> f64 {
    let (sum, n) = errors.fold((0.0, 0.0), |(sum, n), error| (sum + error * error, n + 1.0));
    f64::sqrt(sum / (2.0 * n))
}

/// Peers of OpenCV: `cornerSubPix`, `matchTemplate` with a parabola through the peak, pyramidal Lucas-Kanade. The two that
/// need a template get what a film offers, another noisy picture of each target, and are told its centre exactly.
/// No published figure: all run here, together.
#[test]
fn our_centres_have_the_smallest_error() -> Result<()> {
    for (noise_grey, turn_deg) in [(2.0, 17.0), (5.0, 31.0)] {
        let (picture, marks) = rendered(&scene_with(&spread_centres(), 1, noise_grey, turn_deg))?;
        let (template, drawn) = rendered(&scene_with(&whole_centres(), 2, noise_grey, turn_deg))?;
        for (mark, centre) in drawn.iter().zip(whole_centres()) {
            ensure!(PixelPoint::new(mark.x_px, mark.y_px).distance(centre) < 1e-6, "{mark:?}");
        }
        let starts = whole_centres();
        let question = json!({
            "side": SIDE, "grey": levels(&picture), "template": levels(&template),
            "starts": starts.iter().map(|start| [start.x, start.y]).collect::<Vec<_>>(),
        });
        let answer = ask("peers.py", &question)?;
        let mut ours = Vec::new();
        for start in &starts {
            ours.push(locate(&picture.view(), *start, RADIUS_PX, &LocateOptions::default())?.centre);
        }
        let error =
            |found: &PixelPoint, mark: &TruthMark| found.distance(PixelPoint::new(mark.x_px, mark.y_px));
        let ours_px = rms(ours.iter().zip(&marks).map(|(found, mark)| error(found, mark)));
        println!(
            "{} quadrants, radius 18 px, contrast 163, noise {noise_grey} grey: RMSE per axis",
            marks.len()
        );
        println!("  filmgauge locate            {ours_px:.4} px");
        for peer in ["cornerSubPix", "matchTemplate + parabola", "calcOpticalFlowPyrLK"] {
            let found = rows(&answer, peer)?;
            ensure!(found.len() == marks.len(), "{peer} gave {} centres", found.len());
            let centres = found.iter().map(|row| PixelPoint::new(row[0], row[1]));
            let peer_px = rms(centres.zip(&marks).map(|(centre, mark)| error(&centre, mark)));
            println!("  {peer:<27} {peer_px:.4} px");
            assert!(
                ours_px < peer_px,
                "{peer} is better at noise {noise_grey}: {peer_px} against {ours_px} px"
            );
        }
    }
    Ok(())
}
