//! What the film says about the place where a sensor sits.

use crate::CrosscheckFailure;

/// Motion of a sensor's place from film. All lists have one entry per frame.
#[derive(Debug, Clone, PartialEq)]
pub struct FilmAtSensor {
    /// Frame times from time zero, s, ascending.
    pub times_s: Vec<f64>,
    /// Unsmoothed inertial position of the sensor's place along X (axis x) or Z (axis z), m, and its
    /// variance, m²; `None` in a gap.
    pub position_m: Vec<Option<(f64, f64)>>,
    /// Smoothed pitch, nose up, rad; within ±1.4.
    pub angle_rad: Vec<f64>,
    /// Smoothed inertial acceleration of that place along the other axis, m/s²: Z for axis x, X for axis z.
    pub other_acceleration_m_s2: Vec<f64>,
    /// Relative standard uncertainty that all positions share: scale, plane offset.
    pub gain_relative_u: f64,
    /// Standard uncertainty of the film's time zero against the channel's, s.
    pub time_u_s: f64,
    /// Relative standard uncertainty of the film speed; 0 where it is known exactly.
    pub speed_relative_u: f64,
    /// Time of contact, s.
    pub contact_s: f64,
    /// The other axis; without it a channel that senses the other axis is only told to follow neither.
    pub other: Option<OtherAxis>,
}

/// The same place along the axis that the sensor is not said to sense. One entry per frame.
#[derive(Debug, Clone, PartialEq)]
pub struct OtherAxis {
    /// Unsmoothed inertial position along the other axis, m, and its variance, m²; `None` in a gap.
    pub position_m: Vec<Option<(f64, f64)>>,
    /// Smoothed inertial acceleration along the sensor's own axis, m/s².
    pub own_acceleration_m_s2: Vec<f64>,
}

/// The axis along which a sensor senses, in vehicle axes.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum SensedAxis {
    /// Forward.
    X,
    /// Up.
    Z,
}

impl SensedAxis {
    /// The other one.
    #[must_use]
    pub fn other(self) -> Self {
        match self {
            Self::X => Self::Z,
            Self::Z => Self::X,
        }
    }

    /// The word used in sentences.
    pub(crate) fn word(self) -> &'static str {
        match self {
            Self::X => "forward",
            Self::Z => "up",
        }
    }
}

impl FilmAtSensor {
    /// Whether lists, times and uncertainties are usable.
    ///
    /// # Errors
    /// [`CrosscheckFailure::Film`] with the frame at fault.
    pub fn check(&self) -> Result<(), CrosscheckFailure> {
        let n_frames = self.times_s.len();
        let lengths = [self.position_m.len(), self.angle_rad.len(), self.other_acceleration_m_s2.len()];
        if lengths.iter().any(|&length| length != n_frames) {
            return Err(CrosscheckFailure::film(format!(
                "{n_frames} times, but {lengths:?} positions, angles and accelerations; hand in one each per frame"
            )));
        }
        let single = [self.gain_relative_u, self.time_u_s, self.speed_relative_u];
        if single.iter().any(|u| !(u.is_finite() && *u >= 0.0)) || !self.contact_s.is_finite() {
            return Err(CrosscheckFailure::film(
                "uncertainties of scale, time and film speed must be 0 or above, and contact known",
            ));
        }
        if let Some(other) = self.along_other() {
            other.check()?;
        }
        match (0..n_frames).find(|&frame| !self.usable(frame)) {
            Some(frame) => Err(CrosscheckFailure::film(format!(
                "entry {frame}: times must ascend, values be finite, variances be above 0, and the angle within 1.4 rad"
            ))),
            None => Ok(()),
        }
    }

    /// What the film says along the other axis; `None` where that was not handed in.
    pub(crate) fn along_other(&self) -> Option<Self> {
        let other = self.other.as_ref()?;
        Some(Self {
            position_m: other.position_m.clone(),
            other_acceleration_m_s2: other.own_acceleration_m_s2.clone(),
            other: None,
            ..self.clone()
        })
    }

    fn usable(&self, frame: usize) -> bool {
        let position = self.position_m[frame];
        self.times_s[frame].is_finite()
            && (frame == 0 || self.times_s[frame] > self.times_s[frame - 1])
            && position.is_none_or(|(m, variance)| m.is_finite() && variance.is_finite() && variance > 0.0)
            && self.angle_rad[frame].abs() <= 1.4
            && self.other_acceleration_m_s2[frame].is_finite()
    }

    /// Angle and other acceleration between frames, on straight lines; held beyond the ends.
    pub(crate) fn between(&self, time_s: f64) -> (f64, f64) {
        let last = self.times_s.len() - 1;
        let after = self.times_s.partition_point(|&frame_s| frame_s < time_s).clamp(1.min(last), last);
        let before = after.saturating_sub(1);
        let span_s = self.times_s[after] - self.times_s[before];
        let share =
            if span_s > 0.0 { ((time_s - self.times_s[before]) / span_s).clamp(0.0, 1.0) } else { 0.0 };
        let line = |values: &[f64]| values[before] + share * (values[after] - values[before]);
        (line(&self.angle_rad), line(&self.other_acceleration_m_s2))
    }
}
