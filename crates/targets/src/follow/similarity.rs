//! Planar similarity between a body's layout and a frame: shift, turn and size from two or more places.

use filmgauge_quantities::PixelPoint;

/// Maps layout places to picture places: p ↦ a p + b with complex a and b.
#[derive(Debug, Clone, Copy, PartialEq)]
pub(super) struct Similarity {
    a: (f64, f64),
    b: (f64, f64),
}

impl Similarity {
    /// Leaves every place where it is.
    pub(super) const SAME: Self = Self { a: (1.0, 0.0), b: (0.0, 0.0) };

    /// Least squares from pairs of layout place and picture place; `None` for fewer than two distinct places.
    pub(super) fn fit(pairs: &[(PixelPoint, PixelPoint)]) -> Option<Self> {
        let n = pairs.len() as f64;
        let mean = |of: &dyn Fn(&(PixelPoint, PixelPoint)) -> f64| pairs.iter().map(of).sum::<f64>() / n;
        let from = (mean(&|p| p.0.x), mean(&|p| p.0.y));
        let to = (mean(&|p| p.1.x), mean(&|p| p.1.y));
        let (mut same, mut across, mut spread) = (0.0, 0.0, 0.0);
        for (p, q) in pairs {
            let (px, py, qx, qy) = (p.x - from.0, p.y - from.1, q.x - to.0, q.y - to.1);
            same += px * qx + py * qy;
            across += px * qy - py * qx;
            spread += px * px + py * py;
        }
        if pairs.len() < 2 || spread < 1.0 {
            return None;
        }
        let a = (same / spread, across / spread);
        let b = (to.0 - a.0 * from.0 + a.1 * from.1, to.1 - a.1 * from.0 - a.0 * from.1);
        Some(Self { a, b })
    }

    /// Picture place of a layout place.
    pub(super) fn map(&self, p: PixelPoint) -> PixelPoint {
        PixelPoint::new(
            self.a.0 * p.x - self.a.1 * p.y + self.b.0,
            self.a.1 * p.x + self.a.0 * p.y + self.b.1,
        )
    }

    /// Layout place of a picture place.
    pub(super) fn unmap(&self, q: PixelPoint) -> PixelPoint {
        let (x, y) = (q.x - self.b.0, q.y - self.b.1);
        let size2 = self.a.0 * self.a.0 + self.a.1 * self.a.1;
        PixelPoint::new((self.a.0 * x + self.a.1 * y) / size2, (self.a.0 * y - self.a.1 * x) / size2)
    }

    /// Size against the layout.
    pub(super) fn scale(&self) -> f64 {
        self.a.0.hypot(self.a.1)
    }

    /// Turn against the layout, rad, from x towards y.
    pub(super) fn angle_rad(&self) -> f64 {
        self.a.1.atan2(self.a.0)
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn fit_map_and_unmap_agree() {
        let truth = Similarity { a: (0.98, 0.12), b: (30.0, -7.0) };
        let places = [PixelPoint::new(0.0, 0.0), PixelPoint::new(100.0, 5.0), PixelPoint::new(40.0, 60.0)];
        let pairs: Vec<_> = places.iter().map(|&p| (p, truth.map(p))).collect();
        let found = Similarity::fit(&pairs).unwrap();
        for p in places {
            assert!(found.map(p).distance(truth.map(p)) < 1e-9);
            assert!(found.unmap(found.map(p)).distance(p) < 1e-9);
        }
        assert!(Similarity::fit(&pairs[..1]).is_none());
        assert!(Similarity::fit(&[pairs[0], pairs[0]]).is_none());
        assert!((Similarity::SAME.scale() - 1.0).abs() < 1e-12 && Similarity::SAME.angle_rad().abs() < 1e-12);
    }
}
