//! One camera's film: its first picture at once, then any frame, exact, as soon as it is indexed.

use filmgauge_dossier::document::{CameraEntry, FieldsEntry};
use filmgauge_footage::{
    FieldOrder, FootageError, Frame, FrameIndex, RandomOptions, RandomReader, ReadAhead, ReadOptions,
    index_footage, open,
};
use filmgauge_quantities::FrameNumber;
use std::path::{Path, PathBuf};
use std::sync::atomic::{AtomicBool, AtomicU64, Ordering};
use std::sync::{Arc, Mutex, PoisonError};

/// Decoded pictures kept for each film, bytes.
const KEPT_BYTES: usize = 64 << 20;
/// A progress of this many frames wakes the screen.
const WAKE_FRAMES: u64 = 25;

/// What can be had of a film.
#[derive(Debug, Clone, PartialEq)]
pub(crate) enum ReelState {
    /// It is read through once, so that every frame can be found again; this many frames are done.
    Reading(u64),
    /// Any frame can be had.
    Ready,
    /// It cannot be read.
    Failed(String),
}

/// A camera's film.
pub(crate) struct Reel {
    /// Camera.
    pub(crate) camera: String,
    /// Footage as the dossier names it.
    pub(crate) footage: String,
    fields: Option<FieldsEntry>,
    shared: Arc<Shared>,
    ahead: Option<ReadAhead>,
    latest: Option<Arc<Frame>>,
    failed: Option<String>,
    codec: String,
    n_frames: u32,
    asked: Option<u32>,
}

#[derive(Default)]
struct Shared {
    done: AtomicU64,
    stop: AtomicBool,
    first: Mutex<Option<(Arc<Frame>, String)>>,
    reader: Mutex<Option<Result<RandomReader, String>>>,
}

impl Reel {
    /// Begins to read the film of a camera of the dossier in `root`. `wake` is called when there is news.
    pub(crate) fn begin(root: &Path, camera: &CameraEntry, wake: impl Fn() + Send + 'static) -> Self {
        let shared = Arc::new(Shared::default());
        let job = Job {
            root: root.to_owned(),
            camera: camera.id.clone(),
            footage: camera.footage.clone(),
            read: ReadOptions { fields: camera.fields.map(order), ..ReadOptions::default() },
        };
        let served = Arc::clone(&shared);
        std::thread::spawn(move || {
            let reader = job.reader(&served, &wake).map_err(|error| error.to_string());
            *served.reader.lock().unwrap_or_else(PoisonError::into_inner) = Some(reader);
            wake();
        });
        Self {
            camera: camera.id.clone(),
            footage: camera.footage.clone(),
            fields: camera.fields,
            shared,
            ahead: None,
            latest: None,
            failed: None,
            codec: String::new(),
            n_frames: 0,
            asked: None,
        }
    }

    /// Whether this is the film that the entry names.
    pub(crate) fn is_of(&self, camera: &CameraEntry) -> bool {
        self.camera == camera.id && self.footage == camera.footage && self.fields == camera.fields
    }

    /// Takes over what the threads have.
    pub(crate) fn tend(&mut self) {
        if let Some((frame, codec)) = self.shared.first.lock().unwrap_or_else(PoisonError::into_inner).take()
        {
            self.codec = codec;
            self.latest.get_or_insert(frame);
        }
        match self.shared.reader.lock().unwrap_or_else(PoisonError::into_inner).take() {
            Some(Ok(reader)) => {
                self.n_frames = u32::try_from(reader.len()).unwrap_or(u32::MAX);
                self.ahead = Some(ReadAhead::new(reader));
                self.asked = None;
            }
            Some(Err(why)) => self.failed = Some(why),
            None => {}
        }
        if let Some(ahead) = &self.ahead {
            if let Some(frame) = ahead.latest() {
                self.latest = Some(frame);
            }
            if let Some(error) = ahead.take_error() {
                self.failed = Some(error.to_string());
            }
        }
    }

    /// Asks for a frame; it comes when it comes.
    pub(crate) fn ask(&mut self, frame: u32) {
        if let Some(ahead) = self.ahead.as_ref().filter(|_| self.asked != Some(frame)) {
            self.asked = Some(frame);
            self.failed = None;
            ahead.request(FrameNumber(frame));
        }
    }

    /// The frame of this number, if it has come.
    pub(crate) fn at(&self, frame: u32) -> Option<&Arc<Frame>> {
        self.latest.as_ref().filter(|latest| latest.number.0 == frame)
    }

    /// The frame that came last.
    pub(crate) fn latest(&self) -> Option<&Arc<Frame>> {
        self.latest.as_ref()
    }

    /// Kind of coding; empty until the first frame has come.
    pub(crate) fn codec(&self) -> &str {
        &self.codec
    }

    /// Number of frames; 0 while it is not known.
    pub(crate) fn n_frames(&self) -> u32 {
        self.n_frames
    }

    /// Whether a frame that was asked for is still on its way.
    pub(crate) fn is_waiting(&self) -> bool {
        let come = self.latest.as_ref().map(|frame| frame.number.0);
        self.failed.is_none() && (self.ahead.is_none() || self.asked.is_some_and(|asked| come != Some(asked)))
    }

    /// What can be had.
    pub(crate) fn state(&self) -> ReelState {
        match (&self.failed, &self.ahead) {
            (Some(why), _) => ReelState::Failed(why.clone()),
            (None, Some(_)) => ReelState::Ready,
            (None, None) => ReelState::Reading(self.shared.done.load(Ordering::Relaxed)),
        }
    }
}

impl Drop for Reel {
    fn drop(&mut self) {
        self.shared.stop.store(true, Ordering::Relaxed);
    }
}

fn order(fields: FieldsEntry) -> FieldOrder {
    match fields {
        FieldsEntry::TopFirst => FieldOrder::TopFirst,
        FieldsEntry::BottomFirst => FieldOrder::BottomFirst,
    }
}

/// What the thread needs to know.
struct Job {
    root: PathBuf,
    camera: String,
    footage: String,
    read: ReadOptions,
}

impl Job {
    fn reader(&self, shared: &Shared, wake: &dyn Fn()) -> Result<RandomReader, FootageError> {
        let mut reader = open(&self.root, &self.footage, &self.read)?;
        if let Some(frame) = reader.next_frame()? {
            let codec = reader.info().codec.clone();
            *shared.first.lock().unwrap_or_else(PoisonError::into_inner) = Some((Arc::new(frame), codec));
            wake();
        }
        drop(reader);
        let options = RandomOptions { read: self.read.clone(), cache_bytes: KEPT_BYTES, whole_check: true };
        if let Some(index) = self.kept_index()
            && let Ok(reader) = RandomReader::open(&self.root, &self.footage, Arc::new(index), &options)
        {
            return Ok(reader);
        }
        let mut count = |frame: FrameNumber| {
            let done = u64::from(frame.0) + 1;
            shared.done.store(done, Ordering::Relaxed);
            if done.is_multiple_of(WAKE_FRAMES) {
                wake();
            }
            !shared.stop.load(Ordering::Relaxed)
        };
        let (_, index) = index_footage(&self.root, &self.footage, &self.read, &mut count)?;
        let options = RandomOptions { whole_check: false, ..options };
        RandomReader::open(&self.root, &self.footage, Arc::new(index), &options)
    }

    /// The index that the last measurement kept, where it is of these fields; its content is checked on opening.
    fn kept_index(&self) -> Option<FrameIndex> {
        let path = self.root.join("results").join(format!("frames-{}.txt", self.camera));
        FrameIndex::read(&path).ok().filter(|index| index.head.fields == self.read.fields)
    }
}
