//! Tracks in space from cameras whose clocks differ: every camera sees the same smooth path at its own instants, and its time
//! offset is an unknown beside the path (Raguse & Heipke 2006, Int. Archives of Photogrammetry XXXVI-5).

use super::curve::Knots;
use super::normals::{BundleEquations, Eliminated, MarkTerms, Solution, TrackEquations};
use super::triangulate::{Sighting, TriangulateOptions, space_cov, triangulate, weighed};
use super::{SpaceFailure, start};
use crate::camera::PosedCamera;
use crate::chi2::chi2_limit;
use crate::rigid::point;
use filmgauge_quantities::{PixelCov, PixelPoint, Seconds, SpaceCov, SpacePoint, Uncertain};
use nalgebra::{DMatrix, DVector, SMatrix, SVector, Vector3};

/// Settings of [`bundle`].
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct BundleOptions {
    /// Time between the knots of a path, s; above 0. Two to five frames.
    pub knot_s: f64,
    /// Standard deviation of a point's acceleration along each axis, as a prior that fills gaps and rules out jumps from knot
    /// to knot, m/s²; above 0. Larger than any that is expected.
    pub acceleration_m_s2: f64,
    /// Whether poses may move within their covariance.
    pub moves_poses: bool,
    /// An offset whose standard uncertainty is above this cannot be told, s; above 0.
    pub greatest_offset_u_s: f64,
    /// Residuals this many times their doubt are refused; 1 or more.
    pub greatest_ratio: f64,
}

impl Default for BundleOptions {
    fn default() -> Self {
        Self {
            knot_s: 0.004,
            acceleration_m_s2: 3000.0,
            moves_poses: true,
            greatest_offset_u_s: 0.002,
            greatest_ratio: 10.0,
        }
    }
}

impl BundleOptions {
    /// Whether every setting is in its range.
    ///
    /// # Errors
    /// [`crate::GeometryError::Setting`] names the first that is not.
    pub fn check(&self) -> Result<(), crate::GeometryError> {
        let above = f64::MIN_POSITIVE;
        for (setting, value, range, rule) in [
            ("knot_s", self.knot_s, above..=10.0, "it must be above 0 s, up to 10 s"),
            ("acceleration_m_s2", self.acceleration_m_s2, above..=1e9, "it must be above 0 m/s²"),
            (
                "greatest_offset_u_s",
                self.greatest_offset_u_s,
                above..=10.0,
                "it must be above 0 s, up to 10 s",
            ),
            ("greatest_ratio", self.greatest_ratio, 1.0..=1e6, "it must be 1 or more"),
        ] {
            if !range.contains(&value) {
                return Err(crate::GeometryError::Setting { setting, value, rule });
            }
        }
        Ok(())
    }
}

/// One mark of a track.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct CameraMark {
    /// The camera, an index into the list.
    pub camera: usize,
    /// The instant on that camera's own clock, s.
    pub time_s: f64,
    /// Where it is seen, stored px.
    pub seen: PixelPoint,
    /// Covariance of the mark, px².
    pub cov: PixelCov,
}

/// One point's marks of all cameras.
#[derive(Debug, Clone, PartialEq)]
pub struct SpaceTrack {
    /// The point's name.
    pub id: String,
    /// Its marks, in any order.
    pub marks: Vec<CameraMark>,
}

/// Paths in space, and the clocks that make them one.
#[derive(Debug, Clone, PartialEq)]
pub struct Bundle {
    /// What each camera's clock reads more than the first camera's; 0 for the first.
    pub offsets: Vec<Uncertain<Seconds>>,
    /// The cameras, moved within their poses' covariance where that was asked for; their covariance is what is left of it.
    pub cameras: Vec<PosedCamera>,
    /// Sum of the squared residuals of all marks over their covariances.
    pub chi2: f64,
    /// Coordinates of the marks.
    pub n_coordinates: usize,
    /// Unknowns that were found from them.
    pub n_unknowns: usize,
    /// Factor on all covariances, above 1 where the residuals are larger than the marks' doubt.
    pub cov_factor: f64,
    paths: Vec<Path>,
    shared_cov: DMatrix<f64>,
}

/// A point of a path.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct TrackPoint {
    /// Where it is.
    pub at: SpacePoint,
    /// Its covariance, from marks, offsets and, where they may move, poses.
    pub cov: SpaceCov,
    /// Its velocity along x, y, z, m/s.
    pub velocity_m_s: [f64; 3],
}

#[derive(Debug, Clone, PartialEq)]
struct Path {
    id: String,
    knots: Knots,
    seen_s: [f64; 2],
    coefficients: DVector<f64>,
    eliminated: Option<Eliminated>,
}

/// The state of the steps.
#[derive(Clone)]
struct State {
    offsets_s: Vec<f64>,
    poses: Vec<SVector<f64, 6>>,
    paths: Vec<Path>,
}

/// Steps allowed; from triangulated starts five to ten suffice.
const MOST_STEPS: usize = 60;
/// A fall of χ² by less, or by less than this share of it, is none.
const SMALL_CHI2: f64 = 1e-9;

/// The paths of points and the time offset of every camera but the first, from marks of two cameras or more.
///
/// A path is a cubic spline; a camera's mark at its own instant belongs to the path at that instant less the camera's offset.
/// Settings are taken to be in range: see [`BundleOptions::check`].
///
/// # Errors
/// [`SpaceFailure`] says why there is none; in particular [`SpaceFailure::Offset`] where the points' motion does not tell a
/// camera's offset.
pub fn bundle(
    cameras: &[PosedCamera],
    tracks: &[SpaceTrack],
    options: &BundleOptions,
) -> Result<Bundle, SpaceFailure> {
    check(cameras, tracks)?;
    let paths: Result<Vec<Path>, SpaceFailure> =
        tracks.iter().map(|track| first_path(cameras, track, options)).collect();
    let mut state = State {
        offsets_s: vec![0.0; cameras.len()],
        poses: vec![SVector::zeros(); cameras.len()],
        paths: paths?,
    };
    let task = Task { cameras, tracks, options, shared: Shared::of(cameras, options) };
    let mut here = task.equations(&state).ok_or(SpaceFailure::Behind)?;
    let mut damping = 1e-6;
    for _ in 0..MOST_STEPS {
        let before = here.chi2;
        let Some(solution) = here.solved(damping) else { return Err(task.unfixed(&state)) };
        let next = task.moved(&state, &solution);
        let there = task.equations(&next);
        match there.filter(|there| there.chi2 <= before + SMALL_CHI2 * before.max(1.0)) {
            Some(there) => {
                let is_settled = (before - there.chi2).abs() <= SMALL_CHI2 * before.max(1.0);
                state = next;
                here = there;
                damping = (damping * 0.1).max(1e-12);
                if is_settled {
                    return task.reported(state, here);
                }
            }
            None if damping > 1e9 => break,
            None => {
                damping *= 10.0;
                here = task.equations(&state).ok_or(SpaceFailure::Behind)?;
            }
        }
    }
    Err(task.unfixed(&state))
}

fn check(cameras: &[PosedCamera], tracks: &[SpaceTrack]) -> Result<(), SpaceFailure> {
    if cameras.len() < 2 {
        return Err(SpaceFailure::TooFewCameras { n: cameras.len() });
    }
    let input = |what: String| Err(SpaceFailure::Input { what });
    if tracks.is_empty() {
        return input("no track is given".into());
    }
    for track in tracks {
        for mark in &track.marks {
            let cov = &mark.cov;
            let numbers = [mark.time_s, mark.seen.x, mark.seen.y, cov.xx, cov.xy, cov.yy];
            if mark.camera >= cameras.len() || !numbers.iter().all(|value| value.is_finite()) {
                return input(format!("a mark of {} has no camera, or is not a number", track.id));
            }
            if !(cov.xx > 0.0 && cov.xx * cov.yy - cov.xy * cov.xy > 0.0) {
                return input(format!("the covariance of a mark of {} is not positive", track.id));
            }
        }
    }
    for camera in 0..cameras.len() {
        if !tracks.iter().any(|track| track.marks.iter().any(|mark| mark.camera == camera)) {
            return input(format!("camera {} sees none of the tracks", camera + 1));
        }
    }
    Ok(())
}

/// A path through the places that the cameras give when their clocks are taken as one.
fn first_path(
    cameras: &[PosedCamera],
    track: &SpaceTrack,
    options: &BundleOptions,
) -> Result<Path, SpaceFailure> {
    let of = |camera: usize| -> Vec<&CameraMark> {
        let mut marks: Vec<&CameraMark> = track.marks.iter().filter(|mark| mark.camera == camera).collect();
        marks.sort_by(|a, b| a.time_s.total_cmp(&b.time_s));
        marks
    };
    let by_camera: Vec<Vec<&CameraMark>> = (0..cameras.len()).map(of).collect();
    let mut places: Vec<(f64, Vector3<f64>)> = Vec::new();
    let mut last = SpaceFailure::TooFewCameras { n: 1 };
    for (first, marks) in by_camera.iter().enumerate() {
        for mark in marks {
            let others = by_camera.iter().enumerate().skip(first + 1);
            let seen = others.filter_map(|(other, marks)| Some((other, start::between(marks, mark.time_s)?)));
            let mut sightings = vec![Sighting { camera: &cameras[first], seen: mark.seen, cov: mark.cov }];
            sightings.extend(seen.map(|(other, seen)| Sighting {
                camera: &cameras[other],
                seen,
                cov: mark.cov,
            }));
            if sightings.len() > 1 {
                match triangulate(&sightings, &TriangulateOptions::default()) {
                    Ok(fix) => places.push((mark.time_s, Vector3::from(fix.at.xyz()))),
                    Err(failure) => last = failure,
                }
            }
        }
    }
    let ends = |times: &mut dyn Iterator<Item = f64>| {
        times.fold([f64::INFINITY, f64::NEG_INFINITY], |ends, time| [ends[0].min(time), ends[1].max(time)])
    };
    let [start_s, end_s] = ends(&mut track.marks.iter().map(|mark| mark.time_s));
    let knots = Knots::over(start_s, end_s, options.knot_s);
    let coefficients = start::through(&knots, &places, options.acceleration_m_s2).ok_or(last)?;
    let seen_s = ends(&mut places.iter().map(|(time_s, _)| *time_s));
    Ok(Path { id: track.id.clone(), knots, seen_s, coefficients, eliminated: None })
}

impl Path {
    fn place(&self, first: usize, weights: &[f64; 4]) -> Vector3<f64> {
        let coefficient = |k: usize| self.coefficients.fixed_rows::<3>(3 * (first + k)).into_owned();
        (0..4).map(|k| coefficient(k) * weights[k]).sum()
    }
}

/// Where the shared unknowns stand: an offset for each camera but the first, then the pose of each camera that may move.
struct Shared {
    n: usize,
    offset: Vec<Option<usize>>,
    pose: Vec<Option<(usize, SMatrix<f64, 6, 6>)>>,
}

impl Shared {
    fn of(cameras: &[PosedCamera], options: &BundleOptions) -> Self {
        let offset: Vec<Option<usize>> = (0..cameras.len()).map(|camera| camera.checked_sub(1)).collect();
        let mut n = cameras.len() - 1;
        let mut pose = Vec::with_capacity(cameras.len());
        for camera in cameras {
            let cov = SMatrix::<f64, 6, 6>::from_fn(|row, column| camera.cov[row][column]);
            // A pose without doubt stays where it is.
            let weight = options.moves_poses.then(|| cov.cholesky()).flatten().map(|root| root.inverse());
            pose.push(weight.map(|weight| (n, weight)));
            n += if weight.is_some() { 6 } else { 0 };
        }
        Self { n, offset, pose }
    }
}

struct Task<'a> {
    cameras: &'a [PosedCamera],
    tracks: &'a [SpaceTrack],
    options: &'a BundleOptions,
    shared: Shared,
}

impl Task<'_> {
    fn camera(&self, state: &State, index: usize) -> PosedCamera {
        let camera = self.cameras[index];
        if self.shared.pose[index].is_none() {
            return camera;
        }
        let by = std::array::from_fn(|k| state.poses[index][k]);
        PosedCamera { pose: camera.pose.moved(&by), ..camera }
    }

    /// Normal equations at a state; `None` with a point behind a camera.
    fn equations(&self, state: &State) -> Option<BundleEquations> {
        let n = self.shared.n;
        let mut sum = BundleEquations {
            tracks: state
                .paths
                .iter()
                .map(|path| TrackEquations::zeros(path.knots.n_coefficients(), n))
                .collect(),
            shared: DMatrix::zeros(n, n),
            right: DVector::zeros(n),
            chi2: 0.0,
        };
        let cameras: Vec<PosedCamera> = (0..self.cameras.len()).map(|c| self.camera(state, c)).collect();
        for (index, (track, path)) in self.tracks.iter().zip(&state.paths).enumerate() {
            for mark in &track.marks {
                self.add_mark(&mut sum, state, &cameras, index, path, mark)?;
            }
            let bend = self.options.acceleration_m_s2 * path.knots.step_s.powi(2);
            sum.chi2 += start::add_smoothness(&mut sum.tracks[index], &path.coefficients, bend);
        }
        for (pose, place) in state.poses.iter().zip(&self.shared.pose) {
            let Some((place, weight)) = place else { continue };
            let pull = -(weight * pose);
            for row in 0..6 {
                sum.right[place + row] += pull[row];
                for column in 0..6 {
                    sum.shared[(place + row, place + column)] += weight[(row, column)];
                }
            }
            sum.chi2 += pose.dot(&(weight * pose));
        }
        Some(sum)
    }

    fn add_mark(
        &self,
        sum: &mut BundleEquations,
        state: &State,
        cameras: &[PosedCamera],
        track: usize,
        path: &Path,
        mark: &CameraMark,
    ) -> Option<()> {
        let weights = path.knots.weights(mark.time_s - state.offsets_s[mark.camera]);
        let at = path.place(weights.first, &weights.value);
        let sighting = Sighting { camera: &cameras[mark.camera], seen: mark.seen, cov: mark.cov };
        let (residual, weight, by_point, by_pose) = weighed(&sighting, &at)?;
        let mut shared = Vec::with_capacity(7);
        if let Some(place) = self.shared.offset[mark.camera] {
            shared.push((place, -(by_point * path.place(weights.first, &weights.rate))));
        }
        if let Some((place, _)) = self.shared.pose[mark.camera] {
            shared.extend((0..6).map(|k| (place + k, by_pose.column(k).into_owned())));
        }
        let (first, value) = (weights.first, weights.value);
        sum.add(track, &MarkTerms { residual, weight, by_point, first, value, shared: &shared });
        Some(())
    }

    fn moved(&self, state: &State, solution: &Solution) -> State {
        let mut next = state.clone();
        for camera in 0..self.cameras.len() {
            if let Some(place) = self.shared.offset[camera] {
                next.offsets_s[camera] += solution.shared[place];
            }
            if let Some((place, _)) = self.shared.pose[camera] {
                next.poses[camera] += solution.shared.fixed_rows::<6>(place);
            }
        }
        for (path, step) in next.paths.iter_mut().zip(&solution.tracks) {
            path.coefficients += step;
        }
        next
    }

    /// Why the equations fix nothing: an offset that a touch of damping shows to be open, or no reason known.
    fn unfixed(&self, state: &State) -> SpaceFailure {
        let open = |damping: f64| {
            let solution = self.equations(state)?.solved(damping)?;
            let is_open = |camera: &usize| {
                self.shared.offset[*camera].is_some_and(|place| {
                    let u2 = solution.cov[(place, place)];
                    u2.is_nan() || u2 > self.options.greatest_offset_u_s.powi(2)
                })
            };
            (1..self.cameras.len()).find(is_open)
        };
        let camera = [0.0, 1e-9, 1e-6].into_iter().find_map(open);
        let still = (1..self.cameras.len()).find(|&camera| !self.moves(state, camera));
        still.or(camera).map_or(SpaceFailure::Unsettled, |camera| SpaceFailure::Offset { camera: camera + 1 })
    }

    /// Whether any point moves while a camera sees it.
    fn moves(&self, state: &State, camera: usize) -> bool {
        self.tracks.iter().zip(&state.paths).any(|(track, path)| {
            track.marks.iter().filter(|mark| mark.camera == camera).any(|mark| {
                let weights = path.knots.weights(mark.time_s - state.offsets_s[camera]);
                path.place(weights.first, &weights.rate).norm() > 1e-9
            })
        })
    }

    fn reported(&self, state: State, here: BundleEquations) -> Result<Bundle, SpaceFailure> {
        let n_marks: usize = self.tracks.iter().map(|track| track.marks.len()).sum();
        let chi2 = here.chi2;
        let Some(solution) = here.solved(0.0) else { return Err(self.unfixed(&state)) };
        let n_coefficients: usize = state.paths.iter().map(|path| path.coefficients.len()).sum();
        let n_unknowns = n_coefficients + self.cameras.len() - 1;
        // Smoothness and poses bring as many pseudo-observations as unknowns beyond the straight lines.
        let n_spare = (2 * n_marks).saturating_sub(self.cameras.len() - 1 + 6 * state.paths.len());
        let ratio2 = if n_spare == 0 { 0.0 } else { chi2 / n_spare as f64 };
        if ratio2.sqrt() > self.options.greatest_ratio {
            return Err(SpaceFailure::Contradiction { ratio: ratio2.sqrt() });
        }
        let cov_factor = if chi2 > chi2_limit(n_spare.max(1), 3.090_232) { ratio2.max(1.0) } else { 1.0 };
        let shared_cov = &solution.cov * cov_factor;
        let mut offsets = Vec::with_capacity(self.cameras.len());
        for camera in 0..self.cameras.len() {
            let u_s =
                self.shared.offset[camera].map_or(0.0, |place| shared_cov[(place, place)].max(0.0).sqrt());
            if u_s.is_nan() || u_s > self.options.greatest_offset_u_s {
                return Err(SpaceFailure::Offset { camera: camera + 1 });
            }
            offsets.push(Uncertain::new(Seconds::from_s(state.offsets_s[camera]), Seconds::from_s(u_s)));
        }
        let cameras =
            (0..self.cameras.len()).map(|index| self.left_over(&state, index, &shared_cov)).collect();
        let mut paths = state.paths;
        for (path, eliminated) in paths.iter_mut().zip(solution.eliminated) {
            path.eliminated = Some(eliminated);
        }
        let n_coordinates = 2 * n_marks;
        Ok(Bundle { offsets, cameras, chi2, n_coordinates, n_unknowns, cov_factor, paths, shared_cov })
    }

    /// A camera with its pose moved, and the covariance that is left.
    fn left_over(&self, state: &State, index: usize, shared_cov: &DMatrix<f64>) -> PosedCamera {
        let mut camera = self.camera(state, index);
        if let Some((place, _)) = self.shared.pose[index] {
            camera.cov = std::array::from_fn(|row| {
                std::array::from_fn(|column| shared_cov[(place + row, place + column)])
            });
        }
        camera
    }
}

impl Bundle {
    /// Names of the tracks, in the order given.
    pub fn ids(&self) -> impl Iterator<Item = &str> {
        self.paths.iter().map(|path| path.id.as_str())
    }

    /// A track's point at an instant of the first camera's clock, s; `None` for no such track, or outside the time in which two
    /// cameras see it.
    #[must_use]
    pub fn at(&self, track: usize, time_s: f64) -> Option<TrackPoint> {
        let path = self.paths.get(track)?;
        if !(path.seen_s[0]..=path.seen_s[1]).contains(&time_s) {
            return None;
        }
        let weights = path.knots.weights(time_s);
        let eliminated = path.eliminated.as_ref()?;
        // The shared covariance holds the factor already; the track's own is multiplied with it.
        let shared = &self.shared_cov / self.cov_factor;
        let cov = eliminated.cov_of(weights.first, &weights.value, &shared) * self.cov_factor;
        Some(TrackPoint {
            at: point(path.place(weights.first, &weights.value)),
            cov: space_cov(&cov),
            velocity_m_s: path.place(weights.first, &weights.rate).into(),
        })
    }
}
