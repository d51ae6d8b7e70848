//! The open formats, read by the readers that labs use: pyarrow, DuckDB, openpyxl, pandas, and a reader of exchange
//! folders written from the format's description (ISO/TS 13499) alone.

use crate::python::ask;
use anyhow::{Context, Result, ensure};
use filmgauge_results::{
    Curve, CurvePoint, EventRow, Evidence, Finding, FindingSource, MarkRow, MotionRow, Panel, Results,
};
use filmgauge_sensors::{Channel, ExchangeTest, TestObject, write_exchange};
use serde_json::{Map, Value, json};
use std::path::PathBuf;

/// Numbers whose last digit is easily lost: sums, thirds, the smallest and greatest that a file may hold.
fn awkward(n: u32) -> f64 {
    match n % 7 {
        0 => 0.1 + 0.2,
        1 => -1.0 / 3.0,
        2 => f64::MIN_POSITIVE,
        3 => 1.797_693_134_862_315_7e308,
        4 => 123_456_789.012_345_67,
        5 => f64::from(n) * 1e-3,
        _ => -f64::from(n) / 997.0,
    }
}

fn motion(n: u32) -> MotionRow {
    MotionRow {
        time_s: f64::from(n) * 1e-3 - 0.07,
        camera: "side".into(),
        body: "car".into(),
        x_m: (!n.is_multiple_of(5)).then(|| awkward(n)),
        u_x_m: (!n.is_multiple_of(5)).then(|| awkward(n + 3).abs()),
        pitch_deg: (!n.is_multiple_of(3)).then(|| awkward(n + 5)),
        state: if n.is_multiple_of(4) { "bridged" } else { "measured" }.into(),
        ..MotionRow::default()
    }
}

fn results() -> Results {
    let mark = |n: u32| MarkRow {
        camera: "side".into(),
        target: "C1, \"upper\"\nleft ±".into(),
        frame: n,
        time_s: awkward(n),
        x_px: awkward(n + 1),
        sx_px: 0.008,
        state: "found".into(),
        trust: 1.0,
        reason: if n.is_multiple_of(2) { String::new() } else { "=hidden()".into() },
        ..MarkRow::default()
    };
    let finding = |n: u32| Finding {
        name: "contact_speed".into(),
        subject: "car".into(),
        source: FindingSource::Film,
        value: (n != 1).then(|| awkward(n)),
        unit: "m/s".into(),
        uncertainty: (n != 1).then_some(0.05),
        method: "slope of the run-up".into(),
        evidence: Evidence {
            camera: Some("side".into()),
            frames: Some([3, 70]),
            settings: "degree 1".into(),
        },
        budget: Vec::new(),
        caution: None,
        reason: (n == 1).then(|| "too few frames".into()),
        absent: n == 1,
    };
    let event = |n: u32| EventRow {
        id: format!("event {n}"),
        camera: "side".into(),
        frame: n,
        time_s: awkward(n),
        u_s: 2.9e-4,
        how: "hand".into(),
        text: String::new(),
    };
    let rows: Vec<MotionRow> = (0..400).map(motion).collect();
    let points = rows.iter().map(|row| CurvePoint { time_s: row.time_s, value: row.pitch_deg }).collect();
    let curve = Curve { label: "car, film".into(), source: "film".into(), points, band: None };
    let panel = Panel { title: "Pitch".into(), unit: "deg".into(), curves: vec![curve], markers: Vec::new() };
    let mut results = Results { panels: vec![panel], motion: rows, ..Results::default() };
    results.marks = (0..300).map(mark).collect();
    results.findings = (0..3).map(finding).collect();
    results.events = (0..9).map(event).collect();
    results.test.id = "HB-014".into();
    results
}

/// Columns to compare: name, unit and the values as they were measured.
fn columns(results: &Results) -> Result<Value> {
    let column = |unit: &str, values: Vec<Value>| json!({ "unit": unit, "values": values });
    let motion = |get: fn(&MotionRow) -> Value| results.motion.iter().map(get).collect();
    let marks = |get: fn(&MarkRow) -> Value| results.marks.iter().map(get).collect();
    let findings = |get: fn(&Finding) -> Value| results.findings.iter().map(get).collect();
    let events = |get: fn(&EventRow) -> Value| results.events.iter().map(get).collect();
    let text = |text: &str| if text.is_empty() { Value::Null } else { json!(text) };
    let reasons: Vec<Value> = results.marks.iter().map(|row| text(&row.reason)).collect();
    let mut tables = Map::new();
    tables.insert(
        "motion".into(),
        json!({
            "time_s": column("s", motion(|row| json!(row.time_s))),
            "x_m": column("m", motion(|row| json!(row.x_m))),
            "u_x_m": column("m", motion(|row| json!(row.u_x_m))),
            "pitch_deg": column("deg", motion(|row| json!(row.pitch_deg))),
            "yaw_deg": column("deg", motion(|row| json!(row.yaw_deg))),
            "state": column("", motion(|row| json!(row.state))),
        }),
    );
    tables.insert(
        "marks".into(),
        json!({
            "target": column("", marks(|row| json!(row.target))),
            "frame": column("1", marks(|row| json!(row.frame))),
            "time_s": column("s", marks(|row| json!(row.time_s))),
            "x_px": column("px", marks(|row| json!(row.x_px))),
            "state": column("", marks(|row| json!(row.state))),
            "reason": column("", reasons),
        }),
    );
    tables.insert(
        "findings".into(),
        json!({
            "value": column("", findings(|row| json!(row.value))),
            "unit": column("", findings(|row| json!(row.unit))),
            "uncertainty": column("", findings(|row| json!(row.uncertainty))),
            "last_frame": column("1", findings(|row| json!(row.evidence.frames.map(|frames| frames[1])))),
            "reason": column("", findings(|row| json!(row.reason))),
            "absent": column("", findings(|row| json!(row.absent))),
        }),
    );
    tables.insert(
        "events".into(),
        json!({
            "id": column("", events(|row| json!(row.id))),
            "time_s": column("s", events(|row| json!(row.time_s))),
        }),
    );
    Ok(Value::Object(tables))
}

fn exchange_folder(dir: &std::path::Path) -> Result<(PathBuf, Channel)> {
    let channel = Channel {
        code: "10VEHCCG0000VEX0".into(),
        unit: "m/s".into(),
        start_s: -0.07,
        step_s: 0.001,
        values: (0..200).map(awkward).collect(),
        file: PathBuf::new(),
        comments: vec!["speed along the path of car, from film".into()],
        steps: Vec::new(),
    };
    let test = ExchangeTest {
        name: "HB-014-film".into(),
        title: "Hatchback into a parked sweeper".into(),
        kind: "motion from film".into(),
        date: None,
        comments: Vec::new(),
        objects: vec![TestObject { name: "car".into(), speed_m_s: None, mass_kg: None }],
    };
    Ok((write_exchange(dir, &test, std::slice::from_ref(&channel))?, channel))
}

#[test]
fn other_readers_read_what_was_measured() -> Result<()> {
    let dir = tempfile::tempdir()?;
    let results = results();
    filmgauge_report::write_results(&dir.path().join("results"), &results, None)?;
    let (header, channel) = exchange_folder(&dir.path().join("film"))?;
    let question = json!({
        "folder": dir.path().join("results"), "tables": columns(&results)?, "exchange": header,
    });
    let answer = ask("formats.py", &question)?;
    println!("{} cells compared", answer["compared"]);
    ensure!(answer["found"] == json!([]), "{:#}", answer["found"]);
    ensure!(answer["compared"].as_u64().is_some_and(|n| n > 20_000), "{}", answer["compared"]);
    ensure!(answer["charts"] == 1, "{}", answer["charts"]);
    let topics = answer["conventions"].as_array().context("conventions")?;
    for topic in ["time base", "frame numbers", "axes of film", "states of marks", "uncertainty"] {
        ensure!(topics.contains(&json!(topic)), "{topic} is not in {topics:?}");
    }
    let read = &answer["exchange"]["channels"][&channel.code];
    ensure!(read["values"] == json!(channel.values), "channel values differ");
    ensure!(read["unit"] == "m/s" && read["step_s"] == 0.001 && read["start_s"] == -0.07, "{read:#}");
    Ok(())
}
