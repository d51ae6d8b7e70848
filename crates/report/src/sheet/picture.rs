//! A grey picture as an 8-bit PNG in base64. Levels keep their full scale; nothing is stretched.

use crate::ReportError;
use base64::Engine;
use filmgauge_quantities::{GreyImage, GreyView};

/// Wider pictures are averaged down by a whole factor, to keep the page small enough to send.
const WIDEST_PX: usize = 1280;

/// A picture ready for the page.
pub(super) struct Encoded {
    /// PNG in base64.
    pub(super) base64: String,
    /// Size in pixels of the stored picture that the PNG covers (the last column and row may reach past its edge).
    pub(super) covers_px: (usize, usize),
}

/// Encodes `picture`.
pub(super) fn encode(picture: &GreyImage) -> Result<Encoded, ReportError> {
    let view = picture.view();
    let factor = view.width().div_ceil(WIDEST_PX);
    let (width, height) = (view.width().div_ceil(factor), view.height().div_ceil(factor));
    let scale = 255.0 / view.full_scale();
    let mut bytes = Vec::with_capacity(width * height);
    for row in 0..height {
        bytes.extend((0..width).map(|column| {
            let level = block_mean(&view, column * factor, row * factor, factor);
            to_byte(level * scale)
        }));
    }
    let png = png_bytes(width, height, &bytes)
        .map_err(|fault| ReportError::make("a picture of the strip", fault))?;
    Ok(Encoded {
        base64: base64::engine::general_purpose::STANDARD.encode(png),
        covers_px: (width * factor, height * factor),
    })
}

fn block_mean(view: &GreyView, left: usize, top: usize, size: usize) -> f32 {
    let mut sum = 0.0;
    let mut n = 0.0;
    for y in top..(top + size).min(view.height()) {
        for x in left..(left + size).min(view.width()) {
            sum += view.get(x, y).unwrap_or(0.0);
            n += 1.0;
        }
    }
    sum / n
}

#[expect(clippy::cast_possible_truncation, clippy::cast_sign_loss, reason = "rounded and clamped to 0..=255")]
fn to_byte(level: f32) -> u8 {
    level.round().clamp(0.0, 255.0) as u8
}

fn png_bytes(width: usize, height: usize, bytes: &[u8]) -> Result<Vec<u8>, String> {
    let size = |n: usize| u32::try_from(n).map_err(|fault| fault.to_string());
    let mut file = Vec::new();
    let mut encoder = png::Encoder::new(&mut file, size(width)?, size(height)?);
    encoder.set_color(png::ColorType::Grayscale);
    encoder.set_depth(png::BitDepth::Eight);
    let mut writer = encoder.write_header().map_err(|fault| fault.to_string())?;
    writer.write_image_data(bytes).map_err(|fault| fault.to_string())?;
    writer.finish().map_err(|fault| fault.to_string())?;
    Ok(file)
}

#[cfg(test)]
mod tests {
    use super::*;

    fn decoded(encoded: &Encoded) -> (u32, u32, Vec<u8>) {
        let file = base64::engine::general_purpose::STANDARD.decode(&encoded.base64).unwrap();
        let mut reader = png::Decoder::new(std::io::Cursor::new(file)).read_info().unwrap();
        let mut bytes = vec![0; reader.output_buffer_size().unwrap()];
        let info = reader.next_frame(&mut bytes).unwrap();
        (info.width, info.height, bytes)
    }

    #[test]
    fn eight_bits_come_back_as_they_were() {
        let picture = GreyImage::from_u8(3, 2, vec![0, 1, 127, 128, 254, 255]).unwrap();
        assert_eq!(decoded(&encode(&picture).unwrap()), (3, 2, vec![0, 1, 127, 128, 254, 255]));
    }

    #[test]
    fn twelve_bits_keep_their_full_scale() {
        let picture = GreyImage::from_u16(2, 1, 12, vec![0, 4095]).unwrap();
        assert_eq!(decoded(&encode(&picture).unwrap()).2, [0, 255]);
    }

    #[test]
    fn wide_pictures_are_averaged_down_to_whole_blocks() {
        let picture = GreyImage::from_u8(1281, 3, vec![10; 1281 * 3]).unwrap();
        let encoded = encode(&picture).unwrap();
        assert_eq!(encoded.covers_px, (1282, 4));
        assert_eq!(decoded(&encoded), (641, 2, vec![10; 641 * 2]));
    }
}
