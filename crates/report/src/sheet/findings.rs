//! Rows of the table of findings, and the error budget of each.

use crate::display::{Shown, shown, typeset, units_of_finding};
use crate::rounding::significant;
use crate::words::finding_title;
use filmgauge_results::{Contribution, Evidence, Finding, Results, UnitSystem};
use serde::Serialize;

/// One row of the table. `value` is empty when the finding was not made.
#[derive(Serialize)]
pub(super) struct FindingView {
    anchor: String,
    budget_anchor: Option<String>,
    title: String,
    name: String,
    subject: String,
    made: bool,
    value: String,
    half_width: String,
    unit: String,
    u: String,
    also: String,
    source: &'static str,
    method: String,
    settings: String,
    camera: String,
    camera_anchor: Option<String>,
    frames: String,
    caution: String,
    reason: String,
}

/// One error budget.
#[derive(Serialize)]
pub(super) struct BudgetView {
    anchor: String,
    title: String,
    subject: String,
    total: String,
    lines: Vec<BudgetLine>,
}

#[derive(Serialize)]
struct BudgetLine {
    source: String,
    u: String,
    /// Percent of the variance, for reading; empty when all lines are zero.
    share: String,
    /// The same for the bar's width.
    width: String,
}

pub(super) fn findings(results: &Results) -> Vec<FindingView> {
    results.findings.iter().enumerate().map(|(at, finding)| row(at, finding, results)).collect()
}

fn row(at: usize, finding: &Finding, results: &Results) -> FindingView {
    let (printed, unit, also) = printed(finding, results.test.units);
    let (value, half_width, u) = match printed {
        None => (String::new(), String::new(), String::new()),
        Some(Shown { value, half_width, u }) => {
            (value, half_width.unwrap_or_default(), u.unwrap_or_default())
        }
    };
    let Evidence { camera, frames, settings } = &finding.evidence;
    let place = camera.as_ref().and_then(|id| results.cameras.iter().position(|camera| camera.id == *id));
    FindingView {
        anchor: format!("finding-{}", at + 1),
        budget_anchor: (!finding.budget.is_empty()).then(|| format!("budget-{}", at + 1)),
        title: finding_title(&finding.name),
        name: finding.name.clone(),
        subject: finding.subject.clone(),
        made: finding.value.is_some(),
        value,
        half_width,
        unit,
        u,
        also,
        source: finding.source.word(),
        method: finding.method.clone(),
        settings: settings.clone(),
        camera: camera.clone().unwrap_or_default(),
        camera_anchor: place.map(|place| format!("camera-{}", place + 1)),
        frames: frames.map(frames_text).unwrap_or_default(),
        caution: finding.caution.clone().unwrap_or_default(),
        reason: match (&finding.reason, finding.value) {
            (Some(reason), _) => reason.clone(),
            (None, None) => "no reason was given".to_owned(),
            (None, Some(_)) => String::new(),
        },
    }
}

/// The value ready to print, its unit, and the same value in a second unit.
fn printed(finding: &Finding, system: UnitSystem) -> (Option<Shown>, String, String) {
    let (unit, also_unit) = units_of_finding(&finding.unit, system);
    let Some(unit) = unit else {
        let printed = finding.value.map(|value| shown(value, finding.uncertainty).typeset());
        return (printed, finding.unit.clone(), String::new());
    };
    let in_unit = |unit: crate::display::ShownUnit| {
        finding.value.map(|value| shown(unit.of(value), finding.uncertainty.map(|u| unit.of(u))).typeset())
    };
    let also = also_unit.and_then(|also| Some(in_unit(also)?.line(also.text)));
    (in_unit(unit), unit.text.to_owned(), also.unwrap_or_default())
}

fn frames_text([first, last]: [u32; 2]) -> String {
    if first == last { format!("frame {first}") } else { format!("frames {first}–{last}") }
}

pub(super) fn budgets(results: &Results) -> Vec<BudgetView> {
    let with_budget = results.findings.iter().enumerate().filter(|(_, finding)| !finding.budget.is_empty());
    with_budget.map(|(at, finding)| budget(at, finding, results.test.units)).collect()
}

fn budget(at: usize, finding: &Finding, system: UnitSystem) -> BudgetView {
    let (printed, unit, _) = printed(finding, system);
    let variance: f64 = finding.budget.iter().map(|line| line.u * line.u).sum();
    let mut lines: Vec<&Contribution> = finding.budget.iter().collect();
    // Largest first; equal ones keep their order.
    lines.sort_by(|one, other| other.u.abs().total_cmp(&one.u.abs()));
    BudgetView {
        anchor: format!("budget-{}", at + 1),
        title: finding_title(&finding.name),
        subject: finding.subject.clone(),
        total: printed.map_or_else(|| "not made".to_owned(), |printed| printed.line(&unit)),
        lines: lines.into_iter().map(|line| budget_line(line, variance, &finding.unit, system)).collect(),
    }
}

fn budget_line(line: &Contribution, variance: f64, stored_unit: &str, system: UnitSystem) -> BudgetLine {
    let (value, unit) = match units_of_finding(stored_unit, system).0 {
        Some(unit) => (unit.of(line.u), unit.text),
        None => (line.u, stored_unit),
    };
    let percent = (variance > 0.0).then(|| 100.0 * line.u * line.u / variance);
    BudgetLine {
        source: line.source.clone(),
        u: format!("{} {unit}", typeset(&significant(value, 2))).trim_end().to_owned(),
        share: match percent {
            None => String::new(),
            Some(percent) if percent > 0.0 && percent < 0.5 => "< 1 %".to_owned(),
            Some(percent) => format!("{percent:.0} %"),
        },
        width: percent.map_or_else(|| "0".to_owned(), |percent| format!("{percent:.1}")),
    }
}
