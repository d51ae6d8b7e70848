//! The sheet: one self-contained HTML page with style, drawings and pictures inside it, made from a template.

pub(crate) mod checks;
pub use checks::{agreement_words, beside_words};
pub(crate) mod clocks;
pub(crate) mod curves;
pub(crate) mod events;
pub(crate) mod findings;
pub(crate) mod head;
pub(crate) mod marks;
mod picture;
pub(crate) mod settings;
pub(crate) mod strip;

use crate::ReportError;
use crate::finite::check_finite;
use crate::template::SheetTemplate;
use crate::words;
use filmgauge_results::Results;
use serde::Serialize;
use std::path::Path;

pub(crate) const TEMPLATE: &str = include_str!("../sheet.html.j2");
pub(crate) const STYLE: &str = concat!(include_str!("../sheet.css"), include_str!("../plot/plot.css"));
/// Steps that making a page may take: many times what the largest sheet needs, and far from forever.
const MOST_STEPS: u64 = 5_000_000;

/// Everything the template may show, in reading order.
#[derive(Serialize)]
pub(crate) struct SheetView {
    pub(crate) style: String,
    pub(crate) head: head::HeadView,
    pub(crate) cautions: &'static [&'static str],
    pub(crate) urgent: Vec<head::NoticeView>,
    pub(crate) findings: Vec<findings::FindingView>,
    /// Long cautions that findings share.
    pub(crate) finding_notes: Vec<String>,
    pub(crate) interval_note: &'static str,
    pub(crate) events: Vec<events::EventView>,
    pub(crate) events_note: &'static str,
    pub(crate) crosschecks: Vec<checks::CrosscheckView>,
    pub(crate) crosscheck_note: &'static str,
    pub(crate) clocks: Option<clocks::ClocksView>,
    pub(crate) curves: Vec<curves::PanelView>,
    pub(crate) curves_note: &'static str,
    pub(crate) strip: Vec<strip::PictureView>,
    pub(crate) strip_note: &'static str,
    pub(crate) cameras: Vec<settings::CameraView>,
    pub(crate) channels: Vec<settings::ChannelView>,
    pub(crate) budgets: Vec<findings::BudgetView>,
    pub(crate) budget_note: &'static str,
    pub(crate) targets: Vec<marks::TargetView>,
    pub(crate) marks_note: &'static str,
    pub(crate) notes: Vec<head::NoticeView>,
    pub(crate) signatures: &'static [&'static str],
    pub(crate) signatures_note: &'static str,
    pub(crate) provenance: settings::ProvenanceView,
    pub(crate) provenance_note: &'static str,
}

/// The sheet as one HTML page that fetches nothing from outside. Units follow the test. The same results give the
/// same bytes.
///
/// # Errors
/// [`ReportError::NotFinite`] when a number is NaN or infinite; [`ReportError::Make`] when a picture or the page
/// cannot be encoded, which is a fault of this program.
pub fn sheet_html(results: &Results) -> Result<String, ReportError> {
    page(sheet_view(results)?, &SheetTemplate::built_in())
        .map_err(|fault| ReportError::make("the sheet", fault))
}

/// The page by a lab's own template; else by the built-in one, with what is wrong with the lab's.
pub(crate) fn sheet_by(
    results: &Results,
    folder: Option<&Path>,
) -> Result<(String, Option<String>), ReportError> {
    let Some(folder) = folder else { return Ok((sheet_html(results)?, None)) };
    let view = sheet_view(results)?;
    match SheetTemplate::read(folder).and_then(|template| page(view, &template)) {
        Ok(page) => Ok((page, None)),
        Err(fault) => {
            let said = format!(
                "{fault}. The sheet was made with the built-in template instead; mend the template and measure again"
            );
            Ok((sheet_html(results)?, Some(said)))
        }
    }
}

/// Everything that the sheet shows, on screen and on paper.
pub(crate) fn sheet_view(results: &Results) -> Result<SheetView, ReportError> {
    check_finite(results)?;
    let system = results.test.units;
    let (rows, finding_notes) = findings::findings(results);
    Ok(SheetView {
        style: STYLE.to_owned(),
        head: head::head(results),
        cautions: words::CAUTIONS,
        urgent: head::urgent(&results.notices),
        findings: rows,
        finding_notes,
        interval_note: words::INTERVAL_NOTE,
        events: events::events(&results.events),
        events_note: words::EVENTS_NOTE,
        crosschecks: checks::crosschecks(&results.crosschecks, system),
        crosscheck_note: words::CROSSCHECK_NOTE,
        clocks: results.clocks.as_ref().map(clocks::clocks),
        curves: curves::panels(&results.panels, system),
        curves_note: words::CURVES_NOTE,
        strip: strip::pictures(&results.strip, system)?,
        strip_note: words::STRIP_NOTE,
        cameras: settings::cameras(&results.cameras),
        channels: settings::channels(&results.channels),
        budgets: findings::budgets(results),
        budget_note: words::BUDGET_NOTE,
        targets: marks::targets(&results.marks, &results.gaps),
        marks_note: words::MARKS_NOTE,
        notes: head::notes(&results.notices),
        signatures: words::SIGNATURES,
        signatures_note: words::SIGNATURES_NOTE,
        provenance: settings::provenance(&results.provenance),
        provenance_note: words::PROVENANCE_NOTE,
    })
}

fn page(mut view: SheetView, template: &SheetTemplate) -> Result<String, String> {
    view.style.clone_from(&template.style);
    let made = || -> Result<String, minijinja::Error> {
        let mut pages = minijinja::Environment::new();
        // A line that holds only a block tag leaves no trace on the page.
        pages.set_syntax(
            minijinja::syntax::SyntaxConfig::builder()
                .trim_blocks(true)
                .lstrip_blocks(true)
                .keep_trailing_newline(true)
                .build()?,
        );
        pages.set_undefined_behavior(minijinja::UndefinedBehavior::Strict);
        pages.set_auto_escape_callback(|_| minijinja::AutoEscape::Html);
        pages.set_fuel(Some(MOST_STEPS));
        pages.add_template(&template.page_name, &template.page)?;
        pages.get_template(&template.page_name)?.render(minijinja::value::Serde(view))
    };
    made().map_err(|fault| {
        let line = fault.line().map(|line| format!(", line {line}")).unwrap_or_default();
        let detail = fault.detail().map(|detail| format!(": {detail}")).unwrap_or_default();
        format!("{}{line}: {}{detail}", fault.name().unwrap_or(&template.page_name), fault.kind())
    })
}

#[cfg(test)]
mod tests;
