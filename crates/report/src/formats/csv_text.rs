//! A table as CSV: a row of names, a row of units, then the rows; nine significant digits, empty for missing.

use crate::rounding::nine_digits;
use crate::tables::{Cell, Table};
use std::io::{Result, Write};

/// Writes `table` into `out`.
pub(crate) fn csv(table: &Table<'_>, out: impl Write) -> Result<()> {
    let mut writer = ::csv::Writer::from_writer(out);
    writer.write_record(table.columns.iter().map(|column| column.name))?;
    writer.write_record(table.columns.iter().map(|column| column.unit))?;
    for row in 0..table.n_rows {
        for column in &table.columns {
            match column.cell(row) {
                Cell::Missing => writer.write_field("")?,
                Cell::Text(text) => writer.write_field(text.as_bytes())?,
                Cell::Whole(whole) => writer.write_field(whole.to_string())?,
                Cell::Number(number) => writer.write_field(nine_digits(number))?,
                Cell::Flag(flag) => writer.write_field(if flag { "true" } else { "false" })?,
            }
        }
        writer.write_record(None::<&[u8]>)?;
    }
    writer.flush()
}
