//! Measured against true: marks, motion, findings and verdicts of one rehearsal.

use filmgauge_proving::{PlantedFault, Scene, Truth, TruthSummary, truth_marks, truth_summary};
use filmgauge_quantities::PixelCov;
use filmgauge_results::{FindingSource, Results};
use std::collections::BTreeMap;

/// One figure: measured less true, its stated standard uncertainty, and the truth.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Error {
    /// Measured less true.
    pub error: f64,
    /// Stated standard uncertainty.
    pub u: f64,
    /// The truth.
    pub truth: f64,
}

impl Error {
    /// Whether the 95 % interval holds the truth.
    #[must_use]
    pub fn inside_95(&self) -> bool {
        self.error.abs() <= filmgauge_quantities::COVERAGE_95 * self.u
    }
}

/// Mark errors over all visible targets and frames.
#[derive(Debug, Clone, Copy, Default, PartialEq)]
pub struct MarkErrors {
    /// Marks compared.
    pub n: usize,
    /// Sum of squared errors along one axis, px² (both axes added, halved).
    pub sum_squares_px2: f64,
    /// Marks whose 95 % ellipse holds the truth.
    pub inside_95: usize,
    /// Marks on a target that is hidden or out of view, or more than 1 px off.
    pub wrong: usize,
    /// True, visible, unveiled marks that were not made.
    pub missed: usize,
    /// True, visible, unveiled marks there are.
    pub visible: usize,
}

/// Everything compared in one rehearsal.
#[derive(Debug, Clone, Default)]
pub struct Outcome {
    /// Marks.
    pub marks: MarkErrors,
    /// Findings from the side camera's film, by name.
    pub findings: BTreeMap<String, Error>,
    /// Findings that have no value though the truth has one.
    pub unmade: Vec<String>,
    /// Series along the film, by name: every frame's error.
    pub series: BTreeMap<&'static str, Vec<Error>>,
    /// For each channel: planted fault (empty for none) and the fault named first (empty for none).
    pub faults: Vec<(String, String)>,
    /// Crosscheck figures against the planted ones.
    pub crosschecks: BTreeMap<&'static str, Vec<Error>>,
}

/// Compares results with the truth they were rendered from.
#[must_use]
pub fn compare(scene: &Scene, truth: &Truth, results: &Results) -> Outcome {
    let summary = truth_summary(scene, truth);
    let mut outcome = Outcome { marks: marks(scene, truth, results), ..Outcome::default() };
    for (name, true_value) in true_findings(&summary) {
        let found = results.findings.iter().find(|finding| {
            finding.name == name
                && finding.source == FindingSource::Film
                && finding.evidence.camera.as_deref() == Some("side")
        });
        match found.and_then(|finding| finding.value.zip(finding.uncertainty)) {
            Some((value, u)) => {
                outcome
                    .findings
                    .insert(name.to_owned(), Error { error: value - true_value, u, truth: true_value });
            }
            None => outcome.unmade.push(name.to_owned()),
        }
    }
    series(truth, results, &mut outcome);
    for planted in &summary.planted_faults {
        crosscheck(planted, results, &mut outcome);
    }
    outcome
}

/// Truth of each film finding, by the finding's name.
fn true_findings(truth: &TruthSummary) -> Vec<(&'static str, f64)> {
    let mut list = vec![
        ("contact_time", truth.contact_s),
        ("contact_speed", truth.contact_speed_m_s),
        ("delta_v", truth.delta_v_m_s),
        ("pitch_up_max", truth.pitch_up_max_deg),
        ("climb_max", truth.climb_max_m),
        ("crush_max", truth.crush_max_m),
        ("crush_final", truth.crush_final_m),
        ("cushion_stroke_max", truth.cushion_stroke_max_m),
        ("push_distance", truth.push_distance_m),
        ("rebound_speed", truth.rebound_speed_m_s),
    ];
    list.extend(truth.occupant_impact_velocity_m_s.map(|value| ("occupant_impact_velocity", value)));
    list.extend(truth.occupant_impact_time_s.map(|value| ("occupant_impact_time", value)));
    list.extend(truth.ridedown_m_s2.map(|value| ("ridedown_acceleration", value)));
    list
}

fn marks(scene: &Scene, truth: &Truth, results: &Results) -> MarkErrors {
    let mut errors = MarkErrors::default();
    for (index, camera) in scene.cameras.iter().enumerate() {
        let made: BTreeMap<(&str, u32), _> = results
            .marks
            .iter()
            .filter(|mark| mark.camera == camera.id)
            .map(|mark| ((mark.target.as_str(), mark.frame), mark))
            .collect();
        for mark in truth_marks(scene, truth, index) {
            let clear = mark.visible && mark.cover < 0.01;
            errors.visible += usize::from(clear);
            let Some(found) = made.get(&(mark.target.as_str(), mark.frame)) else {
                errors.missed += usize::from(clear);
                continue;
            };
            let (dx, dy) = (found.x_px - mark.x_px, found.y_px - mark.y_px);
            if dx.hypot(dy) > 1.0 {
                errors.wrong += 1;
                continue;
            }
            let cov = PixelCov {
                xx: found.sx_px * found.sx_px,
                xy: found.rxy * found.sx_px * found.sy_px,
                yy: found.sy_px * found.sy_px,
            };
            errors.n += 1;
            errors.sum_squares_px2 += (dx * dx + dy * dy) / 2.0;
            // 95 % point of χ² with 2 degrees of freedom.
            errors.inside_95 += usize::from(cov.mahalanobis2(dx, dy).is_some_and(|d2| d2 <= 5.991_464_547));
        }
    }
    errors
}

/// Frame-by-frame errors of the side camera's motion. Places count from the last frame before contact: the plane's
/// zero is the board's, the world's is the cushion.
fn series(truth: &Truth, results: &Results, outcome: &mut Outcome) {
    for body in ["car", "truck"] {
        let rows: Vec<_> =
            results.motion.iter().filter(|row| row.camera == "side" && row.body == body).collect();
        for row in rows {
            let now = truth.at(row.time_s);
            let pose = if body == "car" { now.car } else { now.truck };
            let figures = [
                ("speed", row.vx_m_s, row.u_vx_m_s, pose.vx_m_s),
                ("acceleration", row.ax_m_s2, row.u_ax_m_s2, pose.ax_m_s2),
                ("pitch", row.pitch_deg, row.u_pitch_deg, pose.pitch_rad.to_degrees()),
            ];
            for (name, value, u, true_value) in figures {
                if let (Some(value), Some(u)) = (value, u) {
                    let error = Error { error: value - true_value, u, truth: true_value };
                    outcome.series.entry(name).or_default().push(error);
                }
            }
        }
    }
}

fn crosscheck(planted: &PlantedFault, results: &Results, outcome: &mut Outcome) {
    let Some(check) = results.crosschecks.iter().find(|check| check.channel == planted.channel) else {
        outcome.unmade.push(format!("crosscheck of {}", planted.channel));
        return;
    };
    let named = check.suspected.first().map(|suspect| suspect.fault.clone()).unwrap_or_default();
    outcome.faults.push((planted.faults.first().cloned().unwrap_or_default(), named));
    let figures = [
        ("gain", check.gain, planted.gain),
        ("offset", check.offset_m_s2, planted.offset_m_s2),
        ("lag", check.lag_s, planted.lag_s),
    ];
    for (name, figure, true_value) in figures {
        if let Some(figure) = figure {
            let error = Error { error: figure.value - true_value, u: figure.uncertainty, truth: true_value };
            outcome.crosschecks.entry(name).or_default().push(error);
        }
    }
}
