//! The two calls of the codec library that have no safe form: seeking in a stream's own ticks, and a packet's hidden mark.
#![expect(
    unsafe_code,
    reason = "the safe interface seeks in microseconds only and leaves out one mark of packets"
)]

use crate::KeyPlace;
use ffmpeg_next::ffi::{AV_PKT_FLAG_DISCARD, AVSEEK_FLAG_BACKWARD, AVSEEK_FLAG_BYTE, av_seek_frame};
use ffmpeg_next::packet::Ref;
use ffmpeg_next::{Packet, format};

/// How a key packet is sought.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub(crate) enum SeekBy {
    /// By its time stamp of presentation.
    Ticks,
    /// By its time stamp of decoding.
    DecodeTicks,
    /// By its first byte.
    Byte,
}

/// Moves the reading to `key` or before it. False when the container refuses, or the packet has no such place.
pub(crate) fn seek(input: &mut format::context::Input, stream: usize, key: &KeyPlace, by: SeekBy) -> bool {
    let (target, flags) = match by {
        SeekBy::Ticks => (key.ticks, AVSEEK_FLAG_BACKWARD),
        SeekBy::DecodeTicks => (key.decode_ticks, AVSEEK_FLAG_BACKWARD),
        SeekBy::Byte => (key.byte.and_then(|byte| i64::try_from(byte).ok()), AVSEEK_FLAG_BYTE),
    };
    let is_stream = input.stream(stream).is_some();
    let (Some(target), Ok(stream), true) = (target, i32::try_from(stream), is_stream) else { return false };
    // SAFETY: the context comes from an open `Input`, is borrowed mutably for the length of the call, and is not kept
    // by the library; the stream's number was checked above. The call reads and moves the context's own state only.
    unsafe { av_seek_frame(input.as_mut_ptr(), stream, target, flags) >= 0 }
}

/// Whether the container's edit list says that a packet's picture is decoded but not shown.
pub(crate) fn is_hidden(packet: &Packet) -> bool {
    // SAFETY: the pointer is that of a live packet, borrowed for the length of the read of one plain integer.
    unsafe { (*packet.as_ptr()).flags & AV_PKT_FLAG_DISCARD != 0 }
}
