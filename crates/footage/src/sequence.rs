//! Stills as footage: files in order, every picture of every file a frame, no time stamps.

use crate::in_order::{InOrder, Work};
use crate::still::{Pictures, StillPicture};
use crate::{FootageError, FootageFault, FootageInfo, Frame, ReadOptions};
use filmgauge_quantities::FrameNumber;
use std::path::{Path, PathBuf};
use std::sync::Arc;

/// Stills read one after the other.
pub(crate) struct Sequence {
    files: Vec<PathBuf>,
    most_pixels: u64,
    pub(crate) info: FootageInfo,
    pub(crate) faults: Vec<FootageFault>,
    /// The file being read, with its place among `files`.
    open: (usize, Pictures),
    /// Files after it, opened ahead on several threads; opened one by one when `None`.
    ahead: Option<InOrder<Result<Pictures, FootageError>>>,
    first: Option<StillPicture>,
    next: u32,
}

impl Sequence {
    pub(crate) fn open(files: Vec<PathBuf>, options: &ReadOptions) -> Result<Self, FootageError> {
        let Some(path) = files.first() else { return Err(FootageError::Missing { path: PathBuf::new() }) };
        let mut pictures = Pictures::open(path, options.most_pixels)?;
        // Of files with several pictures each, only reading tells how many there are in all.
        let declared = pictures.declared().filter(|&n| n == 1 || files.len() == 1);
        let declared = declared.and_then(|n| n.checked_mul(u64::try_from(files.len()).ok()?));
        let Some(first) = pictures.next_picture()? else {
            let text = "the file holds no picture".to_owned();
            return Err(FootageError::NotFootage { path: path.clone(), text });
        };
        let info = info_of(&first, declared);
        let faults = first.turn.and_then(|turn| turn.fault()).into_iter().collect();
        let open = (0, pictures);
        let most_pixels = options.most_pixels;
        let ahead = (options.threads > 1 && files.len() > 2).then(|| opened_ahead(&files, options));
        Ok(Self { files, most_pixels, info, faults, open, ahead, first: Some(first), next: 0 })
    }

    pub(crate) fn files(&self) -> &[PathBuf] {
        &self.files
    }

    pub(crate) fn next_frame(&mut self) -> Result<Option<Frame>, FootageError> {
        let number = FrameNumber(self.next);
        let Some(still) = self.next_still().map_err(|error| at_frame(error, number))? else {
            return Ok(None);
        };
        self.check_same(&still, number)?;
        self.next = self.next.checked_add(1).ok_or_else(|| FootageError::Settings {
            text: "the footage has more frames than can be numbered; split it".to_owned(),
        })?;
        Ok(Some(Frame {
            number,
            stamp: None,
            key: true,
            damaged: false,
            picture: still.picture,
            place: None,
        }))
    }

    fn next_still(&mut self) -> Result<Option<StillPicture>, FootageError> {
        if let Some(first) = self.first.take() {
            return Ok(Some(first));
        }
        loop {
            if let Some(still) = self.open.1.next_picture()? {
                return Ok(Some(still));
            }
            let Some(path) = self.files.get(self.open.0 + 1) else { return Ok(None) };
            let ahead = self.ahead.as_mut().and_then(InOrder::next);
            let pictures = ahead.unwrap_or_else(|| Pictures::open(path, self.most_pixels))?;
            self.open = (self.open.0 + 1, pictures);
        }
    }

    fn check_same(&self, still: &StillPicture, frame: FrameNumber) -> Result<(), FootageError> {
        let (view, info) = (still.picture.view(), &self.info);
        if (view.width(), view.height(), view.bits(), still.luma)
            == (info.width, info.height, info.bits, info.luma)
        {
            return Ok(());
        }
        let words = |width, height, bits, luma: crate::LumaPath| {
            format!("{width} x {height} px, {bits} bits, {}", luma.words())
        };
        Err(FootageError::SizeChanged {
            path: self.files.get(self.open.0).map_or(Path::new(""), PathBuf::as_path).to_path_buf(),
            frame,
            expected: words(info.width, info.height, info.bits, info.luma),
            found: words(view.width(), view.height(), view.bits(), still.luma),
        })
    }
}

/// Files waiting for each thread: one is enough to keep it busy.
const MOST_WAITING: usize = 1;

/// Opens all files but the first on several threads, a few ahead. Most stills are decoded as they are opened.
fn opened_ahead(files: &[PathBuf], options: &ReadOptions) -> InOrder<Result<Pictures, FootageError>> {
    let files: Arc<[PathBuf]> = files.iter().skip(1).cloned().collect();
    let (n_files, most_pixels) = (files.len(), options.most_pixels);
    let worker = |_| -> Work<Result<Pictures, FootageError>> {
        let files = Arc::clone(&files);
        Box::new(move |job, put| {
            put(Pictures::open(&files[job], most_pixels));
        })
    };
    InOrder::new((0..options.threads).map(worker).collect(), n_files, MOST_WAITING)
}

fn info_of(first: &StillPicture, declared: Option<u64>) -> FootageInfo {
    let view = first.picture.view();
    FootageInfo {
        width: view.width(),
        height: view.height(),
        bits: view.bits(),
        container: "image sequence".to_owned(),
        codec: first.coding.to_owned(),
        pixel_format: first.samples.clone(),
        luma: first.luma,
        full_range: Some(true),
        container_rate: None,
        declared_frames: declared,
        declared_length_s: None,
        pixel_aspect: None,
        turn_deg: first.turn.map(|turn| turn.turn_deg),
        mirrored: first.turn.is_some_and(|turn| turn.mirrored),
        stated_fields: None,
        fields_read: None,
    }
}

/// Within footage, a still that cannot be understood is a damaged frame.
fn at_frame(error: FootageError, frame: FrameNumber) -> FootageError {
    match error {
        FootageError::NotFootage { path, text } => FootageError::Damaged { path, frame, text },
        FootageError::Empty { path } => {
            FootageError::Damaged { path, frame, text: "the file is empty".to_owned() }
        }
        other => other,
    }
}
