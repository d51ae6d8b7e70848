//! The sheet: one self-contained HTML page with style, drawings and pictures inside it, made from a template.

mod checks;
pub use checks::{agreement_words, beside_words};
mod clocks;
mod curves;
mod events;
mod findings;
mod head;
mod marks;
mod picture;
mod settings;
mod strip;

use crate::ReportError;
use crate::finite::check_finite;
use crate::words;
use filmgauge_results::Results;
use serde::Serialize;

/// The name ends in .html, which switches the template engine's escaping on.
const TEMPLATE_NAME: &str = "sheet.html";
const TEMPLATE: &str = include_str!("../sheet.html.j2");
const STYLE: &str = concat!(include_str!("../sheet.css"), include_str!("../plot/plot.css"));

/// Everything the template may show, in reading order.
#[derive(Serialize)]
struct SheetView {
    style: &'static str,
    head: head::HeadView,
    cautions: &'static [&'static str],
    urgent: Vec<head::NoticeView>,
    findings: Vec<findings::FindingView>,
    interval_note: &'static str,
    events: Vec<events::EventView>,
    crosschecks: Vec<checks::CrosscheckView>,
    clocks: Option<clocks::ClocksView>,
    curves: Vec<curves::PanelView>,
    curves_note: &'static str,
    strip: Vec<strip::PictureView>,
    strip_note: &'static str,
    cameras: Vec<settings::CameraView>,
    channels: Vec<settings::ChannelView>,
    budgets: Vec<findings::BudgetView>,
    budget_note: &'static str,
    targets: Vec<marks::TargetView>,
    notes: Vec<head::NoticeView>,
    provenance: settings::ProvenanceView,
}

/// The sheet as one HTML page that fetches nothing from outside. Units follow the test. The same results give the
/// same bytes.
///
/// # Errors
/// [`ReportError::NotFinite`] when a number is NaN or infinite; [`ReportError::Make`] when a picture or the page
/// cannot be encoded, which is a fault of this program.
pub fn sheet_html(results: &Results) -> Result<String, ReportError> {
    check_finite(results)?;
    let system = results.test.units;
    let view = SheetView {
        style: STYLE,
        head: head::head(results),
        cautions: words::CAUTIONS,
        urgent: head::urgent(&results.notices),
        findings: findings::findings(results),
        interval_note: words::INTERVAL_NOTE,
        events: events::events(&results.events),
        crosschecks: checks::crosschecks(&results.crosschecks, system),
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
        notes: head::notes(&results.notices),
        provenance: settings::provenance(&results.provenance),
    };
    page(view).map_err(|fault| ReportError::make("the sheet", format!("{fault:#}")))
}

fn page(view: SheetView) -> Result<String, minijinja::Error> {
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
    pages.add_template(TEMPLATE_NAME, TEMPLATE)?;
    pages.get_template(TEMPLATE_NAME)?.render(minijinja::value::Serde(view))
}

#[cfg(test)]
mod tests;
