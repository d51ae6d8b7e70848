//! Where a body's targets sit on it: found from the quiet frames before contact, all of them together.

use crate::pose::turn_and_shift;
use crate::{BodyTracks, MotionFailure};
use filmgauge_quantities::PlanePoint;
use std::ops::Range;

/// Alternations between poses and layout; a handful suffices.
const MAX_ROUNDS: usize = 60;
/// Change of a place at which the layout has settled, m.
const SETTLED_M: f64 = 1e-8;

/// Places of a body's targets in body axes: origin at the mean of the places, angle 0 at the mean attitude of the
/// quiet frames.
#[derive(Debug, Clone, PartialEq)]
pub struct Layout {
    /// Place of each target, in the order of the tracks; `None` for a target without a usable quiet mark.
    pub places: Vec<Option<PlanePoint>>,
    /// Standard uncertainty of each place along one axis, m; 0 where there is no place.
    pub u_m: Vec<f64>,
    /// Standard uncertainty of "level", rad: the mean attitude of the quiet frames, common to all angles of the film and
    /// gone from every change of angle; `None` for a single target.
    pub level_u_rad: Option<f64>,
    /// Quiet frames used.
    pub n_frames: usize,
}

impl Layout {
    /// Number of targets with a place.
    #[must_use]
    pub fn n_places(&self) -> usize {
        self.places.iter().flatten().count()
    }

    /// Root mean square distance of the targets from the origin, m. The angle's standard uncertainty is about the
    /// marks' divided by this and by the root of their number.
    #[must_use]
    #[expect(clippy::cast_precision_loss, reason = "a handful of targets")]
    pub fn spread_m(&self) -> f64 {
        let squares: f64 =
            self.places.iter().flatten().map(|place| place.x_m.powi(2) + place.z_m.powi(2)).sum();
        (squares / self.n_places().max(1) as f64).sqrt()
    }

    /// The same places in axes turned by `angle_rad`, known to `u_rad`: the mean attitude of the quiet frames then has that
    /// angle, and the doubt of "level" grows by its.
    #[must_use]
    pub fn with_attitude(mut self, angle_rad: f64, u_rad: f64) -> Self {
        for place in self.places.iter_mut().flatten() {
            *place = place.turned(-angle_rad);
        }
        self.level_u_rad = self.level_u_rad.map(|level| level.hypot(u_rad));
        self
    }

    /// A body point given from one target, with the body level; `None` for a target without a place.
    #[must_use]
    pub fn from_target(&self, target: usize, from_target: PlanePoint) -> Option<PlanePoint> {
        self.places.get(target).copied().flatten().map(|place| place + from_target)
    }
}

/// The layout from the frames of `quiet`, in which the body may move and turn but not deform: alternating least
/// squares over poses and places, so that targets missing in some frames do not bias the others.
///
/// # Errors
/// [`MotionFailure::TooFewMarks`] where no quiet frame has a mark; [`MotionFailure::NoConvergence`] where the places
/// do not settle; faults of the tracks as [`BodyTracks::check`].
pub fn layout(tracks: &BodyTracks, quiet: Range<usize>) -> Result<Layout, MotionFailure> {
    tracks.check()?;
    let quiet = quiet.start..quiet.end.min(tracks.times_s.len());
    let mut places = first_places(tracks, quiet.clone())?;
    for _ in 0..MAX_ROUNDS {
        let next = centred(&averaged(tracks, quiet.clone(), &places));
        let change = places.iter().zip(&next).map(|(a, b)| moved(*a, *b)).fold(0.0, f64::max);
        places = next;
        if change < SETTLED_M {
            let level = levelled(tracks, quiet.clone(), &places);
            let u_m = doubts(tracks, quiet.clone(), &level);
            let level_u_rad = level_doubt(&level, &u_m);
            return Ok(Layout { places: level, u_m, level_u_rad, n_frames: quiet.len() });
        }
    }
    Err(MotionFailure::NoConvergence { what: "layout of a body's targets", steps: MAX_ROUNDS })
}

type Places = Vec<Option<PlanePoint>>;

/// Start: the frame with most marks, then every other target through the frames that share marks with it.
fn first_places(tracks: &BodyTracks, quiet: Range<usize>) -> Result<Places, MotionFailure> {
    let fullest = quiet.clone().max_by_key(|&frame| (tracks.marks_in(frame).count(), usize::MAX - frame));
    let mut places: Places = vec![None; tracks.targets.len()];
    let nothing = MotionFailure::TooFewMarks { what: "layout of a body's targets", found: 0, needed: 1 };
    let frame = fullest.ok_or(nothing.clone())?;
    for (i, mark) in tracks.marks_in(frame) {
        places[i] = Some(mark.point);
    }
    if places.iter().flatten().next().is_none() {
        return Err(nothing);
    }
    Ok(centred(&places))
}

/// Mean place of each target over the quiet frames, each frame brought into body axes by its own pose.
#[expect(clippy::cast_precision_loss, reason = "counts of frames")]
fn averaged(tracks: &BodyTracks, quiet: Range<usize>, places: &[Option<PlanePoint>]) -> Places {
    let mut sums = vec![(PlanePoint::default(), 0_usize); places.len()];
    for frame in quiet {
        let Some((angle_rad, shift)) = frame_pose(tracks, frame, places) else { continue };
        for (i, mark) in tracks.marks_in(frame) {
            sums[i] = (sums[i].0 + (mark.point - shift).turned(-angle_rad), sums[i].1 + 1);
        }
    }
    let mean = |(sum, n): (PlanePoint, usize)| {
        (n > 0).then(|| PlanePoint::new(sum.x_m / n as f64, sum.z_m / n as f64))
    };
    sums.into_iter().map(mean).collect()
}

/// Turn and shift that carry the places onto one frame's marks.
fn frame_pose(tracks: &BodyTracks, frame: usize, places: &[Option<PlanePoint>]) -> Option<(f64, PlanePoint)> {
    let pairs: Vec<(PlanePoint, PlanePoint)> =
        tracks.marks_in(frame).filter_map(|(i, mark)| places[i].map(|place| (place, mark.point))).collect();
    // One target alone leaves the turn open unless it is the only one the body has.
    let alone = pairs.len() == 1 && places.iter().flatten().count() > 1;
    if pairs.is_empty() || alone { None } else { Some(turn_and_shift(&pairs)) }
}

#[expect(clippy::cast_precision_loss, reason = "a handful of targets")]
fn centred(places: &[Option<PlanePoint>]) -> Places {
    let n = places.iter().flatten().count().max(1) as f64;
    let sum = places.iter().flatten().fold(PlanePoint::default(), |sum, &place| sum + place);
    let mean = PlanePoint::new(sum.x_m / n, sum.z_m / n);
    places.iter().map(|place| place.map(|place| place - mean)).collect()
}

/// Turned so that the mean angle over the quiet frames is 0.
#[expect(clippy::cast_precision_loss, reason = "counts of frames")]
fn levelled(tracks: &BodyTracks, quiet: Range<usize>, places: &[Option<PlanePoint>]) -> Places {
    let angles: Vec<f64> =
        quiet.filter_map(|frame| frame_pose(tracks, frame, places)).map(|(angle_rad, _)| angle_rad).collect();
    let mean = angles.iter().sum::<f64>() / angles.len().max(1) as f64;
    places.iter().map(|place| place.map(|place| place.turned(mean))).collect()
}

/// u/√n for each target, u the root mean variance of one axis.
#[expect(clippy::cast_precision_loss, reason = "counts of frames")]
fn doubts(tracks: &BodyTracks, quiet: Range<usize>, places: &[Option<PlanePoint>]) -> Vec<f64> {
    let mut sums = vec![(0.0, 0_usize); places.len()];
    for (i, mark) in quiet.flat_map(|frame| tracks.marks_in(frame)) {
        sums[i] = (sums[i].0 + 0.5 * (mark.cov.xx + mark.cov.zz), sums[i].1 + 1);
    }
    sums.iter().map(|&(sum, n)| if n > 0 { sum.sqrt() / n as f64 } else { 0.0 }).collect()
}

/// Root of the mean square place uncertainty over the root of the targets' sum of squared distances.
#[expect(clippy::cast_precision_loss, reason = "a handful of targets")]
fn level_doubt(places: &[Option<PlanePoint>], u_m: &[f64]) -> Option<f64> {
    let placed = || places.iter().zip(u_m).filter_map(|(place, u)| place.map(|place| (place, u)));
    let spread: f64 = placed().map(|(place, _)| place.x_m.powi(2) + place.z_m.powi(2)).sum();
    let mean_square = placed().map(|(_, u)| u * u).sum::<f64>() / placed().count().max(1) as f64;
    (spread > 0.0).then(|| (mean_square / spread).sqrt())
}

fn moved(a: Option<PlanePoint>, b: Option<PlanePoint>) -> f64 {
    match (a, b) {
        (Some(a), Some(b)) => (a.x_m - b.x_m).hypot(a.z_m - b.z_m),
        (None, None) => 0.0,
        _ => f64::INFINITY,
    }
}
