//! Which control points spoil a fit: swapped names are undone and single points left out, one at a time, and what brings the
//! residuals down is named.

use crate::chi2::chi2_limit;
use std::fmt;

/// A change counts as an explanation when it brings the residuals within their doubt, or down by this factor.
const GREAT_FALL: f64 = 5.0;
/// In either case χ² per spare coordinate must fall by this factor: a mark that is merely a little off explains nothing.
const CLEAR_FALL: f64 = 4.0;
/// Explanations as good as the best, within this factor of the residual, are named with it.
const AS_GOOD: f64 = 2.0;

/// What a fit says of a list of control points.
#[derive(Debug, Clone, Copy, PartialEq)]
pub(crate) struct Misfit {
    /// Sum of the squared residuals over their covariances.
    pub(crate) chi2: f64,
    /// Degrees of freedom.
    pub(crate) dof: usize,
    /// Root mean square of the residuals along one axis, px.
    pub(crate) rms_px: f64,
}

impl Misfit {
    fn per_spare(&self) -> f64 {
        self.chi2 / self.dof as f64
    }
}

/// One explanation of residuals that are too large.
#[derive(Debug, Clone, PartialEq)]
pub enum Suspicion {
    /// Two names look exchanged.
    Swapped {
        /// One point.
        first: String,
        /// The other.
        second: String,
        /// Root mean square residual along one axis as given, px.
        before_px: f64,
        /// The same with the names exchanged, px.
        after_px: f64,
    },
    /// One point looks mistyped, or its mark misplaced.
    Point {
        /// The point.
        id: String,
        /// Root mean square residual along one axis as given, px.
        before_px: f64,
        /// The same without the point, px.
        after_px: f64,
        /// How far its mark lies from where the others put it, px.
        away_px: f64,
        /// What the others say of its place, in words; empty where they say nothing.
        expected: String,
    },
}

/// A residual in words; as some lists stand no view puts all points before the camera.
struct Residual(f64);

impl fmt::Display for Residual {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        if self.0.is_finite() { write!(f, "{:.2}", self.0) } else { f.write_str("no fit at all") }
    }
}

impl fmt::Display for Suspicion {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        match self {
            Self::Swapped { first, second, before_px, after_px } => write!(
                f,
                "{first} and {second} look swapped: exchanging them brings the residual from {} to {after_px:.2} px",
                Residual(*before_px)
            ),
            Self::Point { id, before_px, after_px, away_px, expected } => {
                write!(
                    f,
                    "{id} does not fit the others: leaving it out brings the residual from {} to {after_px:.2} px, and its \
                     mark then lies {away_px:.1} px off",
                    Residual(*before_px)
                )?;
                if expected.is_empty() { Ok(()) } else { write!(f, "; {expected}") }
            }
        }
    }
}

/// What may be changed about a list: the mark that each point takes, and the point that is left out.
#[derive(Debug, Clone, PartialEq)]
pub(crate) struct Change {
    /// For each point the index of the mark that it takes.
    pub(crate) marks: Vec<usize>,
    /// Point without a say.
    pub(crate) left_out: Option<usize>,
}

/// Explanations of `before`, best first; none where it is within its doubt, or where nothing explains it.
///
/// `refit` fits the changed list; `away` says for a point left out how far its mark lies from the fit of the others, and
/// where the others put it.
pub(crate) fn suspicions(
    ids: &[String],
    before: Misfit,
    z: f64,
    refit: impl Fn(&Change) -> Option<Misfit>,
    away: impl Fn(usize) -> Option<(f64, String)>,
) -> Vec<Suspicion> {
    let n = ids.len();
    if before.dof == 0 || before.chi2 <= chi2_limit(before.dof, z) {
        return Vec::new();
    }
    let explains = |after: &Misfit| {
        after.dof > 0
            && (after.chi2 <= chi2_limit(after.dof, z) || after.rms_px * GREAT_FALL <= before.rms_px)
            && after.per_spare() * CLEAR_FALL <= before.per_spare()
    };
    let mut swaps: Vec<(Misfit, usize, usize)> = Vec::new();
    for a in 0..n {
        for b in a + 1..n {
            let mut marks: Vec<usize> = (0..n).collect();
            marks.swap(a, b);
            let after = refit(&Change { marks, left_out: None });
            swaps.extend(after.filter(explains).map(|after| (after, a, b)));
        }
    }
    swaps.sort_by(|x, y| x.0.rms_px.total_cmp(&y.0.rms_px));
    if let Some(best) = swaps.first().map(|swap| swap.0.rms_px) {
        let as_good = swaps.iter().filter(|swap| swap.0.rms_px <= AS_GOOD * best);
        return as_good.take(3).map(|(after, a, b)| swapped(ids, before, *after, *a, *b)).collect();
    }
    let mut single: Vec<(Misfit, usize)> = (0..n)
        .filter_map(|i| Some((refit(&Change { marks: (0..n).collect(), left_out: Some(i) })?, i)))
        .filter(|(after, _)| explains(after))
        .collect();
    single.sort_by(|x, y| x.0.rms_px.total_cmp(&y.0.rms_px));
    let Some(best) = single.first().map(|point| point.0.rms_px) else { return Vec::new() };
    let as_good = single.iter().filter(|point| point.0.rms_px <= AS_GOOD * best).take(3);
    as_good
        .map(|(after, i)| {
            let (away_px, expected) = away(*i).unwrap_or_default();
            let (before_px, after_px) = (before.rms_px, after.rms_px);
            Suspicion::Point { id: ids[*i].clone(), before_px, after_px, away_px, expected }
        })
        .collect()
}

fn swapped(ids: &[String], before: Misfit, after: Misfit, a: usize, b: usize) -> Suspicion {
    let (before_px, after_px) = (before.rms_px, after.rms_px);
    Suspicion::Swapped { first: ids[a].clone(), second: ids[b].clone(), before_px, after_px }
}

/// All explanations in one sentence; `None` where there are none.
pub(crate) fn sentence(suspicions: &[Suspicion]) -> Option<String> {
    let all: Vec<String> = suspicions.iter().map(ToString::to_string).collect();
    (!all.is_empty()).then(|| all.join("; or "))
}
