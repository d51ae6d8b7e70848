//! Everything that can be asked of the desk. What is seen makes commands; `obey` carries them out.

use crate::film::Fit;
use crate::session::{LensBoard, Pending, Purpose, TargetRef};
use crate::work::{HandoverJob, LensJob};
use filmgauge_daybook::Edit;
use filmgauge_quantities::TargetKind;
use std::path::PathBuf;

/// A page laid over the screen.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub(crate) enum Over {
    /// The searchable list of acts.
    Acts,
    /// Keys.
    Keys,
    /// The day book.
    Daybook,
    /// Looks: text size, light or dark, who works.
    Looks,
    /// The cautions.
    Cautions,
}

/// A picture file of a diagram.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub(crate) enum Figure {
    /// Lines that stay sharp.
    Svg,
    /// Pixels.
    Png,
}

/// A file of the results that the desk opens in whatever shows it here.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub(crate) enum Shown {
    /// The sheet as a page.
    Sheet,
    /// The sheet on paper.
    Paper,
    /// The tables as a workbook.
    Workbook,
    /// The folder of all of them.
    Folder,
}

/// One request.
#[derive(Debug, Clone)]
pub(crate) enum Command {
    /// Opens the dossier in this folder or file.
    Open(PathBuf),
    /// Opens a copy of the sample test.
    OpenSample,
    /// A new dossier for these films, in a folder beside the first.
    New(Vec<PathBuf>),
    /// Adds films as cameras of the open dossier.
    AddFilms(Vec<PathBuf>),
    /// Closes the dossier.
    Close,
    /// Files were dropped on the window.
    Dropped(Vec<PathBuf>),
    /// Makes edits in the dossier as one act.
    Edit(String, Vec<Edit>),
    /// Takes the last act back.
    Undo,
    /// Does it again.
    Redo,
    /// Undoes everything, back to the first line of the day book.
    UndoAll,
    /// Does everything again.
    RedoAll,
    /// Writes what is not on disk yet.
    Save,
    /// Looks at a camera.
    Camera(usize),
    /// The next camera.
    NextCamera,
    /// Looks at a frame.
    Frame(u32),
    /// Looks at a frame of a camera.
    Evidence(String, u32),
    /// Goes so many frames on or back.
    Step(i64),
    /// To the first frame.
    First,
    /// To the last frame.
    Last,
    /// Looks at an instant, s from time zero.
    Time(f64),
    /// Plays or stops; backwards if true.
    Play(bool),
    /// Frames of film shown in a second of playing.
    PlaySpeed(f64),
    /// Cameras side by side, in step, or one alone.
    InStep,
    /// Fits the picture into its place.
    Whole,
    /// Zooms about the middle, or about the chosen target, by this factor.
    Zoom(f32),
    /// How the picture of a camera lies in its place.
    Fit(String, Fit),
    /// Brightness and contrast of the view, each -1 to 1; measuring never sees them.
    Levels(f32, f32),
    /// Shows or hides an overlay.
    Overlay(&'static str),
    /// Chooses a target.
    Choose(Option<TargetRef>),
    /// Chooses the next target of the camera, or the one before.
    NextTarget(bool),
    /// Chooses a line of the form.
    Line(String),
    /// To the next line that needs something.
    NextNeed,
    /// Begins to place something in the picture.
    Place(Purpose),
    /// Kind of the targets placed by hand.
    Kind(TargetKind),
    /// Body of the targets placed or accepted.
    OnBody(String),
    /// Radius of targets placed by hand, px.
    Radius(f64),
    /// Timing marks a second of a lamp that is not placed yet.
    LampHz(f64),
    /// How far new targets lie in front of the board, and its standard uncertainty, m.
    Offset(Option<f64>, f64),
    /// Layout file by which found targets are named, from the dossier's folder; none when empty.
    Layout(String),
    /// Length of a board that is not placed yet and its standard uncertainty, m.
    BoardLength([Option<f64>; 2]),
    /// Name and numbers of what is shown in the film next.
    Pending(Pending),
    /// Pictures of a board and its size, as written in the camera's line.
    LensBoard(LensBoard),
    /// Keeps a straight edge of the camera that is looked at, by its ends, px.
    StraightEdge([[f64; 2]; 2]),
    /// Takes the n-th straight edge out.
    DropEdge(usize),
    /// Calibrates the lens of the camera that is looked at, in the background.
    Calibrate(LensJob),
    /// Stops calibrating.
    StopCalibrating,
    /// A point was pointed at, px of the stored picture.
    Point([f64; 2]),
    /// Moves the point being placed, px.
    Nudge(f64, f64),
    /// Takes the point as pointed at or as fitted.
    Settle,
    /// Accepts what is being placed.
    Accept,
    /// Gives up what is being placed.
    GiveUp,
    /// Finds targets in this frame.
    Spot,
    /// Makes the n-th found target one of the dossier's.
    AcceptFound(usize),
    /// Makes all of them so.
    AcceptAllFound,
    /// Leaves the n-th out; all when `None`.
    RejectFound(Option<usize>),
    /// Measures in the background.
    Measure,
    /// Stops measuring.
    Stop,
    /// Writes the marked film of the camera that is looked at, in the background.
    MarkedFilm,
    /// Stops writing it; what is finished is kept.
    StopMarking,
    /// Where the archive is to lie, from the dossier's folder; beside that folder when empty.
    Archive(String),
    /// Packs the measured dossier into its archive, or proves its results, in the background.
    HandOver(HandoverJob),
    /// Stops packing or proving.
    StopHandover,
    /// Opens a file of the results.
    Show(Shown),
    /// Shows or hides a group of curves.
    Curves(String),
    /// Writes the curves that are shown as pictures.
    Export(Figure),
    /// Shows the whole time again.
    WholeTime,
    /// Opens or closes a page.
    Over(Option<Over>),
    /// Size of text, percent.
    TextSize(u16),
    /// Dark or light; as the system says when `None`.
    Dark(Option<bool>),
    /// Who works at the desk.
    Who(String),
    /// Says a sentence in the status line.
    Say(String),
}

/// Requests in the order in which they were made.
#[derive(Debug, Default)]
pub(crate) struct Commands(Vec<Command>);

impl Commands {
    /// Asks for one.
    pub(crate) fn push(&mut self, command: Command) {
        self.0.push(command);
    }

    /// Asks for an edit as an act with a name.
    pub(crate) fn edit(&mut self, act: impl Into<String>, edits: Vec<Edit>) {
        self.push(Command::Edit(act.into(), edits));
    }

    /// All of them, and none left.
    pub(crate) fn take(&mut self) -> Vec<Command> {
        std::mem::take(&mut self.0)
    }
}
