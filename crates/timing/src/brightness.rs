//! Mean level of a rectangle that the analyst chose: a lamp in view, or the track along the film's edge.

use filmgauge_quantities::GreyView;
use serde::{Deserialize, Serialize};

/// A rectangle of pixels.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Serialize, Deserialize)]
pub struct Region {
    /// First column, px.
    pub x: usize,
    /// First row, px.
    pub y: usize,
    /// Columns, at least 1.
    pub width: usize,
    /// Rows, at least 1.
    pub height: usize,
}

/// Mean grey level of the region, on the scale as stored; `None` when the region is empty or reaches out of the
/// picture.
///
/// A series for [`crate::pulses`] or [`crate::flash_zero`] is one such level for each frame.
#[must_use]
#[expect(clippy::cast_precision_loss, reason = "pixel counts stay far below 2^53")]
pub fn region_level(view: &GreyView<'_>, region: &Region) -> Option<f64> {
    let right = region.x.checked_add(region.width)?;
    let bottom = region.y.checked_add(region.height)?;
    if region.width == 0 || region.height == 0 || right > view.width() || bottom > view.height() {
        return None;
    }
    let mut sum = 0.0;
    for y in region.y..bottom {
        for x in region.x..right {
            sum += f64::from(view.get(x, y)?);
        }
    }
    Some(sum / (region.width * region.height) as f64)
}

#[cfg(test)]
mod tests {
    use super::*;
    use filmgauge_quantities::GreyImage;

    #[test]
    fn mean_of_a_rectangle_inside_only() {
        let image = GreyImage::from_u8(3, 2, vec![0, 10, 20, 30, 40, 50]).unwrap();
        let region = |x, y, width, height| Region { x, y, width, height };
        let level = |region| region_level(&image.view(), &region);
        assert_eq!(level(region(1, 0, 2, 2)), Some(30.0));
        assert_eq!(level(region(0, 0, 4, 1)), None);
        assert_eq!(level(region(0, 0, 0, 1)), None);
        assert_eq!(level(region(usize::MAX, 0, 2, 1)), None);
    }
}
