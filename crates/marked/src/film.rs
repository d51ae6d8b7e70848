//! A marked film: coded in pieces kept beside it, joined when all are there.

use crate::key::key;
use crate::pass::draw_wanted;
use crate::prepared::Prepared;
use crate::{MarkedError, MarkedOptions};
use filmgauge_dossier::{Dossier, Progress, Watch};
use filmgauge_footage::{ColourCoding, ColourFilm, is_whole_piece, join_pieces, write_piece};
use std::ops::Range;
use std::path::{Path, PathBuf};
use std::sync::mpsc::{Receiver, sync_channel};

/// Frames of a piece: some seconds of work, which is what a stop may lose.
const PIECE_FRAMES: u32 = 250;
/// Pictures that may wait for the coder.
const WAITING: usize = 2;

/// What was made.
#[derive(Debug, Clone, PartialEq)]
pub struct MarkedMade {
    /// The film.
    pub path: PathBuf,
    /// Camera id.
    pub camera: String,
    /// First and last frame.
    pub frames: [u32; 2],
    /// Pictures in the film: one a frame.
    pub n_pictures: u64,
    /// Pictures that players show in a second.
    pub per_second: f64,
    /// How much slower than real time, in words.
    pub slower: String,
    /// Frames that were there already from a film that was stopped.
    pub n_kept: u32,
    /// Size of the pictures, px.
    pub size: [usize; 2],
    /// Where the stored picture lies in them: its left, its top, and how many pixels across one of its pixels is.
    pub film_at: [usize; 3],
}

/// Makes the marked film `to` of a measured dossier: `.mkv` or `.mp4`, in H.264, or `.mkv` without loss.
///
/// # Errors
/// [`MarkedError`]: an option that does not fit, results that are missing or do not follow from the files, footage that is
/// not what was measured, a file that cannot be written, or a stop; nothing new is then at `to`.
pub fn marked_film(
    dossier: &Dossier,
    options: &MarkedOptions,
    to: &Path,
    watch: &dyn Watch,
) -> Result<MarkedMade, MarkedError> {
    let prepared = Prepared::of(dossier, options)?;
    let film = film_of(dossier, &prepared, options);
    film.check(to)?;
    let key = key(&prepared, &dossier.root.join("results"), options, &film)?;
    let pieces = Pieces::beside(to, &key, prepared.frames)?;
    let pool = pool(options.threads)?;
    let n_kept = coded(dossier, &prepared, (&film, &pieces), &pool, watch)?;
    stop_if_asked(watch, &pieces)?;
    let paths: Vec<PathBuf> = pieces.all.iter().map(|(path, _)| path.clone()).collect();
    let n_pictures = join_pieces(&paths, &film, to)?;
    // The film is whole; pieces that cannot be removed are taken away by the next one of this name.
    let _ = std::fs::remove_dir_all(&pieces.folder);
    let (width, height) = prepared.drawn.size();
    let (left, top, factor) = prepared.drawn.film_at();
    Ok(MarkedMade {
        path: to.to_owned(),
        camera: prepared.camera.id.to_string(),
        frames: prepared.frames,
        n_pictures,
        per_second: f64::from(prepared.millihertz) / 1000.0,
        slower: prepared.slower,
        n_kept,
        size: [width, height],
        film_at: [left, top, factor],
    })
}

fn film_of(dossier: &Dossier, prepared: &Prepared, options: &MarkedOptions) -> ColourFilm {
    let (width, height) = prepared.drawn.size();
    let [from, to] = prepared.frames;
    let (id, camera) = (&dossier.document.test.id, &prepared.camera.id);
    ColourFilm {
        width,
        height,
        coding: if options.lossless { ColourCoding::Ffv1 } else { ColourCoding::H264 },
        millihertz: prepared.millihertz,
        title: format!("{id}, camera {camera}, frames {from} to {to}"),
        comment: format!(
            "camera {camera}; frames {from} to {to}, one a picture; {}; filmgauge {}",
            prepared.slower,
            env!("CARGO_PKG_VERSION")
        ),
    }
}

/// The threads that draw.
pub(crate) fn pool(threads: Option<usize>) -> Result<rayon::ThreadPool, MarkedError> {
    let threads = threads.unwrap_or(0);
    let pool = rayon::ThreadPoolBuilder::new().num_threads(threads).build();
    pool.map_err(|error| MarkedError::Threads { threads, why: error.to_string() })
}

/// Where the pieces of a film are kept, and the frames of each.
struct Pieces {
    folder: PathBuf,
    all: Vec<(PathBuf, Range<u32>)>,
}

impl Pieces {
    /// Pieces of another film of that name are removed.
    fn beside(film: &Path, key: &str, [from, to]: [u32; 2]) -> Result<Self, MarkedError> {
        let Some(name) = film.file_name() else {
            return Err(MarkedError::Option(format!(
                "{} names no file; give one, such as side.mp4",
                film.display()
            )));
        };
        let folder = film.with_file_name(format!(".{}.pieces", name.to_string_lossy()));
        let fault = |source| MarkedError::Folder { path: folder.clone(), source };
        if !folder.is_dir() {
            std::fs::create_dir(&folder).map_err(fault)?;
        }
        for entry in std::fs::read_dir(&folder).map_err(fault)? {
            let entry = entry.map_err(fault)?;
            if !entry.file_name().to_string_lossy().starts_with(key) {
                std::fs::remove_file(entry.path()).map_err(fault)?;
            }
        }
        let starts = (from..=to).step_by(PIECE_FRAMES as usize);
        let piece = |start: u32| {
            let end = start.saturating_add(PIECE_FRAMES).min(to.saturating_add(1));
            (folder.join(format!("{key}-{start:08}")), start..end)
        };
        let all = starts.map(piece).collect();
        Ok(Self { folder, all })
    }
}

/// Codes every piece that is not there yet; how many frames were there.
fn coded(
    dossier: &Dossier,
    prepared: &Prepared,
    (film, pieces): (&ColourFilm, &Pieces),
    pool: &rayon::ThreadPool,
    watch: &dyn Watch,
) -> Result<u32, MarkedError> {
    let is_there = |(path, frames): &&(PathBuf, Range<u32>)| is_whole_piece(path, frames.end - frames.start);
    let (there, missing): (Vec<_>, Vec<_>) = pieces.all.iter().partition(is_there);
    let n_kept = there.iter().map(|(_, frames)| frames.end - frames.start).sum();
    let wanted: Vec<Range<u32>> = missing.iter().map(|(_, frames)| frames.clone()).collect();
    let step = format!("camera {}: marked film", prepared.camera.id);
    let [from, to] = prepared.frames;
    let total = Some(u64::from(to - from) + 1);
    let mut done = u64::from(n_kept);
    let (sender, receiver) = sync_channel(WAITING);
    std::thread::scope(|scope| {
        let wanted = &wanted;
        scope.spawn(move || draw_wanted((dossier, prepared), wanted, pool, &sender));
        // Dropped on the way out: the thread that draws then ends at its next picture.
        let receiver: Receiver<_> = receiver;
        for (path, frames) in missing {
            let mut left = frames.end - frames.start;
            write_piece(path, film, || {
                stop_if_asked(watch, pieces)?;
                if left == 0 {
                    return Ok(None);
                }
                left -= 1;
                watch.progress(&Progress { step: &step, done, total });
                done += 1;
                let lost = || crate::pass::other(prepared, frames.end - left - 1);
                receiver.recv().map_err(|_gone| lost())?.map(Some)
            })?;
        }
        Ok(n_kept)
    })
}

fn stop_if_asked(watch: &dyn Watch, pieces: &Pieces) -> Result<(), MarkedError> {
    if watch.stop_asked() {
        return Err(MarkedError::Stopped { kept: Some(pieces.folder.clone()) });
    }
    Ok(())
}
