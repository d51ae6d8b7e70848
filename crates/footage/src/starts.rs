//! Which key packet decoding of each picture begins at, found while pictures pass by in order of presentation.

use crate::{FramePlace, KeyPlace};
use ffmpeg_next::{Packet, frame};
use std::collections::VecDeque;

/// Key packets that may wait for their pictures; a decoder holds back far fewer.
const MOST_WAITING: usize = 256;

/// Follows key packets from demuxer to screen.
#[derive(Debug, Default)]
pub(crate) struct DecodeStarts {
    waiting: VecDeque<KeyPlace>,
    current: Option<KeyPlace>,
}

impl DecodeStarts {
    /// Notes a packet on its way to the decoder.
    pub(crate) fn watch(&mut self, packet: &Packet) {
        if packet.is_key() {
            self.waiting.push_back(place_of(packet));
            if self.waiting.len() > MOST_WAITING {
                self.waiting.pop_front();
            }
        }
    }

    /// The place of a picture as it is shown.
    pub(crate) fn place_of(&mut self, decoded: &frame::Video) -> FramePlace {
        let byte = u64::try_from(decoded.packet().position).ok();
        let shown_by = |key: &KeyPlace| match (key.ticks, decoded.pts()) {
            (Some(key), Some(picture)) => key <= picture,
            _ => key.byte.is_some() && key.byte == byte,
        };
        // A key packet whose own picture is hidden or lost is passed over by the next one that is shown.
        if let Some(last) = self.waiting.iter().rposition(shown_by) {
            self.current = self.waiting.drain(..=last).next_back();
        }
        FramePlace { byte, start: self.current }
    }
}

/// What the container says of a packet.
pub(crate) fn place_of(packet: &Packet) -> KeyPlace {
    let byte = i64::try_from(packet.position()).ok().and_then(|at| u64::try_from(at).ok());
    KeyPlace { ticks: packet.pts(), decode_ticks: packet.dts(), byte }
}
