//! How footage is read: decoder threads and the cap on the size of a picture.

use crate::{FieldOrder, FootageError};

/// How footage is read.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct ReadOptions {
    /// Threads of the decoder, 1 to 64. Undamaged pictures are the same for any number. Marks of damage are complete
    /// with 1: with more, the H.264 decoder may not mark a damaged picture that is shown later than it is coded.
    pub threads: usize,
    /// Most pixels that one picture may have, px. A header that claims more is refused before memory is taken.
    pub most_pixels: u64,
    /// Whether the fields of interlaced film are frames of their own, and in which order; `None` for whole pictures.
    pub fields: Option<FieldOrder>,
}

impl Default for ReadOptions {
    /// As many threads as the machine has, up to 16; pictures up to 64 Mpx.
    fn default() -> Self {
        let threads = std::thread::available_parallelism().map_or(1, |n| n.get().min(16));
        Self { threads, most_pixels: 64 * 1024 * 1024, fields: None }
    }
}

impl ReadOptions {
    /// Whether the settings lie in their ranges.
    ///
    /// # Errors
    /// [`FootageError::Settings`] naming the first setting that does not.
    pub fn check(&self) -> Result<(), FootageError> {
        if !(1..=64).contains(&self.threads) {
            let text = format!("decoder threads must be 1 to 64, not {}", self.threads);
            return Err(FootageError::Settings { text });
        }
        if !(1..=1 << 30).contains(&self.most_pixels) {
            let text = format!("the cap on a picture must be 1 px to 1024 Mpx, not {} px", self.most_pixels);
            return Err(FootageError::Settings { text });
        }
        Ok(())
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn settings_out_of_range_are_named() {
        assert!(ReadOptions::default().check().is_ok());
        let none = ReadOptions { threads: 0, ..ReadOptions::default() };
        assert!(none.check().unwrap_err().to_string().contains("threads"));
        let nothing = ReadOptions { most_pixels: 0, ..ReadOptions::default() };
        assert!(nothing.check().unwrap_err().to_string().contains("picture"));
    }
}
