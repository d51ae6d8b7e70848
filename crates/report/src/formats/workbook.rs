//! The results as a spreadsheet workbook (Office Open XML, ECMA-376): one sheet a table, real numbers, charts of the
//! sheet's diagrams, conventions first. Its date of making is fixed: the same results give the same bytes.

use super::workbook_charts::charts;
use crate::conventions::conventions;
use crate::tables::{Cell, Table};
use filmgauge_results::Results;
use rust_xlsxwriter::{DocProperties, ExcelDateTime, Format, Workbook, Worksheet, XlsxError};
use std::io::{Seek, Write};

type Result<T> = std::result::Result<T, XlsxError>;

/// Rows of one sheet, a limit of the format, less those of names and units.
const MOST_ROWS: usize = 1_048_576 - HEAD_ROWS as usize;
/// Rows of names and units.
pub(super) const HEAD_ROWS: u32 = 2;
/// Letters of one cell, a limit of the format.
const MOST_LETTERS: usize = 32_000;
const TABLE_WIDTH: f64 = 13.0;

/// Writes `tables` with the curves of `results` into `out`.
pub(crate) fn workbook(
    results: &Results,
    tables: &[Table<'_>],
    out: impl Write + Seek + Send,
) -> std::io::Result<()> {
    write(results, tables, out).map_err(std::io::Error::other)
}

fn write(results: &Results, tables: &[Table<'_>], out: impl Write + Seek + Send) -> Result<()> {
    let mut book = Workbook::new();
    let properties = DocProperties::new()
        .set_title(format!("{}: results", results.test.id))
        .set_author(&results.provenance.program)
        .set_creation_datetime(&ExcelDateTime::from_ymd(2000, 1, 1)?);
    book.set_properties(&properties);
    let looks = Looks::default();
    told(book.add_worksheet(), results, tables, &looks)?;
    charts(&mut book, &results.panels, &looks)?;
    for table in tables {
        let mut from = 0;
        for number in 1.. {
            let rows = from..(from + MOST_ROWS).min(table.n_rows);
            let name = if number == 1 { table.name.to_owned() } else { format!("{} {number}", table.name) };
            let sheet = book.add_worksheet_with_low_memory()?;
            sheet.set_name(capital(&name))?;
            fill(sheet, table, rows.clone(), &looks)?;
            from = rows.end;
            if from >= table.n_rows {
                break;
            }
        }
    }
    book.save_to_writer(out)
}

/// How cells look.
pub(super) struct Looks {
    pub(super) head: Format,
    pub(super) unit: Format,
    wrapped: Format,
}

impl Default for Looks {
    fn default() -> Self {
        let wrapped = Format::new().set_text_wrap().set_align(rust_xlsxwriter::FormatAlign::Top);
        Self { head: Format::new().set_bold(), unit: Format::new().set_italic(), wrapped }
    }
}

/// The first sheet: conventions, then every column with its unit and meaning.
fn told(sheet: &mut Worksheet, results: &Results, tables: &[Table<'_>], looks: &Looks) -> Result<()> {
    sheet.set_name("Conventions")?;
    for (column, width) in [(0, 28.0), (1, 22.0), (2, 10.0), (3, 100.0)] {
        sheet.set_column_width(column, width)?;
    }
    let mut row = 0;
    for entry in conventions(results) {
        sheet.write_string_with_format(row, 0, &entry.topic, &looks.head)?;
        sheet.write_string_with_format(row, 3, cut(&entry.text), &looks.wrapped)?;
        row += 1;
    }
    row += 1;
    for (column, head) in [(0, "sheet"), (1, "column"), (2, "unit"), (3, "meaning")] {
        sheet.write_string_with_format(row, column, head, &looks.head)?;
    }
    for table in tables {
        for column in &table.columns {
            row += 1;
            sheet.write_string(row, 0, capital(table.name))?;
            sheet.write_string(row, 1, column.name)?;
            sheet.write_string(row, 2, column.unit)?;
            sheet.write_string(row, 3, column.meaning)?;
        }
    }
    Ok(())
}

fn fill(sheet: &mut Worksheet, table: &Table<'_>, rows: std::ops::Range<usize>, looks: &Looks) -> Result<()> {
    sheet.set_freeze_panes(HEAD_ROWS, 0)?;
    for (at, column) in (0..).zip(&table.columns) {
        sheet.set_column_width(at, TABLE_WIDTH)?;
        sheet.write_string_with_format(0, at, column.name, &looks.head)?;
    }
    for (at, column) in (0..).zip(&table.columns) {
        sheet.write_string_with_format(1, at, column.unit, &looks.unit)?;
    }
    for (line, row) in (HEAD_ROWS..).zip(rows) {
        for (at, column) in (0..).zip(&table.columns) {
            match column.cell(row) {
                Cell::Missing => {}
                Cell::Text(text) => {
                    sheet.write_string(line, at, cut(&text))?;
                }
                Cell::Whole(whole) => {
                    sheet.write_number(line, at, whole)?;
                }
                Cell::Number(number) => {
                    sheet.write_number(line, at, number)?;
                }
                Cell::Flag(flag) => {
                    sheet.write_boolean(line, at, flag)?;
                }
            }
        }
    }
    Ok(())
}

/// As much of a text as a cell may hold.
fn cut(text: &str) -> String {
    if text.chars().count() <= MOST_LETTERS {
        return text.to_owned();
    }
    text.chars().take(MOST_LETTERS).chain(['…']).collect()
}

pub(super) fn capital(name: &str) -> String {
    let mut letters = name.chars();
    letters.next().map(|first| first.to_ascii_uppercase()).into_iter().chain(letters).collect()
}
