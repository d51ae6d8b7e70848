//! TIFF: one page after the other to grey, 1 to 16 bits, both byte orders, strips and tiles, also beyond 4 GiB.

use crate::rotation::Turn;
use crate::still::{StillPicture, check_claim, not_a_still, words};
use crate::tiff_overlay::Overlay;
use crate::tiff_samples::{Stored, to_grey};
use crate::{FootageError, LumaPath};
use std::fs::File;
use std::io::{BufReader, Seek};
use std::path::{Path, PathBuf};
use tiff::decoder::{Decoder, DecodingResult, Limits};
use tiff::tags::{ByteOrder, IfdPointer, SampleFormat, Tag};
use tiff::{ColorType, TiffError};

/// Photometric interpretation in which 0 is white (TIFF 6.0, section 8).
const WHITE_IS_ZERO: u16 = 0;
/// Bits of the new-subfile-type tag: a smaller copy of another page; a mask for one.
const SMALLER_OR_MASK: u32 = 1 | 4;
/// Most pages that are counted.
const MOST_PAGES: u64 = 1 << 24;

/// The pages of a file, read one at a time.
pub(crate) struct TiffPages {
    path: PathBuf,
    decoder: Decoder<Overlay<BufReader<File>>>,
    most_pixels: u64,
    first: Option<IfdPointer>,
    page: usize,
    begun: bool,
}

impl TiffPages {
    pub(crate) fn open(
        path: &Path,
        mut file: BufReader<File>,
        most_pixels: u64,
    ) -> Result<Self, FootageError> {
        let unreadable = |error| FootageError::from_io(path, error);
        file.rewind().map_err(unreadable)?;
        let overlay = Overlay::new(file).map_err(unreadable)?;
        let bytes = usize::try_from(most_pixels.saturating_mul(8)).unwrap_or(usize::MAX);
        let mut limits = Limits::default();
        limits.decoding_buffer_size = bytes;
        limits.intermediate_buffer_size = bytes;
        let mut decoder = Decoder::new(overlay).map_err(|error| refused(path, &error))?.with_limits(limits);
        let first = decoder.ifd_pointer();
        let path = path.to_path_buf();
        Ok(Self { path, decoder, most_pixels, first, page: 0, begun: false })
    }

    /// Pages that are pictures of their own. The chain of pages is followed without reading them, to its end or
    /// to where it is damaged.
    pub(crate) fn count(&mut self) -> u64 {
        let (mut count, mut followed, mut next) = (0, 0, self.first);
        while let Some(place) = next.filter(|_| followed < MOST_PAGES) {
            let Ok(directory) = self.decoder.read_directory(place) else { break };
            let kind =
                self.decoder.read_directory_tags(&directory).find_tag_unsigned::<u32>(Tag::NewSubfileType);
            if !matches!(kind, Ok(Some(kind)) if kind & SMALLER_OR_MASK != 0) {
                count += 1;
            }
            next = directory.next();
            followed += 1;
        }
        count
    }

    /// The next page that is a picture of its own; previews and masks are passed over.
    pub(crate) fn next_page(&mut self) -> Result<Option<StillPicture>, FootageError> {
        if self.pass_over()? { self.page().map(Some) } else { Ok(None) }
    }

    /// Goes to the next page that is a picture of its own, without reading its samples; false when there is none.
    pub(crate) fn pass_over(&mut self) -> Result<bool, FootageError> {
        loop {
            if self.begun {
                self.decoder.inner().clear();
                if !self.decoder.more_images() {
                    return Ok(false);
                }
                self.decoder.next_image().map_err(|error| refused(&self.path, &error))?;
                self.page += 1;
            }
            self.begun = true;
            let kind = self.tag::<u32>(Tag::NewSubfileType)?.unwrap_or(0);
            if kind & SMALLER_OR_MASK == 0 {
                return Ok(true);
            }
        }
    }

    fn page(&mut self) -> Result<StillPicture, FootageError> {
        let stored = self.stored()?;
        let packed = matches!(stored.bits, 1..=7 | 9..=15);
        if packed && stored.samples != 1 {
            let what = format!("{} samples a pixel of {} bits", stored.samples, stored.bits);
            return Err(unsupported(&self.path, &what));
        }
        if stored.bits > 8 && packed {
            self.pass_off_as_bytes(&stored)?;
        }
        let mut samples = DecodingResult::U8(Vec::new());
        let read = self.decoder.read_image_to_buffer(&mut samples);
        let layout = read.map_err(|error| refused(&self.path, &error))?;
        if samples.as_buffer(0).byte_len() < layout.complete_len {
            return Err(refused(&self.path, &TiffError::LimitsExceeded));
        }
        let picture = to_grey(&stored, samples).map_err(|what| unsupported(&self.path, &what))?;
        let samples = words(stored.luma, u16::from(stored.bits));
        Ok(StillPicture { picture, luma: stored.luma, coding: "tiff", samples, turn: stored.turn })
    }

    /// What the page's header says, checked before its samples are read.
    fn stored(&mut self) -> Result<Stored, FootageError> {
        let (width, height) = self.decoder.dimensions().map_err(|error| refused(&self.path, &error))?;
        let (width, height) = check_claim(&self.path, width.into(), height.into(), self.most_pixels)?;
        let colour = self.decoder.colortype().map_err(|error| refused(&self.path, &error))?;
        let white_is_zero = self.tag::<u16>(Tag::PhotometricInterpretation)? == Some(WHITE_IS_ZERO);
        let (luma, kept, what) = match colour {
            ColorType::Gray(_) | ColorType::Multiband { .. } if white_is_zero => {
                (LumaPath::GreyInverted, 1, None)
            }
            ColorType::Gray(_) | ColorType::Multiband { .. } => (LumaPath::GreyAsStored, 1, None),
            ColorType::RGB(_) | ColorType::RGBA(_) => (LumaPath::WeightedColour, 3, None),
            ColorType::YCbCr(_) => (LumaPath::LumaPlane, 1, None),
            other => (LumaPath::GreyAsStored, 0, Some(format!("samples of kind {other:?}"))),
        };
        let format = self.tag::<u16>(Tag::SampleFormat)?.map(SampleFormat::from_u16_exhaustive);
        let what = match format {
            None | Some(SampleFormat::Uint | SampleFormat::Void) => what,
            Some(SampleFormat::IEEEFP) => Some("samples in floating point".to_owned()),
            Some(_) => Some("samples below zero or of an unknown kind".to_owned()),
        };
        let bits = colour.bit_depth();
        let what = what.or_else(|| (bits > 16).then(|| format!("samples of {bits} bits")));
        let reversed = self.tag::<u16>(Tag::FillOrder)?.unwrap_or(1) != 1 && !matches!(bits, 8 | 16);
        let what = what.or_else(|| reversed.then(|| "bits filled in from the lower end".to_owned()));
        if let Some(what) = what {
            return Err(unsupported(&self.path, &what));
        }
        let samples = usize::from(self.tag::<u16>(Tag::SamplesPerPixel)?.unwrap_or(1));
        let maximal = [Tag::SMaxSampleValue, Tag::Unknown(281)]
            .into_iter()
            .find_map(|tag| self.tag::<u32>(tag).ok().flatten());
        let orientation = self.tag::<u16>(Tag::Orientation)?.and_then(|turn| u8::try_from(turn).ok());
        let turn = orientation.and_then(Turn::of_orientation);
        let planar = self.tag::<u16>(Tag::PlanarConfiguration)? == Some(2);
        Ok(Stored { width, height, bits, samples: samples.max(kept), planar, luma, maximal, turn })
    }

    /// Makes rows of packed samples read as rows of bytes.
    fn pass_off_as_bytes(&mut self, stored: &Stored) -> Result<(), FootageError> {
        let bits = usize::from(stored.bits);
        let bytes = |n: usize| u32::try_from((n * bits).div_ceil(8)).unwrap_or(u32::MAX);
        let mut entries =
            vec![(Tag::ImageWidth.to_u16(), bytes(stored.width)), (Tag::BitsPerSample.to_u16(), 8)];
        if let Some(tile_width) = self.tag::<u32>(Tag::TileWidth)? {
            let tile_width = usize::try_from(tile_width).unwrap_or(usize::MAX);
            // Tiles are multiples of 16 px wide (TIFF 6.0, section 15): a whole number of bytes.
            entries.push((Tag::TileWidth.to_u16(), bytes(tile_width.min(1 << 24))));
        }
        let Some(place) = self.decoder.ifd_pointer() else { return Ok(()) };
        let little_end = self.decoder.byte_order() == ByteOrder::LittleEndian;
        let replaced = self.decoder.inner().replace_entries(place.0, little_end, &entries);
        replaced.map_err(|error| FootageError::from_io(&self.path, error))?;
        self.decoder.seek_to_image(self.page).map_err(|error| refused(&self.path, &error))
    }

    /// The first value of a tag; `None` when the page lacks it.
    fn tag<T: TryFrom<u64>>(&mut self, tag: Tag) -> Result<Option<T>, FootageError> {
        let values = self.decoder.find_tag_unsigned_vec::<T>(tag);
        let values = values.map_err(|error| refused(&self.path, &error))?;
        Ok(values.and_then(|values| values.into_iter().next()))
    }
}

fn unsupported(path: &Path, what: &str) -> FootageError {
    FootageError::Unsupported {
        path: path.to_path_buf(),
        what: format!("a TIFF of {what} is not read"),
        remedy: "save the stills as grey PNG or TIFF of 8 to 16 bits".to_owned(),
    }
}

fn refused(path: &Path, error: &TiffError) -> FootageError {
    match error {
        TiffError::UnsupportedError(what) => unsupported(path, &format!("this kind ({what})")),
        other => not_a_still(path, &other.to_string()),
    }
}
