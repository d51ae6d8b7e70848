//! Plans cameras: clock, board, lens, targets.

use super::targets::{TargetPlan, plan_targets};
use super::{id, within};
use crate::document::{BoardEntry, CameraEntry, ZeroEntry};
use crate::error::DossierError;
use crate::lines::Step::{Item, Key};
use crate::load::Dossier;
use filmgauge_geometry::{Board, LensFile};
use filmgauge_quantities::{CameraId, Length, PixelPoint, Uncertain, ViewPlane};

/// Time zero of one camera.
#[derive(Debug, Clone, Copy, PartialEq)]
pub enum ZeroPlan {
    /// The flash seen in the film.
    Flash,
    /// A frame, possibly between two, with the standard uncertainty in s.
    Frame {
        /// Frame number.
        frame: f64,
        /// Standard uncertainty, s.
        u_s: f64,
    },
    /// First contact as found in the motion.
    Contact,
}

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
    /// True frames per second.
    pub frames_per_s: f64,
    /// Standard uncertainty of it, divided by it.
    pub speed_relative_u: f64,
    /// Where the film speed comes from.
    pub speed_source: String,
    /// Length of an exposure, s.
    pub exposure_s: f64,
    /// Time zero.
    pub zero: ZeroPlan,
    /// Doubt that coding with loss adds to a mark, px, where stated.
    pub compression_u_px: Option<f64>,
    /// Reference board.
    pub board: Board,
    /// Lens, where a file is given.
    pub lens: Option<LensFile>,
    /// Lens file as written in the dossier.
    pub lens_file: Option<String>,
    /// Targets in the dossier's order.
    pub targets: Vec<TargetPlan>,
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
    Ok(cameras)
}

fn plan_camera(dossier: &Dossier, index: usize, entry: &CameraEntry) -> Result<CameraPlan, DossierError> {
    let at = |key| [Key("camera"), Item(index), Key(key)];
    let deeper = |key, inner| [Key("camera"), Item(index), Key(key), Key(inner)];
    let camera_id = id(dossier, &at("id"), CameraId::new(&entry.id))?;
    let rate = entry.speed.frames_per_s;
    within(dossier, &deeper("speed", "frames_per_s"), rate, 1.0, 1e7)?;
    let speed_relative_u = entry.speed.relative_uncertainty;
    within(dossier, &deeper("speed", "relative_uncertainty"), speed_relative_u, 0.0, 0.5)?;
    within(dossier, &at("exposure_s"), entry.exposure_s, 0.0, 1.0 / rate)?;
    if let Some(u_px) = entry.compression_u_px {
        within(dossier, &at("compression_u_px"), u_px, 0.0, 10.0)?;
    }
    Ok(CameraPlan {
        id: camera_id,
        index,
        footage: entry.footage.clone(),
        view: entry.view,
        frames_per_s: rate,
        speed_relative_u,
        speed_source: entry.speed.source.clone(),
        exposure_s: entry.exposure_s,
        zero: plan_zero(dossier, index, &entry.zero, rate)?,
        compression_u_px: entry.compression_u_px,
        board: plan_board(dossier, index, &entry.board)?,
        lens: entry.lens.as_deref().map(|file| read_lens(dossier, index, file)).transpose()?,
        lens_file: entry.lens.clone(),
        targets: Vec::new(),
    })
}

fn plan_zero(
    dossier: &Dossier,
    index: usize,
    entry: &ZeroEntry,
    rate: f64,
) -> Result<ZeroPlan, DossierError> {
    let path = |key| [Key("camera"), Item(index), Key("zero"), Key(key)];
    match *entry {
        ZeroEntry::Flash {} => Ok(ZeroPlan::Flash),
        ZeroEntry::Contact {} => Ok(ZeroPlan::Contact),
        ZeroEntry::Frame { frame, uncertainty_s } => {
            within(dossier, &path("frame"), frame, 0.0, f64::from(u32::MAX))?;
            // An instant known to one frame interval, evenly: width/√12 (JCGM 100, 4.3.7).
            let u_s = uncertainty_s.unwrap_or(1.0 / rate / 12.0_f64.sqrt());
            within(dossier, &path("uncertainty_s"), u_s, 0.0, 10.0)?;
            Ok(ZeroPlan::Frame { frame, u_s })
        }
    }
}

fn plan_board(dossier: &Dossier, index: usize, entry: &BoardEntry) -> Result<Board, DossierError> {
    let at = |key| [Key("camera"), Item(index), Key("board"), Key(key)];
    for (key, ends) in [("from_px", entry.from_px), ("to_px", entry.to_px)] {
        for value in ends {
            within(dossier, &at(key), value, -1e5, 1e5)?;
        }
    }
    within(dossier, &at("length_m"), entry.length_m, 0.001, 1000.0)?;
    within(dossier, &at("uncertainty_m"), entry.uncertainty_m, 0.0, entry.length_m)?;
    within(dossier, &at("uncertainty_px"), entry.uncertainty_px, 0.0, 100.0)?;
    let distance = match entry.distance_m {
        None => None,
        Some(distance_m) => {
            within(dossier, &at("distance_m"), distance_m, 0.01, 1e5)?;
            let u_m = within(
                dossier,
                &at("distance_uncertainty_m"),
                entry.distance_uncertainty_m,
                0.0,
                distance_m,
            )?;
            Some(Uncertain::new(Length::from_m(distance_m), Length::from_m(u_m)))
        }
    };
    Ok(Board {
        from: PixelPoint::new(entry.from_px[0], entry.from_px[1]),
        to: PixelPoint::new(entry.to_px[0], entry.to_px[1]),
        length: Uncertain::new(Length::from_m(entry.length_m), Length::from_m(entry.uncertainty_m)),
        reading_u_px: entry.uncertainty_px,
        distance,
    })
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
