//! A film's clock: frame coordinate to seconds and to frames per second, with what its fit leaves in doubt.

use crate::polynomial::Polynomial;
use crate::{TimingError, TimingNote};
use nalgebra::{DMatrix, DVector};
use serde::{Deserialize, Serialize};

/// Halvings of an interval after which no further digit is gained.
const HALVINGS: usize = 200;

/// A frame whose time is known: typed, or read from a clock in view.
#[derive(Debug, Clone, Copy, PartialEq, Serialize, Deserialize)]
pub struct ClockPoint {
    /// Frame coordinate; a whole number is a mid-exposure.
    pub frame: f64,
    /// Time, s.
    pub time_s: f64,
    /// Standard uncertainty of the time, s; above zero.
    pub u_s: f64,
}

/// How far a point lies from the fitted clock.
#[derive(Debug, Clone, Copy, PartialEq, Serialize, Deserialize)]
pub struct ClockResidual {
    /// Frame coordinate of the point.
    pub frame: f64,
    /// The point's time less the clock's, s.
    pub residual_s: f64,
    /// Stated standard uncertainty of the point, s.
    pub u_s: f64,
}

/// A film's clock: the time of mid-exposure as a smooth function of the frame number.
///
/// The frame coordinate is a real number whose whole values are mid-exposures; an instant between two of them is
/// their even division.
#[derive(Debug, Clone, PartialEq)]
pub struct FilmClock {
    pub(crate) curve: Polynomial,
    /// The curves of the next two degrees: what further terms might change.
    pub(crate) higher: Vec<Polynomial>,
    /// Whether the residuals ask for a higher degree than was allowed.
    pub(crate) at_limit: bool,
    /// First and last frame with a mark; `None` for a constant speed.
    pub(crate) marked: Option<[f64; 2]>,
    /// Relative uncertainty of the time scale.
    pub(crate) relative_u: f64,
    /// Error that all marks have in common, s: it moves the clock and leaves intervals alone.
    pub(crate) shared_u_s: f64,
    /// The time at which the scale's uncertainty has no effect, s.
    pub(crate) anchor_s: f64,
    pub(crate) residuals: Vec<ClockResidual>,
    pub(crate) chi2: f64,
    pub(crate) freedom: usize,
    pub(crate) notes: Vec<TimingNote>,
}

impl FilmClock {
    /// A constant speed by a record, with time 0 at the mid-exposure of frame 0. `relative_u` is the speed's
    /// standard uncertainty as a share of it.
    ///
    /// # Errors
    /// [`TimingError::Setting`] for a speed that is not above zero or an uncertainty below zero or above one half.
    pub fn constant(frames_per_s: f64, relative_u: f64) -> Result<Self, TimingError> {
        crate::error::setting("frames_per_s", frames_per_s, "it must be above 0", |speed| speed > 0.0)?;
        crate::error::setting("relative_u", relative_u, "it must be from 0 to 0.5", |u| {
            (0.0..=0.5).contains(&u)
        })?;
        let curve = Polynomial {
            centre: 0.0,
            half_span: 1.0,
            pivot: 0.0,
            terms: DVector::from_row_slice(&[0.0, 1.0 / frames_per_s]),
            covariance: DMatrix::zeros(2, 2),
        };
        Ok(Self {
            curve,
            higher: Vec::new(),
            at_limit: false,
            marked: None,
            relative_u,
            shared_u_s: 0.0,
            anchor_s: 0.0,
            residuals: Vec::new(),
            chi2: 0.0,
            freedom: 0,
            notes: Vec::new(),
        })
    }

    /// Time at a frame coordinate and its standard uncertainty, s. Outside the marks the curve is continued and the
    /// uncertainty grows; [`Self::covers`] tells, and [`Self::time_within_s`] refuses.
    #[must_use]
    pub fn time_s(&self, frame: f64) -> (f64, f64) {
        let (time_s, variance) = self.curve.value(frame);
        let further_s = self.further(time_s, |curve| curve.value(frame).0);
        let scale_s = self.relative_u * (time_s - self.anchor_s);
        (time_s, (variance + self.shared_u_s.powi(2) + further_s.powi(2) + scale_s.powi(2)).sqrt())
    }

    /// As [`Self::time_s`], within the marks only.
    ///
    /// # Errors
    /// [`TimingError::OutsideMarks`] more than half a frame before the first or after the last mark, or for a frame
    /// coordinate that is not finite.
    pub fn time_within_s(&self, frame: f64) -> Result<(f64, f64), TimingError> {
        if self.covers(frame) {
            return Ok(self.time_s(frame));
        }
        let [first, last] = self.marked.unwrap_or([f64::NEG_INFINITY, f64::INFINITY]);
        Err(TimingError::OutsideMarks { frame, first, last })
    }

    /// Whether the frame lies within the marks, or within half a frame of them; always so for a constant speed.
    #[must_use]
    pub fn covers(&self, frame: f64) -> bool {
        let within = |[first, last]: [f64; 2]| frame >= first - 0.5 && frame <= last + 0.5;
        frame.is_finite() && self.marked.is_none_or(within)
    }

    /// First and last frame with a mark; `None` for a constant speed.
    #[must_use]
    pub fn marked(&self) -> Option<[f64; 2]> {
        self.marked
    }

    /// Time from one frame to another and its standard uncertainty, s: what the two have in common drops out.
    #[must_use]
    pub fn interval_s(&self, from: f64, to: f64) -> (f64, f64) {
        let (interval_s, variance) = self.curve.difference(from, to);
        let further_s = self.further(interval_s, |curve| curve.difference(from, to).0);
        let scale_s = self.relative_u * interval_s;
        (interval_s, (variance + further_s.powi(2) + scale_s.powi(2)).sqrt())
    }

    /// Film speed at a frame coordinate and its standard uncertainty, frames/s.
    #[must_use]
    pub fn frames_per_s(&self, frame: f64) -> (f64, f64) {
        let (slope_s, variance) = self.curve.slope(frame);
        let further_s = self.further(slope_s, |curve| curve.slope(frame).0);
        let speed = 1.0 / slope_s;
        let relative = (variance + further_s.powi(2)).sqrt() * speed;
        (speed, speed.abs() * relative.hypot(self.relative_u))
    }

    /// Frame coordinate at an instant and its standard uncertainty, frames; `None` when the instant lies more than
    /// half a frame outside the marks or is not finite.
    #[must_use]
    pub fn frame_at(&self, time_s: f64) -> Option<(f64, f64)> {
        if !time_s.is_finite() {
            return None;
        }
        let reach =
            self.curve.half_span.max((time_s - self.curve.terms[0]).abs() * self.frames_per_s(0.0).0.abs());
        let wide = [-2.0 * reach - 1.0, 2.0 * reach + 1.0];
        let [mut low, mut high] = self.marked.map_or(wide, |[first, last]| [first - 0.5, last + 0.5]);
        let is_within = self.time_s(low).0 <= time_s && time_s <= self.time_s(high).0;
        if !is_within {
            return None;
        }
        for _ in 0..HALVINGS {
            let middle = 0.5 * (low + high);
            if middle <= low || middle >= high {
                break;
            }
            if self.time_s(middle).0 < time_s { low = middle } else { high = middle }
        }
        let frame = 0.5 * (low + high);
        Some((frame, self.time_s(frame).1 * self.frames_per_s(frame).0))
    }

    /// What terms left out may change: a term too small to be seen in the residuals is still there. The changes that
    /// the next two bring are added, since terms of one curve go together; where even these would be needed, the last
    /// is added again, for the rest of a series that halves from term to term.
    fn further(&self, chosen: f64, of: impl Fn(&Polynomial) -> f64) -> f64 {
        let (mut before, mut sum, mut last) = (chosen, 0.0, 0.0);
        for curve in &self.higher {
            let value = of(curve);
            last = (value - before).abs();
            sum += last;
            before = value;
        }
        if self.at_limit { sum + last } else { sum }
    }

    /// The same film with its time counted so that `frame` is exactly at `time_s`: time zero at a flash, for one.
    /// The doubt of `frame` itself is not in it.
    #[must_use]
    pub fn with_origin(&self, frame: f64, time_s: f64) -> Self {
        let mut moved = self.clone();
        moved.curve = self.curve.through(frame, time_s);
        moved.higher = self.higher.iter().map(|curve| curve.through(frame, time_s)).collect();
        moved.anchor_s = time_s;
        moved.shared_u_s = 0.0;
        moved
    }

    /// Degree of the polynomial; 1 is a constant speed.
    #[must_use]
    pub fn degree(&self) -> usize {
        self.curve.degree()
    }

    /// Residual of each point used.
    #[must_use]
    pub fn residuals(&self) -> &[ClockResidual] {
        &self.residuals
    }

    /// Root mean square of the residuals, s; `None` without points.
    #[must_use]
    #[expect(clippy::cast_precision_loss, reason = "counts stay far below 2^53")]
    pub fn residual_rms_s(&self) -> Option<f64> {
        let sum: f64 = self.residuals.iter().map(|residual| residual.residual_s.powi(2)).sum();
        (!self.residuals.is_empty()).then(|| (sum / self.residuals.len() as f64).sqrt())
    }

    /// Residual sum of squares over the stated variances, and its degrees of freedom.
    #[must_use]
    pub fn chi2(&self) -> (f64, usize) {
        (self.chi2, self.freedom)
    }

    /// Covariance of two times of this clock, s², without what a further term might change.
    #[must_use]
    pub fn covariance_s2(&self, frame: f64, other: f64) -> f64 {
        let (time_s, variance) = self.curve.value(frame);
        let (other_s, other_variance) = self.curve.value(other);
        let scale = self.relative_u.powi(2) * (time_s - self.anchor_s) * (other_s - self.anchor_s);
        let fitted = 0.5 * (variance + other_variance - self.curve.difference(frame, other).1);
        fitted + self.shared_u_s.powi(2) + scale
    }

    /// What is doubtful about the marks and the fit.
    #[must_use]
    pub fn notes(&self) -> &[TimingNote] {
        &self.notes
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn constant_speed_and_its_inverse() {
        let clock = FilmClock::constant(500.0, 1e-4).unwrap();
        let (time_s, u_s) = clock.time_s(250.0);
        assert!((time_s - 0.5).abs() < 1e-15 && (u_s - 5e-5).abs() < 1e-15);
        let (speed, u) = clock.frames_per_s(3.0);
        assert!((speed - 500.0).abs() < 1e-9 && (u - 0.05).abs() < 1e-9);
        assert!((clock.frame_at(-0.3).unwrap().0 + 150.0).abs() < 1e-9);
        let from_flash = clock.with_origin(70.25, 0.0);
        assert!((from_flash.time_s(80.25).0 - 0.02).abs() < 1e-15);
        assert!((from_flash.time_s(80.25).1 - 2e-6).abs() < 1e-15);
        assert!(clock.covers(1e9) && !clock.covers(f64::NAN));
        assert!(FilmClock::constant(0.0, 0.0).is_err() && FilmClock::constant(f64::NAN, 0.0).is_err());
    }
}
