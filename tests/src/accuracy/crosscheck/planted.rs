//! Faults planted in a sensor, of drawn sizes.

use super::scene::{Draws, USUAL};
use filmgauge_crosscheck::Fault;
use filmgauge_sensors::{CfcClass, Channel};
use std::f64::consts::PI;

const G: f64 = 9.806_65;

/// What is wrong with a sensor.
#[derive(Debug, Clone, Copy, PartialEq)]
pub(super) enum Planted {
    Sound,
    Gain(f64),
    Offset(f64),
    Polarity,
    /// s.
    Delay(f64),
    /// Carries the other axis that the film sees.
    OtherAxis,
    /// Carries the axis that the film does not see.
    Sideways,
    /// Cut off at this share of its greatest deceleration.
    Clipping(f64),
    /// The zero moves by m/s² at s.
    Step(f64, f64),
    /// Stands still from s for s, at zero or at its last value.
    Dropout(f64, f64, bool),
    /// The letter of its code, and what was run.
    Class(char, Option<CfcClass>),
    /// Resonance, Hz, and damping.
    Ringing(f64, f64),
}

/// Kinds of fault in the order of the tables.
pub(super) const KINDS: [&str; 12] = [
    "sound",
    "gain",
    "offset",
    "polarity",
    "delay",
    "other axis",
    "sideways axis",
    "clipping",
    "baseline step",
    "dropout",
    "filter class",
    "ringing mount",
];

impl Planted {
    /// A fault of a kind, its size drawn evenly on a logarithmic scale.
    pub(super) fn drawn(kind: &str, draws: &mut Draws) -> Self {
        let sign = draws.sign();
        let mut size = |low: f64, high: f64| draws.between(low.ln(), high.ln()).exp();
        match kind {
            "gain" => Self::Gain(1.0 + sign * size(0.02, 0.3)),
            "offset" => Self::Offset(sign * size(0.1, 2.0) * G),
            "polarity" => Self::Polarity,
            "delay" => Self::Delay(sign * size(0.001, 0.01)),
            "other axis" => Self::OtherAxis,
            "sideways axis" => Self::Sideways,
            "clipping" => Self::Clipping(size(0.5, 0.97)),
            "baseline step" => Self::Step(sign * size(0.1, 3.0) * G, size(0.005, 0.08)),
            "dropout" => Self::Dropout(size(0.01, 0.08), size(0.001_5, 0.015), sign > 0.0),
            "filter class" => {
                let run = [CfcClass::Cfc1000, CfcClass::Cfc600, CfcClass::Cfc180, CfcClass::Cfc60];
                let letters = ['A', 'B', 'C', 'D'];
                let stated = pick(size(1.0, 4.999));
                let other = (stated + pick(size(1.0, 3.999)) + 1) % 4;
                Self::Class(letters[stated], Some(run[other]))
            }
            "ringing mount" => Self::Ringing(size(25.0, 150.0), size(0.02, 0.1)),
            _ => Self::Sound,
        }
    }

    /// The fault that should be named.
    pub(super) fn fault(&self) -> Option<Fault> {
        Some(match self {
            Self::Sound => return None,
            Self::Gain(_) => Fault::Gain,
            Self::Offset(_) => Fault::Offset,
            Self::Polarity => Fault::Polarity,
            Self::Delay(_) => Fault::Delay,
            Self::OtherAxis | Self::Sideways => Fault::WrongAxis,
            Self::Clipping(_) => Fault::Clipping,
            Self::Step(..) => Fault::BaselineStep,
            Self::Dropout(..) => Fault::Dropout,
            Self::Class(..) => Fault::FilterClass,
            Self::Ringing(..) => Fault::Ringing,
        })
    }

    /// True gain, offset and lag; `None` where the channel does not carry the axis.
    pub(super) fn truth(&self) -> Option<[f64; 3]> {
        Some(match self {
            Self::OtherAxis | Self::Sideways => return None,
            Self::Gain(gain) => [*gain, 0.0, 0.0],
            Self::Offset(m_s2) => [1.0, *m_s2, 0.0],
            Self::Polarity => [-1.0, 0.0, 0.0],
            Self::Delay(s) => [1.0, 0.0, *s],
            // A resonance is late by its damping: 2 ζ / ω.
            Self::Ringing(hz, damping) => [1.0, 0.0, 2.0 * damping / (2.0 * PI * hz)],
            _ => [1.0, 0.0, 0.0],
        })
    }

    pub(super) fn late_s(&self) -> f64 {
        if let Self::Delay(s) = self { *s } else { 0.0 }
    }

    pub(super) fn stated_and_run(&self) -> (char, Option<CfcClass>) {
        if let Self::Class(letter, class) = self { (*letter, *class) } else { USUAL }
    }

    /// What the sensor feels through its mount.
    pub(super) fn mount(&self, felt: &[f64], step_s: f64) -> Vec<f64> {
        let Self::Ringing(hz, damping) = self else { return felt.to_vec() };
        let omega = 2.0 * PI * hz;
        let (mut r, mut v) = (felt[0], 0.0);
        felt.iter()
            .map(|a| {
                let here = r;
                // Velocity first, then place: stable, and good to (ω h)² of a step.
                let half = v + 0.5 * step_s * (omega * omega * (a - r) - 2.0 * damping * omega * v);
                r += step_s * half;
                v = half + 0.5 * step_s * (omega * omega * (a - r) - 2.0 * damping * omega * half);
                here
            })
            .collect()
    }

    /// What becomes of the stored samples.
    pub(super) fn spoil(&self, channel: &mut Channel) {
        let times_s: Vec<f64> = (0..channel.values.len()).map(|index| channel.time_s(index)).collect();
        let least = channel.values.iter().copied().fold(f64::MAX, f64::min);
        let before = |at_s: f64| times_s.iter().position(|t| *t >= at_s).unwrap_or(1).max(1) - 1;
        for (value, t) in channel.values.iter_mut().zip(&times_s) {
            match self {
                Self::Gain(gain) => *value *= gain,
                Self::Offset(m_s2) => *value += m_s2,
                Self::Polarity => *value = -*value,
                Self::Clipping(share) => *value = value.max(share * least),
                Self::Step(m_s2, from_s) if t >= from_s => *value += m_s2,
                _ => {}
            }
        }
        if let Self::Dropout(from_s, long_s, held) = self {
            let kept = if *held { channel.values[before(*from_s)] } else { 0.0 };
            for (value, t) in channel.values.iter_mut().zip(&times_s) {
                if (*from_s..*from_s + *long_s).contains(t) {
                    *value = kept;
                }
            }
        }
    }

    /// Size beyond its limit, in the unit of what the crosscheck states of it; `None` where a size makes no sense.
    pub(super) fn size_beyond_limit(&self, sound: &Channel, spoiled: &Channel) -> Option<f64> {
        let options = filmgauge_crosscheck::CrosscheckOptions::default();
        let lost = || {
            let steps = sound.values.iter().zip(&spoiled.values).map(|(whole, left)| whole - left);
            (steps.sum::<f64>() * sound.step_s).abs()
        };
        match self {
            Self::Gain(gain) => Some((gain - 1.0).abs() - options.gain_limit),
            Self::Offset(m_s2) | Self::Step(m_s2, _) => Some(m_s2.abs() - options.offset_limit_m_s2),
            Self::Delay(s) => Some(s.abs() - options.lag_limit_s),
            Self::Clipping(_) | Self::Dropout(..) => Some(lost()),
            Self::Ringing(hz, _) => Some((2.0 * PI * hz).powi(-2)),
            _ => None,
        }
    }
}

#[expect(clippy::cast_possible_truncation, clippy::cast_sign_loss, reason = "a small positive number")]
fn pick(number: f64) -> usize {
    number as usize - 1
}
