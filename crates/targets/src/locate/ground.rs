//! Ground and light of their own on either side of an edge: what they put into the differences of opposite pixels is
//! taken out of differences and slopes, so that it does not pass for a shift.

use super::pairs::Pairs;
use crate::lanes::sums_of_8;
use nalgebra::{Matrix6, SMatrix};

/// Shadings that are taken out.
const N_SHADINGS: usize = 6;

/// Frees differences and slopes of six shadings: `x`, `y`, `m x`, `m y`, `ρ² x` and `ρ² y`, with the offset (x, y) and
/// distance ρ from the centre in window radii and the mean level m of a pair.
///
/// Since m has one value on the target and another on the ground, each may shade in its own way: about the rim of a disc
/// the ground's shading looks like a shift otherwise. Least squares on what is left gives the same centre as with the six
/// as further unknowns (Frisch & Waugh 1933, Econometrica 1:387-401).
pub(super) fn free(pairs: &mut Pairs, radius_px: f64) {
    let shadings = shadings(pairs, radius_px);
    let [a, b, c, d, e, f] = shadings.each_ref().map(Vec::as_slice);
    let sums = sums_of_8([a, b, c, d, e, f, &pairs.slope_x, &pairs.slope_y], &pairs.difference);
    let (matrix, with_difference) = sums.normal();
    let own: Matrix6<f64> = matrix.fixed_view::<N_SHADINGS, N_SHADINGS>(0, 0).into_owned();
    // Levels without any variety fix no shading of their own; such a window fails for want of contrast.
    let Some(root) = own.cholesky() else { return };
    let mut met = SMatrix::<f64, N_SHADINGS, 3>::zeros();
    met.fixed_view_mut::<N_SHADINGS, 2>(0, 0).copy_from(&matrix.fixed_view::<N_SHADINGS, 2>(0, N_SHADINGS));
    met.set_column(2, &with_difference.fixed_rows::<N_SHADINGS>(0));
    #[expect(clippy::cast_possible_truncation, reason = "shares of columns in single precision")]
    let shares = root.solve(&met).map(|share| share as f32);
    let freed = [&mut pairs.slope_x, &mut pairs.slope_y, &mut pairs.difference];
    for (column, share) in freed.into_iter().zip(shares.column_iter()) {
        let (low, high) = ((share[0], share[1], share[2]), (share[3], share[4], share[5]));
        let lower = a.iter().zip(b).zip(c).map(|((a, b), c)| low.0 * a + low.1 * b + low.2 * c);
        let upper = d.iter().zip(e).zip(f).map(|((d, e), f)| high.0 * d + high.1 * e + high.2 * f);
        column.iter_mut().zip(lower.zip(upper)).for_each(|(number, (lower, upper))| *number -= lower + upper);
    }
}

#[expect(clippy::cast_possible_truncation, reason = "a length in the picture, in single precision")]
fn shadings(pairs: &Pairs, radius_px: f64) -> [Vec<f32>; N_SHADINGS] {
    let scale = 1.0 / radius_px as f32;
    let column = |of: fn(f32, f32, f32) -> f32| -> Vec<f32> {
        let offsets = pairs.dx.iter().zip(&pairs.dy).zip(&pairs.level);
        offsets.map(|((dx, dy), level)| of(scale * dx, scale * dy, *level)).collect()
    };
    [
        column(|x, _, _| x),
        column(|_, y, _| y),
        column(|x, _, level| level * x),
        column(|_, y, level| level * y),
        column(|x, y, _| (x * x + y * y) * x),
        column(|x, y, _| (x * x + y * y) * y),
    ]
}
