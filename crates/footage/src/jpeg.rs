//! JPEG: the luma samples as stored, refused when the picture is cut short.

use crate::rotation::Turn;
use crate::still::{StillPicture, check_claim, not_a_still, words};
use crate::weights::luma_u8;
use crate::{FootageError, LumaPath};
use filmgauge_quantities::GreyImage;
use image::metadata::Orientation;
use std::io::Read;
use std::path::Path;
use zune_jpeg::JpegDecoder;
use zune_jpeg::zune_core::bytestream::ZCursor;
use zune_jpeg::zune_core::colorspace::ColorSpace;
use zune_jpeg::zune_core::options::DecoderOptions;

/// Reads a JPEG of grey, luma with chroma, or red, green and blue.
pub(crate) fn read(path: &Path, mut file: impl Read, most_pixels: u64) -> Result<StillPicture, FootageError> {
    let mut bytes = Vec::new();
    file.read_to_end(&mut bytes).map_err(|error| FootageError::from_io(path, error))?;
    let options = DecoderOptions::default()
        .set_strict_mode(false)
        .set_max_width(u16::MAX.into())
        .set_max_height(u16::MAX.into());
    let mut decoder = JpegDecoder::new_with_options(ZCursor::new(bytes.as_slice()), options);
    decoder.decode_headers().map_err(|error| not_a_still(path, &error.to_string()))?;
    let no_header = || not_a_still(path, "its header is cut short");
    let info = decoder.info().ok_or_else(no_header)?;
    let (width, height) = check_claim(path, info.width.into(), info.height.into(), most_pixels)?;
    // The decoder fills what is missing with grey; a picture cut short must not pass for a whole one.
    if !is_complete(&bytes) {
        return Err(not_a_still(path, "the picture is cut short"));
    }
    let turn = decoder.exif().and_then(|exif| Orientation::from_exif_chunk(exif));
    let turn = turn.and_then(|turn| Turn::of_orientation(turn.to_exif()));
    let (luma, taken) = match decoder.input_colorspace().ok_or_else(no_header)? {
        ColorSpace::Luma => (LumaPath::GreyAsStored, ColorSpace::Luma),
        ColorSpace::YCbCr => (LumaPath::LumaPlane, ColorSpace::Luma),
        ColorSpace::RGB => (LumaPath::WeightedColour, ColorSpace::RGB),
        other => return Err(of_inks(path, other)),
    };
    decoder.set_options(options.jpeg_set_out_colorspace(taken));
    let samples = decoder.decode().map_err(|error| not_a_still(path, &error.to_string()))?;
    let levels = match taken {
        ColorSpace::RGB => samples.chunks_exact(3).map(|rgb| luma_u8([rgb[0], rgb[1], rgb[2]])).collect(),
        _ => samples,
    };
    let picture = GreyImage::from_u8(width, height, levels)
        .map_err(|source| FootageError::Layout { path: path.to_path_buf(), source })?;
    Ok(StillPicture { picture, luma, coding: "jpg", samples: words(luma, 8), turn })
}

fn of_inks(path: &Path, space: ColorSpace) -> FootageError {
    FootageError::Unsupported {
        path: path.to_path_buf(),
        what: format!(
            "the picture is stored in {space:?}, a colour space for printing, from which no grey level follows"
        ),
        remedy: "export the stills from the camera as grey or RGB".to_owned(),
    }
}

/// Whether the end-of-image marker is there, found by walking from marker to marker (Recommendation ITU-T T.81,
/// B.1.1): embedded previews have one of their own, so that looking for its two bytes alone would not do.
fn is_complete(bytes: &[u8]) -> bool {
    let mut at = 2;
    let mut in_scan = false;
    while let Some(&[first, second]) = bytes.get(at..at + 2) {
        match (first, second) {
            (0xFF, 0xD9) => return true,
            // Within a scan: stuffed zeros, restart markers, fill bytes.
            (0xFF, 0x00 | 0xD0..=0xD7) if in_scan => at += 2,
            (0xFF, 0xFF) => at += 1,
            (0xFF, _) => {
                let Some(&[high, low]) = bytes.get(at + 2..at + 4) else { return false };
                in_scan = second == 0xDA;
                at += 2 + usize::from(u16::from_be_bytes([high, low]));
            }
            _ => at += 1,
        }
    }
    false
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn the_end_of_an_embedded_preview_is_not_the_end() {
        let preview = [0xFF, 0xE1, 0, 6, 0xFF, 0xD8, 0xFF, 0xD9];
        let scan = [0xFF, 0xDA, 0, 3, 1, 7, 0xFF, 0, 8, 0xFF, 0xD3, 9];
        let whole = [&[0xFF, 0xD8][..], &preview, &scan, &[0xFF, 0xD9]].concat();
        assert!(is_complete(&whole));
        assert!((0..whole.len()).all(|n| !is_complete(&whole[..n])));
    }
}
