//! The resultant of the axes of one place.

use crate::{Channel, ChannelCode, SensorsError};

/// Root of the sum of squares, sample by sample, of channels of one place, unit and time base.
///
/// Filter first: a resultant is not linear (SAE J211-1). Its code is that of the first with direction R, where that is a channel code.
///
/// # Errors
/// [`SensorsError::Settings`] for fewer than two channels, an unusable one, and channels of other unit, start, step or length.
pub fn resultant(axes: &[&Channel]) -> Result<Channel, SensorsError> {
    let (first, others) = match axes {
        [first, others @ ..] if !others.is_empty() => (*first, others),
        _ => return Err(SensorsError::settings("a resultant needs at least two channels")),
    };
    first.check()?;
    for other in others {
        other.check()?;
        // A millionth of a step is rounding of the time base.
        let slack_s = 1e-6 * first.step_s;
        let alike = other.unit == first.unit
            && other.values.len() == first.values.len()
            && (other.start_s - first.start_s).abs() < slack_s
            && (other.end_s() - first.end_s()).abs() < slack_s;
        if !alike {
            return Err(SensorsError::settings(format!(
                "channels \"{}\" and \"{}\" differ in unit or time base; bring them to one before taking the resultant",
                first.code, other.code
            )));
        }
    }
    let size = |index: usize| axes.iter().map(|axis| axis.values[index].powi(2)).sum::<f64>().sqrt();
    let codes: Vec<&str> = axes.iter().map(|axis| axis.code.as_str()).collect();
    let mut joined = first
        .stepped((0..first.values.len()).map(size).collect(), format!("resultant of {}", codes.join(", ")));
    if let Ok(code) = ChannelCode::parse(&first.code) {
        joined.code = ChannelCode { direction: 'R', ..code }.to_string();
    }
    Ok(joined)
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::channel::tests::channel;

    #[test]
    fn three_four_and_twelve_make_thirteen() {
        let axis = |value: f64| channel("m/s2", 0.0, 0.1, vec![value, -value, 0.0]);
        let found = resultant(&[&axis(3.0), &axis(-4.0), &axis(12.0)]).unwrap();
        assert_eq!((found.values, found.code.as_str()), (vec![13.0, 13.0, 0.0], "10CVEHCG0000ACRP"));
        assert!(found.steps[0].starts_with("resultant of 10CVEHCG0000ACXP"));
    }

    #[test]
    fn channels_that_do_not_fit_are_refused() {
        let one = channel("m/s2", 0.0, 0.1, vec![1.0; 4]);
        for other in [
            channel("g", 0.0, 0.1, vec![1.0; 4]),
            channel("m/s2", 0.1, 0.1, vec![1.0; 4]),
            channel("m/s2", 0.0, 0.2, vec![1.0; 4]),
            channel("m/s2", 0.0, 0.1, vec![1.0; 3]),
            channel("m/s2", 0.0, 0.1, vec![f64::NAN; 4]),
        ] {
            assert!(resultant(&[&one, &other]).is_err());
        }
        assert!(resultant(&[&one]).is_err() && resultant(&[]).is_err());
    }
}
