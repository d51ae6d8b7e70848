//! Signs of axes and angles by axis system, always with words: a bare sign is read wrongly sooner or later.
//!
//! Axes of SAE J211-1 and J1733 (x forward, y right, z down) and of ISO 8855 (x forward, y left, z up); the signs of the
//! angles follow from the right-hand rule.

/// An axis system of a vehicle.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum AxisSystem {
    /// x forward, y right, z down: SAE J211-1, J1733, J670 with z down.
    ZDown,
    /// x forward, y left, z up: ISO 8855, J670 with z up.
    ZUp,
}

/// A turn of a vehicle about one of its axes.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum Turn {
    /// About x.
    Roll,
    /// About y.
    Pitch,
    /// About z.
    Yaw,
}

impl AxisSystem {
    /// A vector of this system in the other one: y and z change sign.
    #[must_use]
    pub fn other(self, [x, y, z]: [f64; 3]) -> [f64; 3] {
        [x, -y, -z]
    }

    /// What a positive angle means, such as "nose up".
    #[must_use]
    pub fn positive_word(self, turn: Turn) -> &'static str {
        match (self, turn) {
            (_, Turn::Roll) => "right side down",
            (Self::ZDown, Turn::Pitch) => "nose up",
            (Self::ZUp, Turn::Pitch) => "nose down",
            (Self::ZDown, Turn::Yaw) => "nose right",
            (Self::ZUp, Turn::Yaw) => "nose left",
        }
    }

    /// This system's angle for one that is measured as roll right side down, pitch nose up, yaw nose left.
    #[must_use]
    pub fn angle(self, turn: Turn, measured: f64) -> f64 {
        match (self, turn) {
            (_, Turn::Roll) | (Self::ZDown, Turn::Pitch) | (Self::ZUp, Turn::Yaw) => measured,
            (Self::ZUp, Turn::Pitch) | (Self::ZDown, Turn::Yaw) => -measured,
        }
    }
}

/// The word beside a pitch, nose up positive.
#[must_use]
pub fn pitch_word(nose_up: f64) -> &'static str {
    if nose_up < 0.0 { "nose down" } else { "nose up" }
}

#[cfg(test)]
mod tests {
    use super::*;

    type Vector = [f64; 3];

    /// a x b.
    fn cross(a: Vector, b: Vector) -> Vector {
        [a[1] * b[2] - a[2] * b[1], a[2] * b[0] - a[0] * b[2], a[0] * b[1] - a[1] * b[0]]
    }

    /// Right-hand rule: a small positive turn about an axis moves x by axis x x; the words say where the nose must go.
    #[test]
    fn angles_follow_the_right_hand_rule() {
        for (system, up, left) in [
            (AxisSystem::ZDown, [0.0, 0.0, -1.0], [0.0, -1.0, 0.0]),
            (AxisSystem::ZUp, [0.0, 0.0, 1.0], [0.0, 1.0, 0.0]),
        ] {
            let nose = [1.0, 0.0, 0.0];
            let along = |moved: Vector, way: Vector| moved.iter().zip(way).map(|(a, b)| a * b).sum::<f64>();
            let pitched = along(cross([0.0, 1.0, 0.0], nose), up);
            assert_eq!(
                system.positive_word(Turn::Pitch),
                if pitched > 0.0 { "nose up" } else { "nose down" }
            );
            assert!((system.angle(Turn::Pitch, 3.0) - 3.0 * pitched).abs() < 1e-15);
            let yawed = along(cross([0.0, 0.0, 1.0], nose), left);
            assert_eq!(system.positive_word(Turn::Yaw), if yawed > 0.0 { "nose left" } else { "nose right" });
            assert!((system.angle(Turn::Yaw, 3.0) - 3.0 * yawed).abs() < 1e-15);
            // The left side rises, so the right side goes down.
            let rolled = along(cross([1.0, 0.0, 0.0], left), up);
            assert!(rolled > 0.0 && system.positive_word(Turn::Roll) == "right side down");
        }
    }

    /// Polarity by one hand motion: a blow from the left pushes the vehicle to the right; an accelerometer at rest feels the
    /// ground's push upwards. From memory of SAE J211-1 and J1733, and consistent with the axes.
    #[test]
    fn hand_motions() {
        let to_the_right = [0.0, 1.0, 0.0];
        assert!(AxisSystem::ZDown.other(to_the_right)[1] < 0.0);
        let at_rest_z_up = [0.0, 0.0, 1.0];
        assert!(AxisSystem::ZUp.other(at_rest_z_up)[2] < 0.0);
        assert!(AxisSystem::ZUp.other([-20.0, 0.0, 0.0])[0] < 0.0, "braking is negative in both");
        assert_eq!((pitch_word(-0.1), pitch_word(0.1)), ("nose down", "nose up"));
    }
}
