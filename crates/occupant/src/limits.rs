//! Limits of published rule sets, for orientation only; the edition in force decides. The figures stand in `limits.toml`.

use serde::Deserialize;
use std::sync::LazyLock;

/// To be shown wherever a limit is shown.
pub const LIMITS_CAUTION: &str =
    "for orientation; check the edition in force and the procedures of the governing test standard";

/// What a limit is about.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Deserialize)]
#[serde(rename_all = "snake_case")]
pub enum LimitedFigure {
    /// Occupant impact velocity, m/s.
    ImpactVelocity,
    /// Ridedown deceleration, g.
    Ridedown,
    /// Theoretical head impact velocity, m/s.
    HeadVelocity,
    /// Post-impact head deceleration, g.
    HeadDeceleration,
    /// Acceleration severity index.
    Severity,
    /// Mean acceleration over 50 ms, g.
    #[serde(rename = "mean_50ms")]
    Mean50Ms,
}

impl LimitedFigure {
    /// Unit of its limits.
    #[must_use]
    pub fn unit(self) -> &'static str {
        match self {
            Self::ImpactVelocity | Self::HeadVelocity => "m/s",
            Self::Ridedown | Self::HeadDeceleration | Self::Mean50Ms => "g",
            Self::Severity => "",
        }
    }
}

/// Axis that a limit holds for.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Deserialize)]
#[serde(rename_all = "lowercase")]
pub enum LimitedAxis {
    /// Forward.
    X,
    /// To a side.
    Y,
    /// Both, or a figure without axes.
    Any,
}

/// One limit of one rule set.
#[derive(Debug, Clone, PartialEq, Deserialize)]
#[serde(deny_unknown_fields)]
pub struct OccupantLimit {
    /// Rule set and edition.
    pub edition: String,
    /// What it is for.
    pub applies_to: String,
    /// The figure.
    pub figure: LimitedFigure,
    /// The axis.
    pub axis: LimitedAxis,
    /// Should not be exceeded, in the figure's unit; `None` where the rule set has none.
    pub preferred: Option<f64>,
    /// Must not be exceeded, in the figure's unit.
    pub maximum: f64,
    /// Where the figure is from.
    pub mark: String,
}

#[derive(Deserialize)]
struct LimitsFile {
    limit: Vec<OccupantLimit>,
}

static LIMITS: LazyLock<Vec<OccupantLimit>> = LazyLock::new(|| {
    // The file is part of the program; a test reads it.
    toml::from_str::<LimitsFile>(include_str!("limits.toml")).map(|file| file.limit).unwrap_or_default()
});

/// The limits known here.
#[must_use]
pub fn occupant_limits() -> &'static [OccupantLimit] {
    &LIMITS
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn every_limit_goes_with_its_edition_and_says_where_it_is_from() {
        assert_eq!(occupant_limits().len(), 18);
        for limit in occupant_limits() {
            assert!(limit.preferred.is_none_or(|preferred| preferred < limit.maximum), "{limit:?}");
            assert!(!limit.edition.is_empty() && !limit.mark.is_empty(), "{limit:?}");
        }
        assert!(LIMITS_CAUTION.contains("edition in force"));
    }

    #[test]
    fn feet_per_second_are_exact() {
        // 1 ft = 0.3048 m by definition (NIST SP 811); 27 mi/h is 12.07 m/s, which the old value of 40 ft/s rounds.
        let of = |edition: &str, applies: &str| {
            occupant_limits()
                .iter()
                .find(|it| it.edition == edition && it.applies_to.contains(applies))
                .unwrap()
        };
        assert!((of("MASH 2016", "longitudinal").maximum - 40.0 * 0.3048).abs() < 1e-12);
        assert!((of("MASH 2016", "work-zone").preferred.unwrap() - 10.0 * 0.3048).abs() < 1e-12);
        assert!((of("orientation value of old", "27 mi/h").maximum - 27.0 * 0.447_04).abs() < 0.2);
        assert!((of("EN 1317-3", "head-on").maximum * 3.6 - 44.0).abs() < 1e-12);
    }
}
