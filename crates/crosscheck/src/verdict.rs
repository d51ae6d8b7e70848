//! The verdict in words.

use crate::chain::Sound;
use crate::faults::milli;
use crate::found::{Found, Size};
use crate::{CrosscheckOptions, Fault, Measured, Suspected};
use filmgauge_quantities::COVERAGE_95;

/// Coverage factor with which a gain is held against the film's scale.
const SCALE_COVERAGE: f64 = 2.0;

/// One sentence: agreement or the faults, then what could not be judged or told apart.
pub(crate) fn verdict(
    found: &Found,
    suspected: &[Suspected],
    sound: Sound,
    options: &CrosscheckOptions,
) -> String {
    let mut parts = Vec::new();
    if suspected.is_empty() {
        parts.push(
            if found.gain.is_some() || found.lag_s.is_some() { "agrees" } else { "offset agrees" }.to_owned(),
        );
    } else {
        let faults: Vec<String> = suspected.iter().map(|suspected| named(suspected.fault, found)).collect();
        parts.push(format!("does not agree: {}", faults.join(", ")));
    }
    let elsewhere = suspected.iter().any(|suspect| suspect.fault == Fault::WrongAxis);
    match (found.gain, found.lag_s) {
        _ if elsewhere => {}
        (None, None) => parts.push("too little motion to judge gain and lag".to_owned()),
        (None, Some(_)) => parts.push("too little motion to judge gain".to_owned()),
        (Some(_), None) => parts.push("too little motion to judge lag".to_owned()),
        (Some(_), Some(_)) => {}
    }
    parts.extend(found.gain.and_then(|gain| not_separable(gain, found.gain_noise_u, sound)));
    let agreement = found.agreement;
    if agreement > options.agreement_limit {
        parts.push(format!("the residual is {agreement:.1} times what noise explains"));
    }
    parts.join("; ")
}

/// Value and 95 % half-width, to two digits of the uncertainty.
pub(crate) fn text(measured: Measured, unit: &str) -> String {
    let half_width = measured.u * COVERAGE_95;
    let decimals = decimals_for(half_width);
    format!("{:.decimals$} ± {half_width:.decimals$}{unit}", measured.value)
}

fn not_separable(gain: Measured, noise_u: f64, sound: Sound) -> Option<String> {
    let deviation = (gain.value.abs() - 1.0).abs();
    let shows = deviation > COVERAGE_95 * noise_u && deviation <= SCALE_COVERAGE * sound.gain;
    shows.then(|| {
        format!(
            "gain deviation of {:.1} % is not separable from the film's scale (± {:.1} %)",
            deviation * 100.0,
            SCALE_COVERAGE * sound.gain * 100.0
        )
    })
}

fn named(fault: Fault, found: &Found) -> String {
    let size = found.sizes.iter().find(|(of, _)| *of == fault).map(|(_, size)| *size);
    let shown = match (fault, size) {
        (Fault::Polarity, _) => Some("reversed".to_owned()),
        (Fault::Gain, _) => found.gain.map(|gain| text(gain, "")),
        (Fault::Offset, _) => Some(text(found.offset_m_s2, " m/s²")),
        (Fault::Delay, _) => found.lag_s.map(|lag| text(milli(lag), " ms")),
        (_, Some(Size::Step { moved_m_s2, .. })) => Some(text(moved_m_s2, " m/s²")),
        (_, Some(Size::Lost { speed_m_s, .. })) => Some(format!("of {}", text(speed_m_s, " m/s"))),
        _ => None,
    };
    shown.map_or_else(|| fault.word().to_owned(), |shown| format!("{} {shown}", fault.word()))
}

#[expect(
    clippy::cast_possible_truncation,
    clippy::cast_sign_loss,
    reason = "clamped to a handful of decimals before the cast"
)]
fn decimals_for(half_width: f64) -> usize {
    if half_width > 0.0 { (1.0 - half_width.log10().floor()).clamp(0.0, 9.0) as usize } else { 3 }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn values_show_two_digits_of_their_uncertainty() {
        assert_eq!(text(Measured { value: 1.080_123, u: 0.005 }, ""), "1.0801 ± 0.0098");
        assert_eq!(text(Measured { value: -3.02, u: 0.1 }, " ms"), "-3.02 ± 0.20 ms");
        assert_eq!(text(Measured { value: 123.4, u: 30.0 }, ""), "123 ± 59");
        assert_eq!(text(Measured { value: 1.0, u: 0.0 }, ""), "1.000 ± 0.000");
    }
}
