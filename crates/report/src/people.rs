//! Findings, error budgets and diagrams as people read them: the words and units that screen, sheet and listing share.

use crate::display::{ShownUnit, shown, typeset, unit_of_panel, units_of_finding};
use crate::rounding::significant;
use crate::words::finding_title;
use filmgauge_results::{Contribution, Curve, CurveBand, CurvePoint, Finding, Panel, UnitSystem};

/// A finding in words, ready for a screen. Plain text: nothing in it is escaped.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct FindingWords {
    /// Title, such as "Speed at contact".
    pub title: String,
    /// What it is about: a body, a crush line or a channel.
    pub subject: String,
    /// Value and half-width of its 95 % interval, such as "14.43 ± 0.02 m/s"; "–" when it was not made.
    pub value: String,
    /// The same in a second unit that readers also ask for, such as "51.95 ± 0.07 km/h".
    pub also: Option<String>,
    /// Why there is no value; `None` exactly when there is one.
    pub reason: Option<String>,
    /// What to know before using the value.
    pub caution: Option<String>,
}

/// One line of an error budget in words.
#[derive(Debug, Clone, PartialEq)]
pub struct BudgetWords {
    /// What the doubt is about, such as "plane offset of car".
    pub source: String,
    /// Its contribution as one standard uncertainty with its unit, such as "0.048 m/s".
    pub u: String,
    /// Its part of the variance, 0 to 1; 0 for every line when all contributions are zero.
    pub share: f64,
}

/// `finding` in words, in the units of `units`. A value or uncertainty that is not finite counts as missing.
#[must_use]
pub fn finding_words(finding: &Finding, units: UnitSystem) -> FindingWords {
    let value = value_line(finding, units).map(|line| typeset(&line));
    let also = units_of_finding(&finding.unit, units).1;
    let stray = finding.reason.clone().filter(|_| value.is_some());
    let cautions: Vec<String> = finding.caution.iter().cloned().chain(stray).collect();
    FindingWords {
        title: finding_title(&finding.name),
        subject: finding.subject.clone(),
        also: also.and_then(|unit| Some(typeset(&in_unit(finding, unit)?))),
        reason: reason_words(finding),
        caution: (!cautions.is_empty()).then(|| cautions.join(" ")),
        value: value.unwrap_or_else(|| "–".to_owned()),
    }
}

/// Why `finding` has no value; `None` when it has one.
pub(crate) fn reason_words(finding: &Finding) -> Option<String> {
    let is_made = finding.value.is_some_and(f64::is_finite);
    (!is_made).then(|| finding.reason.clone().unwrap_or_else(|| "no reason was given".to_owned()))
}

/// Value, ± and unit in one line with a plain hyphen for minus; `None` when the finding was not made.
pub(crate) fn value_line(finding: &Finding, units: UnitSystem) -> Option<String> {
    let stored = ShownUnit::stored(&finding.unit);
    let line = in_unit(finding, units_of_finding(&finding.unit, units).0.unwrap_or(stored))?;
    let is_stated = finding.uncertainty.is_some_and(f64::is_finite);
    Some(if is_stated { line } else { line + " (uncertainty not stated)" })
}

fn in_unit(finding: &Finding, unit: ShownUnit<'_>) -> Option<String> {
    let value = finding.value.filter(|value| value.is_finite())?;
    let u = finding.uncertainty.filter(|u| u.is_finite());
    Some(shown(unit.of(value), u.map(|u| unit.of(u))).line(unit.text))
}

/// A contribution below this part of the variance is what rounding leaves of none.
const LEAST_SHARE: f64 = 1e-12;

/// One line of an error budget in the unit shown.
#[derive(Debug, Clone, PartialEq)]
pub(crate) struct BudgetLine {
    pub(crate) source: String,
    pub(crate) u: f64,
    pub(crate) share: f64,
}

/// The error budget of `finding`, greatest contribution first; equal ones keep their order. Empty when none is stated.
#[must_use]
pub fn budget_words(finding: &Finding, units: UnitSystem) -> Vec<BudgetWords> {
    let (unit, lines) = budget_lines(finding, units);
    let words = |line: BudgetLine| BudgetWords {
        u: format!("{} {unit}", typeset(&significant(line.u, 2))).trim_end().to_owned(),
        source: line.source,
        share: line.share,
    };
    lines.into_iter().map(words).collect()
}

/// The unit shown, and the lines in it.
pub(crate) fn budget_lines(finding: &Finding, units: UnitSystem) -> (String, Vec<BudgetLine>) {
    let mut lines: Vec<&Contribution> = finding.budget.iter().collect();
    lines.sort_by(|one, other| other.u.abs().total_cmp(&one.u.abs()));
    let unit = units_of_finding(&finding.unit, units).0.unwrap_or(ShownUnit::stored(&finding.unit));
    // Against the greatest, so that no square runs out of range.
    let greatest = lines.first().map_or(0.0, |line| line.u.abs());
    let square = |line: &Contribution| if greatest > 0.0 { (line.u / greatest).powi(2) } else { 0.0 };
    let variance: f64 = lines.iter().map(|line| square(line)).sum();
    let shown = |line: &Contribution| {
        let share = if variance > 0.0 { square(line) / variance } else { 0.0 };
        let u = if share < LEAST_SHARE { 0.0 } else { line.u };
        BudgetLine { source: line.source.clone(), u: unit.of(u), share }
    };
    (unit.text.to_owned(), lines.into_iter().map(shown).collect())
}

/// `panel` with values, bands and unit as people read them: lengths that reach 2 m in m or ft, shorter ones in mm or
/// in; an unknown unit stays. A panel converted once does not change again.
#[must_use]
pub fn panel_in_units(panel: &Panel, units: UnitSystem) -> Panel {
    let values = panel.curves.iter().flat_map(|curve| &curve.points).filter_map(|point| point.value);
    let largest = values.fold(0.0, |largest: f64, value| value.abs().max(largest));
    let Some(unit) = unit_of_panel(&panel.unit, units, largest) else { return panel.clone() };
    let curve = |curve: &Curve| Curve {
        points: curve.points.iter().map(|point| in_unit_point(*point, unit)).collect(),
        band: curve.band.as_ref().map(|band| CurveBand {
            half_width: band.half_width.iter().map(|half_width| half_width.map(|it| unit.of(it))).collect(),
        }),
        label: curve.label.clone(),
        source: curve.source.clone(),
    };
    Panel {
        title: panel.title.clone(),
        unit: unit.text.to_owned(),
        curves: panel.curves.iter().map(curve).collect(),
        markers: panel.markers.clone(),
    }
}

fn in_unit_point(point: CurvePoint, unit: ShownUnit<'_>) -> CurvePoint {
    CurvePoint { value: point.value.map(|value| unit.of(value)), ..point }
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::fixture;

    fn finding(name: &str) -> Finding {
        fixture::results().findings.into_iter().find(|finding| finding.name == name).unwrap()
    }

    #[test]
    fn a_finding_in_both_units() {
        let si = finding_words(&finding("contact_speed"), UnitSystem::Si);
        assert_eq!((si.title.as_str(), si.subject.as_str()), ("Speed at contact", "car"));
        assert_eq!(si.value, "14.44 ± 0.10 m/s");
        assert_eq!(si.also.as_deref(), Some("52.00 ± 0.36 km/h"));
        assert_eq!((si.reason, si.caution), (None, None));
        let us = finding_words(&finding("contact_speed"), UnitSystem::Us);
        assert_eq!(us.value, "32.31 ± 0.22 mi/h");
        assert!(us.also.unwrap().ends_with("ft/s"));
    }

    #[test]
    fn what_is_missing_is_said() {
        let unmade = finding_words(&finding("rebound_speed"), UnitSystem::Si);
        assert_eq!((unmade.value.as_str(), unmade.also), ("–", None));
        assert_eq!(unmade.reason.as_deref(), Some("car leaves the picture before separation"));
        let nameless = Finding { reason: None, ..finding("rebound_speed") };
        assert_eq!(finding_words(&nameless, UnitSystem::Si).reason.as_deref(), Some("no reason was given"));
        let unsure = Finding { uncertainty: None, ..finding("contact_speed") };
        assert_eq!(finding_words(&unsure, UnitSystem::Si).value, "14.44 m/s (uncertainty not stated)");
        let doubtful = Finding { reason: Some("one target only".into()), ..finding("contact_speed") };
        let words = finding_words(&doubtful, UnitSystem::Si);
        assert_eq!((words.reason, words.caution.as_deref()), (None, Some("one target only")));
        let ridedown = finding_words(&finding("ridedown_acceleration"), UnitSystem::Si);
        assert!(ridedown.value.starts_with('\u{2212}'), "a true minus sign: {}", ridedown.value);
        assert!(ridedown.caution.unwrap().starts_with("Preferred limit"));
    }

    #[test]
    fn a_budget_starts_with_its_greatest_line() {
        let budget = budget_words(&finding("contact_speed"), UnitSystem::Si);
        assert_eq!(
            budget.iter().map(|line| line.u.as_str()).collect::<Vec<_>>(),
            ["0.048 m/s", "0.017 m/s", "0.0030 m/s"]
        );
        assert_eq!(budget[0].source, "plane offset of car");
        assert!((budget.iter().map(|line| line.share).sum::<f64>() - 1.0).abs() < 1e-12);
        // Computed from the stated formula: 0.048² / (0.048² + 0.0172² + 0.003²).
        assert!((budget[0].share - 0.883_2).abs() < 1e-4, "{}", budget[0].share);
        let still = Finding {
            budget: vec![Contribution { source: "marks".into(), u: 0.0 }],
            ..finding("contact_speed")
        };
        assert_eq!(budget_words(&still, UnitSystem::Us)[0].share, 0.0);
    }

    #[test]
    fn a_panel_changes_its_unit_once() {
        let panel = fixture::results().panels.remove(0);
        let us = panel_in_units(&panel, UnitSystem::Us);
        assert_eq!(us.unit, "mi/h");
        // NIST SP 811, appendix B: 1 mi/h = 0.44704 m/s.
        let (before, after) =
            (panel.curves[0].points[0].value.unwrap(), us.curves[0].points[0].value.unwrap());
        assert!((after * 0.447_04 - before).abs() < 1e-12);
        let band = |panel: &Panel| panel.curves[0].band.as_ref().unwrap().half_width[0].unwrap();
        assert!((band(&us) * 0.447_04 - band(&panel)).abs() < 1e-12);
        assert_eq!(panel_in_units(&us, UnitSystem::Us), us);
        let short = Panel { unit: "m".into(), curves: Vec::new(), ..panel.clone() };
        assert_eq!(panel_in_units(&short, UnitSystem::Si).unit, "mm");
        let unknown = Panel { unit: "kN".into(), ..panel };
        assert_eq!(panel_in_units(&unknown, UnitSystem::Us), unknown);
    }
}
