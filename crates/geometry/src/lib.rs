//! Pixels to metres: lens, reference board and plane of motion, with covariance; and which surveyed target of a layout each
//! place seen is.
//!
//! # Conventions
//! * Stored pixels: (0, 0) is the centre of the top-left pixel, x right, y down.
//! * Ideal pixels: where a lens without distortion, of the same focal lengths and principal point, would put the point.
//! * Plane: x along the board from `from` to `to`, z the second axis of the camera's plane, origin at the board's `from`.
//! * Plane offset: positive towards the camera.

mod board;
mod calibration;
mod camera_motion;
mod error;
mod layout;
mod lens;
mod lens_file;
mod lens_fit;
mod optics;
mod plane;
mod plumb_line;
mod steady;

pub use board::{Board, BoardDoubt};
pub use calibration::{Calibration, DoubtSource};
pub use camera_motion::{CameraMotion, camera_motion};
pub use error::GeometryError;
pub use layout::{
    LayoutFailure, LayoutFile, LayoutMatch, LayoutOptions, Seen, Surveyed, ViewMap, ViewModel, XRuns,
    match_layout,
};
pub use lens::Lens;
pub use lens_file::{LENS_TERMS, LensFile};
pub use lens_fit::{
    FittedView, FlatGrid, GridPose, GridView, LensField, LensFit, LensFitFailure, LensFitOptions, LensTerms,
    OddView, TermChoice, TermTrial, fit_lens,
};
pub use optics::{
    blur_px, false_shift_m, inclined_path_factor, parallax_correction_u, parallax_ratio, step_px,
};
pub use plane::PlaneMap;
pub use plumb_line::{PlumbLineFailure, PlumbLineFit, PlumbLineOptions, RadialChoice, fit_plumb_lines};
pub use steady::{
    FixedMark, SteadyEvidence, SteadyFailure, SteadyModel, SteadyOptions, SteadyRow, SteadyStep,
    exposure_gains, image_from_steady, steady_evidence, steady_from_image, steady_model, steady_step,
    steady_table,
};
