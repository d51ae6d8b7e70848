//! Plans what tells time: film speed and its evidence, time zero, fields, steadying, ties, the sensors' switch.

use super::within;
use crate::document::{FieldsEntry, MarksEntry, MarksKind, SpeedEntry, SteadyEntry, SwitchEntry, ZeroEntry};
use crate::error::DossierError;
use crate::lines::Step::{self, Item, Key};
use crate::load::Dossier;
use filmgauge_footage::FieldOrder;
use filmgauge_targets::EdgeBox;
use filmgauge_timing::{ClockPoint, Region};

/// Film speed of one camera.
#[derive(Debug, Clone, PartialEq)]
pub struct SpeedPlan {
    /// Frames per second by the record.
    pub frames_per_s: f64,
    /// Standard uncertainty of it, divided by it.
    pub relative_u: f64,
    /// Where the record comes from.
    pub source: String,
    /// What else tells the speed.
    pub evidence: SpeedEvidence,
}

/// What tells the film speed besides the record.
#[derive(Debug, Clone, PartialEq)]
pub enum SpeedEvidence {
    /// Nothing.
    Record,
    /// Timing marks on the film.
    Marks(MarksPlan),
    /// Frames of known time, in order.
    Points(Vec<ClockPoint>),
}

/// Timing marks of one film.
#[derive(Debug, Clone, PartialEq)]
pub struct MarksPlan {
    /// Where they are.
    pub region: Region,
    /// Marks a second.
    pub frequency_hz: f64,
    /// Standard uncertainty of it, divided by it.
    pub frequency_relative_u: f64,
    /// Frames to add to a mark's place.
    pub lamp_to_gate_frames: f64,
    /// Spots along the film's edge; a lamp in view when `None`.
    pub spots: Option<SpotsPlan>,
}

/// Light spots along the film's edge.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct SpotsPlan {
    /// Distance from a frame to the next along the film, px.
    pub pitch_px: f64,
    /// Whether the film exposed later lies further down.
    pub later_downwards: bool,
}

/// Time zero of one camera.
#[derive(Debug, Clone, PartialEq)]
pub enum ZeroPlan {
    /// The flash seen in the film.
    Flash {
        /// Where; the whole picture when `None`.
        region: Option<Region>,
        /// Time constant of its rise, s.
        rise_s: f64,
        /// From the instant wanted to first light, s.
        delay_s: f64,
        /// Standard uncertainty of it, s.
        delay_u_s: f64,
    },
    /// A frame, possibly between two, with the standard uncertainty in s.
    Frame {
        /// Frame number.
        frame: f64,
        /// Standard uncertainty, s.
        u_s: f64,
    },
    /// First contact as found in the motion.
    Contact,
    /// Another camera's, by a place that both followed.
    Camera {
        /// The other camera.
        camera: String,
        /// Its target.
        theirs: String,
        /// This camera's target.
        ours: String,
    },
}

/// What holds still in the picture.
#[derive(Debug, Clone, PartialEq)]
pub enum SteadyPlan {
    /// Targets on the ground.
    Ground,
    /// Perforations near these boxes.
    Perforations(Vec<EdgeBox>),
}

/// Most frames a second that any camera is believed to take.
const MOST_FRAMES_PER_S: f64 = 1e7;

pub(super) fn plan_speed(
    dossier: &Dossier,
    camera: usize,
    entry: &SpeedEntry,
) -> Result<SpeedPlan, DossierError> {
    let at = |key| [Key("camera"), Item(camera), Key("speed"), Key(key)];
    within(dossier, &at("frames_per_s"), entry.frames_per_s, 1.0, MOST_FRAMES_PER_S)?;
    within(dossier, &at("relative_uncertainty"), entry.relative_uncertainty, 0.0, 0.5)?;
    let evidence = match (&entry.marks, entry.points.as_slice()) {
        (None, []) => SpeedEvidence::Record,
        (Some(marks), []) => SpeedEvidence::Marks(plan_marks(dossier, camera, marks)?),
        (None, _) => SpeedEvidence::Points(plan_points(dossier, camera, entry)?),
        (Some(_), _) => {
            let what = "film speed has both timing marks and clock points".into();
            return Err(dossier.fault(&at("points"), what, "Keep one of the two".into()));
        }
    };
    Ok(SpeedPlan {
        frames_per_s: entry.frames_per_s,
        relative_u: entry.relative_uncertainty,
        source: entry.source.clone(),
        evidence,
    })
}

fn plan_marks(dossier: &Dossier, camera: usize, entry: &MarksEntry) -> Result<MarksPlan, DossierError> {
    let at = |key| [Key("camera"), Item(camera), Key("speed"), Key("marks"), Key(key)];
    within(dossier, &at("frequency_hz"), entry.frequency_hz, 0.01, 1e7)?;
    within(dossier, &at("relative_uncertainty"), entry.relative_uncertainty, 0.0, 0.5)?;
    within(dossier, &at("lamp_to_gate_frames"), entry.lamp_to_gate_frames, -1000.0, 1000.0)?;
    let spots = match (entry.kind, entry.pitch_px) {
        (MarksKind::Lamp, _) => None,
        (MarksKind::Spots, Some(pitch_px)) => {
            within(dossier, &at("pitch_px"), pitch_px, 1.0, 1e5)?;
            Some(SpotsPlan { pitch_px, later_downwards: entry.later_downwards })
        }
        (MarksKind::Spots, None) => {
            let what = "spots along the film's edge need the pitch of the frames".into();
            let remedy = "Add pitch_px, the distance from a frame to the next along the film".into();
            return Err(dossier.fault(&at("kind"), what, remedy));
        }
    };
    Ok(MarksPlan {
        region: plan_region(dossier, &at("region_px"), entry.region_px)?,
        frequency_hz: entry.frequency_hz,
        frequency_relative_u: entry.relative_uncertainty,
        lamp_to_gate_frames: entry.lamp_to_gate_frames,
        spots,
    })
}

fn plan_points(
    dossier: &Dossier,
    camera: usize,
    entry: &SpeedEntry,
) -> Result<Vec<ClockPoint>, DossierError> {
    let mut points: Vec<ClockPoint> = Vec::new();
    for (index, point) in entry.points.iter().enumerate() {
        let at = |key| [Key("camera"), Item(camera), Key("speed"), Key("points"), Item(index), Key(key)];
        within(dossier, &at("frame"), point.frame, 0.0, f64::from(u32::MAX))?;
        within(dossier, &at("time_s"), point.time_s, -1e6, 1e6)?;
        within(dossier, &at("uncertainty_s"), point.uncertainty_s, 1e-12, 1e3)?;
        if let Some(before) = points.last()
            && (point.frame <= before.frame || point.time_s <= before.time_s)
        {
            let what = format!("clock point {} does not lie after the one before it", index + 1);
            let remedy = "Put the points in order; frames and times must both grow".into();
            return Err(dossier.fault(&at("frame"), what, remedy));
        }
        points.push(ClockPoint { frame: point.frame, time_s: point.time_s, u_s: point.uncertainty_s });
    }
    if points.len() < 2 {
        let path = [Key("camera"), Item(camera), Key("speed"), Key("points")];
        let what = "one clock point tells no film speed".to_owned();
        return Err(dossier.fault(&path, what, "Give two or more, far apart".into()));
    }
    Ok(points)
}

fn plan_region(dossier: &Dossier, path: &[Step<'_>], region: [u32; 4]) -> Result<Region, DossierError> {
    let [x, y, width, height] = region.map(|side| side as usize);
    if width == 0 || height == 0 {
        let what = format!("the region {region:?} is empty");
        return Err(dossier.fault(path, what, "Give left, top, width and height in px".into()));
    }
    Ok(Region { x, y, width, height })
}

pub(super) fn plan_zero(
    dossier: &Dossier,
    camera: usize,
    entry: &ZeroEntry,
    rate: f64,
) -> Result<ZeroPlan, DossierError> {
    let at = |key| [Key("camera"), Item(camera), Key("zero"), Key(key)];
    match entry {
        ZeroEntry::Flash { region_px, rise_s, delay_s, delay_uncertainty_s } => {
            within(dossier, &at("rise_s"), *rise_s, 0.0, 1.0)?;
            within(dossier, &at("delay_s"), *delay_s, -10.0, 10.0)?;
            within(dossier, &at("delay_uncertainty_s"), *delay_uncertainty_s, 0.0, 10.0)?;
            let region =
                region_px.map(|region| plan_region(dossier, &at("region_px"), region)).transpose()?;
            Ok(ZeroPlan::Flash {
                region,
                rise_s: *rise_s,
                delay_s: *delay_s,
                delay_u_s: *delay_uncertainty_s,
            })
        }
        ZeroEntry::Contact {} => Ok(ZeroPlan::Contact),
        ZeroEntry::Frame { frame, uncertainty_s } => {
            within(dossier, &at("frame"), *frame, 0.0, f64::from(u32::MAX))?;
            // An instant known to one frame interval, evenly: width/√12 (JCGM 100, 4.3.7).
            let u_s = uncertainty_s.unwrap_or(1.0 / rate / 12.0_f64.sqrt());
            within(dossier, &at("uncertainty_s"), u_s, 0.0, 10.0)?;
            Ok(ZeroPlan::Frame { frame: *frame, u_s })
        }
        ZeroEntry::Camera { camera: other, theirs, ours } => {
            let own = &dossier.document.camera[camera].id;
            known_target(dossier, &at("theirs"), other, theirs)?;
            known_target(dossier, &at("ours"), own, ours)?;
            let is_settled = dossier.document.camera.iter().any(|camera| {
                camera.id == *other
                    && !matches!(camera.zero, None | Some(ZeroEntry::Camera { .. }))
                    && camera.id != *own
            });
            if !is_settled {
                let what = format!("time zero cannot be taken from camera {other}");
                let remedy = "Name another camera that has a time zero of its own".into();
                return Err(dossier.fault(&at("camera"), what, remedy));
            }
            Ok(ZeroPlan::Camera { camera: other.clone(), theirs: theirs.clone(), ours: ours.clone() })
        }
    }
}

fn known_target(
    dossier: &Dossier,
    path: &[Step<'_>],
    camera: &str,
    target: &str,
) -> Result<(), DossierError> {
    if dossier.document.target.iter().any(|entry| entry.camera == camera && entry.id == target) {
        return Ok(());
    }
    let what = format!("camera {camera} has no target {target}");
    Err(dossier.fault(path, what, "Name a target of that camera".into()))
}

pub(super) fn plan_fields(entry: Option<FieldsEntry>) -> Option<FieldOrder> {
    entry.map(|order| match order {
        FieldsEntry::TopFirst => FieldOrder::TopFirst,
        FieldsEntry::BottomFirst => FieldOrder::BottomFirst,
    })
}

pub(super) fn plan_steady(
    dossier: &Dossier,
    camera: usize,
    entry: &SteadyEntry,
) -> Result<SteadyPlan, DossierError> {
    let SteadyEntry::Perforations { boxes_px } = entry else { return Ok(SteadyPlan::Ground) };
    let at = [Key("camera"), Item(camera), Key("steady"), Key("boxes_px")];
    let mut boxes = Vec::new();
    for &[left, top, width, height] in boxes_px {
        within(dossier, &at, left, -1e5, 1e5)?;
        within(dossier, &at, top, -1e5, 1e5)?;
        within(dossier, &at, width, 4.0, 1e5)?;
        within(dossier, &at, height, 4.0, 1e5)?;
        boxes.push(EdgeBox { left, top, right: left + width, bottom: top + height });
    }
    if boxes.is_empty() {
        let what = "steadying by perforations names none".to_owned();
        return Err(dossier.fault(&at, what, "Give each as [left, top, width, height] in px".into()));
    }
    Ok(SteadyPlan::Perforations(boxes))
}

pub(super) fn check_ties(dossier: &Dossier) -> Result<(), DossierError> {
    for (index, tie) in dossier.document.tie.iter().enumerate() {
        let path = [Key("tie"), Item(index), Key("targets")];
        if tie.cameras[0] == tie.cameras[1] {
            let what = format!("a tie names camera {} twice", tie.cameras[0]);
            return Err(dossier.fault(&path, what, "Name two cameras".into()));
        }
        for (camera, target) in tie.cameras.iter().zip(&tie.targets) {
            known_target(dossier, &path, camera, target)?;
        }
    }
    Ok(())
}

pub(super) fn check_switch(dossier: &Dossier, entry: &SwitchEntry) -> Result<(), DossierError> {
    let at = |key| [Key("test"), Key("switch"), Key(key)];
    if !dossier.root.join(&entry.file).is_file() {
        let what = format!("switch file {} does not exist", entry.file);
        return Err(dossier.fault(&at("file"), what, "Put the file there or mend the path".into()));
    }
    within(dossier, &at("rise_s"), entry.rise_s, 0.0, 10.0)?;
    Ok(())
}
