//! From decoded pictures to grey images: the copy that each layout needs, without scaling.

use crate::layout::{Channel, LumaLayout, Taking, Word};
use crate::weights::{luma_u8, luma_u16};
use ffmpeg_next::frame;
use filmgauge_quantities::GreyImage;

impl LumaLayout {
    /// The grey levels of `picture`, row by row out of its strides; the reason when the picture is not usable.
    pub(crate) fn copy(self, picture: &frame::Video) -> Result<GreyImage, String> {
        let (width, height) = (picture.width() as usize, picture.height() as usize);
        let built = match (self.taking, self.word) {
            (Taking::Luma(luma), Word::Byte) => {
                let mut samples = Vec::with_capacity(width * height);
                for row in rows(picture, luma, width, 1)? {
                    if luma.step == 1 {
                        samples.extend_from_slice(row);
                    } else {
                        samples.extend(row.iter().step_by(luma.step));
                    }
                }
                GreyImage::from_u8(width, height, samples)
            }
            (Taking::Luma(luma), _) => {
                GreyImage::from_u16(width, height, self.bits, self.words(picture, luma)?)
            }
            (Taking::Colour(colours), Word::Byte) => {
                GreyImage::from_u8(width, height, weighted_bytes(picture, colours)?)
            }
            (Taking::Colour([red, green, blue]), _) => {
                let [red, green, blue] =
                    [self.words(picture, red)?, self.words(picture, green)?, self.words(picture, blue)?];
                let pixels = red.into_iter().zip(green).zip(blue);
                let luma = pixels.map(|((red, green), blue)| luma_u16([red, green, blue])).collect();
                GreyImage::from_u16(width, height, self.bits, luma)
            }
            (Taking::Mosaic(mosaic), Word::Byte) => {
                let whole = Channel { plane: 0, offset: 0, step: 1 };
                let bytes = rows(picture, whole, width, 1)?.flatten();
                let samples: Vec<u16> = bytes.map(|&level| u16::from(level)).collect();
                let luma = mosaic.luma(width, height, &samples);
                let bytes = luma.into_iter().map(|level| u8::try_from(level).unwrap_or(u8::MAX)).collect();
                GreyImage::from_u8(width, height, bytes)
            }
            (Taking::Mosaic(mosaic), _) => {
                let whole = Channel { plane: 0, offset: 0, step: 2 };
                let samples = self.words(picture, whole)?;
                GreyImage::from_u16(width, height, self.bits, mosaic.luma(width, height, &samples))
            }
            (Taking::Bits { white_is_zero }, _) => {
                let whole = Channel { plane: 0, offset: 0, step: 1 };
                let mut samples = Vec::with_capacity(width * height);
                for row in rows(picture, whole, width.div_ceil(8), 1)? {
                    let bits = (0..width).map(|x| row[x / 8] >> (7 - x % 8) & 1);
                    samples.extend(bits.map(|bit| u16::from(bit ^ u8::from(white_is_zero))));
                }
                GreyImage::from_u16(width, height, 1, samples)
            }
        };
        built.map_err(|error| error.to_string())
    }

    fn words(self, picture: &frame::Video, channel: Channel) -> Result<Vec<u16>, String> {
        let (width, height) = (picture.width() as usize, picture.height() as usize);
        let from_bytes = if self.word == Word::BigEnd { u16::from_be_bytes } else { u16::from_le_bytes };
        let mut samples = Vec::with_capacity(width * height);
        for row in rows(picture, channel, width, 2)? {
            if channel.step == 2 && self.shift == 0 {
                samples.extend(row.chunks_exact(2).map(|pair| from_bytes([pair[0], pair[1]])));
            } else {
                let pairs = row.chunks(channel.step);
                samples.extend(pairs.map(|pair| from_bytes([pair[0], pair[1]]) >> self.shift));
            }
        }
        Ok(samples)
    }
}

fn weighted_bytes(picture: &frame::Video, colours: [Channel; 3]) -> Result<Vec<u8>, String> {
    let (width, height) = (picture.width() as usize, picture.height() as usize);
    let [red, green, blue] = colours;
    let mut luma = Vec::with_capacity(width * height);
    let reds = rows(picture, red, width, 1)?;
    for ((red_row, green_row), blue_row) in
        reds.zip(rows(picture, green, width, 1)?).zip(rows(picture, blue, width, 1)?)
    {
        let of = |row: &'_ [u8], channel: Channel, x: usize| row[channel.step * x];
        luma.extend(
            (0..width)
                .map(|x| luma_u8([of(red_row, red, x), of(green_row, green, x), of(blue_row, blue, x)])),
        );
    }
    Ok(luma)
}

/// The rows of a channel, each from its first sample to its last one, `n` samples of `sample_bytes` bytes.
fn rows(
    picture: &frame::Video,
    channel: Channel,
    n: usize,
    sample_bytes: usize,
) -> Result<impl Iterator<Item = &[u8]>, String> {
    let height = picture.height() as usize;
    let last = channel.offset + n.saturating_sub(1) * channel.step + sample_bytes;
    // A stride below zero (rows stored bottom up) arrives here as a huge number.
    let stride = if channel.plane < picture.planes() { picture.stride(channel.plane) } else { 0 };
    if n == 0 || stride < last || stride > 16 * last + 65_536 {
        return Err("its rows do not lie in order".to_owned());
    }
    let data = picture.data(channel.plane);
    if data.len() < stride * (height.max(1) - 1) + last {
        return Err("it has too few rows".to_owned());
    }
    Ok(data.chunks(stride).take(height).map(move |row| &row[channel.offset..last]))
}

#[cfg(test)]
mod tests {
    use super::*;
    use ffmpeg_next::format::Pixel;

    /// A picture of 3 x 2 px whose first plane begins each row with `rows`; what lies behind is other data.
    fn levels(pixel: Pixel, name: &str, rows: [&[u8]; 2]) -> Vec<f32> {
        let mut picture = frame::Video::new(pixel, 3, 2);
        let stride = picture.stride(0);
        picture.data_mut(0).fill(0xEE);
        for (row, bytes) in rows.into_iter().enumerate() {
            picture.data_mut(0)[row * stride..][..bytes.len()].copy_from_slice(bytes);
        }
        let image = LumaLayout::named(name).unwrap().copy(&picture).unwrap();
        let view = image.view();
        (0..2).flat_map(|y| (0..3).map(move |x| (x, y))).map(|(x, y)| view.get(x, y).unwrap()).collect()
    }

    #[test]
    fn layouts_that_no_encoder_here_writes() {
        // 10 bits on top of 16: 1 << 6, 1023 << 6, 512 << 6; then 2, 3, 4.
        let low = [&[0x40, 0, 0xC0, 0xFF, 0, 0x80][..], &[0x80, 0, 0xC0, 0, 0, 1]];
        assert_eq!(levels(Pixel::P010LE, "p010le", low), [1.0, 1023.0, 512.0, 2.0, 3.0, 4.0]);
        let high = [&[0, 0x40, 0xFF, 0xC0, 0x80, 0][..], &[0, 0x80, 0, 0xC0, 1, 0]];
        assert_eq!(levels(Pixel::P010BE, "p010be", high), [1.0, 1023.0, 512.0, 2.0, 3.0, 4.0]);
        let bytes = [&[1, 2, 3][..], &[4, 5, 6]];
        assert_eq!(levels(Pixel::NV16, "nv16", bytes), [1.0, 2.0, 3.0, 4.0, 5.0, 6.0]);
        // Y U Y V, each of 10 bits on top of 16.
        let pairs = [&[0x40, 0, 9, 9, 0xC0, 0xFF, 9, 9, 0x80, 0][..], &[0, 1, 9, 9, 0x40, 1, 9, 9, 0, 2]];
        assert_eq!(levels(Pixel::Y210LE, "y210le", pairs), [1.0, 1023.0, 2.0, 4.0, 5.0, 8.0]);
    }

    #[test]
    fn a_mosaic_keeps_its_width() {
        let grey = [&[40, 40, 40][..], &[40, 40, 40]];
        assert_eq!(levels(Pixel::BAYER_RGGB8, "bayer_rggb8", grey), [40.0; 6]);
        let wide = [&[0, 40, 0, 40, 0, 40][..], &[0, 40, 0, 40, 0, 40]];
        assert_eq!(levels(Pixel::BAYER_GBRG16LE, "bayer_gbrg16le", wide), [10_240.0; 6]);
    }
}
