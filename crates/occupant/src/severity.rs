//! Acceleration severity index: how hard a restrained occupant is shaken, from the vehicle's three accelerations.

use crate::OccupantFailure;
use crate::failure::{above_zero, all_finite};
use crate::means::means;
use filmgauge_quantities::STANDARD_GRAVITY_M_S2;
use filmgauge_sensors::{StartRule, low_pass};

/// How the accelerations are smoothed before they are put together (EN 1317-1, from memory).
#[derive(Debug, Clone, Copy, PartialEq)]
pub enum SeverityRule {
    /// Edition of 1998: means over 50 ms.
    Mean,
    /// Edition of 2010: four-pole low-pass without phase at 13 Hz, taken as the corner of one of its two passes: that comes
    /// nearest to the means (noise bandwidth 10.8 Hz against 10). For a corner of the pair hand in 16.2 Hz.
    LowPass {
        /// Corner of one pass, Hz; above 0.
        corner_hz: f64,
    },
}

/// Limits that make up the index, g: forward, to a side, up (EN 1317-1).
pub const LIMITS_G: [f64; 3] = [12.0, 9.0, 10.0];
/// Length of the means, s.
const MEAN_S: f64 = 0.050;

/// The greatest index of a record.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct SeverityIndex {
    /// The index, without unit.
    pub asi: f64,
    /// When it is reached: the middle of the mean, or the filtered sample, s after the first sample.
    pub time_s: f64,
    /// Smoothed accelerations then, g: forward, to a side, up.
    pub acceleration_g: [f64; 3],
}

/// ASI = max √((ax/12 g)² + (ay/9 g)² + (az/10 g)²) of smoothed accelerations, m/s², at the centre of gravity.
///
/// For [`SeverityRule::LowPass`] the record wants a still stretch of half a second at both ends.
///
/// # Errors
/// [`OccupantFailure`] for records of different lengths or shorter than the smoothing, samples that are no numbers, and a
/// corner that the sample rate does not allow.
pub fn severity_index(
    step_s: f64,
    acceleration_m_s2: [&[f64]; 3],
    rule: SeverityRule,
) -> Result<SeverityIndex, OccupantFailure> {
    above_zero("step_s (s)", step_s)?;
    let expected = acceleration_m_s2[0].len();
    for (what, samples) in
        ["acceleration x", "acceleration y", "acceleration z"].into_iter().zip(acceleration_m_s2)
    {
        if samples.len() != expected {
            return Err(OccupantFailure::Lengths { what, found: samples.len(), expected });
        }
        all_finite(what, samples)?;
    }
    let [x, y, z] = acceleration_m_s2;
    let smooth = |samples: &[f64]| smoothed(step_s, samples, rule);
    let (x, y, z) = (smooth(x)?, smooth(y)?, smooth(z)?);
    let index = |i: usize| {
        let g = [x[i], y[i], z[i]].map(|a| a / STANDARD_GRAVITY_M_S2);
        (g.iter().zip(LIMITS_G).map(|(a, limit)| (a / limit).powi(2)).sum::<f64>().sqrt(), g)
    };
    let best = (0..x.len()).max_by(|&a, &b| index(a).0.total_cmp(&index(b).0));
    let best = best.ok_or(OccupantFailure::TooShort { what: "acceleration", n_samples: expected })?;
    let (asi, acceleration_g) = index(best);
    #[expect(clippy::cast_precision_loss, reason = "sample counts stay far below 2^53")]
    let time_s = best as f64 * step_s + if rule == SeverityRule::Mean { 0.5 * MEAN_S } else { 0.0 };
    Ok(SeverityIndex { asi, time_s, acceleration_g })
}

fn smoothed(step_s: f64, samples: &[f64], rule: SeverityRule) -> Result<Vec<f64>, OccupantFailure> {
    match rule {
        SeverityRule::Mean => {
            #[expect(
                clippy::cast_possible_truncation,
                clippy::cast_sign_loss,
                reason = "a float cast saturates; a record shorter than this has no mean"
            )]
            let width = (MEAN_S / step_s).round().max(1.0) as usize;
            Ok(means(samples, width))
        }
        SeverityRule::LowPass { corner_hz } => {
            above_zero("corner_hz (Hz)", corner_hz)?;
            low_pass(samples, 1.0 / step_s, corner_hz, StartRule::HoldEnds)
                .map_err(|error| OccupantFailure::Filter { why: error.to_string() })
        }
    }
}

#[cfg(test)]
mod tests;
