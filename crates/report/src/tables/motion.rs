//! The table of motion: one row for each frame, camera and body.

use super::{Of, Table};
use filmgauge_results::MotionRow;

/// A number of the table: head, unit, meaning, and how to read it from a row.
type Number = (&'static str, &'static str, &'static str, fn(&MotionRow) -> Option<f64>);

/// Numbers after time, camera and body, in the order of the fields of [`MotionRow`].
pub(crate) const MOTION_NUMBERS: [Number; 30] = [
    ("x_m", "m", "place along the path", |row| row.x_m),
    ("z_m", "m", "height", |row| row.z_m),
    ("pitch_deg", "deg", "pitch, nose up positive", |row| row.pitch_deg),
    ("vx_m_s", "m/s", "speed along the path", |row| row.vx_m_s),
    ("vz_m_s", "m/s", "speed upwards", |row| row.vz_m_s),
    ("pitch_rate_deg_s", "deg/s", "pitch rate, nose up positive", |row| row.pitch_rate_deg_s),
    ("ax_m_s2", "m/s2", "acceleration along the path", |row| row.ax_m_s2),
    ("az_m_s2", "m/s2", "acceleration upwards", |row| row.az_m_s2),
    ("u_x_m", "m", "one standard uncertainty of x_m", |row| row.u_x_m),
    ("u_z_m", "m", "one standard uncertainty of z_m", |row| row.u_z_m),
    ("u_pitch_deg", "deg", "one standard uncertainty of pitch_deg", |row| row.u_pitch_deg),
    ("u_vx_m_s", "m/s", "one standard uncertainty of vx_m_s", |row| row.u_vx_m_s),
    ("u_vz_m_s", "m/s", "one standard uncertainty of vz_m_s", |row| row.u_vz_m_s),
    ("u_pitch_rate_deg_s", "deg/s", "one standard uncertainty of pitch_rate_deg_s", |row| {
        row.u_pitch_rate_deg_s
    }),
    ("u_ax_m_s2", "m/s2", "one standard uncertainty of ax_m_s2", |row| row.u_ax_m_s2),
    ("u_az_m_s2", "m/s2", "one standard uncertainty of az_m_s2", |row| row.u_az_m_s2),
    ("y_m", "m", "place to the left of the path", |row| row.y_m),
    ("yaw_deg", "deg", "yaw, nose left positive", |row| row.yaw_deg),
    ("vy_m_s", "m/s", "speed to the left", |row| row.vy_m_s),
    ("yaw_rate_deg_s", "deg/s", "yaw rate, nose left positive", |row| row.yaw_rate_deg_s),
    ("ay_m_s2", "m/s2", "acceleration to the left", |row| row.ay_m_s2),
    ("u_y_m", "m", "one standard uncertainty of y_m", |row| row.u_y_m),
    ("u_yaw_deg", "deg", "one standard uncertainty of yaw_deg", |row| row.u_yaw_deg),
    ("u_vy_m_s", "m/s", "one standard uncertainty of vy_m_s", |row| row.u_vy_m_s),
    ("u_yaw_rate_deg_s", "deg/s", "one standard uncertainty of yaw_rate_deg_s", |row| row.u_yaw_rate_deg_s),
    ("u_ay_m_s2", "m/s2", "one standard uncertainty of ay_m_s2", |row| row.u_ay_m_s2),
    ("roll_deg", "deg", "roll, left side up positive", |row| row.roll_deg),
    ("roll_rate_deg_s", "deg/s", "roll rate, left side up positive", |row| row.roll_rate_deg_s),
    ("u_roll_deg", "deg", "one standard uncertainty of roll_deg", |row| row.u_roll_deg),
    ("u_roll_rate_deg_s", "deg/s", "one standard uncertainty of roll_rate_deg_s", |row| {
        row.u_roll_rate_deg_s
    }),
];

pub(super) fn motion(rows: &[MotionRow]) -> Table<'_> {
    let mut of = Of::new(rows)
        .number("time_s", "s", "mid-exposure, from time zero", |row| row.time_s)
        .text("camera", "camera id; several with + between are joined in space", |row| &row.camera)
        .text("body", "body id", |row| &row.body);
    for (name, unit, meaning, get) in MOTION_NUMBERS {
        of = of.maybe(name, unit, meaning, get);
    }
    of.text("state", "measured, or bridged where the body had no marks in the frame", |row| &row.state)
        .table("motion", "Motion of each body's c.g., or of the mean place of its targets, frame by frame")
}
