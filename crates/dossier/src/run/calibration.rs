//! What one camera's plane of motion rests on, brought into the frame that a steadied film is compared with.

use super::film::Film;
use crate::plan::CameraPlan;
use filmgauge_geometry::{Calibration, Reference, SteadyFilm};
use filmgauge_quantities::{BodyId, Length, PixelPoint, Uncertain};

/// Reference, lens and, for each body, the doubt about its plane offset. The offsets themselves stay with the targets.
pub(super) fn calibration(camera: &CameraPlan, film: &Film, steadied: Option<&SteadyFilm>) -> Calibration {
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
fn carry(calibration: &mut Calibration, frame: usize, steadied: &SteadyFilm) {
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

#[cfg(test)]
mod tests {
    use super::*;
    use filmgauge_geometry::{Board, FixedMark, SteadyModel, SteadyOptions, steady_film};
    use filmgauge_quantities::{PixelCov, ViewPlane};

    #[test]
    fn a_board_read_in_another_frame_lies_where_the_reference_frame_has_it() {
        let places = [[50.0, 60.0], [900.0, 80.0], [70.0, 400.0], [880.0, 420.0]];
        let marks = |dx: f64, dy: f64| -> Vec<Option<FixedMark>> {
            let at = |[x, y]: [f64; 2]| {
                Some(FixedMark { point: PixelPoint::new(x + dx, y + dy), cov: PixelCov::round(0.02) })
            };
            places.map(at).into()
        };
        let frames = [marks(0.0, 0.0), marks(5.0, -2.0)];
        let steadied = steady_film(&frames, &[SteadyModel::Turn], None, &SteadyOptions::default()).unwrap();
        let length = Uncertain::new(Length::from_m(2.0), Length::from_m(0.001));
        let board = |dx: f64, dy: f64| Board {
            from: PixelPoint::new(200.0 + dx, 300.0 + dy),
            to: PixelPoint::new(600.0 + dx, 300.0 + dy),
            length,
            reading_u_px: 0.1,
            distance: None,
        };
        let mut calibration = Calibration {
            view: ViewPlane::Side,
            reference: Reference::Board(board(5.0, -2.0)),
            lengths: Vec::new(),
            lens: None,
            image_centre: PixelPoint::new(480.0, 240.0),
            offsets: Vec::new(),
            inclinations: Vec::new(),
        };
        carry(&mut calibration, 1, &steadied);
        let Reference::Board(carried) = &calibration.reference else { panic!("still a board") };
        let home = board(0.0, 0.0);
        assert!(
            carried.from.distance(home.from) < 1e-9 && carried.to.distance(home.to) < 1e-9,
            "{carried:?}"
        );
    }
}
