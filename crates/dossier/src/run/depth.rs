//! How a body moves along a camera's line of sight, as another camera sees it: its targets come nearer, and its turn
//! foreshortens it. Marks are brought to where they would lie on a body that is not turned.

mod instant;
pub(super) mod told;

use super::budget::Budgeted;
use super::evaluate::{BodyState, Inputs};
use super::shutter::ImageMark;
use super::systematic::Shown;
use crate::document::Role;
use crate::plan::UNKNOWN_OFFSET_U_M;
use filmgauge_geometry::{GeometryError, PlaneMap, PlaneOf};
use filmgauge_motion::Smoothed;
use filmgauge_quantities::{BodyId, Length, PlanePoint, ViewPlane};
pub(crate) use instant::Beside;
use instant::InDepth;
use std::sync::Arc;

/// What of a body's motion along the line of sight is doubtful.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub(crate) enum DepthDoubt {
    /// How far it came nearer.
    Nearer,
    /// How far it turned.
    Turn,
    /// Where along the path the other camera's point of it lies.
    Place,
    /// How far beside that point its targets here stand.
    Beside,
}

impl DepthDoubt {
    pub(crate) const ALL: [Self; 4] = [Self::Nearer, Self::Turn, Self::Place, Self::Beside];
}

/// A body's motion along the line of sight, from contact on.
#[derive(Debug, Clone)]
pub(crate) struct Depth {
    pub(crate) body: BodyId,
    seen: Arc<Seen>,
    /// Each doubt, moved by so many standard uncertainties.
    moved: [f64; 4],
}

/// As the other camera saw it.
#[derive(Debug)]
struct Seen {
    x: Smoothed,
    across: Smoothed,
    angle: Option<Smoothed>,
    /// Standard uncertainties of place across and angle at the other camera's frames.
    across_u_m: Vec<f64>,
    angle_u_rad: Vec<f64>,
    /// +1 where the other camera's second axis points towards this camera.
    towards: f64,
    /// x here less x there, m, and its standard uncertainty.
    x_shift: (f64, f64),
    at_contact: [f64; 2],
    contact_s: f64,
    /// Where this camera's plane lies across the other's, m; `None` where that is not told.
    plane_across_m: Option<f64>,
    /// How far to the left of the other camera's point the body's own point stands here, m.
    left_m: f64,
    /// Standard uncertainty of how far beside that point a target stands, m.
    beside_u_m: f64,
}

impl Depth {
    /// From the other camera's motion of a body; `None` for one that it does not tell.
    pub(crate) fn of(
        inputs: &Inputs<'_>,
        map: &PlaneMap,
        other: &Budgeted<'_>,
        body: &BodyState,
    ) -> Option<Self> {
        let from = inputs.camera.depth_from.as_ref()?;
        let (id, motion) = (body.id.to_string(), &body.motion);
        let n = motion.times_s.len();
        let own = |curve: &Smoothed| {
            let variances: Vec<f64> = curve.covs.iter().map(|cov| cov[0][0]).collect();
            move |frame: usize| variances.get(frame).copied().unwrap_or(0.0)
        };
        let across_u_m = other.u_of(&id, Shown::Z(0), own(&motion.z), n);
        let angle_u_rad = motion
            .angle
            .as_ref()
            .map_or_else(Vec::new, |angle| other.u_of(&id, Shown::Angle(0), own(angle), n));
        let contact_s = other.motion.contact_s();
        let mut seen = Seen {
            x: motion.x.clone(),
            across: motion.z.clone(),
            angle: motion.angle.clone(),
            across_u_m,
            angle_u_rad,
            towards: towards(inputs.camera.view, map)?,
            x_shift: (-from.x_m, from.u_m),
            at_contact: [0.0; 2],
            contact_s,
            plane_across_m: from.across_m,
            left_m: middle_left_m(inputs, body),
            beside_u_m: if from.across_m.is_some() { from.u_m } else { UNKNOWN_OFFSET_U_M },
        };
        seen.at_contact =
            [value(&seen.across, contact_s), seen.angle.as_ref().map_or(0.0, |it| value(it, contact_s))];
        Some(Self { body: body.id.clone(), seen: Arc::new(seen), moved: [0.0; 4] })
    }

    /// With one doubt moved by so many standard uncertainties.
    pub(crate) fn moved(mut self, doubt: DepthDoubt, times: f64) -> Self {
        self.moved[doubt as usize] += times;
        self
    }

    /// At an instant; outside the other camera's film as at its nearer end.
    pub(crate) fn at(&self, time_s: f64) -> InDepth {
        let seen = &self.seen;
        let u = |list: &[f64], doubt: DepthDoubt| {
            let frame = seen.x.times_s.partition_point(|&frame_s| frame_s < time_s);
            self.moved[doubt as usize] * list.get(frame).or(list.last()).copied().unwrap_or(0.0)
        };
        let [across, angle] = seen.at_contact;
        let turned = seen.angle.as_ref().map_or(0.0, |angle| value(angle, time_s));
        let turned = turned + u(&seen.angle_u_rad, DepthDoubt::Turn);
        let nearer_m =
            seen.towards * (value(&seen.across, time_s) - across + u(&seen.across_u_m, DepthDoubt::Nearer));
        InDepth {
            x_m: value(&seen.x, time_s)
                + seen.x_shift.0
                + self.moved[DepthDoubt::Place as usize] * seen.x_shift.1,
            nearer_m,
            towards: seen.towards,
            angles_rad: [turned, angle],
            beside: Beside::Body(seen.left_m),
        }
    }

    /// The same for a target whose plane lies so far in front of the board at contact. Where it is not told how this camera's
    /// plane lies across the other's, the target is taken to stand in line with the body's own point.
    pub(crate) fn of_target(&self, time_s: f64, offset: Length) -> InDepth {
        let seen = &self.seen;
        let moved_m = self.moved[DepthDoubt::Beside as usize] * seen.beside_u_m;
        let beside = match seen.plane_across_m {
            Some(plane_m) => {
                Beside::Path(plane_m + seen.towards * offset.as_m() - seen.at_contact[0] + moved_m)
            }
            None => Beside::Body(seen.left_m + moved_m),
        };
        InDepth { beside, ..self.at(time_s) }
    }

    /// How a target stands beside the followed point, from its last mark before contact: where it deforms afterwards, it
    /// slides along the body. Without a mark there, as its plane offset tells.
    pub(crate) fn settled(
        &self,
        map: &PlaneMap,
        marks: &[Option<ImageMark>],
        times_s: &[f64],
        (plane, offset): (PlaneOf, Length),
    ) -> Beside {
        let before = times_s.partition_point(|&time_s| time_s <= self.seen.contact_s).min(marks.len());
        let told = |frame: usize| self.of_target(times_s[frame], offset);
        let settled = (0..before).rev().find_map(|frame| {
            let mark = told(frame).unfolded(map, marks[frame]?, plane).ok()?;
            Some(told(frame).settled(mark.point.x_m))
        });
        settled.unwrap_or_else(|| self.of_target(self.seen.contact_s, offset).beside)
    }

    /// First and last instant that the other camera tells, s.
    pub(crate) fn interval_s(&self) -> [f64; 2] {
        let times_s = &self.seen.x.times_s;
        [times_s.first().copied().unwrap_or(0.0), times_s.last().copied().unwrap_or(0.0)]
    }

    /// Whether a doubt is not nothing.
    pub(crate) fn is_doubtful(&self, doubt: DepthDoubt) -> bool {
        match doubt {
            DepthDoubt::Nearer => self.seen.across_u_m.iter().any(|u| *u > 0.0),
            DepthDoubt::Turn => self.seen.angle_u_rad.iter().any(|u| *u > 0.0),
            DepthDoubt::Place => self.seen.x_shift.1 > 0.0,
            DepthDoubt::Beside => self.seen.angle.is_some() && self.seen.beside_u_m > 0.0,
        }
    }
}

/// How far to the left of the point that the other camera follows the body's middle stands, where the dossier tells; else
/// the targets there are taken to stand about the middle.
fn middle_left_m(inputs: &Inputs<'_>, body: &BodyState) -> f64 {
    let plan = inputs.plan.body(&body.id).and_then(|plan| plan.middle_from.as_ref());
    let middle = plan.filter(|_| inputs.camera.view == ViewPlane::Side).and_then(|(target, step)| {
        let place = body.places.iter().find(|(id, _)| id == target)?.1;
        Some((place + *step).z_m)
    });
    middle.unwrap_or(0.0)
}

/// A curve's value; beyond its ends that at the end.
fn value(curve: &Smoothed, time_s: f64) -> f64 {
    let (Some(&first), Some(&last)) = (curve.times_s.first(), curve.times_s.last()) else { return 0.0 };
    curve.at(time_s.clamp(first, last)).map_or(0.0, |(state, _)| state[0])
}

/// Which way the other camera's second axis points. Overhead, up is towards the camera. From the side, the left of the
/// path is towards the camera where x runs to the left in the picture. `None` where the plane is not in view.
fn towards(view: ViewPlane, map: &PlaneMap) -> Option<f64> {
    if view == ViewPlane::Overhead {
        return Some(1.0);
    }
    let at = |x_m| map.image_from_plane(PlanePoint::new(x_m, 0.0), PlaneOf::default()).ok();
    Some(if at(1.0)?.x > at(0.0)?.x { -1.0 } else { 1.0 })
}

/// Depths of the moving bodies that another camera tells.
pub(crate) fn depths(inputs: &Inputs<'_>, other: &Budgeted<'_>) -> Result<Vec<Depth>, GeometryError> {
    let map = inputs.calibration.plane_map()?;
    let moving = other.motion.bodies.iter().filter(|body| body.role != Role::Ground);
    Ok(moving.filter_map(|body| Depth::of(inputs, &map, other, body)).collect())
}

#[cfg(test)]
mod tests;
