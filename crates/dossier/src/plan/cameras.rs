//! Plans cameras: clock, scale, lens, targets.

use super::clocks::{self, SpeedPlan, SteadyPlan, ZeroPlan};
use super::depth::{DepthFromPlan, plan_depth_from};
use super::reference::{ReferencePlan, plan_reference};
use super::targets::{TargetPlan, plan_targets};
use super::{id, instants, within};
use crate::document::{CameraEntry, SpeedEntry, ZeroEntry};
use crate::error::DossierError;
use crate::lines::Step::{Item, Key};
use crate::load::Dossier;
use crate::missing::camera_lacks;
use filmgauge_footage::FieldOrder;
use filmgauge_geometry::LensFile;
use filmgauge_quantities::{CameraId, ViewPlane};
use filmgauge_timing::RollingShutter;

/// One camera.
#[derive(Debug, Clone)]
pub struct CameraPlan {
    /// Camera id.
    pub id: CameraId,
    /// Place in the dossier, for messages.
    pub index: usize,
    /// Footage as written in the dossier.
    pub footage: String,
    /// Plane that it looks at.
    pub view: ViewPlane,
    /// Film speed.
    pub speed: SpeedPlan,
    /// Length of an exposure, s.
    pub exposure_s: f64,
    /// Time zero.
    pub zero: ZeroPlan,
    /// How much later each row is exposed than the one above it.
    pub shutter: RollingShutter,
    /// Fields of interlaced film as frames of their own.
    pub fields: Option<FieldOrder>,
    /// What a frame's own shift and turn are removed by.
    pub steady: Option<SteadyPlan>,
    /// Doubt that coding with loss adds to a mark, px, where stated.
    pub compression_u_px: Option<f64>,
    /// What its metres rest on.
    pub scale: ReferencePlan,
    /// The camera that tells how bodies move along this one's line of sight.
    pub depth_from: Option<DepthFromPlan>,
    /// Lens, where a file is given.
    pub lens: Option<LensFile>,
    /// Lens file as written in the dossier.
    pub lens_file: Option<String>,
    /// Targets in the dossier's order.
    pub targets: Vec<TargetPlan>,
    /// Stretches whose marks are set aside, in the dossier's order.
    pub gaps: Vec<instants::GapPlan>,
}

pub(super) fn plan_cameras(dossier: &Dossier) -> Result<Vec<CameraPlan>, DossierError> {
    let entries = &dossier.document.camera;
    if entries.is_empty() {
        let remedy = "Add a [[camera]] with its footage, speed, zero and board".into();
        return Err(dossier.fault(&[], "the dossier names no camera".into(), remedy));
    }
    let mut cameras: Vec<CameraPlan> = Vec::new();
    for (index, entry) in entries.iter().enumerate() {
        let camera = plan_camera(dossier, index, entry)?;
        if cameras.iter().any(|other| other.id == camera.id) {
            let path = [Key("camera"), Item(index), Key("id")];
            let what = format!("camera {} is listed twice", camera.id);
            return Err(dossier.fault(&path, what, "Rename one".into()));
        }
        cameras.push(camera);
    }
    plan_targets(dossier, &mut cameras)?;
    instants::plan_gaps(dossier, &mut cameras)?;
    Ok(cameras)
}

fn plan_camera(dossier: &Dossier, index: usize, entry: &CameraEntry) -> Result<CameraPlan, DossierError> {
    let at = |key| [Key("camera"), Item(index), Key(key)];
    let camera_id = id(dossier, &at("id"), CameraId::new(&entry.id))?;
    let need = needed(dossier, index, entry)?;
    let speed = clocks::plan_speed(dossier, index, need.speed)?;
    let rate = speed.frames_per_s;
    within(dossier, &at("exposure_s"), need.exposure_s, 0.0, 1.0 / rate)?;
    within(dossier, &at("row_time_s"), entry.row_time_s, -0.1, 0.1)?;
    within(dossier, &at("row_time_uncertainty_s"), entry.row_time_uncertainty_s, 0.0, 0.1)?;
    if let Some(u_px) = entry.compression_u_px {
        within(dossier, &at("compression_u_px"), u_px, 0.0, 10.0)?;
    }
    Ok(CameraPlan {
        id: camera_id,
        index,
        footage: entry.footage.clone(),
        view: entry.view,
        speed,
        exposure_s: need.exposure_s,
        zero: clocks::plan_zero(dossier, index, need.zero, rate)?,
        shutter: RollingShutter { row_s: entry.row_time_s, row_u_s: entry.row_time_uncertainty_s },
        fields: clocks::plan_fields(entry.fields),
        steady: entry
            .steady
            .as_ref()
            .map(|steady| clocks::plan_steady(dossier, index, steady))
            .transpose()?,
        compression_u_px: entry.compression_u_px,
        depth_from: plan_depth_from(dossier, index, &need.scale)?,
        scale: need.scale,
        lens: entry.lens.as_deref().map(|file| read_lens(dossier, index, file)).transpose()?,
        lens_file: entry.lens.clone(),
        targets: Vec::new(),
        gaps: Vec::new(),
    })
}

/// The lines of a camera that may be left out while a dossier is filled in, but not when it is measured.
struct Needed<'a> {
    speed: &'a SpeedEntry,
    exposure_s: f64,
    zero: &'a ZeroEntry,
    scale: ReferencePlan,
}

fn needed<'a>(dossier: &Dossier, index: usize, entry: &'a CameraEntry) -> Result<Needed<'a>, DossierError> {
    let scale = plan_reference(dossier, index, entry)?;
    if let (Some(speed), Some(exposure_s), Some(zero), Some(scale)) =
        (&entry.speed, entry.exposure_s, &entry.zero, scale)
    {
        return Ok(Needed { speed, exposure_s, zero, scale });
    }
    let lack = camera_lacks(entry).into_iter().next();
    let (what, remedy) =
        lack.map_or_else(Default::default, |lack| (lack.what(entry), lack.remedy.to_owned()));
    Err(dossier.fault(&[Key("camera"), Item(index)], what, remedy))
}

fn read_lens(dossier: &Dossier, index: usize, file: &str) -> Result<LensFile, DossierError> {
    let path = [Key("camera"), Item(index), Key("lens")];
    let text = std::fs::read_to_string(dossier.root.join(file)).map_err(|error| {
        let remedy = "Put the lens file there, mend the path, or remove the key".into();
        dossier.fault(&path, format!("lens file {file} cannot be read: {error}"), remedy)
    })?;
    LensFile::parse(&text, file).map_err(|source| DossierError::Geometry {
        camera: dossier.document.camera[index].id.clone(),
        source,
    })
}
