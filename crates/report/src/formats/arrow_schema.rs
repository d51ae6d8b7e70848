//! The Arrow schema that a Parquet file carries beside its own, so that readers show unit and meaning at each column.
//!
//! Apache Arrow columnar format, "Encapsulated message format", with the tables of `Schema.fbs` and `Message.fbs`; in base64
//! under the key `ARROW:schema`, as Arrow's own writers put it. Slots and numbers of types are those of the two files, from
//! memory; the reference test reads them with another implementation.

use crate::tables::{Column, Kind, Table};
use base64::Engine;
use base64::engine::general_purpose::STANDARD;
use flatbuffers::{FlatBufferBuilder, UnionWIPOffset, WIPOffset};
use parquet::file::metadata::KeyValue;

/// Key of the file's metadata.
pub(crate) const KEY: &str = "ARROW:schema";
/// Begins an encapsulated message.
const CONTINUES: [u8; 4] = [0xff; 4];
/// Messages are a multiple of so many bytes.
const ALIGNED: usize = 8;

/// What a flat buffer's table is while it is made; the library's own mark for tables without generated code.
type Made = WIPOffset<flatbuffers::TableFinishedWIPOffset>;

/// Slot of a table's n-th field, from 0.
const fn slot(n: u16) -> u16 {
    4 + 2 * n
}

/// The schema of `table` in base64; what is `told` of the table as a whole stands in it too, since readers that take the
/// schema look nowhere else.
pub(crate) fn arrow_schema(table: &Table<'_>, told: &[KeyValue]) -> String {
    let mut make = FlatBufferBuilder::new();
    let told: Vec<Made> = told
        .iter()
        .map(|told| entry(&mut make, &told.key, told.value.as_deref().unwrap_or_default()))
        .collect();
    let told = make.create_vector(&told);
    let fields: Vec<Made> = table.columns.iter().map(|column| field(&mut make, column)).collect();
    let fields = make.create_vector(&fields);
    let start = make.start_table();
    make.push_slot_always(slot(1), fields);
    make.push_slot_always(slot(2), told);
    let schema = make.end_table(start);
    let start = make.start_table();
    // Version 5 of the metadata; a header of kind 1, a schema; no body.
    make.push_slot_always(slot(0), 4_i16);
    make.push_slot_always(slot(1), 1_u8);
    make.push_slot_always(slot(2), schema);
    let message = make.end_table(start);
    make.finish_minimal(message);
    let mut body = make.finished_data().to_vec();
    body.resize(body.len().next_multiple_of(ALIGNED), 0);
    // A table has a few dozen columns: some thousand bytes.
    let length = i32::try_from(body.len()).unwrap_or(i32::MAX);
    STANDARD.encode([&CONTINUES[..], &length.to_le_bytes(), &body].concat())
}

fn field(make: &mut FlatBufferBuilder<'_>, column: &Column<'_>) -> Made {
    let name = make.create_string(column.name);
    let told = [("unit", column.unit), ("meaning", column.meaning)];
    let told: Vec<Made> =
        told.iter().filter(|(_, text)| !text.is_empty()).map(|(key, text)| entry(make, key, text)).collect();
    let told = make.create_vector(&told);
    let children = make.create_vector::<Made>(&[]);
    let (number, kind) = kind(make, column.kind);
    let start = make.start_table();
    make.push_slot_always(slot(0), name);
    make.push_slot_always(slot(1), column.may_miss);
    make.push_slot_always(slot(2), number);
    make.push_slot_always(slot(3), kind);
    make.push_slot_always(slot(5), children);
    make.push_slot_always(slot(6), told);
    make.end_table(start)
}

fn entry(make: &mut FlatBufferBuilder<'_>, key: &str, text: &str) -> Made {
    let (key, text) = (make.create_string(key), make.create_string(text));
    let start = make.start_table();
    make.push_slot_always(slot(0), key);
    make.push_slot_always(slot(1), text);
    make.end_table(start)
}

/// Number of the type in the union of types, and its table.
fn kind(make: &mut FlatBufferBuilder<'_>, kind: Kind) -> (u8, WIPOffset<UnionWIPOffset>) {
    let start = make.start_table();
    let number = match kind {
        Kind::Whole => {
            make.push_slot_always(slot(0), 64_i32);
            make.push_slot_always(slot(1), true);
            2
        }
        Kind::Number => {
            // Double precision.
            make.push_slot_always(slot(0), 2_i16);
            3
        }
        Kind::Text => 5,
        Kind::Flag => 6,
    };
    (number, make.end_table(start).as_union_value())
}
