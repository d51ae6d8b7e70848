//! Marks placed by a person: checked once, then looked up frame by frame. They win over anything found.

use super::{Mark, TargetStart};
use crate::error::TargetsError;
use filmgauge_quantities::{FrameNumber, MarkState, PixelCov, PixelPoint, TargetId};
use std::collections::BTreeMap;

/// A mark placed by a person.
#[derive(Debug, Clone, PartialEq)]
pub struct HandMark {
    /// Frame in which it was placed.
    pub frame: FrameNumber,
    /// The target.
    pub target: TargetId,
    /// Its centre.
    pub centre: PixelPoint,
    /// Standard uncertainty along x and y, px; above 0.
    pub u_px: [f64; 2],
}

/// All hand marks, by target and frame.
#[derive(Debug, Clone, Default)]
pub(super) struct HandMarks {
    marks: BTreeMap<(usize, FrameNumber), HandMark>,
}

impl HandMarks {
    pub(super) fn of(starts: &[TargetStart], hand: Vec<HandMark>) -> Result<Self, TargetsError> {
        let mut marks = BTreeMap::new();
        for mark in hand {
            let wrong = |why: &str| {
                let (target, frame) = (mark.target.clone(), mark.frame);
                Err(TargetsError::Hand { target, frame, why: why.to_owned() })
            };
            let Some(k) = starts.iter().position(|start| start.id == mark.target) else {
                return wrong("there is no such target");
            };
            if !(mark.centre.x.is_finite() && mark.centre.y.is_finite()) {
                return wrong("its place is not a number");
            }
            if !mark.u_px.iter().all(|u_px| *u_px > 0.0 && u_px.is_finite()) {
                return wrong("its uncertainty is not above 0");
            }
            if marks.contains_key(&(k, mark.frame)) {
                return wrong("it is given twice");
            }
            marks.insert((k, mark.frame), mark);
        }
        Ok(Self { marks })
    }

    /// The mark of target `k` in `frame`.
    pub(super) fn at(&self, k: usize, frame: FrameNumber) -> Option<Mark> {
        self.marks.get(&(k, frame)).map(|mark| Mark {
            centre: mark.centre,
            cov: PixelCov { xx: mark.u_px[0].powi(2), xy: 0.0, yy: mark.u_px[1].powi(2) },
            state: MarkState::Hand,
            trust: 1.0,
            reason: String::new(),
            zncc: None,
            ways_apart_px: None,
        })
    }
}
