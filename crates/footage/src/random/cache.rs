//! Decoded frames kept around the latest one asked for, within a cap on bytes.

use crate::Frame;
use filmgauge_quantities::GreyPixels;
use std::collections::BTreeMap;
use std::sync::Arc;

/// Frames by number. When there is no room, the one farthest from the cursor goes first.
#[derive(Debug)]
pub(crate) struct FrameCache {
    frames: BTreeMap<u32, Kept>,
    bytes: usize,
    most_bytes: usize,
    cursor: u32,
}

#[derive(Debug)]
struct Kept {
    frame: Arc<Frame>,
    /// The picture's hash was compared with the index.
    is_proved: bool,
}

impl FrameCache {
    pub(crate) fn new(most_bytes: usize) -> Self {
        Self { frames: BTreeMap::new(), bytes: 0, most_bytes, cursor: 0 }
    }

    /// Moves the cursor to the frame that is asked for now.
    pub(crate) fn look_at(&mut self, number: u32) {
        self.cursor = number;
    }

    /// The frame, and whether it was proved.
    pub(crate) fn get(&self, number: u32) -> Option<(Arc<Frame>, bool)> {
        self.frames.get(&number).map(|kept| (Arc::clone(&kept.frame), kept.is_proved))
    }

    pub(crate) fn keep(&mut self, frame: Arc<Frame>, is_proved: bool) {
        let number = frame.number.0;
        self.forget(number);
        self.bytes += bytes_of(&frame);
        self.frames.insert(number, Kept { frame, is_proved });
        while self.bytes > self.most_bytes {
            let ends = [self.frames.keys().next(), self.frames.keys().next_back()];
            let farthest = ends.into_iter().flatten().max_by_key(|number| number.abs_diff(self.cursor));
            let Some(&farthest) = farthest else { return };
            self.forget(farthest);
        }
    }

    pub(crate) fn forget(&mut self, number: u32) {
        if let Some(kept) = self.frames.remove(&number) {
            self.bytes -= bytes_of(&kept.frame);
        }
    }

    /// Bytes of the pictures kept.
    pub(crate) fn bytes(&self) -> usize {
        self.bytes
    }
}

fn bytes_of(frame: &Frame) -> usize {
    match frame.picture.view().pixels() {
        GreyPixels::Eight(samples) => samples.len(),
        GreyPixels::Sixteen(samples) => 2 * samples.len(),
    }
}

#[cfg(test)]
mod tests {
    use super::*;
    use filmgauge_quantities::{FrameNumber, GreyImage};

    fn frame(number: u32) -> Arc<Frame> {
        let picture = GreyImage::from_u8(10, 10, vec![0; 100]).unwrap();
        let number = FrameNumber(number);
        Arc::new(Frame { number, stamp: None, key: true, damaged: false, picture, place: None })
    }

    #[test]
    fn frames_far_from_the_cursor_go_first() {
        let mut cache = FrameCache::new(450);
        cache.look_at(10);
        (0..=10).for_each(|number| cache.keep(frame(number), true));
        let kept = |cache: &FrameCache| (0..20).filter(|&n| cache.get(n).is_some()).collect::<Vec<_>>();
        assert_eq!(kept(&cache), [7, 8, 9, 10]);
        cache.look_at(7);
        cache.keep(frame(6), false);
        assert_eq!(kept(&cache), [6, 7, 8, 9]);
        assert_eq!(cache.bytes(), 400);
    }
}
