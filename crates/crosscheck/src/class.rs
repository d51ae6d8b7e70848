//! Which filter class the record's own noise shows, beside the class that its code states.
//!
//! Noise before contact is taken as white before the filter; each class would shape its spectrum. The likelihood of the periodogram
//! under each (Whittle 1953) says which class was run. A floor after the filter (steps of the recorder) is allowed for.

use filmgauge_sensors::{CfcClass, Channel, ChannelCode};
use std::f64::consts::PI;

/// Stretch before contact that is looked at, s, and the guard before contact.
const STRETCH_S: f64 = 0.1;
const GUARD_S: f64 = 0.005;
/// Fewest samples that can tell the classes apart.
const FEWEST_SAMPLES: usize = 300;
/// Most samples used.
const MOST_SAMPLES: usize = 2000;
/// Shares of the noise that came in after the filter; above the last the filter cannot be judged.
const FLOORS: [f64; 6] = [1e-8, 1e-7, 1e-6, 1e-5, 1e-4, 1e-3];
/// A Hann window makes neighbours in the spectrum alike: so much of the log-likelihood is new.
const INDEPENDENT_SHARE: f64 = 2.0 / 3.0;
/// Corner of one pass over the class's number (SAE J211-1).
const CORNER: f64 = 2.0775;
/// The likeliest class must be this much likelier than the stated one, in log-likelihood.
pub(crate) const CLEAR: f64 = 10.0;

/// Stated and found class, and twice the difference of their log-likelihoods.
#[derive(Debug, Clone, Copy, PartialEq)]
pub(crate) struct OtherClass {
    pub(crate) stated: Option<CfcClass>,
    pub(crate) found: Option<CfcClass>,
    pub(crate) bic_gain: f64,
}

const CLASSES: [Option<CfcClass>; 5] =
    [None, Some(CfcClass::Cfc1000), Some(CfcClass::Cfc600), Some(CfcClass::Cfc180), Some(CfcClass::Cfc60)];

/// The class that the record shows where it is clearly not the stated one; `None` where it is, or cannot be told.
pub(crate) fn other_class(channel: &Channel, contact_s: f64) -> Option<OtherClass> {
    let stated = stated_class(channel)?;
    let spectrum = quiet_spectrum(channel, contact_s)?;
    let judged: Vec<(Option<CfcClass>, f64)> = CLASSES
        .into_iter()
        .filter(|class| corner_hz(*class) < 0.45 * channel.sample_rate_hz())
        .map(|class| (class, log_likelihood(&spectrum, class, channel.sample_rate_hz())))
        .collect();
    let likelihood = |of: Option<CfcClass>| judged.iter().find(|(class, _)| *class == of).map(|(_, l)| *l);
    let of_stated = likelihood(stated)?;
    let (found, most) = judged.iter().copied().max_by(|a, b| a.1.total_cmp(&b.1))?;
    // A filter against aliasing is no class filter: a raw record may have one.
    let mild = stated.is_none() && found.is_some_and(|class| class >= CfcClass::Cfc600);
    (found != stated && !mild && most - of_stated > CLEAR).then_some(OtherClass {
        stated,
        found,
        bic_gain: 2.0 * (most - of_stated),
    })
}

/// The class that the code's last character states: `Some(None)` for raw, `None` where it states none.
fn stated_class(channel: &Channel) -> Option<Option<CfcClass>> {
    match ChannelCode::parse(&channel.code).ok()?.filter_class {
        'A' => Some(Some(CfcClass::Cfc1000)),
        'B' => Some(Some(CfcClass::Cfc600)),
        'C' => Some(Some(CfcClass::Cfc180)),
        'D' => Some(Some(CfcClass::Cfc60)),
        '0' => Some(None),
        _ => None,
    }
}

fn corner_hz(class: Option<CfcClass>) -> f64 {
    class.map_or(0.0, |class| CORNER * class.number_hz())
}

/// Power by frequency as a share of the sample rate, of the stretch before contact without its trend.
#[expect(clippy::cast_precision_loss, reason = "sample counts stay far below 2^53")]
pub(crate) fn quiet_spectrum(channel: &Channel, contact_s: f64) -> Option<Vec<(f64, f64)>> {
    let to_s = contact_s - GUARD_S;
    let quiet: Vec<f64> = (0..channel.values.len())
        .filter(|&index| (to_s - STRETCH_S..to_s).contains(&channel.time_s(index)))
        .map(|index| channel.values[index])
        .collect();
    let quiet = &quiet[quiet.len().saturating_sub(MOST_SAMPLES)..];
    let n = quiet.len();
    if n < FEWEST_SAMPLES {
        return None;
    }
    let windowed: Vec<f64> = without_trend(quiet)
        .into_iter()
        .enumerate()
        .map(|(i, value)| value * (PI * (i as f64 + 0.5) / n as f64).sin().powi(2))
        .collect();
    let spectrum: Vec<(f64, f64)> = (2..n / 2)
        .map(|k| {
            let turn = 2.0 * PI * k as f64 / n as f64;
            let (re, im) = windowed.iter().enumerate().fold((0.0, 0.0), |(re, im), (i, value)| {
                let (sin, cos) = (turn * i as f64).sin_cos();
                (re + value * cos, im + value * sin)
            });
            (k as f64 / n as f64, re * re + im * im)
        })
        .collect();
    spectrum.iter().any(|(_, power)| *power > 0.0).then_some(spectrum)
}

#[expect(clippy::cast_precision_loss, reason = "sample counts stay far below 2^53")]
fn without_trend(values: &[f64]) -> Vec<f64> {
    let n = values.len() as f64;
    let mean = values.iter().sum::<f64>() / n;
    let middle = (n - 1.0) / 2.0;
    let (mut along, mut across) = (0.0, 0.0);
    for (i, value) in values.iter().enumerate() {
        let place = i as f64 - middle;
        along += place * place;
        across += place * (value - mean);
    }
    let slope = across / along;
    values.iter().enumerate().map(|(i, value)| value - mean - slope * (i as f64 - middle)).collect()
}

/// The greatest log-likelihood over level and floor, where a class was run in two passes.
fn log_likelihood(spectrum: &[(f64, f64)], class: Option<CfcClass>, sample_rate_hz: f64) -> f64 {
    let corner_hz = class.map(|class| CORNER * class.number_hz());
    // Two passes of two poles, in power.
    likelihood_of(spectrum, |share| {
        corner_hz.map_or(1.0, |hz| (1.0 + warped(share, hz, sample_rate_hz).powi(4)).powi(-2))
    })
}

/// Frequency, as a share of the sample rate, over a corner, as a digital filter has it (bilinear transformation).
pub(crate) fn warped(share: f64, corner_hz: f64, sample_rate_hz: f64) -> f64 {
    (PI * share).tan() / (PI * corner_hz / sample_rate_hz).tan()
}

/// The greatest log-likelihood over level and floor of a shape of power over frequency (share of the sample rate).
#[expect(clippy::cast_precision_loss, reason = "sample counts stay far below 2^53")]
pub(crate) fn likelihood_of(spectrum: &[(f64, f64)], passed: impl Fn(f64) -> f64) -> f64 {
    FLOORS
        .into_iter()
        .map(|floor| {
            let shaped: Vec<(f64, f64)> =
                spectrum.iter().map(|&(f, power)| (passed(f) + floor, power)).collect();
            let level = shaped.iter().map(|(shape, power)| power / shape).sum::<f64>() / shaped.len() as f64;
            let sum: f64 = shaped.iter().map(|(shape, _)| (level * shape).ln() + 1.0).sum();
            -INDEPENDENT_SHARE * sum
        })
        .fold(f64::MIN, f64::max)
}

/// The likeliest of raw and the classes, each run in two passes.
pub(crate) fn likeliest_class(spectrum: &[(f64, f64)], sample_rate_hz: f64) -> f64 {
    let known = CLASSES.into_iter().filter(|class| corner_hz(*class) < 0.45 * sample_rate_hz);
    known.map(|class| log_likelihood(spectrum, class, sample_rate_hz)).fold(f64::MIN, f64::max)
}

#[cfg(test)]
mod tests {
    use super::*;
    use filmgauge_sensors::{StartRule, cfc};
    use rand_distr::{Distribution, StandardNormal};
    use rand_xoshiro::Xoshiro256PlusPlus;
    use rand_xoshiro::rand_core::SeedableRng;
    use std::path::PathBuf;

    fn noise(letter: char, class: Option<CfcClass>, seed: u64) -> Channel {
        let mut random = Xoshiro256PlusPlus::seed_from_u64(seed);
        let white: Vec<f64> =
            (0..1500).map(|_| Distribution::<f64>::sample(&StandardNormal, &mut random)).collect();
        let values = match class {
            Some(class) => cfc(&white, 1e4, class, StartRule::default()).unwrap(),
            None => white,
        };
        Channel {
            code: format!("10CVEHCG0000ACX{letter}"),
            unit: "m/s2".to_owned(),
            start_s: -0.1,
            step_s: 1e-4,
            values,
            file: PathBuf::new(),
            comments: Vec::new(),
            steps: Vec::new(),
        }
    }

    #[test]
    fn the_class_that_was_run_is_told_from_the_class_that_is_stated() {
        let all = [('0', None), ('A', CLASSES[1]), ('B', CLASSES[2]), ('C', CLASSES[3]), ('D', CLASSES[4])];
        for (letter, stated) in all {
            for (_, run) in all {
                let told = other_class(&noise(letter, run, 3), 0.0);
                let mild = stated.is_none() && run.is_some_and(|class| class >= CfcClass::Cfc600);
                let expected = (stated != run && !mild).then_some(run);
                assert_eq!(told.map(|told| told.found), expected, "stated {stated:?}, run {run:?}: {told:?}");
            }
        }
    }

    #[test]
    fn codes_without_a_class_are_not_judged() {
        assert_eq!(other_class(&noise('P', Some(CfcClass::Cfc60), 1), 0.0), None);
        let mut named = noise('D', None, 1);
        named.code = "deck_ax_g".into();
        assert_eq!(other_class(&named, 0.0), None);
        assert_eq!(other_class(&noise('D', None, 1), -0.09), None);
    }
}
