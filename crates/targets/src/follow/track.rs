//! One target's recent marks, and where they put it next: a straight line through the last three.

use super::attempt::Seen;
use filmgauge_quantities::{FrameNumber, PixelCov, PixelPoint};

/// Marks that the prediction rests on.
const N_KEPT: usize = 3;

/// Frames after which an older mark no longer says anything about the speed.
const OLDEST_FRAMES: f64 = 12.0;

/// The last accepted marks of one target.
#[derive(Debug, Clone, Default)]
pub(super) struct Track {
    /// Frame, place and greatest variance, oldest first.
    marks: Vec<(f64, PixelPoint, f64)>,
}

/// Where a target should be.
#[derive(Debug, Clone, Copy)]
pub(super) struct Prediction {
    pub(super) place: PixelPoint,
    /// Standard uncertainty along each axis, px; `None` while the speed is unknown.
    pub(super) u_px: Option<f64>,
    /// Frames since the last mark.
    pub(super) n_frames: f64,
}

impl Track {
    /// Takes an accepted mark in.
    pub(super) fn push(&mut self, frame: FrameNumber, place: PixelPoint, cov: &PixelCov) {
        let frame = f64::from(frame.0);
        self.marks.push((frame, place, cov.xx.max(cov.yy)));
        let newest = frame;
        self.marks.retain(|mark| newest - mark.0 <= OLDEST_FRAMES);
        if self.marks.len() > N_KEPT {
            self.marks.remove(0);
        }
    }

    /// Forgets what was before and goes on from here.
    pub(super) fn restart(&mut self, frame: FrameNumber, place: PixelPoint, cov: &PixelCov) {
        self.marks.clear();
        self.push(frame, place, cov);
    }

    /// Whether its speed is known.
    pub(super) fn has_speed(&self) -> bool {
        self.marks.len() > 1
    }

    /// The place in `frame`, with an acceleration of standard deviation `acceleration_px` (px per frame²); `None`
    /// before the first mark.
    pub(super) fn predict(&self, frame: FrameNumber, acceleration_px: f64) -> Option<Prediction> {
        let &(last, place, variance) = self.marks.last()?;
        let n_frames = f64::from(frame.0) - last;
        if self.marks.len() < 2 {
            return Some(Prediction { place, u_px: None, n_frames });
        }
        let n = self.marks.len() as f64;
        let mean = |of: &dyn Fn(&(f64, PixelPoint, f64)) -> f64| self.marks.iter().map(of).sum::<f64>() / n;
        let (t, x, y) = (mean(&|m| m.0), mean(&|m| m.1.x), mean(&|m| m.1.y));
        let spread = self.marks.iter().map(|m| (m.0 - t).powi(2)).sum::<f64>();
        let slope = |of: &dyn Fn(&(f64, PixelPoint, f64)) -> f64| {
            self.marks.iter().map(|m| (m.0 - t) * of(m)).sum::<f64>() / spread
        };
        let (vx, vy) = (slope(&|m| m.1.x), slope(&|m| m.1.y));
        let ahead = f64::from(frame.0) - t;
        let straying = 0.5 * acceleration_px * ahead * ahead;
        let u_px = (variance * (1.0 / n + ahead * ahead / spread) + straying * straying).sqrt();
        Some(Prediction {
            place: PixelPoint::new(x + vx * ahead, y + vy * ahead),
            u_px: Some(u_px),
            n_frames,
        })
    }
}

/// Sightings of a lost target that are not confirmed yet.
#[derive(Debug, Clone, Default)]
pub(super) struct Provisional {
    pub(super) seen: Vec<(FrameNumber, Seen)>,
}

impl Provisional {
    /// Where the next sighting should be. After a single one the speed is that since the last mark of `track`.
    pub(super) fn predict(
        &self,
        track: &Track,
        frame: FrameNumber,
        acceleration_px: f64,
    ) -> Option<Prediction> {
        let (newest, seen) = self.seen.last()?;
        let mut own = Track::default();
        for (frame, seen) in &self.seen {
            own.push(*frame, seen.centre, &seen.cov);
        }
        if self.seen.len() > 1 {
            return own.predict(frame, acceleration_px);
        }
        let n_frames = f64::from(frame.0) - f64::from(newest.0);
        let &(last, from, _) = track.marks.last()?;
        let share = n_frames / (f64::from(newest.0) - last).max(1.0);
        let place = seen.centre.moved(share * (seen.centre.x - from.x), share * (seen.centre.y - from.y));
        Some(Prediction { place, u_px: None, n_frames })
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn a_steady_target_is_predicted_exactly_and_doubt_grows_with_the_gap() {
        let mut track = Track::default();
        assert!(track.predict(FrameNumber(0), 0.3).is_none());
        for frame in 0..5_u32 {
            let at = f64::from(frame);
            track.push(
                FrameNumber(frame),
                PixelPoint::new(10.0 + 2.0 * at, 5.0 - at),
                &PixelCov::round(0.01),
            );
        }
        let soon = track.predict(FrameNumber(5), 0.3).unwrap();
        let late = track.predict(FrameNumber(9), 0.3).unwrap();
        assert!(soon.place.distance(PixelPoint::new(20.0, 0.0)) < 1e-9);
        assert!(late.place.distance(PixelPoint::new(28.0, -4.0)) < 1e-9);
        assert!(late.u_px.unwrap() > soon.u_px.unwrap() && (late.n_frames - 5.0).abs() < 1e-12);
    }
}
