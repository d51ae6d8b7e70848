//! Settings of smoothing.

use crate::MotionFailure;
use crate::spline::Degree;

/// How the smoothness of each stretch is chosen.
#[derive(Debug, Clone, PartialEq)]
pub enum Smoothness {
    /// Generalised cross-validation (Craven and Wahba 1979, Numer. Math. 31:377); the noise is estimated, stated
    /// variances only weigh the marks against each other.
    Gcv,
    /// Least predicted error with the stated variances taken as true (same source).
    KnownNoise,
    /// Strengths of the driving noise and changes as they are; stated variances taken as true.
    Fixed(FixedSmoothness),
}

/// Smoothness and changes that an earlier curve chose.
#[derive(Debug, Clone, PartialEq)]
pub struct FixedSmoothness {
    /// Strength for each frame from the first mark on, as in [`crate::Smoothed::q`]; the last stands for all that
    /// follow. Not empty.
    pub q: Vec<f64>,
    /// Changes, in the order of time. Given ones move to the onsets of the options, where there are as many; empty: each
    /// onset is a sharp kink.
    pub changes: Vec<FixedChange>,
}

/// A change with the ways in which it may have happened.
#[derive(Debug, Clone, PartialEq)]
pub struct FixedChange {
    /// When, s.
    pub time_s: f64,
    /// Standard uncertainty of that, s.
    pub u_s: f64,
    /// Whether it was given, and not found in the marks.
    pub given: bool,
    /// The ways, the likeliest first: start after `time_s`, s; time of building up, s; probability.
    pub ways: Vec<(f64, f64, f64)>,
}

/// Settings of [`crate::smooth()`]. "Unit" is the unit of the curve: metres or radians.
#[derive(Debug, Clone, PartialEq)]
pub struct SmoothOptions {
    /// How the smoothness is chosen.
    pub smoothness: Smoothness,
    /// Degree of the spline.
    pub degree: Degree,
    /// Instants at which the second and third derivative may jump, s; those outside the marks are passed over.
    pub onsets_s: Vec<f64>,
    /// Standard uncertainty of the onsets, s; 0 or more.
    pub onset_u_s: f64,
    /// Changes that are known from other curves, as instant and its standard uncertainty, s: averaged over like those found in
    /// this one, where they need not have left a trace. Those outside the marks, or at an onset, are passed over; so are all where `rises_s` is empty.
    pub shared_s: Vec<(f64, f64)>,
    /// Size of a jump of the second derivative that is still ordinary, unit/s²; greater than 0.
    pub onset_jump: f64,
    /// Time in which such a jump may build up, s; greater than 0. It sets how far the third derivative may jump.
    pub onset_rise_s: f64,
    /// Times in which a change may have built up, s, 0 for a sharp kink: averaged over by their likelihood. Empty: each
    /// onset is a sharp kink where it is stated, and no other change is looked for.
    pub rises_s: Vec<f64>,
    /// Most changes that are looked for beside the onsets, up to 20.
    pub most_changes: usize,
    /// Cost of one equivalent parameter in cross-validation, 1 to 2: 1 is the plain criterion, 1.2 to 1.4 keeps it
    /// from following noise now and then (Kim and Gu 2004, J. R. Statist. Soc. B 66:337).
    pub parameter_cost: f64,
    /// Half-width of the gliding window over which the smoothness is chosen, marks, 5 or more; `None` for one
    /// smoothness throughout each stretch between onsets.
    pub window_marks: Option<usize>,
}

impl Default for SmoothOptions {
    fn default() -> Self {
        Self {
            smoothness: Smoothness::Gcv,
            degree: Degree::Seven,
            onsets_s: Vec::new(),
            onset_u_s: 0.000_3,
            shared_s: Vec::new(),
            onset_jump: 200.0,
            onset_rise_s: 0.005,
            rises_s: vec![0.0, 0.001, 0.002, 0.0035, 0.005, 0.0075, 0.011],
            most_changes: 6,
            parameter_cost: 1.3,
            window_marks: Some(45),
        }
    }
}

impl SmoothOptions {
    /// Checks every setting's range.
    ///
    /// # Errors
    /// [`MotionFailure::Setting`] names the first setting out of range.
    pub fn check(&self) -> Result<(), MotionFailure> {
        let fault = |setting, value, rule| Err(MotionFailure::Setting { setting, value, rule });
        let positive = |value: f64| value.is_finite() && value > 0.0;
        if let Smoothness::Fixed(FixedSmoothness { q, .. }) = &self.smoothness
            && (q.is_empty() || !q.iter().all(|&q| positive(q)))
        {
            let value = q.iter().copied().find(|&q| !positive(q)).unwrap_or(0.0);
            return fault("smoothness", value, "at least one strength must be given, each greater than 0");
        }
        if let Some(&onset) = self.onsets_s.iter().find(|onset| !onset.is_finite()) {
            return fault("onsets_s", onset, "it must be a number of seconds");
        }
        let unusable = |&&(at_s, u_s): &&(f64, f64)| !(at_s.is_finite() && u_s.is_finite() && u_s > 0.0);
        if let Some(&(at_s, _)) = self.shared_s.iter().find(unusable) {
            return fault("shared_s", at_s, "each instant needs a standard uncertainty greater than 0");
        }
        if !(self.onset_u_s.is_finite() && self.onset_u_s >= 0.0) {
            return fault("onset_u_s", self.onset_u_s, "it must be 0 or more");
        }
        if !positive(self.onset_jump) {
            return fault("onset_jump", self.onset_jump, "it must be greater than 0");
        }
        if !positive(self.onset_rise_s) {
            return fault("onset_rise_s", self.onset_rise_s, "it must be greater than 0");
        }
        if !(1.0..=2.0).contains(&self.parameter_cost) {
            return fault("parameter_cost", self.parameter_cost, "it must be from 1 to 2");
        }
        if let Some(&rise) = self.rises_s.iter().find(|rise| !(rise.is_finite() && **rise >= 0.0)) {
            return fault("rises_s", rise, "each must be 0 or more");
        }
        if self.most_changes > 20 {
            #[expect(clippy::cast_precision_loss, reason = "for the message")]
            let value = self.most_changes as f64;
            return fault("most_changes", value, "it must be 20 or less");
        }
        if let Some(half @ 0..5) = self.window_marks {
            #[expect(clippy::cast_precision_loss, reason = "a number below 5")]
            let value = half as f64;
            return fault("window_marks", value, "it must be 5 or more");
        }
        Ok(())
    }
}
