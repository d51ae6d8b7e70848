//! The faults that are named: those taken up that are beyond limit and uncertainty, and those that the record shows of itself.

use crate::chain::Case;
use crate::class::OtherClass;
use crate::found::{Found, Size};
use crate::one_way::origin;
use crate::verdict::text;
use crate::{CrosscheckOptions, Fault, Measured, SensedAxis, Suspected};
use filmgauge_sensors::{CfcClass, Channel};
use std::f64::consts::PI;

/// What the faults are judged by.
pub(crate) struct Evidence<'a> {
    pub(crate) case: &'a Case<'a>,
    pub(crate) found: &'a Found,
    /// Faults in the order in which they were taken up, with the fall of the criterion.
    pub(crate) taken: &'a [(Fault, f64)],
    /// The axis that the channel is said to sense.
    pub(crate) axis: SensedAxis,
    pub(crate) class: Option<OtherClass>,
    /// The record, for what its noise says of a delay.
    pub(crate) channel: &'a Channel,
}

impl Evidence<'_> {
    /// Strongest evidence first.
    pub(crate) fn suspected(&self) -> Vec<Suspected> {
        let mut suspected: Vec<Suspected> = self
            .taken
            .iter()
            .filter_map(|&(fault, bic_gain)| {
                let evidence = self.evidence(fault)?;
                Some(Suspected { fault, evidence, size: self.size(fault), bic_gain })
            })
            .collect();
        suspected.extend(self.class.map(|class| Suspected {
            fault: Fault::FilterClass,
            evidence: other_class(&class),
            size: None,
            bic_gain: class.bic_gain,
        }));
        suspected.sort_by(|a, b| b.bic_gain.total_cmp(&a.bic_gain));
        if !suspected.iter().any(|suspect| suspect.fault == Fault::Dropout) {
            suspected.extend(self.still());
        }
        suspected
    }

    /// The numbers behind a fault; `None` within limit or uncertainty.
    fn evidence(&self, fault: Fault) -> Option<String> {
        let options = self.options();
        match fault {
            Fault::Polarity => self
                .found
                .reversed(options)
                .then(|| format!("reads the reverse of the film: correlation {:.3}", self.found.correlation)),
            Fault::Gain => self.gain(),
            Fault::Offset => {
                let (offset, limit) = (self.found.offset_m_s2, options.offset_limit_m_s2);
                self.beyond(offset, limit)
                    .then(|| format!("offset {}, limit {limit:.3} m/s²", text(offset, " m/s²")))
            }
            Fault::Delay => {
                let lag = self.found.lag_s?;
                let limit_ms = options.lag_limit_s * 1e3;
                self.beyond(lag, options.lag_limit_s).then(|| {
                    let origin = origin(self.channel, self.case.contact_s, lag);
                    format!("lag {}, limit {limit_ms} ms; {}", text(milli(lag), " ms"), origin.words())
                })
            }
            Fault::WrongAxis => Some(format!(
                "follows the film's motion {} with gain {}, not {}",
                self.axis.other().word(),
                self.found.gain.map_or_else(|| "unknown".to_owned(), |gain| text(gain, "")),
                self.axis.word()
            )),
            Fault::BaselineStep | Fault::Clipping | Fault::Dropout | Fault::Ringing => self.sized(fault),
            Fault::FilterClass => None,
        }
    }

    fn size(&self, fault: Fault) -> Option<Measured> {
        match fault {
            Fault::Gain => self.found.gain,
            Fault::Offset => Some(self.found.offset_m_s2),
            Fault::Delay => self.found.lag_s,
            Fault::Polarity | Fault::WrongAxis | Fault::FilterClass => None,
            Fault::BaselineStep | Fault::Clipping | Fault::Dropout | Fault::Ringing => {
                let (_, size) = self.found.sizes.iter().find(|(of, _)| *of == fault)?;
                Some(match *size {
                    Size::Step { moved_m_s2, .. } => moved_m_s2,
                    Size::Lost { speed_m_s, .. } => speed_m_s,
                    Size::Resonance { inverse_square_s2 } => inverse_square_s2,
                })
            }
        }
    }

    fn gain(&self) -> Option<String> {
        let gain = self.found.gain?;
        let sign = if self.found.reversed(self.options()) { -1.0 } else { 1.0 };
        let limit = self.options().gain_limit;
        self.beyond(Measured { value: gain.value - sign, u: gain.u }, limit)
            .then(|| format!("gain {}, limit {sign} ± {limit}", text(gain, "")))
    }

    fn sized(&self, fault: Fault) -> Option<String> {
        let (_, size) = self.found.sizes.iter().find(|(of, _)| *of == fault)?;
        match *size {
            Size::Step { moved_m_s2, from_s } => {
                let limit = self.options().offset_limit_m_s2;
                self.beyond(moved_m_s2, limit).then(|| {
                    format!("zero moves by {} near {:.0} ms", text(moved_m_s2, " m/s²"), from_s * 1e3)
                })
            }
            Size::Lost { speed_m_s, longest_s } => self.lost(fault, speed_m_s, longest_s),
            Size::Resonance { inverse_square_s2 } => {
                let hz = resonance_hz(inverse_square_s2)?;
                (inverse_square_s2.value > self.options().coverage * inverse_square_s2.u)
                    .then(|| format!("swings near {:.0} Hz, which the body does not", hz.value))
            }
        }
    }

    fn lost(&self, fault: Fault, speed_m_s: Measured, [from_s, to_s]: [f64; 2]) -> Option<String> {
        let (from_ms, to_ms) = (from_s * 1e3, to_s * 1e3);
        let lost = text(speed_m_s, " m/s");
        if fault == Fault::Dropout {
            return self.beyond(speed_m_s, 0.0).then(|| {
                format!("stands still from {from_ms:.1} to {to_ms:.1} ms, where the film's speed changes by {lost} more")
            });
        }
        let marks = self.case.marks;
        let total_s = |runs: &[[f64; 2]]| runs.iter().map(|run| run[1] - run[0]).sum::<f64>();
        let at_top = total_s(&marks.at_top_s) >= total_s(&marks.at_bottom_s);
        let (outward, level) = if at_top { (1.0, marks.top) } else { (-1.0, marks.bottom) };
        let missing = Measured { value: outward * speed_m_s.value, u: speed_m_s.u };
        (missing.value > self.options().coverage * missing.u).then(|| {
            format!("stays at {level:.1} m/s² from {from_ms:.1} to {to_ms:.1} ms, where the film's speed changes by {lost} more")
        })
    }

    /// A record that stands still where the film cannot say what is lost.
    fn still(&self) -> Option<Suspected> {
        let [from_s, to_s] = *self.case.marks.still_s.first()?;
        Some(Suspected {
            fault: Fault::Dropout,
            evidence: format!(
                "stands still from {:.1} to {:.1} ms; the film does not show that anything is lost",
                from_s * 1e3,
                to_s * 1e3
            ),
            size: None,
            bic_gain: 0.0,
        })
    }

    fn beyond(&self, deviation: Measured, limit: f64) -> bool {
        deviation.value.abs() - self.options().coverage * deviation.u > limit
    }

    fn options(&self) -> &CrosscheckOptions {
        self.case.options
    }
}

/// Frequency of a resonance, Hz.
pub(crate) fn resonance_hz(inverse_square_s2: Measured) -> Option<Measured> {
    let Measured { value, u } = inverse_square_s2;
    let hz = 1.0 / (2.0 * PI * value.max(0.0).sqrt());
    hz.is_finite().then(|| Measured { value: hz, u: 0.5 * hz * u / value })
}

fn other_class(class: &OtherClass) -> String {
    let word = |class: Option<CfcClass>| {
        class.map_or_else(|| "no class".to_owned(), |class| format!("class {}", class.number_hz()))
    };
    format!("code says {}, its noise before contact shows {}", word(class.stated), word(class.found))
}

pub(crate) fn milli(seconds: Measured) -> Measured {
    Measured { value: seconds.value * 1e3, u: seconds.u * 1e3 }
}
