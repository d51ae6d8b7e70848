//! The least covariance of a centre that any method can reach from a set of pixels (Cramér-Rao).

use super::paint::Picture;
use filmgauge_quantities::{PixelCov, PixelPoint};
use nalgebra::{Matrix2, SMatrix, SVector};

/// The bound for known noise in each pixel within `reach_px` of the centre. The level, the gain and a linear shading are
/// unknown too and cost what they cost: their columns are projected out of the slopes' (computed from the stated formula;
/// for shifts see Robinson & Milanfar 2004, IEEE Trans. Image Processing 13:1185-1199).
pub(super) fn bound(
    picture: &Picture,
    centre: PixelPoint,
    reach_px: f64,
    variance_grey2: f64,
) -> Option<PixelCov> {
    let mut normal = SMatrix::<f64, 6, 6>::zeros();
    for (index, (level, slope)) in picture.levels.iter().zip(&picture.slopes).enumerate() {
        let (x, y) = ((index % picture.side) as f64 - centre.x, (index / picture.side) as f64 - centre.y);
        if x.hypot(y) <= reach_px {
            let row = SVector::<f64, 6>::from([slope.0, slope.1, 1.0, level / 100.0, x, y]);
            normal += row * row.transpose();
        }
    }
    let centre_block: Matrix2<f64> = normal.fixed_view::<2, 2>(0, 0).into_owned();
    let shared = normal.fixed_view::<2, 4>(0, 2).into_owned();
    let others = normal.fixed_view::<4, 4>(2, 2).into_owned();
    let left = centre_block - shared * others.try_inverse()? * shared.transpose();
    let cov = left.try_inverse()? * variance_grey2;
    Some(PixelCov { xx: cov[(0, 0)], xy: cov[(0, 1)], yy: cov[(1, 1)] })
}
