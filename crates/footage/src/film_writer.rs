//! The encoder side of films: grey pictures to packets to a container, one thread, no dates.

use crate::film::{codec_name, silence_codecs};
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
        let (pixel, settings) = coding(encoding, bits)?;
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

/// Sample layout and encoder settings of a coding.
fn coding(encoding: Encoding, bits: u8) -> Result<(Pixel, Vec<(&'static str, String)>), FootageError> {
    let refuse = |depths: &str| {
        let text = format!("{} holds {depths} bits, not {bits}; choose another coding", encoding.words());
        Err(FootageError::Settings { text })
    };
    let grey = match bits {
        8 => Some(Pixel::GRAY8),
        9 => Some(Pixel::GRAY9LE),
        10 => Some(Pixel::GRAY10LE),
        12 => Some(Pixel::GRAY12LE),
        16 => Some(Pixel::GRAY16LE),
        _ => None,
    };
    match (encoding, grey) {
        (Encoding::LosslessH264, Some(Pixel::GRAY8 | Pixel::GRAY10LE)) => {
            // With 10 bits the scale of the quantiser reaches 12 steps below zero, and only there it is lossless.
            let lossless = if bits == 8 { "0" } else { "-12" };
            let settings = vec![("preset", "medium".to_owned()), ("x264-params", format!("qp={lossless}"))];
            Ok((grey.unwrap_or(Pixel::GRAY8), settings))
        }
        (Encoding::H264 { crf, keyint }, Some(pixel @ (Pixel::GRAY8 | Pixel::GRAY10LE))) => {
            if crf > 51 || keyint == 0 || keyint > 100_000 {
                let text = format!(
                    "H.264 takes a rate factor of 0 to 51 and 1 to 100000 frames between key frames, not {crf} and {keyint}"
                );
                return Err(FootageError::Settings { text });
            }
            let settings =
                vec![("preset", "medium".to_owned()), ("crf", crf.to_string()), ("g", keyint.to_string())];
            Ok((pixel, settings))
        }
        (Encoding::Ffv1, Some(pixel)) => {
            let settings = [("level", "3"), ("g", "1"), ("slices", "4"), ("slicecrc", "1")];
            Ok((pixel, settings.map(|(key, value)| (key, value.to_owned())).to_vec()))
        }
        (Encoding::Ffv1, None) => refuse("8, 9, 10, 12 or 16"),
        _ => refuse("8 or 10"),
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
    settings: Vec<(&'static str, String)>,
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

/// Copies a picture into plane 0, row by row.
fn fill(raw: &mut frame::Video, picture: &GreyView<'_>) -> Result<(), &'static str> {
    // The allocation fails without a word; a picture without planes is how it shows.
    if raw.planes() == 0 {
        return Err("not enough memory for a picture");
    }
    let stride = raw.stride(0);
    let rows = raw.data_mut(0).chunks_mut(stride).take(picture.height());
    let two_bytes = matches!(raw_depth(picture), 2);
    for (y, row) in rows.enumerate() {
        let from = y * picture.stride();
        match picture.pixels() {
            GreyPixels::Eight(samples) => {
                row[..picture.width()].copy_from_slice(&samples[from..from + picture.width()])
            }
            GreyPixels::Sixteen(samples) => {
                for (x, level) in samples[from..from + picture.width()].iter().enumerate() {
                    if two_bytes {
                        row[2 * x..2 * x + 2].copy_from_slice(&level.to_le_bytes());
                    } else {
                        row[x] = level.to_le_bytes()[0];
                    }
                }
            }
        }
    }
    Ok(())
}

/// Bytes of a sample in the film: an 8-bit picture may be held in 16-bit samples.
fn raw_depth(picture: &GreyView<'_>) -> usize {
    if picture.bits() > 8 { 2 } else { 1 }
}
