//! What a measurement yields: findings, marks, motion, crosschecks, curves, notices and provenance, as plain data.
//! `dossier` fills it, `report` shows it; nothing here computes.

mod clocks;
mod crosscheck;
mod curve;
mod drawing;
mod finding;
mod lens;
mod notice;
mod provenance;
mod rows;
mod run;

pub use clocks::{ClockResult, ClockTieResult, ClocksResult, StepRow};
pub use crosscheck::{
    AgreementFigures, BesideResult, CrosscheckResult, ExplanationTried, SuspectedFault, ValueAndU, ZeroCheck,
};
pub use curve::{Curve, CurveBand, CurvePoint, Panel, PanelMarker};
pub use drawing::{BodyAxes, FilmDrawing, FilmPath, GridLine, PathKind, PlaneGrid};
pub use finding::{Contribution, Evidence, Finding, FindingSource};
pub use lens::{LensPicture, LensPoint, LensResidual};
pub use notice::{Notice, Severity};
pub use provenance::{InputFile, InputKind, KEPT_TEMPLATE, Provenance};
pub use rows::{EventRow, GapRow, MarkRow, MotionRow};
pub use run::{
    CameraSummary, ChannelSummary, FrameTableText, Results, StripPicture, TestSummary, UnitSystem,
};
