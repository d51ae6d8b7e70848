//! Units of channel files and their SI factors; offsets of scale (temperatures) are not handled.

use crate::{Channel, SensorsError};
use filmgauge_quantities::STANDARD_GRAVITY_M_S2;

/// Spelling as normalised by [`plain`], SI unit, factor to SI. Factors: NIST SP 811, appendix B.
const UNITS: &[(&str, &str, f64)] = &[
    ("g", "m/s2", STANDARD_GRAVITY_M_S2),
    ("gn", "m/s2", STANDARD_GRAVITY_M_S2),
    ("m/s2", "m/s2", 1.0),
    ("m/(s*s)", "m/s2", 1.0),
    ("m/s/s", "m/s2", 1.0),
    ("mm/s2", "m/s2", 1e-3),
    ("ft/s2", "m/s2", 0.3048),
    ("m/s", "m/s", 1.0),
    ("mm/s", "m/s", 1e-3),
    ("km/h", "m/s", 1.0 / 3.6),
    ("kph", "m/s", 1.0 / 3.6),
    ("mph", "m/s", 0.447_04),
    ("mi/h", "m/s", 0.447_04),
    ("ft/s", "m/s", 0.3048),
    ("m", "m", 1.0),
    ("cm", "m", 1e-2),
    ("mm", "m", 1e-3),
    ("in", "m", 0.0254),
    ("ft", "m", 0.3048),
    ("rad", "rad", 1.0),
    ("deg", "rad", std::f64::consts::PI / 180.0),
    ("rad/s", "rad/s", 1.0),
    ("deg/s", "rad/s", std::f64::consts::PI / 180.0),
    ("rad/s2", "rad/s2", 1.0),
    ("deg/s2", "rad/s2", std::f64::consts::PI / 180.0),
    ("n", "N", 1.0),
    ("kn", "N", 1e3),
    ("lbf", "N", 4.448_221_615_260_5),
    ("s", "s", 1.0),
    ("ms", "s", 1e-3),
    ("us", "s", 1e-6),
    ("v", "V", 1.0),
    ("mv", "V", 1e-3),
    ("1", "1", 1.0),
];

/// The channel with its values in SI. A channel that is in SI already keeps its values.
///
/// # Errors
/// [`SensorsError::Unit`] when the channel has no unit, or one that is not known.
pub fn to_si(channel: &Channel) -> Result<Channel, SensorsError> {
    let (si, factor) = si_unit(&channel.unit)
        .ok_or_else(|| SensorsError::Unit { code: channel.code.clone(), problem: unknown(&channel.unit) })?;
    if channel.unit == si {
        return Ok(channel.clone());
    }
    let values = channel.values.iter().map(|value| value * factor).collect();
    let mut converted = channel.stepped(values, format!("{} to {si}: times {factor}", channel.unit));
    si.clone_into(&mut converted.unit);
    Ok(converted)
}

/// SI name and factor of a unit's spelling; `None` when it is not known.
pub(crate) fn si_unit(unit: &str) -> Option<(&'static str, f64)> {
    let wanted = plain(unit);
    UNITS.iter().find(|(spelling, _, _)| *spelling == wanted).map(|&(_, si, factor)| (si, factor))
}

/// One spelling for the many ways to write the same unit.
fn plain(unit: &str) -> String {
    let mut text: String = unit.trim().chars().filter(|c| !c.is_whitespace()).collect();
    for (from, to) in [
        ("²", "2"),
        ("^2", "2"),
        ("**2", "2"),
        ("°", "deg"),
        ("µ", "u"),
        ("μ", "u"),
        ("G", "g"),
        ("/sec", "/s"),
    ] {
        text = text.replace(from, to);
    }
    text.to_lowercase()
}

fn unknown(unit: &str) -> String {
    let known: Vec<&str> = UNITS.iter().map(|(spelling, _, _)| *spelling).collect();
    let known = known.join(", ");
    if unit.trim().is_empty() {
        format!("has no unit; state one of {known}")
    } else {
        format!("unit \"{unit}\" is not known; state one of {known}")
    }
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::channel::tests::channel;

    #[test]
    fn accelerations_in_any_spelling_become_metres_per_second_squared() {
        for unit in ["g", "G", " g ", "gn"] {
            let si = to_si(&channel(unit, 0.0, 0.1, vec![1.0, -2.0])).unwrap();
            assert_eq!((si.unit.as_str(), si.values), ("m/s2", vec![9.80665, -19.6133]));
        }
        for unit in ["m/s²", "m/s^2", "m/s/s", "m/(s*s)", "M/S2"] {
            assert_eq!(to_si(&channel(unit, 0.0, 0.1, vec![1.5, 2.0])).unwrap().values, [1.5, 2.0]);
        }
        assert!((to_si(&channel("km/h", 0.0, 0.1, vec![36.0, 0.0])).unwrap().values[0] - 10.0).abs() < 1e-12);
        assert!(
            (to_si(&channel("°/s", 0.0, 0.1, vec![180.0, 0.0])).unwrap().values[0] - std::f64::consts::PI)
                .abs()
                < 1e-12
        );
    }

    #[test]
    fn converting_twice_changes_nothing_and_the_step_is_listed() {
        let once = to_si(&channel("g", 0.0, 0.1, vec![1.0, 2.0])).unwrap();
        assert_eq!(to_si(&once).unwrap(), once);
        assert_eq!(once.steps.len(), 1);
    }

    #[test]
    fn a_missing_or_odd_unit_is_an_error_that_lists_the_known_ones() {
        for unit in ["", "  ", "furlong"] {
            let message = to_si(&channel(unit, 0.0, 0.1, vec![1.0, 2.0])).unwrap_err().to_string();
            assert!(message.contains("m/s2") && message.contains("10CVEHCG0000ACXP"), "{message}");
        }
    }
}
