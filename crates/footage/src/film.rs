//! A film file as footage: packets in, grey frames out in order of presentation, drained to the last one.

use crate::container::{
    check_size, claims, no_pictures, open_container, open_decoder, scale_of, silence_codecs,
};
use crate::damage::Damage;
use crate::fields::half_ticks;
use crate::luma::LumaLayout;
use crate::rotation::Turn;
use crate::{FaultKind, FieldOrder, FootageError, FootageFault, FootageInfo, Frame, ReadOptions};
use ffmpeg_next::util::error::EAGAIN;
use ffmpeg_next::{Error, Packet, codec, color, decoder, format, frame, media};
use filmgauge_quantities::{FrameNumber, TickTime, TimeScale};
use std::path::PathBuf;

/// A film being decoded.
pub(crate) struct Film {
    path: PathBuf,
    input: format::context::Input,
    stream: usize,
    scale: Option<TimeScale>,
    decoder: decoder::Video,
    decoded: frame::Video,
    layout: LumaLayout,
    pub(crate) info: FootageInfo,
    pub(crate) faults: Vec<FootageFault>,
    turn: Option<Turn>,
    /// Ticks half as long as the film's, for fields.
    pub(crate) half_ticks: Option<TimeScale>,
    first: Option<Frame>,
    next: u32,
    damage: Damage,
    draining: bool,
}

/// What feeding the decoder came to.
enum Fed {
    More,
    End,
}

impl Film {
    /// Opens a film and decodes its first picture, which alone tells size and layout for sure.
    pub(crate) fn open(path: PathBuf, options: &ReadOptions) -> Result<Self, FootageError> {
        silence_codecs();
        let input = open_container(&path)?;
        let not_film =
            |error: Error| FootageError::NotFootage { path: path.clone(), text: error.to_string() };
        let stream = input.streams().best(media::Type::Video).ok_or_else(|| no_pictures(&path, &input))?;
        let (index, scale) = (stream.index(), scale_of(&stream));
        check_size(&path, stream.parameters(), options.most_pixels)?;
        let decoder = open_decoder(stream.parameters(), options).map_err(not_film)?;
        let info = claims(&input, &stream, &decoder);
        let (turn, half_ticks) = (Turn::of_stream(&stream), half_ticks(&stream));
        let layout = LumaLayout::named("gray").ok_or_else(|| not_film(Error::Bug))?;
        let decoded = frame::Video::empty();
        let damage = Damage::new(decoder.id() == codec::Id::FFV1);
        let mut film = Self {
            path,
            stream: index,
            scale,
            decoder,
            decoded,
            layout,
            info,
            faults: Vec::new(),
            turn,
            half_ticks,
            first: None,
            next: 0,
            damage,
            draining: false,
            input,
        };
        film.begin()?;
        Ok(film)
    }

    pub(crate) fn files(&self) -> &[PathBuf] {
        std::slice::from_ref(&self.path)
    }

    pub(crate) fn next_frame(&mut self) -> Result<Option<Frame>, FootageError> {
        if let Some(first) = self.first.take() {
            return Ok(Some(first));
        }
        if !self.decode()? {
            self.faults.extend(self.damage.report());
            return Ok(None);
        }
        self.check_same()?;
        self.take_frame().map(Some)
    }

    /// Decodes the first picture and fills in what only it can tell.
    fn begin(&mut self) -> Result<(), FootageError> {
        if !self.decode()? {
            let text = self.damage.why_nothing();
            return Err(FootageError::NotFootage { path: self.path.clone(), text });
        }
        let name = format_name(&self.decoded);
        self.layout = LumaLayout::named(name).ok_or_else(|| FootageError::Unsupported {
            path: self.path.clone(),
            what: format!("samples laid out as {name} hold no luma plane"),
            remedy: "convert the film to grey FFV1 or to a sequence of PNG or TIFF stills".to_owned(),
        })?;
        self.info.width = self.decoded.width() as usize;
        self.info.height = self.decoded.height() as usize;
        self.info.bits = self.layout.bits;
        self.info.luma = self.layout.path;
        name.clone_into(&mut self.info.pixel_format);
        self.info.full_range = match self.decoded.color_range() {
            color::Range::JPEG => Some(true),
            color::Range::MPEG => Some(false),
            color::Range::Unspecified => self.layout.full_range.then_some(true),
        };
        self.note_shape();
        let frame = self.take_frame()?;
        self.first = Some(frame);
        Ok(())
    }

    /// Notes turning, fields and pixels that are not square, as the first picture shows them.
    fn note_shape(&mut self) {
        if let Some(turn) = self.turn.or_else(|| Turn::of_picture(&self.decoded)) {
            self.info.turn_deg = Some(turn.turn_deg);
            self.info.mirrored = turn.mirrored;
            self.faults.extend(turn.fault());
        }
        if self.decoded.is_interlaced() {
            let top_first = self.decoded.is_top_first();
            self.info.stated_fields =
                Some(if top_first { FieldOrder::TopFirst } else { FieldOrder::BottomFirst });
            let text = "pictures consist of two fields exposed at different times; marks may be off by the motion \
                        between them";
            self.faults.push(FootageFault::of_footage(FaultKind::Interlaced, text.to_owned()));
        }
        let aspect = self.decoded.aspect_ratio();
        if aspect.numerator() > 0 && aspect.denominator() > 0 {
            let ratio = f64::from(aspect.numerator()) / f64::from(aspect.denominator());
            self.info.pixel_aspect = Some(ratio);
            if aspect.numerator() != aspect.denominator() {
                let text = format!(
                    "stored pixels are {ratio:.4} times as wide as high; scale x and y from the board separately"
                );
                self.faults.push(FootageFault::of_footage(FaultKind::PixelAspect, text));
            }
        }
    }

    /// Brings the next picture into `decoded`; false after the last one.
    fn decode(&mut self) -> Result<bool, FootageError> {
        loop {
            match self.decoder.receive_frame(&mut self.decoded) {
                Ok(()) => return Ok(true),
                Err(Error::Eof) => return Ok(false),
                Err(Error::Other { errno: EAGAIN }) => {
                    if let Fed::End = self.feed()? {
                        return Ok(false);
                    }
                }
                Err(error) => self.lose(error)?,
            }
        }
    }

    /// Hands the decoder one more packet, or the end of the film.
    fn feed(&mut self) -> Result<Fed, FootageError> {
        if self.draining {
            return Ok(Fed::End);
        }
        let mut packet = Packet::empty();
        match packet.read(&mut self.input) {
            Ok(()) if packet.stream() != self.stream => {}
            Ok(()) => {
                self.damage.watch(&packet);
                if let Err(error) = self.decoder.send_packet(&packet) {
                    self.lose(error)?;
                }
            }
            Err(Error::Eof) => {
                self.draining = true;
                if let Err(error) = self.decoder.send_eof() {
                    self.lose(error)?;
                }
            }
            Err(Error::InvalidData) => self.lose(Error::InvalidData)?,
            Err(error) => return Err(self.damaged(&error.to_string())),
        }
        Ok(Fed::More)
    }

    fn lose(&mut self, error: Error) -> Result<(), FootageError> {
        if self.damage.lose(error) {
            return Ok(());
        }
        Err(self.damaged(&format!("nothing can be decoded from here on: {error}")))
    }

    fn check_same(&self) -> Result<(), FootageError> {
        let (width, height) = (self.decoded.width() as usize, self.decoded.height() as usize);
        let name = format_name(&self.decoded);
        if (width, height) == (self.info.width, self.info.height) && name == self.info.pixel_format {
            return Ok(());
        }
        let expected = format!("{} x {} px, {}", self.info.width, self.info.height, self.info.pixel_format);
        let found = format!("{width} x {height} px, {name}");
        Err(FootageError::SizeChanged {
            path: self.path.clone(),
            frame: FrameNumber(self.next),
            expected,
            found,
        })
    }

    fn take_frame(&mut self) -> Result<Frame, FootageError> {
        let picture = self.layout.copy(&self.decoded).map_err(|text| self.damaged(&text))?;
        let ticks = self.decoded.pts();
        let stamp = ticks.zip(self.scale).map(|(ticks, scale)| TickTime { ticks, scale });
        let damaged = self.damage.judge(&self.decoded);
        let number = FrameNumber(self.next);
        self.next =
            self.next.checked_add(1).ok_or_else(|| self.damaged("more frames than can be numbered"))?;
        Ok(Frame { number, stamp, key: self.decoded.is_key(), damaged, picture })
    }

    fn damaged(&self, text: &str) -> FootageError {
        FootageError::Damaged {
            path: self.path.clone(),
            frame: FrameNumber(self.next),
            text: text.to_owned(),
        }
    }
}

fn format_name(picture: &frame::Video) -> &'static str {
    picture.format().descriptor().map_or("unknown", |about| about.name())
}
