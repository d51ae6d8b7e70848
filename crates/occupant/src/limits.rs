//! Limits of published rule sets, for orientation only; the edition in force decides.

use filmgauge_quantities::{Acceleration, Speed};

/// Limits of one rule set along the path. For orientation: check the edition in force.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct OccupantLimits {
    /// Rule set and edition.
    pub edition: &'static str,
    /// What it is for.
    pub applies_to: &'static str,
    /// Occupant impact velocity that should not be exceeded.
    pub impact_velocity_preferred: Speed,
    /// Occupant impact velocity that must not be exceeded.
    pub impact_velocity_maximum: Speed,
    /// Ridedown deceleration that should not be exceeded.
    pub ridedown_preferred: Acceleration,
    /// Ridedown deceleration that must not be exceeded.
    pub ridedown_maximum: Acceleration,
    /// To be shown wherever a limit is shown.
    pub caution: &'static str,
}

const CAUTION: &str = "for orientation; check the edition in force";

/// The rule sets known here, newest first.
#[must_use]
pub fn occupant_limits() -> Vec<OccupantLimits> {
    let limits = |edition, applies_to, [preferred, maximum]: [Speed; 2], ridedown_maximum_g| OccupantLimits {
        edition,
        applies_to,
        impact_velocity_preferred: preferred,
        impact_velocity_maximum: maximum,
        ridedown_preferred: Acceleration::from_g(15.0),
        ridedown_maximum: Acceleration::from_g(ridedown_maximum_g),
        caution: CAUTION,
    };
    let (ft_s, m_s) = (Speed::from_ft_s, Speed::from_m_s);
    vec![
        limits("MASH 2016", "longitudinal and lateral", [ft_s(30.0), ft_s(40.0)], 20.49),
        limits("MASH 2016", "supports and work-zone devices", [ft_s(10.0), ft_s(16.0)], 20.49),
        limits("NCHRP 350", "longitudinal and lateral", [m_s(9.0), m_s(12.0)], 20.0),
        limits("NCHRP 350", "supports", [m_s(3.0), m_s(5.0)], 20.0),
        limits("NCHRP 230", "longitudinal", [ft_s(30.0), ft_s(40.0)], 20.0),
        limits("NCHRP 230", "lateral", [ft_s(20.0), ft_s(30.0)], 20.0),
    ]
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn every_limit_goes_with_its_edition_and_caution() {
        for limits in occupant_limits() {
            assert!(limits.impact_velocity_preferred.as_m_s() < limits.impact_velocity_maximum.as_m_s());
            assert!(limits.ridedown_preferred.as_g() < limits.ridedown_maximum.as_g());
            assert!(!limits.edition.is_empty() && limits.caution.contains("edition in force"));
        }
    }
}
