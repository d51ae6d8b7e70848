//! Every table of the results, once: columns with unit and meaning, and their cells. The writers of CSV, spreadsheets,
//! Parquet and JSON all take it from here, so that they cannot differ.

mod crosschecks;
mod findings;
mod instants;
mod marks;
mod motion;
mod table;

pub(crate) use instants::STEP_NUMBERS;
pub(crate) use marks::{MARK_CHECKS, MARK_NUMBERS};
pub(crate) use motion::MOTION_NUMBERS;
pub(crate) use table::{Cell, Column, Kind, Of, Table};

use filmgauge_results::Results;

/// Passes every table on, in reading order, to `each`.
///
/// # Errors
/// The first that `each` ends with.
pub(crate) fn with_tables<Fault>(
    results: &Results,
    mut each: impl FnMut(&[Table<'_>]) -> Result<(), Fault>,
) -> Result<(), Fault> {
    let budgets = findings::budget_rows(&results.findings);
    each(&[
        findings::findings(&results.findings),
        findings::budgets(&budgets),
        crosschecks::crosschecks(&results.crosschecks),
        instants::events(&results.events),
        marks::gaps(&results.gaps),
        motion::motion(&results.motion),
        marks::marks(&results.marks),
        instants::steps(&results.steps),
    ])
}
