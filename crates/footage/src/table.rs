//! The frame table: one line per frame with stamp, key flag, mean level and picture hash, and the faults they show.

use crate::{FaultKind, FootageError, FootageFault, FootageInfo, Frame, ReadOptions, open};
use filmgauge_quantities::{FrameNumber, GreyPixels, GreyView, TickTime};
use serde::{Serialize, Serializer};
use std::path::Path;

/// Pixels from one that enters the mean level to the next, in rows and columns.
const MEAN_STEP_PX: usize = 4;

/// Faults of one kind that are listed singly; more are summed up in one line.
const MOST_LISTED: usize = 20;

/// One line of the frame table.
#[derive(Debug, Clone, PartialEq, Serialize)]
pub struct FrameRecord {
    /// Number in order of presentation.
    pub number: FrameNumber,
    /// The container's time stamp.
    pub stamp: Option<TickTime>,
    /// Coded without reference to other pictures.
    pub key: bool,
    /// Partly made up by the decoder.
    pub damaged: bool,
    /// Mean grey level over every fourth pixel of every fourth row: enough to see a flash.
    pub mean_level: f64,
    /// BLAKE3 of width, height (64 bits each), bits (8 bits) and the samples row by row, all low byte first.
    #[serde(serialize_with = "as_hex")]
    pub hash: [u8; 32],
}

impl FrameRecord {
    /// The record of a frame.
    #[must_use]
    pub fn of(frame: &Frame) -> Self {
        let view = frame.picture.view();
        Self {
            number: frame.number,
            stamp: frame.stamp,
            key: frame.key,
            damaged: frame.damaged,
            mean_level: view.mean_level(MEAN_STEP_PX),
            hash: picture_hash(&view),
        }
    }
}

/// Footage read through once.
#[derive(Debug, Clone, PartialEq, Serialize)]
pub struct Survey {
    /// What was known at its start.
    pub info: FootageInfo,
    /// Every frame.
    pub frames: Vec<FrameRecord>,
    /// Every fault, those of the whole footage first, then by frame.
    pub faults: Vec<FootageFault>,
}

/// Reads footage through once. `on_frame` is called before each frame is entered; it returns false to stop.
///
/// # Errors
/// As [`open`] and [`crate::Reader::next_frame`]; [`FootageError::Stopped`] when `on_frame` asks for it.
pub fn survey(
    base: &Path,
    footage: &str,
    options: &ReadOptions,
    on_frame: &mut dyn FnMut(FrameNumber) -> bool,
) -> Result<Survey, FootageError> {
    let mut reader = open(base, footage, options)?;
    let mut table = FrameTableBuilder::new(reader.info());
    while let Some(frame) = reader.next_frame()? {
        if !on_frame(frame.number) {
            return Err(FootageError::Stopped { frame: frame.number });
        }
        table.push(&frame);
    }
    table.add_faults(reader.faults());
    Ok(table.finish())
}

/// Builds the frame table while frames pass by on their way to something else.
#[derive(Debug, Clone)]
pub struct FrameTableBuilder {
    info: FootageInfo,
    frames: Vec<FrameRecord>,
    faults: Vec<FootageFault>,
}

impl FrameTableBuilder {
    /// An empty table for the footage that `info` describes.
    #[must_use]
    pub fn new(info: &FootageInfo) -> Self {
        Self { info: info.clone(), frames: Vec::new(), faults: Vec::new() }
    }

    /// Enters the next frame.
    pub fn push(&mut self, frame: &Frame) {
        self.push_record(FrameRecord::of(frame));
    }

    /// Enters a record made elsewhere, such as on another thread. Records come in the order of their numbers.
    pub fn push_record(&mut self, record: FrameRecord) {
        self.frames.push(record);
    }

    /// Adds what the reader itself noted: [`crate::Reader::faults`] after the last frame.
    pub fn add_faults(&mut self, faults: &[FootageFault]) {
        self.faults.extend_from_slice(faults);
    }

    /// Judges the whole table.
    #[must_use]
    pub fn finish(mut self) -> Survey {
        damaged_frames(&self.frames, &mut self.faults);
        repeated_pictures(&self.frames, &mut self.faults);
        stamps(&self.info, &self.frames, &mut self.faults);
        declared_count(&self.info, &self.frames, &mut self.faults);
        self.faults.sort_by_key(|fault| (fault.frame, fault.kind));
        Survey { info: self.info, frames: self.frames, faults: self.faults }
    }
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

/// The middle one of the steps in time, ticks.
fn usual_step(steps: &[(FrameNumber, i64)]) -> Option<i64> {
    let mut forward: Vec<i64> = steps.iter().map(|(_, step)| *step).filter(|step| *step > 0).collect();
    let middle = forward.len().checked_sub(1)? / 2;
    Some(*forward.select_nth_unstable(middle).1)
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

fn declared_count(info: &FootageInfo, frames: &[FrameRecord], faults: &mut Vec<FootageFault>) {
    let read = frames.len() as u64;
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

fn picture_hash(view: &GreyView<'_>) -> [u8; 32] {
    let mut hasher = blake3::Hasher::new();
    hasher.update(&(view.width() as u64).to_le_bytes());
    hasher.update(&(view.height() as u64).to_le_bytes());
    hasher.update(&[view.bits()]);
    match view.pixels() {
        GreyPixels::Eight(samples) => {
            for row in samples.chunks(view.stride()).take(view.height()) {
                hasher.update(&row[..view.width()]);
            }
        }
        GreyPixels::Sixteen(samples) => {
            let mut bytes = Vec::with_capacity(2 * view.width());
            for row in samples.chunks(view.stride()).take(view.height()) {
                bytes.clear();
                bytes.extend(row[..view.width()].iter().flat_map(|level| level.to_le_bytes()));
                hasher.update(&bytes);
            }
        }
    }
    *hasher.finalize().as_bytes()
}

fn as_hex<S: Serializer>(hash: &[u8; 32], serializer: S) -> Result<S::Ok, S::Error> {
    serializer.serialize_str(blake3::Hash::from_bytes(*hash).to_hex().as_str())
}
