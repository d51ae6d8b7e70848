//! The outline of a window: an ellipse about its centre, read row by row.

use filmgauge_quantities::PixelPoint;

/// An ellipse: all offsets with `a x² + 2 b x y + c y² <= 1`.
#[derive(Debug, Clone, Copy, PartialEq)]
pub(super) struct Outline {
    a: f64,
    b: f64,
    c: f64,
    /// Longest radius, px.
    pub(super) radius_px: f64,
}

impl Outline {
    pub(super) fn round(radius_px: f64) -> Self {
        let curve = 1.0 / (radius_px * radius_px);
        Self { a: curve, b: 0.0, c: curve, radius_px }
    }

    /// `short_px` along the unit vector `direction`, `long_px` across it.
    pub(super) fn slanted(long_px: f64, short_px: f64, direction: (f64, f64)) -> Self {
        let (long, short) = (1.0 / (long_px * long_px), 1.0 / (short_px * short_px));
        let (x, y) = direction;
        Self {
            a: short * x * x + long * y * y,
            b: (short - long) * x * y,
            c: short * y * y + long * x * x,
            radius_px: long_px.max(short_px),
        }
    }

    /// Rows and column ranges of the pixels inside about `centre`; all coordinates must be positive.
    #[expect(
        clippy::cast_possible_truncation,
        clippy::cast_sign_loss,
        reason = "windows lie inside their cut-out, margin included"
    )]
    pub(super) fn rows(
        self,
        centre: PixelPoint,
    ) -> impl Iterator<Item = (usize, std::ops::RangeInclusive<usize>)> {
        let determinant = self.a * self.c - self.b * self.b;
        let height = (self.a / determinant).sqrt();
        let (square, fall, lean) = (1.0 / self.a, determinant / (self.a * self.a), self.b / self.a);
        let top = (centre.y - height).ceil().max(0.0) as usize;
        let bottom = (centre.y + height).floor().max(0.0) as usize;
        (top..=bottom).map(move |y| {
            let dy = y as f64 - centre.y;
            let half = (square - fall * dy * dy).max(0.0).sqrt();
            let middle = centre.x - lean * dy;
            (y, (middle - half).ceil() as usize..=(middle + half).floor() as usize)
        })
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    /// Area of an ellipse, π a b, computed from the stated formula.
    #[test]
    fn a_slanted_outline_has_its_area_and_lies_along_its_direction() {
        let outline = Outline::slanted(40.0, 20.0, (0.6, 0.8));
        let rows: Vec<_> = outline.rows(PixelPoint::new(60.3, 59.8)).collect();
        let n: usize = rows.iter().map(|(_, columns)| columns.clone().count()).sum();
        assert!((n as f64 - std::f64::consts::PI * 800.0).abs() < 15.0, "{n}");
        let holds = |x: usize, y: usize| rows.iter().any(|(row, columns)| *row == y && columns.contains(&x));
        // Along (0.6, 0.8) it is 20 px long, across it 40 px.
        assert!(holds(60 + 11, 60 + 15) && !holds(60 + 13, 60 + 17));
        assert!(holds(60 - 31, 60 + 23) && holds(60 + 31, 60 - 23));
    }
}
