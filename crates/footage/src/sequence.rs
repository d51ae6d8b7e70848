//! A sequence of stills as footage: one file, one frame, no time stamps.

use crate::still::{self, StillPicture};
use crate::{FootageError, FootageFault, FootageInfo, Frame, ReadOptions};
use filmgauge_quantities::FrameNumber;
use std::path::PathBuf;

/// Stills read one after the other.
pub(crate) struct Sequence {
    files: Vec<PathBuf>,
    most_pixels: u64,
    pub(crate) info: FootageInfo,
    pub(crate) faults: Vec<FootageFault>,
    first: Option<StillPicture>,
    next: u32,
}

impl Sequence {
    pub(crate) fn open(files: Vec<PathBuf>, options: &ReadOptions) -> Result<Self, FootageError> {
        let Some(path) = files.first() else { return Err(FootageError::Missing { path: PathBuf::new() }) };
        let first = still::read(path, options.most_pixels)?;
        let view = first.picture.view();
        let info = FootageInfo {
            width: view.width(),
            height: view.height(),
            bits: view.bits(),
            container: "image sequence".to_owned(),
            codec: first.coding.to_owned(),
            pixel_format: first.samples.clone(),
            luma: first.luma,
            full_range: Some(true),
            container_rate: None,
            declared_frames: u64::try_from(files.len()).ok(),
            declared_length_s: None,
            pixel_aspect: None,
            turn_deg: None,
            mirrored: false,
            stated_fields: None,
            fields_read: None,
        };
        Ok(Self {
            files,
            most_pixels: options.most_pixels,
            info,
            faults: Vec::new(),
            first: Some(first),
            next: 0,
        })
    }

    pub(crate) fn files(&self) -> &[PathBuf] {
        &self.files
    }

    pub(crate) fn next_frame(&mut self) -> Result<Option<Frame>, FootageError> {
        let number = FrameNumber(self.next);
        let Some(path) = self.files.get(self.next as usize) else { return Ok(None) };
        let still = match self.first.take() {
            Some(first) => first,
            None => still::read(path, self.most_pixels).map_err(|error| at_frame(error, number))?,
        };
        let view = still.picture.view();
        let same = (view.width(), view.height(), view.bits(), still.luma)
            == (self.info.width, self.info.height, self.info.bits, self.info.luma);
        if !same {
            return Err(FootageError::SizeChanged {
                path: path.clone(),
                frame: number,
                expected: format!(
                    "{} x {} px, {} bits, {}",
                    self.info.width,
                    self.info.height,
                    self.info.bits,
                    self.info.luma.words()
                ),
                found: format!(
                    "{} x {} px, {} bits, {}",
                    view.width(),
                    view.height(),
                    view.bits(),
                    still.luma.words()
                ),
            });
        }
        self.next += 1;
        Ok(Some(Frame { number, stamp: None, key: true, damaged: false, picture: still.picture, place: None }))
    }
}

/// Within a sequence, a still that cannot be understood is a damaged frame.
fn at_frame(error: FootageError, frame: FrameNumber) -> FootageError {
    match error {
        FootageError::NotFootage { path, text } => FootageError::Damaged { path, frame, text },
        FootageError::Empty { path } => {
            FootageError::Damaged { path, frame, text: "the file is empty".to_owned() }
        }
        other => other,
    }
}
