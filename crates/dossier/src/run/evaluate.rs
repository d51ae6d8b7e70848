//! One camera's marks → plane → poses → smooth motion and crush, for one state of its inputs. The budget calls it again
//! with each doubtful input moved by its standard uncertainty.

use super::build::Build;
use super::clock::Clock;
use super::depth::{Beside, Depth, DepthDoubt};
use super::film::Film;
use super::image_marks::image_marks;
use super::shutter::ImageMark;
use crate::document::{ContactBy, Role};
use crate::options::RunOptions;
use crate::plan::{CameraPlan, Plan, ZeroPlan};
use filmgauge_geometry::{Calibration, DoubtSource, GeometryError, PlaneMap, SteadyFilm};
use filmgauge_motion::{BodyMotion, Onset, PlaneMark, Smoothed, Smoothness};
use filmgauge_quantities::{BodyId, PlanePoint, Seconds, TargetId};
use filmgauge_timing::RollingShutter;
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
    /// How much later each row is exposed.
    pub(crate) shutter: RollingShutter,
    /// Each frame's own shift and turn, where they are removed.
    pub(crate) steadied: Option<&'a SteadyFilm>,
    /// Added to the contact that the film shows, s; moved by the budget.
    pub(crate) contact_shift_s: f64,
    /// How bodies move along the line of sight, where another camera tells.
    pub(crate) depths: Vec<Depth>,
    /// Choices of a first evaluation to be kept, so that a moved input changes the figures and nothing else.
    pub(crate) kept: Option<&'a Kept>,
}

/// What a first evaluation chose.
#[derive(Debug, Clone, Default)]
pub(crate) struct Kept {
    pub(super) quiet: Range<usize>,
    pub(super) smoothness: BTreeMap<String, Smoothness>,
    /// Targets left out of each body's pose because they deform.
    pub(super) left_out: BTreeMap<String, Vec<TargetId>>,
}

/// A doubtful input of one camera.
#[derive(Debug, Clone, PartialEq)]
pub(crate) enum Doubt {
    Geometry(DoubtSource),
    /// How a body moves along the line of sight.
    Depth(BodyId, DepthDoubt),
    FilmSpeed,
    RowTime,
    TimeZero,
    /// The contact that the film shows, with its standard uncertainty, s.
    Contact(f64),
}

impl std::fmt::Display for Doubt {
    fn fmt(&self, f: &mut std::fmt::Formatter<'_>) -> std::fmt::Result {
        match self {
            Self::Geometry(source) => source.fmt(f),
            Self::Depth(body, _) => write!(f, "depth of {body}"),
            Self::FilmSpeed => f.write_str("film speed"),
            Self::RowTime => f.write_str("row time"),
            Self::TimeZero => f.write_str("time zero"),
            Self::Contact(_) => f.write_str("contact"),
        }
    }
}

impl Doubt {
    /// Whether it moves an instant that curves kink at: their answer bends within one standard uncertainty.
    pub(crate) fn is_an_instant(&self) -> bool {
        matches!(self, Self::TimeZero | Self::Contact(_))
    }
}

impl Inputs<'_> {
    /// How a body moves along the line of sight, where another camera tells.
    pub(crate) fn depth_of(&self, body: &BodyId) -> Option<&Depth> {
        self.depths.iter().find(|depth| depth.body == *body)
    }

    /// Every input whose standard uncertainty is not zero.
    pub(crate) fn doubts(&self, contact: &Result<Contact, String>) -> Vec<Doubt> {
        let mut doubts: Vec<Doubt> = self.calibration.doubts().into_iter().map(Doubt::Geometry).collect();
        for depth in &self.depths {
            let doubtful = DepthDoubt::ALL.into_iter().filter(|doubt| depth.is_doubtful(*doubt));
            doubts.extend(doubtful.map(|doubt| Doubt::Depth(depth.body.clone(), doubt)));
        }
        if self.clock.speed_is_doubtful() {
            doubts.push(Doubt::FilmSpeed);
        }
        if self.shutter.row_u_s > 0.0 {
            doubts.push(Doubt::RowTime);
        }
        if self.clock.zero_u_s > 0.0 && self.camera.zero != ZeroPlan::Contact {
            doubts.push(Doubt::TimeZero);
        }
        if let (ContactBy::Film, Ok(contact)) = (self.contact_by, contact) {
            doubts.push(Doubt::Contact(contact.u_s));
        }
        doubts
    }

    /// The inputs with one of them moved by so many standard uncertainties.
    pub(crate) fn moved(&self, doubt: &Doubt, times: f64) -> Self {
        let mut moved = self.clone();
        match doubt {
            Doubt::Geometry(source) => moved.calibration = self.calibration.perturbed_by(source, times),
            Doubt::Depth(body, doubt) => {
                let of_body =
                    |depth: Depth| if depth.body == *body { depth.moved(*doubt, times) } else { depth };
                moved.depths = moved.depths.into_iter().map(of_body).collect();
            }
            // Time zero is an instant of the film: intervals stretch from there.
            Doubt::FilmSpeed => moved.clock.speed_moved += times,
            Doubt::RowTime => moved.shutter.row_s += self.shutter.row_u_s * times,
            Doubt::TimeZero => moved.clock.zero_shift_s += self.clock.zero_u_s * times,
            Doubt::Contact(u_s) => moved.contact_shift_s += u_s * times,
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
    pub(crate) motion: BodyMotion,
    /// Its place along the path in each frame, where it lies, with the marks' variance: what `motion.x` was drawn through.
    pub(crate) along: Vec<Sample>,
    /// Place of each target in body axes, from the body's point.
    pub(crate) places: Vec<(TargetId, PlanePoint)>,
    /// Standard uncertainty of "level", the mean attitude before contact, rad.
    pub(crate) level_u_rad: f64,
    /// Share of frames whose pose fails the 99 % rigidity test.
    pub(crate) unrigid_share: f64,
    /// Targets left out because they move against the others after contact.
    pub(crate) left_out: Vec<TargetId>,
}

/// Shortening of one crush line, and the nose's own place along the path.
#[derive(Debug, Clone)]
pub(crate) struct CrushState {
    pub(crate) id: String,
    /// Towards the body along its x axis, m; zero before contact.
    pub(crate) depth: Smoothed,
    /// Place of the target along the path, m.
    pub(crate) nose_x: Smoothed,
    /// How far in front of its body's point it lies at contact, along the path, m.
    pub(crate) ahead_m: f64,
    /// Its body.
    pub(crate) body: BodyId,
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
    let mut clock = inputs.clock.clone();
    let mut times_s: Vec<f64> = (0..inputs.film.n_frames).map(|frame| clock.time_s(frame)).collect();
    let tracks = plane_tracks(inputs, &map, &times_s);
    let mut kink = kink(inputs, &tracks, &times_s);
    if let (ZeroPlan::Contact, Ok(onset)) = (&inputs.camera.zero, &mut kink) {
        let method = clock.zero_method.clone();
        clock.set_zero(onset.time.value.as_s(), onset.time.u.as_s(), method);
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
        metres_per_px: map.metres_per_px(),
        onset: contact.as_ref().ok().copied(),
        kept: Kept { quiet, ..Kept::default() },
        troubles: Vec::new(),
    };
    let bodies = build.bodies(&tracks, &times_s);
    let crush = build.crush(&tracks, &times_s, &bodies);
    let Build { kept, troubles, .. } = build;
    Ok(CameraMotion { times_s, map, clock, kink, contact, bodies, crush, troubles, kept })
}

/// Marks of one target in metres.
pub(super) struct Track {
    pub(super) id: TargetId,
    pub(super) body: BodyId,
    pub(super) deforms: bool,
    /// How it stands beside the point that another camera follows, where one does.
    pub(super) beside: Option<Beside>,
    pub(super) marks: Vec<Option<PlaneMark>>,
}

fn plane_tracks(inputs: &Inputs<'_>, map: &PlaneMap, times_s: &[f64]) -> Vec<Track> {
    let targets = inputs.camera.targets.iter().zip(image_marks(inputs, times_s));
    targets
        .map(|(target, marks)| {
            let plane = inputs.calibration.plane_of(&target.body).further(target.offset.value);
            let depth = inputs.depth_of(&target.body);
            let beside = depth.map(|depth| depth.settled(map, &marks, times_s, (plane, target.offset.value)));
            let in_plane = |(mark, &time_s): (&Option<ImageMark>, &f64)| {
                let (point, cov) = (*mark)?;
                if let Some((depth, beside)) = depth.zip(beside) {
                    return depth.at(time_s).with(beside).unfolded(map, (point, cov), plane).ok();
                }
                let (point, cov) = map.plane_from_image(point, &cov, plane).ok()?;
                Some(PlaneMark { point, cov })
            };
            Track {
                id: target.id.clone(),
                body: target.body.clone(),
                deforms: target.deforms,
                beside,
                marks: marks.iter().zip(times_s).map(in_plane).collect(),
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
    let samples = mean_travel(&rigid, times_s.len(), false);
    filmgauge_motion::onset(times_s, &samples, &inputs.options.onset).map_err(|failure| failure.to_string())
}

/// Mean travel along x, or across it, of several targets since each one's first mark.
pub(super) fn mean_travel(tracks: &[&Track], n_frames: usize, across: bool) -> Vec<Sample> {
    let sample = |mark: &PlaneMark| {
        if across { (mark.point.z_m, mark.cov.zz) } else { (mark.point.x_m, mark.cov.xx) }
    };
    let starts: Vec<Option<f64>> =
        tracks.iter().map(|track| track.marks.iter().flatten().next().map(|mark| sample(mark).0)).collect();
    let travel = |frame: usize| {
        let (mut sum, mut weight) = (0.0, 0.0);
        for (track, start_m) in tracks.iter().zip(&starts) {
            if let (Some(mark), Some(start_m)) = (&track.marks[frame], start_m) {
                let (place_m, variance) = sample(mark);
                sum += (place_m - start_m) / variance;
                weight += 1.0 / variance;
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
