//! Bodies in space for one state of the inputs: layout before contact, pose at every frame of the first camera, smooth curves.

use super::instant::mark_at;
use crate::document::Role;
use crate::plan::BodyPlan;
use crate::run::evaluate::{Inputs, Sample};
use crate::run::image_marks::image_marks;
use crate::run::shutter::ImageMark;
use filmgauge_geometry::{
    BodyMark, PosedCamera, Reference, Sighting, SpacePose, TriangulateOptions, space_pose_from_marks,
    triangulate,
};
use filmgauge_motion::{MotionFailure, SmoothOptions, Smoothed, Smoothness};
use filmgauge_quantities::{BodyId, SpacePoint};
use std::collections::BTreeMap;
use std::ops::Range;

/// Curves of a body: place along the path, to the left, up (m); yaw nose left, pitch nose up, roll left side up (rad).
pub(super) const CURVES: [&str; 6] = ["x", "y", "z", "yaw", "pitch", "roll"];

/// One camera as it stands, with its marks on its own clock.
pub(super) struct View {
    pub(super) eye: PosedCamera,
    /// Its frames on the first camera's clock, s.
    pub(super) times_s: Vec<f64>,
    /// Marks by target id.
    pub(super) marks: BTreeMap<String, Vec<Option<ImageMark>>>,
}

impl View {
    /// `offset_s` is what its clock reads more than the first camera's.
    pub(super) fn of(inputs: &Inputs<'_>, offset_s: f64) -> Result<Self, String> {
        let own_s: Vec<f64> = (0..inputs.film.n_frames).map(|frame| inputs.clock.time_s(frame)).collect();
        let (Reference::Pose(points), Some(file)) = (&inputs.calibration.reference, &inputs.calibration.lens)
        else {
            return Err(format!("camera {} has no pose or no lens", inputs.camera.id));
        };
        let fit = points.fit(&file.lens).map_err(|error| format!("camera {}: {error}", inputs.camera.id))?;
        let targets = inputs.camera.targets.iter().zip(image_marks(inputs, &own_s));
        Ok(Self {
            eye: fit.camera,
            times_s: own_s.iter().map(|time_s| time_s - offset_s).collect(),
            marks: targets.map(|(target, marks)| (target.id.to_string(), marks)).collect(),
        })
    }

    fn mark(&self, target: &str, at_s: f64) -> Option<ImageMark> {
        mark_at(self.marks.get(target)?, &self.times_s, at_s)
    }
}

/// A body's motion in space. Its point is the mean of its targets.
#[derive(Debug, Clone)]
pub(crate) struct SpaceBody {
    pub(crate) id: BodyId,
    /// As in [`CURVES`].
    pub(crate) curves: [Smoothed; 6],
    /// Which of the first camera's frames have a pose.
    pub(crate) is_posed: Vec<bool>,
    pub(crate) n_targets: usize,
    /// Standard uncertainty of yaw, pitch and roll before contact, which count as nothing, rad.
    pub(crate) level_u_rad: [f64; 3],
    /// Squared residuals of all marks over their covariances, and coordinates to spare.
    pub(crate) misfit: (f64, usize),
}

/// How the curves are smoothed.
pub(super) struct Smoothing<'a> {
    pub(super) options: &'a SmoothOptions,
    /// As a first evaluation chose.
    pub(super) kept: Option<&'a BTreeMap<String, Smoothness>>,
}

/// Bodies in space, and those that could not be told: body, why.
#[derive(Debug, Default)]
pub(super) struct Bodies {
    pub(super) found: Vec<SpaceBody>,
    pub(super) troubles: Vec<(String, String)>,
}

/// Every body that three shared targets or more carry.
pub(super) fn bodies(
    views: &[View],
    plan: &[BodyPlan],
    of_body: &BTreeMap<BodyId, Vec<String>>,
    quiet: &Range<usize>,
    smoothing: &Smoothing<'_>,
) -> Bodies {
    let mut bodies = Bodies::default();
    for body in plan.iter().filter(|body| body.role != Role::Ground) {
        let Some(targets) = of_body.get(&body.id) else { continue };
        match space_body(views, &body.id, targets, quiet, smoothing) {
            Ok(body) => bodies.found.push(body),
            Err(why) => bodies.troubles.push((body.id.to_string(), why)),
        }
    }
    bodies
}

fn space_body(
    views: &[View],
    id: &BodyId,
    targets: &[String],
    quiet: &Range<usize>,
    smoothing: &Smoothing<'_>,
) -> Result<SpaceBody, String> {
    if targets.len() < 3 {
        return Err(format!(
            "a body in space needs three targets that two cameras show; {id} has {}",
            targets.len()
        ));
    }
    let times_s = &views[0].times_s;
    let places = layout(views, targets, &times_s[quiet.clone()])?;
    let poses: Vec<Option<SpacePose>> =
        times_s.iter().map(|&at_s| pose(views, targets, &places, at_s)).collect();
    let n_quiet = poses[quiet.clone()].iter().flatten().count();
    let level = poses[quiet.clone()].iter().flatten().next().and_then(SpacePose::angles);
    #[expect(clippy::cast_precision_loss, reason = "a count of frames")]
    let level_u_rad =
        level.map_or([0.0; 3], |angles| [0, 1, 2].map(|k| (angles.cov[k][k] / n_quiet.max(1) as f64).sqrt()));
    let samples = samples(&poses);
    let mut curves = Vec::with_capacity(6);
    for (name, samples) in CURVES.iter().zip(&samples) {
        curves.push(
            smooth(times_s, samples, &format!("{id} {name}"), smoothing)
                .map_err(|failure| format!("{id}: {failure}"))?,
        );
    }
    let Ok(curves) = <[Smoothed; 6]>::try_from(curves) else { return Err(format!("{id} has no curves")) };
    let misfit = poses.iter().flatten().fold((0.0, 0), |sum, pose| (sum.0 + pose.chi2, sum.1 + pose.n_spare));
    // A curve runs from the first to the last mark; poses before and after are none.
    let first = poses.iter().position(Option::is_some).unwrap_or(0);
    let is_posed = poses[first..].iter().map(Option::is_some).take(curves[0].times_s.len()).collect();
    Ok(SpaceBody { id: id.clone(), curves, is_posed, n_targets: targets.len(), level_u_rad, misfit })
}

/// Places of the targets about their mean, from the frames before contact: the axes of the body are then those of space.
fn layout(views: &[View], targets: &[String], quiet_s: &[f64]) -> Result<Vec<SpacePoint>, String> {
    let (mut sums, mut n) = (vec![[0.0; 3]; targets.len()], 0.0);
    for &at_s in quiet_s {
        let points: Option<Vec<[f64; 3]>> = targets.iter().map(|target| point(views, target, at_s)).collect();
        let Some(points) = points else { continue };
        n += 1.0;
        for k in 0..3 {
            #[expect(clippy::cast_precision_loss, reason = "a count of targets")]
            let middle = points.iter().map(|point| point[k]).sum::<f64>() / points.len() as f64;
            sums.iter_mut().zip(&points).for_each(|(sum, point)| sum[k] += point[k] - middle);
        }
    }
    if n == 0.0 {
        return Err(format!("before contact no frame shows all of {} in two cameras", targets.join(", ")));
    }
    Ok(sums.into_iter().map(|sum| SpacePoint::new(sum[0] / n, sum[1] / n, sum[2] / n)).collect())
}

fn point(views: &[View], target: &str, at_s: f64) -> Option<[f64; 3]> {
    let seen = |view: &'_ View| view.mark(target, at_s);
    let sightings: Vec<Sighting<'_>> = views
        .iter()
        .filter_map(|view| seen(view).map(|(seen, cov)| Sighting { camera: &view.eye, seen, cov }))
        .collect();
    triangulate(&sightings, &TriangulateOptions::default()).ok().map(|fix| fix.at.xyz())
}

fn pose(views: &[View], targets: &[String], places: &[SpacePoint], at_s: f64) -> Option<SpacePose> {
    let mut marks = Vec::new();
    for view in views {
        for (index, target) in targets.iter().enumerate() {
            let Some((seen, cov)) = view.mark(target, at_s) else { continue };
            marks.push(BodyMark { target: index, camera: &view.eye, seen, cov });
        }
    }
    space_pose_from_marks(places, &marks).ok()
}

/// Values with variance in the order of [`CURVES`].
fn samples(poses: &[Option<SpacePose>]) -> [Vec<Sample>; 6] {
    let place = |axis: usize| {
        poses
            .iter()
            .map(|pose| pose.as_ref().map(|pose| (pose.origin.xyz()[axis], pose.cov[3 + axis][3 + axis])))
            .collect()
    };
    let angles: Vec<_> = poses.iter().map(|pose| pose.as_ref().and_then(SpacePose::angles)).collect();
    let angle = |k: usize| {
        let of = |angles: &filmgauge_geometry::SpaceAngles| {
            // Nose up is the other way round than a turn about the axis to the left.
            let value = [angles.yaw.as_rad(), -angles.pitch.as_rad(), angles.roll.as_rad()][k];
            (value, angles.cov[k][k])
        };
        angles.iter().map(|angles| angles.as_ref().map(of)).collect()
    };
    [place(0), place(1), place(2), angle(0), angle(1), angle(2)]
}

fn smooth(
    times_s: &[f64],
    samples: &[Sample],
    name: &str,
    smoothing: &Smoothing<'_>,
) -> Result<Smoothed, MotionFailure> {
    let kept = smoothing.kept.and_then(|kept| kept.get(name)).cloned();
    let smoothness = kept.unwrap_or_else(|| smoothing.options.smoothness.clone());
    filmgauge_motion::smooth(times_s, samples, &SmoothOptions { smoothness, ..smoothing.options.clone() })
}

#[cfg(test)]
mod tests {
    use super::*;
    use filmgauge_quantities::COVERAGE_95;

    #[test]
    fn nose_left_nose_up_and_left_side_up_are_positive() {
        // Columns are the body's axes (forward, left, up) in those of space.
        let (sin, cos) = 0.1_f64.sin_cos();
        let turns = [
            (3, [[cos, -sin, 0.0], [sin, cos, 0.0], [0.0, 0.0, 1.0]]),
            (4, [[cos, 0.0, -sin], [0.0, 1.0, 0.0], [sin, 0.0, cos]]),
            (5, [[1.0, 0.0, 0.0], [0.0, cos, -sin], [0.0, sin, cos]]),
        ];
        for (curve, space_from_body) in turns {
            let cov = std::array::from_fn(|i| std::array::from_fn(|j| if i == j { 1e-6 } else { 0.0 }));
            let origin = SpacePoint::new(1.0, 2.0, 3.0);
            let pose = SpacePose { space_from_body, origin, cov, chi2: 0.0, n_spare: 0 };
            let found = samples(&[Some(pose)]);
            for (k, name) in CURVES.iter().enumerate().skip(3) {
                let (value, variance) = found[k][0].unwrap();
                let expected = if k == curve { 0.1 } else { 0.0 };
                assert!((value - expected).abs() < 1e-12, "{name}: {value}");
                assert!(COVERAGE_95 * variance.sqrt() < 0.003, "{name}: {variance}");
            }
            assert_eq!([0, 1, 2].map(|k| found[k][0].unwrap().0), [1.0, 2.0, 3.0]);
        }
    }
}
