//! Which distortion terms the views bear out, by the Bayesian information criterion.

use super::bundle::State;
use super::options::{LensFitOptions, LensTerms, TermChoice};
use super::outcome::TermTrial;
use super::settled::{Fit, Seen};

/// Losses below this are rounding, px² a corner.
const LEAST_LOSS_PX2: f64 = 1e-14;
/// Choices that count less than this beside the best do not show in any figure.
const LEAST_WEIGHT: f64 = 1e-4;

/// The best choice of terms with its fit, and all that were tried.
pub(super) struct Chosen {
    pub(super) terms: LensTerms,
    pub(super) fit: Fit,
    pub(super) trials: Vec<TermTrial>,
    /// The other choices with their weight beside 1 for the best: exp(-AIC / 2), counted from the best. The choice itself is
    /// stingier: the criterion by which it is made would take a term for 0 that only just does not show, and be sure of it.
    pub(super) others: Vec<(f64, Fit)>,
}

/// Fits each choice that the options allow; `None` where none of them settles.
pub(super) fn chosen(seen: &Seen<'_>, start: &State, options: &LensFitOptions) -> Option<Chosen> {
    if let TermChoice::Fixed(terms) = options.terms {
        let fit = seen.fit(start, terms.free(), options).filter(|fit| fit.settled.is_settled)?;
        return Some(Chosen { terms, fit, trials: Vec::new(), others: Vec::new() });
    }
    let full = LensTerms::new(3, true);
    let first = seen.fit(start, full.free(), options)?;
    // One clip for all, or the losses would not compare; that of the fullest model, whose residuals are nearest to noise.
    let n_coordinates = 2.0 * (seen.grid.len() * seen.views.len()) as f64;
    let mut fits = Vec::new();
    for terms in LensTerms::ALL {
        let start =
            State { lens: without(&first.settled.state, terms), poses: first.settled.state.poses.clone() };
        let problem = seen.problem(terms.free(), first.clip_px, options.most_rounds);
        if let Some(settled) = super::bundle::settle(&problem, &start).filter(|settled| settled.is_settled) {
            fits.push((terms, Fit { settled, clip_px: first.clip_px, free: terms.free() }));
        }
    }
    // -2 ln of the greatest likelihood of normal residuals with one common, unknown variance, less what is common to all.
    let floor = LEAST_LOSS_PX2 * n_coordinates;
    let deviance = |fit: &Fit| n_coordinates * (fit.settled.loss.max(floor) / n_coordinates).ln();
    let bic = |terms: LensTerms, fit: &Fit| deviance(fit) + terms.n_free() as f64 * n_coordinates.ln();
    let least = |of: &dyn Fn(&(LensTerms, Fit)) -> f64| fits.iter().map(of).min_by(f64::total_cmp);
    let best_bic = least(&|(terms, fit)| bic(*terms, fit))?;
    let full_deviance = least(&|(_, fit)| deviance(fit))?;
    let trials = fits.iter().map(|(terms, fit)| {
        let squares = seen.squares(&fit.settled.state);
        TermTrial {
            terms: *terms,
            rms_px: (squares.iter().sum::<f64>() / squares.len().max(1) as f64).sqrt(),
            bic_above_best: bic(*terms, fit) - best_bic,
            chi2_to_full: (deviance(fit) - full_deviance, full.n_free() - terms.n_free()),
        }
    });
    let trials = trials.collect();
    let mut weighed: Vec<(f64, LensTerms, Fit)> =
        fits.into_iter().map(|(terms, fit)| (bic(terms, &fit) - best_bic, terms, fit)).collect();
    weighed.sort_by(|a, b| a.0.total_cmp(&b.0));
    let mut weighed = weighed.into_iter();
    let (_, terms, fit) = weighed.next()?;
    let aic = |terms: LensTerms, fit: &Fit| deviance(fit) + 2.0 * terms.n_free() as f64;
    let best_aic = aic(terms, &fit);
    let others = weighed.map(|(_, terms, fit)| ((-0.5 * (aic(terms, &fit) - best_aic)).exp(), fit));
    let others = others.filter(|(weight, _)| *weight > LEAST_WEIGHT).collect();
    Some(Chosen { terms, fit, trials, others })
}

/// The lens of a state with the terms that are not free set to 0.
fn without(state: &State, terms: LensTerms) -> crate::Lens {
    let mut values = crate::lens_file::terms(&state.lens);
    for (value, is_free) in values.iter_mut().zip(terms.free()) {
        if !is_free {
            *value = 0.0;
        }
    }
    crate::lens_file::from_terms(values)
}
