//! The reference board: two ends read in the picture, a known length, and what is doubtful about them.

use crate::GeometryError;
use filmgauge_quantities::{Length, PixelPoint, Uncertain};

/// A board of known length that lies along the path, as read in one camera's picture.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Board {
    /// The end from which the path leads on, stored px.
    pub from: PixelPoint,
    /// The end towards the struck vehicle, stored px.
    pub to: PixelPoint,
    /// Length between the two ends.
    pub length: Uncertain<Length>,
    /// Standard uncertainty of reading one end along one axis, px.
    pub reading_u_px: f64,
    /// Distance from the camera's entrance pupil to the board's plane, where known.
    pub distance: Option<Uncertain<Length>>,
}

/// One doubtful input of a board.
#[derive(Debug, Clone, Copy, PartialEq, Eq, PartialOrd, Ord, Hash)]
pub enum BoardDoubt {
    /// The length between the ends.
    Length,
    /// Column of `from`.
    FromX,
    /// Row of `from`.
    FromY,
    /// Column of `to`.
    ToX,
    /// Row of `to`.
    ToY,
    /// Distance from camera to board.
    Distance,
}

impl BoardDoubt {
    /// All of them, in a fixed order.
    pub const ALL: [Self; 6] = [Self::Length, Self::FromX, Self::FromY, Self::ToX, Self::ToY, Self::Distance];
}

impl Board {
    /// The board with one input larger by so many standard uncertainties.
    #[must_use]
    pub fn perturbed(&self, doubt: BoardDoubt, times: f64) -> Self {
        let mut board = *self;
        match doubt {
            BoardDoubt::Length => board.length.value = board.length.value + board.length.u * times,
            BoardDoubt::FromX => board.from.x += board.reading_u_px * times,
            BoardDoubt::FromY => board.from.y += board.reading_u_px * times,
            BoardDoubt::ToX => board.to.x += board.reading_u_px * times,
            BoardDoubt::ToY => board.to.y += board.reading_u_px * times,
            BoardDoubt::Distance => {
                if let Some(distance) = &mut board.distance {
                    distance.value = distance.value + distance.u * times;
                }
            }
        }
        board
    }

    /// Whether perturbing this input changes anything.
    #[must_use]
    pub fn doubts(&self, doubt: BoardDoubt) -> bool {
        self.perturbed(doubt, 1.0) != *self
    }

    /// Checks that the board can give a scale.
    ///
    /// # Errors
    /// [`GeometryError::Board`] for a length or distance that is not positive, a reading uncertainty that is
    /// negative, ends less than a pixel apart, or a number that is not finite.
    pub fn check(&self) -> Result<(), GeometryError> {
        let fault = |why: String| Err(GeometryError::Board { why });
        let ends = [self.from.x, self.from.y, self.to.x, self.to.y];
        let length_m = self.length.value.as_m();
        if !ends.iter().all(|end| end.is_finite()) {
            return fault("an end is not a point of the picture".to_owned());
        }
        if !(length_m.is_finite() && length_m > 0.0 && self.length.u.as_m().is_finite()) {
            return fault(format!("its length is given as {length_m} m"));
        }
        if !(self.reading_u_px.is_finite() && self.reading_u_px >= 0.0) {
            return fault(format!("the reading uncertainty is given as {} px", self.reading_u_px));
        }
        if self.from.distance(self.to) < 1.0 {
            return fault("its ends are less than 1 px apart".to_owned());
        }
        match self.distance.map(|distance| distance.value.as_m()) {
            Some(m) if !(m.is_finite() && m > 0.0) => {
                fault(format!("its distance from the camera is given as {m} m"))
            }
            _ => Ok(()),
        }
    }
}
