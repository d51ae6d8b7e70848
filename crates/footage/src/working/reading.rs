//! Reading a working copy: any frame at once, from its place in the file, proved by its hash.

use super::layout::{HASH_BYTES, Head, Region, TITLE};
use crate::random::film_access::framed;
use crate::{FootageError, FootageIdentity, Frame, FrameIndex, ReadOptions};
use filmgauge_quantities::FrameNumber;
use std::fs::File;
use std::io::{Read, Seek, SeekFrom};
use std::path::{Path, PathBuf};

/// Most bytes of a head.
const MOST_HEAD_BYTES: u64 = 16 << 20;

/// A working copy opened for reading. Frames equal those of the original inside the regions; elsewhere the level is 0.
#[derive(Debug)]
pub struct WorkingCopy {
    path: PathBuf,
    file: File,
    head: Head,
    index: FrameIndex,
    /// First byte of frame 0.
    first_byte: u64,
    /// Hash and samples of a frame.
    frame_bytes: usize,
}

impl WorkingCopy {
    /// Opens a working copy.
    ///
    /// # Errors
    /// [`FootageError::NotFootage`] when it is none or is not whole; [`FootageError::TooLarge`] when it claims pictures
    /// beyond the cap; [`FootageError`] when it cannot be read.
    pub fn open(path: &Path, options: &ReadOptions) -> Result<Self, FootageError> {
        options.check()?;
        let mut file = File::open(path).map_err(|error| FootageError::from_io(path, error))?;
        let size = file.metadata().map_err(|error| FootageError::from_io(path, error))?.len();
        let (head, first_byte) = read_head(path, &mut file)?;
        let (width, height) = (head.width_px as u64, head.height_px as u64);
        if width.saturating_mul(height) > options.most_pixels {
            let most_pixels = options.most_pixels;
            return Err(FootageError::TooLarge { path: path.to_path_buf(), width, height, most_pixels });
        }
        head.check()?;
        let torn = || not_whole(path, "frames or the index are missing");
        let frame_bytes = head.packed_bytes().and_then(|n| n.checked_add(HASH_BYTES)).ok_or_else(torn)?;
        let index_byte = u64::from(head.frames).checked_mul(frame_bytes as u64);
        let index_byte = index_byte.and_then(|n| n.checked_add(first_byte)).filter(|&byte| byte <= size);
        let index = read_index(&mut file, index_byte.ok_or_else(torn)?, &head).ok_or_else(torn)?;
        Ok(Self { path: path.to_path_buf(), file, head, index, first_byte, frame_bytes })
    }

    /// The files that it was made from.
    #[must_use]
    pub fn original(&self) -> &FootageIdentity {
        &self.head.original
    }

    /// The index of the original.
    #[must_use]
    pub fn index(&self) -> &FrameIndex {
        &self.index
    }

    /// What of each picture it holds.
    #[must_use]
    pub fn regions(&self) -> &[Region] {
        &self.head.regions
    }

    /// Frame `number`.
    ///
    /// # Errors
    /// [`FootageError::NoSuchFrame`] beyond the last one; [`FootageError::Damaged`] when the copy is not what was written.
    pub fn frame(&mut self, number: FrameNumber) -> Result<Frame, FootageError> {
        if number.0 >= self.head.frames {
            let n_frames = self.head.frames as usize;
            return Err(FootageError::NoSuchFrame { path: self.path.clone(), frame: number, n_frames });
        }
        let mut record = vec![0; self.frame_bytes];
        let at = self.first_byte + u64::from(number.0) * self.frame_bytes as u64;
        let read = self.file.seek(SeekFrom::Start(at)).and_then(|_| self.file.read_exact(&mut record));
        read.map_err(|error| FootageError::from_io(&self.path, error))?;
        let (hash, packed) = record.split_at(HASH_BYTES);
        let is_whole = blake3::hash(packed).as_bytes().as_slice() == hash;
        let picture = if is_whole { self.head.unpack(packed) } else { None };
        let frame = picture.and_then(|picture| framed(number.0, picture, &self.index));
        frame.ok_or_else(|| FootageError::Damaged {
            path: self.path.clone(),
            frame: number,
            text: "the working copy was changed; delete it and make it again".to_owned(),
        })
    }
}

fn read_head(path: &Path, file: &mut File) -> Result<(Head, u64), FootageError> {
    let no_copy = |_| not_whole(path, "it is no working copy of this version");
    let mut start = [0; 16];
    file.read_exact(&mut start).map_err(no_copy)?;
    let mut length = [0; 8];
    length.copy_from_slice(&start[8..]);
    let length = u64::from_le_bytes(length);
    if &start[..8] != TITLE || length > MOST_HEAD_BYTES {
        return Err(not_whole(path, "it is no working copy of this version"));
    }
    let mut json = Vec::new();
    file.take(length).read_to_end(&mut json).map_err(no_copy)?;
    let head = serde_json::from_slice(&json).map_err(|error| not_whole(path, &error.to_string()))?;
    Ok((head, 16 + length))
}

/// The index at the end; `None` unless it is the one that the head names.
fn read_index(file: &mut File, from: u64, head: &Head) -> Option<FrameIndex> {
    let mut text = String::new();
    file.seek(SeekFrom::Start(from)).ok()?;
    file.read_to_string(&mut text).ok()?;
    let is_named = blake3::hash(text.as_bytes()).to_hex().as_str() == head.index_blake3;
    FrameIndex::from_text(&text).ok().filter(|index| is_named && index.len() == head.frames as usize)
}

fn not_whole(path: &Path, text: &str) -> FootageError {
    let text = format!("{text}; delete it and make it again from the original");
    FootageError::NotFootage { path: path.to_path_buf(), text }
}
