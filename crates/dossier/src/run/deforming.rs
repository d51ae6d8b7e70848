//! Targets on parts that deform without being told so: left out of their body's pose, by its own rigidity.

use filmgauge_motion::{BodyTracks, MotionFailure, PoseOptions, RigidityReport};
use filmgauge_quantities::TargetId;
use std::ops::Range;

/// Share of frames that may fail the 99 % rigidity test.
const UNRIGID_SHARE: f64 = 0.05;
/// Fewest targets that must stay: with fewer none can be told from the others.
const FEWEST: usize = 3;
/// Leaving a target out must bring the misfit down to this part of what it was, or it is not the one.
const TELLING: f64 = 0.5;
/// What remains may be a lens or a noise slightly off: down to this part of the misfit the deformation is explained.
const EXPLAINED: f64 = 0.2;

/// Targets without which the others stay rigid after contact; none where the body is rigid, or where no single target
/// after another explains it.
pub(super) fn deforming(
    tracks: &BodyTracks,
    quiet: &Range<usize>,
    options: &PoseOptions,
) -> Result<Vec<TargetId>, MotionFailure> {
    let (mut tracks, mut left_out) = (tracks.clone(), Vec::new());
    let mut report = after_contact(&tracks, quiet, options)?;
    let at_first = misfit(&report);
    while share(&report) > UNRIGID_SHARE && tracks.targets.len() > FEWEST {
        // The greatest residual need not be the culprit's: one that deforms pulls the pose, and the others pay.
        let mut best: Option<(BodyTracks, TargetId, RigidityReport)> = None;
        for at in 0..tracks.targets.len() {
            let mut fewer = tracks.clone();
            let gone = fewer.targets.remove(at).id;
            let without = after_contact(&fewer, quiet, options)?;
            if best.as_ref().is_none_or(|best| misfit(&without) < misfit(&best.2)) {
                best = Some((fewer, gone, without));
            }
        }
        let Some((fewer, gone, without)) = best else { break };
        if misfit(&without) > TELLING * misfit(&report) {
            break;
        }
        left_out.push(gone);
        (tracks, report) = (fewer, without);
    }
    // Half an explanation is none: the whole body is then reported instead.
    let explained = share(&report) <= UNRIGID_SHARE || misfit(&report) <= EXPLAINED * at_first;
    Ok(if explained { left_out } else { Vec::new() })
}

fn after_contact(
    tracks: &BodyTracks,
    quiet: &Range<usize>,
    options: &PoseOptions,
) -> Result<RigidityReport, MotionFailure> {
    let layout = filmgauge_motion::layout(tracks, quiet.clone())?;
    let poses = filmgauge_motion::poses(tracks, &layout, options)?;
    Ok(filmgauge_motion::rigidity(tracks, &layout, &poses, quiet.end..tracks.times_s.len()))
}

fn share(report: &RigidityReport) -> f64 {
    report.share_over_99.unwrap_or(0.0)
}

/// Scatter of the marks about the pose over that stated.
fn misfit(report: &RigidityReport) -> f64 {
    report.noise_scale.unwrap_or(0.0)
}
