//! Settings of the search for a chessboard.

use crate::error::{TargetsError, require_all};

/// Settings of [`super::find_chessboard`].
#[derive(Debug, Clone, PartialEq)]
pub struct ChessboardOptions {
    /// Inner corners along one side; 3 to 100.
    pub columns: usize,
    /// Inner corners along the other side; 3 to 100.
    pub rows: usize,
    /// Half-width of the window in which a corner is located, as a share of the distance to the nearest edge that is not its
    /// own; 0.1 to 0.4: beyond that the next corner comes into the window.
    pub window_share: f64,
    /// Greatest half-width of that window, px; 3 to 100. Perspective and distortion bend a large one.
    pub greatest_window_px: f64,
    /// Least score of a crossing, 0 to 1: the share of the variance around it that two crossing edges explain.
    pub least_score: f64,
    /// Least contrast of a crossing as a share of full scale; above 0, up to 1.
    pub least_contrast_share: f64,
    /// Greatest radius in which a crossing is first looked for, px; 6 to 200. A crossing of edges looks the same at every
    /// scale: more is needed only where the picture is very soft.
    pub greatest_radius_px: f64,
    /// Least ratio of a square's shortest side to its longest in the picture; 0.05 to 1.
    pub least_ratio: f64,
}

impl ChessboardOptions {
    /// The defaults for a board of so many inner corners.
    #[must_use]
    pub fn of(columns: usize, rows: usize) -> Self {
        Self {
            columns,
            rows,
            window_share: 0.4,
            greatest_window_px: 10.0,
            least_score: 0.6,
            least_contrast_share: 0.06,
            greatest_radius_px: 20.0,
            least_ratio: 0.2,
        }
    }

    /// Whether every setting is in its range.
    ///
    /// # Errors
    /// [`TargetsError::Setting`] names the first that is not.
    pub fn check(&self) -> Result<(), TargetsError> {
        require_all(&[
            ("columns", self.columns as f64, 3.0..=100.0, "it must be 3 to 100"),
            ("rows", self.rows as f64, 3.0..=100.0, "it must be 3 to 100"),
            ("window_share", self.window_share, 0.1..=0.4, "it must be 0.1 to 0.4"),
            ("greatest_window_px", self.greatest_window_px, 3.0..=100.0, "it must be 3 to 100 px"),
            ("least_score", self.least_score, 0.0..=1.0, "it must be 0 to 1"),
            (
                "least_contrast_share",
                self.least_contrast_share,
                f64::MIN_POSITIVE..=1.0,
                "it must be above 0, up to 1",
            ),
            ("greatest_radius_px", self.greatest_radius_px, 6.0..=200.0, "it must be 6 to 200 px"),
            ("least_ratio", self.least_ratio, 0.05..=1.0, "it must be 0.05 to 1"),
        ])
    }
}
