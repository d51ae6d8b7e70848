//! How footage is written.

use serde::Serialize;

/// Coding of written footage.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Serialize)]
#[serde(rename_all = "snake_case")]
pub enum Encoding {
    /// A folder of numbered PNG stills, 1 to 16 bits, lossless.
    PngSequence,
    /// H.264, lossless (quantiser 0), 8 or 10 bits, colourless.
    LosslessH264,
    /// H.264, 8 or 10 bits, colourless, with references in both directions.
    H264 {
        /// Constant rate factor, 0 (best) to 51.
        crf: u8,
        /// Most frames from one key frame to the next, at least 1.
        keyint: u32,
    },
    /// FFV1, lossless, every frame a key frame, grey, 8, 9, 10, 12 or 16 bits.
    Ffv1,
}

impl Encoding {
    /// In words, for messages.
    #[must_use]
    pub fn words(self) -> &'static str {
        match self {
            Self::PngSequence => "PNG sequence",
            Self::LosslessH264 => "lossless H.264",
            Self::H264 { .. } => "H.264",
            Self::Ffv1 => "FFV1",
        }
    }
}
