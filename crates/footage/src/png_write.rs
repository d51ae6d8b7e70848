//! Grey pictures to PNG files, whole or not at all.

use crate::{FootageError, png_depth};
use filmgauge_quantities::{GreyPixels, GreyView};
use image::{ExtendedColorType, ImageEncoder};
use std::path::Path;

/// Writes a grey picture as PNG, under a temporary name first. Depths other than 8 and 16 are written into
/// the upper bits and stated in an sBIT chunk, so that [`crate::read_still`] gives back the same levels.
///
/// # Errors
/// [`FootageError::Write`] when the file cannot be written.
pub fn write_png(path: &Path, picture: &GreyView<'_>) -> Result<(), FootageError> {
    let png = encode_png(picture).map_err(|error| FootageError::write(path, &error))?;
    filmgauge_shelf::put(path, &png).map_err(|error| FootageError::write(path, &error))
}

fn encode_png(picture: &GreyView<'_>) -> Result<Vec<u8>, image::ImageError> {
    let image = picture.to_image();
    let view = image.view();
    let (bytes, depth, sample_bits) = match view.pixels() {
        GreyPixels::Eight(samples) => {
            let shift = 8 - view.bits();
            (samples.iter().map(|level| level << shift).collect::<Vec<u8>>(), ExtendedColorType::L8, 8)
        }
        GreyPixels::Sixteen(samples) => {
            let shift = 16 - view.bits();
            let raised = samples.iter().flat_map(|level| (level << shift).to_ne_bytes());
            (raised.collect(), ExtendedColorType::L16, 16)
        }
    };
    let mut png = Vec::new();
    let (width, height) = (size(view.width()), size(view.height()));
    image::codecs::png::PngEncoder::new(&mut png).write_image(&bytes, width, height, depth)?;
    if view.bits() < sample_bits {
        png_depth::state_significant_bits(&mut png, view.bits());
    }
    Ok(png)
}

/// Sizes beyond 32 bits do not exist in memory; the encoder refuses the substitute.
fn size(n: usize) -> u32 {
    u32::try_from(n).unwrap_or(u32::MAX)
}
