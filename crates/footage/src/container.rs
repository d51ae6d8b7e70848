//! Opening a film's container and decoder: only film, only files, nothing larger than the cap; what the header claims.

use crate::{FootageError, FootageInfo, LumaPath, ReadOptions};
use ffmpeg_next::codec::{Context, Flags, Id, Parameters, threading};
use ffmpeg_next::{Dictionary, Error, Stream, decoder, format, media};
use filmgauge_quantities::TimeScale;
use std::path::Path;

/// Containers and bare streams that hold film. Others (playlists, text shown as film, subtitles) are not opened.
const CONTAINERS: &str = "matroska,webm,mov,mp4,m4a,3gp,3g2,mj2,avi,nut,mxf,asf,mpegts,mpeg,mpegvideo,h264,hevc,m4v,\
                          mjpeg,yuv4mpegpipe,ivf,ogg,flv,dv,wav,mp3,flac,aac";

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

pub(crate) fn open_container(path: &Path) -> Result<format::context::Input, FootageError> {
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

pub(crate) fn no_pictures(path: &Path, input: &format::context::Input) -> FootageError {
    let sound = input.streams().any(|stream| stream.parameters().medium() == media::Type::Audio);
    let text = if sound { "sound only" } else { "neither pictures nor sound" };
    FootageError::NoPictures { path: path.to_path_buf(), text: text.to_owned() }
}

/// Refuses a header that claims more pixels than the cap, before the decoder takes memory for them.
pub(crate) fn check_size(path: &Path, parameters: Parameters, most_pixels: u64) -> Result<(), FootageError> {
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

pub(crate) fn open_decoder(parameters: Parameters, options: &ReadOptions) -> Result<decoder::Video, Error> {
    let mut context = Context::from_parameters(parameters)?;
    // FFV1 gains nothing from frame threads here: each of its pictures comes in slices that decode side by side.
    let kind = if context.id() == Id::FFV1 { threading::Type::Slice } else { threading::Type::Frame };
    context.set_threading(threading::Config { count: options.threads, ..threading::Config::kind(kind) });
    // Doubtful pictures are wanted, and come marked: leaving them out would shift every later number.
    context.set_flags(Flags::OUTPUT_CORRUPT);
    let codec = decoder::find(context.id()).ok_or(Error::DecoderNotFound)?;
    // Coded sizes are rounded up to whole blocks, so the decoder's own cap lies above ours.
    let cap = options.most_pixels.saturating_mul(2).min(i32::MAX.unsigned_abs().into()).to_string();
    let settings: Dictionary<'_> = [("max_pixels", cap.as_str())].iter().collect();
    context.decoder().open_as_with(codec, settings)?.video()
}

/// What the header claims; size and layout are filled in from the first picture.
pub(crate) fn claims(
    input: &format::context::Input,
    stream: &Stream<'_>,
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
        luma: LumaPath::LumaPlane,
        full_range: None,
        container_rate: rate,
        declared_frames: u64::try_from(stream.frames()).ok().filter(|&n| n > 0),
        declared_length_s: length.map(micros_as_s),
        pixel_aspect: None,
        turn_deg: None,
        mirrored: false,
        stated_fields: None,
        fields_read: None,
        container,
    }
}

#[expect(clippy::cast_precision_loss, reason = "exact below 2^53 microseconds: 285 years")]
fn micros_as_s(ticks: i64) -> f64 {
    ticks as f64 / 1e6
}

pub(crate) fn scale_of(stream: &Stream<'_>) -> Option<TimeScale> {
    let base = stream.time_base();
    TimeScale::new(u32::try_from(base.numerator()).ok()?, u32::try_from(base.denominator()).ok()?)
}
