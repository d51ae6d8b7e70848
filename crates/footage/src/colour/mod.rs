//! Films in colour, for people to look at: coded in pieces that stand alone and joined without coding anything again, so
//! that a film that was stopped goes on where it was and comes out as if it had never been.

mod coder;
mod join;
mod piece;
mod planes;

pub use join::join_pieces;
pub use piece::{is_whole_piece, write_piece};

use crate::FootageError;
use std::path::Path;

/// Coding of a film in colour.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum ColourCoding {
    /// H.264, 8 bits, colour at half size, at a quality at which coding is not seen. No frame waits for a later one, so
    /// the container needs no edit list and picture k is picture k for every reader.
    H264,
    /// FFV1, lossless, every picture by itself.
    Ffv1,
}

impl ColourCoding {
    /// In words, for messages.
    #[must_use]
    pub fn words(self) -> &'static str {
        match self {
            Self::H264 => "H.264",
            Self::Ffv1 => "lossless FFV1",
        }
    }

    fn endings(self) -> &'static [&'static str] {
        match self {
            Self::H264 => &["mkv", "mp4", "mov"],
            Self::Ffv1 => &["mkv"],
        }
    }
}

/// What is the same for all of a film.
#[derive(Debug, Clone, PartialEq)]
pub struct ColourFilm {
    /// Pixels across, even, at most 16384.
    pub width: usize,
    /// Rows, even, at most 16384.
    pub height: usize,
    /// Coding.
    pub coding: ColourCoding,
    /// Pictures that players show in a second, in thousandths: 25 a second is 25000.
    pub millihertz: u32,
    /// Title in the file.
    pub title: String,
    /// What else the file says of itself.
    pub comment: String,
}

impl ColourFilm {
    /// Whether such a film can be written to `path`: sizes, rate, the file's ending, and whether this machine has the coder.
    ///
    /// # Errors
    /// [`FootageError::Settings`] for the film itself or a coder that is missing; [`FootageError::Write`] for the ending.
    pub fn check(&self, path: &Path) -> Result<(), FootageError> {
        let refuse = |text: String| Err(FootageError::Settings { text });
        let fits = |n: usize| n.is_multiple_of(2) && (2..=16_384).contains(&n);
        if !fits(self.width) || !fits(self.height) {
            let (width, height) = (self.width, self.height);
            return refuse(format!(
                "films in colour are 2 to 16384 px wide and high, both even, not {width} x {height}"
            ));
        }
        if !(100..=1_000_000).contains(&self.millihertz) {
            let rate = f64::from(self.millihertz) / 1000.0;
            return refuse(format!("players show 0.1 to 1000 pictures a second, not {rate}"));
        }
        let ending = path.extension().and_then(|ending| ending.to_str()).unwrap_or("").to_ascii_lowercase();
        if !self.coding.endings().contains(&ending.as_str()) {
            let endings = self.coding.endings().join(", .");
            let text = format!("{} is written to files ending in .{endings}", self.coding.words());
            return Err(FootageError::write(path, &text));
        }
        coder::find(self.coding).map(|_| ())
    }
}
