//! Two sensors that ought to read alike: gain, offset and lag of one against the other, and which fault shows.
//!
//! Both records are taken as means over short blocks, so that white noise stays white and neither is filtered. The judged one's
//! block means are gain × the reference's + offset, lag later. Both have noise, so the squares are weighted with that of either
//! (effective variance; York 1966, Can. J. Phys. 44:1079): a noisy reference does not lower the gain.

use crate::crosscheck::check_channel;
use crate::noise::sensor_noise;
use crate::verdict::text;
use crate::{CrosscheckFailure, CrosscheckOptions, Fault, Measured};
use filmgauge_sensors::Channel;

mod blocks;
mod solve;

use blocks::Blocks;
use solve::{Solved, Terms};

/// Settings of [`pair`]. The limits are common practice, no source.
#[derive(Debug, Clone, PartialEq)]
pub struct PairOptions {
    /// Stretch compared, search range and limits: those of the crosscheck.
    pub crosscheck: CrosscheckOptions,
    /// Length of a block, s; never less than four samples of either record.
    pub block_s: f64,
    /// An offset larger than this is a fault, in the channels' unit.
    pub offset_limit: f64,
    /// Below this correlation both do not sense the same.
    pub alike_correlation: f64,
}

impl Default for PairOptions {
    fn default() -> Self {
        let crosscheck = CrosscheckOptions::default();
        let offset_limit = crosscheck.offset_limit_m_s2;
        Self { crosscheck, block_s: 0.002, offset_limit, alike_correlation: 0.9 }
    }
}

impl PairOptions {
    /// Whether all settings lie in their ranges.
    ///
    /// # Errors
    /// [`CrosscheckFailure::Settings`] naming the first that does not.
    pub fn check(&self) -> Result<(), CrosscheckFailure> {
        self.crosscheck.check()?;
        let above = "it must be a finite number above 0";
        for (name, value) in [("block_s (s)", self.block_s), ("offset_limit", self.offset_limit)] {
            if !(value.is_finite() && value > 0.0) {
                return Err(CrosscheckFailure::Settings { name, value, range: above });
            }
        }
        let (name, value) = ("alike_correlation", self.alike_correlation);
        let range = "it must lie between 0 and 1";
        if (0.0..=1.0).contains(&value) {
            Ok(())
        } else {
            Err(CrosscheckFailure::Settings { name, value, range })
        }
    }
}

/// One channel against another of the same place and axis.
#[derive(Debug, Clone, PartialEq)]
pub struct Pair {
    /// Judged over reference; `None` with too little motion.
    pub gain: Option<Measured>,
    /// Judged less reference where both rest, in their unit.
    pub offset: Measured,
    /// Judged later than reference, s; `None` with too little motion.
    pub lag_s: Option<Measured>,
    /// Residual over its expected spread.
    pub agreement: f64,
    /// Correlation of the block means at the best lag.
    pub correlation: f64,
    /// In words.
    pub verdict: String,
    /// What differs, the worst first, with the numbers behind it; which of both is to blame, the pair cannot say.
    pub differs: Vec<(Fault, String)>,
    /// First and last instant compared, s.
    pub used_s: [f64; 2],
}

/// Compares two channels that sense the same place along the same axis, in one unit, each with its own rate.
///
/// # Errors
/// [`CrosscheckFailure`] for settings, unusable records, different units, and records that do not overlap long enough.
pub fn pair(
    reference: &Channel,
    judged: &Channel,
    contact_s: f64,
    options: &PairOptions,
) -> Result<Pair, CrosscheckFailure> {
    options.check()?;
    check_channel(reference, &reference.unit)?;
    check_channel(judged, &reference.unit)?;
    let noise = [reference, judged].map(|channel| sensor_noise(channel, contact_s, &options.crosscheck));
    let blocks = Blocks::new(reference, judged, contact_s, options).ok_or_else(|| {
        CrosscheckFailure::NotDetermined {
            code: judged.code.clone(),
            problem: format!("it does not overlap with {} for long enough about contact", reference.code),
        }
    })?;
    let variances = noise.map(|noise| (noise / blocks.length_s).max(f64::MIN_POSITIVE));
    let found = Compared { blocks: &blocks, variances, options, contact_s };
    let outcome = found.outcome();
    let figures = [outcome.gain, Some(outcome.offset), outcome.lag_s];
    let finite = figures.into_iter().flatten().all(|figure| figure.value.is_finite() && figure.u.is_finite());
    if finite && outcome.agreement.is_finite() {
        return Ok(outcome);
    }
    let problem = format!("it does not settle against {}", reference.code);
    Err(CrosscheckFailure::NotDetermined { code: judged.code.clone(), problem })
}

/// Both as block means, with the noise of a mean.
struct Compared<'a> {
    blocks: &'a Blocks<'a>,
    variances: [f64; 2],
    options: &'a PairOptions,
    contact_s: f64,
}

/// Instants after contact at which a moved zero is looked for, s: every 5 ms.
const STEPS: u32 = 40;
const STEP_S: f64 = 0.005;
/// A moved zero must lower the information criterion by this much: very strong evidence (Kass & Raftery 1995, J. Am. Stat. Assoc. 90:773).
const CLEAR: f64 = 10.0;

impl Compared<'_> {
    fn outcome(&self) -> Pair {
        let limits = &self.options.crosscheck;
        let motion = self.blocks.spread() / (self.variances[0] + self.variances[1]);
        if motion * limits.gain_u_limit.powi(2) <= 1.0 {
            return self.at_rest();
        }
        let (lag_s, _) = self.blocks.look_for_lag(limits.lag_search_s);
        let plain = solve::solve(self.blocks, self.variances, lag_s, &Terms::default());
        let stepped = self.stepped(lag_s, &plain);
        let best = stepped.as_ref().unwrap_or(&plain);
        let correlation = self.blocks.correlation(best.lag_s.value);
        let alike = correlation.abs() >= self.options.alike_correlation;
        let differs = if alike { self.differs(best) } else { vec![(Fault::WrongAxis, unlike(correlation))] };
        Pair {
            gain: Some(best.gain),
            offset: best.offset,
            lag_s: Some(best.lag_s),
            agreement: best.agreement,
            correlation,
            verdict: verdict(&differs, None),
            differs,
            used_s: self.blocks.used_s(),
        }
    }

    /// Too little motion: only the offset, from the mean difference.
    fn at_rest(&self) -> Pair {
        let (offset, agreement) = self.blocks.mean_difference(self.variances[0] + self.variances[1]);
        let differs = self.moved_off(offset).into_iter().collect::<Vec<_>>();
        Pair {
            gain: None,
            offset,
            lag_s: None,
            agreement,
            correlation: self.blocks.correlation(0.0),
            verdict: verdict(&differs, Some("too little motion to judge gain and lag")),
            differs,
            used_s: self.blocks.used_s(),
        }
    }

    /// The fit with a zero that moves at the best instant after contact, where that is beyond doubt and large enough.
    fn stepped(&self, lag_s: f64, plain: &Solved) -> Option<Solved> {
        let at = |i: u32| Terms { step_s: Some(self.contact_s + f64::from(i) * STEP_S) };
        let fitted = (0..STEPS).map(|i| solve::solve(self.blocks, self.variances, lag_s, &at(i)));
        let best = fitted.min_by(|a, b| a.chi2.total_cmp(&b.chi2))?;
        let (step, widening) = (best.step?, best.agreement.powi(2).max(1.0));
        // The instant and the size are both found.
        let fall = (plain.chi2 - best.chi2) / widening - 2.0 * self.blocks.count().ln();
        let large = step.value.abs() > self.options.offset_limit && beyond(step, 0.0, self.coverage());
        (fall > CLEAR && large).then_some(best)
    }

    fn coverage(&self) -> f64 {
        self.options.crosscheck.coverage
    }

    /// What is beyond its limit and beyond its own doubt, the worst first.
    fn differs(&self, solved: &Solved) -> Vec<(Fault, String)> {
        let (limits, unit) = (&self.options.crosscheck, self.blocks.unit());
        let mut all: Vec<(f64, Fault, String)> = Vec::new();
        let gain = solved.gain;
        let size = Measured { value: gain.value.abs(), u: gain.u };
        if gain.value < 0.0 {
            all.push((f64::INFINITY, Fault::Polarity, "their signs are opposite".to_owned()));
        }
        let off = (size.value - 1.0).abs();
        if off > limits.gain_limit && beyond(size, 1.0, limits.coverage) {
            all.push((
                off / limits.gain_limit,
                Fault::Gain,
                format!("reads {} times the other", text(size, "")),
            ));
        }
        let lag = solved.lag_s;
        if lag.value.abs() > limits.lag_limit_s && beyond(lag, 0.0, limits.coverage) {
            let ms = Measured { value: 1e3 * lag.value, u: 1e3 * lag.u };
            let late = format!("comes {} later than the other", text(ms, " ms"));
            all.push((lag.value.abs() / limits.lag_limit_s, Fault::Delay, late));
        }
        if let Some((fault, evidence)) = self.moved_off(solved.offset) {
            all.push((solved.offset.value.abs() / self.options.offset_limit, fault, evidence));
        }
        if let Some(step) = solved.step {
            let moved = format!("one zero moved by {} against the other after contact", text(step, unit));
            all.push((step.value.abs() / self.options.offset_limit, Fault::BaselineStep, moved));
        }
        all.sort_by(|a, b| b.0.total_cmp(&a.0));
        all.into_iter().map(|(_, fault, evidence)| (fault, evidence)).collect()
    }

    fn moved_off(&self, offset: Measured) -> Option<(Fault, String)> {
        let off = offset.value.abs() > self.options.offset_limit && beyond(offset, 0.0, self.coverage());
        off.then(|| {
            (Fault::Offset, format!("reads {} more than the other", text(offset, self.blocks.unit())))
        })
    }
}

fn beyond(measured: Measured, sound: f64, coverage: f64) -> bool {
    (measured.value - sound).abs() > coverage * measured.u
}

fn unlike(correlation: f64) -> String {
    format!("both do not sense the same: their correlation is {correlation:.2} at the best lag")
}

fn verdict(differs: &[(Fault, String)], also: Option<&str>) -> String {
    let first = match differs {
        [] => "both agree".to_owned(),
        _ => {
            let words: Vec<&str> = differs.iter().map(|(fault, _)| fault.word()).collect();
            format!("both do not agree: {}", words.join(", "))
        }
    };
    also.map_or(first.clone(), |also| format!("{first}; {also}"))
}

#[cfg(test)]
mod tests;
