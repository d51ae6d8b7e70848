//! Plans what gives a camera its scale: board, plane points or pose points, further known lengths, inclined paths.

use super::bodies::known_body;
use super::within;
use crate::document::{
    BoardEntry, CameraEntry, InclinedEntry, LengthEntry, LengthPurpose, PlaneEntry, PoseEntry,
};
use crate::error::DossierError;
use crate::lines::Step::{self, Item, Key};
use crate::load::Dossier;
use filmgauge_geometry::{
    Board, HomographyOptions, KnownLength, LengthRole, PlaneControl, PlaneOf, PlanePoints, PoseOptions,
    PosePoints, Reference, SpaceControl,
};
use filmgauge_quantities::{
    Angle, BodyId, Length, PixelCov, PixelPoint, PlaneCov, PlanePoint, SpaceCov, SpacePoint, Uncertain,
};

/// What gives a camera its scale.
#[derive(Debug, Clone, PartialEq)]
pub struct ReferencePlan {
    /// Board, plane points or pose points.
    pub reference: Reference,
    /// Frame in which they were read.
    pub frame: u32,
    /// Further known lengths, in the dossier's order.
    pub lengths: Vec<KnownLength>,
    /// Bodies whose path is inclined to the plane.
    pub inclinations: Vec<(BodyId, Uncertain<Angle>)>,
}

/// A place in one camera's entry.
struct At<'a> {
    dossier: &'a Dossier,
    camera: usize,
}

impl<'a> At<'a> {
    fn path<const N: usize>(&self, steps: [Step<'a>; N]) -> Vec<Step<'a>> {
        [Key("camera"), Item(self.camera)].into_iter().chain(steps).collect()
    }

    fn within<const N: usize>(
        &self,
        steps: [Step<'a>; N],
        value: f64,
        least: f64,
        most: f64,
    ) -> Result<f64, DossierError> {
        within(self.dossier, &self.path(steps), value, least, most)
    }

    fn pixel<const N: usize>(&self, steps: [Step<'a>; N], px: [f64; 2]) -> Result<PixelPoint, DossierError> {
        for value in px {
            self.within(steps, value, -1e5, 1e5)?;
        }
        Ok(PixelPoint::new(px[0], px[1]))
    }

    fn distance(
        &self,
        table: &'a str,
        distance_m: Option<f64>,
        u_m: f64,
    ) -> Result<Option<Uncertain<Length>>, DossierError> {
        let Some(distance_m) = distance_m else { return Ok(None) };
        self.within([Key(table), Key("distance_m")], distance_m, 0.01, 1e5)?;
        let u_m = self.within([Key(table), Key("distance_uncertainty_m")], u_m, 0.0, distance_m)?;
        Ok(Some(Uncertain::new(Length::from_m(distance_m), Length::from_m(u_m))))
    }
}

/// `None` where the camera has neither board nor points yet.
pub(super) fn plan_reference(
    dossier: &Dossier,
    camera: usize,
    entry: &CameraEntry,
) -> Result<Option<ReferencePlan>, DossierError> {
    let at = At { dossier, camera };
    let given =
        [("board", entry.board.is_some()), ("plane", entry.plane.is_some()), ("pose", entry.pose.is_some())];
    let given: Vec<&str> = given.iter().filter(|(_, is_there)| *is_there).map(|(key, _)| *key).collect();
    if given.len() > 1 {
        let what = format!("camera {} has {}", entry.id, given.join(" and "));
        let remedy = "Keep the one that the scale shall rest on; further lengths go under length".into();
        return Err(dossier.fault(&at.path([Key(given[1])]), what, remedy));
    }
    let (reference, frame) = if let Some(board) = &entry.board {
        (Reference::Board(plan_board(&at, board)?), board.frame)
    } else if let Some(plane) = &entry.plane {
        (Reference::Points(plan_plane(&at, plane)?), plane.frame)
    } else if let Some(pose) = &entry.pose {
        if entry.lens.is_none() {
            let what = format!("camera {} has a pose but no lens", entry.id);
            let remedy = "Name its lens file (filmgauge lens makes one), or give points of the plane".into();
            return Err(dossier.fault(&at.path([Key("pose")]), what, remedy));
        }
        (Reference::Pose(plan_pose(&at, pose)?), pose.frame)
    } else {
        return Ok(None);
    };
    let lengths = entry.length.iter().enumerate();
    let lengths = lengths.map(|(index, length)| plan_length(&at, index, length));
    let inclined = entry.inclined.iter().enumerate();
    let inclinations = inclined.map(|(index, inclined)| plan_inclined(&at, index, inclined));
    Ok(Some(ReferencePlan {
        reference,
        frame,
        lengths: lengths.collect::<Result<_, _>>()?,
        inclinations: inclinations.collect::<Result<_, _>>()?,
    }))
}

fn plan_board(at: &At<'_>, entry: &BoardEntry) -> Result<Board, DossierError> {
    let key = |key| [Key("board"), Key(key)];
    at.within(key("length_m"), entry.length_m, 0.001, 1000.0)?;
    at.within(key("uncertainty_m"), entry.uncertainty_m, 0.0, entry.length_m)?;
    at.within(key("uncertainty_px"), entry.uncertainty_px, 0.0, 100.0)?;
    Ok(Board {
        from: at.pixel(key("from_px"), entry.from_px)?,
        to: at.pixel(key("to_px"), entry.to_px)?,
        length: Uncertain::new(Length::from_m(entry.length_m), Length::from_m(entry.uncertainty_m)),
        reading_u_px: entry.uncertainty_px,
        distance: at.distance("board", entry.distance_m, entry.distance_uncertainty_m)?,
    })
}

fn plan_plane(at: &At<'_>, entry: &PlaneEntry) -> Result<PlanePoints, DossierError> {
    let key = |key| [Key("plane"), Key(key)];
    let u_px = at.within(key("uncertainty_px"), entry.uncertainty_px, 1e-4, 100.0)?;
    let u_m = at.within(key("uncertainty_m"), entry.uncertainty_m, 0.0, 10.0)?;
    let mut controls = Vec::new();
    for (index, point) in entry.points.iter().enumerate() {
        let place = |key| [Key("plane"), Key("points"), Item(index), Key(key)];
        for value in point.m {
            at.within(place("m"), value, -1e6, 1e6)?;
        }
        controls.push(PlaneControl {
            id: point.name.clone(),
            at: PlanePoint::new(point.m[0], point.m[1]),
            at_cov: PlaneCov { xx: u_m * u_m, xz: 0.0, zz: u_m * u_m },
            seen: at.pixel(place("px"), point.px)?,
            seen_cov: PixelCov::round(u_px),
        });
    }
    let distance = at.distance("plane", entry.distance_m, entry.distance_uncertainty_m)?;
    Ok(PlanePoints { controls, distance, options: HomographyOptions::default() })
}

fn plan_pose(at: &At<'_>, entry: &PoseEntry) -> Result<PosePoints, DossierError> {
    let key = |key| [Key("pose"), Key(key)];
    let u_px = at.within(key("uncertainty_px"), entry.uncertainty_px, 1e-4, 100.0)?;
    let u_m = at.within(key("uncertainty_m"), entry.uncertainty_m, 0.0, 10.0)?;
    at.within(key("plane_at_m"), entry.plane_at_m, -1e4, 1e4)?;
    let mut controls = Vec::new();
    for (index, point) in entry.points.iter().enumerate() {
        let place = |key| [Key("pose"), Key("points"), Item(index), Key(key)];
        for value in point.m {
            at.within(place("m"), value, -1e6, 1e6)?;
        }
        let [x_m, y_m, z_m] = point.m;
        let var = u_m * u_m;
        controls.push(SpaceControl {
            id: point.name.clone(),
            at: SpacePoint::new(x_m, y_m, z_m),
            at_cov: SpaceCov([[var, 0.0, 0.0], [0.0, var, 0.0], [0.0, 0.0, var]]),
            seen: at.pixel(place("px"), point.px)?,
            seen_cov: PixelCov::round(u_px),
        });
    }
    let plane_at = Length::from_m(entry.plane_at_m);
    Ok(PosePoints { controls, plane_at, options: PoseOptions::default() })
}

fn plan_length(at: &At<'_>, index: usize, entry: &LengthEntry) -> Result<KnownLength, DossierError> {
    let key = |key| [Key("length"), Item(index), Key(key)];
    at.within(key("length_m"), entry.length_m, 0.001, 1000.0)?;
    at.within(key("uncertainty_m"), entry.uncertainty_m, 0.0, entry.length_m)?;
    at.within(key("uncertainty_px"), entry.uncertainty_px, 0.0, 100.0)?;
    at.within(key("plane_offset_m"), entry.plane_offset_m, -1e4, 1e4)?;
    let offset = PlaneOf { offset: Length::from_m(entry.plane_offset_m), ..PlaneOf::default() };
    Ok(KnownLength {
        name: entry.name.clone(),
        from: at.pixel(key("from_px"), entry.from_px)?,
        to: at.pixel(key("to_px"), entry.to_px)?,
        length: Uncertain::new(Length::from_m(entry.length_m), Length::from_m(entry.uncertainty_m)),
        reading_u_px: entry.uncertainty_px,
        role: match entry.purpose {
            LengthPurpose::Scale => LengthRole::Fit,
            LengthPurpose::Check => LengthRole::Check(offset),
        },
    })
}

fn plan_inclined(
    at: &At<'_>,
    index: usize,
    entry: &InclinedEntry,
) -> Result<(BodyId, Uncertain<Angle>), DossierError> {
    let key = |key| [Key("inclined"), Item(index), Key(key)];
    let body = known_body(at.dossier, &at.path(key("body")), &entry.body)?;
    let deg = at.within(key("deg"), entry.deg, -80.0, 80.0)?;
    let u_deg = at.within(key("uncertainty_deg"), entry.uncertainty_deg, 0.0, 45.0)?;
    let angle = |deg: f64| Angle::from_rad(deg.to_radians());
    Ok((body, Uncertain::new(angle(deg), angle(u_deg))))
}
