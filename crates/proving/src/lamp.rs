//! The timing lamp: when it is lit, and for what share of an exposure.

use crate::scene::Lamp;
use serde::Serialize;

/// One pulse of the timing lamp, seconds from time zero.
#[derive(Debug, Clone, Copy, PartialEq, Serialize)]
pub struct LampPulse {
    /// When it lights up.
    pub on_s: f64,
    /// When it goes dark.
    pub off_s: f64,
}

/// Share of an exposure in which the lamp is lit, 0 to 1; at one instant, whether it is.
pub(crate) fn lit_share(lamp: &Lamp, from_s: f64, to_s: f64) -> f64 {
    if to_s > from_s {
        (lit_until(lamp, to_s) - lit_until(lamp, from_s)) / (to_s - from_s)
    } else {
        let periods = (from_s - lamp.phase_s) * lamp.frequency_hz;
        if periods - periods.floor() < lamp.duty { 1.0 } else { 0.0 }
    }
}

/// The pulses that touch a stretch of time, in order.
pub(crate) fn pulses(lamp: &Lamp, from_s: f64, to_s: f64) -> Vec<LampPulse> {
    let period_s = 1.0 / lamp.frequency_hz;
    let first = ((from_s - lamp.phase_s) * lamp.frequency_hz - lamp.duty).ceil();
    (0_u32..)
        .map(|k| lamp.phase_s + (first + f64::from(k)) * period_s)
        .take_while(|&on_s| on_s <= to_s)
        .map(|on_s| LampPulse { on_s, off_s: on_s + lamp.duty * period_s })
        .collect()
}

/// Time lit from `phase_s` up to an instant, s; negative before.
fn lit_until(lamp: &Lamp, t_s: f64) -> f64 {
    let periods = (t_s - lamp.phase_s) * lamp.frequency_hz;
    let whole = periods.floor();
    (whole * lamp.duty + (periods - whole).min(lamp.duty)) / lamp.frequency_hz
}

#[cfg(test)]
mod tests {
    use super::*;

    fn lamp() -> Lamp {
        Lamp {
            at_px: [0.0, 0.0],
            size_px: [4.0, 4.0],
            frequency_hz: 100.0,
            duty: 0.25,
            phase_s: 0.012_35,
            off_grey: 0.0,
            on_grey: 200.0,
            displaced_frames: 0.0,
            running: false,
        }
    }

    #[test]
    fn the_share_of_an_exposure_is_its_overlap_with_the_pulses() {
        // An exposure of 0.5 ms from 12.000 ms with the lamp on from 12.350 ms: 0.3 of it, by the stated formula
        // t_on = t_end - b t_exp.
        assert!((lit_share(&lamp(), 0.012, 0.012_5) - 0.3).abs() < 1e-9);
        assert!((lit_share(&lamp(), -1.0, 9.0) - 0.25).abs() < 1e-9);
        assert!(lit_share(&lamp(), 0.0149, 0.02).abs() < 1e-12);
        assert!((lit_share(&lamp(), 0.0124, 0.0124) - 1.0).abs() < 1e-12);
    }

    #[test]
    fn pulses_are_those_that_touch_the_stretch() {
        let found = pulses(&lamp(), 0.014, 0.033);
        assert_eq!(found.len(), 3);
        assert!((found[0].on_s - 0.012_35).abs() < 1e-12 && (found[2].off_s - 0.034_85).abs() < 1e-12);
    }
}
