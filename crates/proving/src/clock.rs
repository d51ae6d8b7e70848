//! When each frame of a camera is exposed: true film speed, the phase of its clock against contact, lost frames, rows.

use crate::random::Stream;
use crate::scene::{CameraSetup, FieldOrder, FilmRun, Scene};

/// The true clock of one camera. A frame is what is stored; an exposure is what the camera took.
#[derive(Debug, Clone)]
pub(crate) struct FrameClock {
    run: Run,
    pub exposure_s: f64,
    /// Frames stored.
    pub n_frames: u32,
    /// From the exposure of one row to that of the next, s.
    pub row_time_s: f64,
    /// Interlaced: the second field follows half a frame later.
    pub fields: Option<FieldOrder>,
    /// Exposure of each stored frame; none where they are the same.
    stored: Option<Vec<u32>>,
}

#[derive(Debug, Clone, Copy)]
enum Run {
    Constant { first_mid_s: f64, period_s: f64 },
    Changing { first_mid_s: f64, film: FilmRun },
}

impl FrameClock {
    /// The clock of a camera: unless the scene sets them, its phase is uniform within one frame and its speed off by a
    /// draw of the stated size.
    pub(crate) fn new(scene: &Scene, camera: &CameraSetup, index: usize) -> Self {
        let mut stream = Stream::new(scene.seed, "clock", index as u64, 0);
        let drawn_phase = stream.uniform();
        let drawn_period_s = (1.0 + stream.normal(camera.speed_relative_u)) / camera.frames_per_s;
        let phase = camera.clock.phase_frames.unwrap_or(drawn_phase);
        let (n_before, n_exposures) = counts(scene, camera);
        let run = if let Some(film) = camera.film {
            let first_mid_s = -elapsed_s(film, n_before - phase) - scene.flash.delay_s;
            Run::Changing { first_mid_s, film }
        } else {
            let drifting = |drift| 1.0 / (camera.frames_per_s * (1.0 + drift));
            let period_s = camera.clock.drift.map_or(drawn_period_s, drifting);
            Run::Constant { first_mid_s: (phase - n_before) * period_s - scene.flash.delay_s, period_s }
        };
        let stored = stored(camera, whole(n_exposures));
        Self {
            run,
            exposure_s: camera.exposure_s,
            n_frames: stored.as_ref().map_or(whole(n_exposures), |stored| whole(length(stored))),
            row_time_s: camera.row_time_s,
            fields: camera.fields,
            stored,
        }
    }

    /// Mid-exposure of a frame's first row, seconds from time zero.
    pub(crate) fn mid_s(&self, frame: u32) -> f64 {
        self.exposed_s(f64::from(self.exposure(frame)))
    }

    /// Mid-exposure of the second field's first row; none for a frame that was exposed as a whole.
    pub(crate) fn second_field_s(&self, frame: u32) -> Option<f64> {
        self.fields.map(|_| self.exposed_s(f64::from(self.exposure(frame)) + 0.5))
    }

    /// Which exposure a stored frame holds.
    pub(crate) fn exposure(&self, frame: u32) -> u32 {
        let listed = self.stored.as_ref().zip(usize::try_from(frame).ok());
        listed.and_then(|(stored, frame)| stored.get(frame).copied()).unwrap_or(frame)
    }

    /// When a number of exposures, fractions included, had passed since the first one.
    pub(crate) fn exposed_s(&self, number: f64) -> f64 {
        match self.run {
            Run::Constant { first_mid_s, period_s } => first_mid_s + number * period_s,
            Run::Changing { first_mid_s, film } => first_mid_s + elapsed_s(film, number),
        }
    }
}

/// Exposures before contact and in all.
pub(crate) fn counts(scene: &Scene, camera: &CameraSetup) -> (f64, f64) {
    if let Some(film) = camera.film {
        let passed = |t: f64| (film.frames_per_s * t + 0.5 * film.accel_per_s2 * t * t).round();
        (passed(scene.before_s), passed(scene.before_s + scene.after_s))
    } else {
        let n_before = (scene.before_s * camera.frames_per_s).round();
        (n_before, (n_before + scene.after_s * camera.frames_per_s).round())
    }
}

/// Time in which `n` frames pass, from n = f0 t + k t²/2, written so that k may be 0.
fn elapsed_s(film: FilmRun, n: f64) -> f64 {
    let f0 = film.frames_per_s;
    2.0 * n / (f0 + (f0 * f0 + 2.0 * film.accel_per_s2 * n).max(0.0).sqrt())
}

/// The exposures in stored order; none where nothing is dropped or doubled.
fn stored(camera: &CameraSetup, n_exposures: u32) -> Option<Vec<u32>> {
    if camera.dropped.is_empty() && camera.doubled.is_empty() {
        return None;
    }
    let kept = (0..n_exposures).filter(|exposure| !camera.dropped.contains(exposure));
    Some(
        kept.flat_map(|exposure| {
            std::iter::repeat_n(exposure, 1 + usize::from(camera.doubled.contains(&exposure)))
        })
        .collect(),
    )
}

fn length(stored: &[u32]) -> f64 {
    crate::view::size(stored.len())
}

#[expect(
    clippy::cast_possible_truncation,
    clippy::cast_sign_loss,
    reason = "checked scenes hold under 10 s of film"
)]
fn whole(value: f64) -> u32 {
    value.clamp(1.0, f64::from(u32::MAX)) as u32
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::proof_scene;

    #[test]
    fn an_accelerating_film_follows_its_formula() {
        // n = f0 t + k t²/2 with f0 = 980 /s and k = 200 /s²; computed from the stated formula.
        let film = FilmRun { frames_per_s: 980.0, accel_per_s2: 200.0 };
        for (n, t) in [(50.0, 0.050_757_5), (100.0, 0.100_999_9), (150.0, 0.150_742_5)] {
            assert!((elapsed_s(film, n) - t).abs() < 1e-7, "{n}: {}", elapsed_s(film, n));
        }
        let steady = FilmRun { frames_per_s: 980.0, accel_per_s2: 0.0 };
        assert!((elapsed_s(steady, 50.0) - 0.051_020_4).abs() < 1e-7);
    }

    #[test]
    fn dropped_and_doubled_frames_shift_those_behind() {
        let mut scene = proof_scene();
        scene.before_s = 0.005;
        scene.after_s = 0.005;
        let whole = FrameClock::new(&scene, &scene.cameras[0], 0);
        scene.cameras[0].dropped = vec![2, 3];
        scene.cameras[0].doubled = vec![5];
        let clock = FrameClock::new(&scene, &scene.cameras[0], 0);
        assert_eq!((whole.n_frames, clock.n_frames), (10, 9));
        let exposures: Vec<u32> = (0..9).map(|frame| clock.exposure(frame)).collect();
        assert_eq!(exposures, [0, 1, 4, 5, 5, 6, 7, 8, 9]);
        assert!((clock.mid_s(2) - whole.mid_s(4)).abs() < 1e-15);
    }

    #[test]
    fn two_cameras_run_as_far_apart_as_set() {
        let mut scene = proof_scene();
        scene.cameras.push(scene.cameras[0].clone());
        scene.cameras[0].clock.phase_frames = Some(0.0);
        scene.cameras[1].clock.phase_frames = Some(0.4);
        scene.cameras[1].clock.drift = Some(1e-3);
        let [a, b] = [0, 1].map(|index| FrameClock::new(&scene, &scene.cameras[index], index));
        // Contact, and so time zero, lies at exposure 1 less the phase; from there the drift adds up.
        assert!(a.mid_s(1).abs() < 1e-15);
        assert!((b.mid_s(1) - 0.0004 / 1.001).abs() < 1e-15);
    }
}
