//! Changes of the motion that no one announced: instants that part the marks into two curves far likelier than one.
//!
//! A window to either side of a frame is smoothed by itself at a row of strengths. Two curves that join with a jump of
//! ordinary size, each with the strength that suits it best, are held against one curve with one strength: the ratio
//! of their marginal likelihoods tells whether the motion changed there (Kass and Raftery 1995, J. Am. Statist. Assoc.
//! 90:773, for the reading of such ratios).

use crate::matrix::{
    Matrix4, applied, cholesky, diagonal, lower_inverse, product, sum, transposed, triangularise,
    upper_solved,
};
use crate::smooth::chain::Chain;
use crate::smooth::rises::{Change, Kick, Way, candidates, kept};
use crate::spline::{Degree, Known, Node, known_at_end, likelihood_alone};
use std::ops::Range;

/// Standard uncertainty of a change found between frames, steps.
pub(crate) const FOUND_U: f64 = 2.0;
/// Frames of a window to one side.
const WINDOW: usize = 48;
/// Fewest marks to either side.
const FEWEST_MARKS: usize = 12;
/// Every so many frames is tried at first.
const STRIDE: usize = 4;
/// Strengths tried at degree 7, decimal logarithms per step at unit noise: each twice the bandwidth of the one before.
const LOGS: [f64; 7] = [-16.0, -13.5, -11.0, -8.5, -6.0, -3.5, -1.0];
/// Logarithm of the likelihood ratio from which on a frame is looked at closely.
const WORTH_A_LOOK: f64 = 1.0;
/// Frames looked at closely in one stretch.
const MOST_LOOKS: usize = 10;
/// Logarithm by which two curves must be likelier than one, beyond that of the number of windows, any of which might
/// hold the change.
const LEAST_LOG_RATIO: f64 = 5.0;
/// Frames between two changes.
pub(crate) const APART: f64 = 20.0;

/// A change that was found.
#[derive(Debug, Clone, Copy)]
pub(crate) struct Found {
    pub(crate) frame: usize,
    pub(crate) log_ratio: f64,
    /// Driving noise before and after.
    pub(crate) drives: (f64, f64),
}

/// Frames at which the motion changes, in their order; `known` are the frames before changes that are given.
pub(crate) fn found(
    (chain, kick, noise_scale): (&Chain, &Kick, f64),
    rises: &[f64],
    known: &[usize],
    most: usize,
) -> Vec<Found> {
    let n = chain.frames.len();
    let mut borders = vec![0];
    borders.extend(known.iter().map(|frame| frame + 1));
    borders.push(n);
    #[expect(clippy::cast_precision_loss, reason = "counts of frames")]
    let least = LEAST_LOG_RATIO + (n as f64 / WINDOW as f64).max(1.0).ln();
    let parting = Parting { chain, kick, noise_scale };
    let mut all: Vec<Found> = Vec::new();
    for stretch in borders.windows(2) {
        let stretch = stretch[0]..stretch[1];
        let tried = stretch.clone().step_by(STRIDE).filter_map(|frame| parting.compared(frame, &stretch));
        let mut looks: Vec<Compared> = tried.filter(|tried| tried.log_ratio > WORTH_A_LOOK).collect();
        looks.sort_by(|a, b| b.log_ratio.total_cmp(&a.log_ratio).then(a.frame.cmp(&b.frame)));
        let mut taken: Vec<usize> = Vec::new();
        looks.retain(|look| {
            let own =
                taken.len() < MOST_LOOKS && taken.iter().all(|other| other.abs_diff(look.frame) > 2 * STRIDE);
            if own {
                taken.push(look.frame);
            }
            own
        });
        all.extend(looks.iter().filter_map(|look| parting.looked_at(look, rises)));
    }
    all.retain(|found| found.log_ratio > least);
    all.sort_by(|a, b| b.log_ratio.total_cmp(&a.log_ratio).then(a.frame.cmp(&b.frame)));
    let mut kept: Vec<Found> = Vec::new();
    for found in all {
        #[expect(clippy::cast_precision_loss, reason = "numbers of frames")]
        let clear = |other: usize| other.abs_diff(found.frame) as f64 >= APART;
        if kept.len() < most && kept.iter().map(|kept| kept.frame).chain(known.iter().copied()).all(clear) {
            kept.push(found);
        }
    }
    kept.sort_by_key(|found| found.frame);
    kept
}

/// A frame with its windows and the strengths that suit them.
struct Compared {
    frame: usize,
    frames: Range<usize>,
    log_ratio: f64,
    /// ln of the likelihood of one curve.
    one: f64,
    drives: (f64, f64),
}

struct Parting<'a> {
    chain: &'a Chain,
    kick: &'a Kick,
    noise_scale: f64,
}

/// What the marks of one side tell of the state at the border, and how likely they are.
struct Side {
    state: [f64; 4],
    cov: Matrix4,
    log_likelihood: f64,
}

impl Parting<'_> {
    /// Two curves against one; `None` where one side has too few marks.
    fn compared(&self, frame: usize, stretch: &Range<usize>) -> Option<Compared> {
        let before = frame.saturating_sub(WINDOW).max(stretch.start)..frame;
        let after = frame..(frame + WINDOW).min(stretch.end);
        let marks = |frames: &Range<usize>| {
            self.chain.frames[frames.clone()].iter().filter(|frame| frame.sample.is_some()).count()
        };
        if marks(&before) < FEWEST_MARKS || marks(&after) < FEWEST_MARKS {
            return None;
        }
        let border = self.chain.frames[frame].at;
        let drives = self.drives();
        let side = |frames: &Range<usize>| -> Vec<Option<Side>> {
            drives.iter().map(|&drive| self.side(frames.clone(), border, drive)).collect()
        };
        let (befores, afters) = (side(&before), side(&after));
        let shock = diagonal(self.kick.sharp(1.0));
        let (mut one, mut two) = (f64::NEG_INFINITY, (f64::NEG_INFINITY, 0, 0));
        for (i, before) in befores.iter().enumerate() {
            for (j, after) in afters.iter().enumerate() {
                let (Some(before), Some(after)) = (before, after) else { continue };
                if i == j {
                    one = one.max(self.joined(before, after, &diagonal([0.0; 4])).unwrap_or(one));
                }
                match self.joined(before, after, &shock) {
                    Some(both) if both > two.0 => two = (both, i, j),
                    _ => {}
                }
            }
        }
        let drives = (drives[two.1], drives[two.2]);
        let log_ratio = two.0 - one;
        log_ratio.is_finite().then_some(Compared {
            frame,
            frames: before.start..after.end,
            log_ratio,
            one,
            drives,
        })
    }

    /// The same frame with all ways in which the change may have happened.
    fn looked_at(&self, look: &Compared, rises: &[f64]) -> Option<Found> {
        let change = Change::sharp(self.chain.frames[look.frame].at, FOUND_U, false);
        let ways = candidates(&change, rises);
        let change = Change { ways, ..change };
        let share = f64::from(self.chain.degree.power() + 1) / 8.0;
        let calmer = look.drives.1 / 10.0_f64.powf(share * (LOGS[1] - LOGS[0]));
        let mut best: Option<Found> = None;
        for drives in [look.drives, (look.drives.0, calmer)] {
            let mut each = vec![drives.0; look.frames.end];
            each[look.frame..].fill(drives.1);
            let log = |way: &Way| {
                let bends = [change.bend(self.kick, way)];
                let part = self.chain.laid(look.frames.clone(), &bends, &each);
                let found = likelihood_alone(self.chain.degree, &part.nodes);
                found.map_or(f64::NEG_INFINITY, |found| way.weight + found.log(self.noise_scale))
            };
            let logs: Vec<f64> = change.ways.iter().map(log).collect();
            let log_ratio = kept(&logs).1 - look.one;
            if best.is_none_or(|best| log_ratio > best.log_ratio) {
                best = Some(Found { frame: look.frame, log_ratio, drives });
            }
        }
        best
    }

    /// The strengths tried.
    fn drives(&self) -> [f64; LOGS.len()] {
        let share = f64::from(self.chain.degree.power() + 1) / 8.0;
        LOGS.map(|log| 10.0_f64.powf(log * share))
    }

    /// One side at one strength. That after the border is gone through backward, time reversed.
    fn side(&self, frames: Range<usize>, border: f64, drive: f64) -> Option<Side> {
        let degree = self.chain.degree;
        let forward = self.chain.frames[frames.start].at < border;
        let node = |at: f64, sample| Node { at, sample, drive, burst: 0.0, jump: [0.0; 4] };
        let mut nodes: Vec<Node> = self.chain.frames[frames]
            .iter()
            .map(|frame| node(if forward { frame.at } else { -frame.at }, frame.sample))
            .collect();
        if forward {
            nodes.push(node(border, None));
        } else {
            nodes.reverse();
        }
        let (known, likelihood) = known_at_end(degree, &nodes)?;
        let (mut state, mut cov) = told(degree, &known)?;
        if !forward {
            let sign = [1.0, -1.0, 1.0, -1.0];
            state = std::array::from_fn(|i| sign[i] * state[i]);
            cov = std::array::from_fn(|i| std::array::from_fn(|j| sign[i] * sign[j] * cov[i][j]));
        }
        // The rows are integrated over the border's state once, when both sides join.
        let log_root: f64 = cholesky(&cov)?.iter().enumerate().map(|(i, row)| row[i].ln()).sum();
        Some(Side { state, cov, log_likelihood: likelihood.log(self.noise_scale) + log_root })
    }

    /// ln of the likelihood of both sides with this covariance between them.
    fn joined(&self, before: &Side, after: &Side, between: &Matrix4) -> Option<f64> {
        let apart: [f64; 4] = std::array::from_fn(|i| after.state[i] - before.state[i]);
        let root = cholesky(&sum(&sum(&before.cov, &after.cov), between))?;
        let white = applied(&lower_inverse(&root), &apart);
        let squares = white.iter().map(|x| x * x).sum::<f64>() / (self.noise_scale * self.noise_scale);
        let log_root: f64 = (0..4).map(|i| root[i][i].ln()).sum();
        Some(before.log_likelihood + after.log_likelihood - 0.5 * squares - log_root)
    }
}

/// State and covariance that rows tell; `None` where they do not determine it.
fn told(degree: Degree, known: &Known) -> Option<([f64; 4], Matrix4)> {
    let mut rows = *known;
    triangularise(&mut rows, 4);
    for (k, row) in rows.iter_mut().enumerate().take(4).skip(degree.order()) {
        *row = [0.0; 5];
        row[k] = 1.0;
    }
    let own: Matrix4 = std::array::from_fn(|i| std::array::from_fn(|j| rows[i][j]));
    let right: [f64; 4] = std::array::from_fn(|i| rows[i][4]);
    let inverse = upper_solved(&own, &diagonal([1.0; 4]))?;
    Some((applied(&inverse, &right), product(&inverse, &transposed(&inverse))))
}
