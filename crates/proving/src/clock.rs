//! When each frame of a camera is exposed: true film speed and the phase of its clock against contact.

use crate::random::Stream;
use crate::scene::{CameraSetup, Scene};

/// The true clock of one camera.
#[derive(Debug, Clone, Copy)]
pub(crate) struct FrameClock {
    first_mid_s: f64,
    period_s: f64,
    pub exposure_s: f64,
    pub n_frames: u32,
}

impl FrameClock {
    /// The clock of a camera: its phase is uniform within one frame, its speed off by a draw of the stated size.
    pub(crate) fn new(scene: &Scene, camera: &CameraSetup, index: usize) -> Self {
        let mut stream = Stream::new(scene.seed, "clock", index as u64, 0);
        let phase = stream.uniform();
        let period_s = (1.0 + stream.normal(camera.speed_relative_u)) / camera.frames_per_s;
        let n_before = (scene.before_s * camera.frames_per_s).round();
        let n_frames = (n_before + scene.after_s * camera.frames_per_s).round();
        let first_mid_s = (phase - n_before) * period_s - scene.flash.delay_s;
        Self { first_mid_s, period_s, exposure_s: camera.exposure_s, n_frames: whole(n_frames) }
    }

    /// Mid-exposure of a frame, seconds from time zero.
    pub(crate) fn mid_s(&self, frame: u32) -> f64 {
        self.first_mid_s + f64::from(frame) * self.period_s
    }
}

#[expect(
    clippy::cast_possible_truncation,
    clippy::cast_sign_loss,
    reason = "checked scenes hold under 10 s of film"
)]
fn whole(value: f64) -> u32 {
    value.clamp(1.0, f64::from(u32::MAX)) as u32
}
