//! The faults that a frame table shows by itself: damage, repeats, stamps out of step, a header that claims otherwise.

use crate::spacing::usual_step;
use crate::{FaultKind, FootageFault, FootageInfo, FrameRecord};
use filmgauge_quantities::FrameNumber;

/// Faults of one kind that are listed singly; more are summed up in one line.
const MOST_LISTED: usize = 20;

/// Adds every fault that the table shows, those of the whole footage first, then by frame.
/// `n_hidden` pictures are in the header's count but not shown.
pub(crate) fn judge(
    info: &FootageInfo,
    frames: &[FrameRecord],
    n_hidden: u64,
    faults: &mut Vec<FootageFault>,
) {
    damaged_frames(frames, faults);
    repeated_pictures(frames, faults);
    stamps(info, frames, faults);
    declared_count(info, frames.len() as u64 + n_hidden, faults);
    faults.sort_by_key(|fault| (fault.frame, fault.kind));
}

fn damaged_frames(frames: &[FrameRecord], faults: &mut Vec<FootageFault>) {
    let at = frames.iter().filter(|frame| frame.damaged).map(|frame| frame.number);
    list(FaultKind::DamagedFrame, "the picture is damaged, or predicted from a damaged one", at, faults);
}

fn repeated_pictures(frames: &[FrameRecord], faults: &mut Vec<FootageFault>) {
    let at = frames.windows(2).filter(|pair| pair[0].hash == pair[1].hash).map(|pair| pair[1].number);
    list(FaultKind::RepeatedPicture, "the picture equals the one before it, sample by sample", at, faults);
}

fn stamps(info: &FootageInfo, frames: &[FrameRecord], faults: &mut Vec<FootageFault>) {
    let without = frames.iter().filter(|frame| frame.stamp.is_none()).map(|frame| frame.number);
    if frames.iter().all(|frame| frame.stamp.is_none()) {
        let text = "no frame has a time stamp; dropped frames cannot be seen from stamps";
        faults.push(FootageFault::of_footage(FaultKind::NoStamps, text.to_owned()));
        return;
    }
    list(FaultKind::NoStamps, "the frame has no time stamp", without, faults);
    let steps: Vec<(FrameNumber, i64)> = frames
        .windows(2)
        .filter_map(|pair| Some((pair[1].number, pair[1].stamp?.ticks.checked_sub(pair[0].stamp?.ticks)?)))
        .collect();
    let backward = steps.iter().filter(|(_, step)| *step <= 0).map(|(number, _)| *number);
    list(FaultKind::StampOrder, "the time stamp is not later than the one before it", backward, faults);
    let Some(usual) = usual_step(&steps) else { return };
    let uneven =
        steps.iter().filter(|(_, step)| *step > 0 && is_uneven(*step, usual)).map(|(number, _)| *number);
    let text = format!(
        "the step in time to this frame is not the usual {usual} ticks: frames dropped, or a varying rate"
    );
    list(FaultKind::UnevenSpacing, &text, uneven, faults);
    ends_early(info, frames, usual, faults);
}

/// Stamps are rounded to ticks, so that steps of an even film differ by one tick; a tenth of a step is no rounding.
fn is_uneven(step: i64, usual: i64) -> bool {
    let apart = step.abs_diff(usual);
    apart > 1 && apart.saturating_mul(10) > usual.unsigned_abs()
}

#[expect(clippy::cast_precision_loss, reason = "a step is far below 2^53 ticks")]
fn ends_early(info: &FootageInfo, frames: &[FrameRecord], usual: i64, faults: &mut Vec<FootageFault>) {
    let mut stamps = frames.iter().filter_map(|frame| frame.stamp);
    let (Some(declared_s), Some(first), Some(last)) =
        (info.declared_length_s, stamps.next(), stamps.next_back())
    else {
        return;
    };
    let step_s = usual as f64 * last.scale.tick_s();
    let read_s = last.as_s() - first.as_s() + step_s;
    if read_s + 2.0 * step_s < declared_s {
        let text = format!(
            "the header claims {declared_s:.3} s of playback, but pictures end at {read_s:.3} s; the file may be cut short"
        );
        faults.push(FootageFault::of_footage(FaultKind::EndsEarly, text));
    }
}

fn declared_count(info: &FootageInfo, read: u64, faults: &mut Vec<FootageFault>) {
    if let Some(declared) = info.declared_frames.filter(|&declared| declared != read) {
        let text = format!("the header claims {declared} frames, but {read} were read");
        faults.push(FootageFault::of_footage(FaultKind::DeclaredCount, text));
    }
}

/// One fault for each run of neighbouring frames; past [`MOST_LISTED`] runs, one line for the rest.
fn list(kind: FaultKind, text: &str, at: impl Iterator<Item = FrameNumber>, faults: &mut Vec<FootageFault>) {
    let mut runs: Vec<FootageFault> = Vec::new();
    let mut unlisted = 0_u32;
    for number in at {
        let follows = runs.last().is_some_and(|run| {
            unlisted == 0
                && run.frame.is_some_and(|first| first.0.checked_add(run.n_frames) == Some(number.0))
        });
        match runs.last_mut() {
            Some(run) if follows => run.n_frames += 1,
            Some(run) if unlisted > 0 => {
                run.n_frames += 1;
                unlisted += 1;
            }
            _ => {
                runs.push(FootageFault::of_frame(kind, number, text.to_owned()));
                unlisted = u32::from(runs.len() > MOST_LISTED);
            }
        }
    }
    if let Some(rest) = runs.last_mut().filter(|_| unlisted > 0) {
        rest.text = format!("{text}; here and in later frames, {unlisted} in all");
    }
    faults.append(&mut runs);
}
