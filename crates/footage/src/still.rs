//! Stills: one picture file to a grey image with its true depth, and grey to PNG.

use crate::{FootageError, LumaPath, ReadOptions, png_depth};
use filmgauge_quantities::{GreyImage, GreyPixels, GreyView};
use image::codecs::pnm::PnmDecoder;
use image::{DynamicImage, ExtendedColorType, ImageDecoder, ImageEncoder, ImageFormat, ImageReader, Limits};
use std::fs::File;
use std::io::BufReader;
use std::path::Path;

/// Reads one PNG, TIFF, JPEG, PNM or BMP at 8 or 16 bits as grey levels as stored.
///
/// The true depth is kept where the file states it (PNG sBIT, PNM maximal value). Colour becomes
/// luma by [`LumaPath::WeightedColour`]; transparency is ignored. Of a TIFF with pages, the first is read.
///
/// # Errors
/// [`FootageError`] when the file is missing, no still, damaged, larger than the default cap or of another depth.
pub fn read_still(path: &Path) -> Result<GreyImage, FootageError> {
    read(path, ReadOptions::default().most_pixels).map(|still| still.picture)
}

/// Writes a grey picture as PNG, under a temporary name first. Depths other than 8 and 16 are written into
/// the upper bits and stated in an sBIT chunk, so that [`read_still`] gives back the same levels.
///
/// # Errors
/// [`FootageError::Write`] when the file cannot be written.
pub fn write_png(path: &Path, picture: &GreyView<'_>) -> Result<(), FootageError> {
    let png = encode_png(picture).map_err(|error| FootageError::write(path, &error))?;
    let name = path.file_name().map(|name| name.to_string_lossy().into_owned()).unwrap_or_default();
    let partial = path.with_file_name(format!(".{name}.partial"));
    std::fs::write(&partial, png)
        .and_then(|()| std::fs::rename(&partial, path))
        .map_err(|error| FootageError::write(path, &error))
}

/// A still with how it was read.
pub(crate) struct StillPicture {
    pub(crate) picture: GreyImage,
    pub(crate) luma: LumaPath,
    pub(crate) coding: &'static str,
    pub(crate) samples: String,
}

pub(crate) fn read(path: &Path, most_pixels: u64) -> Result<StillPicture, FootageError> {
    let file = File::open(path).map_err(|error| FootageError::from_io(path, error))?;
    if file.metadata().is_ok_and(|about| about.len() == 0) {
        return Err(FootageError::Empty { path: path.to_path_buf() });
    }
    let mut reader = ImageReader::new(BufReader::new(file))
        .with_guessed_format()
        .map_err(|error| FootageError::from_io(path, error))?;
    let not_footage = |text: String| FootageError::NotFootage { path: path.to_path_buf(), text };
    let format = reader.format().ok_or_else(|| not_footage("no known kind of still".to_owned()))?;
    let mut limits = Limits::default();
    // Four channels of 16 bits, twice over for the decoder's own copy, and room for its tables.
    limits.max_alloc = Some(most_pixels.saturating_mul(16).saturating_add(16 << 20));
    reader.limits(limits);
    let decoder = reader.into_decoder().map_err(|error| not_footage(error.to_string()))?;
    let (width, height) = decoder.dimensions();
    if u64::from(width) * u64::from(height) > most_pixels {
        let (width, height) = (u64::from(width), u64::from(height));
        return Err(FootageError::TooLarge { path: path.to_path_buf(), width, height, most_pixels });
    }
    let decoded = DynamicImage::from_decoder(decoder).map_err(|error| not_footage(error.to_string()))?;
    to_grey(path, format, decoded)
}

fn to_grey(path: &Path, format: ImageFormat, decoded: DynamicImage) -> Result<StillPicture, FootageError> {
    let (width, height) = (decoded.width() as usize, decoded.height() as usize);
    let colour = decoded.color();
    let samples = format!(
        "{}, {} bits",
        if colour.has_color() { "colour" } else { "grey" },
        8 * u16::from(colour.bytes_per_pixel()) / u16::from(colour.channel_count())
    );
    let luma = if colour.has_color() { LumaPath::WeightedColour } else { LumaPath::GreyAsStored };
    let layout = |source| FootageError::Layout { path: path.to_path_buf(), source };
    let picture = match decoded {
        DynamicImage::ImageLuma8(grey) => eight_bits(path, format, width, height, grey.into_raw()),
        DynamicImage::ImageLumaA8(grey) => {
            GreyImage::from_u8(width, height, grey.pixels().map(|pixel| pixel.0[0]).collect())
        }
        DynamicImage::ImageRgb8(colour) => {
            GreyImage::from_u8(width, height, colour.pixels().map(|p| luma_u8(&p.0)).collect())
        }
        DynamicImage::ImageRgba8(colour) => {
            GreyImage::from_u8(width, height, colour.pixels().map(|p| luma_u8(&p.0)).collect())
        }
        DynamicImage::ImageLuma16(grey) => sixteen_bits(path, format, width, height, grey.into_raw()),
        DynamicImage::ImageLumaA16(grey) => {
            GreyImage::from_u16(width, height, 16, grey.pixels().map(|pixel| pixel.0[0]).collect())
        }
        DynamicImage::ImageRgb16(colour) => {
            GreyImage::from_u16(width, height, 16, colour.pixels().map(|p| luma_u16(&p.0)).collect())
        }
        DynamicImage::ImageRgba16(colour) => {
            GreyImage::from_u16(width, height, 16, colour.pixels().map(|p| luma_u16(&p.0)).collect())
        }
        other => {
            return Err(FootageError::Unsupported {
                path: path.to_path_buf(),
                what: format!("samples of kind {:?} are not read", other.color()),
                remedy: "save the stills as 8 or 16 bit PNG or TIFF".to_owned(),
            });
        }
    };
    Ok(StillPicture { picture: picture.map_err(layout)?, luma, coding: word(format), samples })
}

fn word(format: ImageFormat) -> &'static str {
    format.extensions_str().first().copied().unwrap_or("still")
}

type Built = Result<GreyImage, filmgauge_quantities::LayoutError>;

fn eight_bits(path: &Path, format: ImageFormat, width: usize, height: usize, mut samples: Vec<u8>) -> Built {
    let Some(depth) = stated_depth(path, format, 8) else {
        return GreyImage::from_u8(width, height, samples);
    };
    for sample in &mut samples {
        *sample = u8::try_from(depth.undo(u32::from(*sample), 255)).unwrap_or(u8::MAX);
    }
    // Fewer than 8 bits: the image keeps true bits only in its 16-bit form.
    GreyImage::from_u16(width, height, depth.bits, samples.into_iter().map(u16::from).collect())
}

fn sixteen_bits(
    path: &Path,
    format: ImageFormat,
    width: usize,
    height: usize,
    mut samples: Vec<u16>,
) -> Built {
    let Some(depth) = stated_depth(path, format, 16) else {
        return GreyImage::from_u16(width, height, 16, samples);
    };
    for sample in &mut samples {
        *sample = u16::try_from(depth.undo(u32::from(*sample), 65_535)).unwrap_or(u16::MAX);
    }
    GreyImage::from_u16(width, height, depth.bits, samples)
}

/// A depth that the file states besides the width of its samples.
struct StatedDepth {
    bits: u8,
    /// PNM: greatest sample of the file, to which the decoder's stretch to full scale is undone.
    maximal: Option<u32>,
    /// PNG: how far samples were moved into the upper bits.
    shift: u8,
}

impl StatedDepth {
    /// The level as stored, from the decoder's sample.
    fn undo(&self, sample: u32, full_scale: u32) -> u32 {
        match self.maximal {
            // Exact: the stretch was rounded by at most half a step of the wider scale.
            Some(maximal) => (sample * maximal + full_scale / 2) / full_scale,
            None => sample >> self.shift,
        }
    }
}

fn stated_depth(path: &Path, format: ImageFormat, sample_bits: u8) -> Option<StatedDepth> {
    let mut file = BufReader::new(File::open(path).ok()?);
    match format {
        ImageFormat::Png => {
            let bits = png_depth::significant_bits(&mut file)?;
            let fewer = (1..sample_bits).contains(&bits);
            fewer.then_some(StatedDepth { bits, maximal: None, shift: sample_bits - bits })
        }
        ImageFormat::Pnm => {
            let maximal = PnmDecoder::new(file).ok()?.header().maximal_sample();
            // A maximum of 1 is a black-and-white bitmap, which the decoder gives in 0 and 255.
            let fewer = maximal > 1 && maximal < (1 << sample_bits) - 1;
            let bits = u8::try_from(u32::BITS - maximal.leading_zeros()).ok()?;
            fewer.then_some(StatedDepth { bits, maximal: Some(maximal), shift: 0 })
        }
        _ => None,
    }
}

/// Luma of Rec. ITU-R BT.601-7 (2.5.1) in whole thousandths: exact, and equal to the grey level where r = g = b.
fn luma_of(r: u32, g: u32, b: u32) -> u32 {
    (299 * r + 587 * g + 114 * b + 500) / 1000
}

fn luma_u8(rgb: &[u8]) -> u8 {
    let luma = luma_of(u32::from(rgb[0]), u32::from(rgb[1]), u32::from(rgb[2]));
    u8::try_from(luma).unwrap_or(u8::MAX)
}

fn luma_u16(rgb: &[u16]) -> u16 {
    let luma = luma_of(u32::from(rgb[0]), u32::from(rgb[1]), u32::from(rgb[2]));
    u16::try_from(luma).unwrap_or(u16::MAX)
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
