//! Time of a camera's frames, as the last measurement has it, and back.

use filmgauge_results::Results;
use std::collections::BTreeMap;

/// Frames and their times in order; between known ones times run evenly.
#[derive(Debug, Clone, Default, PartialEq)]
pub(crate) struct FrameClock {
    known: Vec<(u32, f64)>,
}

impl FrameClock {
    /// Clock of a camera; empty where it has no mark.
    pub(crate) fn of(results: &Results, camera: &str) -> Self {
        let marks = results.marks.iter().filter(|mark| mark.camera == camera);
        let known: BTreeMap<u32, f64> = marks.map(|mark| (mark.frame, mark.time_s)).collect();
        Self { known: known.into_iter().collect() }
    }

    /// Time of a frame, s from time zero.
    pub(crate) fn time_s(&self, frame: u32) -> Option<f64> {
        let at = self.known.partition_point(|(known, _)| *known < frame);
        if let Some((_, time_s)) = self.known.get(at).filter(|(known, _)| *known == frame) {
            return Some(*time_s);
        }
        let [(f0, t0), (f1, t1)] = self.pair(at)?;
        Some(t0 + (t1 - t0) * (f64::from(frame) - f64::from(f0)) / (f64::from(f1) - f64::from(f0)))
    }

    /// The frame nearest to an instant.
    pub(crate) fn frame_at(&self, time_s: f64) -> Option<u32> {
        let at = self.known.partition_point(|(_, known)| *known < time_s);
        let [(f0, t0), (f1, t1)] = self.pair(at)?;
        if t1 <= t0 {
            return Some(f0);
        }
        let frame = f64::from(f0) + (f64::from(f1) - f64::from(f0)) * (time_s - t0) / (t1 - t0);
        Some(frame.round().clamp(0.0, f64::from(u32::MAX)) as u32)
    }

    /// The known frames on both sides of a place in the list, or the nearest two.
    fn pair(&self, at: usize) -> Option<[(u32, f64); 2]> {
        let upper = at.clamp(1, self.known.len().max(2) - 1);
        Some([*self.known.get(upper - 1)?, *self.known.get(upper)?])
    }
}

#[cfg(test)]
mod tests {
    use super::FrameClock;

    #[test]
    fn frames_between_and_beyond_known_ones_have_even_times() {
        let clock = FrameClock { known: vec![(10, 0.0), (12, 0.002), (20, 0.010)] };
        for (frame, time_s) in [(10, 0.0), (11, 0.001), (16, 0.006), (22, 0.012), (8, -0.002)] {
            assert!((clock.time_s(frame).unwrap() - time_s).abs() < 1e-12, "{frame}");
            assert_eq!(clock.frame_at(time_s), Some(frame));
        }
        assert_eq!(FrameClock::default().time_s(3), None);
        assert_eq!(FrameClock { known: vec![(3, 0.1)] }.time_s(4), None);
    }
}
