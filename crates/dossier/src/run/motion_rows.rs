//! Rows of `motion.csv`, `marks.csv` and the list of gaps.

use super::budget::Budgeted;
use super::evaluate::BodyState;
use super::fitted::Fitted;
use super::systematic::Shown;
use crate::document::Role;
use crate::plan::CameraPlan;
use filmgauge_geometry::{SteadyFilm, SteadyRow};
use filmgauge_motion::Smoothed;
use filmgauge_quantities::ViewPlane;
use filmgauge_results::{GapRow, MarkRow, MotionRow, StepRow};
use filmgauge_targets::Outcome;

/// Value and total standard uncertainty of one state of one curve at one frame.
struct Cell {
    value: f64,
    u: f64,
}

/// Motion of every body but the ground, frame by frame.
pub(crate) fn motion_rows(camera: &Budgeted<'_>) -> Vec<MotionRow> {
    let moving = camera.motion.bodies.iter().filter(|body| body.role != Role::Ground);
    moving.flat_map(|body| rows(camera, body)).collect()
}

fn rows(camera: &Budgeted<'_>, body: &BodyState) -> Vec<MotionRow> {
    let subject = body.id.as_str();
    let cells = |shown: Shown, curve: &Smoothed, order: usize, factor: f64, common: f64| -> Vec<Cell> {
        let own = |index: usize| curve.covs[index][order][order] + common;
        let u = camera.u_of(subject, shown, own, curve.times_s.len());
        let values = curve.states.iter().map(|state| state[order]);
        values.zip(u).map(|(value, u)| Cell { value: value * factor, u: u * factor }).collect()
    };
    let degree = 1.0_f64.to_degrees();
    let along = [0, 1, 2].map(|order| cells(Shown::X(order), &body.motion.x, order, 1.0, 0.0));
    let across = [0, 1, 2].map(|order| cells(Shown::Z(order), &body.motion.z, order, 1.0, 0.0));
    // The doubt about "level" is common to all angles and gone from their rate.
    let turn = body.motion.angle.as_ref().map(|curve| {
        let angle = cells(Shown::Angle(0), curve, 0, degree, body.level_u_rad.powi(2));
        (angle, cells(Shown::Angle(1), curve, 1, degree, 0.0))
    });
    let row = |index: usize| {
        let [x, vx, ax] = [&along[0][index], &along[1][index], &along[2][index]];
        let mut row = MotionRow {
            time_s: body.motion.x.times_s[index],
            camera: camera.inputs.camera.id.to_string(),
            body: body.id.to_string(),
            x_m: Some(x.value),
            u_x_m: Some(x.u),
            vx_m_s: Some(vx.value),
            u_vx_m_s: Some(vx.u),
            ax_m_s2: Some(ax.value),
            u_ax_m_s2: Some(ax.u),
            state: if body.motion.poses[index].is_some() { "measured" } else { "bridged" }.into(),
            ..MotionRow::default()
        };
        let second = [&across[0][index], &across[1][index], &across[2][index]];
        let turn = turn.as_ref().map(|(angle, rate)| [&angle[index], &rate[index]]);
        match camera.inputs.camera.view {
            ViewPlane::Side => fill_side(&mut row, second, turn),
            ViewPlane::Overhead => fill_overhead(&mut row, second, turn),
        }
        row
    };
    (0..body.motion.x.times_s.len()).map(row).collect()
}

fn fill_side(row: &mut MotionRow, up: [&Cell; 3], pitch: Option<[&Cell; 2]>) {
    (row.z_m, row.u_z_m) = (Some(up[0].value), Some(up[0].u));
    (row.vz_m_s, row.u_vz_m_s) = (Some(up[1].value), Some(up[1].u));
    (row.az_m_s2, row.u_az_m_s2) = (Some(up[2].value), Some(up[2].u));
    let Some(pitch) = pitch else { return };
    (row.pitch_deg, row.u_pitch_deg) = (Some(pitch[0].value), Some(pitch[0].u));
    (row.pitch_rate_deg_s, row.u_pitch_rate_deg_s) = (Some(pitch[1].value), Some(pitch[1].u));
}

fn fill_overhead(row: &mut MotionRow, left: [&Cell; 3], yaw: Option<[&Cell; 2]>) {
    (row.y_m, row.u_y_m) = (Some(left[0].value), Some(left[0].u));
    (row.vy_m_s, row.u_vy_m_s) = (Some(left[1].value), Some(left[1].u));
    (row.ay_m_s2, row.u_ay_m_s2) = (Some(left[2].value), Some(left[2].u));
    let Some(yaw) = yaw else { return };
    (row.yaw_deg, row.u_yaw_deg) = (Some(yaw[0].value), Some(yaw[0].u));
    (row.yaw_rate_deg_s, row.u_yaw_rate_deg_s) = (Some(yaw[1].value), Some(yaw[1].u));
}

/// Steps of a steadied film.
pub(crate) fn step_rows(
    (camera, steadied): (&CameraPlan, &Option<Result<SteadyFilm, String>>),
) -> Vec<StepRow> {
    let Some(Ok(steadied)) = steadied else { return Vec::new() };
    let row = |row: &SteadyRow| StepRow {
        camera: camera.id.to_string(),
        frame: row.frame,
        dx_px: row.dx_px,
        u_dx_px: row.u_dx_px,
        dy_px: row.dy_px,
        u_dy_px: row.u_dy_px,
        turn_rad: row.turn_rad,
        u_turn_rad: row.u_turn_rad,
        n_marks: u32::try_from(row.n_marks).unwrap_or(u32::MAX),
        reason: row.reason.clone().unwrap_or_default(),
    };
    steadied.rows.iter().map(row).collect()
}

/// Every mark of a camera, target by target.
pub(crate) fn mark_rows(camera: &Budgeted<'_>) -> Vec<MarkRow> {
    let inputs = &camera.inputs;
    let mut rows = Vec::new();
    for (target, outcomes) in inputs.camera.targets.iter().zip(&inputs.film.outcomes) {
        let fitted = Fitted::of(camera, target);
        for (frame, outcome) in (0_u32..).zip(outcomes) {
            let Some(mark) = outcome.mark() else { continue };
            let off = fitted.as_ref().and_then(|fitted| fitted.off_px(frame as usize, mark.centre));
            rows.push(MarkRow {
                camera: inputs.camera.id.to_string(),
                target: target.id.to_string(),
                frame,
                time_s: camera.motion.times_s[frame as usize],
                x_px: mark.centre.x,
                y_px: mark.centre.y,
                sx_px: mark.cov.xx.sqrt(),
                sy_px: mark.cov.yy.sqrt(),
                rxy: mark.cov.correlation(),
                state: mark.state.word().into(),
                trust: mark.trust,
                reason: mark.reason.clone(),
                off_x_px: off.map(|off| off[0]),
                off_y_px: off.map(|off| off[1]),
                ways_apart_px: mark.ways_apart_px,
            });
        }
    }
    rows
}

/// Stretches without marks, one row for each run of one cause.
pub(crate) fn gap_rows(camera: &Budgeted<'_>) -> Vec<GapRow> {
    let inputs = &camera.inputs;
    let mut rows: Vec<GapRow> = Vec::new();
    for (target, outcomes) in inputs.camera.targets.iter().zip(&inputs.film.outcomes) {
        let mut open: Option<GapRow> = None;
        for (frame, outcome) in (0_u32..).zip(outcomes) {
            let Outcome::Gap { cause, .. } = outcome else {
                rows.extend(open.take());
                continue;
            };
            match &mut open {
                Some(gap) if gap.cause == cause.word() => gap.last_frame = frame,
                _ => {
                    rows.extend(open.replace(GapRow {
                        camera: inputs.camera.id.to_string(),
                        target: target.id.to_string(),
                        first_frame: frame,
                        last_frame: frame,
                        cause: cause.word().into(),
                    }));
                }
            }
        }
        rows.extend(open);
    }
    rows
}
