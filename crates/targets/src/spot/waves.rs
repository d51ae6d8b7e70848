//! What alternates around a ring: how often, and how much of it is a wave.

use super::rays::{N_RAYS, directions};

/// Lowest and highest level along a ring.
pub(super) fn range(ring: &[f32; N_RAYS]) -> (f32, f32) {
    ring.iter().fold((f32::INFINITY, f32::NEG_INFINITY), |(low, high), &grey| (low.min(grey), high.max(grey)))
}

/// Mean level along a ring.
pub(super) fn mean(ring: &[f32; N_RAYS]) -> f64 {
    ring.iter().map(|&grey| f64::from(grey)).sum::<f64>() / N_RAYS as f64
}

/// How often levels along a ring go from dark to bright or back, past the middle by a part of their range.
pub(super) fn alternations(ring: &[f32; N_RAYS]) -> usize {
    let (low, high) = range(ring);
    let (middle, past) = (f32::midpoint(low, high), 0.12 * (high - low));
    let clear = |&&level: &&f32| (level - middle).abs() > past;
    let (mut n, mut last, mut first) = (0, None, None);
    for side in ring.iter().filter(clear).map(|&level| level > middle) {
        n += usize::from(last.is_some_and(|last| last != side));
        first = first.or(Some(side));
        last = Some(side);
    }
    n + usize::from(first != last)
}

/// Cosine and sine parts of the wave of `n_cycles` around a ring.
pub(super) fn wave<T: Copy + Into<f64>>(ring: &[T; N_RAYS], n_cycles: usize) -> (f64, f64) {
    let (mut cos_sum, mut sin_sum) = (0.0, 0.0);
    for (ray, &level) in ring.iter().enumerate() {
        let level: f64 = level.into();
        let (cos, sin) = directions()[n_cycles * ray % N_RAYS];
        cos_sum += level * cos;
        sin_sum += level * sin;
    }
    (2.0 * cos_sum / N_RAYS as f64, 2.0 * sin_sum / N_RAYS as f64)
}

/// Height of the wave of `n_cycles` around a ring, and its share of the ring's variance, 0 to 1.
pub(super) fn wave_of(ring: &[f32; N_RAYS], n_cycles: usize) -> (f64, f64) {
    let mean = mean(ring);
    let squares: f64 = ring.iter().map(|&grey| (f64::from(grey) - mean).powi(2)).sum();
    let (cos, sin) = wave(ring, n_cycles);
    let square = cos * cos + sin * sin;
    (square.sqrt(), square * N_RAYS as f64 / (2.0 * squares.max(1e-9)))
}
