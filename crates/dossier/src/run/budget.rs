//! The error budget: the chain evaluated again with each doubtful input moved by its standard uncertainty. The
//! differences are that input's contributions (JCGM 100, 5.1.3 note 2), to findings and to motion alike.

use super::evaluate::{BodyState, CameraMotion, Doubt, Inputs, evaluate};
use super::findings::{Raw, findings};
use super::systematic::{Shown, Systematic};
use filmgauge_geometry::GeometryError;
use filmgauge_quantities::BodyId;
use filmgauge_results::{Contribution, Evidence, Finding, FindingSource};
use rayon::prelude::*;

/// Frames of a film above which moved inputs are evaluated one by one.
const LONG_FILM: usize = 4000;

/// One camera evaluated as stated and with each doubtful input moved.
pub(crate) struct Budgeted<'a> {
    pub(crate) inputs: Inputs<'a>,
    pub(crate) motion: CameraMotion,
    pub(crate) raws: Vec<Raw>,
    moved: Vec<Moved>,
    systematic: Systematic,
}

/// What one moved input changes in the chain's answer. Its curves are summed up and dropped: they would make memory grow
/// with the number of inputs times the length of the film.
struct Moved {
    doubt: Doubt,
    raws: Vec<Raw>,
    /// The same with the input moved the other way, where the answer bends with it.
    back: Option<Vec<Raw>>,
    /// Speed change of each body along the path, m/s.
    speed_changes: Vec<(BodyId, f64)>,
}

/// Evaluates a camera and its doubts.
pub(crate) fn budgeted<'a>(inputs: &Inputs<'a>) -> Result<Budgeted<'a>, GeometryError> {
    let motion = evaluate(inputs)?;
    let raws = findings(inputs, &motion);
    let doubts = inputs.doubts(&motion.contact);
    let (mut moved, mut systematic) = (Vec::new(), Systematic::default());
    // Curves of an evaluation weigh about as much as the marks; a long film has one at a time beside the stated one.
    let at_once = if inputs.film.n_frames > LONG_FILM { 1 } else { doubts.len().max(1) };
    for few in doubts.chunks(at_once) {
        // An indexed map: the order, and so every byte, is the same for any number of threads.
        let answers = few
            .par_iter()
            .map(|doubt| answer(inputs, &motion, doubt))
            .collect::<Result<Vec<_>, GeometryError>>()?;
        for (answer, changes) in answers {
            moved.push(answer);
            systematic.add(changes);
        }
    }
    Ok(Budgeted { inputs: inputs.clone(), motion, raws, moved, systematic })
}

/// The chain's answer with one input moved, and what it changes in every curve.
fn answer(
    inputs: &Inputs<'_>,
    stated: &CameraMotion,
    doubt: &Doubt,
) -> Result<(Moved, Systematic), GeometryError> {
    let changed = Inputs { kept: Some(&stated.kept), ..inputs.moved(doubt, 1.0) };
    let other = evaluate(&changed)?;
    let back = doubt.is_an_instant().then(|| {
        let changed = Inputs { kept: Some(&stated.kept), ..inputs.moved(doubt, -1.0) };
        evaluate(&changed).map(|other| findings(&changed, &other))
    });
    let moved = Moved {
        doubt: doubt.clone(),
        back: back.transpose()?,
        raws: findings(&changed, &other),
        speed_changes: other.bodies.iter().filter_map(speed_change).collect(),
    };
    Ok((moved, Systematic::of(stated, &other)))
}

impl Moved {
    /// What it changes in one finding; half the difference of both ways where both were gone (JCGM 100, 5.1.3 note 2).
    fn change(&self, raw: &Raw, stated: f64) -> Option<f64> {
        let value = |raws: &[Raw]| {
            let other = raws.iter().find(|other| other.is(raw))?;
            Some(other.made.as_ref().ok()?.value)
        };
        let there = value(&self.raws)?;
        let back = self.back.as_deref().and_then(value);
        Some(back.map_or(there - stated, |back| 0.5 * (there - back)).abs())
    }
}

/// Greatest less least speed of a body along the path.
fn speed_change(body: &BodyState) -> Option<(BodyId, f64)> {
    let speeds = body.motion.x.states.iter().map(|state| state[1]);
    let (least, most) = speeds
        .fold((f64::INFINITY, f64::NEG_INFINITY), |(least, most), speed| (least.min(speed), most.max(speed)));
    (most > least).then(|| (body.id.clone(), most - least))
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
            absent: raw.absent && value.is_none(),
        }
    }

    /// Marks first, then each line of doubt; sources that share a line add in quadrature.
    fn budget(&self, raw: &Raw, value: f64, marks_u: f64) -> Vec<Contribution> {
        let mut lines = vec![Contribution { source: "marks".into(), u: marks_u }];
        for moved in &self.moved {
            let Some(change) = moved.change(raw, value) else { continue };
            let source = moved.doubt.to_string();
            match lines.iter_mut().find(|line| line.source == source) {
                Some(line) => line.u = line.u.hypot(change),
                None => lines.push(Contribution { source, u: change }),
            }
        }
        lines.extend(raw.also.iter().map(|(source, u)| Contribution { source: source.clone(), u: *u }));
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

    /// Standard uncertainties of a shown curve, frame by frame, from its own variances and those by every doubt.
    pub(crate) fn u_of(
        &self,
        subject: &str,
        shown: Shown,
        own_variance: impl Fn(usize) -> f64,
        n_frames: usize,
    ) -> Vec<f64> {
        let systematic = self.systematic.variances(subject, shown);
        let total =
            |index: usize| own_variance(index).max(0.0) + systematic.get(index).copied().unwrap_or(0.0);
        (0..n_frames).map(|index| total(index).sqrt()).collect()
    }

    /// Relative doubt of all lengths and times of a body at once: how far every moved input stretches its speed change,
    /// which a sensor's gain would mimic.
    pub(crate) fn travel_relative_u(&self, body: &BodyState) -> f64 {
        self.stretch(body, |_| true)
    }

    /// The same by all inputs but the film speed, and by the film speed: it stretches an acceleration twice as much.
    pub(crate) fn scale_and_speed_u(&self, body: &BodyState) -> [f64; 2] {
        [
            self.stretch(body, |doubt| *doubt != Doubt::FilmSpeed),
            self.stretch(body, |doubt| *doubt == Doubt::FilmSpeed),
        ]
    }

    fn stretch(&self, body: &BodyState, counts: impl Fn(&Doubt) -> bool) -> f64 {
        let Some((_, stated)) = speed_change(body) else { return 0.0 };
        let of_body = |moved: &Moved| {
            let (_, other) = moved.speed_changes.iter().find(|(id, _)| *id == body.id)?;
            Some((other / stated - 1.0).powi(2))
        };
        self.moved.iter().filter(|moved| counts(&moved.doubt)).filter_map(of_body).sum::<f64>().sqrt()
    }
}

#[cfg(test)]
mod tests;
