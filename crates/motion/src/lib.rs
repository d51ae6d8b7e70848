//! Marks in metres to poses to smooth position, speed and acceleration, and to events, each with its uncertainty.
//!
//! # Conventions
//! * Plane: x along the path towards the struck vehicle, z the second axis; angle positive from x towards z.
//! * A [`Sample`] is a value and its variance, `None` in a gap; a curve is a list of times and a list of samples.
//! * A fit that cannot be made is a [`MotionFailure`]: a value with a reason.

mod error;
mod matrix;
mod samples;

mod track;

mod layout;
mod pose;
mod rigidity;

mod smooth;
mod spline;

mod bearing;
mod body_motion;
mod body_point;

mod extreme;
mod least_squares;
mod onset;
mod speed;

mod bands;
mod collision;
mod filters;
mod limits;

mod culprits;
mod joint;
mod meeting;
mod momentum;

mod crush_energy;
mod crush_profile;

pub use bands::{SimultaneousBand, SimultaneousOptions, simultaneous_band};
pub use bearing::bearing;
pub use body_motion::{BodyMotion, BodyMotionOptions, body_motion, smooth_body};
pub use body_point::{AngularMotion, PointMotion, body_point, lever_acceleration, specific_force};
pub use collision::{Collision, Outcome, change_components};
pub use crush_energy::{Stiffness, StruckMass, barrier_speed_m_s, crush_energy_j, speed_changes_m_s};
pub use crush_profile::{CRUSH_STATIONS, CrushDoubt, CrushProfile, Figure};
pub use culprits::{Clue, Culprit, Suspect, culprits};
pub use error::MotionFailure;
pub use extreme::{Extreme, Side, extreme};
pub use filters::{
    ButterworthOptions, CutOff, Filtered, ResidualAnalysis, ResidualOptions, SavitzkyGolayOptions,
    butterworth, residual_cut_off, savitzky_golay, savitzky_golay_weights,
};
pub use joint::{Joint, joint};
pub use layout::{Layout, layout};
pub use limits::{
    DerivativeLimits, central_difference_u, derivative_limit, limits_of_curve, limits_of_filter,
    second_difference_u, slope_gain, slope_u,
};
pub use meeting::{
    CommonSpeed, common_speed, greatest_acceleration, greatest_deceleration, greatest_mean_acceleration,
    parting,
};
pub use momentum::{BalanceWindow, MomentumBalance, Mover, momentum_balance};
pub use onset::{Onset, OnsetOptions, onset};
pub use pose::{Pose, PoseOptions, poses};
pub use rigidity::{RigidityReport, rigidity};
pub use samples::Sample;
pub use smooth::{
    FixedChange, FixedSmoothness, MotionChange, SmoothOptions, Smoothed, Smoothness, SmoothnessComparison,
    compare_smoothness, smooth,
};
pub use speed::{NoiseSource, RunUp, run_up_speed, run_up_speed_about};
pub use spline::Degree;
pub use track::{BodyTracks, PlaneMark, TargetTrack};
