//! A film file as footage: grey frames in order of presentation, numbered, drained to the last one.

use crate::container::{
    check_size, claims, no_pictures, open_container, open_decoder, scale_of, silence_codecs,
};
use crate::decoding::Decoding;
use crate::field_splitter::half_ticks;
use crate::lanes::is_for_lanes;
use crate::layout::LumaLayout;
use crate::rotation::Turn;
use crate::{FaultKind, FieldOrder, FootageError, FootageFault, FootageInfo, Frame, ReadOptions};
use ffmpeg_next::codec::Capabilities;
use ffmpeg_next::{Error, color, frame, media};
use filmgauge_quantities::{FrameNumber, GreyImage, TickTime, TimeScale};
use std::path::PathBuf;

/// A film being decoded.
pub(crate) struct Film {
    pub(crate) decoding: Decoding,
    scale: Option<TimeScale>,
    layout: LumaLayout,
    pub(crate) info: FootageInfo,
    pub(crate) faults: Vec<FootageFault>,
    turn: Option<Turn>,
    /// Ticks half as long as the film's, for fields.
    pub(crate) half_ticks: Option<TimeScale>,
    first: Option<Frame>,
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
        let decoding = Decoding::new(path, input, index, decoder);
        let faults = Vec::new();
        let mut film = Self { decoding, scale, layout, info, faults, turn, half_ticks, first: None };
        film.begin()?;
        // Fields may share a packet or not; one decoder keeps them together.
        let is_whole = !film.decoding.picture.is_interlaced();
        if options.threads > 1 && is_whole && is_for_lanes(film.decoding.decoder.id()) {
            film.decoding.spread(options);
        }
        Ok(film)
    }

    /// Whether several threads decode already.
    pub(crate) fn shares_work(&self) -> bool {
        self.decoding.is_spread()
            || self
                .decoding
                .decoder
                .codec()
                .is_some_and(|codec| codec.capabilities().contains(Capabilities::FRAME_THREADS))
    }

    pub(crate) fn files(&self) -> &[PathBuf] {
        std::slice::from_ref(&self.decoding.path)
    }

    pub(crate) fn next_frame(&mut self) -> Result<Option<Frame>, FootageError> {
        if let Some(first) = self.first.take() {
            return Ok(Some(first));
        }
        if !self.decoding.decode()? {
            self.faults.extend(self.decoding.report());
            return Ok(None);
        }
        self.take_frame().map(Some)
    }

    /// Begins again at the start of the film.
    pub(crate) fn rewind(&mut self, options: &ReadOptions) -> Result<(), FootageError> {
        self.first = None;
        self.decoding.rewind(options)
    }

    /// Decodes the first picture and fills in what only it can tell.
    fn begin(&mut self) -> Result<(), FootageError> {
        if !self.decoding.decode()? {
            let text = self.decoding.why_nothing();
            return Err(FootageError::NotFootage { path: self.decoding.path.clone(), text });
        }
        let picture = &self.decoding.picture;
        let name = format_name(picture);
        self.layout = LumaLayout::named(name).ok_or_else(|| FootageError::Unsupported {
            path: self.decoding.path.clone(),
            what: format!("samples laid out as {name} cannot be measured as stored"),
            remedy: "convert the film to grey FFV1 or to a sequence of PNG or TIFF stills".to_owned(),
        })?;
        self.info.width = picture.width() as usize;
        self.info.height = picture.height() as usize;
        self.info.bits = self.layout.bits;
        self.info.luma = self.layout.path;
        name.clone_into(&mut self.info.pixel_format);
        self.info.full_range = match picture.color_range() {
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
        if let Some(turn) = self.turn.or_else(|| Turn::of_picture(&self.decoding.picture)) {
            self.info.turn_deg = Some(turn.turn_deg);
            self.info.mirrored = turn.mirrored;
            self.faults.extend(turn.fault());
        }
        if self.decoding.picture.is_interlaced() {
            let top_first = self.decoding.picture.is_top_first();
            self.info.stated_fields =
                Some(if top_first { FieldOrder::TopFirst } else { FieldOrder::BottomFirst });
            let text = "pictures consist of two fields exposed at different times; marks may be off by the motion \
                        between them";
            self.faults.push(FootageFault::of_footage(FaultKind::Interlaced, text.to_owned()));
        }
        let aspect = self.decoding.picture.aspect_ratio();
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

    /// Grey levels of the latest picture, refused when it differs in size or layout from the first.
    pub(crate) fn picture(&self) -> Result<GreyImage, FootageError> {
        self.check_same()?;
        self.layout.copy(&self.decoding.picture).map_err(|text| self.decoding.damaged(&text))
    }

    fn check_same(&self) -> Result<(), FootageError> {
        let picture = &self.decoding.picture;
        let (width, height) = (picture.width() as usize, picture.height() as usize);
        let name = format_name(picture);
        if (width, height) == (self.info.width, self.info.height) && name == self.info.pixel_format {
            return Ok(());
        }
        let expected = format!("{} x {} px, {}", self.info.width, self.info.height, self.info.pixel_format);
        let found = format!("{width} x {height} px, {name}");
        Err(FootageError::SizeChanged {
            path: self.decoding.path.clone(),
            frame: FrameNumber(self.decoding.next),
            expected,
            found,
        })
    }

    fn take_frame(&mut self) -> Result<Frame, FootageError> {
        let picture = self.picture()?;
        let ticks = self.decoding.picture.pts();
        let stamp = ticks.zip(self.scale).map(|(ticks, scale)| TickTime { ticks, scale });
        let (place, damaged) = self.decoding.judge();
        let number = FrameNumber(self.decoding.next);
        let next = number.0.checked_add(1);
        self.decoding.next = next.ok_or_else(|| self.decoding.damaged("more frames than can be numbered"))?;
        let key = self.decoding.picture.is_key();
        Ok(Frame { number, stamp, key, damaged, picture, place: Some(place) })
    }
}

fn format_name(picture: &frame::Video) -> &'static str {
    picture.format().descriptor().map_or("unknown", |about| about.name())
}
