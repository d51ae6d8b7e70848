//! The places of a gate on whole pixels, and the best of them: by climbing from the place expected, or by looking at all.

use filmgauge_quantities::PixelPoint;

/// Where in the gate the likeness is greatest.
#[derive(Debug, Clone, Copy)]
pub(super) struct Peak {
    pub(super) place: PixelPoint,
    /// Correlation there, -1 to 1.
    pub(super) zncc: f64,
    /// Greatest correlation at least 0.7 radii away; 0 in a gate too small to hold one.
    pub(super) second: f64,
}

/// First and last column and row.
#[derive(Debug, Clone, Copy)]
pub(super) struct Gate {
    pub(super) left: i64,
    pub(super) top: i64,
    pub(super) right: i64,
    pub(super) bottom: i64,
}

impl Gate {
    /// The summit of the hill that `near` lies on.
    pub(super) fn climbed(self, near: (i64, i64), at: impl Fn(i64, i64) -> f64) -> Peak {
        let width = usize::try_from(self.right - self.left + 1).unwrap_or(0);
        let height = usize::try_from(self.bottom - self.top + 1).unwrap_or(0);
        let mut known: Vec<Option<f64>> = vec![None; width * height];
        let mut seen = |x: i64, y: i64| {
            let cell = usize::try_from(y - self.top).ok()? * width + usize::try_from(x - self.left).ok()?;
            let inside = x <= self.right && y <= self.bottom;
            let known = known.get_mut(cell).filter(|_| inside)?;
            Some(*known.get_or_insert_with(|| at(x, y)))
        };
        let mut here = (near.0.clamp(self.left, self.right), near.1.clamp(self.top, self.bottom));
        let mut best = seen(here.0, here.1).unwrap_or(0.0);
        loop {
            let from = here;
            for (dx, dy) in [(-1, -1), (0, -1), (1, -1), (-1, 0), (1, 0), (-1, 1), (0, 1), (1, 1)] {
                let next = (from.0 + dx, from.1 + dy);
                if let Some(zncc) = seen(next.0, next.1)
                    && zncc > best
                {
                    (best, here) = (zncc, next);
                }
            }
            if here == from {
                return Peak {
                    place: PixelPoint::new(here.0 as f64, here.1 as f64),
                    zncc: best,
                    second: 0.0,
                };
            }
        }
    }

    /// The best place of all, and the best at least `apart_px` from it.
    pub(super) fn searched(self, apart_px: f64, at: impl Fn(i64, i64) -> f64) -> Option<Peak> {
        let mut scores: Vec<(f64, f64, f64)> = Vec::new();
        for row in self.top..=self.bottom {
            for column in self.left..=self.right {
                scores.push((column as f64, row as f64, at(column, row)));
            }
        }
        let best = scores.iter().copied().reduce(|a, b| if b.2 > a.2 { b } else { a })?;
        let far = |score: &&(f64, f64, f64)| (score.0 - best.0).hypot(score.1 - best.1) >= apart_px;
        let second = scores.iter().filter(far).map(|score| score.2).fold(0.0, f64::max);
        Some(Peak { place: PixelPoint::new(best.0, best.1), zncc: best.2, second })
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn a_climb_ends_where_a_search_does() {
        let gate = Gate { left: 4, top: 7, right: 13, bottom: 12 };
        for summit in [(4.0, 7.0), (9.2, 10.4), (13.0, 12.0)] {
            let hill = |x: i64, y: i64| 0.9 - 0.01 * (x as f64 - summit.0).hypot(y as f64 - summit.1);
            let (climbed, searched) = (gate.climbed((5, 20), hill), gate.searched(4.0, hill).unwrap());
            assert!(
                climbed.place == searched.place && climbed.zncc >= searched.zncc,
                "{climbed:?} {searched:?}"
            );
            assert!(searched.second > 0.8 && climbed.second == 0.0);
        }
    }
}
