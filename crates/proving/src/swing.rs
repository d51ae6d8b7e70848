//! Camera shake: how far a camera has swung about its pupil at an instant, as a sum of slow and fast oscillations.

use crate::random::Stream;
use crate::scene::{CameraSetup, Scene};
use std::f64::consts::TAU;

/// Shares of the slow and of the fast oscillation, and how many times faster the second is.
const SHARES: [f64; 2] = [0.7, 0.3];
const FASTER: [f64; 2] = [1.0, 2.7];

/// Pan to the right, tilt upwards and roll from right to up of one exposure, as a rotation of rays.
#[derive(Debug, Clone, Copy, PartialEq)]
pub(crate) struct Swing {
    /// Rows: right, up and ahead of the swung camera, in axes of the camera at rest.
    axes: [[f64; 3]; 3],
}

impl Swing {
    /// The swing at an instant; none for a camera that stands still.
    pub(crate) fn at(scene: &Scene, camera: &CameraSetup, index: usize, time_s: f64) -> Option<Self> {
        let setup = camera.shake?;
        let mut stream = Stream::new(scene.seed, "shake", index as u64, 0);
        let mut oscillation = || {
            let mut sum = 0.0;
            for (share, faster) in SHARES.iter().zip(FASTER) {
                let phase = stream.uniform();
                sum += share * (TAU * (setup.frequency_hz * faster * time_s + phase)).sin();
            }
            sum
        };
        let per_px = 1.0 / camera.lens.fx_px;
        let pan = setup.pan_px * per_px * oscillation();
        let tilt = setup.tilt_px * per_px * oscillation();
        let roll = setup.roll_deg.to_radians() * oscillation();
        Some(Self::of(pan, tilt, roll))
    }

    fn of(pan: f64, tilt: f64, roll: f64) -> Self {
        let ((sp, cp), (st, ct), (sr, cr)) = (pan.sin_cos(), tilt.sin_cos(), roll.sin_cos());
        let (right, ahead_level) = ([cp, 0.0, -sp], [sp, 0.0, cp]);
        let mix = |a: [f64; 3], p: f64, b: [f64; 3], q: f64| [0, 1, 2].map(|i| a[i] * p + b[i] * q);
        let up_level = [0.0, 1.0, 0.0];
        let ahead = mix(ahead_level, ct, up_level, st);
        let up = mix(up_level, ct, ahead_level, -st);
        Self { axes: [mix(right, cr, up, sr), mix(up, cr, right, -sr), ahead] }
    }

    /// Slopes of a ray as the swung camera sees it.
    pub(crate) fn seen(&self, [right, up]: [f64; 2]) -> [f64; 2] {
        let along = |axis: [f64; 3]| axis[0] * right + axis[1] * up + axis[2];
        let [x, y, ahead] = self.axes.map(along);
        [x / ahead, y / ahead]
    }

    /// Slopes of a seen ray in axes of the camera at rest; the inverse of [`Self::seen`].
    pub(crate) fn at_rest(&self, [right, up]: [f64; 2]) -> [f64; 2] {
        let [a, b, c] = self.axes;
        let [x, y, ahead] = [0, 1, 2].map(|i| a[i] * right + b[i] * up + c[i]);
        [x / ahead, y / ahead]
    }
}

#[cfg(test)]
mod tests {
    use super::Swing;

    #[test]
    fn seen_and_back_is_the_same_ray_and_a_pan_moves_the_picture_left() {
        let swing = Swing::of(0.01, -0.004, 0.003);
        let ray = [0.21, -0.08];
        let [x, y] = swing.at_rest(swing.seen(ray));
        assert!((x - ray[0]).abs() < 1e-14 && (y - ray[1]).abs() < 1e-14);
        let [x, y] = Swing::of(0.01, 0.0, 0.0).seen([0.0, 0.0]);
        assert!((x + 0.01_f64.tan()).abs() < 1e-14 && y == 0.0);
    }
}
