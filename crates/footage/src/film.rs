//! A film file as footage: packets in, grey frames out in order of presentation, drained to the last one.

use crate::ffv1_footer::FooterCheck;
use crate::luma::LumaLayout;
use crate::{FaultKind, FootageError, FootageFault, FootageInfo, Frame, ReadOptions};
use ffmpeg_next::codec::packet::side_data;
use ffmpeg_next::codec::{self, Context, Flags, threading};
use ffmpeg_next::util::error::EAGAIN;
use ffmpeg_next::{Dictionary, Error, Packet, color, decoder, format, frame, media};
use filmgauge_quantities::{FrameNumber, TickTime, TimeScale};
use std::collections::VecDeque;
use std::path::{Path, PathBuf};

/// Containers and bare streams that hold film. Others (playlists, text shown as film, subtitles) are not opened.
const CONTAINERS: &str = "matroska,webm,mov,mp4,m4a,3gp,3g2,mj2,avi,nut,mxf,asf,mpegts,mpeg,mpegvideo,h264,hevc,m4v,\
                          mjpeg,yuv4mpegpipe,ivf,ogg,flv,dv,wav,mp3,flac,aac";

/// Errors in a row after which a film counts as unreadable from there on.
const MOST_ERRORS_IN_A_ROW: u32 = 1000;

/// Damaged packets that may wait for their pictures; a decoder holds back far fewer.
const MOST_SUSPECTS: usize = 256;

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
    first: Option<Frame>,
    next: u32,
    lost: Lost,
    /// Check of slices, for codings whose decoder does not report them.
    footers: Option<FooterCheck>,
    /// Time stamps of packets that are known to be damaged, and whose pictures are not out yet.
    suspects: VecDeque<i64>,
    /// Data was lost or a picture damaged since the last key frame: what is predicted from it is doubtful too.
    tainted: bool,
    draining: bool,
}

/// Data that could not be decoded.
#[derive(Default)]
struct Lost {
    n: u32,
    in_a_row: u32,
    reason: String,
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
        let faults = turned(&stream).into_iter().collect();
        let layout = LumaLayout::named("gray").ok_or_else(|| not_film(Error::Bug))?;
        let decoded = frame::Video::empty();
        let footers = (decoder.id() == codec::Id::FFV1).then(FooterCheck::default);
        let mut film = Self {
            path,
            stream: index,
            scale,
            decoder,
            decoded,
            layout,
            info,
            faults,
            first: None,
            next: 0,
            lost: Lost::default(),
            footers,
            suspects: VecDeque::new(),
            tainted: false,
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
            self.report_loss();
            return Ok(None);
        }
        self.check_same()?;
        self.take_frame().map(Some)
    }

    /// Decodes the first picture and fills in what only it can tell.
    fn begin(&mut self) -> Result<(), FootageError> {
        if !self.decode()? {
            let text = match self.lost.n {
                0 => "the film ends before its first picture".to_owned(),
                n => format!("none of its {n} pieces of picture data can be decoded: {}", self.lost.reason),
            };
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

    /// Notes fields and pixels that are not square, as the first picture shows them.
    fn note_shape(&mut self) {
        if self.decoded.is_interlaced() {
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
                Ok(()) => {
                    self.lost.in_a_row = 0;
                    return Ok(true);
                }
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
                self.suspect(&packet);
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

    /// Remembers a packet whose container or check sums call it damaged, so that its picture is marked.
    fn suspect(&mut self, packet: &Packet) {
        let checked = self.footers.as_mut().zip(packet.data());
        let damaged = packet.is_corrupt() || checked.is_some_and(|(footers, data)| footers.is_damaged(data));
        if let Some(stamp) = packet.pts().filter(|_| damaged) {
            self.suspects.push_back(stamp);
            if self.suspects.len() > MOST_SUSPECTS {
                self.suspects.pop_front();
            }
        }
    }

    fn lose(&mut self, error: Error) -> Result<(), FootageError> {
        self.lost.n += 1;
        self.lost.in_a_row += 1;
        self.tainted = true;
        if self.lost.n == 1 {
            self.lost.reason = error.to_string();
        }
        if self.lost.in_a_row > MOST_ERRORS_IN_A_ROW {
            return Err(self.damaged(&format!("nothing can be decoded from here on: {error}")));
        }
        Ok(())
    }

    /// States the loss once, at the end: with several decoder threads an error has no one frame, but the
    /// hole it leaves shows in the time stamps, and pictures that suffered are marked as damaged.
    fn report_loss(&mut self) {
        let lost = std::mem::take(&mut self.lost);
        if lost.n > 0 {
            let text = format!(
                "{} pieces of picture data could not be decoded ({}); frames may be missing where time stamps jump",
                lost.n, lost.reason
            );
            self.faults.push(FootageFault::of_footage(FaultKind::LostData, text));
        }
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
        let key = self.decoded.is_key();
        let damaged = self.is_damaged(ticks, key);
        let number = FrameNumber(self.next);
        self.next =
            self.next.checked_add(1).ok_or_else(|| self.damaged("more frames than can be numbered"))?;
        Ok(Frame { number, stamp, key, damaged, picture })
    }

    /// Whether the picture is damaged itself, or predicted from damage: a key frame ends it.
    fn is_damaged(&mut self, ticks: Option<i64>, key: bool) -> bool {
        let place = self.suspects.iter().position(|suspect| Some(*suspect) == ticks);
        let suspect = place.and_then(|place| self.suspects.remove(place)).is_some();
        let itself = suspect || self.decoded.is_corrupt() || self.decoded.has_decode_errors();
        self.tainted = itself || (self.tainted && !key);
        self.tainted
    }

    fn damaged(&self, text: &str) -> FootageError {
        FootageError::Damaged {
            path: self.path.clone(),
            frame: FrameNumber(self.next),
            text: text.to_owned(),
        }
    }
}

/// Codecs write to the terminal by themselves unless told otherwise, once for the process.
pub(crate) fn silence_codecs() {
    static ONCE: std::sync::Once = std::sync::Once::new();
    ONCE.call_once(|| ffmpeg_next::log::set_level(ffmpeg_next::log::Level::Quiet));
}

/// The name to hand to the codec library: the "file:" in front keeps it from reading other protocols into a name.
pub(crate) fn codec_name(path: &Path) -> Result<String, FootageError> {
    match path.to_str() {
        Some(name) if !name.contains('\0') => Ok(format!("file:{name}")),
        _ => Err(FootageError::Unsupported {
            path: path.to_path_buf(),
            what: "the file name is not valid Unicode".to_owned(),
            remedy: "rename the file".to_owned(),
        }),
    }
}

fn open_container(path: &Path) -> Result<format::context::Input, FootageError> {
    // Opened here first: the system's own words for missing files and access rights are clearer.
    std::fs::File::open(path).map_err(|error| FootageError::from_io(path, error))?;
    let settings: Dictionary<'_> =
        [("protocol_whitelist", "file"), ("format_whitelist", CONTAINERS)].iter().collect();
    format::input_with_dictionary(&codec_name(path)?, settings).map_err(|error| {
        let text = match error {
            Error::InvalidData | Error::Other { .. } => "no known container".to_owned(),
            other => other.to_string(),
        };
        FootageError::NotFootage { path: path.to_path_buf(), text }
    })
}

fn no_pictures(path: &Path, input: &format::context::Input) -> FootageError {
    let sound = input.streams().any(|stream| stream.parameters().medium() == media::Type::Audio);
    let text = if sound { "sound only" } else { "neither pictures nor sound" };
    FootageError::NoPictures { path: path.to_path_buf(), text: text.to_owned() }
}

/// Refuses a header that claims more pixels than the cap, before the decoder takes memory for them.
fn check_size(path: &Path, parameters: codec::Parameters, most_pixels: u64) -> Result<(), FootageError> {
    // A context that is not opened tells its size only through the getters of the writing side.
    let claimed = Context::from_parameters(parameters)
        .and_then(|context| context.encoder().video())
        .map(|context| (u64::from(context.width()), u64::from(context.height())));
    match claimed {
        Ok((width, height)) if width.saturating_mul(height) > most_pixels => {
            Err(FootageError::TooLarge { path: path.to_path_buf(), width, height, most_pixels })
        }
        _ => Ok(()),
    }
}

fn open_decoder(parameters: codec::Parameters, options: &ReadOptions) -> Result<decoder::Video, Error> {
    let mut context = Context::from_parameters(parameters)?;
    context.set_threading(threading::Config {
        count: options.threads,
        ..threading::Config::kind(threading::Type::Frame)
    });
    // Doubtful pictures are wanted, and come marked: leaving them out would shift every later number.
    context.set_flags(Flags::OUTPUT_CORRUPT);
    let codec = decoder::find(context.id()).ok_or(Error::DecoderNotFound)?;
    // Coded sizes are rounded up to whole blocks, so the decoder's own cap lies above ours.
    let cap = options.most_pixels.saturating_mul(2).min(i32::MAX.unsigned_abs().into()).to_string();
    let settings: Dictionary<'_> = [("max_pixels", cap.as_str())].iter().collect();
    context.decoder().open_as_with(codec, settings)?.video()
}

/// What the header claims; size and layout are filled in from the first picture.
fn claims(
    input: &format::context::Input,
    stream: &ffmpeg_next::Stream<'_>,
    decoder: &decoder::Video,
) -> FootageInfo {
    let container = input.format().name().to_owned();
    let rate = [stream.avg_frame_rate(), stream.rate()]
        .into_iter()
        .find(|rate| rate.numerator() > 0 && rate.denominator() > 0)
        .map(|rate| f64::from(rate.numerator()) / f64::from(rate.denominator()));
    // Bare streams have no header; the length the library then gives is guessed from the file's size.
    let has_header = ["matroska", "mov", "avi", "nut", "mxf"].iter().any(|name| container.starts_with(name));
    let length = Some(input.duration()).filter(|&ticks| has_header && ticks > 0);
    FootageInfo {
        width: 0,
        height: 0,
        bits: 0,
        codec: decoder.id().name().to_owned(),
        pixel_format: String::new(),
        luma: crate::LumaPath::LumaPlane,
        full_range: None,
        container_rate: rate,
        declared_frames: u64::try_from(stream.frames()).ok().filter(|&n| n > 0),
        declared_length_s: length.map(micros_as_s),
        pixel_aspect: None,
        container,
    }
}

#[expect(clippy::cast_precision_loss, reason = "exact below 2^53 microseconds: 285 years")]
fn micros_as_s(ticks: i64) -> f64 {
    ticks as f64 / 1e6
}

fn turned(stream: &ffmpeg_next::Stream<'_>) -> Option<FootageFault> {
    let has_matrix = stream.side_data().any(|data| data.kind() == side_data::Type::DisplayMatrix);
    has_matrix.then(|| {
        let text = "the container asks for the picture to be turned or mirrored for viewing; it is measured as stored";
        FootageFault::of_footage(FaultKind::Turned, text.to_owned())
    })
}

fn scale_of(stream: &ffmpeg_next::Stream<'_>) -> Option<TimeScale> {
    let base = stream.time_base();
    TimeScale::new(u32::try_from(base.numerator()).ok()?, u32::try_from(base.denominator()).ok()?)
}

fn format_name(picture: &frame::Video) -> &'static str {
    picture.format().descriptor().map_or("unknown", |about| about.name())
}
