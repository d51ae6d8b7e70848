//! `tables.json`: conventions, and every table by columns, with all digits. Written as it goes, never held whole.

use crate::conventions::{Convention, conventions};
use crate::tables::{Cell, Column, Table};
use filmgauge_results::Results;
use serde::ser::{SerializeSeq, SerializeStruct};
use serde::{Serialize, Serializer};
use std::io::{Result, Write};

/// Number of the form's version.
pub(super) const VERSION: u32 = 1;

/// Writes the tables of `results` into `out`.
pub(crate) fn tables_json(results: &Results, tables: &[Table<'_>], mut out: impl Write) -> Result<()> {
    let file = File { schema: VERSION, conventions: conventions(results), tables };
    serde_json::to_writer(&mut out, &file).map_err(std::io::Error::other)?;
    out.write_all(b"\n")?;
    out.flush()
}

#[derive(Serialize)]
struct File<'a, 't> {
    schema: u32,
    conventions: Vec<Convention>,
    tables: &'a [Table<'t>],
}

impl Serialize for Table<'_> {
    fn serialize<S: Serializer>(&self, serializer: S) -> std::result::Result<S::Ok, S::Error> {
        let mut table = serializer.serialize_struct("Table", 4)?;
        table.serialize_field("name", self.name)?;
        table.serialize_field("about", self.about)?;
        table.serialize_field("n_rows", &self.n_rows)?;
        let columns: Vec<_> =
            self.columns.iter().map(|column| ColumnOf { column, n_rows: self.n_rows }).collect();
        table.serialize_field("columns", &columns)?;
        table.end()
    }
}

struct ColumnOf<'a, 't> {
    column: &'a Column<'t>,
    n_rows: usize,
}

impl Serialize for ColumnOf<'_, '_> {
    fn serialize<S: Serializer>(&self, serializer: S) -> std::result::Result<S::Ok, S::Error> {
        let mut column = serializer.serialize_struct("Column", 4)?;
        column.serialize_field("name", self.column.name)?;
        column.serialize_field("unit", &Some(self.column.unit).filter(|unit| !unit.is_empty()))?;
        column.serialize_field("meaning", self.column.meaning)?;
        column.serialize_field("values", &Values(self))?;
        column.end()
    }
}

struct Values<'a, 't>(&'a ColumnOf<'a, 't>);

impl Serialize for Values<'_, '_> {
    fn serialize<S: Serializer>(&self, serializer: S) -> std::result::Result<S::Ok, S::Error> {
        let mut values = serializer.serialize_seq(Some(self.0.n_rows))?;
        for row in 0..self.0.n_rows {
            match self.0.column.cell(row) {
                Cell::Missing => values.serialize_element(&None::<f64>)?,
                Cell::Text(text) => values.serialize_element(&text)?,
                Cell::Whole(whole) => values.serialize_element(&whole)?,
                Cell::Number(number) => values.serialize_element(&number)?,
                Cell::Flag(flag) => values.serialize_element(&flag)?,
            }
        }
        values.end()
    }
}
