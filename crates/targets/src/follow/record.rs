//! All outcomes so far. Looks back and the fit of whole bodies change what is written here, never the hand marks.

use super::aside::Asides;
use super::{Mark, Outcome};
use filmgauge_quantities::{FrameNumber, GreyView, MarkState, PixelPoint};

/// For each start one outcome a frame.
#[derive(Debug, Clone)]
pub(super) struct Record {
    /// Frames given, rising.
    pub(super) frames: Vec<FrameNumber>,
    /// For each start, one outcome for each of them.
    pub(super) outcomes: Vec<Vec<Outcome>>,
    /// Size of the pictures, px.
    size: (f64, f64),
}

impl Record {
    pub(super) fn new(n_targets: usize) -> Self {
        Self { frames: Vec::new(), outcomes: vec![Vec::new(); n_targets], size: (0.0, 0.0) }
    }

    pub(super) fn push(&mut self, frame: FrameNumber, view: &GreyView, outcomes: &[Outcome]) {
        self.size = (view.width() as f64, view.height() as f64);
        self.frames.push(frame);
        for (list, outcome) in self.outcomes.iter_mut().zip(outcomes) {
            list.push(outcome.clone());
        }
    }

    /// Whether a place lies in the pictures.
    pub(super) fn holds(&self, place: PixelPoint) -> bool {
        place.x > -0.5 && place.y > -0.5 && place.x < self.size.0 - 0.5 && place.y < self.size.1 - 0.5
    }

    /// Position of a frame among those given.
    pub(super) fn index_of(&self, frame: FrameNumber) -> Option<usize> {
        self.frames.binary_search(&frame).ok()
    }

    pub(super) fn at(&self, target: usize, frame: FrameNumber) -> Option<&Outcome> {
        self.outcomes.get(target)?.get(self.index_of(frame)?)
    }

    /// Writes a mark over whatever stands there, unless a person placed it.
    pub(super) fn overwrite(&mut self, target: usize, frame: FrameNumber, mark: Mark) {
        if let Some(outcome) = self.at_mut(target, frame) {
            *outcome = Outcome::Mark(mark);
        }
    }

    /// Notes how far the way back passed from a mark.
    pub(super) fn compare(&mut self, target: usize, frame: FrameNumber, apart_px: f64) {
        if let Some(Outcome::Mark(mark)) = self.at_mut(target, frame) {
            mark.ways_apart_px = Some(apart_px);
        }
    }

    /// Lowers the trust of a mark by a factor and says why.
    pub(super) fn doubt(&mut self, target: usize, frame: FrameNumber, factor: f64, why: &str) {
        if let Some(Outcome::Mark(mark)) = self.at_mut(target, frame) {
            lower(mark, factor, why);
        }
    }

    /// Drops what a person does not trust.
    pub(super) fn set_aside(&mut self, asides: &Asides) {
        for (k, outcomes) in self.outcomes.iter_mut().enumerate() {
            for (frame, outcome) in self.frames.iter().zip(outcomes) {
                asides.apply(k, *frame, outcome);
            }
        }
    }

    fn at_mut(&mut self, target: usize, frame: FrameNumber) -> Option<&mut Outcome> {
        let index = self.index_of(frame)?;
        let outcome = self.outcomes.get_mut(target)?.get_mut(index)?;
        let is_hand = outcome.mark().is_some_and(|mark| mark.state == MarkState::Hand);
        (!is_hand).then_some(outcome)
    }
}

/// Lowers the trust of a mark by a factor and says why.
pub(super) fn lower(mark: &mut Mark, factor: f64, why: &str) {
    mark.trust *= factor;
    if !mark.reason.is_empty() {
        mark.reason.push_str("; ");
    }
    mark.reason.push_str(why);
}
