//! What a camera's metres rest on, as the sheet says it, and the notices that follow: lengths that disagree, an unknown plane
//! offset, marks outside the lens' field.

use super::budget::Budgeted;
use crate::document::Role;
use crate::plan::CameraPlan;
use filmgauge_geometry::{Calibration, ControlResidual, LengthCheck, PoseFit, Reference};
use filmgauge_quantities::COVERAGE_95;
use filmgauge_results::{Notice, Severity};

/// Most points whose residuals a line lists by name.
const MOST_NAMED: usize = 12;
/// A length that is off by more than so many standard uncertainties disagrees: the 99.7 % point.
const DISAGREES: f64 = 3.0;

/// Lines of the settings table: label and text.
pub(super) fn lines(camera: &Budgeted<'_>) -> Vec<(String, String)> {
    let (calibration, map) = (&camera.inputs.calibration, &camera.motion.map);
    let mut lines = reference_lines(calibration);
    let scale = format!(
        "{:.4} mm/px ± {:.3} %",
        map.metres_per_px() * 1e3,
        100.0 * COVERAGE_95 * map.scale_relative_u()
    );
    lines.push(("Scale in the plane of motion".into(), scale));
    if let Some(distance_m) = map.distance_m() {
        lines.push(("Camera to plane".into(), format!("{distance_m:.3} m{}", stated_u(calibration))));
    }
    for check in calibration.length_checks().unwrap_or_default() {
        lines.push((format!("Known length {}", check.name), length_text(&check)));
    }
    for (body, angle) in &calibration.inclinations {
        let (deg, u_deg) = (angle.value.as_rad().to_degrees(), angle.u.as_rad().to_degrees());
        let text = format!("{deg:.2} deg ± {:.2} deg to the plane", COVERAGE_95 * u_deg);
        lines.push((format!("Path of {body}"), text));
    }
    lines
}

/// Doubt of a stated distance.
fn stated_u(calibration: &Calibration) -> String {
    let distance = match &calibration.reference {
        Reference::Board(board) => board.distance,
        Reference::Points(points) => points.distance,
        Reference::Pose(_) => None,
    };
    distance.map_or_else(String::new, |distance| format!(" ± {:.3} m", COVERAGE_95 * distance.u.as_m()))
}

fn reference_lines(calibration: &Calibration) -> Vec<(String, String)> {
    let lens = calibration.lens.as_ref().map(|file| &file.lens);
    let line = |label: &str, text: String| vec![(label.to_owned(), text)];
    let residuals = |residuals: &[ControlResidual]| {
        let one = |it: &ControlResidual| format!("{} ({:+.2}, {:+.2})", it.id, it.x_px, it.y_px);
        residuals.iter().take(MOST_NAMED).map(one).collect::<Vec<_>>().join(", ")
    };
    match &calibration.reference {
        Reference::Board(board) => {
            let (length_m, u_m) = (board.length.value.as_m(), COVERAGE_95 * board.length.u.as_m());
            let reading_px = COVERAGE_95 * board.reading_u_px;
            let text = format!("{length_m:.4} m ± {u_m:.4} m, read to ± {reading_px:.2} px");
            line("Reference board", text)
        }
        Reference::Points(points) => points.fit(lens).map_or_else(
            |error| line("Plane points", error.to_string()),
            |fit| {
                let (n, rms) = (points.controls.len(), fit.rms_px);
                let text = format!("{n} points, residual {rms:.2} px; px off: {}", residuals(&fit.residuals));
                line("Plane points", text)
            },
        ),
        Reference::Pose(_) => pose(calibration).map_or_else(Vec::new, |fit| {
            let at = fit.camera.pose.centre;
            let text = format!(
                "at ({:.3}, {:.3}, {:.3}) m by {} points, residual {:.2} px; px off: {}",
                at.x_m,
                at.y_m,
                at.z_m,
                fit.residuals.len(),
                fit.rms_px,
                residuals(&fit.residuals)
            );
            line("Camera", text)
        }),
    }
}

fn pose(calibration: &Calibration) -> Option<PoseFit> {
    let (Reference::Pose(points), Some(file)) = (&calibration.reference, &calibration.lens) else {
        return None;
    };
    points.fit(&file.lens).ok()
}

fn length_text(check: &LengthCheck) -> String {
    let role = if check.is_in_fit { "shares in the scale" } else { "kept out of the scale" };
    format!(
        "{:.4} m by the picture, {:.4} m stated; {:+.1} mm ± {:.1} mm; {role}",
        check.measured_m,
        check.stated_m,
        1e3 * check.residual_m,
        1e3 * COVERAGE_95 * check.u_m
    )
}

/// Notices about one camera's scale.
pub(super) fn notices(camera: &Budgeted<'_>) -> Vec<Notice> {
    let place = format!("camera {}", camera.inputs.camera.id);
    let mut notices = length_notices(&camera.inputs.calibration, &place);
    notices.extend(offset_notices(camera, &place));
    notices.extend(field_notice(camera, &place));
    notices
}

fn length_notices(calibration: &Calibration, place: &str) -> Vec<Notice> {
    let notice = |text: String, remedy: &str| Notice {
        severity: Severity::Person,
        place: place.to_owned(),
        text,
        remedy: remedy.to_owned(),
    };
    let checks = match calibration.length_checks() {
        Ok(checks) => checks,
        Err(error) => return vec![notice(error.to_string(), "Mend the known length, or take it out")],
    };
    let off = checks.iter().filter(|check| check.ratio.is_some_and(|ratio| ratio.abs() > DISAGREES));
    let remedy =
        "Check the board's length and ends, the length itself, and whether both lie in the plane stated";
    off.map(|check| {
        let text = format!("known length {} disagrees with the scale: {}", check.name, length_text(check));
        notice(text, remedy)
    })
    .collect()
}

/// Bodies whose plane offset nobody stated.
fn offset_notices(camera: &Budgeted<'_>, place: &str) -> Vec<Notice> {
    let plan = camera.inputs.camera;
    let moving = camera.motion.bodies.iter().filter(|body| body.role != Role::Ground);
    let unknown = moving.filter(|body| is_unknown(plan, body.id.as_str()));
    let size = camera.motion.map.distance_m().map_or_else(
        || "the camera's distance is not known either, so that no doubt of it is in the figures".to_owned(),
        |distance_m| {
            format!(
                "0.1 m nearer to the camera than taken makes every length and speed {:.2} % too large; a doubt of {} m is \
                 in the figures",
                100.0 * 0.1 / distance_m,
                crate::plan::UNKNOWN_OFFSET_U_M
            )
        },
    );
    unknown
        .map(|body| Notice {
            severity: Severity::Person,
            place: format!("{place}, {}", body.id),
            text: format!("the plane offset of {} is not stated: {size}", body.id),
            remedy: "Measure how far its targets lie in front of the board's plane and give plane_offset_m (0 where \
                     they lie in it)"
                .into(),
        })
        .collect()
}

fn is_unknown(plan: &CameraPlan, body: &str) -> bool {
    plan.targets
        .iter()
        .any(|target| target.body.as_str() == body && !target.deforms && !target.offset_is_stated)
}

/// Marks beyond the radius in which the lens was calibrated.
fn field_notice(camera: &Budgeted<'_>, place: &str) -> Option<Notice> {
    let file = camera.inputs.calibration.lens.as_ref()?;
    let (plan, film) = (camera.inputs.camera, camera.inputs.film);
    let mut outside: Vec<(String, usize)> = Vec::new();
    for (target, outcomes) in plan.targets.iter().zip(&film.outcomes) {
        let marks = outcomes.iter().filter_map(|outcome| outcome.measured());
        let n = marks.filter(|mark| !file.covers(mark.centre)).count();
        if n > 0 {
            outside.push((target.id.to_string(), n));
        }
    }
    if outside.is_empty() {
        return None;
    }
    let named: Vec<String> = outside.iter().map(|(id, n)| format!("{id} in {n} frames")).collect();
    Some(Notice {
        severity: Severity::Warning,
        place: place.to_owned(),
        text: format!("marks lie outside the field in which the lens was calibrated: {}", named.join(", ")),
        remedy: "Calibrate the lens with views that reach the rim, or treat figures from there with care"
            .into(),
    })
}
