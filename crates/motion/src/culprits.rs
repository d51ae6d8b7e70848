//! Which single error explains a misfit best: suspects ranked by the evidence of all clues together.
//!
//! Every clue is a number that should be zero, with what a relative error of each suspect would add to it. For each
//! suspect the clues' likelihood is taken with a blunder of unknown size, normal with a spread of five stated
//! uncertainties and one per cent, on top of the stated doubts of all; "chance" stands for no blunder at all. Beforehand
//! chance has half the odds and the suspects share the rest; the clues give each its share of blame (marginal likelihood:
//! Kass and Raftery 1995, J. Am. Statist. Assoc. 90:773).

use crate::{Figure, MotionFailure};

/// Spread of a blunder in stated standard uncertainties, and what is added to it.
const BLUNDER: (f64, f64) = (5.0, 0.01);

/// A quantity that may be wrong.
#[derive(Debug, Clone, PartialEq)]
pub struct Suspect {
    /// Name, such as "scale of car".
    pub name: String,
    /// Stated relative standard uncertainty; 0 or more.
    pub stated_u: f64,
}

/// A number that is zero when nothing is wrong.
#[derive(Debug, Clone, PartialEq)]
pub struct Clue {
    /// What it compares.
    pub name: String,
    /// Value, as a relative difference.
    pub value: f64,
    /// Its standard uncertainty apart from the suspects; greater than 0.
    pub u: f64,
    /// What a relative error of 1 of each suspect adds to it, in the suspects' order.
    pub by: Vec<f64>,
}

/// A suspect and what speaks for it.
#[derive(Debug, Clone, PartialEq)]
pub struct Culprit {
    /// The suspect's place in the list; `None` for chance.
    pub suspect: Option<usize>,
    /// Relative error that explains the clues best; `None` for chance.
    pub size: Option<Figure>,
    /// Probability among all, 0 to 1.
    pub share: f64,
}

/// All suspects and chance, likeliest first.
///
/// # Errors
/// [`MotionFailure::LengthsDiffer`] for a clue that does not speak of every suspect, [`MotionFailure::Setting`] for an
/// uncertainty out of range.
pub fn culprits(suspects: &[Suspect], clues: &[Clue]) -> Result<Vec<Culprit>, MotionFailure> {
    check(suspects, clues)?;
    let spread = |at: usize| BLUNDER.0 * suspects[at].stated_u + BLUNDER.1;
    let stated = covariance(suspects, clues);
    let values: Vec<f64> = clues.iter().map(|clue| clue.value).collect();
    let mut found = Vec::new();
    for suspect in std::iter::once(None).chain((0..suspects.len()).map(Some)) {
        let mut cov = stated.clone();
        if let Some(at) = suspect {
            add_outer(&mut cov, clues, at, spread(at).powi(2));
        }
        let (log, solved) = log_likelihood(cov, &values)
            .ok_or(MotionFailure::Degenerate { what: "closure", why: "the clues repeat each other" })?;
        let size = suspect.map(|at| {
            let prior = spread(at).powi(2);
            let gain: f64 = clues.iter().zip(&solved).map(|(clue, value)| clue.by[at] * value).sum();
            Figure { value: prior * gain, u: posterior_u(&stated, clues, at, prior) }
        });
        let odds = if suspect.is_some() { 1.0 / count(suspects.len()) } else { 1.0 };
        found.push((log + odds.ln(), Culprit { suspect, size, share: 0.0 }));
    }
    let best = found.iter().map(|(log, _)| *log).fold(f64::NEG_INFINITY, f64::max);
    let total: f64 = found.iter().map(|(log, _)| (log - best).exp()).sum();
    let mut list: Vec<Culprit> =
        found.into_iter().map(|(log, it)| Culprit { share: (log - best).exp() / total, ..it }).collect();
    list.sort_by(|a, b| b.share.total_cmp(&a.share));
    Ok(list)
}

#[expect(clippy::cast_precision_loss, reason = "a handful of suspects")]
fn count(n: usize) -> f64 {
    n as f64
}

fn check(suspects: &[Suspect], clues: &[Clue]) -> Result<(), MotionFailure> {
    for clue in clues {
        let (found, expected) = (clue.by.len(), suspects.len());
        if found != expected {
            return Err(MotionFailure::LengthsDiffer { what: "clue", found, expected });
        }
        if !(clue.u.is_finite() && clue.u > 0.0) {
            let rule = "it must be greater than 0";
            return Err(MotionFailure::Setting { setting: "u of a clue", value: clue.u, rule });
        }
    }
    match suspects.iter().find(|suspect| !(suspect.stated_u.is_finite() && suspect.stated_u >= 0.0)) {
        Some(suspect) => {
            let rule = "it must be 0 or more";
            Err(MotionFailure::Setting { setting: "stated_u", value: suspect.stated_u, rule })
        }
        None => Ok(()),
    }
}

/// Covariance of the clues when every suspect is as good as stated.
fn covariance(suspects: &[Suspect], clues: &[Clue]) -> Vec<Vec<f64>> {
    let own = |i: usize, j: usize| if i == j { clues[i].u.powi(2) } else { 0.0 };
    let mut cov: Vec<Vec<f64>> =
        (0..clues.len()).map(|i| (0..clues.len()).map(|j| own(i, j)).collect()).collect();
    for (at, suspect) in suspects.iter().enumerate() {
        add_outer(&mut cov, clues, at, suspect.stated_u.powi(2));
    }
    cov
}

fn add_outer(cov: &mut [Vec<f64>], clues: &[Clue], at: usize, variance: f64) {
    for (row, one) in cov.iter_mut().zip(clues) {
        for (entry, other) in row.iter_mut().zip(clues) {
            *entry += variance * one.by[at] * other.by[at];
        }
    }
}

/// Log of the normal density without its constant, and the inverse covariance times the values.
fn log_likelihood(mut cov: Vec<Vec<f64>>, values: &[f64]) -> Option<(f64, Vec<f64>)> {
    let n = values.len();
    let mut log_det = 0.0;
    for j in 0..n {
        let pivot = cov[j][j] - (0..j).map(|k| cov[j][k].powi(2)).sum::<f64>();
        if pivot.partial_cmp(&0.0) != Some(std::cmp::Ordering::Greater) {
            return None;
        }
        cov[j][j] = pivot.sqrt();
        log_det += pivot.ln();
        for i in j + 1..n {
            let sum = (0..j).map(|k| cov[i][k] * cov[j][k]).sum::<f64>();
            cov[i][j] = (cov[i][j] - sum) / cov[j][j];
        }
    }
    let mut solved = values.to_vec();
    for i in 0..n {
        let sum = (0..i).map(|k| cov[i][k] * solved[k]).sum::<f64>();
        solved[i] = (solved[i] - sum) / cov[i][i];
    }
    for i in (0..n).rev() {
        let sum = (i + 1..n).map(|k| cov[k][i] * solved[k]).sum::<f64>();
        solved[i] = (solved[i] - sum) / cov[i][i];
    }
    let squares: f64 = values.iter().zip(&solved).map(|(value, solved)| value * solved).sum();
    Some((-0.5 * (squares + log_det), solved))
}

/// Standard uncertainty of the size of a blunder with that prior variance: √(1 / (1/prior + aᵀ C⁻¹ a)).
fn posterior_u(stated: &[Vec<f64>], clues: &[Clue], at: usize, prior: f64) -> f64 {
    let by: Vec<f64> = clues.iter().map(|clue| clue.by[at]).collect();
    let information = log_likelihood(stated.to_vec(), &by)
        .map_or(0.0, |(_, solved)| by.iter().zip(solved).map(|(by, solved)| by * solved).sum());
    (1.0 / (1.0 / prior + information)).sqrt()
}

#[cfg(test)]
mod tests {
    use super::*;

    fn suspects() -> Vec<Suspect> {
        ["scale of car", "scale of truck", "ratio of masses"]
            .map(|name| Suspect { name: name.into(), stated_u: 0.002 })
            .to_vec()
    }

    /// Momentum, travel while moving as one, and the truck's travel in another camera.
    fn clues(values: [f64; 3]) -> Vec<Clue> {
        let by = [vec![1.0, -1.0, 1.0], vec![1.0, -1.0, 0.0], vec![0.0, 1.0, 0.0]];
        ["momentum", "joint travel", "truck in another camera"]
            .into_iter()
            .zip(values.into_iter().zip(by))
            .map(|(name, (value, by))| Clue { name: name.into(), value, u: 0.002, by })
            .collect()
    }

    #[test]
    fn a_planted_error_is_named_first_with_its_size() {
        for (values, culprit, size) in
            [([0.03, 0.03, 0.0], 0, 0.03), ([-0.03, -0.03, 0.03], 1, 0.03), ([0.03, 0.0, 0.0], 2, 0.03)]
        {
            let ranked = culprits(&suspects(), &clues(values)).unwrap();
            assert_eq!(ranked[0].suspect, Some(culprit), "{ranked:?}");
            assert!(ranked[0].share > 0.9);
            let found = ranked[0].size.unwrap();
            assert!((found.value - size).abs() < 0.003 && found.u < 0.004, "{found:?}");
            assert!((ranked.iter().map(|it| it.share).sum::<f64>() - 1.0).abs() < 1e-12);
        }
    }

    #[test]
    fn chance_stands_first_where_everything_closes() {
        let ranked = culprits(&suspects(), &clues([0.001, -0.002, 0.001])).unwrap();
        assert_eq!(ranked[0].suspect, None);
        assert!(ranked[0].share > 0.8);
    }

    #[test]
    fn what_momentum_alone_cannot_tell_apart_shares_the_blame() {
        let momentum = clues([0.03, 0.0, 0.0])[..1].to_vec();
        let ranked = culprits(&suspects(), &momentum).unwrap();
        assert!(
            ranked[..3].iter().all(|it| it.suspect.is_some() && (it.share - 1.0 / 3.0).abs() < 0.02),
            "{ranked:?}"
        );
        let mut doubtful = suspects();
        doubtful[2].stated_u = 0.02;
        let ranked = culprits(&doubtful, &momentum).unwrap();
        assert_eq!(ranked[0].suspect, None, "the stated doubt of the masses explains it: {ranked:?}");
        assert!(culprits(&doubtful, &[Clue { by: vec![1.0], ..momentum[0].clone() }]).is_err());
    }
}
