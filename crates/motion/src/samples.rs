//! A measured curve as lists of times and of values with variance, checked once for every algorithm.

use crate::MotionFailure;

/// Value and its variance at one instant; `None` where there is no mark.
pub type Sample = Option<(f64, f64)>;

/// Checks that times grow and that values and variances are usable.
pub(crate) fn check(times_s: &[f64], samples: &[Sample]) -> Result<(), MotionFailure> {
    if times_s.len() != samples.len() {
        let (found, expected) = (samples.len(), times_s.len());
        return Err(MotionFailure::LengthsDiffer { what: "curve", found, expected });
    }
    check_times(times_s)?;
    let usable = |(value, variance): (f64, f64)| value.is_finite() && variance.is_finite() && variance > 0.0;
    match samples.iter().position(|sample| sample.is_some_and(|sample| !usable(sample))) {
        Some(index) => Err(MotionFailure::UnusableMark { index }),
        None => Ok(()),
    }
}

/// Checks that times are finite and grow.
pub(crate) fn check_times(times_s: &[f64]) -> Result<(), MotionFailure> {
    if let Some(index) = times_s.iter().position(|time| !time.is_finite()) {
        return Err(MotionFailure::TimesRunBackwards { index });
    }
    match times_s.windows(2).position(|pair| pair[1] <= pair[0]) {
        Some(before) => Err(MotionFailure::TimesRunBackwards { index: before + 1 }),
        None => Ok(()),
    }
}

/// Times, values and variances of the marks from `from_s` to `to_s`, both included.
pub(crate) fn marked<'a>(
    times_s: &'a [f64],
    samples: &'a [Sample],
    from_s: f64,
    to_s: f64,
) -> impl Iterator<Item = (f64, f64, f64)> + 'a {
    times_s
        .iter()
        .zip(samples)
        .filter(move |(time, _)| (from_s..=to_s).contains(*time))
        .filter_map(|(&time, sample)| sample.map(|(value, variance)| (time, value, variance)))
}
