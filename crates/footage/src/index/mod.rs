//! The frame index: the table that alone says what "frame n" of a footage is, kept beside the results.

mod identity;
mod text;

pub use identity::{FootageIdentity, IdentityJob};

use crate::{FaultKind, FieldOrder, FootageError, FrameRecord, ReadOptions, Survey, open};
use filmgauge_quantities::{FrameNumber, TimeScale};
use serde::{Deserialize, Serialize};
use std::path::{Path, PathBuf};

/// Version of the index file that this program writes and reads.
pub const INDEX_VERSION: u32 = 1;

/// What is the same for all frames of an index.
#[derive(Debug, Clone, PartialEq, Eq, Serialize, Deserialize)]
pub struct IndexHead {
    /// The files that the index was made from.
    #[serde(flatten)]
    pub identity: FootageIdentity,
    /// Number of frames.
    pub frames: u64,
    /// Stored pixels in a row.
    pub width_px: usize,
    /// Stored rows, of a field where frames are fields.
    pub height_px: usize,
    /// Significant bits of a grey level.
    pub bits: u8,
    /// Kind of coding.
    pub codec: String,
    /// Length of a tick of the time stamps; `None` when no frame has one.
    pub tick: Option<TimeScale>,
    /// Which field came first, where frames are fields.
    pub fields: Option<FieldOrder>,
    /// Pictures that the container's edit list hides.
    pub hidden: u64,
    /// Whether no data was lost and no picture is damaged.
    pub sound: bool,
}

/// One line per frame, and what they belong to.
#[derive(Debug, Clone, PartialEq)]
pub struct FrameIndex {
    /// What is the same for all frames.
    pub head: IndexHead,
    /// Every frame, in order of presentation, numbered from 0.
    pub frames: Vec<FrameRecord>,
}

impl FrameIndex {
    /// The index of footage that was read through once; `identity` comes from an [`IdentityJob`] that ran meanwhile.
    #[must_use]
    pub fn of(survey: &Survey, identity: FootageIdentity) -> Self {
        let head = IndexHead {
            identity,
            frames: survey.frames.len() as u64,
            width_px: survey.info.width,
            height_px: survey.info.height,
            bits: survey.info.bits,
            codec: survey.info.codec.clone(),
            tick: survey.frames.iter().find_map(|frame| frame.stamp).map(|stamp| stamp.scale),
            fields: survey.info.fields_read,
            hidden: survey.n_hidden,
            sound: !survey.faults.iter().any(|fault| is_damage(fault.kind)),
        };
        Self { head, frames: survey.frames.clone() }
    }

    /// Number of frames.
    #[must_use]
    pub fn len(&self) -> usize {
        self.frames.len()
    }

    /// Whether there is no frame.
    #[must_use]
    pub fn is_empty(&self) -> bool {
        self.frames.is_empty()
    }

    /// Whether every frame is coded without reference to others.
    #[must_use]
    pub fn is_intra_coded(&self) -> bool {
        self.frames.iter().all(|frame| frame.key)
    }

    /// Reads the size of the files, and their content where `whole`, and compares.
    ///
    /// # Errors
    /// [`FootageError::OtherFootage`] naming what differs and what to do; [`FootageError`] when a file cannot be read.
    pub fn check(&self, files: &[PathBuf], whole: bool) -> Result<(), FootageError> {
        let sizes = identity::sizes(files)?;
        let path = files.first().cloned().unwrap_or_default();
        let other = |text: String| Err(FootageError::OtherFootage { path: path.clone(), text });
        let stated = &self.head.identity;
        if files.len() as u64 != stated.files {
            return other(format!("it has {} files, the index {}", files.len(), stated.files));
        }
        if sizes != stated.bytes {
            return other(format!("it holds {sizes} bytes, the index says {}", stated.bytes));
        }
        if whole && IdentityJob::begin(files).finish()?.blake3 != stated.blake3 {
            return other("its content has another hash".to_owned());
        }
        Ok(())
    }
}

fn is_damage(kind: FaultKind) -> bool {
    matches!(kind, FaultKind::LostData | FaultKind::DamagedFrame)
}

/// Reads footage through once and makes both its survey and its index; files are hashed on another thread meanwhile.
/// `on_frame` is called before each frame is entered; it returns false to stop.
///
/// # Errors
/// As [`crate::survey`].
pub fn index_footage(
    base: &Path,
    footage: &str,
    options: &ReadOptions,
    on_frame: &mut dyn FnMut(FrameNumber) -> bool,
) -> Result<(Survey, FrameIndex), FootageError> {
    let reader = open(base, footage, options)?;
    let identity = IdentityJob::begin(reader.files());
    let survey = crate::table::survey_of(reader, on_frame)?;
    let index = FrameIndex::of(&survey, identity.finish()?);
    Ok((survey, index))
}
