//! Refuses NaN and infinity before anything is written, and names the field that holds one.

use crate::ReportError;
use crate::tables::{MARK_CHECKS, MARK_NUMBERS, MOTION_NUMBERS, STEP_NUMBERS};
use filmgauge_results::{ClocksResult, CrosscheckResult, FilmDrawing, Finding, Panel, Results, ValueAndU};

/// Passes when every number in `results` is finite.
///
/// # Errors
/// [`ReportError::NotFinite`] naming the first field that is not.
pub(crate) fn check_finite(results: &Results) -> Result<(), ReportError> {
    results.findings.iter().try_for_each(check_finding)?;
    results.crosschecks.iter().try_for_each(check_crosscheck)?;
    for (row, mark) in results.marks.iter().enumerate() {
        for (column, _, _, get) in MARK_NUMBERS {
            demand(get(mark), || {
                format!("marks row {row} ({} {} frame {}): {column}", mark.camera, mark.target, mark.frame)
            })?;
        }
        for (column, _, _, get) in MARK_CHECKS {
            demand_if_any(get(mark), || {
                format!("marks row {row} ({} {} frame {}): {column}", mark.camera, mark.target, mark.frame)
            })?;
        }
    }
    for (row, motion) in results.motion.iter().enumerate() {
        demand(motion.time_s, || format!("motion row {row} ({} {}): time_s", motion.camera, motion.body))?;
        for (column, _, _, get) in MOTION_NUMBERS {
            demand_if_any(get(motion), || {
                format!("motion row {row} ({} {}): {column}", motion.camera, motion.body)
            })?;
        }
    }
    for step in &results.steps {
        for (column, _, _, get) in STEP_NUMBERS {
            demand_if_any(get(step), || format!("step of {} frame {}: {column}", step.camera, step.frame))?;
        }
    }
    for event in &results.events {
        demand(event.time_s, || format!("event {} of {}: time_s", event.id, event.camera))?;
        demand(event.u_s, || format!("event {} of {}: u_s", event.id, event.camera))?;
    }
    results.clocks.iter().try_for_each(check_clocks)?;
    results.panels.iter().try_for_each(check_panel)?;
    results.drawings.iter().try_for_each(check_drawing)?;
    for picture in &results.strip {
        let name = |part: &str| format!("picture of {} frame {}: {part}", picture.camera, picture.frame);
        demand(picture.after_contact_s, || name("after_contact_s"))?;
        demand(picture.metres_per_px, || name("metres_per_px"))?;
        for (target, x_px, y_px) in &picture.marks {
            demand(*x_px, || name(&format!("x of {target}")))?;
            demand(*y_px, || name(&format!("y of {target}")))?;
        }
    }
    Ok(())
}

fn check_finding(finding: &Finding) -> Result<(), ReportError> {
    let name = |part: &str| format!("finding {} of {}: {part}", finding.name, finding.subject);
    demand_if_any(finding.value, || name("value"))?;
    demand_if_any(finding.uncertainty, || name("uncertainty"))?;
    finding
        .budget
        .iter()
        .try_for_each(|line| demand(line.u, || name(&format!("contribution of {}", line.source))))
}

fn check_clocks(clocks: &ClocksResult) -> Result<(), ReportError> {
    for clock in &clocks.clocks {
        let name = |part: &str| format!("clock of {}: {part}", clock.clock);
        demand(clock.offset_s, || name("offset_s"))?;
        demand(clock.uncertainty_s, || name("uncertainty_s"))?;
        demand_if_any(clock.drift, || name("drift"))?;
        demand_if_any(clock.drift_uncertainty, || name("drift_uncertainty"))?;
    }
    for tie in &clocks.ties {
        demand_if_any(tie.residual_s, || format!("tie {}: residual_s", tie.tie))?;
        demand_if_any(tie.ratio, || format!("tie {}: ratio", tie.tie))?;
    }
    Ok(())
}

fn check_crosscheck(check: &CrosscheckResult) -> Result<(), ReportError> {
    let name = |part: &str| format!("crosscheck of channel {}: {part}", check.channel);
    let pairs: [(&str, Option<ValueAndU>); 3] =
        [("gain", check.gain), ("offset_m_s2", check.offset_m_s2), ("lag_s", check.lag_s)];
    for (part, pair) in pairs {
        demand_if_any(pair.map(|pair| pair.value), || name(part))?;
        demand_if_any(pair.map(|pair| pair.uncertainty), || name(&format!("uncertainty of {part}")))?;
    }
    demand_if_any(check.residual_rms_m, || name("residual_rms_m"))?;
    for tried in &check.explanations {
        demand(tried.bic_above_best, || name(&format!("criterion of {}", tried.fault)))?;
        demand(tried.agreement, || name(&format!("agreement of {}", tried.fault)))?;
    }
    if let Some(figures) = &check.figures {
        let all = [&figures.rating_parts[..], &figures.sprague_geers, &figures.residuals].concat();
        demand(figures.rating, || name("rating"))?;
        all.into_iter().try_for_each(|figure| demand(figure, || name("figures of agreement")))?;
        demand_if_any(figures.normalised_error, || name("normalised error"))?;
    }
    for beside in &check.beside {
        let within = |part: &str| name(&format!("{part} beside {}", beside.channel));
        for pair in [beside.gain, beside.offset, beside.lag_s].into_iter().flatten() {
            demand(pair.value, || within("figure"))?;
            demand(pair.uncertainty, || within("uncertainty"))?;
        }
        demand_if_any(beside.agreement, || within("agreement"))?;
        demand_if_any(beside.correlation, || within("correlation"))?;
    }
    if let Some(zero) = &check.zero {
        for pair in std::iter::once(zero.slope).chain(zero.moved) {
            demand(pair.value, || name("zero"))?;
            demand(pair.uncertainty, || name("uncertainty of the zero"))?;
        }
    }
    demand_if_any(check.agreement, || name("agreement"))
}

fn check_drawing(drawing: &FilmDrawing) -> Result<(), ReportError> {
    let name = |part: &str| format!("drawing of {}: {part}", drawing.camera);
    demand_if_any(drawing.metres_per_px, || name("metres_per_px"))?;
    for time_s in drawing.times_s.iter().chain(&drawing.u_times_s) {
        demand(*time_s, || name("time of a frame"))?;
    }
    for at in drawing.paths.iter().flat_map(|path| path.places.iter().flatten().flatten()) {
        demand(*at, || name("path"))?;
    }
    for at in drawing.axes.iter().flat_map(|axes| axes.places.iter().flatten().flatten().flatten()) {
        demand(*at, || name("axes"))?;
    }
    let lines = drawing.grid.iter().flat_map(|grid| &grid.lines);
    lines.flat_map(|line| line.points.iter().flatten()).try_for_each(|at| demand(*at, || name("grid")))
}

fn check_panel(panel: &Panel) -> Result<(), ReportError> {
    for curve in &panel.curves {
        let name = |part: &str| format!("curve \"{}\" of \"{}\": {part}", curve.label, panel.title);
        for point in &curve.points {
            demand(point.time_s, || name("time"))?;
            demand_if_any(point.value, || name("value"))?;
        }
        for half_width in curve.band.iter().flat_map(|band| &band.half_width) {
            demand_if_any(*half_width, || name("half-width of the band"))?;
        }
    }
    panel.markers.iter().try_for_each(|marker| {
        demand(marker.time_s, || format!("marker \"{}\" of \"{}\"", marker.label, panel.title))
    })
}

fn demand_if_any(value: Option<f64>, field: impl Fn() -> String) -> Result<(), ReportError> {
    value.map_or(Ok(()), |value| demand(value, field))
}

fn demand(value: f64, field: impl Fn() -> String) -> Result<(), ReportError> {
    if value.is_finite() { Ok(()) } else { Err(ReportError::NotFinite { field: field(), value }) }
}
