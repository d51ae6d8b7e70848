//! Everything systematic between one camera's pixels and metres, and each doubt about it, one at a time.
//!
//! A budget re-evaluates the whole chain with one input larger by its standard uncertainty and takes the difference
//! as that input's contribution (JCGM 100, 5.1.3, note 2: partial derivatives found numerically).

use crate::{
    BoardDoubt, GeometryError, KnownLength, LENS_TERMS, LengthDoubt, LengthRole, LensFile, PlaneMap, PlaneOf,
    Reference,
};
use filmgauge_quantities::{Angle, BodyId, Length, PixelPoint, Uncertain, ViewPlane};
use std::fmt;

/// What one camera's plane of motion rests on.
#[derive(Debug, Clone, PartialEq)]
pub struct Calibration {
    /// Side or overhead.
    pub view: ViewPlane,
    /// Board, plane points or pose.
    pub reference: Reference,
    /// Further known lengths: some share in a board's scale, others check it.
    pub lengths: Vec<KnownLength>,
    /// The lens, where calibrated.
    pub lens: Option<LensFile>,
    /// Stands for the principal point where there is no lens, stored px.
    pub image_centre: PixelPoint,
    /// Plane offset of each body's targets, as surveyed, in the dossier's order.
    pub offsets: Vec<(BodyId, Uncertain<Length>)>,
    /// Inclination of each body's path to the reference's plane, where there is one: see [`PlaneOf`].
    pub inclinations: Vec<(BodyId, Uncertain<Angle>)>,
}

/// One systematic source of doubt.
#[derive(Debug, Clone, PartialEq, Eq, PartialOrd, Ord, Hash)]
pub enum DoubtSource {
    /// An input of the reference board.
    Board(BoardDoubt),
    /// An input of a known length that shares in the scale; it counts in [`Calibration::lengths`].
    Length(usize, LengthDoubt),
    /// Marks and survey of the plane points, along a principal axis of their homography's covariance, 0 to 7.
    Points(usize),
    /// The stated distance from camera to plane of the plane points.
    PointsDistance,
    /// Marks and survey of the pose's points, along a principal axis of the pose's covariance, 0 to 5.
    Pose(usize),
    /// A principal axis of what is not known of the lens, counted as in [`LensFile::perturbed`].
    Lens(usize),
    /// The plane offset of a body's targets.
    PlaneOffset(BodyId),
    /// The inclination of a body's path.
    Inclination(BodyId),
}

impl fmt::Display for DoubtSource {
    /// The line of the error budget that this source belongs to; several sources may share a line.
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        match self {
            Self::Board(BoardDoubt::Length) => f.write_str("board length"),
            Self::Board(BoardDoubt::Distance) => f.write_str("board distance"),
            Self::Board(_) => f.write_str("board reading"),
            Self::Length(..) => f.write_str("known lengths"),
            Self::Points(_) => f.write_str("plane points"),
            Self::PointsDistance => f.write_str("camera distance"),
            Self::Pose(_) => f.write_str("camera pose"),
            Self::Lens(_) => f.write_str("lens"),
            Self::PlaneOffset(body) => write!(f, "plane offset of {body}"),
            Self::Inclination(body) => write!(f, "inclination of {body}"),
        }
    }
}

impl Calibration {
    /// The map from stored pixels to the plane of motion.
    ///
    /// # Errors
    /// As [`PlaneMap::new`].
    pub fn plane_map(&self) -> Result<PlaneMap, GeometryError> {
        PlaneMap::new(self)
    }

    /// Plane offset of a body's targets; 0 where none is stated.
    #[must_use]
    pub fn offset(&self, body: &BodyId) -> Length {
        let stated = self.offsets.iter().find(|(id, _)| id == body);
        stated.map_or(Length::from_m(0.0), |(_, offset)| offset.value)
    }

    /// Where a body's plane lies; the reference's own where nothing is stated.
    #[must_use]
    pub fn plane_of(&self, body: &BodyId) -> PlaneOf {
        let stated = self.inclinations.iter().find(|(id, _)| id == body);
        let inclination = stated.map_or_else(Angle::default, |(_, inclination)| inclination.value);
        PlaneOf { offset: self.offset(body), inclination }
    }

    /// Sources whose stated uncertainty is not zero, in a fixed order.
    #[must_use]
    pub fn doubts(&self) -> Vec<DoubtSource> {
        let lens = (0..LENS_TERMS.len()).map(DoubtSource::Lens);
        let offsets = self.offsets.iter().map(|(body, _)| DoubtSource::PlaneOffset(body.clone()));
        let inclined = self.inclinations.iter().map(|(body, _)| DoubtSource::Inclination(body.clone()));
        let all = self.reference_doubts().into_iter().chain(lens).chain(offsets).chain(inclined);
        all.filter(|source| self.perturbed(source) != *self).collect()
    }

    fn reference_doubts(&self) -> Vec<DoubtSource> {
        let in_fit = self.lengths.iter().enumerate().filter(|(_, known)| known.role == LengthRole::Fit);
        let lengths =
            in_fit.flat_map(|(index, _)| LengthDoubt::ALL.map(|doubt| DoubtSource::Length(index, doubt)));
        match &self.reference {
            Reference::Board(_) => {
                BoardDoubt::ALL.map(DoubtSource::Board).into_iter().chain(lengths).collect()
            }
            Reference::Points(_) => {
                (0..8).map(DoubtSource::Points).chain([DoubtSource::PointsDistance]).collect()
            }
            Reference::Pose(_) => (0..6).map(DoubtSource::Pose).collect(),
        }
    }

    /// The calibration with one input larger by its standard uncertainty.
    #[must_use]
    pub fn perturbed(&self, source: &DoubtSource) -> Self {
        self.perturbed_by(source, 1.0)
    }

    /// The calibration with one input larger by so many standard uncertainties.
    #[must_use]
    pub fn perturbed_by(&self, source: &DoubtSource, times: f64) -> Self {
        let mut changed = self.clone();
        match source {
            DoubtSource::Length(index, doubt) => {
                if let Some(known) = changed.lengths.get_mut(*index) {
                    *known = known.perturbed(*doubt, times);
                }
            }
            DoubtSource::Board(_)
            | DoubtSource::Points(_)
            | DoubtSource::PointsDistance
            | DoubtSource::Pose(_) => {
                let lens = self.lens.as_ref().map(|file| &file.lens);
                changed.reference = self.reference.perturbed(source, times, lens);
            }
            DoubtSource::Lens(axis) => {
                if let Some(file) = &mut changed.lens {
                    file.lens = file.perturbed(*axis, times);
                }
            }
            DoubtSource::PlaneOffset(body) => {
                for (_, offset) in changed.offsets.iter_mut().filter(|(id, _)| id == body) {
                    offset.value = offset.value + offset.u * times;
                }
            }
            DoubtSource::Inclination(body) => {
                for (_, inclination) in changed.inclinations.iter_mut().filter(|(id, _)| id == body) {
                    inclination.value = inclination.value + inclination.u * times;
                }
            }
        }
        changed
    }
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::{Board, Lens};
    use filmgauge_quantities::PixelCov;

    fn calibration() -> Calibration {
        let lens = Lens::pinhole(6000.0, 640.0, 360.0);
        let mut u = [0.0; 9];
        u[4] = 0.01;
        Calibration {
            view: ViewPlane::Side,
            reference: Reference::Board(Board {
                from: PixelPoint::new(240.0, 650.0),
                to: PixelPoint::new(1040.0, 650.0),
                length: Uncertain::new(Length::from_m(2.0), Length::from_mm(1.0)),
                reading_u_px: 0.3,
                distance: Some(Uncertain::new(Length::from_m(15.0), Length::from_m(0.05))),
            }),
            lengths: Vec::new(),
            lens: Some(LensFile::of(lens, u, None)),
            image_centre: PixelPoint::default(),
            offsets: vec![(
                BodyId::new("car").unwrap(),
                Uncertain::new(Length::from_m(0.9), Length::from_m(0.02)),
            )],
            inclinations: Vec::new(),
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
            let plane = calibration.plane_of(&BodyId::new("car").unwrap());
            let at = |x| {
                map.plane_from_image(PixelPoint::new(x, 400.0), &PixelCov::default(), plane).unwrap().0.x_m
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
