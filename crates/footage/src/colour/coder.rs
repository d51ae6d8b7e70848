//! Coders of films in colour: one thread, no dates, the same pictures give the same bytes.

use super::planes::{bgr, luma_and_chroma};
use super::{ColourCoding, ColourFilm};
use crate::FootageError;
use crate::container::silence_codecs;
use ffmpeg_next::codec::{Context, Flags, Id, threading};
use ffmpeg_next::format::Pixel;
use ffmpeg_next::util::error::EAGAIN;
use ffmpeg_next::{Codec, Dictionary, Error, Packet, Rational, color, encoder, frame};

/// The coder on this machine.
pub(super) fn find(coding: ColourCoding) -> Result<Codec, FootageError> {
    silence_codecs();
    let (codec, name) = match coding {
        ColourCoding::H264 => (encoder::find_by_name("libx264"), "libx264"),
        ColourCoding::Ffv1 => (encoder::find(Id::FFV1), "FFV1"),
    };
    codec.ok_or_else(|| FootageError::Settings {
        text: format!(
            "{} cannot be written: FFmpeg on this machine lacks its coder {name}; install an FFmpeg that has it, or choose the other coding",
            coding.words()
        ),
    })
}

/// Time of one picture, s.
pub(super) fn picture_time(film: &ColourFilm) -> Rational {
    Rational::new(1000, i32::try_from(film.millihertz).unwrap_or(i32::MAX))
}

/// A coder at work. All of one film's are opened alike, so their streams may be joined.
pub(super) struct Coder {
    pub(super) encoder: encoder::video::Encoder,
    coding: ColourCoding,
    size: (usize, usize),
    n_put: i64,
}

/// One coded picture.
pub(super) struct Coded {
    pub(super) key: bool,
    pub(super) data: Vec<u8>,
}

impl Coder {
    pub(super) fn open(film: &ColourFilm) -> Result<Self, FootageError> {
        let codec = find(film.coding)?;
        let failed = |error: Error| FootageError::Settings {
            text: format!("{} of {} x {} px: {error}", film.coding.words(), film.width, film.height),
        };
        let mut context = Context::new_with_codec(codec);
        context.set_flags(Flags::BITEXACT | Flags::GLOBAL_HEADER);
        context.set_threading(threading::Config::count(1));
        let mut video = context.encoder().video().map_err(failed)?;
        let narrow = |n: usize| u32::try_from(n).unwrap_or(u32::MAX);
        video.set_width(narrow(film.width));
        video.set_height(narrow(film.height));
        video.set_time_base(picture_time(film));
        video.set_frame_rate(Some(picture_time(film).invert()));
        let settings: &[(&str, &str)] = match film.coding {
            ColourCoding::H264 => {
                video.set_format(Pixel::YUV420P);
                video.set_color_range(color::Range::MPEG);
                video.set_colorspace(color::Space::BT709);
                // The macroblock tree reads memory that nobody wrote (seen with libx264 on noisy pictures).
                let params =
                    "bframes=0:mbtree=0:rc-lookahead=0:colorprim=bt709:transfer=bt709:colormatrix=bt709";
                &[("preset", "fast"), ("crf", "16"), ("g", "50"), ("x264-params", params)]
            }
            ColourCoding::Ffv1 => {
                video.set_format(Pixel::BGRZ);
                &[("level", "3"), ("g", "1"), ("slices", "4"), ("slicecrc", "1")]
            }
        };
        let settings: Dictionary<'_> = settings.iter().copied().collect();
        let encoder = video.open_as_with(codec, settings).map_err(failed)?;
        Ok(Self { encoder, coding: film.coding, size: (film.width, film.height), n_put: 0 })
    }

    /// Codes the next picture, of red, green and blue bytes row by row.
    pub(super) fn put(&mut self, rgb: &[u8]) -> Result<Vec<Coded>, FootageError> {
        let (width, height) = self.size;
        if rgb.len() != 3 * width * height {
            let text = format!("a picture of {} bytes is not {width} x {height} px in colour", rgb.len());
            return Err(FootageError::Settings { text });
        }
        let narrow = |n: usize| u32::try_from(n).unwrap_or(u32::MAX);
        let mut raw = frame::Video::new(self.encoder.format(), narrow(width), narrow(height));
        // The allocation fails without a word; a picture without planes is how it shows.
        if raw.planes() == 0 {
            return Err(FootageError::Settings { text: "not enough memory for a picture".to_owned() });
        }
        match self.coding {
            ColourCoding::H264 => luma_and_chroma(&mut raw, rgb, width),
            ColourCoding::Ffv1 => bgr(&mut raw, rgb, width),
        }
        raw.set_pts(Some(self.n_put));
        self.n_put += 1;
        self.encoder.send_frame(&raw).map_err(coding_failed)?;
        self.ready()
    }

    /// What is still in the coder.
    pub(super) fn rest(&mut self) -> Result<Vec<Coded>, FootageError> {
        self.encoder.send_eof().map_err(coding_failed)?;
        self.ready()
    }

    fn ready(&mut self) -> Result<Vec<Coded>, FootageError> {
        let mut coded = Vec::new();
        loop {
            let mut packet = Packet::empty();
            match self.encoder.receive_packet(&mut packet) {
                Ok(()) => {
                    let data = packet.data().unwrap_or_default().to_vec();
                    coded.push(Coded { key: packet.is_key(), data });
                }
                Err(Error::Eof | Error::Other { errno: EAGAIN }) => return Ok(coded),
                Err(error) => return Err(coding_failed(error)),
            }
        }
    }
}

fn coding_failed(error: Error) -> FootageError {
    FootageError::Settings { text: format!("a picture could not be coded: {error}") }
}
