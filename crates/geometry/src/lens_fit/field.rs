//! Where a lens was calibrated: the outline of all corners and their greatest distance from the principal point.

use super::outcome::LensField;
use crate::Lens;
use filmgauge_quantities::PixelPoint;

/// The field of some corners.
pub(crate) fn field(corners: &[PixelPoint], lens: &Lens, size_px: (u32, u32)) -> LensField {
    let centre = PixelPoint::new(lens.cx_px, lens.cy_px);
    let radius_px = corners.iter().map(|corner| corner.distance(centre)).fold(0.0, f64::max);
    let outline = outline(corners);
    let picture = f64::from(size_px.0) * f64::from(size_px.1);
    let share = (area(&outline) / picture).clamp(0.0, 1.0);
    LensField { radius_px, outline, share }
}

/// Turn from a-b to a-c; positive from x to y.
fn turn(a: PixelPoint, b: PixelPoint, c: PixelPoint) -> f64 {
    (b.x - a.x) * (c.y - a.y) - (b.y - a.y) * (c.x - a.x)
}

/// Convex outline by the monotone chain (Andrew 1979, Information Processing Letters 9:216-219).
fn outline(points: &[PixelPoint]) -> Vec<PixelPoint> {
    let mut sorted = points.to_vec();
    sorted.sort_by(|a, b| a.x.total_cmp(&b.x).then(a.y.total_cmp(&b.y)));
    let chain = |points: &mut dyn Iterator<Item = &PixelPoint>| {
        let mut kept: Vec<PixelPoint> = Vec::new();
        for &point in points {
            while let [.., a, b] = kept[..]
                && turn(a, b, point) <= 0.0
            {
                kept.pop();
            }
            kept.push(point);
        }
        kept.pop();
        kept
    };
    let mut all = chain(&mut sorted.iter());
    all.extend(chain(&mut sorted.iter().rev()));
    all
}

fn area(outline: &[PixelPoint]) -> f64 {
    let next = outline.iter().cycle().skip(1);
    0.5 * outline.iter().zip(next).map(|(a, b)| a.x * b.y - a.y * b.x).sum::<f64>().abs()
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn a_square_with_points_inside_is_its_corners() {
        let at = PixelPoint::new;
        let corners =
            [at(0.0, 0.0), at(5.0, 5.0), at(10.0, 0.0), at(5.0, 0.0), at(10.0, 10.0), at(0.0, 10.0)];
        let field = field(&corners, &Lens::pinhole(100.0, 0.0, 0.0), (20, 10));
        assert_eq!(field.outline, [at(0.0, 0.0), at(10.0, 0.0), at(10.0, 10.0), at(0.0, 10.0)]);
        assert!((field.share - 0.5).abs() < 1e-12 && (field.radius_px - 200.0_f64.sqrt()).abs() < 1e-12);
    }
}
