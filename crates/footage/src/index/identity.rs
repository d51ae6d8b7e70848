//! Which files an index belongs to: their number, their size and a hash of their content.

use crate::FootageError;
use serde::{Deserialize, Serialize};
use std::fs::File;
use std::io::Read;
use std::path::{Path, PathBuf};
use std::sync::Arc;
use std::sync::atomic::{AtomicBool, Ordering};
use std::thread::JoinHandle;

/// Bytes read at a time.
const CHUNK_BYTES: usize = 1 << 20;

/// What makes the files of a footage the same files.
#[derive(Debug, Clone, PartialEq, Eq, Serialize, Deserialize)]
pub struct FootageIdentity {
    /// Number of files: 1 for a film.
    pub files: u64,
    /// Size of all files together, bytes.
    pub bytes: u64,
    /// BLAKE3 over the content of all files, one after the other, as 64 hexadecimal digits.
    pub blake3: String,
}

/// Hashing of footage on its own thread, to run beside a decoding. Dropped, it ends at once.
#[derive(Debug)]
pub struct IdentityJob {
    thread: Option<JoinHandle<Result<FootageIdentity, FootageError>>>,
    stop: Arc<AtomicBool>,
}

impl IdentityJob {
    /// Begins to hash the files of a footage, in their order: [`crate::Reader::files`].
    #[must_use]
    pub fn begin(files: &[PathBuf]) -> Self {
        let (files, stop) = (files.to_vec(), Arc::new(AtomicBool::new(false)));
        let asked = Arc::clone(&stop);
        let thread = std::thread::spawn(move || hashed(&files, &asked));
        Self { thread: Some(thread), stop }
    }

    /// Waits for the hash.
    ///
    /// # Errors
    /// [`FootageError`] when a file cannot be read.
    pub fn finish(mut self) -> Result<FootageIdentity, FootageError> {
        let thread = self.thread.take();
        let joined =
            thread.map(|thread| thread.join().unwrap_or_else(|fault| std::panic::resume_unwind(fault)));
        joined.unwrap_or_else(|| hashed(&[], &self.stop))
    }
}

impl Drop for IdentityJob {
    fn drop(&mut self) {
        self.stop.store(true, Ordering::Relaxed);
        if let Some(thread) = self.thread.take() {
            // Nobody asks for the outcome any more.
            let _ = thread.join();
        }
    }
}

/// Size of all files together, bytes.
pub(crate) fn sizes(files: &[PathBuf]) -> Result<u64, FootageError> {
    let size = |path: &PathBuf| std::fs::metadata(path).map_err(|error| FootageError::from_io(path, error));
    files.iter().map(|path| size(path).map(|about| about.len())).sum()
}

fn hashed(files: &[PathBuf], stop: &AtomicBool) -> Result<FootageIdentity, FootageError> {
    let mut hasher = blake3::Hasher::new();
    let mut bytes = 0;
    for path in files {
        bytes += add_file(path, &mut hasher, stop).map_err(|error| FootageError::from_io(path, error))?;
    }
    let blake3 = hasher.finalize().to_hex().to_string();
    Ok(FootageIdentity { files: files.len() as u64, bytes, blake3 })
}

fn add_file(path: &Path, hasher: &mut blake3::Hasher, stop: &AtomicBool) -> std::io::Result<u64> {
    let mut file = File::open(path)?;
    let mut chunk = vec![0; CHUNK_BYTES];
    let mut bytes = 0;
    while !stop.load(Ordering::Relaxed) {
        match file.read(&mut chunk)? {
            0 => break,
            n => {
                hasher.update(&chunk[..n]);
                bytes += n as u64;
            }
        }
    }
    Ok(bytes)
}
