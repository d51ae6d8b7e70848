//! The error budget: the chain evaluated again with each doubtful input moved by its standard uncertainty. The
//! differences are that input's contributions (JCGM 100, 5.1.3 note 2), to findings and to motion alike.

use super::evaluate::{CameraMotion, Doubt, Inputs, evaluate};
use super::findings::{Raw, findings};
use filmgauge_geometry::GeometryError;
use filmgauge_motion::Smoothed;
use filmgauge_results::{Contribution, Evidence, Finding, FindingSource};
use rayon::prelude::*;

/// One camera evaluated as stated and with each doubtful input moved.
pub(crate) struct Budgeted<'a> {
    pub(crate) inputs: Inputs<'a>,
    pub(crate) motion: CameraMotion,
    pub(crate) raws: Vec<Raw>,
    pub(crate) moved: Vec<Moved>,
}

/// The chain's answer with one input moved.
pub(crate) struct Moved {
    pub(crate) doubt: Doubt,
    pub(crate) motion: CameraMotion,
    pub(crate) raws: Vec<Raw>,
}

/// Evaluates a camera and its doubts.
pub(crate) fn budgeted<'a>(inputs: &Inputs<'a>) -> Result<Budgeted<'a>, GeometryError> {
    let motion = evaluate(inputs)?;
    let raws = findings(inputs, &motion);
    let doubts = inputs.doubts(&motion.contact);
    // An indexed map: the order, and so every byte, is the same for any number of threads.
    let moved = doubts
        .into_par_iter()
        .map(|doubt| {
            let changed = Inputs { kept: Some(&motion.kept), ..inputs.moved(&doubt) };
            let motion = evaluate(&changed)?;
            let raws = findings(&changed, &motion);
            Ok(Moved { doubt, motion, raws })
        })
        .collect::<Result<Vec<_>, GeometryError>>()?;
    Ok(Budgeted { inputs: inputs.clone(), motion, raws, moved })
}

impl Budgeted<'_> {
    /// All findings of this camera with their full uncertainty.
    pub(crate) fn findings(&self) -> Vec<Finding> {
        self.raws.iter().map(|raw| self.finding(raw)).collect()
    }

    fn finding(&self, raw: &Raw) -> Finding {
        let (value, budget, frames, reason) = match &raw.made {
            Err(reason) => (None, Vec::new(), None, Some(reason.clone())),
            Ok(made) => (
                Some(made.value),
                self.budget(raw, made.value, made.marks_u),
                self.frames(made.interval_s),
                None,
            ),
        };
        let uncertainty = value.map(|_| budget.iter().map(|part| part.u * part.u).sum::<f64>().sqrt());
        Finding {
            name: raw.name.to_owned(),
            subject: raw.subject.clone(),
            source: FindingSource::Film,
            value,
            unit: raw.unit.to_owned(),
            uncertainty,
            method: raw.method.clone(),
            evidence: Evidence {
                camera: Some(self.inputs.camera.id.to_string()),
                frames,
                settings: format!("time zero: {}", self.motion.clock.zero_method),
            },
            budget,
            caution: raw.caution.clone(),
            reason,
        }
    }

    /// Marks first, then each line of doubt; sources that share a line add in quadrature.
    fn budget(&self, raw: &Raw, value: f64, marks_u: f64) -> Vec<Contribution> {
        let mut lines = vec![Contribution { source: "marks".into(), u: marks_u }];
        for moved in &self.moved {
            let Some(Ok(other)) = moved.raws.iter().find(|other| other.is(raw)).map(|other| &other.made)
            else {
                continue;
            };
            let change = (other.value - value).abs();
            let source = moved.doubt.to_string();
            match lines.iter_mut().find(|line| line.source == source) {
                Some(line) => line.u = line.u.hypot(change),
                None => lines.push(Contribution { source, u: change }),
            }
        }
        lines
    }

    /// First and last frame inside an interval of time.
    fn frames(&self, interval_s: [f64; 2]) -> Option<[u32; 2]> {
        let times_s = &self.motion.times_s;
        let nearest = |instant_s: f64| {
            let away = |index: &usize| (times_s[*index] - instant_s).abs();
            (0..times_s.len()).min_by(|a, b| away(a).total_cmp(&away(b)))
        };
        let first = u32::try_from(nearest(interval_s[0])?).ok()?;
        let last = u32::try_from(nearest(interval_s[1])?).ok()?;
        Some([first, last])
    }

    /// Standard uncertainty of `pick` at a frame: its own variance and the change by every doubt.
    pub(crate) fn u_of(
        &self,
        own_variance: f64,
        value: f64,
        pick: impl Fn(&CameraMotion) -> Option<f64>,
    ) -> f64 {
        let doubts =
            self.moved.iter().filter_map(|moved| pick(&moved.motion)).map(|other| (other - value).powi(2));
        (own_variance.max(0.0) + doubts.sum::<f64>()).sqrt()
    }
}

/// A derivative of a curve of another evaluation at `time_s`, from its frame `index`: where time itself was moved, the
/// frame belongs to another instant, and the next derivative carries the value over (first-order propagation).
pub(crate) fn at_same_time(curve: &Smoothed, index: usize, order: usize, time_s: f64) -> Option<f64> {
    let state = curve.states.get(index)?;
    let shift_s = time_s - curve.times_s.get(index)?;
    let slope = state.get(order + 1).copied().unwrap_or(0.0);
    Some(state[order] + slope * shift_s)
}
