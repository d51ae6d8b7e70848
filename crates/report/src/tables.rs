//! The CSV tables: marks, gaps, events, steps and motion, with nine significant digits and empty fields for missing values.

use crate::ReportError;
use crate::rounding::nine_digits;
use filmgauge_results::{EventRow, GapRow, MarkRow, MotionRow, StepRow};

/// A column: its head, and how to read it from a row.
pub(crate) type Column<Row, Value> = (&'static str, fn(&Row) -> Value);

/// Numeric columns of `marks.csv` after camera, target and frame, in order, and trust.
pub(crate) const MARK_NUMBERS: [Column<MarkRow, f64>; 7] = [
    ("time_s", |row| row.time_s),
    ("x_px", |row| row.x_px),
    ("y_px", |row| row.y_px),
    ("sx_px", |row| row.sx_px),
    ("sy_px", |row| row.sy_px),
    ("rxy", |row| row.rxy),
    ("trust", |row| row.trust),
];

/// Last columns of `marks.csv`: what speaks for a mark, or against it.
pub(crate) const MARK_CHECKS: [Column<MarkRow, Option<f64>>; 3] = [
    ("off_x_px", |row| row.off_x_px),
    ("off_y_px", |row| row.off_y_px),
    ("ways_apart_px", |row| row.ways_apart_px),
];

/// Numeric columns of `motion.csv` after time, camera and body, in the order of the fields of [`MotionRow`].
pub(crate) const MOTION_NUMBERS: [Column<MotionRow, Option<f64>>; 30] = [
    ("x_m", |row| row.x_m),
    ("z_m", |row| row.z_m),
    ("pitch_deg", |row| row.pitch_deg),
    ("vx_m_s", |row| row.vx_m_s),
    ("vz_m_s", |row| row.vz_m_s),
    ("pitch_rate_deg_s", |row| row.pitch_rate_deg_s),
    ("ax_m_s2", |row| row.ax_m_s2),
    ("az_m_s2", |row| row.az_m_s2),
    ("u_x_m", |row| row.u_x_m),
    ("u_z_m", |row| row.u_z_m),
    ("u_pitch_deg", |row| row.u_pitch_deg),
    ("u_vx_m_s", |row| row.u_vx_m_s),
    ("u_vz_m_s", |row| row.u_vz_m_s),
    ("u_pitch_rate_deg_s", |row| row.u_pitch_rate_deg_s),
    ("u_ax_m_s2", |row| row.u_ax_m_s2),
    ("u_az_m_s2", |row| row.u_az_m_s2),
    ("y_m", |row| row.y_m),
    ("yaw_deg", |row| row.yaw_deg),
    ("vy_m_s", |row| row.vy_m_s),
    ("yaw_rate_deg_s", |row| row.yaw_rate_deg_s),
    ("ay_m_s2", |row| row.ay_m_s2),
    ("u_y_m", |row| row.u_y_m),
    ("u_yaw_deg", |row| row.u_yaw_deg),
    ("u_vy_m_s", |row| row.u_vy_m_s),
    ("u_yaw_rate_deg_s", |row| row.u_yaw_rate_deg_s),
    ("u_ay_m_s2", |row| row.u_ay_m_s2),
    ("roll_deg", |row| row.roll_deg),
    ("roll_rate_deg_s", |row| row.roll_rate_deg_s),
    ("u_roll_deg", |row| row.u_roll_deg),
    ("u_roll_rate_deg_s", |row| row.u_roll_rate_deg_s),
];

/// `marks.csv`: one line for each mark.
pub(crate) fn marks_csv(marks: &[MarkRow]) -> Result<Vec<u8>, ReportError> {
    let header = [
        "camera",
        "target",
        "frame",
        "time_s",
        "x_px",
        "y_px",
        "sx_px",
        "sy_px",
        "rxy",
        "state",
        "trust",
        "reason",
        "off_x_px",
        "off_y_px",
        "ways_apart_px",
    ];
    table("marks.csv", &header, marks, |row| {
        let mut fields = vec![row.camera.clone(), row.target.clone(), row.frame.to_string()];
        fields.extend(MARK_NUMBERS[..6].iter().map(|(_, get)| nine_digits(get(row))));
        fields.extend([row.state.clone(), nine_digits(row.trust), row.reason.clone()]);
        fields.extend(MARK_CHECKS.iter().map(|(_, get)| get(row).map_or_else(String::new, nine_digits)));
        fields
    })
}

/// `gaps.csv`: one line for each stretch without marks.
pub(crate) fn gaps_csv(gaps: &[GapRow]) -> Result<Vec<u8>, ReportError> {
    let header = ["camera", "target", "first_frame", "last_frame", "cause"];
    table("gaps.csv", &header, gaps, |row| {
        vec![
            row.camera.clone(),
            row.target.clone(),
            row.first_frame.to_string(),
            row.last_frame.to_string(),
            row.cause.clone(),
        ]
    })
}

/// `events.csv`: one line for each instant.
pub(crate) fn events_csv(events: &[EventRow]) -> Result<Vec<u8>, ReportError> {
    let header = ["id", "camera", "frame", "time_s", "u_s", "how", "text"];
    table("events.csv", &header, events, |row| {
        vec![
            row.id.clone(),
            row.camera.clone(),
            row.frame.to_string(),
            nine_digits(row.time_s),
            nine_digits(row.u_s),
            row.how.clone(),
            row.text.clone(),
        ]
    })
}

/// Numeric columns of `steady.csv` after camera and frame.
pub(crate) const STEP_NUMBERS: [Column<StepRow, Option<f64>>; 6] = [
    ("dx_px", |row| row.dx_px),
    ("u_dx_px", |row| row.u_dx_px),
    ("dy_px", |row| row.dy_px),
    ("u_dy_px", |row| row.u_dy_px),
    ("turn_rad", |row| row.turn_rad),
    ("u_turn_rad", |row| row.u_turn_rad),
];

/// `steady.csv`: one line for each frame of a steadied film.
pub(crate) fn steady_csv(steps: &[StepRow]) -> Result<Vec<u8>, ReportError> {
    let mut header = vec!["camera", "frame"];
    header.extend(STEP_NUMBERS.iter().map(|(name, _)| *name));
    header.extend(["n_marks", "reason"]);
    table("steady.csv", &header, steps, |row| {
        let mut fields = vec![row.camera.clone(), row.frame.to_string()];
        fields.extend(STEP_NUMBERS.iter().map(|(_, get)| get(row).map(nine_digits).unwrap_or_default()));
        fields.extend([row.n_marks.to_string(), row.reason.clone()]);
        fields
    })
}

/// `motion.csv`: one line for each frame, camera and body.
pub(crate) fn motion_csv(motion: &[MotionRow]) -> Result<Vec<u8>, ReportError> {
    let mut header = vec!["time_s", "camera", "body"];
    header.extend(MOTION_NUMBERS.iter().map(|(column, _)| *column));
    header.push("state");
    table("motion.csv", &header, motion, |row| {
        let mut fields = vec![nine_digits(row.time_s), row.camera.clone(), row.body.clone()];
        fields.extend(MOTION_NUMBERS.iter().map(|(_, get)| get(row).map(nine_digits).unwrap_or_default()));
        fields.push(row.state.clone());
        fields
    })
}

fn table<Row>(
    what: &'static str,
    header: &[&str],
    rows: &[Row],
    fields_of: impl Fn(&Row) -> Vec<String>,
) -> Result<Vec<u8>, ReportError> {
    let mut writer = csv::Writer::from_writer(Vec::new());
    writer.write_record(header).map_err(|fault| ReportError::make(what, fault))?;
    for row in rows {
        writer.write_record(fields_of(row)).map_err(|fault| ReportError::make(what, fault))?;
    }
    writer.into_inner().map_err(|fault| ReportError::make(what, fault))
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::fixture;

    #[test]
    fn motion_columns_are_the_fields_of_the_row_in_order() {
        let mut by_field = csv::Writer::from_writer(Vec::new());
        by_field.serialize(MotionRow::default()).unwrap();
        let by_field = String::from_utf8(by_field.into_inner().unwrap()).unwrap();
        let ours = String::from_utf8(motion_csv(&[]).unwrap()).unwrap();
        assert_eq!(ours.lines().next(), by_field.lines().next());
    }

    #[test]
    fn missing_values_are_empty_and_text_is_quoted() {
        let results = fixture::results();
        let motion = String::from_utf8(motion_csv(&results.motion).unwrap()).unwrap();
        assert!(motion.contains("0.001,side,car,0.0144,,"), "{motion}");
        let marks = String::from_utf8(marks_csv(&results.marks).unwrap()).unwrap();
        assert!(marks.starts_with(
            "camera,target,frame,time_s,x_px,y_px,sx_px,sy_px,rxy,state,trust,reason,off_x_px,off_y_px,\
             ways_apart_px\nside,C1,70,0,233.125,410.5,0.008,0.009,0.1,found,1,,0.004,-0.002,\n"
        ));
        assert!(marks.contains("inferred,0.4,\"hidden, from body\",0.004,"), "{marks}");
        let gaps = String::from_utf8(gaps_csv(&results.gaps).unwrap()).unwrap();
        assert!(gaps.ends_with("side,C2,90,118,hidden\n"));
        let events = String::from_utf8(events_csv(&results.events).unwrap()).unwrap();
        let lines = "id,camera,frame,time_s,u_s,how,text\n\
                     contact,side,70,0.000213,0.000061,found,kink of the run-up\n\
                     door opens,top,95,0.0251,0.00029,hand,\"left, rear\"\n";
        assert_eq!(events, lines);
    }
}
