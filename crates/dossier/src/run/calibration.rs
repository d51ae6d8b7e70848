//! What one camera's plane of motion rests on, brought into the frame that a steadied film is compared with.

use super::film::Film;
use super::steadying::Steadied;
use crate::plan::CameraPlan;
use filmgauge_geometry::{Calibration, Reference};
use filmgauge_quantities::{BodyId, Length, PixelPoint, Uncertain};

/// Reference, lens and, for each body, the doubt about its plane offset. The offsets themselves stay with the targets.
pub(super) fn calibration(camera: &CameraPlan, film: &Film, steadied: Option<&Steadied>) -> Calibration {
    let mut offsets: Vec<(BodyId, Uncertain<Length>)> = Vec::new();
    for target in &camera.targets {
        let u_m = target.offset.u.as_m();
        match offsets.iter_mut().find(|(body, _)| *body == target.body) {
            Some((_, offset)) => offset.u = Length::from_m(offset.u.as_m().max(u_m)),
            None => {
                offsets.push((target.body.clone(), Uncertain::new(Length::from_m(0.0), Length::from_m(u_m))));
            }
        }
    }
    #[expect(clippy::cast_precision_loss, reason = "picture sizes are far below 2^53")]
    let image_centre =
        PixelPoint::new((film.info.width as f64 - 1.0) / 2.0, (film.info.height as f64 - 1.0) / 2.0);
    let mut calibration = Calibration {
        view: camera.view,
        reference: camera.scale.reference.clone(),
        lengths: camera.scale.lengths.clone(),
        lens: camera.lens,
        image_centre,
        offsets,
        inclinations: camera.scale.inclinations.clone(),
    };
    if let Some(steadied) = steadied {
        carry(&mut calibration, camera.scale.frame as usize, steadied);
    }
    calibration
}

/// Everything that was read in one frame, as it lies in the frame that the film is steadied to. A frame without a step keeps
/// its places: it is the reference frame, or no better is known.
fn carry(calibration: &mut Calibration, frame: usize, steadied: &Steadied) {
    let carried = |at: &mut PixelPoint| {
        if let Some((still, _)) = steadied.steady_from_image(frame, *at) {
            *at = still;
        }
    };
    match &mut calibration.reference {
        Reference::Board(board) => [&mut board.from, &mut board.to].into_iter().for_each(carried),
        Reference::Points(points) => points.controls.iter_mut().map(|it| &mut it.seen).for_each(carried),
        Reference::Pose(points) => points.controls.iter_mut().map(|it| &mut it.seen).for_each(carried),
    }
    for known in &mut calibration.lengths {
        [&mut known.from, &mut known.to].into_iter().for_each(carried);
    }
}
