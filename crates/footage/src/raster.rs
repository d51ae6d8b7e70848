//! PNG and BMP: decoded whole, then to grey with the depth that the file itself states.

use crate::rotation::Turn;
use crate::still::{StillPicture, check_claim, not_a_still, words};
use crate::weights::{luma_u8, luma_u16};
use crate::{FootageError, LumaPath, png_depth};
use filmgauge_quantities::{GreyImage, LayoutError};
use image::codecs::bmp::BmpDecoder;
use image::codecs::png::PngDecoder;
use image::{DynamicImage, ImageDecoder, ImageError, Limits};
use std::fs::File;
use std::io::{BufReader, Seek};
use std::path::Path;

const PNG: &[u8] = b"\x89PNG\r\n\x1a\n";
const BMP: &[u8] = b"BM";

/// Whether a file that begins so is of a kind that [`read`] reads.
pub(crate) fn is_known(start: &[u8]) -> bool {
    start.starts_with(PNG) || (start.starts_with(BMP) && start.len() >= 26)
}

/// Reads a PNG or BMP whose first 64 bytes are `start`.
pub(crate) fn read(
    path: &Path,
    mut file: BufReader<File>,
    start: &[u8],
    most_pixels: u64,
) -> Result<StillPicture, FootageError> {
    let damaged = |error: ImageError| not_a_still(path, &error.to_string());
    // The claim is checked before any decoder sees the file: some of them take memory for it at once.
    let (width, height) =
        claimed_size(start).ok_or_else(|| not_a_still(path, "its header is cut short or damaged"))?;
    check_claim(path, width, height, most_pixels)?;
    let mut limits = Limits::default();
    // Four channels of 16 bits, twice over for the decoder's own copy, and room for its tables.
    limits.max_alloc = Some(most_pixels.saturating_mul(16).saturating_add(16 << 20));
    if start.starts_with(BMP) {
        let mut decoder = BmpDecoder::new(file).map_err(damaged)?;
        decoder.set_limits(limits).map_err(damaged)?;
        let decoded = DynamicImage::from_decoder(decoder).map_err(damaged)?;
        return to_grey(path, "bmp", decoded, 8, None, None);
    }
    let stored_bits = start.get(24).copied().unwrap_or(8);
    let stated = png_depth::significant_bits(&mut file).filter(|bits| *bits < stored_bits);
    file.rewind().map_err(|error| FootageError::from_io(path, error))?;
    let mut decoder = PngDecoder::with_limits(file, limits).map_err(damaged)?;
    let turn = decoder.orientation().ok().and_then(|turn| Turn::of_orientation(turn.to_exif()));
    let decoded = DynamicImage::from_decoder(decoder).map_err(damaged)?;
    to_grey(path, "png", decoded, stored_bits, stated, turn)
}

/// Width and height that the header claims: PNG's first chunk always lies at the same place, as does BMP's header.
fn claimed_size(start: &[u8]) -> Option<(u64, u64)> {
    let four = |at: usize| start.get(at..at + 4).and_then(|bytes| <[u8; 4]>::try_from(bytes).ok());
    if start.starts_with(PNG) {
        let (width, height) = (u32::from_be_bytes(four(16)?), u32::from_be_bytes(four(20)?));
        return (start.get(12..16)? == b"IHDR").then_some((u64::from(width), u64::from(height)));
    }
    if four(14)? == [12, 0, 0, 0] {
        // The oldest header has sizes of two bytes.
        let [w0, w1, h0, h1] = four(18)?;
        return Some((u64::from(u16::from_le_bytes([w0, w1])), u64::from(u16::from_le_bytes([h0, h1]))));
    }
    // A height below zero means rows from the top.
    let (width, height) = (i32::from_le_bytes(four(18)?), i32::from_le_bytes(four(22)?));
    Some((u64::from(width.unsigned_abs()), u64::from(height.unsigned_abs())))
}

/// `stored_bits` is the width of a sample in the file, `stated` its significant bits where fewer.
fn to_grey(
    path: &Path,
    coding: &'static str,
    decoded: DynamicImage,
    stored_bits: u8,
    stated: Option<u8>,
    turn: Option<Turn>,
) -> Result<StillPicture, FootageError> {
    let (width, height) = (decoded.width() as usize, decoded.height() as usize);
    let luma = if decoded.color().has_color() { LumaPath::WeightedColour } else { LumaPath::GreyAsStored };
    let bits = stated.unwrap_or(stored_bits);
    let built = match decoded {
        DynamicImage::ImageLuma8(grey) => narrow(width, height, bits, grey.into_raw()),
        DynamicImage::ImageLumaA8(grey) => {
            narrow(width, height, bits, grey.pixels().map(|pixel| pixel.0[0]).collect())
        }
        DynamicImage::ImageLuma16(grey) => wide(width, height, bits, grey.into_raw()),
        DynamicImage::ImageLumaA16(grey) => {
            wide(width, height, bits, grey.pixels().map(|pixel| pixel.0[0]).collect())
        }
        DynamicImage::ImageRgb8(colour) => {
            GreyImage::from_u8(width, height, colour.pixels().map(|pixel| luma_u8(pixel.0)).collect())
        }
        DynamicImage::ImageRgba8(colour) => {
            let rgb = colour.pixels().map(|pixel| [pixel.0[0], pixel.0[1], pixel.0[2]]);
            GreyImage::from_u8(width, height, rgb.map(luma_u8).collect())
        }
        DynamicImage::ImageRgb16(colour) => {
            GreyImage::from_u16(width, height, 16, colour.pixels().map(|pixel| luma_u16(pixel.0)).collect())
        }
        DynamicImage::ImageRgba16(colour) => {
            let rgb = colour.pixels().map(|pixel| [pixel.0[0], pixel.0[1], pixel.0[2]]);
            GreyImage::from_u16(width, height, 16, rgb.map(luma_u16).collect())
        }
        other => {
            return Err(FootageError::Unsupported {
                path: path.to_path_buf(),
                what: format!("samples of kind {:?} are not read", other.color()),
                remedy: "save the stills as 8 or 16 bit PNG or TIFF".to_owned(),
            });
        }
    };
    let picture = built.map_err(|source| FootageError::Layout { path: path.to_path_buf(), source })?;
    let samples = words(
        luma,
        u16::from(if luma == LumaPath::GreyAsStored { stored_bits } else { picture.view().bits() }),
    );
    Ok(StillPicture { picture, luma, coding, samples, turn })
}

/// The decoder repeats the bits of narrow samples to fill a byte, and sBIT puts significant bits on top: the upper
/// `bits` are the level as stored in both cases.
fn narrow(width: usize, height: usize, bits: u8, samples: Vec<u8>) -> Result<GreyImage, LayoutError> {
    if !(1..8).contains(&bits) {
        return GreyImage::from_u8(width, height, samples);
    }
    // Fewer than 8 bits: the image keeps true bits only in its 16-bit form.
    let levels = samples.into_iter().map(|sample| u16::from(sample >> (8 - bits))).collect();
    GreyImage::from_u16(width, height, bits, levels)
}

fn wide(width: usize, height: usize, bits: u8, mut samples: Vec<u16>) -> Result<GreyImage, LayoutError> {
    if !(1..16).contains(&bits) {
        return GreyImage::from_u16(width, height, 16, samples);
    }
    for sample in &mut samples {
        *sample >>= 16 - bits;
    }
    GreyImage::from_u16(width, height, bits, samples)
}
