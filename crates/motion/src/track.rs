//! Marks of one body's targets in the plane of motion, frame by frame.

use crate::{MotionFailure, samples};
use filmgauge_quantities::{BodyId, PlaneCov, PlanePoint, TargetId};

/// One target located in one frame, in metres.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct PlaneMark {
    /// Place in the plane of motion.
    pub point: PlanePoint,
    /// Covariance of the place, m²; the mark's own noise only.
    pub cov: PlaneCov,
}

/// All marks of one target.
#[derive(Debug, Clone, PartialEq)]
pub struct TargetTrack {
    /// The target.
    pub id: TargetId,
    /// One entry for each frame; `None` in a gap.
    pub marks: Vec<Option<PlaneMark>>,
}

/// The targets that move with one rigid body.
#[derive(Debug, Clone, PartialEq)]
pub struct BodyTracks {
    /// The body.
    pub body: BodyId,
    /// Time of each frame, s; growing.
    pub times_s: Vec<f64>,
    /// Targets fixed to the body's rigid part.
    pub targets: Vec<TargetTrack>,
}

impl BodyTracks {
    /// Checks that times grow, that every target has one entry for each frame and that marks are usable.
    ///
    /// # Errors
    /// [`MotionFailure`] for the first fault found.
    pub fn check(&self) -> Result<(), MotionFailure> {
        samples::check_times(&self.times_s)?;
        for target in &self.targets {
            let (found, expected) = (target.marks.len(), self.times_s.len());
            if found != expected {
                return Err(MotionFailure::LengthsDiffer { what: "target", found, expected });
            }
            if let Some(index) =
                target.marks.iter().position(|mark| mark.is_some_and(|mark| !mark.is_usable()))
            {
                return Err(MotionFailure::UnusableMark { index });
            }
        }
        Ok(())
    }

    /// Marks of one frame with the place of their target in the list.
    pub(crate) fn marks_in(&self, frame: usize) -> impl Iterator<Item = (usize, PlaneMark)> + '_ {
        let marks = self.targets.iter().enumerate();
        marks.filter_map(move |(i, target)| target.marks.get(frame).copied().flatten().map(|mark| (i, mark)))
    }
}

impl PlaneMark {
    fn is_usable(&self) -> bool {
        let PlaneCov { xx, xz, zz } = self.cov;
        let finite = [self.point.x_m, self.point.z_m, xx, xz, zz].iter().all(|number| number.is_finite());
        finite && xx > 0.0 && zz > 0.0 && xx * zz > xz * xz
    }
}
