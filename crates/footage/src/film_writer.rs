//! The encoder side of films: grey pictures to packets to a container, one thread, no dates.

use crate::container::{codec_name, silence_codecs};
use crate::{Encoding, FootageError};
use ffmpeg_next::codec::{Context, Flags, Id, threading};
use ffmpeg_next::format::{self, Pixel};
use ffmpeg_next::util::error::EAGAIN;
use ffmpeg_next::{Dictionary, Error, Packet, Rational, color, encoder, frame};
use filmgauge_quantities::{GreyPixels, GreyView};
use std::path::{Path, PathBuf};

/// A film file being written.
pub(crate) struct FilmWriter {
    path: PathBuf,
    output: format::context::Output,
    encoder: encoder::video::Encoder,
    pixel: Pixel,
    size: (u32, u32),
    frame_time: Rational,
    stream_time: Rational,
}

impl FilmWriter {
    pub(crate) fn create(
        path: &Path,
        width: usize,
        height: usize,
        bits: u8,
        encoding: Encoding,
        frames_per_s: u32,
    ) -> Result<Self, FootageError> {
        silence_codecs();
        let (pixel, settings) = coding(encoding, bits, width.is_multiple_of(2) && height.is_multiple_of(2))?;
        check_container(path, encoding)?;
        let fails = |error: Error| FootageError::write(path, &error);
        let narrow = |n: usize| u32::try_from(n).unwrap_or(u32::MAX);
        let size = (narrow(width), narrow(height));
        let frame_time = Rational::new(1, i32::try_from(frames_per_s).unwrap_or(i32::MAX));
        let mut output = format::output(&codec_name(path)?).map_err(fails)?;
        let global_header = output.format().flags().contains(format::Flags::GLOBAL_HEADER);
        let encoder =
            open_encoder(encoding, pixel, size, frame_time, global_header, settings).map_err(fails)?;
        let mut stream = output.add_stream_with(&encoder).map_err(fails)?;
        stream.set_time_base(frame_time);
        stream.set_avg_frame_rate(frame_time.invert());
        let exact: Dictionary<'_> = [("fflags", "+bitexact")].iter().collect();
        output.write_header_with(exact).map_err(fails)?;
        let stream_time = output.stream(0).map_or(frame_time, |stream| stream.time_base());
        Ok(Self { path: path.to_path_buf(), output, encoder, pixel, size, frame_time, stream_time })
    }

    pub(crate) fn put(&mut self, picture: &GreyView<'_>, number: i64) -> Result<(), FootageError> {
        let mut raw = frame::Video::new(self.pixel, self.size.0, self.size.1);
        fill(&mut raw, picture).map_err(|text| FootageError::write(&self.path, &text))?;
        raw.set_pts(Some(number));
        raw.set_color_range(color::Range::JPEG);
        self.encoder.send_frame(&raw).map_err(|error| FootageError::write(&self.path, &error))?;
        self.write_ready()
    }

    pub(crate) fn finish(mut self) -> Result<(), FootageError> {
        self.encoder.send_eof().map_err(|error| FootageError::write(&self.path, &error))?;
        self.write_ready()?;
        self.output.write_trailer().map_err(|error| FootageError::write(&self.path, &error))
    }

    /// Writes every packet that the encoder has ready.
    fn write_ready(&mut self) -> Result<(), FootageError> {
        loop {
            let mut packet = Packet::empty();
            match self.encoder.receive_packet(&mut packet) {
                Ok(()) => {}
                Err(Error::Eof | Error::Other { errno: EAGAIN }) => return Ok(()),
                Err(error) => return Err(FootageError::write(&self.path, &error)),
            }
            packet.set_stream(0);
            // One frame long: without it a container cannot tell how long the last frame is shown.
            packet.set_duration(1);
            packet.rescale_ts(self.frame_time, self.stream_time);
            packet
                .write_interleaved(&mut self.output)
                .map_err(|error| FootageError::write(&self.path, &error))?;
        }
    }
}

/// Names and values of encoder settings.
type Settings = Vec<(&'static str, String)>;

/// Sample layout and encoder settings of a coding.
fn coding(encoding: Encoding, bits: u8, even: bool) -> Result<(Pixel, Settings), FootageError> {
    let refuse = |depths: &str| {
        let text = format!("{} holds {depths} bits, not {bits}; choose another coding", encoding.words());
        Err(FootageError::Settings { text })
    };
    match encoding {
        Encoding::Ffv1 => {
            let Some(pixel) = grey_of(bits) else { return refuse("8, 9, 10, 12 or 16") };
            let settings = [("level", "3"), ("g", "1"), ("slices", "4"), ("slicecrc", "1")];
            Ok((pixel, settings.map(|(key, value)| (key, value.to_owned())).to_vec()))
        }
        Encoding::LosslessH264 => {
            let Some(pixel) = luma_of(bits, even) else { return refuse("8 or 10") };
            Ok((pixel, vec![("preset", "medium".to_owned()), ("qp", "0".to_owned())]))
        }
        Encoding::H264 { crf, keyint } => {
            if crf > 51 || !(1..=100_000).contains(&keyint) {
                let text = format!(
                    "H.264 takes a rate factor of 0 to 51 and 1 to 100000 frames between key frames, not {crf} and {keyint}"
                );
                return Err(FootageError::Settings { text });
            }
            let Some(pixel) = luma_of(bits, even) else { return refuse("8 or 10") };
            // The encoder's macroblock tree reads memory that nobody wrote (seen with libx264 on noisy pictures);
            // without it the same pictures give the same bytes.
            let settings = [
                ("preset", "medium".to_owned()),
                ("crf", crf.to_string()),
                ("g", keyint.to_string()),
                ("x264-params", "mbtree=0".to_owned()),
            ];
            Ok((pixel, settings.to_vec()))
        }
        Encoding::PngSequence => refuse("no film of any"),
    }
}

fn grey_of(bits: u8) -> Option<Pixel> {
    match bits {
        8 => Some(Pixel::GRAY8),
        9 => Some(Pixel::GRAY9LE),
        10 => Some(Pixel::GRAY10LE),
        12 => Some(Pixel::GRAY12LE),
        16 => Some(Pixel::GRAY16LE),
        _ => None,
    }
}

/// Luma with flat chroma, which players show where they refuse pure grey. Chroma at half size needs even sizes.
fn luma_of(bits: u8, even: bool) -> Option<Pixel> {
    match (bits, even) {
        (8, true) => Some(Pixel::YUV420P),
        (8, false) => Some(Pixel::YUV444P),
        (10, true) => Some(Pixel::YUV420P10LE),
        (10, false) => Some(Pixel::YUV444P10LE),
        _ => None,
    }
}

fn check_container(path: &Path, encoding: Encoding) -> Result<(), FootageError> {
    let ending = path.extension().and_then(|ending| ending.to_str()).unwrap_or("").to_ascii_lowercase();
    let fits: &[&str] =
        if encoding == Encoding::Ffv1 { &["mkv", "avi"] } else { &["mkv", "mp4", "mov", "avi"] };
    if fits.contains(&ending.as_str()) {
        return Ok(());
    }
    let text = format!("{} is written to files ending in .{}", encoding.words(), fits.join(", ."));
    Err(FootageError::write(path, &text))
}

fn open_encoder(
    encoding: Encoding,
    pixel: Pixel,
    size: (u32, u32),
    frame_time: Rational,
    global_header: bool,
    settings: Settings,
) -> Result<encoder::video::Encoder, Error> {
    let codec = match encoding {
        Encoding::Ffv1 => encoder::find(Id::FFV1),
        _ => encoder::find_by_name("libx264"),
    };
    let codec = codec.ok_or(Error::EncoderNotFound)?;
    let mut context = Context::new_with_codec(codec);
    let header = if global_header { Flags::GLOBAL_HEADER } else { Flags::empty() };
    context.set_flags(Flags::BITEXACT | header);
    context.set_threading(threading::Config::count(1));
    let mut video = context.encoder().video()?;
    video.set_width(size.0);
    video.set_height(size.1);
    video.set_format(pixel);
    video.set_time_base(frame_time);
    video.set_frame_rate(Some(frame_time.invert()));
    video.set_color_range(color::Range::JPEG);
    let settings: Dictionary<'_> = settings.into_iter().map(|(key, value)| (key.to_owned(), value)).collect();
    video.open_as_with(codec, settings)
}

/// Copies a picture into plane 0, row by row, and makes the other planes colourless.
fn fill(raw: &mut frame::Video, picture: &GreyView<'_>) -> Result<(), &'static str> {
    // The allocation fails without a word; a picture without planes is how it shows.
    if raw.planes() == 0 {
        return Err("not enough memory for a picture");
    }
    let width = picture.width();
    let stride = raw.stride(0);
    for (y, row) in raw.data_mut(0).chunks_mut(stride).take(picture.height()).enumerate() {
        let from = y * picture.stride();
        match picture.pixels() {
            GreyPixels::Eight(samples) => row[..width].copy_from_slice(&samples[from..from + width]),
            GreyPixels::Sixteen(samples) => put_words(row, &samples[from..from + width], picture.bits()),
        }
    }
    for plane in 1..raw.planes() {
        if picture.bits() > 8 {
            let colourless = (1_u16 << (picture.bits() - 1)).to_le_bytes();
            raw.data_mut(plane).chunks_exact_mut(2).for_each(|pair| pair.copy_from_slice(&colourless));
        } else {
            raw.data_mut(plane).fill(128);
        }
    }
    Ok(())
}

/// A film's samples take two bytes above 8 bits; a picture of 8 bits may still come in 16-bit samples.
fn put_words(row: &mut [u8], samples: &[u16], bits: u8) {
    if bits > 8 {
        for (pair, level) in row.chunks_exact_mut(2).zip(samples) {
            pair.copy_from_slice(&level.to_le_bytes());
        }
    } else {
        for (byte, level) in row.iter_mut().zip(samples) {
            *byte = level.to_le_bytes()[0];
        }
    }
}
