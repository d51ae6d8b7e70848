//! Rows of the table of findings, and the error budget of each.

use crate::budget_plot::budget_svg;
use crate::display::{Shown, ShownUnit, shown, units_of_finding};
use crate::people::{BudgetWords, budget_words, finding_words};
use filmgauge_results::{Evidence, Finding, Results};
use serde::Serialize;

/// Number of the first budget's drawing on the page: beyond those of curves and pictures.
const FIRST_BUDGET: usize = 10_000;

/// One row of the table. `value` is empty when the finding was not made.
#[derive(Serialize)]
pub(crate) struct FindingView {
    pub(crate) anchor: String,
    pub(crate) budget_anchor: Option<String>,
    pub(crate) title: String,
    pub(crate) name: String,
    pub(crate) subject: String,
    pub(crate) made: bool,
    pub(crate) value: String,
    pub(crate) half_width: String,
    pub(crate) unit: String,
    pub(crate) u: String,
    pub(crate) also: String,
    pub(crate) source: &'static str,
    pub(crate) method: String,
    pub(crate) settings: String,
    pub(crate) camera: String,
    pub(crate) camera_anchor: Option<String>,
    pub(crate) frames: String,
    pub(crate) caution: String,
    /// Number of the note that holds the caution, from 1, where it is long: several findings share it.
    pub(crate) note: Option<usize>,
    pub(crate) reason: String,
}

/// A caution longer than this, in letters, stands once below the table.
const LONG_CAUTION: usize = 110;

/// One error budget.
#[derive(Serialize)]
pub(crate) struct BudgetView {
    pub(crate) anchor: String,
    pub(crate) title: String,
    pub(crate) subject: String,
    pub(crate) total: String,
    /// Bars; empty where there is nothing to draw.
    pub(crate) svg: String,
    pub(crate) lines: Vec<BudgetLine>,
}

#[derive(Serialize)]
pub(crate) struct BudgetLine {
    pub(crate) source: String,
    pub(crate) u: String,
    /// Percent of the variance, for reading.
    pub(crate) share: String,
}

/// Rows in order, and the long cautions that they share, in the order of their numbers.
pub(super) fn findings(results: &Results) -> (Vec<FindingView>, Vec<String>) {
    let mut notes: Vec<String> = Vec::new();
    let mut rows = Vec::with_capacity(results.findings.len());
    for (at, finding) in results.findings.iter().enumerate() {
        let mut row = row(at, finding, results);
        if row.caution.chars().count() > LONG_CAUTION {
            let known = notes.iter().position(|note| *note == row.caution);
            row.note = Some(1 + known.unwrap_or(notes.len()));
            if known.is_none() {
                notes.push(row.caution.clone());
            }
        }
        rows.push(row);
    }
    (rows, notes)
}

fn row(at: usize, finding: &Finding, results: &Results) -> FindingView {
    let system = results.test.units;
    let words = finding_words(finding, system);
    let unit = units_of_finding(&finding.unit, system).0.unwrap_or(ShownUnit::stored(&finding.unit));
    let printed = finding.value.map(|value| shown(unit.of(value), finding.uncertainty.map(|u| unit.of(u))));
    let (value, half_width, u) = printed.map(Shown::typeset).map_or_else(Default::default, |printed| {
        (printed.value, printed.half_width.unwrap_or_default(), printed.u.unwrap_or_default())
    });
    let Evidence { camera, frames, settings } = &finding.evidence;
    let place = camera.as_ref().and_then(|id| results.cameras.iter().position(|camera| camera.id == *id));
    FindingView {
        anchor: format!("finding-{}", at + 1),
        budget_anchor: (!finding.budget.is_empty()).then(|| format!("budget-{}", at + 1)),
        title: words.title,
        name: finding.name.clone(),
        subject: words.subject,
        made: words.reason.is_none(),
        value,
        half_width,
        unit: unit.text.to_owned(),
        u,
        also: words.also.unwrap_or_default(),
        source: finding.source.word(),
        method: finding.method.clone(),
        settings: settings.clone(),
        camera: camera.clone().unwrap_or_default(),
        camera_anchor: place.map(|place| format!("camera-{}", place + 1)),
        frames: frames.map(frames_text).unwrap_or_default(),
        caution: words.caution.unwrap_or_default(),
        note: None,
        reason: words.reason.unwrap_or_default(),
    }
}

fn frames_text([first, last]: [u32; 2]) -> String {
    if first == last { format!("frame {first}") } else { format!("frames {first}–{last}") }
}

pub(super) fn budgets(results: &Results) -> Vec<BudgetView> {
    let with_budget = results.findings.iter().enumerate().filter(|(_, finding)| !finding.budget.is_empty());
    with_budget.map(|(at, finding)| budget(at, finding, results)).collect()
}

fn budget(at: usize, finding: &Finding, results: &Results) -> BudgetView {
    let system = results.test.units;
    let words = finding_words(finding, system);
    // Several cameras may give the same finding of the same body.
    let camera = finding.evidence.camera.as_deref().filter(|_| results.cameras.len() > 1);
    let subject =
        camera.map_or_else(|| words.subject.clone(), |camera| format!("{}, {camera}", words.subject));
    BudgetView {
        anchor: format!("budget-{}", at + 1),
        title: words.title,
        subject,
        total: if words.reason.is_some() { "not made".to_owned() } else { words.value },
        svg: budget_svg(finding, system, FIRST_BUDGET + at).unwrap_or_default(),
        lines: budget_words(finding, system).into_iter().map(budget_line).collect(),
    }
}

fn budget_line(line: BudgetWords) -> BudgetLine {
    let percent = 100.0 * line.share;
    BudgetLine {
        source: line.source,
        u: line.u,
        share: if percent > 0.0 && percent < 0.5 { "< 1 %".to_owned() } else { format!("{percent:.0} %") },
    }
}
