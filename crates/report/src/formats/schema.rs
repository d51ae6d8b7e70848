//! The JSON Schema of the JSON files in the results folder, as published in `docs/results.schema.json`.

use crate::conventions::Convention;
use filmgauge_results::{ClocksResult, CrosscheckResult, Finding, Provenance};
use schemars::JsonSchema;

/// One schema for all files: the property of a file's name without its ending describes that file.
#[derive(JsonSchema)]
#[expect(dead_code, reason = "only its form counts")]
struct ResultsFiles {
    /// `findings.json`.
    findings: Vec<Finding>,
    /// `crosscheck.json`.
    crosscheck: Vec<CrosscheckResult>,
    /// `clocks.json`; null where nothing ties two clocks.
    clocks: Option<ClocksResult>,
    /// `provenance.json`.
    provenance: Provenance,
    /// `tables.json`.
    tables: TablesFile,
}

/// Every table with the conventions of its numbers.
#[derive(JsonSchema)]
#[schemars(deny_unknown_fields)]
#[expect(dead_code, reason = "only its form counts")]
struct TablesFile {
    /// Number of the form's version; 1.
    schema: u32,
    /// What every number means.
    conventions: Vec<Convention>,
    /// Tables.
    tables: Vec<TableEntry>,
}

/// One table by columns.
#[derive(JsonSchema)]
#[schemars(deny_unknown_fields)]
#[expect(dead_code, reason = "only its form counts")]
struct TableEntry {
    /// Name, as of its CSV file.
    name: String,
    /// What its rows are.
    about: String,
    /// Number of rows: of values in each column.
    n_rows: u64,
    /// Columns in order.
    columns: Vec<ColumnEntry>,
}

/// One column.
#[derive(JsonSchema)]
#[schemars(deny_unknown_fields)]
#[expect(dead_code, reason = "only its form counts")]
struct ColumnEntry {
    /// Name, as in the CSV file.
    name: String,
    /// Unit; null for text, and where a column of its own says it.
    unit: Option<String>,
    /// What the values are.
    meaning: String,
    /// One value for each row; null where there is none.
    values: Vec<Option<Value>>,
}

/// A value.
#[derive(JsonSchema)]
#[serde(untagged)]
#[expect(dead_code, reason = "only its form counts")]
enum Value {
    Number(f64),
    Text(String),
    Flag(bool),
}

/// The schema.
#[must_use]
pub fn results_schema() -> serde_json::Value {
    schemars::schema_for!(ResultsFiles).to_value()
}
