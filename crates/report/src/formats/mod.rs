//! One writer for each open format: CSV, JSON, Parquet, spreadsheet. Each takes the tables as they are.

mod arrow_schema;
mod csv_text;
mod json;
mod parquet_file;
mod schema;
mod workbook;
mod workbook_charts;

pub(crate) use csv_text::csv;
pub(crate) use json::tables_json;
pub(crate) use parquet_file::parquet;
pub use schema::results_schema;
pub(crate) use workbook::workbook;

#[cfg(test)]
mod tests;
