//! What a plane of motion rests on: a board at right angles, surveyed points of the plane, or the camera's pose.

use crate::camera_pose::{PoseFailure, PoseFit, PoseOptions, camera_pose};
use crate::homography::{Homography, HomographyOptions, homography, image_of};
use crate::plane::{Eye, Slanted};
use crate::{Board, CameraPose, DoubtSource, GeometryError, Lens, PlaneControl, PosedCamera, SpaceControl};
use filmgauge_quantities::{Length, PixelPoint, SpaceCov, SpacePoint, Uncertain};
use nalgebra::SMatrix;

/// What a plane of motion rests on.
#[derive(Debug, Clone, PartialEq)]
pub enum Reference {
    /// A board that the camera sees at right angles.
    Board(Board),
    /// Surveyed points of the plane, seen at any slant.
    Points(PlanePoints),
    /// The camera's pose, from surveyed points in space; needs a lens.
    Pose(PosePoints),
}

/// Surveyed points of the plane of motion.
#[derive(Debug, Clone, PartialEq)]
pub struct PlanePoints {
    /// The points: x along the path, z the plane's second axis; marks in stored px.
    pub controls: Vec<PlaneControl>,
    /// Distance from the camera's entrance pupil to the plane, where known; a lens gives it otherwise.
    pub distance: Option<Uncertain<Length>>,
    /// Settings of the fit.
    pub options: HomographyOptions,
}

/// Surveyed points in space that give the camera's pose.
#[derive(Debug, Clone, PartialEq)]
pub struct PosePoints {
    /// The points: x along the path, y to its left, z up; marks in stored px.
    pub controls: Vec<SpaceControl>,
    /// Where the reference plane lies: its y for a side camera, its z for an overhead camera.
    pub plane_at: Length,
    /// Settings of the fit.
    pub options: PoseOptions,
}

impl Reference {
    /// The reference with one input moved by one standard uncertainty; as it is where it has no such input.
    #[must_use]
    pub(crate) fn perturbed(&self, source: &DoubtSource, times: f64, lens: Option<&Lens>) -> Self {
        match (self, source) {
            (Self::Board(board), DoubtSource::Board(doubt)) => Self::Board(board.perturbed(*doubt, times)),
            (Self::Points(points), DoubtSource::Points(axis)) => {
                Self::Points(points.moved(*axis, times, lens))
            }
            (Self::Points(points), DoubtSource::PointsDistance) => {
                let mut points = points.clone();
                if let Some(distance) = &mut points.distance {
                    distance.value = distance.value + distance.u * times;
                }
                Self::Points(points)
            }
            (Self::Pose(points), DoubtSource::Pose(axis)) => {
                Self::Pose(lens.map_or_else(|| points.clone(), |lens| points.moved(*axis, times, lens)))
            }
            _ => self.clone(),
        }
    }
}

impl PlanePoints {
    /// The homography from the plane to ideal pixels.
    ///
    /// # Errors
    /// [`GeometryError::PlanePoints`] where the points give none, [`GeometryError::OutsideLensField`] for a mark outside the
    /// lens' field.
    pub fn fit(&self, lens: Option<&Lens>) -> Result<Homography, GeometryError> {
        self.options.check()?;
        Ok(homography(&self.ideal(lens)?, &self.options)?)
    }

    /// The points with marks in ideal pixels.
    fn ideal(&self, lens: Option<&Lens>) -> Result<Vec<PlaneControl>, GeometryError> {
        let Some(lens) = lens else { return Ok(self.controls.clone()) };
        let of = |control: &PlaneControl| {
            let (seen, seen_cov) = lens.undistort_mark(control.seen, &control.seen_cov)?;
            Ok(PlaneControl { seen, seen_cov, ..control.clone() })
        };
        self.controls.iter().map(of).collect()
    }

    /// The middle of the marks, ideal px.
    pub(crate) fn middle(&self, lens: Option<&Lens>) -> Result<PixelPoint, GeometryError> {
        Ok(middle(self.ideal(lens)?.iter().map(|control| control.seen)))
    }

    /// The camera's pose by these points, in a space whose y = 0 is the plane.
    ///
    /// # Errors
    /// [`PoseFailure`] says why there is none.
    pub fn pose(&self, lens: &Lens) -> Result<PoseFit, PoseFailure> {
        let of = |control: &PlaneControl| {
            let (at, cov) = (control.at, control.at_cov);
            SpaceControl {
                id: control.id.clone(),
                at: SpacePoint::new(at.x_m, 0.0, at.z_m),
                at_cov: SpaceCov([[cov.xx, 0.0, cov.xz], [0.0; 3], [cov.xz, 0.0, cov.zz]]),
                seen: control.seen,
                seen_cov: control.seen_cov,
            }
        };
        let options = PoseOptions {
            model_u_px: self.options.model_u_px,
            suspect_sigma: self.options.suspect_sigma,
            greatest_ratio: self.options.greatest_ratio,
            plausible_span_m: self.options.plausible_span_m,
            ..PoseOptions::default()
        };
        camera_pose(&self.controls.iter().map(of).collect::<Vec<_>>(), lens, &options)
    }

    /// Where the camera stands before the plane; `None` where neither lens nor distance tells.
    pub(crate) fn eye(
        &self,
        lens: Option<&Lens>,
        plane: &Slanted,
        image_centre: PixelPoint,
    ) -> Result<Option<Eye>, GeometryError> {
        if let Some(lens) = lens {
            let fit = self.pose(lens)?;
            if fit.alternative.is_none_or(|other| !other.fits_as_well) {
                let centre = fit.camera.pose.centre;
                let foot = filmgauge_quantities::PlanePoint::new(centre.x_m, centre.z_m);
                return Ok(Some(Eye { foot, distance_m: centre.y_m.abs() }));
            }
        }
        let centre = lens.map_or(image_centre, |lens| PixelPoint::new(lens.cx_px, lens.cy_px));
        let Some(distance) = self.distance else { return Ok(None) };
        let distance_m = distance.value.as_m();
        if !(distance_m.is_finite() && distance_m > 0.0) {
            return Err(GeometryError::Reference {
                why: format!("the camera's distance from the plane is given as {distance_m} m"),
            });
        }
        Ok(Some(Eye { foot: plane.plane_from_ideal(centre)?, distance_m }))
    }

    /// The points with their marks moved so that the homography goes one standard deviation along the principal axis `axis`
    /// of its covariance, 0 to 7. The pose by the same points then moves by what it shares with it: over all axes the squares
    /// add up to its covariance. Unchanged where the points give no homography.
    #[must_use]
    pub(crate) fn moved(&self, axis: usize, times: f64, lens: Option<&Lens>) -> Self {
        self.try_moved(axis, times, lens).unwrap_or_else(|| self.clone())
    }

    fn try_moved(&self, axis: usize, times: f64, lens: Option<&Lens>) -> Option<Self> {
        let fit = self.fit(lens).ok()?;
        let (here, there) = (fit.matrix(), fit.moved(axis));
        let mut changed = self.clone();
        for (control, ideal) in changed.controls.iter_mut().zip(self.ideal(lens).ok()?) {
            let (from, to) = (image_of(&here, control.at)?, image_of(&there, control.at)?);
            let moved = ideal.seen.moved(times * (to.x - from.x), times * (to.y - from.y));
            control.seen = lens.map_or(moved, |lens| lens.distort(moved));
        }
        Some(changed)
    }
}

impl PosePoints {
    /// The camera's pose.
    ///
    /// # Errors
    /// [`GeometryError::Pose`] where the points give none, [`GeometryError::Reference`] where they give two.
    pub fn fit(&self, lens: &Lens) -> Result<PoseFit, GeometryError> {
        self.options.check()?;
        let fit = camera_pose(&self.controls, lens, &self.options)?;
        if fit.alternative.is_some_and(|other| other.fits_as_well) {
            return Err(GeometryError::Reference {
                why: "two places of the camera fit the control points equally well; survey points in front of their \
                      plane or behind it"
                    .into(),
            });
        }
        Ok(fit)
    }

    /// The middle of the marks, ideal px.
    pub(crate) fn middle(&self, lens: &Lens) -> Result<PixelPoint, GeometryError> {
        let ideal: Result<Vec<PixelPoint>, _> =
            self.controls.iter().map(|control| lens.undistort(control.seen)).collect();
        Ok(middle(ideal?.into_iter()))
    }

    /// The points with their marks moved so that the pose goes so many standard deviations along the principal axis `axis` of its
    /// covariance, 0 to 5. Unchanged where the points give no pose.
    #[must_use]
    pub(crate) fn moved(&self, axis: usize, times: f64, lens: &Lens) -> Self {
        self.try_moved(axis, times, lens).unwrap_or_else(|| self.clone())
    }

    fn try_moved(&self, axis: usize, times: f64, lens: &Lens) -> Option<Self> {
        let here = self.fit(lens).ok()?.camera;
        let there = PosedCamera { pose: moved_pose(&here, axis, times), ..here };
        let mut changed = self.clone();
        for control in &mut changed.controls {
            let (from, to) = (here.image_of(control.at)?, there.image_of(control.at)?);
            control.seen = control.seen.moved(to.x - from.x, to.y - from.y);
        }
        Some(changed)
    }
}

/// The pose so many standard deviations along a principal axis of its covariance.
pub(crate) fn moved_pose(camera: &PosedCamera, axis: usize, times: f64) -> CameraPose {
    let cov = SMatrix::<f64, 6, 6>::from_fn(|row, column| camera.cov[row][column]);
    let own = cov.symmetric_eigen();
    let by = own.eigenvectors.column(axis) * (times * own.eigenvalues[axis].max(0.0).sqrt());
    camera.pose.moved(&std::array::from_fn(|k| by[k]))
}

fn middle(points: impl Iterator<Item = PixelPoint>) -> PixelPoint {
    let (mut sum, mut n) = (PixelPoint::default(), 0.0);
    for point in points {
        sum = sum.moved(point.x, point.y);
        n += 1.0;
    }
    PixelPoint::new(sum.x / n, sum.y / n)
}

#[cfg(test)]
mod tests;
