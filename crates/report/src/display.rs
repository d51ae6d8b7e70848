//! Units as people read them: SI or US customary, by exact factors; values paired with their 95 % half-width.

use crate::rounding::{at_place, last_place, significant};
use filmgauge_quantities::{Acceleration, COVERAGE_95, Length, Seconds, Speed};
use filmgauge_results::UnitSystem;

/// A unit as shown, and how to reach it from the stored one. Every change is a plain factor.
#[derive(Debug, Clone, Copy)]
pub(crate) struct ShownUnit<'a> {
    /// Text after the number; empty for a plain ratio.
    pub(crate) text: &'a str,
    from_stored: fn(f64) -> f64,
}

impl<'a> ShownUnit<'a> {
    /// The stored unit as it is.
    pub(crate) fn stored(text: &'a str) -> Self {
        Self { text, from_stored: |value| value }
    }

    /// The stored value in this unit.
    pub(crate) fn of(self, stored: f64) -> f64 {
        (self.from_stored)(stored)
    }
}

/// A value ready to print: rounded texts without their unit.
#[derive(Debug, Clone, PartialEq)]
pub(crate) struct Shown {
    pub(crate) value: String,
    /// Half-width of the 95 % interval; `None` when no uncertainty is stated.
    pub(crate) half_width: Option<String>,
    /// One standard uncertainty.
    pub(crate) u: Option<String>,
}

impl Shown {
    /// "14.44 ± 0.10 m/s", in one line.
    pub(crate) fn line(&self, unit: &str) -> String {
        let number = match &self.half_width {
            Some(half_width) => format!("{} ± {half_width}", self.value),
            None => self.value.clone(),
        };
        if unit.is_empty() { number } else { format!("{number} {unit}") }
    }

    /// The same with a true minus sign, for the sheet.
    pub(crate) fn typeset(self) -> Self {
        Self { value: typeset(&self.value), ..self }
    }
}

/// A true minus sign in place of the hyphen.
pub(crate) fn typeset(number: &str) -> String {
    number.replacen('-', "\u{2212}", 1)
}

/// Words with numbers among them: a true minus sign before a number, none in names and ranges, and the unit with its square.
pub(crate) fn typeset_words(words: &str) -> String {
    let mut set = String::with_capacity(words.len());
    let mut before = ' ';
    let mut letters = words.chars().peekable();
    while let Some(letter) = letters.next() {
        let begins = before == ' ' || before == '(';
        let is_minus = letter == '-' && begins && letters.peek().is_some_and(char::is_ascii_digit);
        set.push(if is_minus { '\u{2212}' } else { letter });
        before = letter;
    }
    set.replace("m/s2", "m/s²")
}

/// Value and standard uncertainty, both already in the unit shown, rounded for print.
pub(crate) fn shown(value: f64, u: Option<f64>) -> Shown {
    let Some(u) = u else {
        return Shown { value: significant(value, 4), half_width: None, u: None };
    };
    let half_width = COVERAGE_95 * u;
    let rounded_u = last_place(u).map_or_else(|| "0".to_owned(), |place| at_place(u, place));
    match last_place(half_width) {
        Some(place) => Shown {
            value: at_place(value, place),
            half_width: Some(at_place(half_width, place)),
            u: Some(rounded_u),
        },
        None => Shown { value: significant(value, 6), half_width: Some("0".to_owned()), u: Some(rounded_u) },
    }
}

/// The unit a finding is shown in, and a second one that readers also ask for.
pub(crate) fn units_of_finding(
    stored: &str,
    system: UnitSystem,
) -> (Option<ShownUnit<'static>>, Option<ShownUnit<'static>>) {
    match (stored, system) {
        ("s", _) => (Some(MS), None),
        ("m", UnitSystem::Si) => (Some(MM), None),
        ("m", UnitSystem::Us) => (Some(INCH), None),
        ("m/s", UnitSystem::Si) => (Some(M_S), Some(KM_H)),
        ("m/s", UnitSystem::Us) => (Some(MI_H), Some(FT_S)),
        ("m/s²" | "m/s2" | "m/s^2", UnitSystem::Si) => (Some(G), Some(M_S2)),
        ("m/s²" | "m/s2" | "m/s^2", UnitSystem::Us) => (Some(G), Some(FT_S2)),
        ("deg" | "°", _) => (Some(DEG), None),
        ("1" | "", _) => (Some(RATIO), None),
        _ => (None, None),
    }
}

/// The unit a diagram is drawn in; lengths of `largest` metres and more are drawn in m or ft, shorter ones in mm or in.
pub(crate) fn unit_of_panel(stored: &str, system: UnitSystem, largest: f64) -> Option<ShownUnit<'static>> {
    match (stored, system) {
        ("m", UnitSystem::Si) if largest >= 2.0 => Some(M),
        ("m", UnitSystem::Us) if largest >= 2.0 => Some(FT),
        _ => units_of_finding(stored, system).0,
    }
}

/// Seconds as milliseconds with one decimal, for frames and instants.
pub(crate) fn ms_text(seconds: f64) -> String {
    typeset(&at_place(MS.of(seconds), -1))
}

const MS: ShownUnit<'static> = ShownUnit { text: "ms", from_stored: |s| Seconds::from_s(s).as_ms() };
const M: ShownUnit<'static> = ShownUnit { text: "m", from_stored: |m| m };
const MM: ShownUnit<'static> = ShownUnit { text: "mm", from_stored: |m| Length::from_m(m).as_mm() };
const INCH: ShownUnit<'static> = ShownUnit { text: "in", from_stored: |m| Length::from_m(m).as_in() };
const FT: ShownUnit<'static> = ShownUnit { text: "ft", from_stored: |m| Length::from_m(m).as_ft() };
const M_S: ShownUnit<'static> = ShownUnit { text: "m/s", from_stored: |v| v };
const KM_H: ShownUnit<'static> = ShownUnit { text: "km/h", from_stored: |v| Speed::from_m_s(v).as_km_h() };
const MI_H: ShownUnit<'static> = ShownUnit { text: "mi/h", from_stored: |v| Speed::from_m_s(v).as_mi_h() };
const FT_S: ShownUnit<'static> = ShownUnit { text: "ft/s", from_stored: |v| Speed::from_m_s(v).as_ft_s() };
const M_S2: ShownUnit<'static> = ShownUnit { text: "m/s²", from_stored: |a| a };
const G: ShownUnit<'static> = ShownUnit { text: "g", from_stored: |a| Acceleration::from_m_s2(a).as_g() };
const FT_S2: ShownUnit<'static> = ShownUnit { text: "ft/s²", from_stored: |a| Length::from_m(a).as_ft() };
const DEG: ShownUnit<'static> = ShownUnit { text: "°", from_stored: |angle| angle };
const RATIO: ShownUnit<'static> = ShownUnit { text: "", from_stored: |ratio| ratio };

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn a_minus_sign_stands_before_numbers_only() {
        let step = "offset -1.25 m/s2 removed (mean from -0.07 s to 0 s) of CH-014";
        let set = "offset \u{2212}1.25 m/s² removed (mean from \u{2212}0.07 s to 0 s) of CH-014";
        assert_eq!(typeset_words(step), set);
    }

    #[test]
    fn half_width_and_value_end_at_the_same_digit() {
        let speed = shown(14.444_44, Some(0.051));
        assert_eq!(speed.line("m/s"), "14.44 ± 0.10 m/s");
        assert_eq!(speed.u.as_deref(), Some("0.051"));
        assert_eq!(shown(3.0, None).line(""), "3.000");
        assert_eq!(shown(3.0, Some(0.0)).line(""), "3.00000 ± 0");
        assert_eq!(shown(-2.0, Some(0.5)).typeset().value, "\u{2212}2.00");
    }

    #[test]
    fn us_units_are_for_display_only() {
        // NIST SP 811, appendix B: 1 mi/h = 0.44704 m/s, 1 in = 25.4 mm.
        let (primary, also) = units_of_finding("m/s", UnitSystem::Us);
        assert!((primary.unwrap().of(0.447_04) - 1.0).abs() < 1e-12);
        assert_eq!(also.unwrap().text, "ft/s");
        assert!((units_of_finding("m", UnitSystem::Us).0.unwrap().of(0.0254) - 1.0).abs() < 1e-12);
        assert!(units_of_finding("kN", UnitSystem::Us).0.is_none());
    }
}
