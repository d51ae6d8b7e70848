//! Tests of all formats together: each holds every cell of every table, and the published form.

use super::*;
use crate::conventions::conventions;
use crate::fixture;
use crate::tables::{Cell, with_tables};
use filmgauge_results::{MotionRow, Results};
use parquet::file::reader::{FileReader, SerializedFileReader};
use parquet::record::Field;
use std::io::Cursor;

fn csv_of(results: &Results, name: &str) -> String {
    let mut text = Vec::new();
    with_tables(results, |tables| {
        let table = tables.iter().find(|table| table.name == name).unwrap();
        csv(table, &mut text)
    })
    .unwrap();
    String::from_utf8(text).unwrap()
}

#[test]
fn motion_columns_are_the_fields_of_the_row_in_order() {
    let mut by_field = ::csv::Writer::from_writer(Vec::new());
    by_field.serialize(MotionRow::default()).unwrap();
    let by_field = String::from_utf8(by_field.into_inner().unwrap()).unwrap();
    let ours = csv_of(&Results::default(), "motion");
    assert_eq!(ours.lines().next(), by_field.lines().next());
    assert!(ours.lines().nth(1).unwrap().starts_with("s,,,m,m,deg,m/s,m/s,deg/s,m/s2,m/s2,m,"), "{ours}");
}

#[test]
fn missing_values_are_empty_and_text_is_quoted() {
    let results = fixture::results();
    let motion = csv_of(&results, "motion");
    assert!(motion.contains("0.001,side,car,0.0144,,"), "{motion}");
    let marks = csv_of(&results, "marks");
    assert!(
        marks.starts_with(
            "camera,target,frame,time_s,x_px,y_px,sx_px,sy_px,rxy,state,trust,reason,off_x_px,off_y_px,ways_apart_px\n\
             ,,1,s,px,px,px,px,1,,1,,px,px,px\nside,C1,70,0,233.125,410.5,0.008,0.009,0.1,found,1,,0.004,-0.002,\n"
        ),
        "{marks}"
    );
    assert!(marks.contains("inferred,0.4,\"hidden, from body\",0.004,"), "{marks}");
    assert!(csv_of(&results, "gaps").ends_with("side,C2,90,118,hidden\n"));
    let events = "id,camera,frame,time_s,u_s,how,text\n,,1,s,s,,\n\
                  contact,side,70,0.000213,0.000061,found,kink of the run-up\n\
                  door opens,top,95,0.0251,0.00029,hand,\"left, rear\"\n";
    assert_eq!(csv_of(&results, "events"), events);
}

#[test]
fn parquet_reads_back_to_the_last_digit() {
    let results = fixture::results();
    let told = conventions(&results);
    with_tables(&results, |tables| -> std::io::Result<()> {
        for table in tables {
            let mut file = Vec::new();
            parquet(table, &told, &mut file)?;
            let reader = SerializedFileReader::new(bytes::Bytes::from(file)).unwrap();
            let said = reader.metadata().file_metadata().key_value_metadata().unwrap();
            assert!(said.iter().any(|entry| entry.key == "time base"), "{said:?}");
            let rows: Vec<_> = reader.get_row_iter(None).unwrap().map(Result::unwrap).collect();
            assert_eq!(rows.len(), table.n_rows, "{}", table.name);
            for (row, read) in rows.iter().enumerate() {
                for (column, (name, field)) in table.columns.iter().zip(read.get_column_iter()) {
                    let same = match (column.cell(row), field) {
                        (Cell::Missing, Field::Null) => true,
                        (Cell::Text(text), Field::Str(read)) => text == *read,
                        (Cell::Whole(whole), Field::Long(read)) => i64::from(whole) == *read,
                        (Cell::Number(number), Field::Double(read)) => number.to_bits() == read.to_bits(),
                        (Cell::Flag(flag), Field::Bool(read)) => flag == *read,
                        _ => false,
                    };
                    assert!(same && name == column.name, "{} {row} {name}: {field}", table.name);
                }
            }
        }
        Ok(())
    })
    .unwrap();
}

#[test]
fn json_keeps_to_its_schema() {
    let results = fixture::results();
    let mut text = Vec::new();
    with_tables(&results, |tables| tables_json(&results, tables, &mut text)).unwrap();
    let tables: serde_json::Value = serde_json::from_slice(&text).unwrap();
    let files = serde_json::json!({
        "findings": results.findings,
        "crosscheck": results.crosschecks,
        "clocks": results.clocks,
        "provenance": results.provenance,
        "tables": tables,
    });
    let validator = jsonschema::validator_for(&results_schema()).unwrap();
    let faults: Vec<String> =
        validator.iter_errors(&files).map(|fault| format!("{}: {fault}", fault.instance_path())).collect();
    assert!(faults.is_empty(), "{faults:?}");
    let marks = &tables["tables"][6];
    assert_eq!((&marks["name"], &marks["n_rows"]), (&"marks".into(), &results.marks.len().into()));
    assert_eq!(marks["columns"][4]["values"][0], 233.125);
    assert_eq!(marks["columns"][4]["unit"], "px");
}

#[test]
fn a_workbook_is_a_workbook_whatever_the_texts() {
    let mut results = fixture::results();
    results.findings[0].method = "=1+1 \u{1}\u{b} <b>&\u{fffe}".into();
    results.findings[1].method = "long ".repeat(20_000);
    results.test.title = "x".repeat(400);
    results.panels[0].title = "y".repeat(400);
    let made = || {
        let mut file = Cursor::new(Vec::new());
        with_tables(&results, |tables| workbook(&results, tables, &mut file)).unwrap();
        file.into_inner()
    };
    let file = made();
    assert!(file.starts_with(b"PK\x03\x04"));
    assert_eq!(file, made(), "same results, same bytes");
}

#[test]
fn nothing_is_written_as_nothing() {
    let results = Results::default();
    let mut file = Cursor::new(Vec::new());
    with_tables(&results, |tables| workbook(&results, tables, &mut file)).unwrap();
    with_tables(&results, |tables| parquet(&tables[0], &[], Vec::new())).unwrap();
}
