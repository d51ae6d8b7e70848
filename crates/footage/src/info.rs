//! What is known of footage before it is read through: size, depth, how grey is taken, what the container claims.

use crate::FieldOrder;
use serde::Serialize;

/// How grey levels come from what is stored.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Serialize)]
#[serde(rename_all = "snake_case")]
pub enum LumaPath {
    /// Grey samples, as stored.
    GreyAsStored,
    /// Grey samples of a format in which 0 is white, turned over so that grey rises with light: full scale less the
    /// stored sample.
    GreyInverted,
    /// The luma samples of a colour picture, as stored.
    LumaPlane,
    /// Red, green and blue weighted 0.299, 0.587, 0.114 (Recommendation ITU-R BT.601-7, 2.5.1), rounded to a whole level.
    WeightedColour,
    /// A colour mosaic (Bayer): red, green and blue at each pixel from the nearest samples of that colour (bilinear),
    /// weighted as [`LumaPath::WeightedColour`] and rounded once. Colours are not balanced.
    WeightedMosaic,
}

impl LumaPath {
    /// In words, for reports.
    #[must_use]
    pub fn words(self) -> &'static str {
        match self {
            Self::GreyAsStored => "grey samples as stored",
            Self::GreyInverted => "grey samples, turned over because 0 is stored for white",
            Self::LumaPlane => "luma plane as stored",
            Self::WeightedColour => "0.299 R + 0.587 G + 0.114 B",
            Self::WeightedMosaic => "0.299 R + 0.587 G + 0.114 B, interpolated from a colour mosaic",
        }
    }
}

/// What is known of footage once its first picture has been read.
#[derive(Debug, Clone, PartialEq, Serialize)]
pub struct FootageInfo {
    /// Stored pixels in a row.
    pub width: usize,
    /// Stored rows.
    pub height: usize,
    /// Significant bits of a grey level.
    pub bits: u8,
    /// Kind of container, such as "matroska,webm" or "image sequence".
    pub container: String,
    /// Kind of coding, such as "h264" or "png".
    pub codec: String,
    /// Layout of stored samples, such as "yuv420p", "gray12le" or "rgb, 8 bits".
    pub pixel_format: String,
    /// How grey levels are taken.
    pub luma: LumaPath,
    /// Whether black is 0 and white is full scale; `None` when the film does not say.
    pub full_range: Option<bool>,
    /// The container's rate, frames per second of playback; never the film speed.
    pub container_rate: Option<f64>,
    /// Number of frames that the header claims.
    pub declared_frames: Option<u64>,
    /// Length that the header claims, s of playback.
    pub declared_length_s: Option<f64>,
    /// Width of a stored pixel over its height, where the film states one.
    pub pixel_aspect: Option<f64>,
    /// Angle by which the picture is to be turned clockwise for viewing, 0 to 360 degrees, where the footage states
    /// one. Frames are never turned.
    pub turn_deg: Option<f64>,
    /// Whether the picture is to be mirrored left to right for viewing, before it is turned.
    pub mirrored: bool,
    /// Which field comes first, where the first picture says that it consists of fields.
    pub stated_fields: Option<FieldOrder>,
    /// Which field came first in reading, where frames are fields; `None` when frames are whole pictures.
    pub fields_read: Option<FieldOrder>,
}
