//! Light of a flash that rises and decays, frame by frame, against the levels about it.

use crate::levels::{median, spread};
use crate::pulses::whole_frame;
use std::ops::Range;

/// Decays looked at first: time constants from 0.2 frames up, each so many times the one before.
const DECAY_STEP: f64 = 1.6;
const N_DECAYS: i32 = 16;

/// The levels about a flash and what they say about an instant.
pub(crate) struct FlashLevels<'a> {
    pub(crate) levels: &'a [f64],
    pub(crate) frames: Range<usize>,
    /// Standard uncertainty of each level of `frames`.
    pub(crate) u: Vec<f64>,
    pub(crate) exposure_share: f64,
    pub(crate) rise_frames: f64,
}

impl<'a> FlashLevels<'a> {
    /// `exposure_and_rise`: exposure as a share of the frame interval, and the lamp's rise in frames, 0 for a step.
    pub(crate) fn new(
        levels: &'a [f64],
        frames: Range<usize>,
        first_seen: usize,
        exposure_and_rise: (f64, f64),
        linearity_u: f64,
    ) -> Self {
        let dark = median(&levels[frames.start..first_seen]).unwrap_or(levels[0]);
        let changes: Vec<f64> = levels.windows(2).map(|pair| pair[1] - pair[0]).collect();
        let noise = spread(&changes) / 2.0_f64.sqrt();
        let most = levels[first_seen..frames.end].iter().map(|level| level - dark).fold(0.0, f64::max);
        // A floor keeps levels without any noise from claiming an instant without any doubt.
        let floor = noise.max(1e-6 * most);
        let u = levels[frames.clone()].iter().map(|level| floor.hypot(linearity_u * (level - dark)));
        Self {
            levels,
            u: u.collect(),
            frames,
            exposure_share: exposure_and_rise.0,
            rise_frames: exposure_and_rise.1,
        }
    }

    /// χ² with the best decay: the best of a coarse row, then the best about it by halving its neighbourhood.
    pub(crate) fn least_chi2(&self, instant: f64) -> f64 {
        let chi2 = |power: f64| self.chi2(instant, 0.2 * DECAY_STEP.powf(power)).unwrap_or(f64::INFINITY);
        let mut best = (self.chi2(instant, f64::INFINITY).unwrap_or(f64::INFINITY), f64::from(N_DECAYS));
        let mut try_at = |power: f64| {
            let found = chi2(power);
            if found < best.0 {
                best = (found, power);
            }
            best.1
        };
        let mut place = (0..N_DECAYS).fold(0.0, |_, power| try_at(f64::from(power)));
        let mut reach = 0.5;
        while reach > 0.01 {
            try_at(place - reach);
            place = try_at(place + reach);
            reach *= 0.6;
        }
        best.0
    }

    /// χ² with the best dark level and brightness; `None` when the lamp would have to be dark.
    fn chi2(&self, instant: f64, decay_frames: f64) -> Option<f64> {
        let light: Vec<f64> =
            self.frames.clone().map(|frame| self.light(frame, instant, decay_frames)).collect();
        let rows = || light.iter().zip(&self.levels[self.frames.clone()]).zip(&self.u);
        let [mut n, mut s, mut ss, mut y, mut sy] = [0.0; 5];
        for ((light, level), u) in rows() {
            let weight = 1.0 / (u * u);
            n += weight;
            s += weight * light;
            ss += weight * light * light;
            y += weight * level;
            sy += weight * light * level;
        }
        let bright = (n * sy - s * y) / (n * ss - s * s);
        if !(bright.is_finite() && bright > 0.0) {
            return None;
        }
        let dark = (y - bright * s) / n;
        Some(rows().map(|((light, level), u)| ((level - dark - bright * light) / u).powi(2)).sum())
    }

    /// Light that a lamp of brightness 1 gives to a frame, as a share of what it gives when steadily lit.
    pub(crate) fn light(&self, frame: usize, instant: f64, decay_frames: f64) -> f64 {
        let start = (whole_frame(frame) - 0.5 * self.exposure_share - instant).max(0.0);
        let end = (whole_frame(frame) + 0.5 * self.exposure_share - instant).max(0.0);
        let decaying = |constant: f64| {
            if constant.is_infinite() {
                end - start
            } else {
                constant * ((-start / constant).exp() - (-end / constant).exp())
            }
        };
        let missing = if self.rise_frames > 0.0 {
            decaying(1.0 / (1.0 / decay_frames + 1.0 / self.rise_frames))
        } else {
            0.0
        };
        (decaying(decay_frames) - missing) / self.exposure_share
    }
}
