//! An open dossier at the desk: the workbook, what is looked at, films, results, and what is under way.

use crate::film::{Fit, Reel};
use crate::frame_clock::FrameClock;
use crate::measured::Measured;
use crate::work::{Calibrating, Found, Handed, Handing, Marking, Measuring, Spotting};
use filmgauge_daybook::{Pick, Workbook};
use filmgauge_dossier::Document;
use filmgauge_dossier::document::{CameraEntry, TargetEntry, Units};
use filmgauge_dossier::lens::LensCalibration;
use filmgauge_quantities::{PixelCov, TargetKind};
use filmgauge_results::{FilmDrawing, MarkRow, UnitSystem};
use std::collections::{BTreeMap, BTreeSet};
use std::path::PathBuf;
use std::time::Instant;

/// A target by its camera and id.
#[derive(Debug, Clone, PartialEq, Eq, PartialOrd, Ord)]
pub(crate) struct TargetRef {
    /// Camera.
    pub(crate) camera: String,
    /// Target.
    pub(crate) target: String,
}

/// What a point in the picture is wanted for.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub(crate) enum Purpose {
    /// The two ends of the reference board.
    Board,
    /// The start of a new target.
    Target,
    /// A mark by hand of the chosen target.
    Mark,
    /// Two corners of the region that shows the flash.
    Flash,
    /// Two corners of the region that holds the timing marks.
    TimingMarks,
    /// A surveyed point.
    SurveyPoint,
    /// Both ends of a known length.
    KnownLength,
    /// Both ends of an edge that is straight in truth, for the lens.
    StraightEdge,
}

impl Purpose {
    /// How many points it takes.
    pub(crate) fn n_points(self) -> usize {
        match self {
            Self::Target | Self::Mark | Self::SurveyPoint => 1,
            Self::Board | Self::Flash | Self::TimingMarks | Self::KnownLength | Self::StraightEdge => 2,
        }
    }

    /// Whether a point is fitted to the painted target under it.
    pub(crate) fn is_fitted(self) -> bool {
        !matches!(self, Self::Flash | Self::TimingMarks | Self::StraightEdge)
    }
}

/// A name and numbers that wait for their place in the film.
#[derive(Debug, Clone, PartialEq)]
pub(crate) struct Pending {
    /// Name of the point or length.
    pub(crate) name: String,
    /// Coordinates, or length and its standard uncertainty, m.
    pub(crate) numbers: Vec<f64>,
}

/// Pictures of a board and its size, as people write them.
#[derive(Debug, Clone, Default, PartialEq, Eq)]
pub(crate) struct LensBoard {
    /// Pictures with semicolons between, from the dossier's folder.
    pub(crate) pictures: String,
    /// Inner corners, such as "9x6".
    pub(crate) grid: String,
    /// Side of a square with its unit, such as "25mm".
    pub(crate) pitch: String,
}

impl LensBoard {
    /// Whether all of it is given.
    pub(crate) fn is_complete(&self) -> bool {
        [&self.pictures, &self.grid, &self.pitch].iter().all(|text| !text.trim().is_empty())
    }
}

/// Straight edges of one frame, by their ends, px.
#[derive(Debug, Clone, Default, PartialEq)]
pub(crate) struct ShownEdges {
    /// Frame.
    pub(crate) frame: u32,
    /// Both ends of each.
    pub(crate) ends: Vec<[[f64; 2]; 2]>,
}

/// A lens that was calibrated here, with its evidence.
#[derive(Debug, Clone)]
pub(crate) struct Calibrated {
    /// Camera.
    pub(crate) camera: String,
    /// Its lens file.
    pub(crate) file: String,
    /// The calibration.
    pub(crate) calibration: LensCalibration,
}

/// A centre fitted under the point.
#[derive(Debug, Clone, PartialEq)]
pub(crate) struct Fitted {
    /// Centre, px.
    pub(crate) centre: [f64; 2],
    /// Covariance, px².
    pub(crate) cov: PixelCov,
}

/// A point as it is taken.
#[derive(Debug, Clone, Copy, PartialEq)]
pub(crate) struct Taken {
    /// Where, px.
    pub(crate) px: [f64; 2],
    /// Standard uncertainty along its worse axis, px; `None` for one that was taken as pointed.
    pub(crate) u_px: Option<f64>,
}

/// Something that is being placed.
#[derive(Debug, Clone, PartialEq)]
pub(crate) struct Placing {
    /// What for.
    pub(crate) purpose: Purpose,
    /// Points that are settled.
    pub(crate) settled: Vec<Taken>,
    /// The point in hand, px.
    pub(crate) point: Option<[f64; 2]>,
    /// What is fitted under it, or why nothing is.
    pub(crate) fitted: Option<Result<Fitted, String>>,
    /// Takes the point as pointed at, not as fitted.
    pub(crate) as_pointed: bool,
}

impl Placing {
    /// Nothing pointed at yet.
    pub(crate) fn new(purpose: Purpose) -> Self {
        // A board's end need not be a target: what is fitted there is taken on request only.
        let as_pointed = matches!(purpose, Purpose::Board | Purpose::KnownLength);
        Self { purpose, settled: Vec::new(), point: None, fitted: None, as_pointed }
    }

    /// The point that would be taken now.
    pub(crate) fn taken(&self) -> Option<Taken> {
        match &self.fitted {
            Some(Ok(fitted)) if !self.as_pointed => {
                let u_px = fitted.cov.xx.max(fitted.cov.yy).sqrt();
                Some(Taken { px: fitted.centre, u_px: Some(u_px) })
            }
            _ => self.point.map(|px| Taken { px, u_px: None }),
        }
    }
}

/// Playing.
#[derive(Debug, Clone, Copy)]
pub(crate) struct Playing {
    /// Backwards.
    pub(crate) backwards: bool,
    /// When it began.
    pub(crate) since: Instant,
    /// Frame at which it began.
    pub(crate) from: u32,
}

/// What is looked at.
#[derive(Debug)]
pub(crate) struct View {
    /// Camera, by its place in the dossier.
    pub(crate) camera: usize,
    /// Frame of each camera that was looked at.
    pub(crate) frames: BTreeMap<String, u32>,
    /// Target.
    pub(crate) target: Option<TargetRef>,
    /// Line of the form.
    pub(crate) line: String,
    /// What is being placed.
    pub(crate) placing: Option<Placing>,
    /// Name and numbers of a surveyed point or a known length that is being placed.
    pub(crate) pending: Option<Pending>,
    /// Where the archive is to lie, as typed; beside the dossier's folder when empty.
    pub(crate) archive: String,
    /// Pictures of a board for the lens.
    pub(crate) lens_board: LensBoard,
    /// Straight edges for the lens, by camera.
    pub(crate) lens_edges: BTreeMap<String, ShownEdges>,
    /// Kind of targets placed by hand.
    pub(crate) kind: TargetKind,
    /// Body of targets placed or accepted.
    pub(crate) body: Option<String>,
    /// Layout by which found targets are named.
    pub(crate) layout: Option<PathBuf>,
    /// Length of a board that is not placed yet and its standard uncertainty, m.
    pub(crate) board_m: [Option<f64>; 2],
    /// Radius of targets placed by hand, px.
    pub(crate) radius_px: f64,
    /// Timing marks a second of a lamp that is not placed yet.
    pub(crate) lamp_hz: Option<f64>,
    /// How far new targets lie in front of the board, where known, and its standard uncertainty, m.
    pub(crate) offset_m: (Option<f64>, f64),
    /// Playing.
    pub(crate) playing: Option<Playing>,
    /// Frames of film shown in a second of playing.
    pub(crate) play_speed: f64,
    /// Cameras side by side.
    pub(crate) in_step: bool,
    /// Brightness of the view, -1 to 1.
    pub(crate) brightness: f32,
    /// Contrast of the view, -1 to 1.
    pub(crate) contrast: f32,
    /// Overlays that are hidden.
    pub(crate) hidden: BTreeSet<&'static str>,
    /// How each camera's picture lies in its place.
    pub(crate) fits: BTreeMap<String, Fit>,
    /// Groups of curves that are shown; the usual ones when `None`.
    pub(crate) curves: Option<BTreeSet<String>>,
    /// Asks the open line's first field to take what is typed.
    pub(crate) wants_field: bool,
    /// Asks the curves to show the whole time again.
    pub(crate) whole_time: bool,
}

impl Default for View {
    fn default() -> Self {
        Self {
            camera: 0,
            frames: BTreeMap::new(),
            target: None,
            line: String::new(),
            placing: None,
            pending: None,
            archive: String::new(),
            lens_board: LensBoard::default(),
            lens_edges: BTreeMap::new(),
            kind: TargetKind::Quadrant,
            body: None,
            layout: None,
            board_m: [None, None],
            radius_px: 10.0,
            lamp_hz: None,
            offset_m: (None, 0.0),
            playing: None,
            play_speed: 50.0,
            in_step: false,
            brightness: 0.0,
            contrast: 0.0,
            // A grid over the whole picture is asked for, not forced upon the eye.
            hidden: BTreeSet::from([crate::film::GRID]),
            fits: BTreeMap::new(),
            curves: None,
            wants_field: false,
            whole_time: false,
        }
    }
}

/// An open dossier.
pub(crate) struct Session {
    /// The dossier and its day book.
    pub(crate) workbook: Workbook,
    /// What is looked at.
    pub(crate) view: View,
    /// One film a camera, in the dossier's order.
    pub(crate) reels: Vec<Reel>,
    /// The last good results.
    pub(crate) measured: Option<Measured>,
    /// A measurement under way.
    pub(crate) measuring: Option<Measuring>,
    /// A marked film that is being written.
    pub(crate) marking: Option<Marking>,
    /// A search for targets under way.
    pub(crate) spotting: Option<Spotting>,
    /// A calibration of a lens under way.
    pub(crate) calibrating: Option<Calibrating>,
    /// Packing or proving under way.
    pub(crate) handing: Option<Handing>,
    /// What the last of them came to.
    pub(crate) handed: Option<Handed>,
    /// The last lens that was calibrated here.
    pub(crate) calibrated: Option<Calibrated>,
    /// Targets that were found and wait for a decision.
    pub(crate) found: Option<Found>,
    /// Why the last measurement gave nothing.
    pub(crate) failure: Option<String>,
}

impl Session {
    /// What the dossier says.
    pub(crate) fn document(&self) -> &Document {
        self.workbook.document()
    }

    /// The camera that is looked at.
    pub(crate) fn camera(&self) -> Option<&CameraEntry> {
        self.document().camera.get(self.view.camera)
    }

    /// Its id; empty without a camera.
    pub(crate) fn camera_id(&self) -> &str {
        self.camera().map_or("", |camera| camera.id.as_str())
    }

    /// Its film.
    pub(crate) fn reel(&self) -> Option<&Reel> {
        self.reels.get(self.view.camera)
    }

    /// The frame that is looked at.
    pub(crate) fn frame(&self) -> u32 {
        self.view.frames.get(self.camera_id()).copied().unwrap_or(0)
    }

    /// The frame of any camera: in step with the one looked at where clocks are known.
    pub(crate) fn frame_of(&self, camera: usize) -> Option<u32> {
        if camera == self.view.camera {
            return Some(self.frame());
        }
        let id = &self.document().camera.get(camera)?.id;
        let time_s = self.time_s()?;
        self.clock_of(id)?.frame_at(time_s)
    }

    /// Clock of a camera, as last measured.
    pub(crate) fn clock_of(&self, camera: &str) -> Option<&FrameClock> {
        self.measured.as_ref()?.clock(camera)
    }

    /// The instant that is looked at, s from time zero.
    pub(crate) fn time_s(&self) -> Option<f64> {
        self.clock_of(self.camera_id())?.time_s(self.frame())
    }

    /// Targets of a camera with their places in the dossier.
    pub(crate) fn targets_of<'a>(
        &'a self,
        camera: &'a str,
    ) -> impl Iterator<Item = (usize, &'a TargetEntry)> {
        self.document().target.iter().enumerate().filter(move |(_, target)| target.camera == camera)
    }

    /// What is drawn over a camera's film besides its marks, as last measured.
    pub(crate) fn drawing(&self, camera: &str) -> Option<&FilmDrawing> {
        self.measured.as_ref()?.results.drawings.iter().find(|drawing| drawing.camera == camera)
    }

    /// The chosen target's entry and its place in the dossier.
    pub(crate) fn chosen(&self) -> Option<(usize, &TargetEntry)> {
        let chosen = self.view.target.as_ref()?;
        self.targets_of(&chosen.camera).find(|(_, target)| target.id == chosen.target)
    }

    /// The measured mark of a target in a frame.
    pub(crate) fn mark(&self, camera: &str, target: &str, frame: u32) -> Option<&MarkRow> {
        self.measured.as_ref()?.mark(camera, target, frame)
    }

    /// The mark by hand of a target in a frame.
    pub(crate) fn pick(&self, camera: &str, target: &str, frame: u32) -> Option<&Pick> {
        self.workbook.picks(camera).iter().find(|pick| pick.frame == frame && pick.target == target)
    }

    /// Where a target is in a frame, as far as is known: by hand, measured, or its start.
    pub(crate) fn place_of(&self, camera: &str, target: &str, frame: u32) -> Option<[f64; 2]> {
        if let Some(pick) = self.pick(camera, target, frame) {
            return Some([pick.x_px, pick.y_px]);
        }
        if let Some(mark) = self.mark(camera, target, frame) {
            return Some([mark.x_px, mark.y_px]);
        }
        let (_, entry) = self.targets_of(camera).find(|(_, entry)| entry.id == target)?;
        (entry.start.frame == frame).then_some(entry.start.px)
    }

    /// Where the chosen target was last seen up to a frame.
    pub(crate) fn last_place(&self, frame: u32) -> Option<[f64; 2]> {
        let chosen = self.view.target.as_ref()?;
        let marks = self.measured.as_ref()?.marks(&chosen.camera, &chosen.target);
        let at = marks.partition_point(|mark| mark.frame <= frame);
        let mark = marks.get(at.saturating_sub(1))?;
        Some([mark.x_px, mark.y_px])
    }

    /// Timing marks a second of the camera that is looked at: as the dossier says, or as given for a lamp to be placed.
    pub(crate) fn lamp_hz(&self) -> Option<f64> {
        let marks = self.camera().and_then(|camera| camera.speed.as_ref()?.marks.as_ref());
        marks.map(|marks| marks.frequency_hz).or(self.view.lamp_hz)
    }

    /// Whether the results are older than the dossier.
    pub(crate) fn is_outdated(&self) -> bool {
        self.measured.as_ref().is_some_and(|measured| measured.version != self.workbook.version())
    }

    /// Units for people.
    pub(crate) fn units(&self) -> UnitSystem {
        match self.document().test.units {
            Units::Si => UnitSystem::Si,
            Units::Us => UnitSystem::Us,
        }
    }

    /// The body that targets placed or accepted belong to.
    pub(crate) fn body(&self) -> Option<&str> {
        let bodies = &self.document().body;
        let wanted = self.view.body.as_deref();
        let known = bodies.iter().find(|body| Some(body.id.as_str()) == wanted).or(bodies.first());
        known.map(|body| body.id.as_str())
    }
}
