//! A table as a Parquet file (Apache Parquet format, version 2): columns with all digits, null for missing, conventions
//! and units as key-value metadata. No time of writing, no compression: the same rows give the same bytes.

use super::arrow_schema;
use crate::conventions::Convention;
use crate::tables::{Cell, Column, Kind, Table};
use parquet::basic::{LogicalType, Repetition, Type as Physical};
use parquet::data_type::{BoolType, ByteArray, ByteArrayType, DataType, DoubleType, Int64Type};
use parquet::errors::Result;
use parquet::file::metadata::KeyValue;
use parquet::file::properties::{EnabledStatistics, WriterProperties};
use parquet::file::writer::{SerializedColumnWriter, SerializedFileWriter};
use parquet::schema::types::Type;
use std::io::Write;
use std::sync::Arc;

/// Rows of one group: what a reader takes in at a time.
const GROUP_ROWS: usize = 100_000;

/// Writes `table` into `out`.
pub(crate) fn parquet(
    table: &Table<'_>,
    conventions: &[Convention],
    out: impl Write + Send,
) -> std::io::Result<()> {
    write(table, conventions, out).map_err(std::io::Error::other)
}

fn write(table: &Table<'_>, conventions: &[Convention], out: impl Write + Send) -> Result<()> {
    let properties = WriterProperties::builder()
        .set_created_by(format!("filmgauge {}", env!("CARGO_PKG_VERSION")))
        .set_statistics_enabled(EnabledStatistics::Chunk)
        .set_key_value_metadata(Some(told(table, conventions)))
        .build();
    let fields = table.columns.iter().map(field).collect::<Result<_>>()?;
    let schema = Type::group_type_builder(table.name).with_fields(fields).build()?;
    let mut file = SerializedFileWriter::new(out, Arc::new(schema), Arc::new(properties))?;
    for from in (0..table.n_rows).step_by(GROUP_ROWS) {
        let rows = from..(from + GROUP_ROWS).min(table.n_rows);
        let mut group = file.next_row_group()?;
        for column in &table.columns {
            if let Some(mut writer) = group.next_column()? {
                values(column, rows.clone(), &mut writer)?;
                writer.close()?;
            }
        }
        group.close()?;
    }
    file.close()?;
    Ok(())
}

/// Conventions by topic, then `unit.COLUMN` and `meaning.COLUMN`.
fn told(table: &Table<'_>, conventions: &[Convention]) -> Vec<KeyValue> {
    let mut told = vec![KeyValue::new("table".to_owned(), table.about.to_owned())];
    told.extend(conventions.iter().map(|entry| KeyValue::new(entry.topic.clone(), entry.text.clone())));
    for column in &table.columns {
        if !column.unit.is_empty() {
            told.push(KeyValue::new(format!("unit.{}", column.name), column.unit.to_owned()));
        }
        told.push(KeyValue::new(format!("meaning.{}", column.name), column.meaning.to_owned()));
    }
    // The schema puts unit and meaning at each column; the rest is for readers that know no Arrow.
    told.insert(0, KeyValue::new(arrow_schema::KEY.to_owned(), arrow_schema::arrow_schema(table, &told)));
    told
}

fn field(column: &Column<'_>) -> Result<Arc<Type>> {
    let (physical, logical) = match column.kind {
        Kind::Text => (Physical::BYTE_ARRAY, Some(LogicalType::String)),
        Kind::Whole => (Physical::INT64, None),
        Kind::Number => (Physical::DOUBLE, None),
        Kind::Flag => (Physical::BOOLEAN, None),
    };
    let repetition = if column.may_miss { Repetition::OPTIONAL } else { Repetition::REQUIRED };
    let field = Type::primitive_type_builder(column.name, physical)
        .with_repetition(repetition)
        .with_logical_type(logical)
        .build()?;
    Ok(Arc::new(field))
}

fn values(
    column: &Column<'_>,
    rows: std::ops::Range<usize>,
    writer: &mut SerializedColumnWriter<'_>,
) -> Result<()> {
    let cells = rows.map(|row| column.cell(row));
    match column.kind {
        Kind::Text => batch::<ByteArrayType>(column, cells, writer, |cell| match cell {
            Cell::Text(text) => Some(ByteArray::from(text.as_bytes().to_vec())),
            _ => None,
        }),
        Kind::Whole => batch::<Int64Type>(column, cells, writer, |cell| match cell {
            Cell::Whole(whole) => Some(i64::from(whole)),
            _ => None,
        }),
        Kind::Number => batch::<DoubleType>(column, cells, writer, |cell| match cell {
            Cell::Number(number) => Some(number),
            _ => None,
        }),
        Kind::Flag => batch::<BoolType>(column, cells, writer, |cell| match cell {
            Cell::Flag(flag) => Some(flag),
            _ => None,
        }),
    }
}

/// Values that are there, and for each row whether one is.
fn batch<'a, Of: DataType>(
    column: &Column<'_>,
    cells: impl Iterator<Item = Cell<'a>>,
    writer: &mut SerializedColumnWriter<'_>,
    value: impl Fn(Cell<'a>) -> Option<Of::T>,
) -> Result<()> {
    let all: Vec<Option<Of::T>> = cells.map(value).collect();
    let levels: Vec<i16> = all.iter().map(|value| i16::from(value.is_some())).collect();
    let there: Vec<Of::T> = all.into_iter().flatten().collect();
    let levels = column.may_miss.then_some(levels.as_slice());
    writer.typed::<Of>().write_batch(&there, levels, None)?;
    Ok(())
}
