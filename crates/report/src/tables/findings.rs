//! The tables of findings and of their error budgets.

use super::{Of, Table};
use filmgauge_results::{Contribution, Finding};

pub(super) fn findings(rows: &[Finding]) -> Table<'_> {
    Of::new(rows)
        .text("name", "name of the finding", |row| &row.name)
        .text("subject", "what it is about: a body, a crush line or a channel", |row| &row.subject)
        .text("source", "film, sensor, fused or hand", |row| row.source.word())
        .maybe("value", "", "in the row's unit; empty where it could not be made", |row| row.value)
        .text("unit", "unit of value and uncertainty", |row| &row.unit)
        .maybe("uncertainty", "", "one standard uncertainty, in the row's unit", |row| row.uncertainty)
        .text("method", "how it was made", |row| &row.method)
        .maybe_text("camera", "camera that it rests on", |row| row.evidence.camera.as_deref())
        .maybe_whole("first_frame", "first frame used", |row| row.evidence.frames.map(|[first, _]| first))
        .maybe_whole("last_frame", "last frame used", |row| row.evidence.frames.map(|[_, last]| last))
        .maybe_text("settings", "settings that a repeat needs", |row| Some(row.evidence.settings.as_str()))
        .maybe_text("caution", "what to know before using it", |row| row.caution.as_deref())
        .maybe_text("reason", "why there is no value", |row| row.reason.as_deref())
        .flag("absent", "true where the test holds no such thing and nobody need act", |row| row.absent)
        .table("findings", "Named results")
}

/// One line of one finding's budget.
pub(super) struct BudgetRow<'a>(&'a Finding, &'a Contribution);

pub(super) fn budget_rows(findings: &[Finding]) -> Vec<BudgetRow<'_>> {
    let mut rows = Vec::new();
    for finding in findings {
        rows.extend(finding.budget.iter().map(|line| BudgetRow(finding, line)));
    }
    rows
}

pub(super) fn budgets<'a>(rows: &'a [BudgetRow<'a>]) -> Table<'a> {
    Of::new(rows)
        .text("name", "name of the finding", |row| &row.0.name)
        .text("subject", "what the finding is about", |row| &row.0.subject)
        .text("finding_source", "film, sensor, fused or hand", |row| row.0.source.word())
        .text("source", "what the doubt is about", |row| &row.1.source)
        .number("u", "", "its part of the standard uncertainty; parts add in quadrature", |row| row.1.u)
        .text("unit", "unit of u", |row| &row.0.unit)
        .table("budgets", "Error budgets of the findings")
}
