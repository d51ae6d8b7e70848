//! One camera's marks → plane → poses → smooth motion and crush, for one state of its inputs. The budget calls it again
//! with each doubtful input moved by its standard uncertainty.

use super::clock::Clock;
use super::film::Film;
use crate::document::{ContactBy, Role};
use crate::options::RunOptions;
use crate::plan::{CameraPlan, Plan, ZeroPlan};
use filmgauge_geometry::{Calibration, DoubtSource, GeometryError, PlaneMap};
use filmgauge_motion::{
    BodyTracks, MotionFailure, Onset, PlaneMark, Pose, SmoothOptions, Smoothed, Smoothness, TargetTrack,
};
use filmgauge_quantities::{BodyId, PlanePoint, Seconds, TargetId};
use filmgauge_targets::Outcome;
use std::collections::BTreeMap;
use std::ops::Range;

/// Value and variance of one sample; `None` is a gap.
pub(crate) type Sample = Option<(f64, f64)>;

/// One state of a camera's inputs.
#[derive(Clone)]
pub(crate) struct Inputs<'a> {
    pub(crate) plan: &'a Plan,
    pub(crate) camera: &'a CameraPlan,
    pub(crate) film: &'a Film,
    pub(crate) options: &'a RunOptions,
    pub(crate) contact_by: ContactBy,
    pub(crate) calibration: Calibration,
    pub(crate) clock: Clock,
    /// Added to the contact that the film shows, s; moved by the budget.
    pub(crate) contact_shift_s: f64,
    /// Choices of a first evaluation to be kept, so that a moved input changes the figures and nothing else.
    pub(crate) kept: Option<&'a Kept>,
}

/// What a first evaluation chose.
#[derive(Debug, Clone, Default)]
pub(crate) struct Kept {
    quiet: Range<usize>,
    smoothness: BTreeMap<String, Smoothness>,
}

/// A doubtful input of one camera.
#[derive(Debug, Clone, PartialEq)]
pub(crate) enum Doubt {
    Geometry(DoubtSource),
    FilmSpeed,
    TimeZero,
    /// The contact that the film shows, with its standard uncertainty, s.
    Contact(f64),
}

impl std::fmt::Display for Doubt {
    fn fmt(&self, f: &mut std::fmt::Formatter<'_>) -> std::fmt::Result {
        match self {
            Self::Geometry(source) => source.fmt(f),
            Self::FilmSpeed => f.write_str("film speed"),
            Self::TimeZero => f.write_str("time zero"),
            Self::Contact(_) => f.write_str("contact"),
        }
    }
}

impl Inputs<'_> {
    /// Every input whose standard uncertainty is not zero.
    pub(crate) fn doubts(&self, contact: &Result<Contact, String>) -> Vec<Doubt> {
        let mut doubts: Vec<Doubt> = self.calibration.doubts().into_iter().map(Doubt::Geometry).collect();
        if self.camera.speed_relative_u > 0.0 {
            doubts.push(Doubt::FilmSpeed);
        }
        if self.clock.zero_u_s > 0.0 && self.camera.zero != ZeroPlan::Contact {
            doubts.push(Doubt::TimeZero);
        }
        if let (ContactBy::Film, Ok(contact)) = (self.contact_by, contact) {
            doubts.push(Doubt::Contact(contact.u_s));
        }
        doubts
    }

    /// The inputs with one of them moved by one standard uncertainty.
    pub(crate) fn moved(&self, doubt: &Doubt) -> Self {
        let mut moved = self.clone();
        match doubt {
            Doubt::Geometry(source) => moved.calibration = self.calibration.perturbed(source),
            Doubt::FilmSpeed => {
                let factor = 1.0 + self.camera.speed_relative_u;
                moved.clock.frames_per_s *= factor;
                // Time zero is an instant of the film: it moves with the frames that show it.
                moved.clock.zero_s /= factor;
            }
            Doubt::TimeZero => moved.clock.zero_s += self.clock.zero_u_s,
            Doubt::Contact(u_s) => moved.contact_shift_s += u_s,
        }
        moved
    }
}

/// Motion of one body in one camera. Its point is the c.g. where the dossier gives it, else the mean of its targets.
#[derive(Debug, Clone)]
pub(crate) struct BodyState {
    pub(crate) id: BodyId,
    pub(crate) role: Role,
    pub(crate) point: &'static str,
    pub(crate) poses: Vec<Option<Pose>>,
    pub(crate) x: Smoothed,
    pub(crate) z: Smoothed,
    pub(crate) angle: Smoothed,
    /// Place of each target in body axes, from the body's point.
    pub(crate) places: Vec<(TargetId, PlanePoint)>,
    /// Standard uncertainty of "level", the mean attitude before contact, rad.
    pub(crate) level_u_rad: f64,
    /// Share of frames whose pose fails the 99 % rigidity test.
    pub(crate) unrigid_share: f64,
}

/// Shortening of one crush line, and the nose's own place along the path.
#[derive(Debug, Clone)]
pub(crate) struct CrushState {
    pub(crate) id: String,
    /// Towards the body along its x axis, m; zero before contact.
    pub(crate) depth: Smoothed,
    /// Place of the target along the path, m.
    pub(crate) nose_x: Smoothed,
}

/// The contact that everything counts from.
#[derive(Debug, Clone, Copy, PartialEq)]
pub(crate) struct Contact {
    /// Seconds from time zero.
    pub(crate) time_s: f64,
    /// Standard uncertainty, s.
    pub(crate) u_s: f64,
}

/// Everything measured from one camera for one state of its inputs.
#[derive(Debug, Clone)]
pub(crate) struct CameraMotion {
    pub(crate) times_s: Vec<f64>,
    pub(crate) map: PlaneMap,
    pub(crate) clock: Clock,
    /// The kink in the run-up, as the film shows it.
    pub(crate) kink: Result<Onset, String>,
    /// The contact that everything counts from.
    pub(crate) contact: Result<Contact, String>,
    pub(crate) bodies: Vec<BodyState>,
    pub(crate) crush: Vec<CrushState>,
    /// What could not be done: subject, why.
    pub(crate) troubles: Vec<(String, String)>,
    pub(crate) kept: Kept,
}

impl CameraMotion {
    /// Contact, or time zero where contact was not found.
    pub(crate) fn contact_s(&self) -> f64 {
        self.contact.as_ref().map_or(0.0, |contact| contact.time_s)
    }

    pub(crate) fn with_role(&self, role: Role) -> Option<&BodyState> {
        self.bodies.iter().find(|body| body.role == role)
    }
}

/// Evaluates one state of a camera's inputs.
pub(crate) fn evaluate(inputs: &Inputs<'_>) -> Result<CameraMotion, GeometryError> {
    let map = inputs.calibration.plane_map()?;
    let tracks = plane_tracks(inputs, &map);
    let mut clock = inputs.clock.clone();
    let mut times_s: Vec<f64> = (0..inputs.film.n_frames).map(|frame| clock.time_s(frame)).collect();
    let mut kink = kink(inputs, &tracks, &times_s);
    if let (ZeroPlan::Contact, Ok(onset)) = (inputs.camera.zero, &mut kink) {
        clock.zero_s += onset.time.value.as_s();
        clock.zero_u_s = onset.time.u.as_s();
        times_s = (0..inputs.film.n_frames).map(|frame| clock.time_s(frame)).collect();
        onset.time.value = Seconds::from_s(0.0);
    }
    let contact = match inputs.contact_by {
        ContactBy::Zero => Ok(Contact { time_s: 0.0, u_s: clock.zero_u_s }),
        ContactBy::Film => kink.clone().map(|onset| Contact {
            time_s: onset.time.value.as_s() + inputs.contact_shift_s,
            u_s: onset.time.u.as_s(),
        }),
    };
    let contact_s = contact.as_ref().map_or(0.0, |contact| contact.time_s);
    let quiet =
        inputs.kept.map_or_else(|| quiet_frames(inputs, &times_s, contact_s), |kept| kept.quiet.clone());
    let mut build = Build {
        inputs,
        onset: contact.as_ref().ok().copied(),
        kept: Kept { quiet, smoothness: BTreeMap::new() },
        troubles: Vec::new(),
    };
    let bodies = build.bodies(&tracks, &times_s);
    let crush = build.crush(&tracks, &times_s, &bodies);
    let Build { kept, troubles, .. } = build;
    Ok(CameraMotion { times_s, map, clock, kink, contact, bodies, crush, troubles, kept })
}

/// Marks of one target in metres.
struct Track {
    id: TargetId,
    body: BodyId,
    deforms: bool,
    marks: Vec<Option<PlaneMark>>,
}

fn plane_tracks(inputs: &Inputs<'_>, map: &PlaneMap) -> Vec<Track> {
    let targets = inputs.camera.targets.iter().zip(&inputs.film.outcomes);
    targets
        .map(|(target, outcomes)| {
            let offset = target.offset.value + inputs.calibration.offset(&target.body);
            let mark = |outcome: &Outcome| match outcome {
                Outcome::Mark(mark) => map
                    .plane_from_image(mark.centre, &mark.cov, offset)
                    .ok()
                    .map(|(point, cov)| PlaneMark { point, cov }),
                Outcome::Gap { .. } => None,
            };
            Track {
                id: target.id.clone(),
                body: target.body.clone(),
                deforms: target.deforms,
                marks: outcomes.iter().map(mark).collect(),
            }
        })
        .collect()
}

/// The kink in the striking body's run-up.
fn kink(inputs: &Inputs<'_>, tracks: &[Track], times_s: &[f64]) -> Result<Onset, String> {
    let striking = inputs.plan.bodies.iter().find(|body| body.role == Role::Striking);
    let body = striking.ok_or("no body is striking: give role = \"striking\" to the vehicle that runs up")?;
    let rigid: Vec<&Track> = tracks.iter().filter(|track| track.body == body.id && !track.deforms).collect();
    if rigid.is_empty() {
        return Err(format!("camera {} has no rigid target on {}", inputs.camera.id, body.id));
    }
    let samples = mean_travel(&rigid, times_s.len());
    filmgauge_motion::onset(times_s, &samples, &inputs.options.onset).map_err(|failure| failure.to_string())
}

/// Mean travel along x of several targets since each one's first mark.
fn mean_travel(tracks: &[&Track], n_frames: usize) -> Vec<Sample> {
    let starts: Vec<Option<f64>> =
        tracks.iter().map(|track| track.marks.iter().flatten().next().map(|mark| mark.point.x_m)).collect();
    let travel = |frame: usize| {
        let (mut sum, mut weight) = (0.0, 0.0);
        for (track, start_m) in tracks.iter().zip(&starts) {
            if let (Some(mark), Some(start_m)) = (&track.marks[frame], start_m) {
                sum += (mark.point.x_m - start_m) / mark.cov.xx;
                weight += 1.0 / mark.cov.xx;
            }
        }
        (weight > 0.0).then(|| (sum / weight, 1.0 / weight))
    };
    (0..n_frames).map(travel).collect()
}

/// Frames before contact, in which every body is taken to be level and undeformed.
fn quiet_frames(inputs: &Inputs<'_>, times_s: &[f64], contact_s: f64) -> Range<usize> {
    let before = times_s.iter().take_while(|&&time_s| time_s < contact_s).count();
    let gap = inputs.options.findings.quiet_gap_frames as usize;
    0..before.saturating_sub(gap).max(1).min(times_s.len())
}

struct Build<'a> {
    inputs: &'a Inputs<'a>,
    onset: Option<Contact>,
    kept: Kept,
    troubles: Vec<(String, String)>,
}

impl Build<'_> {
    fn bodies(&mut self, tracks: &[Track], times_s: &[f64]) -> Vec<BodyState> {
        let mut states = Vec::new();
        for body in &self.inputs.plan.bodies {
            let rigid: Vec<&Track> =
                tracks.iter().filter(|track| track.body == body.id && !track.deforms).collect();
            if rigid.is_empty() {
                continue;
            }
            match self.body(body, &rigid, times_s) {
                Ok(state) => states.push(state),
                Err(failure) => self.troubles.push((body.id.to_string(), failure.to_string())),
            }
        }
        states
    }

    fn body(
        &mut self,
        body: &crate::plan::BodyPlan,
        rigid: &[&Track],
        times_s: &[f64],
    ) -> Result<BodyState, MotionFailure> {
        let tracks = BodyTracks {
            body: body.id.clone(),
            times_s: times_s.to_vec(),
            targets: rigid
                .iter()
                .map(|track| TargetTrack { id: track.id.clone(), marks: track.marks.clone() })
                .collect(),
        };
        let mut layout = filmgauge_motion::layout(&tracks, self.kept.quiet.clone())?;
        let cg = body.cg_from.as_ref().and_then(|(target, step)| {
            let index = rigid.iter().position(|track| track.id == *target)?;
            Some(layout.places[index]? + *step)
        });
        // The c.g. of an overhead view would need a step to the side, which the dossier does not hold.
        let cg = cg.filter(|_| self.inputs.camera.view == filmgauge_quantities::ViewPlane::Side);
        if let Some(cg) = cg {
            for place in layout.places.iter_mut().flatten() {
                *place = *place - cg;
            }
        }
        let poses = filmgauge_motion::poses(&tracks, &layout, &self.inputs.options.pose)?;
        let rigidity = filmgauge_motion::rigidity(&tracks, &layout, &poses, 0..times_s.len());
        let samples = |pick: fn(&Pose) -> Sample| -> Vec<Sample> {
            poses.iter().map(|pose| pose.as_ref().and_then(pick)).collect()
        };
        let name = |axis: &str| format!("{} {axis}", body.id);
        let x = self.smooth(name("x"), times_s, &samples(|pose| Some((pose.x_m, pose.cov[0][0]))))?;
        let z = self.smooth(name("z"), times_s, &samples(|pose| Some((pose.z_m, pose.cov[1][1]))))?;
        let angle = self.smooth(
            name("angle"),
            times_s,
            &samples(|pose| pose.angle_rad.map(|angle_rad| (angle_rad, pose.cov[2][2]))),
        )?;
        Ok(BodyState {
            id: body.id.clone(),
            role: body.role,
            point: if cg.is_some() { "c.g." } else { "mean of its targets" },
            poses,
            x,
            z,
            angle,
            places: rigid
                .iter()
                .zip(&layout.places)
                .filter_map(|(track, place)| Some((track.id.clone(), (*place)?)))
                .collect(),
            level_u_rad: layout.level_u_rad.unwrap_or(0.0),
            unrigid_share: rigidity.share_over_99.unwrap_or(0.0),
        })
    }

    fn crush(&mut self, tracks: &[Track], times_s: &[f64], bodies: &[BodyState]) -> Vec<CrushState> {
        let mut states = Vec::new();
        for line in &self.inputs.plan.crush {
            let Some(track) = tracks.iter().find(|track| track.id == line.target) else { continue };
            let Some(body) = bodies.iter().find(|body| body.id == line.body) else { continue };
            match self.crush_line(&line.id, track, body, times_s) {
                Ok(state) => states.push(state),
                Err(failure) => self.troubles.push((line.id.clone(), failure.to_string())),
            }
        }
        states
    }

    fn crush_line(
        &mut self,
        id: &str,
        track: &Track,
        body: &BodyState,
        times_s: &[f64],
    ) -> Result<CrushState, MotionFailure> {
        let places: Vec<Sample> =
            track.marks.iter().zip(&body.poses).map(|(mark, pose)| place_in_body(mark, pose)).collect();
        let (mut sum, mut weight) = (0.0, 0.0);
        for (place_m, variance) in places[self.kept.quiet.clone()].iter().flatten() {
            sum += place_m / variance;
            weight += 1.0 / variance;
        }
        if weight == 0.0 {
            return Err(MotionFailure::TooFewMarks { what: "crush before contact", found: 0, needed: 1 });
        }
        let rest_m = sum / weight;
        let depths: Vec<Sample> = places
            .iter()
            .map(|place| place.map(|(place_m, variance)| (rest_m - place_m, variance)))
            .collect();
        let nose: Vec<Sample> =
            track.marks.iter().map(|mark| mark.as_ref().map(|mark| (mark.point.x_m, mark.cov.xx))).collect();
        Ok(CrushState {
            id: id.to_owned(),
            depth: self.smooth(format!("{id} depth"), times_s, &depths)?,
            nose_x: self.smooth(format!("{id} nose"), times_s, &nose)?,
        })
    }

    fn smooth(
        &mut self,
        name: String,
        times_s: &[f64],
        samples: &[Sample],
    ) -> Result<Smoothed, MotionFailure> {
        let kept = self.inputs.kept.and_then(|kept| kept.smoothness.get(&name));
        let options = SmoothOptions {
            smoothness: kept.cloned().unwrap_or_else(|| self.inputs.options.smooth.smoothness.clone()),
            onsets_s: self.onset.iter().map(|contact| contact.time_s).collect(),
            onset_u_s: self.onset.map_or(0.0, |contact| contact.u_s),
            ..self.inputs.options.smooth.clone()
        };
        let smoothed = filmgauge_motion::smooth(times_s, samples, &options)?;
        self.kept.smoothness.insert(name, Smoothness::Fixed { q: smoothed.q.clone() });
        Ok(smoothed)
    }
}

/// Place of a mark along its body's x axis, with the variance of mark and pose.
fn place_in_body(mark: &Option<PlaneMark>, pose: &Option<Pose>) -> Sample {
    let (mark, pose) = (mark.as_ref()?, pose.as_ref()?);
    let angle_rad = pose.angle_rad?;
    let step = PlanePoint::new(mark.point.x_m - pose.x_m, mark.point.z_m - pose.z_m);
    let in_body = step.turned(-angle_rad);
    let (sin, cos) = angle_rad.sin_cos();
    let along = |xx: f64, xz: f64, zz: f64| cos * cos * xx + 2.0 * cos * sin * xz + sin * sin * zz;
    let of_mark = along(mark.cov.xx, mark.cov.xz, mark.cov.zz);
    // The pose enters as -(cos, sin, -z'): its third term is the turn's lever arm.
    let row = [-cos, -sin, in_body.z_m];
    let mut of_pose = 0.0;
    for (i, a) in row.iter().enumerate() {
        for (j, b) in row.iter().enumerate() {
            of_pose += a * b * pose.cov[i][j];
        }
    }
    Some((in_body.x_m, of_mark + of_pose))
}
