//! Whether a delay is that of a filter that ran one way, or of the clock: by the record's own noise before contact.
//!
//! A Butterworth filter of two or four poles run once delays slow motion by √2/ω or 2.613/ω, ω its corner. A lag therefore names the corner
//! that such a filter would have, and that corner the shape of the noise's spectrum. Its likelihood (Whittle 1953) is held against that of
//! no filter and of every class run both ways, which delay nothing.

use crate::Measured;
use crate::class::{CLEAR, likeliest_class, likelihood_of, quiet_spectrum, warped};
use filmgauge_sensors::Channel;
use std::f64::consts::{PI, SQRT_2};

/// Poles, and the delay of slow motion times the corner, rad: the sum of 1/Q of its sections (Butterworth polynomials).
const FILTERS: [(i32, f64); 2] = [(2, SQRT_2), (4, 2.613_126)];
/// Lags tried about the one found, standard uncertainties.
const TRIED: [f64; 9] = [-2.0, -1.5, -1.0, -0.5, 0.0, 0.5, 1.0, 1.5, 2.0];

/// The spectrum is looked at up to this many times the highest corner: further up, what leaks through the window outweighs what is let
/// through.
const REACH: f64 = 6.0;
/// Fewest places of the spectrum that tell.
const FEWEST_BINS: usize = 20;

/// Where a delay comes from.
#[derive(Debug, Clone, Copy, PartialEq)]
pub(crate) enum Origin {
    /// A filter of so many poles with its corner there, run one way.
    Filter { poles: i32, corner_hz: f64 },
    /// Not such a filter: the noise reaches higher than it would let through.
    Clock,
    /// The noise does not tell.
    Unknown,
}

impl Origin {
    /// Part of a sentence.
    pub(crate) fn words(self) -> String {
        match self {
            Self::Filter { poles, corner_hz } => format!(
                "its noise before contact has the shape of a filter of {poles} poles run one way, corner {corner_hz:.0} Hz, which delays \
                 by just that: the filter, not the clock"
            ),
            Self::Clock => {
                "its noise before contact has not the shape of a filter that would delay so much: the clock, not a filter".to_owned()
            }
            Self::Unknown => "its noise before contact does not tell a filter run one way from the clock".to_owned(),
        }
    }
}

/// What the noise says of a lag.
pub(crate) fn origin(channel: &Channel, contact_s: f64, lag_s: Measured) -> Origin {
    let rate_hz = channel.sample_rate_hz();
    let Some(spectrum) = quiet_spectrum(channel, contact_s) else { return Origin::Unknown };
    // A filter never makes a record early.
    if lag_s.value <= 0.0 {
        return Origin::Clock;
    }
    let highest_hz = REACH * FILTERS[1].1 / (2.0 * PI * lag_s.value);
    let spectrum: Vec<(f64, f64)> =
        spectrum.into_iter().filter(|(share, _)| share * rate_hz <= highest_hz).collect();
    if spectrum.len() < FEWEST_BINS {
        return Origin::Unknown;
    }
    let mut best: Option<(f64, Origin)> = None;
    for (poles, delay) in FILTERS {
        for off in TRIED {
            let lag_s = lag_s.value + off * lag_s.u;
            let corner_hz = delay / (2.0 * PI * lag_s);
            if lag_s <= 0.0 || corner_hz >= 0.45 * rate_hz {
                continue;
            }
            let passed = |share: f64| (1.0 + warped(share, corner_hz, rate_hz).powi(2 * poles)).recip();
            let likelihood = likelihood_of(&spectrum, passed);
            if best.is_none_or(|(most, _)| likelihood > most) {
                best = Some((likelihood, Origin::Filter { poles, corner_hz }));
            }
        }
    }
    let without = likeliest_class(&spectrum, rate_hz);
    match best {
        Some((most, filter)) if most - without > CLEAR => filter,
        Some((most, _)) if without - most > CLEAR => Origin::Clock,
        _ => Origin::Unknown,
    }
}

#[cfg(test)]
mod tests {
    use super::*;
    use filmgauge_sensors::{CfcClass, CfcConstant, StartRule, cfc, cfc_coefficients};
    use rand_distr::{Distribution, StandardNormal};
    use rand_xoshiro::Xoshiro256PlusPlus;
    use rand_xoshiro::rand_core::SeedableRng;
    use std::path::PathBuf;

    /// Noise and a straight rise, 10 kHz.
    fn record(shape: impl Fn(&[f64]) -> Vec<f64>, seed: u64) -> Channel {
        let mut random = Xoshiro256PlusPlus::seed_from_u64(seed);
        let white: Vec<f64> =
            (0..3000).map(|_| Distribution::<f64>::sample(&StandardNormal, &mut random)).collect();
        Channel {
            code: "10CVEHCG0000ACXP".into(),
            unit: "m/s2".into(),
            start_s: -0.3,
            step_s: 1e-4,
            values: shape(&white),
            file: PathBuf::new(),
            comments: Vec::new(),
            steps: Vec::new(),
        }
    }

    /// One pass of class 60's section: what a recorder does that filters as it reads.
    fn one_pass(values: &[f64]) -> Vec<f64> {
        let c = cfc_coefficients(1e4, CfcClass::Cfc60, CfcConstant::Sae).unwrap();
        let (mut x1, mut x2, mut y1, mut y2) = (0.0, 0.0, 0.0, 0.0);
        let through = |&x0: &f64| {
            let y0 = c.a0 * x0 + c.a1 * x1 + c.a2 * x2 + c.b1 * y1 + c.b2 * y2;
            (x2, x1, y2, y1) = (x1, x0, y1, y0);
            y0
        };
        values.iter().map(through).collect()
    }

    /// √2 / (2π · 124.65 Hz): the delay of one pass of class 60 (closed form, computed).
    const PASS_S: f64 = 0.001_805_7;

    #[test]
    fn one_pass_delays_slow_motion_as_the_closed_form_says() {
        let ramp: Vec<f64> = (0..3000).map(f64::from).collect();
        let late = ramp[2999] - one_pass(&ramp)[2999];
        assert!((late * 1e-4 - PASS_S).abs() < 2e-6, "{late}");
    }

    #[test]
    fn a_filter_run_one_way_is_told_from_a_late_clock() {
        let lag = Measured { value: PASS_S, u: 0.000_1 };
        let (mut filters, mut clocks) = (0, 0);
        for seed in 0..100 {
            let told = origin(&record(one_pass, seed), 0.0, lag);
            assert!(!matches!(told, Origin::Clock), "{seed}: {told:?}");
            filters += u32::from(
                matches!(told, Origin::Filter { poles: 2, corner_hz } if (corner_hz - 124.65).abs() < 20.0),
            );
            for class in [None, Some(CfcClass::Cfc1000), Some(CfcClass::Cfc180), Some(CfcClass::Cfc60)] {
                let both_ways = |white: &[f64]| {
                    class
                        .map_or(white.to_vec(), |class| cfc(white, 1e4, class, StartRule::default()).unwrap())
                };
                let told = origin(&record(both_ways, seed), 0.0, lag);
                assert!(!matches!(told, Origin::Filter { .. }), "{seed} {class:?}: {told:?}");
                clocks += u32::from(told == Origin::Clock);
            }
        }
        println!("one way {filters} of 100, clock {clocks} of 400");
        assert!(filters >= 90 && clocks >= 360, "{filters} {clocks}");
    }

    #[test]
    fn an_early_record_is_the_clocks_and_a_short_one_tells_nothing() {
        let lag = Measured { value: -0.002, u: 0.000_1 };
        assert_eq!(origin(&record(<[f64]>::to_vec, 1), 0.0, lag), Origin::Clock);
        assert_eq!(origin(&record(<[f64]>::to_vec, 1), -0.29, lag), Origin::Unknown);
        assert!(Origin::Unknown.words().contains("does not tell"));
    }
}
