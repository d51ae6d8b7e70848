//! Lag between two records of the same moving target, each with its own clock, scale and origin.

use crate::TimingError;
use crate::error::setting;
pub use crate::interpolation::TimedSeries;
use crate::lag_fit::Pair;
use crate::levels::median;
use serde::{Deserialize, Serialize};

/// How a lag is looked for.
#[derive(Debug, Clone, Copy, PartialEq, Serialize, Deserialize)]
pub struct LagOptions {
    /// The lag lies within ± this, s.
    pub search_s: f64,
    /// Step of the first look, s: well below the time in which the target's speed changes.
    pub search_step_s: f64,
    /// Slopes are taken over ± this, s; at least five samples must lie within.
    pub slope_half_s: f64,
    /// Nothing is interpolated between samples further apart than this, s.
    pub most_gap_s: f64,
    /// Whether the two records may differ in scale. An offset between them is always free.
    pub scale_is_free: bool,
    /// The change of speed must stand out from its noise by this factor, in squares.
    pub least_motion: f64,
    /// A lag less certain than this is refused, s.
    pub most_u_s: f64,
}

impl Default for LagOptions {
    fn default() -> Self {
        Self {
            search_s: 0.05,
            search_step_s: 0.001,
            slope_half_s: 0.01,
            most_gap_s: 0.01,
            scale_is_free: true,
            least_motion: 5.0,
            most_u_s: 0.002,
        }
    }
}

impl LagOptions {
    /// Whether the settings make sense.
    ///
    /// # Errors
    /// [`TimingError::Setting`] names the one that does not.
    pub fn check(&self) -> Result<(), TimingError> {
        let above = |name, value| setting(name, value, "it must be above 0", |value| value > 0.0);
        above("search_s", self.search_s)?;
        above("search_step_s", self.search_step_s)?;
        above("slope_half_s", self.slope_half_s)?;
        above("most_gap_s", self.most_gap_s)?;
        above("most_u_s", self.most_u_s)?;
        setting("least_motion", self.least_motion, "it must be at least 2", |factor| factor >= 2.0)?;
        let steps = self.search_s / self.search_step_s;
        setting("search_step_s", steps, "search_s must be 1 to 100000 steps", |n| (1.0..=1e5).contains(&n))
    }
}

/// What a second clock reads more than a first one, by a target that both followed.
#[derive(Debug, Clone, Copy, PartialEq, Serialize, Deserialize)]
pub struct Lag {
    /// Reading of the second clock less reading of the first at the same instant, s.
    pub lag_s: f64,
    /// Standard uncertainty, s.
    pub u_s: f64,
    /// Reading of the first clock about which the lag is best known, s: where the target's speed changes.
    pub at_s: f64,
    /// Second record's unit over the first's.
    pub scale: f64,
    /// Standard uncertainty of it; 0 where the scale was held at 1.
    pub scale_u: f64,
    /// Residual sum of squares over the stated variances.
    pub chi2: f64,
    /// Degrees of freedom of `chi2`.
    pub freedom: usize,
    /// Factor by which the uncertainties were widened, 1 where the residuals are as stated.
    pub widening: f64,
}

/// The lag between two records of one target, unevenly sampled and noisy: `second(t + lag) = offset + scale · first(t)`.
///
/// The record with the finer samples is interpolated at the samples of the other, with the covariance that the
/// interpolation brings; offset, scale and lag follow by generalised least squares. A target at constant speed looks
/// the same when it is shifted in time or in place, so a lag needs a target whose speed changes.
///
/// # Errors
/// [`TimingError`] for settings out of range, faulty lists, records that overlap too little, a target whose speed
/// hardly changes, a lag at the limit of the search and one that does not settle or is too uncertain.
pub fn lag_between(
    first: &TimedSeries<'_>,
    second: &TimedSeries<'_>,
    options: &LagOptions,
) -> Result<Lag, TimingError> {
    options.check()?;
    first.check("first record of a lag")?;
    second.check("second record of a lag")?;
    let spacing = |series: &TimedSeries<'_>| {
        let spacings: Vec<f64> = series.times_s.windows(2).map(|pair| pair[1] - pair[0]).collect();
        median(&spacings).unwrap_or(f64::INFINITY)
    };
    if spacing(first) <= spacing(second) {
        return Pair { fine: first, coarse: second, options }.lag();
    }
    let turned = Pair { fine: second, coarse: first, options }.lag()?;
    let (scale, scale_u) = (1.0 / turned.scale, turned.scale_u / turned.scale.powi(2));
    Ok(Lag { lag_s: -turned.lag_s, at_s: turned.at_s + turned.lag_s, scale, scale_u, ..turned })
}
