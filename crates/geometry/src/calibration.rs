//! Everything systematic between one camera's pixels and metres, and each doubt about it, one at a time.
//!
//! A budget re-evaluates the whole chain with one input larger by its standard uncertainty and takes the difference
//! as that input's contribution (JCGM 100, 5.1.3, note 2: partial derivatives found numerically).

use crate::{Board, BoardDoubt, GeometryError, LENS_TERMS, LensFile, PlaneMap};
use filmgauge_quantities::{BodyId, Length, PixelPoint, Uncertain, ViewPlane};
use std::fmt;

/// What one camera's plane of motion rests on.
#[derive(Debug, Clone, PartialEq)]
pub struct Calibration {
    /// Side or overhead.
    pub view: ViewPlane,
    /// The reference board.
    pub board: Board,
    /// The lens, where calibrated.
    pub lens: Option<LensFile>,
    /// Stands for the principal point where there is no lens, stored px.
    pub image_centre: PixelPoint,
    /// Plane offset of each body's targets, as surveyed, in the dossier's order.
    pub offsets: Vec<(BodyId, Uncertain<Length>)>,
}

/// One systematic source of doubt.
#[derive(Debug, Clone, PartialEq, Eq, PartialOrd, Ord, Hash)]
pub enum DoubtSource {
    /// An input of the reference board.
    Board(BoardDoubt),
    /// A principal axis of what is not known of the lens, counted as in [`LensFile::perturbed`].
    Lens(usize),
    /// The plane offset of a body's targets.
    PlaneOffset(BodyId),
}

impl fmt::Display for DoubtSource {
    /// The line of the error budget that this source belongs to; several sources may share a line.
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        match self {
            Self::Board(BoardDoubt::Length) => f.write_str("board length"),
            Self::Board(BoardDoubt::Distance) => f.write_str("board distance"),
            Self::Board(_) => f.write_str("board reading"),
            Self::Lens(_) => f.write_str("lens"),
            Self::PlaneOffset(body) => write!(f, "plane offset of {body}"),
        }
    }
}

impl Calibration {
    /// The map from stored pixels to the plane of motion.
    ///
    /// # Errors
    /// As [`PlaneMap::new`].
    pub fn plane_map(&self) -> Result<PlaneMap, GeometryError> {
        let lens = self.lens.as_ref().map(|file| &file.lens);
        PlaneMap::new(self.view, &self.board, lens, self.image_centre)
    }

    /// Plane offset of a body's targets; 0 where none is stated.
    #[must_use]
    pub fn offset(&self, body: &BodyId) -> Length {
        let stated = self.offsets.iter().find(|(id, _)| id == body);
        stated.map_or(Length::from_m(0.0), |(_, offset)| offset.value)
    }

    /// Sources whose stated uncertainty is not zero, in a fixed order.
    #[must_use]
    pub fn doubts(&self) -> Vec<DoubtSource> {
        let board = BoardDoubt::ALL.into_iter().map(DoubtSource::Board);
        let lens = (0..LENS_TERMS.len()).map(DoubtSource::Lens);
        let offsets = self.offsets.iter().map(|(body, _)| DoubtSource::PlaneOffset(body.clone()));
        board.chain(lens).chain(offsets).filter(|source| self.perturbed(source) != *self).collect()
    }

    /// The calibration with one input larger by its standard uncertainty.
    #[must_use]
    pub fn perturbed(&self, source: &DoubtSource) -> Self {
        let mut changed = self.clone();
        match source {
            DoubtSource::Board(doubt) => changed.board = self.board.perturbed(*doubt),
            DoubtSource::Lens(axis) => {
                if let Some(file) = &mut changed.lens {
                    file.lens = file.perturbed(*axis);
                }
            }
            DoubtSource::PlaneOffset(body) => {
                for (_, offset) in changed.offsets.iter_mut().filter(|(id, _)| id == body) {
                    offset.value = offset.value + offset.u;
                }
            }
        }
        changed
    }
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::Lens;
    use filmgauge_quantities::PixelCov;

    fn calibration() -> Calibration {
        let lens = Lens::pinhole(6000.0, 640.0, 360.0);
        let mut u = [0.0; 9];
        u[4] = 0.01;
        Calibration {
            view: ViewPlane::Side,
            board: Board {
                from: PixelPoint::new(240.0, 650.0),
                to: PixelPoint::new(1040.0, 650.0),
                length: Uncertain::new(Length::from_m(2.0), Length::from_mm(1.0)),
                reading_u_px: 0.3,
                distance: Some(Uncertain::new(Length::from_m(15.0), Length::from_m(0.05))),
            },
            lens: Some(LensFile::of(lens, u, None)),
            image_centre: PixelPoint::default(),
            offsets: vec![(
                BodyId::new("car").unwrap(),
                Uncertain::new(Length::from_m(0.9), Length::from_m(0.02)),
            )],
        }
    }

    #[test]
    fn only_real_doubts_are_listed() {
        let named: Vec<String> = calibration().doubts().iter().map(ToString::to_string).collect();
        assert_eq!(
            named,
            [
                "board length",
                "board reading",
                "board reading",
                "board reading",
                "board reading",
                "board distance",
                "lens",
                "plane offset of car"
            ]
        );
    }

    #[test]
    fn perturbing_gives_the_closed_forms() {
        // Computed from the stated formulas for scale and for the correction 1 - d/D, on 3 m of travel.
        let base = calibration();
        let travel = |calibration: &Calibration| {
            let map = calibration.plane_map().unwrap();
            let offset = calibration.offset(&BodyId::new("car").unwrap());
            let at = |x| {
                map.plane_from_image(PixelPoint::new(x, 400.0), &PixelCov::default(), offset).unwrap().0.x_m
            };
            at(1240.0) - at(40.0)
        };
        let share = |wanted: &str| -> f64 {
            let of_line = base.doubts().into_iter().filter(|source| source.to_string() == wanted);
            of_line.map(|source| (travel(&base.perturbed(&source)) / travel(&base) - 1.0).powi(2)).sum()
        };
        let scale = (share("board length") + share("board reading")).sqrt();
        assert!((scale - 0.000_728_869).abs() < 1e-6, "{scale}");
        let nearness = (share("board distance") + share("plane offset of car")).sqrt();
        assert!((nearness - 0.001_434_3).abs() < 1e-6, "{nearness}");
    }
}
