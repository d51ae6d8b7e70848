//! Time zero by a switch: the instant at which a sensor channel crosses a level.

use crate::TimingError;
use crate::error::{all_finite, setting};
use crate::levels::two_levels;
use serde::{Deserialize, Serialize};

/// Which way the level is crossed.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Default, Serialize, Deserialize)]
#[serde(rename_all = "lowercase")]
pub enum Crossing {
    /// Upwards.
    #[default]
    Rising,
    /// Downwards.
    Falling,
    /// Whichever comes first.
    Either,
}

/// How a switch channel is read.
#[derive(Debug, Clone, Copy, PartialEq, Serialize, Deserialize)]
pub struct SwitchOptions {
    /// Level to be crossed, in the channel's unit; half-way between its two levels when not given.
    pub level: Option<f64>,
    /// Which way.
    pub crossing: Crossing,
    /// Samples for which the channel must stay beyond the level, at least 1: longer than a spike. A bouncing contact
    /// has closed at its first bounce that is this long.
    pub least_samples: usize,
    /// Time that the channel takes to rise or fall, s: its doubt is even over it.
    pub rise_s: f64,
}

impl Default for SwitchOptions {
    fn default() -> Self {
        Self { level: None, crossing: Crossing::Rising, least_samples: 2, rise_s: 0.0 }
    }
}

impl SwitchOptions {
    /// Whether the settings make sense.
    ///
    /// # Errors
    /// [`TimingError::Setting`] names the one that does not.
    pub fn check(&self) -> Result<(), TimingError> {
        if let Some(level) = self.level {
            setting("level", level, "it must be finite", |_| true)?;
        }
        if self.least_samples == 0 {
            let rule = "it must be at least 1";
            return Err(TimingError::Setting { setting: "least_samples", value: 0.0, rule });
        }
        setting("rise_s", self.rise_s, "it must be at least 0", |rise| rise >= 0.0)
    }
}

/// When a switch closed or opened.
#[derive(Debug, Clone, Copy, PartialEq, Serialize, Deserialize)]
pub struct SwitchInstant {
    /// Time from the channel's first sample, s.
    pub time_s: f64,
    /// Standard uncertainty, s.
    pub u_s: f64,
    /// First sample beyond the level.
    pub sample: usize,
    /// The level crossed.
    pub level: f64,
}

/// The first crossing of a channel sampled `rate_hz` times a second.
///
/// It lies evenly between the last sample before and the first sample beyond the level: u = dt/√12 (JCGM 100,
/// 4.3.7), to which the channel's rise adds rise/√12.
///
/// # Errors
/// [`TimingError`] for a rate that is not above zero, settings out of range, fewer than two samples, a sample that is
/// not finite, and a channel that does not cross the level.
pub fn switch_instant(
    samples: &[f64],
    rate_hz: f64,
    options: &SwitchOptions,
) -> Result<SwitchInstant, TimingError> {
    options.check()?;
    setting("rate_hz", rate_hz, "it must be above 0", |rate| rate > 0.0)?;
    if samples.len() < 2 {
        return Err(TimingError::TooFew { what: "samples of a switch", found: samples.len(), needed: 2 });
    }
    all_finite("samples of a switch", samples)?;
    let no_change = TimingError::NoChange { what: "switch" };
    let level = match options.level {
        Some(level) => level,
        None => two_levels(samples)
            .filter(|two| two.on - two.off > 8.0 * two.noise)
            .map(|two| two.threshold)
            .ok_or(no_change.clone())?,
    };
    let sample = first_crossing(samples, level, options).ok_or(no_change)?;
    #[expect(clippy::cast_precision_loss, reason = "sample counts stay far below 2^53")]
    let time_s = (sample as f64 - 0.5) / rate_hz;
    let u_s = (1.0 / rate_hz).hypot(options.rise_s) / 12.0_f64.sqrt();
    Ok(SwitchInstant { time_s, u_s, sample, level })
}

fn first_crossing(samples: &[f64], level: f64, options: &SwitchOptions) -> Option<usize> {
    let is_above = |sample: f64| sample > level;
    (1..samples.len()).find(|&at| {
        let above = is_above(samples[at]);
        let wanted = match options.crossing {
            Crossing::Rising => above,
            Crossing::Falling => !above,
            Crossing::Either => true,
        };
        let stays = samples.get(at..at + options.least_samples);
        wanted
            && is_above(samples[at - 1]) != above
            && stays.is_some_and(|stretch| stretch.iter().all(|&sample| is_above(sample) == above))
    })
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn spikes_are_passed_over() {
        let mut samples = vec![0.1; 50];
        samples[7] = 5.0;
        samples[20..].fill(4.9);
        let found = switch_instant(&samples, 10_000.0, &SwitchOptions::default()).unwrap();
        assert_eq!(found.sample, 20);
        assert!((found.time_s - 0.001_95).abs() < 1e-15);
        assert!((found.u_s - 1e-4 / 12.0_f64.sqrt()).abs() < 1e-15);
        let falling = SwitchOptions { crossing: Crossing::Falling, ..SwitchOptions::default() };
        assert!(matches!(switch_instant(&samples, 10_000.0, &falling), Ok(found) if found.sample == 8));
    }

    #[test]
    fn useless_channels_are_refused() {
        let options = SwitchOptions::default();
        assert!(matches!(switch_instant(&[], 1e4, &options), Err(TimingError::TooFew { .. })));
        assert!(matches!(switch_instant(&[1.0; 9], 1e4, &options), Err(TimingError::NoChange { .. })));
        assert!(matches!(switch_instant(&[0.0, 1.0], 0.0, &options), Err(TimingError::Setting { .. })));
        assert!(matches!(switch_instant(&[0.0, f64::NAN], 1e4, &options), Err(TimingError::Unusable { .. })));
    }
}
