//! Where a frame lies in its file, and where decoding must begin to reach it.

use serde::{Deserialize, Serialize};

/// A key packet as its container tells it: what a later reading needs to find it again.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Hash, Serialize, Deserialize)]
pub struct KeyPlace {
    /// Time stamp of presentation, ticks.
    pub ticks: Option<i64>,
    /// Time stamp of decoding, ticks. Containers that do not store it let the library guess it.
    pub decode_ticks: Option<i64>,
    /// First byte of the packet in the file.
    pub byte: Option<u64>,
}

/// Where a frame of a film lies.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Hash, Serialize, Deserialize)]
pub struct FramePlace {
    /// First byte of the frame's packet in the file.
    pub byte: Option<u64>,
    /// Latest key packet whose picture is shown no later than this frame. Pictures of an open group that are shown
    /// before their own key picture thereby begin at the key packet before it, which they are predicted from.
    /// `None` before the first key packet: decode from the start of the film.
    pub start: Option<KeyPlace>,
}
