//! One camera's clock: frame number → seconds from time zero at mid-exposure, and what is doubtful about it.

use super::film::Film;
use crate::options::FindingOptions;
use crate::plan::{CameraPlan, ZeroPlan};
use filmgauge_footage::FootageInfo;

/// A camera's clock. Time 0 of the film's own clock is the start of the exposure of frame 0.
#[derive(Debug, Clone, PartialEq)]
pub(crate) struct Clock {
    pub(crate) frames_per_s: f64,
    pub(crate) exposure_s: f64,
    /// Time zero on the film's own clock, s.
    pub(crate) zero_s: f64,
    /// Standard uncertainty of time zero, s.
    pub(crate) zero_u_s: f64,
    /// How time zero was found, in words.
    pub(crate) zero_method: String,
}

impl Clock {
    /// Mid-exposure of a frame, seconds from time zero.
    pub(crate) fn time_s(&self, frame: usize) -> f64 {
        #[expect(clippy::cast_precision_loss, reason = "frame numbers fit 32 bits")]
        let start_s = frame as f64 / self.frames_per_s;
        start_s + self.exposure_s / 2.0 - self.zero_s
    }
}

/// The clock of a camera before contact is known; `Err` says why time zero could not be found (it is then frame 0).
pub(crate) fn clock(camera: &CameraPlan, film: &Film, options: &FindingOptions) -> (Clock, Option<String>) {
    let mut clock = Clock {
        frames_per_s: camera.frames_per_s,
        exposure_s: camera.exposure_s,
        zero_s: 0.0,
        zero_u_s: 0.0,
        zero_method: String::new(),
    };
    let mut fault = None;
    match camera.zero {
        ZeroPlan::Frame { frame, u_s } => {
            clock.zero_s = frame / camera.frames_per_s + camera.exposure_s / 2.0;
            clock.zero_u_s = u_s;
            clock.zero_method = format!("frame {frame}, typed");
        }
        ZeroPlan::Contact => clock.zero_method = "first contact, from the motion".into(),
        ZeroPlan::Flash => match flash_frame(&film.mean_levels, &film.info, options) {
            Some(frame) => set_flash(&mut clock, frame),
            None => {
                clock.zero_method = "no flash found: times count from frame 0".into();
                fault = Some("no flash was found in the film".into());
            }
        },
    }
    (clock, fault)
}

/// A flash first seen in frame n began after the exposure of n-1 ended and before that of n did: evenly
/// over one frame interval, u = interval/√12 (JCGM 100, 4.3.7).
fn set_flash(clock: &mut Clock, frame: usize) {
    #[expect(clippy::cast_precision_loss, reason = "frame numbers fit 32 bits")]
    let start_s = frame as f64 / clock.frames_per_s;
    let interval_s = 1.0 / clock.frames_per_s;
    clock.zero_s = start_s + clock.exposure_s - interval_s / 2.0;
    clock.zero_u_s = interval_s / 12.0_f64.sqrt();
    clock.zero_method = format!("flash, first seen in frame {frame}");
}

/// First frame whose mean level rises like a flash.
fn flash_frame(levels: &[f64], info: &FootageInfo, options: &FindingOptions) -> Option<usize> {
    let rises: Vec<f64> = levels.windows(2).map(|pair| pair[1] - pair[0]).collect();
    let mut sizes: Vec<f64> = rises.iter().map(|rise| rise.abs()).collect();
    sizes.sort_by(f64::total_cmp);
    let usual = sizes.get(sizes.len() / 2).copied()?;
    let full_scale = 2.0_f64.powi(i32::from(info.bits)) - 1.0;
    let least = (options.flash_rise_share * full_scale).max(options.flash_rise_factor * usual);
    rises.iter().position(|&rise| rise >= least).map(|index| index + 1)
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn flash_time_spans_one_interval_evenly() {
        let mut clock = Clock {
            frames_per_s: 1000.0,
            exposure_s: 0.0002,
            zero_s: 0.0,
            zero_u_s: 0.0,
            zero_method: String::new(),
        };
        set_flash(&mut clock, 70);
        assert!((clock.zero_s - 0.0697).abs() < 1e-12);
        // Flash seen in frame n only: u = 1/(fps √12) = 0.2887 ms at 1000/s, computed from the stated formula.
        assert!((clock.zero_u_s * 1e3 - 0.2887).abs() < 5e-5);
        assert!((clock.time_s(70) - 0.0004).abs() < 1e-12);
    }
}
