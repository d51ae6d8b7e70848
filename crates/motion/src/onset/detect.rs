//! The frame at which marks leave the straight run-up for good.

use crate::MotionFailure;
use crate::least_squares::fitted;
use crate::onset::OnsetOptions;

/// Fewest marks of run-up before a departure can be judged.
const FEWEST_BEFORE: usize = 8;

/// Where the marks leave the run-up.
pub(crate) struct Departure {
    pub(crate) time_s: f64,
    /// Time to the next mark, s.
    pub(crate) spacing_s: f64,
    /// Scatter of the run-up's marks over that stated.
    pub(crate) noise_scale: f64,
}

/// Extends the run-up mark by mark; the first mark of a row that lies off its continuation, all to one side, departs.
pub(crate) fn departure(
    marks: &[(f64, f64, f64)],
    options: &OnsetOptions,
) -> Result<Departure, MotionFailure> {
    let needed = FEWEST_BEFORE + options.departure_marks;
    if marks.len() < needed {
        return Err(MotionFailure::TooFewMarks { what: "onset", found: marks.len(), needed });
    }
    for end in FEWEST_BEFORE..=marks.len() - options.departure_marks {
        let (before, after) = (&marks[..end], &marks[end..end + options.departure_marks]);
        let Some(line) = Line::through(before) else { continue };
        let first = line.deviation(after[0]);
        let gone = |mark: &(f64, f64, f64)| line.deviation(*mark) * first.signum() > options.departure_sd;
        if after.iter().all(gone) {
            let spacing_s = after[1].0 - after[0].0;
            return Ok(Departure { time_s: after[0].0, spacing_s, noise_scale: line.noise_scale });
        }
    }
    Err(MotionFailure::NoOnset)
}

struct Line {
    origin_s: f64,
    place: [f64; 2],
    cov: [[f64; 2]; 2],
    noise_scale: f64,
}

impl Line {
    fn through(marks: &[(f64, f64, f64)]) -> Option<Self> {
        let origin_s = marks.last()?.0;
        let fit =
            fitted::<2, 3>(marks.iter().map(|&(t, value, variance)| ([1.0, t - origin_s], value, variance)))?;
        #[expect(clippy::cast_precision_loss, reason = "counts of marks")]
        let scale = (fit.chi2 / fit.dof().max(1) as f64).sqrt();
        // With few marks the scatter seen may be far too small by chance.
        Some(Self { origin_s, place: fit.value, cov: fit.cov, noise_scale: scale.max(1.0) })
    }

    /// Distance of a mark from the line's continuation, in standard deviations of both.
    fn deviation(&self, (time, value, variance): (f64, f64, f64)) -> f64 {
        let t = time - self.origin_s;
        let line_var = self.cov[0][0] + 2.0 * t * self.cov[0][1] + t * t * self.cov[1][1];
        (value - self.place[0] - self.place[1] * t) / ((line_var + variance).sqrt() * self.noise_scale)
    }
}
