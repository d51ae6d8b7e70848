//! Settings of the crosscheck: stretch compared, search range, limits of the faults.

use crate::CrosscheckFailure;

/// Settings of [`crate::crosscheck()`]. The limits are common practice, no source; change them in the dossier.
#[derive(Debug, Clone, PartialEq)]
pub struct CrosscheckOptions {
    /// Film is used from this long before contact, s.
    pub before_contact_s: f64,
    /// Film is used until this long after contact, s.
    pub after_contact_s: f64,
    /// Fewest frames with a position.
    pub fewest_frames: usize,
    /// Most frames used; more are thinned evenly, which bounds the cost (cubic in the frames).
    pub most_frames: usize,
    /// Lags are looked for up to this size, s.
    pub lag_search_s: f64,
    /// A gain further than this from 1 is a fault, if it is beyond its own uncertainty.
    pub gain_limit: f64,
    /// An offset larger than this is a fault, m/s²; 0.1 g.
    pub offset_limit_m_s2: f64,
    /// A lag larger than this is a fault, s.
    pub lag_limit_s: f64,
    /// Gain and lag are judged only if the film's motion is strong enough to give a sound channel's gain a
    /// relative standard uncertainty below this.
    pub gain_u_limit: f64,
    /// The lag is judged only if its standard uncertainty is below this, s.
    pub lag_u_limit_s: f64,
    /// A deviation counts only beyond this many of its standard uncertainties.
    pub coverage: f64,
    /// Above this, the residual is called out in the verdict: residual spread over expected spread.
    pub agreement_limit: f64,
    /// Below this correlation, a reversed sign is not called a reversed polarity.
    pub polarity_correlation: f64,
    /// Whether the channel was set to zero with the vehicle at rest, so that gravity is not in it.
    pub zeroed_at_rest: bool,
    /// Sensor noise: variance of a sample times the sample step for white noise, (m/s²)² s. `None` measures
    /// it on the stretch before contact.
    pub sensor_noise_m2_s3: Option<f64>,
}

impl Default for CrosscheckOptions {
    fn default() -> Self {
        Self {
            before_contact_s: 0.050,
            after_contact_s: 0.300,
            fewest_frames: 20,
            most_frames: 1000,
            lag_search_s: 0.020,
            gain_limit: 0.02,
            offset_limit_m_s2: 0.980_665,
            lag_limit_s: 0.001,
            gain_u_limit: 0.02,
            lag_u_limit_s: 0.001,
            coverage: 1.96,
            agreement_limit: 2.0,
            polarity_correlation: 0.5,
            zeroed_at_rest: false,
            sensor_noise_m2_s3: None,
        }
    }
}

impl CrosscheckOptions {
    /// Whether all settings lie in their ranges.
    ///
    /// # Errors
    /// [`CrosscheckFailure::Settings`] naming the first that does not.
    pub fn check(&self) -> Result<(), CrosscheckFailure> {
        for (name, value) in [
            ("after_contact_s (s)", self.after_contact_s),
            ("lag_search_s (s)", self.lag_search_s),
            ("gain_limit", self.gain_limit),
            ("offset_limit_m_s2 (m/s2)", self.offset_limit_m_s2),
            ("lag_limit_s (s)", self.lag_limit_s),
            ("gain_u_limit", self.gain_u_limit),
            ("lag_u_limit_s (s)", self.lag_u_limit_s),
            ("coverage", self.coverage),
            ("agreement_limit", self.agreement_limit),
        ] {
            in_range(name, value, value > 0.0, "it must be a finite number above 0")?;
        }
        let not_negative = "it must be a finite number, 0 or above";
        in_range("before_contact_s (s)", self.before_contact_s, self.before_contact_s >= 0.0, not_negative)?;
        if let Some(noise) = self.sensor_noise_m2_s3 {
            in_range("sensor_noise_m2_s3 ((m/s2)2 s)", noise, noise >= 0.0, not_negative)?;
        }
        let share = (0.0..=1.0).contains(&self.polarity_correlation);
        in_range("polarity_correlation", self.polarity_correlation, share, "it must lie between 0 and 1")?;
        let in_reach = self.lag_search_s <= 1.0;
        in_range("lag_search_s (s)", self.lag_search_s, in_reach, "it must not be above 1 s")?;
        #[expect(clippy::cast_precision_loss, reason = "shown only")]
        let fewest = self.fewest_frames as f64;
        let enough = self.fewest_frames >= 8 && self.most_frames >= self.fewest_frames;
        in_range("fewest_frames", fewest, enough, "it must be at least 8 and at most most_frames")
    }
}

fn in_range(
    name: &'static str,
    value: f64,
    fits: bool,
    range: &'static str,
) -> Result<(), CrosscheckFailure> {
    if fits && value.is_finite() { Ok(()) } else { Err(CrosscheckFailure::Settings { name, value, range }) }
}
