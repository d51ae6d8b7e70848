//! Marks against the truth.

use super::scenario::{RADIUS_PX, Scenario};
use filmgauge_quantities::MarkState;
use filmgauge_targets::{Mark, Outcome};

/// 95 % point of χ² with 2 degrees of freedom.
const CHI2_95: f64 = 5.991_464_547;

/// A mark whose squared distance is above this is outside its ellipse for good: once in three million by chance.
const FAR: f64 = 30.0;

/// Counts over films.
#[derive(Debug, Clone, Copy, Default, PartialEq)]
pub struct Score {
    /// Frames in which a target is clear, and those of them that have a mark.
    pub clear: usize,
    /// Clear frames with a found mark.
    pub made: usize,
    /// Found marks, clear or not, and how many of them hold the truth in the 95 % ellipse.
    pub found: usize,
    /// Those whose ellipse holds the truth.
    pub inside: usize,
    /// Sum of squared errors of found marks along one axis, px².
    pub squares_px2: f64,
    /// Marks more than 1 px off.
    pub wrong: usize,
    /// The same with a trust above 0.5.
    pub wrong_trusted: usize,
    /// Marks far outside their ellipse with a trust above 0.5.
    pub outside_trusted: usize,
    /// Marks that lie on another target.
    pub swaps: usize,
    /// Frames in which a target is hidden wholly, and has an inferred mark.
    pub hidden: usize,
    /// Inferred marks.
    pub inferred: usize,
    /// Inferred marks in frames in which the target is hidden wholly.
    pub inferred_hidden: usize,
    /// Inferred marks whose ellipse holds the truth.
    pub inferred_inside: usize,
    /// Sum of squared errors of inferred marks along one axis, px².
    pub inferred_squares_px2: f64,
}

impl Score {
    /// Scores the outcomes of a film.
    #[must_use]
    pub fn of(scenario: &Scenario, outcomes: &[Vec<Outcome>]) -> Self {
        let mut score = Self::default();
        for (k, track) in outcomes.iter().enumerate() {
            for (frame, outcome) in (0..scenario.n_frames).zip(track) {
                let is_clear = scenario.is_clear(k, frame);
                let is_found = outcome.measured().is_some();
                score.clear += usize::from(is_clear == Some(true));
                score.made += usize::from(is_clear == Some(true) && is_found);
                score.hidden += usize::from(is_clear == Some(false));
                if let Some(mark) = outcome.mark() {
                    score.add(scenario, k, frame, mark);
                    let is_hidden = is_clear == Some(false) && !is_found;
                    score.inferred_hidden += usize::from(is_hidden);
                }
            }
        }
        score
    }

    fn add(&mut self, scenario: &Scenario, k: usize, frame: u32, mark: &Mark) {
        let truth = scenario.place(k, frame);
        let (dx, dy) = (mark.centre.x - truth.x, mark.centre.y - truth.y);
        let d2 = mark.cov.mahalanobis2(dx, dy).unwrap_or(f64::INFINITY);
        let square = (dx * dx + dy * dy) / 2.0;
        let is_trusted = mark.trust > 0.5;
        self.wrong += usize::from(dx.hypot(dy) > 1.0);
        self.wrong_trusted += usize::from(dx.hypot(dy) > 1.0 && is_trusted);
        self.outside_trusted += usize::from(d2 > FAR && is_trusted);
        let on_other = (0..scenario.targets.len())
            .any(|j| j != k && scenario.place(j, frame).distance(mark.centre) < 0.5 * RADIUS_PX);
        self.swaps += usize::from(on_other && dx.hypot(dy) > RADIUS_PX);
        if mark.state == MarkState::Inferred {
            self.inferred += 1;
            self.inferred_inside += usize::from(d2 < CHI2_95);
            self.inferred_squares_px2 += square;
        } else {
            self.found += 1;
            self.inside += usize::from(d2 < CHI2_95);
            self.squares_px2 += square;
        }
    }

    /// Both together.
    #[must_use]
    pub fn with(mut self, other: &Self) -> Self {
        self.clear += other.clear;
        self.made += other.made;
        self.found += other.found;
        self.inside += other.inside;
        self.squares_px2 += other.squares_px2;
        self.wrong += other.wrong;
        self.wrong_trusted += other.wrong_trusted;
        self.outside_trusted += other.outside_trusted;
        self.swaps += other.swaps;
        self.hidden += other.hidden;
        self.inferred += other.inferred;
        self.inferred_hidden += other.inferred_hidden;
        self.inferred_inside += other.inferred_inside;
        self.inferred_squares_px2 += other.inferred_squares_px2;
        self
    }

    /// Cells of a table's row.
    pub(super) fn cells(&self) -> Vec<String> {
        let share = |part: usize, of: usize| {
            if of == 0 {
                "–".to_owned()
            } else {
                format!("{:.1} % of {of}", 100.0 * part as f64 / of as f64)
            }
        };
        let rms = |squares: f64, n: usize| {
            if n == 0 { "–".to_owned() } else { format!("{:.4}", (squares / n as f64).sqrt()) }
        };
        vec![
            share(self.made, self.clear),
            rms(self.squares_px2, self.found),
            share(self.inside, self.found),
            self.wrong.to_string(),
            self.wrong_trusted.to_string(),
            self.outside_trusted.to_string(),
            self.swaps.to_string(),
            share(self.inferred_hidden, self.hidden),
            rms(self.inferred_squares_px2, self.inferred),
            share(self.inferred_inside, self.inferred),
        ]
    }
}
