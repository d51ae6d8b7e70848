//! One sensor's record: evenly spaced samples with code, unit, and the steps taken since reading.

use crate::SensorsError;
use crate::resample::{Interpolation, value_at};
use std::path::PathBuf;

/// One sensor's record.
#[derive(Debug, Clone, PartialEq)]
pub struct Channel {
    /// Channel code of an exchange folder, or column header of a CSV file.
    pub code: String,
    /// Unit of the values, as in the file until [`crate::to_si`]; empty when the file names none.
    pub unit: String,
    /// Time of the first sample, s.
    pub start_s: f64,
    /// Time from one sample to the next, s; positive.
    pub step_s: f64,
    /// Samples, all finite.
    pub values: Vec<f64>,
    /// File that it was read from.
    pub file: PathBuf,
    /// What the file says about sensor and recording, `key: value`.
    pub comments: Vec<String>,
    /// What was done since reading, in order, in words.
    pub steps: Vec<String>,
}

impl Channel {
    /// Samples per second.
    #[must_use]
    pub fn sample_rate_hz(&self) -> f64 {
        1.0 / self.step_s
    }

    /// Time of sample `index`, s.
    #[must_use]
    #[expect(clippy::cast_precision_loss, reason = "sample counts stay far below 2^53")]
    pub fn time_s(&self, index: usize) -> f64 {
        self.start_s + index as f64 * self.step_s
    }

    /// Time of the last sample, s; that of the first where there are no samples.
    #[must_use]
    pub fn end_s(&self) -> f64 {
        self.time_s(self.values.len().saturating_sub(1))
    }

    /// Value at `time_s` between samples; `None` outside the record.
    #[must_use]
    pub fn at(&self, time_s: f64, interpolation: Interpolation) -> Option<f64> {
        value_at(self, time_s, interpolation)
    }

    /// Whether start, step and samples are usable by the functions of this crate.
    ///
    /// # Errors
    /// [`SensorsError::Settings`] naming the channel when there are fewer than two samples, a sample is
    /// not finite, or the step is not positive.
    pub fn check(&self) -> Result<(), SensorsError> {
        let code = &self.code;
        if self.values.len() < 2 {
            let n_samples = self.values.len();
            return Err(SensorsError::settings(format!(
                "channel \"{code}\" has {n_samples} samples: at least 2 are needed"
            )));
        }
        if !(self.start_s.is_finite() && self.step_s.is_finite() && self.step_s > 0.0) {
            return Err(SensorsError::settings(format!(
                "channel \"{code}\": start {} s and step {} s do not make a time base: the step must be above 0",
                self.start_s, self.step_s
            )));
        }
        match self.values.iter().position(|value| !value.is_finite()) {
            Some(index) => Err(SensorsError::settings(format!(
                "channel \"{code}\": sample {index} is not a finite number; cut or repair the record"
            ))),
            None => Ok(()),
        }
    }

    /// The same channel with other values and one more step listed.
    pub(crate) fn stepped(&self, values: Vec<f64>, step: String) -> Self {
        let mut steps = self.steps.clone();
        steps.push(step);
        Self {
            code: self.code.clone(),
            unit: self.unit.clone(),
            start_s: self.start_s,
            step_s: self.step_s,
            values,
            file: self.file.clone(),
            comments: self.comments.clone(),
            steps,
        }
    }
}

#[cfg(test)]
pub(crate) mod tests {
    use super::*;

    pub(crate) fn channel(unit: &str, start_s: f64, step_s: f64, values: Vec<f64>) -> Channel {
        Channel {
            code: "10CVEHCG0000ACXP".to_owned(),
            unit: unit.to_owned(),
            start_s,
            step_s,
            values,
            file: PathBuf::new(),
            comments: Vec::new(),
            steps: Vec::new(),
        }
    }

    #[test]
    fn sample_times_count_from_the_first_sample() {
        // Times follow the rule of ISO/TS 13499: first sample + i * interval; computed from that formula.
        let channel = channel("g", -0.01, 0.0001, vec![0.0; 3001]);
        assert!((channel.end_s() - 0.29).abs() < 1e-12);
        assert!(channel.time_s(100).abs() < 1e-15);
    }

    #[test]
    fn unusable_channels_are_named() {
        for (bad, word) in [
            (channel("g", 0.0, 0.1, vec![1.0]), "1 samples"),
            (channel("g", 0.0, 0.0, vec![1.0, 2.0]), "step"),
            (channel("g", f64::NAN, 0.1, vec![1.0, 2.0]), "start"),
            (channel("g", 0.0, 0.1, vec![1.0, f64::INFINITY]), "sample 1"),
        ] {
            let message = bad.check().unwrap_err().to_string();
            assert!(message.contains(word) && message.contains("10CVEHCG0000ACXP"), "{message}");
        }
    }
}
