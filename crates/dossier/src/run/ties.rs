//! Ties between clocks: what shared flashes, places that two cameras followed, and sensors against film say of them.

use super::budget::Budgeted;
use super::channels::Record;
use super::evaluate::Inputs;
use super::image_marks::image_marks;
use crate::document::TieEntry;
use crate::plan::ZeroPlan;
use filmgauge_geometry::GeometryError;
use filmgauge_results::{ClockResult, ClockTieResult, ClocksResult, CrosscheckResult};
use filmgauge_timing::{CommonOptions, Lag, LagOptions, Observation, TimedSeries, common_clock, lag_between};

/// A target's place along the path on its camera's clock.
struct Followed {
    times_s: Vec<f64>,
    x_m: Vec<f64>,
    u_m: Vec<f64>,
}

/// Carries the other camera's time zero over; `Err` says why it cannot be.
pub(crate) fn carry_zero(inputs: &mut Inputs<'_>, other: &Inputs<'_>) -> Result<(), String> {
    let ZeroPlan::Camera { camera, theirs, ours } = &inputs.camera.zero else { return Ok(()) };
    let lag = lag_of_targets((other, theirs), (inputs, ours))?;
    let method = format!("that of camera {camera}, by the motion of {theirs} there and {ours} here");
    inputs.clock.set_zero(lag.lag_s, lag.u_s.hypot(other.clock.zero_u_s), method);
    Ok(())
}

/// What the second camera's clock reads more than the first's, by a place that both followed.
fn lag_of_targets(first: (&Inputs<'_>, &str), second: (&Inputs<'_>, &str)) -> Result<Lag, String> {
    let first_seen = followed(first.0, first.1)?;
    let second_seen = followed(second.0, second.1)?;
    lag_between(&first_seen.series(), &second_seen.series(), &LagOptions::default())
        .map_err(|error| error.to_string())
}

impl Followed {
    fn series(&self) -> TimedSeries<'_> {
        TimedSeries { times_s: &self.times_s, values: &self.x_m, u: &self.u_m }
    }
}

fn followed(inputs: &Inputs<'_>, target: &str) -> Result<Followed, String> {
    let index = inputs.camera.targets.iter().position(|plan| plan.id.as_str() == target);
    let index = index.ok_or_else(|| format!("camera {} has no target {target}", inputs.camera.id))?;
    let map = inputs.calibration.plane_map().map_err(|error: GeometryError| error.to_string())?;
    let times_s: Vec<f64> = (0..inputs.film.n_frames).map(|frame| inputs.clock.time_s(frame)).collect();
    let marks = image_marks(inputs, &times_s);
    let target = &inputs.camera.targets[index];
    let plane = inputs.calibration.plane_of(&target.body).further(target.offset.value);
    let mut seen = Followed { times_s: Vec::new(), x_m: Vec::new(), u_m: Vec::new() };
    for (&time_s, mark) in times_s.iter().zip(&marks[index]) {
        let Some((point, cov)) = mark else { continue };
        let Ok((point, cov)) = map.plane_from_image(*point, cov, plane) else { continue };
        seen.times_s.push(time_s);
        seen.x_m.push(point.x_m);
        seen.u_m.push(cov.xx.sqrt());
    }
    Ok(seen)
}

/// One clock of all that the test ties together; `None` where nothing ties two clocks.
pub(crate) fn clocks(
    ties: &[TieEntry],
    cameras: &[Budgeted<'_>],
    side: Option<&Budgeted<'_>>,
    records: &[Record<'_>],
    checks: &[CrosscheckResult],
) -> Option<ClocksResult> {
    let mut names: Vec<String> = cameras.iter().map(|camera| camera.inputs.camera.id.to_string()).collect();
    let mut tied: Vec<(String, Result<Observation, String>)> = flashes(cameras);
    tied.extend(ties.iter().map(|tie| by_target(tie, cameras)));
    for (record, check) in records.iter().zip(checks) {
        let (Some(side), Some(lag)) = (side, check.lag_s) else { continue };
        // Channels of one file come from one recorder, so from one clock.
        let recorder = record.plan.file.clone();
        if !names.contains(&recorder) {
            names.push(recorder.clone());
        }
        let observation = Observation::Lag {
            first: side.inputs.camera.id.to_string(),
            second: recorder,
            at_s: side.motion.contact_s(),
            lag_s: lag.value,
            u_s: lag.uncertainty,
        };
        tied.push((format!("{} against film", check.channel), Ok(observation)));
    }
    if !tied.iter().any(|(_, tie)| matches!(tie, Ok(Observation::Lag { .. }))) {
        return None;
    }
    let reference = side.map(|side| side.inputs.camera.id.to_string());
    Some(solved(&names, tied, CommonOptions { reference, ..CommonOptions::default() }))
}

/// Each camera's reading of the flash: zero by its own making, to its uncertainty.
fn flashes(cameras: &[Budgeted<'_>]) -> Vec<(String, Result<Observation, String>)> {
    let timed = cameras.iter().filter(|camera| {
        matches!(camera.inputs.camera.zero, ZeroPlan::Flash { .. }) && camera.inputs.clock.zero_u_s > 0.0
    });
    timed
        .map(|camera| {
            let clock = camera.inputs.camera.id.to_string();
            let u_s = camera.inputs.clock.zero_u_s;
            let seen = Observation::Instant { event: "flash".into(), clock: clock.clone(), time_s: 0.0, u_s };
            (format!("flash in {clock}"), Ok(seen))
        })
        .collect()
}

fn by_target(tie: &TieEntry, cameras: &[Budgeted<'_>]) -> (String, Result<Observation, String>) {
    let label =
        format!("{} in {} and {} in {}", tie.targets[0], tie.cameras[0], tie.targets[1], tie.cameras[1]);
    let of = |id: &String| cameras.iter().find(|camera| camera.inputs.camera.id.as_str() == id);
    let (Some(first), Some(second)) = (of(&tie.cameras[0]), of(&tie.cameras[1])) else {
        return (label, Err("a camera could not be measured".into()));
    };
    let lag = lag_of_targets((&first.inputs, &tie.targets[0]), (&second.inputs, &tie.targets[1]));
    let observation = lag.map(|lag| Observation::Lag {
        first: tie.cameras[0].clone(),
        second: tie.cameras[1].clone(),
        at_s: lag.at_s,
        lag_s: lag.lag_s,
        u_s: lag.u_s,
    });
    (label, observation)
}

fn solved(
    names: &[String],
    tied: Vec<(String, Result<Observation, String>)>,
    options: CommonOptions,
) -> ClocksResult {
    let used: Vec<Observation> = tied.iter().filter_map(|(_, tie)| tie.as_ref().ok().cloned()).collect();
    let common = common_clock(names, &used, &options);
    let mut result = ClocksResult::default();
    let mut place = 0;
    for (label, tie) in tied {
        let mut row = ClockTieResult { tie: label, ..ClockTieResult::default() };
        match (&tie, &common) {
            (Ok(_), Ok(common)) => {
                let residual = common.residuals.iter().find(|residual| residual.index == place);
                row.residual_s = residual.map(|residual| residual.residual_s);
                row.ratio = residual.and_then(|residual| residual.ratio);
            }
            (Ok(_), Err(error)) => row.reason = Some(error.to_string()),
            (Err(why), _) => row.reason = Some(why.clone()),
        }
        place += usize::from(tie.is_ok());
        result.ties.push(row);
    }
    if let Ok(common) = common {
        result.reference = common.reference.clone();
        result.clocks = common
            .corrections
            .iter()
            .map(|correction| ClockResult {
                clock: correction.clock.clone(),
                offset_s: correction.offset_s,
                uncertainty_s: correction.offset_u_s,
                drift: correction.drift,
                drift_uncertainty: correction.drift_u,
            })
            .collect();
        result.notes = common.notes.iter().map(ToString::to_string).collect();
        result
            .notes
            .extend(common.unconnected.iter().map(|clock| format!("nothing ties the clock of {clock}")));
    }
    result
}
