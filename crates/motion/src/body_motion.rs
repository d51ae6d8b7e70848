//! The smooth motion of a body: its poses, and its place and angle as curves with bands.

use crate::samples::Sample;
use crate::{BodyTracks, Layout, MotionFailure, Pose, PoseOptions, SmoothOptions, Smoothed, poses, smooth};
use filmgauge_quantities::BodyId;

/// Settings of [`body_motion`].
#[derive(Debug, Clone, PartialEq, Default)]
pub struct BodyMotionOptions {
    /// Poses.
    pub pose: PoseOptions,
    /// Curve along the path; the jump is in m/s².
    pub x: SmoothOptions,
    /// Curve across the path; the jump is in m/s².
    pub z: SmoothOptions,
    /// Curve of the angle; the jump is in rad/s².
    pub angle: SmoothOptions,
}

impl BodyMotionOptions {
    /// Default settings with kinks allowed at these instants, which are known to `u_s`.
    #[must_use]
    pub fn with_onsets(onsets_s: &[f64], u_s: f64) -> Self {
        let curve = SmoothOptions { onsets_s: onsets_s.to_vec(), onset_u_s: u_s, ..SmoothOptions::default() };
        Self { pose: PoseOptions::default(), x: curve.clone(), z: curve.clone(), angle: curve }
    }
}

/// Smooth motion of a body's layout origin.
#[derive(Debug, Clone)]
pub struct BodyMotion {
    /// The body.
    pub body: BodyId,
    /// Time of each frame, s.
    pub times_s: Vec<f64>,
    /// Along the path, m.
    pub x: Smoothed,
    /// Across the path, m.
    pub z: Smoothed,
    /// From x towards z, rad; `None` for a body with a single target.
    pub angle: Option<Smoothed>,
    /// Pose of each frame.
    pub poses: Vec<Option<Pose>>,
}

impl BodyMotion {
    /// First and last instant at which the motion is known, s.
    #[must_use]
    pub fn span_s(&self) -> (f64, f64) {
        let ends = |curve: &Smoothed| (curve.times_s.first().copied(), curve.times_s.last().copied());
        let (start, end) = ends(&self.x);
        (start.unwrap_or(f64::INFINITY), end.unwrap_or(f64::NEG_INFINITY))
    }

    /// The measured places along the path, one entry for each frame.
    #[must_use]
    pub fn x_samples(&self) -> Vec<Sample> {
        samples_of(&self.poses, |pose| Some((pose.x_m, pose.cov[0][0])))
    }

    /// The measured places across the path, one entry for each frame.
    #[must_use]
    pub fn z_samples(&self) -> Vec<Sample> {
        samples_of(&self.poses, |pose| Some((pose.z_m, pose.cov[1][1])))
    }

    /// The measured angles, one entry for each frame.
    #[must_use]
    pub fn angle_samples(&self) -> Vec<Sample> {
        samples_of(&self.poses, |pose| pose.angle_rad.map(|angle_rad| (angle_rad, pose.cov[2][2])))
    }
}

/// Poses of all frames, then one smooth curve each for x, z and angle.
///
/// # Errors
/// [`MotionFailure`] from the poses and from each curve; a body hardly marked fails as a whole.
pub fn body_motion(
    tracks: &BodyTracks,
    layout: &Layout,
    options: &BodyMotionOptions,
) -> Result<BodyMotion, MotionFailure> {
    let poses = poses(tracks, layout, &options.pose)?;
    let curve = |samples: &[Sample], options: &SmoothOptions| smooth(&tracks.times_s, samples, options);
    let x = samples_of(&poses, |pose| Some((pose.x_m, pose.cov[0][0])));
    let z = samples_of(&poses, |pose| Some((pose.z_m, pose.cov[1][1])));
    let angle = unwrapped(samples_of(&poses, |pose| pose.angle_rad.map(|angle| (angle, pose.cov[2][2]))));
    let has_angle = layout.n_places() > 1;
    Ok(BodyMotion {
        body: tracks.body.clone(),
        times_s: tracks.times_s.clone(),
        x: curve(&x, &options.x)?,
        z: curve(&z, &options.z)?,
        angle: if has_angle { Some(curve(&angle, &options.angle)?) } else { None },
        poses,
    })
}

fn samples_of(poses: &[Option<Pose>], take: impl Fn(&Pose) -> Sample) -> Vec<Sample> {
    poses.iter().map(|pose| pose.as_ref().and_then(&take)).collect()
}

/// Full turns taken out between marks.
fn unwrapped(samples: Vec<Sample>) -> Vec<Sample> {
    let turn = std::f64::consts::TAU;
    let mut before: Option<f64> = None;
    let mut unwrap = |(value, variance): (f64, f64)| {
        let turns = before.map_or(0.0, |before| ((before - value) / turn).round());
        before = Some(value + turns * turn);
        (value + turns * turn, variance)
    };
    samples.into_iter().map(|sample| sample.map(&mut unwrap)).collect()
}
