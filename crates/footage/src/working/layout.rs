//! How a working copy is laid out: a title, a head in JSON, frames of equal size, then the frame index as text.

use crate::{FootageError, FootageIdentity};
use filmgauge_quantities::{GreyImage, GreyPixels, GreyView};
use serde::{Deserialize, Serialize};

/// First bytes of a working copy, with the version.
pub(crate) const TITLE: &[u8; 8] = b"FGWORK01";

/// Bytes of the hash in front of each frame's samples: BLAKE3 of those samples.
pub(crate) const HASH_BYTES: usize = 32;

/// Most regions of a working copy.
const MOST_REGIONS: usize = 4096;

/// A rectangle of whole pixels of the stored picture.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Serialize, Deserialize)]
pub struct Region {
    /// Left column, px.
    pub x: usize,
    /// Top row, px.
    pub y: usize,
    /// Columns, at least 1.
    pub width: usize,
    /// Rows, at least 1.
    pub height: usize,
}

impl Region {
    fn lies_in(&self, width: usize, height: usize) -> bool {
        let ends_in =
            |from: usize, n: usize, all: usize| n > 0 && from.checked_add(n).is_some_and(|end| end <= all);
        ends_in(self.x, self.width, width) && ends_in(self.y, self.height, height)
    }
}

/// What stands at the start of a working copy.
#[derive(Debug, Clone, PartialEq, Eq, Serialize, Deserialize)]
pub(crate) struct Head {
    /// The files that it was made from.
    pub(crate) original: FootageIdentity,
    /// BLAKE3 of the text of the frame index that it was made with, hexadecimal.
    pub(crate) index_blake3: String,
    pub(crate) frames: u32,
    pub(crate) width_px: usize,
    pub(crate) height_px: usize,
    pub(crate) bits: u8,
    pub(crate) regions: Vec<Region>,
}

impl Head {
    pub(crate) fn check(&self) -> Result<(), FootageError> {
        let wrong = |text: String| Err(FootageError::Settings { text });
        if self.regions.is_empty() || self.regions.len() > MOST_REGIONS {
            return wrong(format!(
                "a working copy has 1 to {MOST_REGIONS} regions, not {}",
                self.regions.len()
            ));
        }
        match self.regions.iter().find(|region| !region.lies_in(self.width_px, self.height_px)) {
            None => Ok(()),
            Some(region) => wrong(format!(
                "the region at ({}, {}) of {} x {} px is empty or leaves the picture of {} x {} px",
                region.x, region.y, region.width, region.height, self.width_px, self.height_px
            )),
        }
    }

    /// Bytes of one frame's samples; `None` when that is more than can be counted.
    pub(crate) fn packed_bytes(&self) -> Option<usize> {
        let areas = self.regions.iter().map(|region| region.width.checked_mul(region.height));
        let samples = areas.into_iter().try_fold(0_usize, |sum, area| sum.checked_add(area?))?;
        samples.checked_mul(self.sample_bytes())
    }

    /// Samples of the regions, one after the other, row by row, low byte first.
    pub(crate) fn pack(&self, picture: &GreyView<'_>, into: &mut Vec<u8>) {
        into.clear();
        let sample_bytes = self.sample_bytes();
        for region in &self.regions {
            for row in region.y..region.y + region.height {
                let from = row * picture.stride() + region.x;
                match picture.pixels() {
                    GreyPixels::Eight(samples) => {
                        let row = &samples[from..from + region.width];
                        into.extend(row.iter().flat_map(|&level| [level, 0].into_iter().take(sample_bytes)));
                    }
                    GreyPixels::Sixteen(samples) => {
                        let row = &samples[from..from + region.width];
                        into.extend(
                            row.iter().flat_map(|level| level.to_le_bytes().into_iter().take(sample_bytes)),
                        );
                    }
                }
            }
        }
    }

    /// The picture with its regions filled in and level 0 elsewhere; `None` when the sizes do not fit.
    pub(crate) fn unpack(&self, packed: &[u8]) -> Option<GreyImage> {
        let sample_bytes = self.sample_bytes();
        let mut levels = vec![0_u16; self.width_px.checked_mul(self.height_px)?];
        let mut rows = packed;
        for region in &self.regions {
            for row in region.y..region.y + region.height {
                let (samples, rest) = rows.split_at_checked(region.width * sample_bytes)?;
                rows = rest;
                let from = row * self.width_px + region.x;
                let target = levels.get_mut(from..from + region.width)?;
                for (level, sample) in target.iter_mut().zip(samples.chunks(sample_bytes)) {
                    *level = u16::from_le_bytes([sample[0], sample.get(1).copied().unwrap_or(0)]);
                }
            }
        }
        if self.bits == 8 {
            let levels = levels.iter().map(|level| level.to_le_bytes()[0]).collect();
            return GreyImage::from_u8(self.width_px, self.height_px, levels).ok();
        }
        GreyImage::from_u16(self.width_px, self.height_px, self.bits, levels).ok()
    }

    fn sample_bytes(&self) -> usize {
        if self.bits > 8 { 2 } else { 1 }
    }
}
