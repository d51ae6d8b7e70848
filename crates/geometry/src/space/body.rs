//! A rigid body in space: place and attitude from points in space, or straight from the marks of one camera or several.

use super::SpaceFailure;
use super::triangulate::{Sighting, TriangulateOptions, triangulate, weighed};
use crate::camera::PosedCamera;
use crate::camera_pose::{PoseOptions, camera_pose};
use crate::levenberg::{Equations, Settled, settled};
use crate::rigid::{cross, point, turn_and_shift, vector};
use crate::{CameraPose, SpaceControl};
use filmgauge_quantities::{Angle, PixelCov, PixelPoint, SpaceCov, SpacePoint};
use nalgebra::{Matrix3, Rotation3, SMatrix, SVector, Vector3};

/// Pose of a body in space.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct SpacePose {
    /// Rotation, rows first: its columns are the body's axes in the axes of space.
    pub space_from_body: [[f64; 3]; 3],
    /// Where the body's origin is.
    pub origin: SpacePoint,
    /// Covariance: turns about the axes of space (rad), then the origin's x, y, z (m).
    pub cov: [[f64; 6]; 6],
    /// Residual sum of squares over the covariances.
    pub chi2: f64,
    /// Coordinates beyond the six that fix the pose.
    pub n_spare: usize,
}

/// Attitude of a body whose axes run forward, to the left and up (ISO 8855), as turns in the order yaw, pitch, roll, each about
/// the axis that the turns before have carried along.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct SpaceAngles {
    /// About the axis upwards: positive with the nose to the left.
    pub yaw: Angle,
    /// About the axis to the left: positive with the nose down.
    pub pitch: Angle,
    /// About the axis forward: positive with the left side up.
    pub roll: Angle,
    /// Covariance in the order yaw, pitch, roll, rad².
    pub cov: [[f64; 3]; 3],
}

/// One camera's mark of a body's target.
#[derive(Debug, Clone, Copy)]
pub struct BodyMark<'a> {
    /// The target, an index into the body's places.
    pub target: usize,
    /// The camera.
    pub camera: &'a PosedCamera,
    /// Where it is seen, stored px.
    pub seen: PixelPoint,
    /// Covariance of the mark, px².
    pub cov: PixelCov,
}

impl SpacePose {
    /// Where a body point lies in space.
    #[must_use]
    pub fn space_from_body(&self, place: SpacePoint) -> SpacePoint {
        point(self.turn() * vector(place) + vector(self.origin))
    }

    fn turn(&self) -> Rotation3<f64> {
        Rotation3::from_matrix_unchecked(Matrix3::from_fn(|row, column| self.space_from_body[row][column]))
    }

    /// Yaw, pitch and roll; `None` within a thousandth of a radian of a nose straight up or down, where yaw and roll are one.
    #[must_use]
    pub fn angles(&self) -> Option<SpaceAngles> {
        let m = &self.space_from_body;
        let pitch = (-m[2][0]).clamp(-1.0, 1.0).asin();
        if pitch.cos() < 1e-3 {
            return None;
        }
        let (yaw, roll) = (m[1][0].atan2(m[0][0]), m[2][1].atan2(m[2][2]));
        let ((sin_yaw, cos_yaw), (sin_pitch, cos_pitch)) = (yaw.sin_cos(), pitch.sin_cos());
        // A small turn about the axes of space is made of turns about these three.
        let axes = Matrix3::from_columns(&[
            Vector3::z(),
            Vector3::new(-sin_yaw, cos_yaw, 0.0),
            Vector3::new(cos_yaw * cos_pitch, sin_yaw * cos_pitch, -sin_pitch),
        ]);
        let back = axes.try_inverse()?;
        let turns = Matrix3::from_fn(|row, column| self.cov[row][column]);
        let cov = back * turns * back.transpose();
        Some(SpaceAngles {
            yaw: Angle::from_rad(yaw),
            pitch: Angle::from_rad(pitch),
            roll: Angle::from_rad(roll),
            cov: [0, 1, 2].map(|row| [0, 1, 2].map(|column| cov[(row, column)])),
        })
    }
}

/// The state of the steps.
#[derive(Clone, Copy)]
struct State {
    turn: Rotation3<f64>,
    origin: Vector3<f64>,
}

fn moved(state: &State, step: &SVector<f64, 6>) -> State {
    let mut turn = Rotation3::new(Vector3::new(step[0], step[1], step[2])) * state.turn;
    turn.renormalize();
    State { turn, origin: state.origin + Vector3::new(step[3], step[4], step[5]) }
}

/// Slopes of a body point's place in space by the pose.
fn slopes(state: &State, place: &Vector3<f64>) -> SMatrix<f64, 3, 6> {
    let mut slopes = SMatrix::<f64, 3, 6>::zeros();
    slopes.fixed_columns_mut::<3>(0).copy_from(&-cross(&(state.turn * place)));
    slopes.fixed_columns_mut::<3>(3).copy_from(&Matrix3::identity());
    slopes
}

fn reported(found: &Settled<State, 6>, n_coordinates: usize) -> SpacePose {
    let m = found.at.turn.matrix();
    SpacePose {
        space_from_body: [0, 1, 2].map(|row| [0, 1, 2].map(|column| m[(row, column)])),
        origin: point(found.at.origin),
        cov: std::array::from_fn(|row| std::array::from_fn(|column| found.cov[(row, column)])),
        chi2: found.chi2,
        n_spare: n_coordinates - 6,
    }
}

/// The pose that carries body places nearest to points in space, in the sense of the points' covariance. Start in closed form
/// (Kabsch 1976, Acta Cryst. A32:922), then Gauss-Newton, damped.
///
/// # Errors
/// [`SpaceFailure::TooFewTargets`] for fewer than three pairs or pairs on one line, [`SpaceFailure::Input`] for a covariance that
/// is not positive.
pub fn space_pose(pairs: &[(SpacePoint, SpacePoint, SpaceCov)]) -> Result<SpacePose, SpaceFailure> {
    let mut weighed = Vec::with_capacity(pairs.len());
    for (place, at, cov) in pairs {
        let cov = Matrix3::from_fn(|row, column| cov.0[row][column]);
        let weight = cov.cholesky().map(|root| root.inverse()).ok_or_else(|| SpaceFailure::Input {
            what: "the covariance of a point in space is not positive".into(),
        })?;
        weighed.push((vector(*place), vector(*at), weight));
    }
    let start: Vec<(Vector3<f64>, Vector3<f64>)> = weighed.iter().map(|(a, b, _)| (*a, *b)).collect();
    let start = checked_start(&start)?;
    let equations = |state: &State, _: &State| {
        let mut sum = Equations::none();
        for (place, at, weight) in &weighed {
            sum.add(&(at - state.turn * place - state.origin), weight, &slopes(state, place));
        }
        Some(sum)
    };
    let found = settled(start, equations, moved).ok_or(SpaceFailure::Unsettled)?;
    Ok(reported(&found, 3 * pairs.len()))
}

/// Closed form through pairs that fix a pose.
fn checked_start(pairs: &[(Vector3<f64>, Vector3<f64>)]) -> Result<State, SpaceFailure> {
    let few = SpaceFailure::TooFewTargets { n: pairs.len() };
    let Some((first, _)) = pairs.first() else { return Err(few) };
    let arms: Vec<Vector3<f64>> = pairs.iter().map(|(place, _)| place - first).collect();
    let longest = arms.iter().fold(0.0_f64, |most, arm| most.max(arm.norm_squared()));
    let widest =
        arms.iter().flat_map(|a| arms.iter().map(move |b| a.cross(b).norm())).fold(0.0_f64, f64::max);
    if pairs.len() < 3 || widest.is_nan() || widest <= 1e-3 * longest {
        return Err(few);
    }
    let (turn, origin) = turn_and_shift(pairs).ok_or(few)?;
    Ok(State { turn, origin })
}

/// The pose of a body from the marks of its targets in one camera or several, at one instant: the marks go straight into the
/// fit. `places` are the targets' places in body axes.
///
/// # Errors
/// [`SpaceFailure`] says why there is none.
pub fn space_pose_from_marks(
    places: &[SpacePoint],
    marks: &[BodyMark<'_>],
) -> Result<SpacePose, SpaceFailure> {
    if marks.iter().any(|mark| mark.target >= places.len()) {
        return Err(SpaceFailure::Input { what: "a mark names a target that the body does not have".into() });
    }
    let start =
        from_points(places, marks).or_else(|failure| from_one_camera(places, marks).ok_or(failure))?;
    let equations = |state: &State, _: &State| {
        let mut sum = Equations::none();
        for mark in marks {
            let place = vector(places[mark.target]);
            let at = state.turn * place + state.origin;
            let (residual, weight, by_point, _) = weighed(&sighting(mark), &at)?;
            sum.add(&residual, &weight, &(by_point * slopes(state, &place)));
        }
        Some(sum)
    };
    let found = settled(start, equations, moved).ok_or(SpaceFailure::Unsettled)?;
    Ok(reported(&found, 2 * marks.len()))
}

fn sighting<'a>(mark: &BodyMark<'a>) -> Sighting<'a> {
    Sighting { camera: mark.camera, seen: mark.seen, cov: mark.cov }
}

/// A start from targets that two cameras or more see.
fn from_points(places: &[SpacePoint], marks: &[BodyMark<'_>]) -> Result<State, SpaceFailure> {
    let mut pairs = Vec::new();
    for (target, place) in places.iter().enumerate() {
        let seen: Vec<Sighting<'_>> =
            marks.iter().filter(|mark| mark.target == target).map(sighting).collect();
        if let Ok(fix) = triangulate(&seen, &TriangulateOptions::default()) {
            pairs.push((vector(*place), vector(fix.at)));
        }
    }
    checked_start(&pairs)
}

/// A start from the camera that sees most targets: its pose before the body, turned round.
fn from_one_camera(places: &[SpacePoint], marks: &[BodyMark<'_>]) -> Option<State> {
    let same = |a: &BodyMark<'_>, b: &BodyMark<'_>| a.camera.pose == b.camera.pose;
    let most = marks.iter().max_by_key(|mark| marks.iter().filter(|other| same(mark, other)).count())?;
    let controls: Vec<SpaceControl> = marks
        .iter()
        .filter(|mark| same(mark, most))
        .map(|mark| SpaceControl {
            id: mark.target.to_string(),
            at: places[mark.target],
            at_cov: SpaceCov::default(),
            seen: mark.seen,
            seen_cov: mark.cov,
        })
        .collect();
    let before: CameraPose =
        camera_pose(&controls, &most.camera.lens, &PoseOptions::default()).ok()?.camera.pose;
    let here = most.camera.pose;
    let turn = here.turn().inverse() * before.turn();
    Some(State { turn, origin: vector(here.centre) - turn * vector(before.centre) })
}
