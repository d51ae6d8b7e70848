//! Motion from film as channels of an exchange folder: displacement, velocity, acceleration and pitch of each body.

use filmgauge_results::{MotionRow, Results};
use filmgauge_sensors::{Channel, ExchangeTest, TestObject, write_exchange};
use std::path::{Path, PathBuf};

/// Largest departure of a frame from even times, as a share of the step.
const UNEVEN_SHARE: f64 = 0.05;
/// Least number of frames of a stretch that is written.
const FEWEST: usize = 20;

type Column = fn(&MotionRow) -> Option<f64>;

/// Dimension and direction of the code, unit, what it is, and where it stands in the table of motion. The main location is VEHC with CG:
/// in the pattern of published codes, to be checked against the related electronic document in force.
const COLUMNS: [(&str, &str, &str, Column); 7] = [
    ("DSX", "m", "displacement along the path", |row| row.x_m),
    ("DSZ", "m", "displacement upwards", |row| row.z_m),
    ("VEX", "m/s", "velocity along the path", |row| row.vx_m_s),
    ("VEZ", "m/s", "velocity upwards", |row| row.vz_m_s),
    ("ACX", "m/s2", "acceleration along the path", |row| row.ax_m_s2),
    ("ACZ", "m/s2", "acceleration upwards", |row| row.az_m_s2),
    ("ANY", "deg", "pitch, nose up positive", |row| row.pitch_deg),
];

/// Writes an exchange folder of the first camera that gives each body's motion. Returns its header, or `None` where no body has one.
pub(super) fn write(folder: &Path, results: &Results) -> anyhow::Result<Option<PathBuf>> {
    let mut bodies: Vec<&str> = Vec::new();
    for row in &results.motion {
        if !bodies.contains(&row.body.as_str()) {
            bodies.push(&row.body);
        }
    }
    let mut channels = Vec::new();
    for (object, body) in ('1'..='9').zip(&bodies) {
        let Some(camera) = results.motion.iter().find(|row| row.body == **body && row.x_m.is_some()) else {
            continue;
        };
        let rows: Vec<&MotionRow> =
            results.motion.iter().filter(|row| row.body == **body && row.camera == camera.camera).collect();
        channels.extend(
            COLUMNS.iter().filter_map(|column| channel(object, body, &camera.camera, &rows, *column)),
        );
    }
    if channels.is_empty() {
        return Ok(None);
    }
    let plain = |c: char| if c.is_ascii_alphanumeric() || matches!(c, '-' | '_') { c } else { '_' };
    let test = ExchangeTest {
        name: format!("{}-film", results.test.id.chars().map(plain).collect::<String>()),
        title: results.test.title.clone(),
        kind: "motion from film".to_owned(),
        date: None,
        comments: vec![
            "measured on film; x forward, z up, pitch nose up; standard uncertainties in motion.csv"
                .to_owned(),
        ],
        objects: bodies
            .iter()
            .map(|body| TestObject { name: (*body).to_owned(), speed_m_s: None, mass_kg: None })
            .collect(),
    };
    Ok(Some(write_exchange(folder, &test, &channels)?))
}

/// The longest even stretch without a gap.
fn channel(
    object: char,
    body: &str,
    camera: &str,
    rows: &[&MotionRow],
    (code, unit, what, column): (&str, &str, &str, Column),
) -> Option<Channel> {
    let points: Vec<(f64, Option<f64>)> = rows.iter().map(|row| (row.time_s, column(row))).collect();
    let mut steps_s: Vec<f64> = points.windows(2).map(|pair| pair[1].0 - pair[0].0).collect();
    steps_s.sort_by(f64::total_cmp);
    let usual_s = *steps_s.get(steps_s.len() / 2)?;
    let mut best: &[(f64, Option<f64>)] = &[];
    let mut from = 0;
    for at in 0..=points.len() {
        let breaks = at == points.len()
            || points[at].1.is_none()
            || (at > from && (points[at].0 - points[at - 1].0 - usual_s).abs() > UNEVEN_SHARE * usual_s);
        if breaks {
            if at - from > best.len() {
                best = &points[from..at];
            }
            from = if at < points.len() && points[at].1.is_some() { at } else { at + 1 };
        }
    }
    if best.len() < FEWEST {
        return None;
    }
    #[expect(clippy::cast_precision_loss, reason = "frame counts stay far below 2^53")]
    let step_s = (best[best.len() - 1].0 - best[0].0) / (best.len() - 1) as f64;
    Some(Channel {
        code: format!("{object}0VEHCCG0000{code}0"),
        unit: unit.to_owned(),
        start_s: best[0].0,
        step_s,
        values: best.iter().filter_map(|(_, value)| *value).collect(),
        file: PathBuf::new(),
        comments: vec![format!("{what} of {body}, from film, camera {camera}; smoothed, no frequency class")],
        steps: Vec::new(),
    })
}
