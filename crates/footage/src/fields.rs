//! The fields of interlaced film: which comes first, which rows of the stored picture it holds.

use filmgauge_quantities::{FrameNumber, GreyImage, GreyPixels, GreyView, LayoutError};
use serde::{Deserialize, Serialize};

/// Which half of an interlaced picture was exposed first.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Serialize, Deserialize)]
#[serde(rename_all = "snake_case")]
pub enum FieldOrder {
    /// Rows 0, 2, 4 … first.
    TopFirst,
    /// Rows 1, 3, 5 … first.
    BottomFirst,
    /// As the film's own flags say. A film that says nothing of fields is read in whole pictures.
    AsStated,
}

/// Which rows of the stored picture a field holds.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Serialize)]
#[serde(rename_all = "snake_case")]
pub enum FieldParity {
    /// Rows 0, 2, 4 …
    Top,
    /// Rows 1, 3, 5 …
    Bottom,
}

impl FieldOrder {
    /// Which rows the field numbered `field` holds, when fields are numbered from 0; `None` for
    /// [`FieldOrder::AsStated`]: ask with [`crate::FootageInfo::fields_read`].
    #[must_use]
    pub fn parity(self, field: FrameNumber) -> Option<FieldParity> {
        match (self, field.0 % 2) {
            (Self::TopFirst, 0) | (Self::BottomFirst, 1) => Some(FieldParity::Top),
            (Self::TopFirst, _) | (Self::BottomFirst, _) => Some(FieldParity::Bottom),
            (Self::AsStated, _) => None,
        }
    }
}

impl FieldParity {
    /// First row of the field in the stored picture.
    #[must_use]
    pub fn first_row(self) -> usize {
        match self {
            Self::Top => 0,
            Self::Bottom => 1,
        }
    }

    /// Row in the stored picture, px, of the place `y_field_px` in the field: twice that, and one more in the bottom field.
    #[must_use]
    pub fn frame_row(self, y_field_px: f64) -> f64 {
        match self {
            Self::Top => 2.0 * y_field_px,
            Self::Bottom => 2.0 * y_field_px + 1.0,
        }
    }

    /// The rows of `picture` that belong to this field. Of an odd number of rows the last is left out, so that both
    /// fields are equally high.
    ///
    /// # Errors
    /// [`LayoutError`] for a picture of one row, which has no fields.
    pub fn rows_of(self, picture: &GreyView<'_>) -> Result<GreyImage, LayoutError> {
        let (stride, height) = (picture.stride(), picture.height() / 2);
        let from = (self.first_row() * stride).min(stride * height);
        let pixels = match picture.pixels() {
            GreyPixels::Eight(samples) => GreyPixels::Eight(&samples[from..]),
            GreyPixels::Sixteen(samples) => GreyPixels::Sixteen(&samples[from..]),
        };
        GreyView::new(picture.width(), height, 2 * stride, picture.bits(), pixels).map(|view| view.to_image())
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn rows_of_fields_lie_in_the_stored_picture() {
        let parity = |order: FieldOrder, number| order.parity(FrameNumber(number));
        assert_eq!(parity(FieldOrder::TopFirst, 6), Some(FieldParity::Top));
        assert_eq!(parity(FieldOrder::BottomFirst, 6), Some(FieldParity::Bottom));
        assert_eq!(parity(FieldOrder::AsStated, 6), None);
        assert!((FieldParity::Top.frame_row(10.25) - 20.5).abs() < 1e-12);
        assert!((FieldParity::Bottom.frame_row(10.25) - 21.5).abs() < 1e-12);
    }
}
