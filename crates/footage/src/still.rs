//! Stills: one picture file to grey images with their true depth. Content tells the kind of file, not its name.

use crate::pnm::PnmPictures;
use crate::rotation::Turn;
use crate::tiff_pages::TiffPages;
use crate::{FootageError, LumaPath, ReadOptions, jpeg, raster};
use filmgauge_quantities::GreyImage;
use std::fs::File;
use std::io::{BufReader, Read, Seek};
use std::path::{Path, PathBuf};

/// Reads one PNG, TIFF, JPEG, PNM or BMP as grey levels as stored. Of several pictures in a file the first is read.
///
/// True depth is kept, from 1 to 16 bits, where the file states it: narrow PNG samples and the PNG sBIT chunk, the PNM
/// maximal value, TIFF bits per sample. How colour becomes grey is told by [`LumaPath`]; transparency is ignored.
///
/// # Errors
/// [`FootageError`] when the file is missing, no still, damaged, larger than the default cap or of a kind that cannot
/// be measured: four inks, floating point, numbers below zero.
pub fn read_still(path: &Path) -> Result<GreyImage, FootageError> {
    match Pictures::open(path, ReadOptions::default().most_pixels)?.next_picture()? {
        Some(still) => Ok(still.picture),
        None => Err(not_a_still(path, "the file holds no picture")),
    }
}

/// Picture `number` of footage made of `files`, which hold `n_pictures` in all.
pub(crate) fn read_nth(
    files: &[PathBuf],
    number: u32,
    n_pictures: usize,
    most_pixels: u64,
) -> Result<StillPicture, FootageError> {
    // Every file holds one at least, so that as many files as pictures means one each.
    let one_each = n_pictures == files.len();
    let files = if one_each { files.get(number as usize..).unwrap_or_default() } else { files };
    let mut left = if one_each { 0 } else { number };
    for file in files {
        let mut pictures = Pictures::open(file, most_pixels)?;
        match pictures.declared().and_then(|n| u32::try_from(n).ok()) {
            Some(n) if n <= left => left -= n,
            _ => {
                while left > 0 && pictures.pass_over()? {
                    left -= 1;
                }
                if left == 0
                    && let Some(still) = pictures.next_picture()?
                {
                    return Ok(still);
                }
            }
        }
    }
    let last = files.last().cloned().unwrap_or_default();
    Err(not_a_still(&last, &format!("there is no picture number {number}")))
}

/// A still with how it was read.
pub(crate) struct StillPicture {
    pub(crate) picture: GreyImage,
    pub(crate) luma: LumaPath,
    /// Kind of file, such as "png".
    pub(crate) coding: &'static str,
    /// Layout of samples in words, such as "grey, 12 bits".
    pub(crate) samples: String,
    /// How it is to be turned for viewing.
    pub(crate) turn: Option<Turn>,
}

/// The pictures of one file, one after the other.
pub(crate) enum Pictures {
    One(Option<Box<StillPicture>>),
    Tiff(Box<TiffPages>),
    Pnm(PnmPictures),
}

impl Pictures {
    /// Opens a file of at least one picture, none of more than `most_pixels`.
    pub(crate) fn open(path: &Path, most_pixels: u64) -> Result<Self, FootageError> {
        let unreadable = |error| FootageError::from_io(path, error);
        let mut file = BufReader::new(File::open(path).map_err(unreadable)?);
        let mut start = Vec::with_capacity(64);
        file.by_ref().take(64).read_to_end(&mut start).map_err(unreadable)?;
        file.rewind().map_err(unreadable)?;
        match start.as_slice() {
            [] => Err(FootageError::Empty { path: path.to_path_buf() }),
            [0xFF, 0xD8, 0xFF, ..] => {
                jpeg::read(path, file, most_pixels).map(|still| Self::One(Some(Box::new(still))))
            }
            [b'I', b'I', 42 | 43, 0, ..] | [b'M', b'M', 0, 42 | 43, ..] => {
                TiffPages::open(path, file, most_pixels).map(|pages| Self::Tiff(Box::new(pages)))
            }
            [b'P', b'1'..=b'7', b'#' | b' ' | b'\t'..=b'\r', ..] => {
                Ok(Self::Pnm(PnmPictures::new(path, file, most_pixels)))
            }
            [b'P', b'F' | b'f', b'\n', ..] => Err(FootageError::Unsupported {
                path: path.to_path_buf(),
                what: "a portable map of floating-point samples is not read".to_owned(),
                remedy: "save the stills as PGM (P5) or PNG".to_owned(),
            }),
            start if raster::is_known(start) => {
                raster::read(path, file, start, most_pixels).map(|still| Self::One(Some(Box::new(still))))
            }
            _ => Err(not_a_still(path, "no known kind of still: neither PNG, TIFF, JPEG, PNM nor BMP")),
        }
    }

    /// The next picture; `None` after the last one.
    pub(crate) fn next_picture(&mut self) -> Result<Option<StillPicture>, FootageError> {
        match self {
            Self::One(still) => Ok(still.take().map(|still| *still)),
            Self::Tiff(pages) => pages.next_page(),
            Self::Pnm(pictures) => pictures.next_picture(),
        }
    }

    /// Leaves out the next picture; false when there is none.
    fn pass_over(&mut self) -> Result<bool, FootageError> {
        match self {
            Self::Tiff(pages) => pages.pass_over(),
            Self::One(_) | Self::Pnm(_) => self.next_picture().map(|still| still.is_some()),
        }
    }

    /// How many pictures the file says it holds; `None` when only reading tells.
    pub(crate) fn declared(&mut self) -> Option<u64> {
        match self {
            Self::One(_) => Some(1),
            Self::Tiff(pages) => Some(pages.count()),
            Self::Pnm(_) => None,
        }
    }
}

/// Refuses a size that exceeds the cap or is nothing, before memory is taken; gives it as sizes in memory.
pub(crate) fn check_claim(
    path: &Path,
    width: u64,
    height: u64,
    most_pixels: u64,
) -> Result<(usize, usize), FootageError> {
    if width.saturating_mul(height) > most_pixels {
        return Err(FootageError::TooLarge { path: path.to_path_buf(), width, height, most_pixels });
    }
    match (usize::try_from(width), usize::try_from(height)) {
        (Ok(width), Ok(height)) if width > 0 && height > 0 => Ok((width, height)),
        _ => Err(not_a_still(path, &format!("a picture of {width} x {height} px"))),
    }
}

pub(crate) fn not_a_still(path: &Path, text: &str) -> FootageError {
    FootageError::NotFootage { path: path.to_path_buf(), text: text.to_owned() }
}

/// Layout of samples in words.
pub(crate) fn words(luma: LumaPath, bits: u16) -> String {
    let grey = matches!(luma, LumaPath::GreyAsStored | LumaPath::GreyInverted);
    format!("{}, {bits} bits", if grey { "grey" } else { "colour" })
}
