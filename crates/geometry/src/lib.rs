//! Pixels to metres: lens, reference (board, plane points or pose) and plane of motion, cameras in space and their rays, with
//! covariance; and which surveyed target of a layout each place seen is.
//!
//! # Conventions
//! * Stored pixels: (0, 0) is the centre of the top-left pixel, x right, y down.
//! * Ideal pixels: where a lens without distortion, of the same focal lengths and principal point, would put the point.
//! * Plane: x along the path, z the second axis of the camera's plane; for a board x runs from `from` to `to`, origin at `from`.
//! * Plane offset: positive towards the camera. Inclination: positive where the path nears the camera as x grows.
//! * Space: x along the path, y to its left, z up; a camera's own axes run to the right, down and ahead.

mod board;
mod calibration;
mod camera;
mod camera_pose;
mod chi2;
mod control;
mod error;
mod homography;
mod known_length;
mod layout;
mod lens;
mod lens_file;
mod lens_fit;
mod levenberg;
mod optics;
mod plane;
mod plumb_line;
mod reference;
mod rigid;
mod space;
mod steady;
mod suspect;

pub use board::{Board, BoardDoubt};
pub use calibration::{Calibration, DoubtSource};
pub use camera::{CameraPose, Crossing, PosedCamera, Ray, SpacePlane};
pub use camera_pose::{PoseAlternative, PoseFailure, PoseFit, PoseOptions, camera_pose};
pub use control::{ControlFault, ControlResidual, PlaneControl, SpaceControl};
pub use error::GeometryError;
pub use homography::{Homography, HomographyFailure, HomographyOptions, homography};
pub use known_length::{KnownLength, LengthCheck, LengthDoubt, LengthRole};
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
pub use plane::{PlaneMap, PlaneOf};
pub use plumb_line::{
    CENTRE_U_SHARE, PlumbLineFailure, PlumbLineFit, PlumbLineOptions, RadialChoice, fit_plumb_lines,
};
pub use reference::{PlanePoints, PosePoints, Reference};
pub use space::{
    BodyMark, Bundle, BundleOptions, CameraMark, CentrePlane, SideMark, Sighting, SpaceAngles, SpaceFailure,
    SpaceFix, SpacePose, SpaceTrack, TrackPoint, TriangulateOptions, bundle, centre_plane, epipolar_px,
    space_pose, space_pose_from_marks, triangulate,
};
pub use steady::{
    FixedMark, SteadyEvidence, SteadyFailure, SteadyFilm, SteadyModel, SteadyOptions, SteadyRow, SteadyStep,
    exposure_gains, ideal_mark, image_from_steady, steady_evidence, steady_film, steady_from_image,
    steady_from_stored, steady_model, steady_step, steady_table, stored_from_steady,
};
pub use suspect::Suspicion;
