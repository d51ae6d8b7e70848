//! Every frame's step as a table that can be read and checked, and the frames' brightness against the reference's.

use super::{FixedMark, SteadyFailure, SteadyOptions, SteadyStep, steady_step};
use serde::Serialize;

/// One frame of the table of steps; what could not be had is empty, with the reason.
#[derive(Debug, Clone, PartialEq, Serialize)]
pub struct SteadyRow {
    /// Frame number.
    pub frame: u32,
    /// Shift to the right against the reference frame, px.
    pub dx_px: Option<f64>,
    /// Its standard uncertainty, px.
    pub u_dx_px: Option<f64>,
    /// Shift downwards, px.
    pub dy_px: Option<f64>,
    /// Its standard uncertainty, px.
    pub u_dy_px: Option<f64>,
    /// Turn from x towards y, rad; empty where the marks cannot tell it.
    pub turn_rad: Option<f64>,
    /// Standard uncertainty of the turn, rad; the one assumed where the marks cannot tell it.
    pub u_turn_rad: Option<f64>,
    /// Marks used.
    pub n_marks: usize,
    /// The mark left out, by its place in the list.
    pub left_out: Option<usize>,
    /// Root mean square misfit of the marks, px.
    pub misfit_px: Option<f64>,
    /// Brightness over that of the reference frame.
    pub gain: Option<f64>,
    /// Why there is no step.
    pub reason: Option<String>,
}

impl SteadyRow {
    /// The row of one frame.
    #[must_use]
    pub fn new(frame: u32, step: &Result<SteadyStep, SteadyFailure>) -> Self {
        let found = step.as_ref().ok();
        let value = |axis: usize| found.map(|step| step.shift_and_turn()[axis]);
        let u = |axis: usize| found.map(|step| step.cov()[axis][axis].max(0.0).sqrt());
        Self {
            frame,
            dx_px: value(0),
            u_dx_px: u(0),
            dy_px: value(1),
            u_dy_px: u(1),
            turn_rad: found.filter(|step| step.turn_told).map(|step| step.shift_and_turn()[2]),
            u_turn_rad: u(2),
            n_marks: found.map_or(0, |step| step.n_marks),
            left_out: found.and_then(|step| step.left_out),
            misfit_px: found.and_then(|step| step.misfit_px),
            gain: None,
            reason: step.as_ref().err().map(ToString::to_string),
        }
    }
}

/// The steps of all frames against the marks of a reference frame, and the table of them. `frames` holds, for each
/// frame from number 0, its fixed marks in the reference's order.
#[must_use]
pub fn steady_table(
    reference: &[Option<FixedMark>],
    frames: &[Vec<Option<FixedMark>>],
    options: &SteadyOptions,
) -> (Vec<Result<SteadyStep, SteadyFailure>>, Vec<SteadyRow>) {
    let steps: Vec<_> = frames.iter().map(|marks| steady_step(reference, marks, options)).collect();
    let rows = (0_u32..).zip(&steps).map(|(frame, step)| SteadyRow::new(frame, step)).collect();
    (steps, rows)
}

/// Uneven exposure: each frame's mean level over the reference frame's, both less `dark_level` (what an unlit frame
/// reads). Empty where a level is missing or no lighter than dark. It reports; nothing is corrected.
#[must_use]
pub fn exposure_gains(levels: &[Option<f64>], reference_level: f64, dark_level: f64) -> Vec<Option<f64>> {
    let usable = |level: f64| (level.is_finite() && level > dark_level).then_some(level - dark_level);
    let gain = |level: &Option<f64>| Some(usable((*level)?)? / usable(reference_level)?);
    levels.iter().map(gain).collect()
}
