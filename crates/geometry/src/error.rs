//! What can go wrong between pixels and metres, by who must act.

/// Why pixels could not become metres.
#[derive(Debug, Clone, PartialEq, thiserror::Error)]
#[non_exhaustive]
pub enum GeometryError {
    /// The lens file cannot be used as it stands.
    #[error("{file}, line {line}: {why}; correct the lens file or calibrate the lens again")]
    LensFile {
        /// Name of the file, as given.
        file: String,
        /// Line, counted from 1.
        line: usize,
        /// What is wrong there.
        why: String,
    },
    /// The layout file cannot be used as it stands.
    #[error("{file}, line {line}: {why}; correct the layout file")]
    LayoutFile {
        /// Name of the file, as given.
        file: String,
        /// Line, counted from 1.
        line: usize,
        /// What is wrong there.
        why: String,
    },
    /// Views of a grid gave no lens.
    #[error("the lens cannot be calibrated: {0}")]
    LensFit(#[from] crate::LensFitFailure),
    /// Straight edges gave no lens.
    #[error("the lens cannot be calibrated: {0}")]
    PlumbLine(#[from] crate::PlumbLineFailure),
    /// A point lies where the lens model cannot be inverted.
    #[error(
        "the lens model cannot be inverted at ({x_px:.1}, {y_px:.1}) px: the point lies outside the calibrated field; \
         use a lens calibrated to the edge of the picture, or leave the point out"
    )]
    OutsideLensField {
        /// Column of the stored point, px.
        x_px: f64,
        /// Row of the stored point, px.
        y_px: f64,
    },
    /// The reference board cannot give a scale.
    #[error("the reference board gives no scale: {why}; read the board's ends again or correct its length")]
    Board {
        /// What is wrong with it.
        why: String,
    },
    /// A plane offset needs the camera's distance, which is not given.
    #[error(
        "a plane offset of {offset_m:.3} m cannot be allowed for: the distance from camera to board is not given; \
         state the board's distance"
    )]
    DistanceUnknown {
        /// The offset asked for, m.
        offset_m: f64,
    },
    /// The plane lies at or behind the camera.
    #[error(
        "a plane offset of {offset_m:.3} m reaches the camera, which is {distance_m:.3} m from the board; \
         check the sign and the unit of the offset"
    )]
    OffsetReachesCamera {
        /// The offset asked for, m.
        offset_m: f64,
        /// Camera to board, m.
        distance_m: f64,
    },
    /// A setting is out of its range.
    #[error("setting {setting} is {value}, but {rule}; change that setting")]
    Setting {
        /// Name of the setting.
        setting: &'static str,
        /// Its value as given.
        value: f64,
        /// What it must be.
        rule: &'static str,
    },
    /// The reference cannot give a plane as asked.
    #[error("the reference gives no plane: {why}")]
    Reference {
        /// What stands against it, and what to do.
        why: String,
    },
    /// The plane points give no plane.
    #[error(transparent)]
    PlanePoints(#[from] crate::HomographyFailure),
    /// The control points give no pose.
    #[error(transparent)]
    Pose(#[from] crate::PoseFailure),
    /// A camera in space does not see what was asked for.
    #[error("{why}; check the camera's place and the plane")]
    View {
        /// What stands against it.
        why: String,
    },
}
