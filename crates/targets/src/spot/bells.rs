//! Rows under small bells: the loops that every pixel of a frame goes through.

use multiversion::multiversion;

/// Weighed sums down columns, from the third place of `columns` on; the first and last repeat outwards.
#[multiversion(targets("x86_64+avx2"))]
pub(super) fn add_rows<T: Copy + Into<u32>>([a, b, c, d, e]: [&[T]; 5], columns: &mut [u32]) {
    let n = c.len();
    let (a, b, d, e) = (&a[..n], &b[..n], &d[..n], &e[..n]);
    for (x, to) in columns[2..][..n].iter_mut().enumerate() {
        let [a, b, c, d, e]: [u32; 5] = [a[x].into(), b[x].into(), c[x].into(), d[x].into(), e[x].into()];
        *to = a + e + 4 * (b + d) + 6 * c;
    }
    (columns[0], columns[1]) = (columns[2], columns[2]);
    let last = columns[n + 1];
    columns[n + 2..].fill(last);
}

/// Weighed sums along a row of those.
#[multiversion(targets("x86_64+avx2"))]
pub(super) fn add_columns(columns: &[u32], out: &mut [f32]) {
    let n = out.len();
    let [a, b, c, d, e] = [0, 1, 2, 3, 4].map(|k| &columns[k..][..n]);
    for (x, to) in out.iter_mut().enumerate() {
        *to = (a[x] + e[x] + 4 * (b[x] + d[x]) + 6 * c[x]) as i32 as f32 / 256.0;
    }
}

/// Every second of the weighed sums along a row.
#[multiversion(targets("x86_64+avx2"))]
pub(super) fn add_every_second(columns: &[u32], out: &mut [f32]) {
    for (to, from) in out.iter_mut().zip(columns.windows(5).step_by(2)) {
        *to = (from[0] + from[4] + 4 * (from[1] + from[3]) + 6 * from[2]) as i32 as f32 / 256.0;
    }
}

/// A row under a bell of 1 6 1.
#[multiversion(targets("x86_64+avx2"))]
pub(super) fn slight_row([above, here, below]: [&[f32]; 3], out: &mut [f32]) {
    let n = out.len();
    let [a0, a1, a2] = [0, 1, 2].map(|k| &above[k..][..n]);
    let [h0, h1, h2] = [0, 1, 2].map(|k| &here[k..][..n]);
    let [b0, b1, b2] = [0, 1, 2].map(|k| &below[k..][..n]);
    for (x, to) in out.iter_mut().enumerate() {
        let corners = a0[x] + a2[x] + b0[x] + b2[x];
        let sides = a1[x] + b1[x] + h0[x] + h2[x];
        *to = (corners + 6.0 * sides + 36.0 * h1[x]) / 64.0;
    }
}

/// A row under a bell of 1 4 6 4 1.
#[multiversion(targets("x86_64+avx2"))]
pub(super) fn smooth_row([a, b, c, d, e]: [&[f32]; 5], columns: &mut [f32], out: &mut [f32]) {
    let n = out.len();
    let [a, b, c, d, e] = [a, b, c, d, e].map(|row| &row[..n]);
    for (x, to) in columns[2..][..n].iter_mut().enumerate() {
        *to = (a[x] + e[x] + 4.0 * (b[x] + d[x]) + 6.0 * c[x]) / 256.0;
    }
    (columns[0], columns[1]) = (columns[2], columns[2]);
    let last = columns[n + 1];
    columns[n + 2..].fill(last);
    let [a, b, c, d, e] = [0, 1, 2, 3, 4].map(|k| &columns[k..][..n]);
    for (x, to) in out.iter_mut().enumerate() {
        *to = a[x] + e[x] + 4.0 * (b[x] + d[x]) + 6.0 * c[x];
    }
}
