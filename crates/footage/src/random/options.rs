//! How frames are fetched out of order.

use crate::{FootageError, ReadOptions};

/// How frames are fetched out of order.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct RandomOptions {
    /// How footage is read. With frames coded by themselves one decoder thread is used whatever it says.
    pub read: ReadOptions,
    /// Most bytes of decoded pictures that are kept around the latest frame asked for, at least 1 MiB.
    pub cache_bytes: usize,
    /// Whether the whole content of the files is compared with the index on opening, which reads them once; their size
    /// is compared in any case, and every frame's picture is.
    pub whole_check: bool,
}

impl Default for RandomOptions {
    /// 256 MiB of pictures; content compared.
    fn default() -> Self {
        Self { read: ReadOptions::default(), cache_bytes: 256 << 20, whole_check: true }
    }
}

impl RandomOptions {
    /// Whether the settings lie in their ranges.
    ///
    /// # Errors
    /// [`FootageError::Settings`] naming the first setting that does not.
    pub fn check(&self) -> Result<(), FootageError> {
        self.read.check()?;
        if self.cache_bytes < 1 << 20 {
            let text = format!("pictures kept must have at least 1 MiB, not {} bytes", self.cache_bytes);
            return Err(FootageError::Settings { text });
        }
        Ok(())
    }
}
