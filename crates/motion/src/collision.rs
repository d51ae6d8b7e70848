//! Closed forms of a straight collision of two bodies, for judging whether measured speeds are plausible.

/// Two bodies that meet on one line: masses in kg, speeds in m/s along the path.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Collision {
    /// Mass of the striking body.
    pub striking_kg: f64,
    /// Mass of the struck body.
    pub struck_kg: f64,
    /// Speed of the striking body at contact.
    pub striking_m_s: f64,
    /// Speed of the struck body at contact.
    pub struck_m_s: f64,
}

/// What follows for a given coefficient of restitution, outer forces left out.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Outcome {
    /// Speed of the striking body after it, m/s.
    pub striking_after_m_s: f64,
    /// Speed of the struck body after it, m/s.
    pub struck_after_m_s: f64,
    /// Change of the striking body's speed, m/s.
    pub striking_change_m_s: f64,
    /// Change of the struck body's speed, m/s.
    pub struck_change_m_s: f64,
    /// Energy turned into deformation and heat, J.
    pub absorbed_j: f64,
}

impl Collision {
    /// Speed that both have when neither gains on the other: (m1 v1 + m2 v2) / (m1 + m2). `None` unless both masses
    /// are greater than 0.
    #[must_use]
    pub fn common_speed_m_s(&self) -> Option<f64> {
        let momentum = self.striking_kg * self.striking_m_s + self.struck_kg * self.struck_m_s;
        self.has_masses().then(|| momentum / (self.striking_kg + self.struck_kg))
    }

    /// Speeds and absorbed energy for a coefficient of restitution from 0 to 1. `None` unless both masses are
    /// greater than 0.
    #[must_use]
    pub fn outcome(&self, restitution: f64) -> Option<Outcome> {
        let common = self.common_speed_m_s()?;
        let closing = self.striking_m_s - self.struck_m_s;
        let total = self.striking_kg + self.struck_kg;
        let striking_after_m_s = common - self.struck_kg * restitution * closing / total;
        let struck_after_m_s = common + self.striking_kg * restitution * closing / total;
        let reduced = self.striking_kg * self.struck_kg / total;
        Some(Outcome {
            striking_after_m_s,
            struck_after_m_s,
            striking_change_m_s: striking_after_m_s - self.striking_m_s,
            struck_change_m_s: struck_after_m_s - self.struck_m_s,
            absorbed_j: 0.5 * reduced * (1.0 - restitution * restitution) * closing * closing,
        })
    }

    /// Coefficient of restitution from the speeds after the collision: (v2' - v1') / (v1 - v2). `None` where the bodies
    /// did not close.
    #[must_use]
    pub fn restitution(&self, striking_after_m_s: f64, struck_after_m_s: f64) -> Option<f64> {
        let closing = self.striking_m_s - self.struck_m_s;
        (closing > 0.0).then(|| (struck_after_m_s - striking_after_m_s) / closing)
    }

    /// Energy turned into deformation and heat for speeds measured after the collision, J, outer forces left out: kinetic
    /// energy before less that after. `None` unless both masses are greater than 0.
    #[must_use]
    pub fn absorbed_j(&self, striking_after_m_s: f64, struck_after_m_s: f64) -> Option<f64> {
        let kinetic = |striking: f64, struck: f64| {
            0.5 * self.striking_kg * striking * striking + 0.5 * self.struck_kg * struck * struck
        };
        let before = kinetic(self.striking_m_s, self.struck_m_s);
        self.has_masses().then(|| before - kinetic(striking_after_m_s, struck_after_m_s))
    }

    fn has_masses(&self) -> bool {
        self.striking_kg > 0.0 && self.struck_kg > 0.0
    }
}

/// Components of a speed change from its size and the principal direction of force, rad clockwise from the front as seen
/// from above: along the vehicle (forward positive) and across it (right positive).
#[must_use]
pub fn change_components(change_m_s: f64, direction_rad: f64) -> [f64; 2] {
    let (sin, cos) = direction_rad.sin_cos();
    [-change_m_s * cos, -change_m_s * sin]
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn closed_pair() {
        // Computed from the stated formulas.
        let pair =
            Collision { striking_kg: 1400.0, struck_kg: 9000.0, striking_m_s: 27.7778, struck_m_s: 0.0 };
        assert!((pair.common_speed_m_s().unwrap() - 3.739_319).abs() < 1e-6);
        let plastic = pair.outcome(0.0).unwrap();
        assert!((plastic.striking_change_m_s + 24.038_481).abs() < 1e-6);
        assert!((plastic.absorbed_j - 467_415.3).abs() < 0.1);
        let springy = pair.outcome(0.1).unwrap();
        assert!((springy.striking_after_m_s - 1.335_471).abs() < 1e-6);
        assert!((springy.struck_after_m_s - 4.113_251).abs() < 1e-6);
        assert!((springy.striking_change_m_s + 26.442_329).abs() < 1e-6);
        assert!((springy.absorbed_j - 462_741.1).abs() < 0.1);
        let back = pair.restitution(springy.striking_after_m_s, springy.struck_after_m_s).unwrap();
        assert!((back - 0.1).abs() < 1e-12);
        assert!(Collision { struck_kg: 0.0, ..pair }.outcome(0.0).is_none());
        assert!(Collision { striking_m_s: 0.0, ..pair }.restitution(0.0, 1.0).is_none());
    }
    #[test]
    fn absorbed_energy_is_that_of_the_closed_form() {
        let pair =
            Collision { striking_kg: 1400.0, struck_kg: 9000.0, striking_m_s: 27.7778, struck_m_s: 0.0 };
        for restitution in [0.0, 0.1, 1.0] {
            let outcome = pair.outcome(restitution).unwrap();
            let absorbed = pair.absorbed_j(outcome.striking_after_m_s, outcome.struck_after_m_s).unwrap();
            assert!((absorbed - outcome.absorbed_j).abs() < 1e-6);
            let momentum = 1400.0 * outcome.striking_change_m_s + 9000.0 * outcome.struck_change_m_s;
            assert!(momentum.abs() < 1e-9);
        }
    }

    /// NHTSA CISS case 1-12-2017-052-03, as published in whole km/h: 42 at 60 deg gives -21 along and -36 across; 48 at 11
    /// o'clock (330 deg) gives -41 and +24. The sizes are rounded themselves, to half a km/h.
    #[test]
    fn published_components_of_a_speed_change() {
        for (change, deg, along, across) in [(42.0, 60.0_f64, -21.0, -36.0), (48.0, 330.0, -41.0, 24.0)] {
            let range =
                [change - 0.5, change + 0.5].map(|change| change_components(change, deg.to_radians()));
            for (axis, printed) in [(0, along), (1, across)] {
                let (low, high) = (range[0][axis].min(range[1][axis]), range[0][axis].max(range[1][axis]));
                assert!(low - 0.5 <= printed && printed <= high + 0.5, "{deg}: {low} {printed} {high}");
            }
        }
        let [along, across] = change_components(42.0, 60.0_f64.to_radians());
        assert!((along + 21.0).abs() < 0.005 && (across + 36.37).abs() < 0.005);
        let [along, across] = change_components(48.0, 330.0_f64.to_radians());
        assert!((along + 41.57).abs() < 0.005 && (across - 24.0).abs() < 0.005);
    }
}
