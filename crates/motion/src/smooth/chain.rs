//! From a measured curve to the frames of a chain, and to its nodes once the changes of the motion are known.

use crate::MotionFailure;
use crate::matrix::Matrix4;
use crate::samples::{self, Sample};
use crate::smooth::SmoothOptions;
use crate::smooth::scale::Scale;
use crate::spline::{Degree, Node};
use std::ops::Range;

/// Fewest marks a curve can be drawn through with something left to judge the noise by.
pub(crate) const FEWEST_MARKS: usize = 8;
/// A kink nearer to a frame than this is put this far after it, steps: the frame itself still belongs to the curve
/// before, and no span becomes too short for the arithmetic.
const CLEAR_STEPS: f64 = 0.05;

/// One frame in steps and in units of the mean stated noise, about a straight line.
#[derive(Debug, Clone, Copy)]
pub(crate) struct Frame {
    pub(crate) at: f64,
    pub(crate) time_s: f64,
    pub(crate) sample: Option<(f64, f64)>,
}

/// Frames from the first to the last mark.
#[derive(Debug, Clone)]
pub(crate) struct Chain {
    pub(crate) frames: Vec<Frame>,
    pub(crate) scale: Scale,
    pub(crate) degree: Degree,
}

/// A change of the motion that takes a time to build up; in steps and in units of the noise.
#[derive(Debug, Clone, Copy, PartialEq)]
pub(crate) struct Bend {
    pub(crate) at: f64,
    pub(crate) rise: f64,
    /// Variances that the state gains where the change begins.
    pub(crate) jump: [f64; 4],
    /// Variances that the state gains where it is complete.
    pub(crate) end_jump: [f64; 4],
    /// Driving noise in between, on top of the usual.
    pub(crate) burst: f64,
}

/// Nodes of some frames with their changes.
#[derive(Debug, Clone)]
pub(crate) struct Laid {
    pub(crate) nodes: Vec<Node>,
    /// Node of each frame.
    pub(crate) of_frame: Vec<usize>,
}

impl Chain {
    /// Checks the curve and takes its frames from the first to the last mark.
    pub(crate) fn of(
        times_s: &[f64],
        samples: &[Sample],
        options: &SmoothOptions,
    ) -> Result<Self, MotionFailure> {
        samples::check(times_s, samples)?;
        let marks: Vec<usize> = (0..samples.len()).filter(|&i| samples[i].is_some()).collect();
        let (Some(&first), Some(&last), true) = (marks.first(), marks.last(), marks.len() >= FEWEST_MARKS)
        else {
            return Err(MotionFailure::TooFewMarks {
                what: "smooth curve",
                found: marks.len(),
                needed: FEWEST_MARKS,
            });
        };
        let scale = Scale::of(&times_s[first..=last], &samples[first..=last], options.degree);
        let frame = |i: usize| {
            let at = scale.steps(times_s[i]);
            Frame { at, time_s: times_s[i], sample: scale.sample(at, samples[i]) }
        };
        Ok(Self { frames: (first..=last).map(frame).collect(), scale, degree: options.degree })
    }

    /// Nodes of a range of frames; `drives` is the driving noise on the way to each frame of the whole chain. A node
    /// between frames is driven as the frame before it.
    pub(crate) fn laid(&self, frames: Range<usize>, bends: &[Bend], drives: &[f64]) -> Laid {
        let mut extras: Vec<(f64, [f64; 4])> = Vec::new();
        for bend in bends {
            extras.push((bend.at, bend.jump));
            if bend.rise > 0.0 {
                extras.push((bend.at + bend.rise, bend.end_jump));
            }
        }
        extras.sort_by(|a, b| a.0.total_cmp(&b.0));
        let first = frames.start;
        let mut laid = Laid { nodes: Vec::with_capacity(frames.len() + extras.len()), of_frame: vec![] };
        for i in frames {
            let frame = &self.frames[i];
            if i > first {
                let before = self.frames[i - 1].at;
                let inside: Vec<(f64, [f64; 4])> =
                    extras.iter().copied().filter(|(at, _)| (before..frame.at).contains(at)).collect();
                put_between(&mut laid.nodes, &inside, frame.at, drives[i - 1]);
            }
            laid.of_frame.push(laid.nodes.len());
            let (drive, jump) = (drives[i], [0.0; 4]);
            laid.nodes.push(Node { at: frame.at, sample: frame.sample, drive, burst: 0.0, jump });
        }
        for i in 1..laid.nodes.len() {
            let middle = 0.5 * (laid.nodes[i - 1].at + laid.nodes[i].at);
            let active = bends.iter().filter(|bend| (bend.at..bend.at + bend.rise).contains(&middle));
            laid.nodes[i].burst = active.map(|bend| bend.burst).sum();
        }
        laid
    }

    pub(crate) fn laid_whole(&self, bends: &[Bend], drives: &[f64]) -> Laid {
        self.laid(0..self.frames.len(), bends, drives)
    }

    /// The last frame at or before an instant in steps.
    pub(crate) fn frame_before(&self, at: f64) -> usize {
        self.frames.partition_point(|frame| frame.at <= at).saturating_sub(1)
    }
}

/// Puts kinks between the last node and a frame, clear of both and of each other; those without room join the one before.
fn put_between(nodes: &mut Vec<Node>, inside: &[(f64, [f64; 4])], frame_at: f64, drive: f64) {
    let Some(before) = nodes.last().map(|node| node.at) else { return };
    #[expect(clippy::cast_precision_loss, reason = "a few kinks between two frames")]
    let clear = CLEAR_STEPS.min((frame_at - before) / (inside.len() as f64 + 1.0));
    let mut least = before + clear;
    for (k, &(at, jump)) in inside.iter().enumerate() {
        #[expect(clippy::cast_precision_loss, reason = "a few kinks between two frames")]
        let most = frame_at - clear * (inside.len() - k) as f64;
        let at = at.max(least).min(most);
        nodes.push(Node { at, sample: None, drive, burst: 0.0, jump });
        least = at + clear;
    }
}

/// State and covariance in the curve's own units.
pub(crate) type State = ([f64; 4], Matrix4);
