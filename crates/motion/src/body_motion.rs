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
    smooth_body(tracks, layout, poses, options)
}

/// One smooth curve each for x, z and angle through poses that are there already: those of [`crate::poses`], with what
/// their covariances do not know added.
///
/// # Errors
/// [`MotionFailure`] from each curve; a body hardly marked fails as a whole.
pub fn smooth_body(
    tracks: &BodyTracks,
    layout: &Layout,
    poses: Vec<Option<Pose>>,
    options: &BodyMotionOptions,
) -> Result<BodyMotion, MotionFailure> {
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

#[cfg(test)]
mod tests {
    use super::*;
    use crate::{PlaneMark, TargetTrack, body_point, layout};
    use filmgauge_quantities::{PlaneCov, PlanePoint, TargetId};
    use rand_distr::{Distribution, Normal};
    use rand_xoshiro::Xoshiro256PlusPlus;
    use rand_xoshiro::rand_core::SeedableRng;

    const SIGMA_M: f64 = 1e-4;

    fn pitch(t: f64) -> [f64; 3] {
        let (s, w) = (t.max(0.0), 12.0);
        if t > 0.0 {
            [0.06 * (1.0 - (w * s).cos()), 0.06 * w * (w * s).sin(), 0.06 * w * w * (w * s).cos()]
        } else {
            [0.0; 3]
        }
    }

    /// Four targets on a body that rolls on at 14 m/s and starts to pitch at t = 0.
    fn tracks(seed: u64) -> BodyTracks {
        let mut random = Xoshiro256PlusPlus::seed_from_u64(seed);
        let noise = Normal::new(0.0, SIGMA_M).unwrap();
        let places = [(-1.2, 0.2), (1.1, 0.25), (-0.9, -0.3), (0.8, -0.25)];
        let times_s: Vec<f64> = (0..300).map(|i| -0.07 + f64::from(i) * 1e-3).collect();
        let cov = PlaneCov { xx: SIGMA_M * SIGMA_M, xz: 0.0, zz: SIGMA_M * SIGMA_M };
        let mut mark = |t: f64, (x, z): (f64, f64)| {
            let read = PlanePoint::new(noise.sample(&mut random), noise.sample(&mut random));
            let point = PlanePoint::new(14.0 * t, 0.7) + PlanePoint::new(x, z).turned(pitch(t)[0]) + read;
            Some(PlaneMark { point, cov })
        };
        let target = |(i, place): (usize, &(f64, f64))| TargetTrack {
            id: TargetId::new(&format!("C{i}")).unwrap(),
            marks: times_s.iter().map(|&t| mark(t, *place)).collect(),
        };
        let targets = places.iter().enumerate().map(target).collect();
        BodyTracks { body: BodyId::new("car").unwrap(), times_s, targets }
    }

    #[test]
    fn a_point_of_a_pitching_body_lies_within_its_bands() {
        let lever = PlanePoint::new(1.6, -0.4);
        let (mut inside, mut n) = ([0.0; 4], 0.0);
        for seed in 0..24 {
            let tracks = tracks(seed);
            let layout = layout(&tracks, 0..70).unwrap();
            let from_target = layout.from_target(0, PlanePoint::new(2.8, -0.6)).unwrap();
            let options = BodyMotionOptions::with_onsets(&[0.0], 1e-4);
            let motion = body_motion(&tracks, &layout, &options).unwrap();
            // What the layout's noise shifts is common to all frames of a film.
            let level_u = layout.level_u_rad.unwrap();
            let common_m = (level_u * lever.x_m).hypot(layout.u_m[0]);
            // The body's truth is about another origin than the layout's: the mean of the targets' places.
            assert!((from_target - lever - PlanePoint::new(0.05, 0.025)).x_m.abs() < 1e-3);
            for i in (75..295).step_by(5) {
                let t = tracks.times_s[i];
                let point = body_point(&motion, from_target, t).unwrap();
                let [angle, rate, spin] = pitch(t);
                let arm = lever.turned(angle);
                let truth = [
                    0.7 + arm.z_m,
                    14.0 - rate * arm.z_m,
                    crate::lever_acceleration(arm, rate, spin)[1],
                    angle,
                ];
                let turning = point.angle.unwrap();
                let found = [
                    (point.place.z_m, point.place_u_m[1].hypot(common_m)),
                    (point.velocity_m_s[0], point.velocity_u_m_s[0]),
                    (point.acceleration_m_s2[1], point.acceleration_u_m_s2[1]),
                    (turning.value[0], turning.u[0].hypot(level_u)),
                ];
                n += 1.0;
                for k in 0..4 {
                    inside[k] += f64::from(u8::from((found[k].0 - truth[k]).abs() <= 1.96 * found[k].1));
                }
            }
        }
        let share = inside.map(|count| count / n);
        println!("inside {share:.3?}");
        // Along the path the origin moves by millimetres only: a signal near the noise, of which smoothing costs a part.
        assert!(share.iter().all(|share| (0.85..0.99).contains(share)), "{share:.3?}");
    }

    #[test]
    fn full_turns_are_taken_out() {
        let turned = unwrapped(vec![Some((3.1, 1.0)), None, Some((-3.1, 1.0)), Some((-2.9, 1.0))]);
        let values: Vec<f64> = turned.into_iter().flatten().map(|(value, _)| value).collect();
        assert!((values[1] - 3.183_185_307).abs() < 1e-6 && (values[2] - 3.383_185_307).abs() < 1e-6);
    }
}
