//! Any frame, exact: fetched out of order, and proved to be the frame that was indexed.

mod ahead;
mod cache;
pub(crate) mod film_access;
pub(crate) mod lookup;
mod options;
pub(crate) mod spans;

pub use ahead::ReadAhead;
pub use options::RandomOptions;

use crate::source::Source;
use crate::{FootageError, Frame, FrameIndex, still};
use cache::FrameCache;
use film_access::{FilmAccess, Request, framed, is_as_indexed};
use filmgauge_quantities::FrameNumber;
use std::path::{Path, PathBuf};
use std::sync::Arc;
use std::sync::atomic::AtomicBool;

/// Frames in any order. Every frame given is the indexed one, sample by sample, or an error.
pub struct RandomReader {
    index: Arc<FrameIndex>,
    access: Access,
    cache: FrameCache,
    last: Option<u32>,
    most_pixels: u64,
    path: PathBuf,
    /// Set by whoever does not want the frame any more.
    broken_off: Arc<AtomicBool>,
}

enum Access {
    Film(Box<FilmAccess>),
    Stills(Vec<PathBuf>),
}

impl RandomReader {
    /// Opens footage with its index. Where the index is one of fields, frames are fields.
    ///
    /// # Errors
    /// [`FootageError::OtherFootage`] when the index belongs to other files; [`FootageError`] as [`crate::open`].
    pub fn open(
        base: &Path,
        footage: &str,
        index: Arc<FrameIndex>,
        options: &RandomOptions,
    ) -> Result<Self, FootageError> {
        options.check()?;
        let source = Source::find(base, footage)?;
        let files = match &source {
            Source::Film(path) => std::slice::from_ref(path),
            Source::Stills(files) => files.as_slice(),
        };
        index.check(files, options.whole_check)?;
        let path = files.first().cloned().unwrap_or_default();
        let access = match source {
            Source::Film(path) => Access::Film(Box::new(FilmAccess::open(path, &index, &options.read)?)),
            Source::Stills(files) => Access::Stills(files),
        };
        let (cache, most_pixels) = (FrameCache::new(options.cache_bytes), options.read.most_pixels);
        let broken_off = Arc::default();
        Ok(Self { index, access, cache, last: None, most_pixels, path, broken_off })
    }

    /// The index that frames are proved with.
    #[must_use]
    pub fn index(&self) -> &FrameIndex {
        &self.index
    }

    /// Number of frames.
    #[must_use]
    pub fn len(&self) -> usize {
        self.index.len()
    }

    /// Whether there is no frame.
    #[must_use]
    pub fn is_empty(&self) -> bool {
        self.index.is_empty()
    }

    /// Bytes of decoded pictures that are kept at the moment.
    #[must_use]
    pub fn kept_bytes(&self) -> usize {
        self.cache.bytes()
    }

    /// Frame `number`.
    ///
    /// # Errors
    /// [`FootageError::NoSuchFrame`] beyond the last one; [`FootageError::NotExact`] when the picture cannot be had again
    /// as it was indexed; [`FootageError`] when the footage cannot be read.
    pub fn frame(&mut self, number: FrameNumber) -> Result<Arc<Frame>, FootageError> {
        let n_frames = self.index.len();
        if number.0 as usize >= n_frames {
            return Err(FootageError::NoSuchFrame { path: self.path.clone(), frame: number, n_frames });
        }
        let goes_back = self.last.is_some_and(|last| number.0 < last && last - number.0 <= MOST_STEP_BACK);
        self.last = Some(number.0);
        self.cache.look_at(number.0);
        if let Some((frame, is_proved)) = self.cache.get(number.0) {
            if is_proved || is_as_indexed(&frame, &self.index) {
                if !is_proved {
                    self.cache.keep(Arc::clone(&frame), true);
                }
                return Ok(frame);
            }
            self.cache.forget(number.0);
        }
        match &mut self.access {
            Access::Film(film) => {
                let request = Request { frame: number.0, goes_back, broken_off: &self.broken_off };
                film.frame(&self.index, &request, &mut self.cache)
            }
            Access::Stills(files) => {
                let frame = still_frame(files, number, &self.index, self.most_pixels)?;
                self.cache.keep(Arc::clone(&frame), true);
                Ok(frame)
            }
        }
    }
}

impl RandomReader {
    /// A frame that is not kept for later.
    pub(crate) fn take(&mut self, number: FrameNumber) -> Result<Frame, FootageError> {
        let frame = self.frame(number)?;
        self.cache.forget(number.0);
        Ok(Arc::try_unwrap(frame).unwrap_or_else(|shared| (*shared).clone()))
    }

    /// Lets another thread break off the fetching of a frame, which then fails as stopped.
    pub(crate) fn break_off_by(&mut self, flag: Arc<AtomicBool>) {
        self.broken_off = flag;
    }
}

/// A request as far back as this is a step back, which others will follow; farther is a jump.
const MOST_STEP_BACK: u32 = 32;

fn still_frame(
    files: &[PathBuf],
    number: FrameNumber,
    index: &FrameIndex,
    most_pixels: u64,
) -> Result<Arc<Frame>, FootageError> {
    let path = files.get(number.0 as usize).or(files.first()).cloned().unwrap_or_default();
    let order = index.head.fields;
    let fields_each = if order.is_some() { 2 } else { 1 };
    let still =
        still::read_nth(files, number.0 / fields_each, index.len() / fields_each as usize, most_pixels)?;
    let picture = match order.and_then(|order| order.parity(number)) {
        Some(parity) => parity
            .rows_of(&still.picture.view())
            .map_err(|source| FootageError::Layout { path: path.clone(), source })?,
        None => still.picture,
    };
    let frame = framed(number.0, picture, index).filter(|frame| is_as_indexed(frame, index));
    let text = || "the still has changed since".to_owned();
    frame.map(Arc::new).ok_or_else(|| FootageError::NotExact { path, frame: number, text: text() })
}

impl std::fmt::Debug for RandomReader {
    fn fmt(&self, f: &mut std::fmt::Formatter<'_>) -> std::fmt::Result {
        f.debug_struct("RandomReader").field("path", &self.path).field("frames", &self.len()).finish()
    }
}
