//! The hot loops: prefilter, interpolation at many places, sums of products. Plain safe loops over fixed chunks that
//! the compiler turns into wide registers; the widest set that the processor has is chosen when the program runs.
//!
//! No multiply-add is fused and every sum keeps its own fixed lanes, so every set gives the same bits.

use multiversion::multiversion;

/// Places are worked off in chunks of this many.
pub(super) const CHUNK: usize = 32;

/// Coefficients are filtered in blocks of this many.
pub(super) const BLOCK: usize = 8;

/// Accumulators of a sum.
const SUMS: usize = 16;

/// Coefficient coordinates of a patch offset (u, v): (x + xu u + xv v, y + yu u + yv v).
#[derive(Debug, Clone, Copy)]
pub(super) struct CoefMap {
    pub(super) x: f32,
    pub(super) y: f32,
    pub(super) xu: f32,
    pub(super) xv: f32,
    pub(super) yu: f32,
    pub(super) yv: f32,
}

/// Symmetric filter along rows of `raw`, `half` from its middle outwards; `stride` is a multiple of [`BLOCK`].
#[multiversion(targets("x86_64+avx2+fma", "x86_64+avx+fma"))]
pub(super) fn along_rows(raw: &[f32], raw_stride: usize, half: &[f32], out: &mut [f32], stride: usize) {
    let memory = half.len() - 1;
    for (to, from) in out.chunks_exact_mut(stride).zip(raw.chunks_exact(raw_stride)) {
        for (block, to) in to.as_chunks_mut::<BLOCK>().0.iter_mut().enumerate() {
            let at =
                |offset: usize| from.get(block * BLOCK + offset..).and_then(<[f32]>::first_chunk::<BLOCK>);
            let Some(middle) = at(memory) else { return };
            let mut sums = middle.map(|level| half[0] * level);
            for (k, weight) in half.iter().enumerate().skip(1) {
                let (Some(before), Some(after)) = (at(memory - k), at(memory + k)) else { return };
                for lane in 0..BLOCK {
                    sums[lane] += weight * (before[lane] + after[lane]);
                }
            }
            *to = sums;
        }
    }
}

/// The same down columns.
#[multiversion(targets("x86_64+avx2+fma", "x86_64+avx+fma"))]
pub(super) fn down_columns(rows: &[f32], stride: usize, half: &[f32], out: &mut [f32]) {
    let memory = half.len() - 1;
    for (row, to) in out.chunks_exact_mut(stride).enumerate() {
        for (block, to) in to.as_chunks_mut::<BLOCK>().0.iter_mut().enumerate() {
            let at =
                |row: usize| rows.get(row * stride + block * BLOCK..).and_then(<[f32]>::first_chunk::<BLOCK>);
            let Some(middle) = at(row + memory) else { return };
            let mut sums = middle.map(|level| half[0] * level);
            for (k, weight) in half.iter().enumerate().skip(1) {
                let (Some(before), Some(after)) = (at(row + memory - k), at(row + memory + k)) else {
                    return;
                };
                for lane in 0..BLOCK {
                    sums[lane] += weight * (before[lane] + after[lane]);
                }
            }
            *to = sums;
        }
    }
}

/// Cubic spline values at the places that `map` gives the offsets (`u`, `v`); lengths are multiples of [`CHUNK`].
#[multiversion(targets("x86_64+avx2+fma", "x86_64+avx+fma"))]
pub(super) fn cubic(coefs: &[f32], stride: usize, uv: (&[f32], &[f32]), map: &CoefMap, out: &mut [f32]) {
    let Some(length) = coefs.len().checked_sub(3 * stride) else { return };
    // Rows of one length, so that one check of a place holds for all.
    let rows: [&[f32]; 4] = std::array::from_fn(|j| &coefs[j * stride..][..length]);
    let chunks = uv.0.as_chunks::<CHUNK>().0.iter().zip(uv.1.as_chunks::<CHUNK>().0);
    for ((u, v), to) in chunks.zip(out.as_chunks_mut::<CHUNK>().0) {
        let (at, fx, fy) = located(u, v, map, stride, 1);
        let wy = cubic_weights(&fy);
        let mut across = [[0.0_f32; 4]; CHUNK];
        for i in 0..CHUNK {
            // Leaving the loop for a place off the ground, which never happens, also keeps the compiler from turning
            // four short loads into thirty-two single ones.
            let (Some(r0), Some(r1), Some(r2), Some(r3)) = (
                taps::<4>(rows[0], at[i]),
                taps::<4>(rows[1], at[i]),
                taps::<4>(rows[2], at[i]),
                taps::<4>(rows[3], at[i]),
            ) else {
                return;
            };
            for k in 0..4 {
                across[i][k] = wy[0][i] * r0[k] + wy[1][i] * r1[k] + (wy[2][i] * r2[k] + wy[3][i] * r3[k]);
            }
        }
        let wx = cubic_weights(&fx);
        for i in 0..CHUNK {
            let a = &across[i];
            to[i] = wx[0][i] * a[0] + wx[1][i] * a[1] + (wx[2][i] * a[2] + wx[3][i] * a[3]);
        }
    }
}

/// Quintic spline values, as [`cubic`]; rows of `coefs` must reach two beyond the last tap.
#[multiversion(targets("x86_64+avx2+fma", "x86_64+avx+fma"))]
pub(super) fn quintic(coefs: &[f32], stride: usize, uv: (&[f32], &[f32]), map: &CoefMap, out: &mut [f32]) {
    let Some(length) = coefs.len().checked_sub(5 * stride) else { return };
    // Rows of one length, so that one check of a place holds for all.
    let rows: [&[f32]; 6] = std::array::from_fn(|j| &coefs[j * stride..][..length]);
    let chunks = uv.0.as_chunks::<CHUNK>().0.iter().zip(uv.1.as_chunks::<CHUNK>().0);
    for ((u, v), to) in chunks.zip(out.as_chunks_mut::<CHUNK>().0) {
        let (at, fx, fy) = located(u, v, map, stride, 2);
        let wy = quintic_weights(&fy);
        let (mut near, mut far) = ([[0.0_f32; 4]; CHUNK], [[0.0_f32; 4]; CHUNK]);
        for i in 0..CHUNK {
            let mut sums = [0.0_f32; 8];
            for j in 0..6 {
                let Some(row) = taps::<8>(rows[j], at[i]) else { return };
                for k in 0..8 {
                    sums[k] += wy[j][i] * row[k];
                }
            }
            near[i] = [sums[0], sums[1], sums[2], sums[3]];
            far[i] = [sums[4], sums[5], sums[6], sums[7]];
        }
        let wx = quintic_weights(&fx);
        for i in 0..CHUNK {
            let (a, b) = (&near[i], &far[i]);
            to[i] = (wx[0][i] * a[0] + wx[1][i] * a[1])
                + (wx[2][i] * a[2] + wx[3][i] * a[3])
                + ((wx[4][i] * b[0] + wx[5][i] * b[1]) + (wx[6][i] * b[2] + wx[7][i] * b[3]));
        }
    }
}

/// Coefficients from `at` on.
#[inline(always)]
fn taps<const N: usize>(row: &[f32], at: usize) -> Option<&[f32; N]> {
    row.get(at..at.wrapping_add(N))?.first_chunk()
}

/// Index of the first tap, and phases along x and y.
#[inline(always)]
fn located(
    u: &[f32; CHUNK],
    v: &[f32; CHUNK],
    map: &CoefMap,
    stride: usize,
    left: u32,
) -> ([usize; CHUNK], [f32; CHUNK], [f32; CHUNK]) {
    // Adding 1.5 × 2²³ leaves the nearest whole number in the low bits: a floor without a slow conversion.
    const WHOLE: f32 = 12_582_912.0;
    let (mut column, mut row) = ([0_u32; CHUNK], [0_u32; CHUNK]);
    let (mut fx, mut fy) = ([0.0; CHUNK], [0.0; CHUNK]);
    for i in 0..CHUNK {
        let x = map.x + (map.xu * u[i] + map.xv * v[i]);
        let y = map.y + (map.yu * u[i] + map.yv * v[i]);
        let (wx, wy) = ((x - 0.5) + WHOLE, (y - 0.5) + WHOLE);
        fx[i] = x - (wx - WHOLE);
        fy[i] = y - (wy - WHOLE);
        column[i] = wx.to_bits().wrapping_sub(WHOLE.to_bits() + left);
        row[i] = wy.to_bits().wrapping_sub(WHOLE.to_bits() + left);
    }
    let stride = u32::try_from(stride).unwrap_or(0);
    let mut at = [0_usize; CHUNK];
    for i in 0..CHUNK {
        at[i] = row[i].wrapping_mul(stride).wrapping_add(column[i]) as usize;
    }
    (at, fx, fy)
}

#[inline(always)]
fn cubic_weights(phase: &[f32; CHUNK]) -> [[f32; CHUNK]; 4] {
    const SIXTH: f32 = 1.0 / 6.0;
    let mut w = [[0.0; CHUNK]; 4];
    for i in 0..CHUNK {
        let t = phase[i];
        let r = 1.0 - t;
        let (t2, r2) = (t * t, r * r);
        w[0][i] = SIXTH * (r2 * r);
        w[1][i] = 2.0 / 3.0 - 0.5 * t2 * (2.0 - t);
        w[2][i] = 2.0 / 3.0 - 0.5 * r2 * (2.0 - r);
        w[3][i] = SIXTH * (t2 * t);
    }
    w
}

/// Eight, the last two zero, so that eight coefficients fill a wide register.
#[inline(always)]
fn quintic_weights(phase: &[f32; CHUNK]) -> [[f32; CHUNK]; 8] {
    const SCALE: f32 = 1.0 / 120.0;
    let mut w = [[0.0; CHUNK]; 8];
    for i in 0..CHUNK {
        let t = phase[i];
        let r = 1.0 - t;
        let (t2, r2) = (t * t, r * r);
        // The piece next to the middle, at distance 1 + t, and the middle piece, at distance t.
        let near = |a: f32| 51.0 + a * (75.0 + a * (-210.0 + a * (150.0 + a * (-45.0 + 5.0 * a))));
        let middle = |a: f32, a2: f32| 66.0 + a2 * (-60.0 + a2 * (30.0 - 10.0 * a));
        w[0][i] = SCALE * (r2 * r2 * r);
        w[1][i] = SCALE * near(1.0 + t);
        w[2][i] = SCALE * middle(t, t2);
        w[3][i] = SCALE * middle(r, r2);
        w[4][i] = SCALE * near(1.0 + r);
        w[5][i] = SCALE * (t2 * t2 * t);
    }
    w
}

/// Sums of products of `values` with each of `columns` (laid end to end, each as long as `values`).
#[multiversion(targets("x86_64+avx2+fma", "x86_64+avx+fma"))]
pub(super) fn products(values: &[f32], columns: &[f32], out: &mut [f64]) {
    for (column, to) in columns.chunks_exact(values.len().max(1)).zip(out) {
        let mut sums = [0.0_f32; SUMS];
        for (a, b) in values.as_chunks::<SUMS>().0.iter().zip(column.as_chunks::<SUMS>().0) {
            for lane in 0..SUMS {
                sums[lane] += a[lane] * b[lane];
            }
        }
        *to = sums.iter().map(|&sum| f64::from(sum)).sum();
    }
}

/// Sum of products of a pattern (rows `stride` apart, a multiple of 16) with the levels under it.
#[multiversion(targets("x86_64+avx2+fma", "x86_64+avx+fma"))]
pub(super) fn row_products(levels: &[f32], levels_stride: usize, pattern: &[f32], stride: usize) -> f32 {
    let mut sums = [0.0_f32; SUMS];
    for (row, line) in pattern.chunks_exact(stride).enumerate() {
        let Some(under) = levels.get(row * levels_stride..row * levels_stride + stride) else { break };
        for (a, b) in line.as_chunks::<SUMS>().0.iter().zip(under.as_chunks::<SUMS>().0) {
            for lane in 0..SUMS {
                sums[lane] += a[lane] * b[lane];
            }
        }
    }
    sums.iter().sum()
}

/// The greatest of `levels`.
#[multiversion(targets("x86_64+avx2+fma", "x86_64+avx+fma"))]
pub(super) fn greatest(levels: &[f32]) -> f32 {
    let (chunks, rest) = levels.as_chunks::<SUMS>();
    let mut most = [f32::MIN; SUMS];
    for chunk in chunks {
        for lane in 0..SUMS {
            most[lane] = if chunk[lane] > most[lane] { chunk[lane] } else { most[lane] };
        }
    }
    most.iter().chain(rest).fold(f32::MIN, |most, level| most.max(*level))
}
