//! Rows of the tables `marks.csv`, `motion.csv` and `events.csv`, and the list of gaps.

use serde::{Deserialize, Serialize};

/// One target in one frame: a mark, or an empty place with its cause.
#[derive(Debug, Clone, PartialEq, Default, Serialize, Deserialize)]
pub struct MarkRow {
    /// Camera id.
    pub camera: String,
    /// Target id.
    pub target: String,
    /// Frame number.
    pub frame: u32,
    /// Mid-exposure, seconds from time zero.
    pub time_s: f64,
    /// Column in the stored image, px.
    pub x_px: f64,
    /// Row in the stored image, px.
    pub y_px: f64,
    /// Standard uncertainty of x, px.
    pub sx_px: f64,
    /// Standard uncertainty of y, px.
    pub sy_px: f64,
    /// Correlation of x and y.
    pub rxy: f64,
    /// `found`, `hand` or `inferred`.
    pub state: String,
    /// 0 to 1.
    pub trust: f64,
    /// Why trust is below 1; empty when nothing speaks against it.
    pub reason: String,
    /// How far it lies from where its body's pose puts the target, to the right, px; `None` where there is no pose. The
    /// mark itself is part of the pose.
    pub off_x_px: Option<f64>,
    /// The same, downwards, px.
    pub off_y_px: Option<f64>,
    /// Distance between what the way there and the way back over a gap found, px; `None` where only one came by.
    pub ways_apart_px: Option<f64>,
}

/// A stretch of frames in which a target has no mark.
#[derive(Debug, Clone, PartialEq, Serialize, Deserialize)]
pub struct GapRow {
    /// Camera id.
    pub camera: String,
    /// Target id.
    pub target: String,
    /// First frame of the gap.
    pub first_frame: u32,
    /// Last frame of the gap.
    pub last_frame: u32,
    /// Cause in the words of `GapCause`.
    pub cause: String,
}

/// An instant of the test.
#[derive(Debug, Clone, PartialEq, Serialize, Deserialize)]
pub struct EventRow {
    /// Name: as given by hand, or `contact`, or `greatest crush` with its line.
    pub id: String,
    /// Camera id.
    pub camera: String,
    /// Frame in which it was seen, or the one nearest to it.
    pub frame: u32,
    /// Seconds from time zero.
    pub time_s: f64,
    /// Standard uncertainty of `time_s`.
    pub u_s: f64,
    /// How it is known: `hand` or `found`.
    pub how: String,
    /// What was seen, or how it was found.
    pub text: String,
}

/// Motion of one body's reference point (its c.g. where given) at one frame of one camera.
/// A side camera fills x, z and pitch; an overhead camera x, y and yaw; cameras joined in space all of them and roll. What was not measured is `None`.
#[derive(Debug, Clone, PartialEq, Default, Serialize, Deserialize)]
pub struct MotionRow {
    /// Seconds from time zero.
    pub time_s: f64,
    /// Camera id.
    pub camera: String,
    /// Body id.
    pub body: String,
    /// Along the path, m.
    pub x_m: Option<f64>,
    /// Up, m.
    pub z_m: Option<f64>,
    /// Nose up positive, degrees.
    pub pitch_deg: Option<f64>,
    /// Speed along the path, m/s.
    pub vx_m_s: Option<f64>,
    /// Speed upwards, m/s.
    pub vz_m_s: Option<f64>,
    /// Pitch rate, degrees per second.
    pub pitch_rate_deg_s: Option<f64>,
    /// Acceleration along the path, m/s².
    pub ax_m_s2: Option<f64>,
    /// Acceleration upwards, m/s².
    pub az_m_s2: Option<f64>,
    /// Standard uncertainty of `x_m`.
    pub u_x_m: Option<f64>,
    /// Standard uncertainty of `z_m`.
    pub u_z_m: Option<f64>,
    /// Standard uncertainty of `pitch_deg`.
    pub u_pitch_deg: Option<f64>,
    /// Standard uncertainty of `vx_m_s`.
    pub u_vx_m_s: Option<f64>,
    /// Standard uncertainty of `vz_m_s`.
    pub u_vz_m_s: Option<f64>,
    /// Standard uncertainty of `pitch_rate_deg_s`.
    pub u_pitch_rate_deg_s: Option<f64>,
    /// Standard uncertainty of `ax_m_s2`.
    pub u_ax_m_s2: Option<f64>,
    /// Standard uncertainty of `az_m_s2`.
    pub u_az_m_s2: Option<f64>,
    /// To the left of the path, m (overhead camera).
    pub y_m: Option<f64>,
    /// Nose left positive, degrees (overhead camera).
    pub yaw_deg: Option<f64>,
    /// Speed to the left, m/s.
    pub vy_m_s: Option<f64>,
    /// Yaw rate, degrees per second.
    pub yaw_rate_deg_s: Option<f64>,
    /// Acceleration to the left, m/s².
    pub ay_m_s2: Option<f64>,
    /// Standard uncertainty of `y_m`.
    pub u_y_m: Option<f64>,
    /// Standard uncertainty of `yaw_deg`.
    pub u_yaw_deg: Option<f64>,
    /// Standard uncertainty of `vy_m_s`.
    pub u_vy_m_s: Option<f64>,
    /// Standard uncertainty of `yaw_rate_deg_s`.
    pub u_yaw_rate_deg_s: Option<f64>,
    /// Standard uncertainty of `ay_m_s2`.
    pub u_ay_m_s2: Option<f64>,
    /// Left side up positive, degrees (cameras joined in space).
    pub roll_deg: Option<f64>,
    /// Roll rate, degrees per second.
    pub roll_rate_deg_s: Option<f64>,
    /// Standard uncertainty of `roll_deg`.
    pub u_roll_deg: Option<f64>,
    /// Standard uncertainty of `roll_rate_deg_s`.
    pub u_roll_rate_deg_s: Option<f64>,
    /// `measured`, or `bridged` where the body had no marks at this frame.
    pub state: String,
}
