//! The frame table: one line per frame with stamp, key flag, mean level and picture hash, and the faults they show.

use crate::change::Sampled;
use crate::judging::judge;
use crate::picture_hash::{as_hex, picture_hash};
use crate::{FootageError, FootageFault, FootageInfo, Frame, FramePlace, ReadOptions, Reader, open};
use filmgauge_quantities::{FrameNumber, TickTime};
use serde::Serialize;
use std::path::Path;

/// Pixels from one that enters the mean level to the next, in rows and columns.
pub(crate) const MEAN_STEP_PX: usize = 4;

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
    /// Mean absolute difference of level from the frame before, over the same pixels as the mean level; `None` for the
    /// first frame, and where the table was made from records alone.
    pub change: Option<f64>,
    /// Where the frame lies in a film; `None` for stills.
    pub place: Option<FramePlace>,
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
            change: None,
            place: frame.place,
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
    /// Pictures that the container's edit list hides: decoded, not shown, not numbered.
    pub n_hidden: u64,
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
    survey_of(open(base, footage, options)?, on_frame)
}

/// Reads opened footage through to its end.
pub(crate) fn survey_of(
    mut reader: Reader,
    on_frame: &mut dyn FnMut(FrameNumber) -> bool,
) -> Result<Survey, FootageError> {
    let mut table = FrameTableBuilder::new(reader.info());
    while let Some(frame) = reader.next_frame()? {
        if !on_frame(frame.number) {
            return Err(FootageError::Stopped { frame: frame.number });
        }
        table.push(&frame);
    }
    table.add_faults(reader.faults());
    table.add_hidden(reader.n_hidden());
    Ok(table.finish())
}

/// Builds the frame table while frames pass by on their way to something else.
#[derive(Debug, Clone)]
pub struct FrameTableBuilder {
    info: FootageInfo,
    frames: Vec<FrameRecord>,
    faults: Vec<FootageFault>,
    n_hidden: u64,
    /// Pixels of the frame before.
    before: Option<Sampled>,
}

impl FrameTableBuilder {
    /// An empty table for the footage that `info` describes.
    #[must_use]
    pub fn new(info: &FootageInfo) -> Self {
        Self { info: info.clone(), frames: Vec::new(), faults: Vec::new(), n_hidden: 0, before: None }
    }

    /// Enters the next frame.
    pub fn push(&mut self, frame: &Frame) {
        let sampled = Sampled::of(&frame.picture.view(), MEAN_STEP_PX);
        let change = self.before.as_ref().and_then(|before| before.change_to(&sampled));
        self.before = Some(sampled);
        self.push_record(FrameRecord { change, ..FrameRecord::of(frame) });
    }

    /// Enters a record made elsewhere, such as on another thread. Records come in the order of their numbers.
    pub fn push_record(&mut self, record: FrameRecord) {
        self.frames.push(record);
    }

    /// Adds what the reader itself noted: [`crate::Reader::faults`] after the last frame.
    pub fn add_faults(&mut self, faults: &[FootageFault]) {
        self.faults.extend_from_slice(faults);
    }

    /// Enters how many pictures the container hides: [`crate::Reader::n_hidden`] after the last frame.
    pub fn add_hidden(&mut self, n_hidden: u64) {
        self.n_hidden = n_hidden;
    }

    /// Judges the whole table.
    #[must_use]
    pub fn finish(mut self) -> Survey {
        judge(&self.info, &self.frames, self.n_hidden, &mut self.faults);
        Survey { info: self.info, frames: self.frames, faults: self.faults, n_hidden: self.n_hidden }
    }
}
