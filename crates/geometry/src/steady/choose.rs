//! Which model the pictures of a film obey: the simplest that the fixed marks do not speak against.

use super::fit::{Said, pairs, said};
use super::{FixedMark, SteadyModel, SteadyOptions};

/// How much one model explains.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct SteadyEvidence {
    /// The model.
    pub model: SteadyModel,
    /// Residual sum of squares over the marks' covariances, all frames together.
    pub chi2: f64,
    /// Bayesian information criterion (Schwarz 1978, Annals of Statistics 6:461): χ² plus, for each number of each frame,
    /// the logarithm of the coordinates read there. A mark that moved on its own costs two numbers. Least is best.
    pub bic: f64,
    /// Frames that entered.
    pub n_frames: usize,
}

/// Compares models over the frames that all of them can be fitted to with marks to spare; the evidence is in the order
/// of `models`, empty where no frame allows it.
///
/// Where even the best model misfits by more than the stated covariances, all χ² are scaled by its misfit, so that
/// understated covariances do not favour the richest model.
#[must_use]
#[expect(clippy::cast_precision_loss, reason = "counts of marks and frames")]
pub fn steady_evidence(
    reference: &[Option<FixedMark>],
    frames: &[Vec<Option<FixedMark>>],
    models: &[SteadyModel],
    options: &SteadyOptions,
) -> Vec<SteadyEvidence> {
    let most = models.iter().map(SteadyModel::n_values).max().unwrap_or(0);
    let mut sums = vec![(0.0, 0.0, 0_usize); models.len()];
    let mut n_frames = 0;
    for now in frames {
        let Ok(pairs) = pairs(reference, now, options) else { continue };
        if 2 * pairs.len() <= most {
            continue;
        }
        let price = (2.0 * pairs.len() as f64).ln();
        let of =
            |model: &SteadyModel| said(&pairs, &SteadyOptions { model: *model, ..options.clone() }, price);
        let Some(all) = models.iter().map(of).collect::<Option<Vec<Said>>>() else { continue };
        n_frames += 1;
        for (said, sum) in all.iter().zip(&mut sums) {
            sum.0 += said.chi2;
            sum.1 += said.n_values as f64 * price;
            sum.2 += said.spare;
        }
    }
    if n_frames == 0 {
        return Vec::new();
    }
    let misfit = |sum: &(f64, f64, usize)| sum.0 / sum.2.max(1) as f64;
    let scale = sums.iter().map(misfit).fold(f64::INFINITY, f64::min).max(1.0);
    let evidence = |(model, sum): (&SteadyModel, &(f64, f64, usize))| SteadyEvidence {
        model: *model,
        chi2: sum.0,
        bic: sum.0 / scale + sum.1,
        n_frames,
    };
    models.iter().zip(&sums).map(evidence).collect()
}

/// The model with the best evidence; `usual` where there is none.
#[must_use]
pub fn steady_model(evidence: &[SteadyEvidence], usual: SteadyModel) -> SteadyModel {
    let best = evidence.iter().min_by(|a, b| a.bic.total_cmp(&b.bic));
    best.map_or(usual, |best| best.model)
}
