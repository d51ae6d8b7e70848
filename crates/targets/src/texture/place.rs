//! Where a patch lies in a picture: its centre, and the linear map from offsets in the patch to offsets in the picture.

use filmgauge_quantities::PixelPoint;

/// Offsets in the picture from offsets in the patch: (xx u + xy v, yx u + yy v).
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct PatchShape {
    /// x in the picture for one pixel to the right in the patch.
    pub xx: f64,
    /// x in the picture for one pixel down in the patch.
    pub xy: f64,
    /// y in the picture for one pixel to the right in the patch.
    pub yx: f64,
    /// y in the picture for one pixel down in the patch.
    pub yy: f64,
}

impl Default for PatchShape {
    fn default() -> Self {
        Self { xx: 1.0, xy: 0.0, yx: 0.0, yy: 1.0 }
    }
}

impl PatchShape {
    /// Turned by `turn_rad` (from x towards y) and grown `scale` times.
    #[must_use]
    pub fn turned(turn_rad: f64, scale: f64) -> Self {
        let (sin, cos) = turn_rad.sin_cos();
        Self { xx: scale * cos, xy: -scale * sin, yx: scale * sin, yy: scale * cos }
    }

    /// Turn of the similarity nearest to this shape, rad, from x towards y.
    #[must_use]
    pub fn turn_rad(&self) -> f64 {
        (self.yx - self.xy).atan2(self.xx + self.yy)
    }

    /// Growth in length: the square root of the growth in area; 0 for a folded shape.
    #[must_use]
    pub fn scale(&self) -> f64 {
        self.determinant().max(0.0).sqrt()
    }

    pub(super) fn determinant(&self) -> f64 {
        self.xx * self.yy - self.xy * self.yx
    }

    /// Picture offset of a patch offset.
    pub(super) fn apply(&self, u: f64, v: f64) -> (f64, f64) {
        (self.xx * u + self.xy * v, self.yx * u + self.yy * v)
    }

    fn after(&self, first: &Self) -> Self {
        Self {
            xx: self.xx * first.xx + self.xy * first.yx,
            xy: self.xx * first.xy + self.xy * first.yy,
            yx: self.yx * first.xx + self.yy * first.yx,
            yy: self.yx * first.xy + self.yy * first.yy,
        }
    }

    fn inverse(&self) -> Option<Self> {
        let det = self.determinant();
        (det.is_finite() && det > 0.0).then(|| Self {
            xx: self.yy / det,
            xy: -self.xy / det,
            yx: -self.yx / det,
            yy: self.xx / det,
        })
    }
}

/// Place of a patch in a picture.
#[derive(Debug, Clone, Copy, PartialEq, Default)]
pub struct TexturePlace {
    /// Where the patch's centre is.
    pub centre: PixelPoint,
    /// How the patch is turned, grown and slanted there.
    pub shape: PatchShape,
}

impl TexturePlace {
    /// Upright and of unchanged size at `centre`.
    #[must_use]
    pub fn at(centre: PixelPoint) -> Self {
        Self { centre, shape: PatchShape::default() }
    }

    /// Picture point of a patch offset.
    pub(super) fn point(&self, u: f64, v: f64) -> PixelPoint {
        let (dx, dy) = self.shape.apply(u, v);
        self.centre.moved(dx, dy)
    }

    /// Whether its numbers are finite, it does not fold the patch, and sizes stay within 1/4 to 4.
    pub(super) fn is_sound(&self) -> bool {
        let shape = [self.shape.xx, self.shape.xy, self.shape.yx, self.shape.yy];
        let det = self.shape.determinant();
        self.centre.x.abs() < 1e7
            && self.centre.y.abs() < 1e7
            && shape.iter().all(|entry| entry.abs() <= 4.0)
            && det.is_finite()
            && det > 1.0 / 16.0
    }

    /// This place after the inverse of a small warp of the patch: shift (du, dv) and `shape`; `None` if that folds.
    pub(super) fn before(&self, du: f64, dv: f64, shape: &PatchShape) -> Option<Self> {
        let back = shape.inverse()?;
        let (u, v) = back.apply(du, dv);
        Some(Self { centre: self.point(-u, -v), shape: self.shape.after(&back) })
    }
}
