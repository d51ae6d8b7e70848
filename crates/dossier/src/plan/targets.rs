//! Plans targets: which camera, which body, where to start.

use super::bodies::known_body;
use super::cameras::CameraPlan;
use super::{id, names, within};
use crate::document::TargetEntry;
use crate::error::DossierError;
use crate::lines::Step::{Item, Key};
use crate::load::Dossier;
use filmgauge_geometry::Reference;
use filmgauge_quantities::{BodyId, FrameNumber, Length, PixelPoint, TargetId, TargetKind, Uncertain};

/// One target in one camera.
#[derive(Debug, Clone, PartialEq)]
pub struct TargetPlan {
    /// Place in the dossier, for messages.
    pub index: usize,
    /// Target id.
    pub id: TargetId,
    /// Kind.
    pub kind: TargetKind,
    /// Body that carries it.
    pub body: BodyId,
    /// Frame in which it is first seen.
    pub start_frame: FrameNumber,
    /// Its place there, within a few pixels.
    pub start: PixelPoint,
    /// Radius there, px.
    pub radius_px: f64,
    /// Distance of its plane from the board's, towards the camera. The doubt is shared by its body.
    pub offset: Uncertain<Length>,
    /// Whether the dossier states the offset.
    pub offset_is_stated: bool,
    /// In the crush zone: not used for its body's pose.
    pub deforms: bool,
}

pub(super) fn plan_targets(dossier: &Dossier, cameras: &mut [CameraPlan]) -> Result<(), DossierError> {
    for (index, entry) in dossier.document.target.iter().enumerate() {
        let at = |key| [Key("target"), Item(index), Key(key)];
        let Some(camera) = cameras.iter_mut().find(|camera| camera.id.as_str() == entry.camera) else {
            let there = names(dossier.document.camera.iter().map(|camera| camera.id.as_str()));
            let what = format!("target {} names camera \"{}\", which does not exist", entry.id, entry.camera);
            return Err(dossier.fault(&at("camera"), what, format!("Name a camera ({there})")));
        };
        let target = plan_target(dossier, index, entry)?;
        if camera.targets.iter().any(|other| other.id == target.id) {
            let what = format!("camera {} has two targets {}", entry.camera, entry.id);
            return Err(dossier.fault(&at("id"), what, "Rename one".into()));
        }
        let mut target = target;
        check_offset(dossier, index, camera, &mut target)?;
        camera.targets.push(target);
    }
    Ok(())
}

/// An offset needs the camera's distance, and stays in front of the camera. One that is not stated
/// gets the doubt of lying anywhere within a vehicle's width, where the distance is known.
fn check_offset(
    dossier: &Dossier,
    index: usize,
    camera: &CameraPlan,
    target: &mut TargetPlan,
) -> Result<(), DossierError> {
    let path = [Key("target"), Item(index), Key("plane_offset_m")];
    let offset_m = target.offset.value.as_m();
    let (distance, is_told) = match &camera.scale.reference {
        Reference::Board(board) => (board.distance, camera.lens.is_some()),
        Reference::Points(points) => (points.distance, camera.lens.is_some()),
        Reference::Pose(_) => (None, true),
    };
    match distance {
        None if offset_m != 0.0 && !is_told => {
            let what = format!("target {} lies {offset_m} m off the plane", target.id);
            let remedy =
                format!("Give distance_m (camera to plane), or a lens file, for camera {}", camera.id);
            return Err(dossier.fault(&path, what, remedy));
        }
        Some(distance) if offset_m >= distance.value.as_m() => {
            let what = format!("target {} lies at or behind the camera", target.id);
            return Err(dossier.fault(&path, what, "Mend the offset or distance".into()));
        }
        _ => {}
    }
    if !target.offset_is_stated && (is_told || distance.is_some()) {
        target.offset.u = Length::from_m(target.offset.u.as_m().max(UNKNOWN_OFFSET_U_M));
    }
    Ok(())
}

/// Standard uncertainty of a plane offset that nobody stated, m: anywhere within a vehicle's width of 1.8 m (common practice,
/// no source), 1.8 / √12.
pub(crate) const UNKNOWN_OFFSET_U_M: f64 = 0.52;

/// The climb point must be a target there is.
pub(super) fn plan_climb_point(dossier: &Dossier) -> Result<Option<TargetId>, DossierError> {
    let Some(name) = &dossier.document.test.climb_point else { return Ok(None) };
    let path = [Key("test"), Key("climb_point")];
    if !dossier.document.target.iter().any(|target| target.id == *name) {
        let there = names(dossier.document.target.iter().map(|target| target.id.as_str()));
        let what = format!("the climb point names target {name}, which does not exist");
        return Err(dossier.fault(&path, what, format!("Name a target of the striking body ({there})")));
    }
    id(dossier, &path, TargetId::new(name)).map(Some)
}

fn plan_target(dossier: &Dossier, index: usize, entry: &TargetEntry) -> Result<TargetPlan, DossierError> {
    let at = |key| [Key("target"), Item(index), Key(key)];
    for value in entry.start.px {
        within(dossier, &[Key("target"), Item(index), Key("start"), Key("px")], value, -0.5, 1e5)?;
    }
    // Of a patch of texture it is half the side.
    let most_px = if entry.kind == TargetKind::Patch { 200.0 } else { 500.0 };
    within(dossier, &at("radius_px"), entry.radius_px, 3.0, most_px)?;
    within(dossier, &at("plane_offset_m"), entry.plane_offset_m.unwrap_or(0.0), -1e4, 1e4)?;
    within(dossier, &at("plane_offset_uncertainty_m"), entry.plane_offset_uncertainty_m, 0.0, 100.0)?;
    Ok(TargetPlan {
        index,
        id: id(dossier, &at("id"), TargetId::new(&entry.id))?,
        kind: entry.kind,
        body: known_body(dossier, &at("body"), &entry.body)?,
        start_frame: FrameNumber(entry.start.frame),
        start: PixelPoint::new(entry.start.px[0], entry.start.px[1]),
        radius_px: entry.radius_px,
        offset: Uncertain::new(
            Length::from_m(entry.plane_offset_m.unwrap_or(0.0)),
            Length::from_m(entry.plane_offset_uncertainty_m),
        ),
        offset_is_stated: entry.plane_offset_m.is_some(),
        deforms: dossier.document.crush.iter().any(|crush| crush.target == entry.id),
    })
}
